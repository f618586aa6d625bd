package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"wetdown/solver"
	"wetdown/solver/plant"
)

// States of a job.
const (
	JobWaiting   = "waiting"
	JobRunning   = "running"
	JobDone      = "done"
	JobFailed    = "failed"
	JobCancelled = "cancelled"
)

// Kinds of job: the questions that may take a while.
const (
	JobOffers   = "offers"
	JobWhy      = "why"
	JobRepairs  = "repairs"
	JobPropose  = "propose"
	JobQuote    = "quote"
	JobReserve  = "reserve"
	JobBacktest = "backtest"
	JobWorth    = "worth"
)

// A Job is a question to the planner that is answered when its turn comes. It outlives
// the process: one that was being answered when a process died is answered by the next.
type Job struct {
	ID       string
	Seq      int64
	State    string
	Kind     string
	Who      string
	At       time.Time // asked
	Started  time.Time // zero: not yet
	Ended    time.Time
	Attempts int
	Turn     int             // how often it was taken up: whoever works on it knows the number
	Beat     time.Time       // last sign of life of whoever works on it
	Question json.RawMessage // of the type that belongs to the kind
	Revision int64           // of the plant that it was answered for
	Progress *JobProgress
	Answer   json.RawMessage // of the type that belongs to the kind
	Problem  *Problem        // why it failed
}

// JobProgress is what is known of an answer on its way.
type JobProgress struct {
	Tiers []plant.TierValue // best values and proven bounds
	Tier  int               // the one that is being proven
	Word  string            // what is being done, for people
}

// Finished reports whether nothing more will come of the job.
func (j *Job) Finished() bool {
	return j.State == JobDone || j.State == JobFailed || j.State == JobCancelled
}

// A Queue sees to it that App.Work is called for every job, on this process or another.
type Queue interface {
	// Add is told of a job that is kept and waits. It may be told more than once.
	Add(ctx context.Context, id string) error
	// Stop ends the work on a job that was cancelled, as soon as it can.
	Stop(id string)
}

// Bounds of jobs.
const (
	maxEach     = 50               // of them by one asker
	maxWaiting  = 200              // more than that waiting: come back later
	MaxSolve    = 10 * time.Minute // the longest time for one job
	maxAttempts = 3                // a job that killed so many processes is given up
	jobsKept    = 30 * 24 * time.Hour
	lease       = 30 * time.Second // so long after its last sign of life a worker is taken for dead
)

// actOfJob is the act that it takes to ask a question of that kind.
func actOfJob(kind string) string {
	switch kind {
	case JobQuote, JobReserve:
		return ActQuote
	case JobPropose, JobRepairs, JobWorth:
		return ActReport
	}
	return ActRead
}

// ask keeps a question for later. It is the caller who checks what is asked.
func (a *App) ask(ctx context.Context, who Actor, kind string, question any) (*Job, error) {
	if err := who.must(actOfJob(kind)); err != nil {
		return nil, err
	}
	body, err := json.Marshal(question)
	if err != nil {
		return nil, err
	}
	j := &Job{ID: newID(), State: JobWaiting, Kind: kind, Who: who.Name, At: a.now(), Question: body}
	err = a.store.Update(ctx, func(tx Tx) error {
		waiting, err := tx.List(Query{Kind: KindJob, State: JobWaiting, Limit: maxWaiting})
		if err != nil {
			return err
		}
		if len(waiting) == maxWaiting {
			return &Problem{Kind: Busy, Title: "Too many questions wait for the planner", Detail: fmt.Sprintf("%d of them do.", maxWaiting), Next: "Try again later, or cancel questions that nobody needs any more.", Wait: 30 * time.Second}
		}
		own, err := tx.List(Query{Kind: KindJob, State: JobWaiting, Ref: who.Name, Limit: maxEach})
		if err != nil {
			return err
		}
		if len(own) == maxEach {
			return &Problem{Kind: Busy, Title: "Too many questions of yours wait for the planner", Detail: fmt.Sprintf("%d of them do.", maxEach), Next: "Wait for answers, or cancel questions that nobody needs any more.", Wait: 30 * time.Second}
		}
		e := entry[Job]{Record{Kind: KindJob, ID: j.ID, State: j.State, Ref: who.Name, Due: j.At.Add(jobsKept)}, *j}
		if err := e.keep(tx); err != nil {
			return err
		}
		j.Seq = e.rec.Seq
		return made(ctx, tx, "jobs/"+j.ID)
	})
	if err != nil {
		return nil, err
	}
	a.announce(j)
	if a.queue != nil {
		if err := a.queue.Add(ctx, j.ID); err != nil {
			return nil, err
		}
	}
	return j, nil
}

// Job returns a job as it is now.
func (a *App) Job(ctx context.Context, who Actor, id string) (*Job, error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	var j *Job
	err := a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Job](tx, KindJob, id)
		j = e.job()
		return err
	})
	if err != nil {
		return nil, err
	}
	if live := a.live.get(id); live != nil && !j.Finished() {
		j.Progress = live
	}
	return j, nil
}

// Jobs lists jobs in the order in which they were asked, or the newest first.
func (a *App) Jobs(ctx context.Context, who Actor, state string, page Page) (list []*Job, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Job](tx, page.of(Query{Kind: KindJob, State: state}))
		for i := range es {
			list = append(list, es[i].job())
		}
		return err
	})
	return list, err
}

// job is the job that is kept in a record.
func (e *entry[T]) job() *Job {
	j, ok := any(&e.val).(*Job)
	if ok {
		j.ID, j.Seq, j.State = e.rec.ID, e.rec.Seq, e.rec.State
	}
	return j
}

// Cancel ends a job that is not finished. Its own asker may, and whoever may decide.
func (a *App) Cancel(ctx context.Context, who Actor, id string) (*Job, error) {
	j, err := a.finish(ctx, id, func(j *Job) error {
		if j.Who != who.Name {
			if err := who.must(ActDecide); err != nil {
				return err
			}
		}
		if j.Finished() {
			return &Problem{Kind: Conflict, Title: "It is over already", Detail: fmt.Sprintf("The job is %s.", j.State), Next: "Look at its answer, or ask anew."}
		}
		j.State = JobCancelled
		return nil
	})
	if err == nil && a.queue != nil {
		a.queue.Stop(id)
	}
	return j, err
}

// finish changes a job in one transaction.
func (a *App) finish(ctx context.Context, id string, f func(*Job) error) (*Job, error) {
	var j *Job
	err := a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[Job](tx, KindJob, id)
		if err != nil {
			return err
		}
		j = e.job()
		if err := f(j); err != nil {
			return err
		}
		if j.Finished() {
			j.Ended, j.Progress = a.now(), nil
		}
		e.rec.State = j.State
		return e.keep(tx)
	})
	if err != nil {
		return nil, err
	}
	a.announce(j)
	return j, nil
}

// A Turn is a job that nobody works on, and how often it was taken up so far.
type Turn struct {
	ID     string
	Number int
}

// Idle lists the jobs that should be worked on and are not: those that wait, and those
// whose worker has given no sign of life for a lease. The oldest come first.
func (a *App) Idle(ctx context.Context) (list []Turn, err error) {
	err = a.store.View(ctx, func(tx Tx) error {
		list = nil
		for _, state := range []string{JobRunning, JobWaiting} {
			es, err := query[Job](tx, Query{Kind: KindJob, State: state})
			if err != nil {
				return err
			}
			for i := range es {
				if j := es[i].job(); !a.held(j) {
					list = append(list, Turn{j.ID, j.Turn})
				}
			}
		}
		return nil
	})
	return list, err
}

// Orphan ends the leases of all jobs that run, and lets requests that were begun be sent
// again. It is for a process that has just started and is the only one on its database:
// whoever worked on them is dead.
func (a *App) Orphan(ctx context.Context) error {
	return a.store.Update(ctx, func(tx Tx) error {
		if err := orphanOnces(tx); err != nil {
			return err
		}
		es, err := query[Job](tx, Query{Kind: KindJob, State: JobRunning})
		for i := 0; i < len(es) && err == nil; i++ {
			es[i].val.Beat = time.Time{}
			err = es[i].keep(tx)
		}
		return err
	})
}

// held reports whether somebody living works on the job.
func (a *App) held(j *Job) bool {
	return j.State == JobRunning && a.now().Sub(j.Beat) < a.lease
}

// Work answers a job. A queue calls it, once or more often, in as many processes as it
// likes. A job that is finished is left alone, and so is one on which somebody else
// works, in this process or another: that is ErrHeld. Whoever works on a job gives a
// sign of life three times in a lease; if none came for a whole one, the next call takes
// the job over, and whatever the former worker still finds out is dropped. The clocks
// of all processes must agree to within two thirds of a lease, 20 s.
//
// When ctx ends the job waits again, unless it was cancelled.
func (a *App) Work(ctx context.Context, id string) error {
	j, err := a.finish(ctx, id, func(j *Job) error {
		switch {
		case j.Finished():
			return errFinished
		case a.held(j):
			return ErrHeld
		case j.Attempts >= maxAttempts:
			j.State = JobFailed
			j.Problem = &Problem{Kind: Broken, Title: "The question could not be answered", Detail: fmt.Sprintf("It was begun %d times and never came to an end.", j.Attempts), Next: "Ask a smaller one, or tell your administrator."}
			return nil
		}
		j.State, j.Started = JobRunning, a.now()
		j.Beat = j.Started
		j.Attempts++
		j.Turn++
		return nil
	})
	if errors.Is(err, errFinished) {
		return nil
	}
	if err != nil || j.Finished() {
		return err
	}
	working, release := a.hold(ctx, j)
	defer release()
	err = a.inTurn(working, j)
	stopped := working.Err()
	release()
	a.live.drop(id)
	kept := a.mine(context.WithoutCancel(ctx), j, func(now *Job) {
		now.Progress = nil
		switch {
		case stopped != nil: // the process stops: somebody else goes on
			now.State = JobWaiting
			now.Attempts--
		case err != nil:
			now.State, now.Problem, now.Revision = JobFailed, AsProblem(err), j.Revision
		default:
			now.State, now.Answer, now.Revision = JobDone, j.Answer, j.Revision
		}
	})
	if errors.Is(kept, errLost) {
		return ctx.Err()
	}
	if stopped != nil {
		return errors.Join(stopped, kept)
	}
	if err != nil && AsProblem(err).Kind == Broken {
		return errors.Join(err, kept)
	}
	return kept
}

// inTurn answers a job when the planner has a place for it.
func (a *App) inTurn(ctx context.Context, j *Job) error {
	leave, err := a.solve(ctx)
	if err != nil {
		return err
	}
	defer leave()
	a.aside(func() { err = a.answer(ctx, j) })
	return err
}

// ErrHeld is what Work returns for a job on which somebody else works.
var ErrHeld = errors.New("somebody else works on the job")

var (
	errFinished = errors.New("the job is finished")
	errLost     = errors.New("the job was cancelled, or somebody else has taken it over")
	errTimeUp   = errors.New("the time for the job is up")
)

// mine changes a job in one transaction if the turn is still the one of j, else it
// returns errLost.
func (a *App) mine(ctx context.Context, j *Job, f func(*Job)) error {
	_, err := a.finish(ctx, j.ID, func(now *Job) error {
		if now.State != JobRunning || now.Turn != j.Turn {
			return errLost
		}
		f(now)
		return nil
	})
	return err
}

// hold gives signs of life for a job until release is called. The context that comes
// back ends when ctx does, and when the job is no longer this worker's. A sign
// that cannot be written is no reason to give up: the next one may.
func (a *App) hold(ctx context.Context, j *Job) (working context.Context, release func()) {
	working, cancel := context.WithCancelCause(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		beat := time.NewTicker(a.lease / 3)
		defer beat.Stop()
		for {
			select {
			case <-working.Done():
				return
			case <-beat.C:
			}
			err := a.mine(working, j, func(now *Job) { now.Beat, now.Progress = a.now(), a.live.get(j.ID) })
			if errors.Is(err, errLost) {
				cancel(errLost)
			}
		}
	}()
	return working, func() {
		cancel(nil)
		<-ended
	}
}

// answer works out the answer of a job for the newest revision.
func (a *App) answer(ctx context.Context, j *Job) error {
	ctx, cancel := context.WithTimeoutCause(ctx, MaxSolve, errTimeUp)
	defer cancel()
	s, err := a.head(ctx)
	if err != nil {
		return err
	}
	j.Revision = s.Revision.Number
	var out any
	switch j.Kind {
	case JobOffers:
		out, err = answered(j, func(q OffersQuestion) (any, error) { return a.offers(ctx, s, q) })
	case JobWhy:
		out, err = answered(j, func(q WhyQuestion) (any, error) { return a.why(ctx, s, q) })
	case JobRepairs:
		out, err = answered(j, func(q RepairsQuestion) (any, error) { return a.repairs(ctx, s, j, q) })
	case JobPropose:
		out, err = answered(j, func(q ProposeQuestion) (any, error) {
			p, err := a.propose(ctx, s, j, q, a.reporter(j.ID))
			if err != nil {
				return nil, err
			}
			said := *p
			said.Changes = nil // they are kept with the proposal
			return &said, nil
		})
	case JobQuote:
		out, err = answered(j, func(q QuoteQuestion) (any, error) { return a.quote(ctx, s, j, q) })
	case JobReserve:
		out, err = answered(j, func(q ReserveQuestion) (any, error) { return a.reserve(ctx, j, q) })
	case JobWorth:
		out, err = answered(j, func(q WorthQuestion) (any, error) { return a.worth(ctx, s, j, q) })
	case JobBacktest:
		out, err = a.backtest(ctx, s)
	default:
		err = fmt.Errorf("a job of kind %q", j.Kind)
	}
	if err != nil {
		return planning(err)
	}
	j.Answer, err = json.Marshal(out)
	return err
}

// found is asked when the planner has come back: what it has found when the time is up is
// kept, and what was cancelled or is somebody else's work by now is not. It returns with
// what to keep it.
func found(ctx context.Context) (context.Context, error) {
	if err := ctx.Err(); err != nil && !errors.Is(context.Cause(ctx), errTimeUp) {
		return nil, err
	}
	return context.WithoutCancel(ctx), nil
}

// answered reads the question of a job and answers it.
func answered[Q any](j *Job, f func(Q) (any, error)) (any, error) {
	var q Q
	if err := json.Unmarshal(j.Question, &q); err != nil {
		return nil, err
	}
	return f(q)
}

// reporter tells those who watch a job what the planner knows.
func (a *App) reporter(id string) func(solver.Progress) {
	return func(p solver.Progress) {
		a.live.set(id, &JobProgress{Tiers: p.Tiers, Tier: p.Tier})
	}
}
