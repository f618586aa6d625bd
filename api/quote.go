package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// A QuoteQuestion asks when a would-be order could be delivered.
type QuoteQuestion struct {
	Order solver.Order
	Note  string // for whom, in words
}

// A Quote is a dated answer. It is kept, and never changes. It can be worked out again:
// see QuoteAgain.
type Quote struct {
	ID       string
	Seq      int64
	At       time.Time
	Who      string
	Note     string
	Revision int64 // of the plant
	Table    int64 // of the history behind the odds: how often a table had been taken in
	Program  string
	Order    solver.Order
	Result   *solver.QuoteResult // the earliest delivery that keeps every promise
	Odds     *forecast.Quote     // how likely which days are; nil: Without says why, or it was kept before there were any
	Without  string              // why there are no odds, in a sentence
}

// AskQuote asks for a quote.
func (a *App) AskQuote(ctx context.Context, who Actor, q QuoteQuestion) (*Job, error) {
	s, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	with := *s.Plant
	with.Trucks = append(slices.Clone(with.Trucks), q.Order.Truck)
	if t := &with.Trucks[len(with.Trucks)-1]; t.Line.Enters == calendar.None { // it takes the first free place
		t.Line.Enters = with.AsOf.Date()
	}
	if q.Order.Visit.ID != "" {
		with.Visits = append(slices.Clone(with.Visits), q.Order.Visit)
	}
	if faults := plant.Validate(&with); len(faults) > 0 {
		return nil, faulty(faults)
	}
	return a.ask(ctx, who, JobQuote, q)
}

// quote answers a question and keeps the answer.
func (a *App) quote(ctx context.Context, s *State, j *Job, q QuoteQuestion) (*Quote, error) {
	made := &Quote{ID: j.ID, At: a.now(), Who: j.Who, Note: q.Note, Revision: s.Revision.Number, Program: solver.Program, Order: q.Order}
	err := a.store.Update(ctx, func(tx Tx) error {
		mark, err := markIn(tx, s.Revision.Number)
		if made.Table = mark.Table; err == nil {
			err = keepTable(tx) // another one may be taken in meanwhile
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	err = a.work(ctx, s, made, func(done, runs int) {
		a.live.set(j.ID, &JobProgress{Word: fmt.Sprintf("Chances: %d of %d runs.", done, runs)})
	})
	if err != nil {
		return nil, quoting(err)
	}
	if ctx, err = found(ctx); err != nil {
		return nil, err
	}
	made.At = a.now()
	err = a.store.Update(ctx, func(tx Tx) error {
		if old, err := fetch[Quote](tx, KindQuote, j.ID); err == nil {
			made = &old.val // kept by a process that died before it could say so
			return nil
		}
		e := entry[Quote]{Record{Kind: KindQuote, ID: j.ID, State: string(made.Result.Status), Ref: j.Who}, *made}
		return e.keep(tx)
	})
	return made, err
}

// work works out the answers of a quote: by the plant as of its revision and the history
// of its mark, and by nothing else.
func (a *App) work(ctx context.Context, s *State, q *Quote, report func(done, runs int)) (err error) {
	q.Result, q.Odds, q.Without = nil, nil, ""
	if q.Result, err = solver.Quote(ctx, s.Plant, q.Order, solver.Options{Clock: a.clock}); err != nil {
		return err
	}
	if s.Plant.Plan == nil {
		q.Without = "Without a plan in force nothing can be said of chances: accept a proposal, then ask for a quote again."
		return nil
	}
	var facts *plant.Plant
	var o forecast.Options
	err = a.store.View(context.WithoutCancel(ctx), func(tx Tx) (err error) {
		facts, o, err = a.simulation(tx, Mark{Table: q.Table, Revision: q.Revision}, s.Plant, q.Order.Truck)
		return err
	})
	if err != nil {
		return err
	}
	o.Report = report
	q.Odds, err = forecast.Quoted(ctx, facts, q.Order.Truck, q.Order.Visit, o)
	switch {
	case err == nil:
	case ctx.Err() != nil && errors.Is(context.Cause(ctx), errTimeUp):
		q.Without, err = outOfTime, nil
	case errors.Is(err, plant.ErrNoSlot):
		q.Without, err = "The line has no free place for the order, so nothing can be simulated: have one marked, or say on which day it would enter.", nil
	}
	return err
}

// outOfTime is why a quote has no odds whose time was up.
const outOfTime = "The time for the question was up before its chances were worked out: ask again when the planner is less busy."

// QuoteAgain works a quote out anew, from nothing but what is kept of it: the order, the
// revision of the plant, the history as it stood, and the seed. What comes back is the
// quote, to the byte; the quote that is kept stays. One that another version of the program
// made, or whose time was up, cannot be made again, which is a problem.
func (a *App) QuoteAgain(ctx context.Context, who Actor, id string) (*Quote, error) {
	if err := who.must(ActQuote); err != nil {
		return nil, err
	}
	kept, err := a.Quote(ctx, who, id)
	if err != nil {
		return nil, err
	}
	switch {
	case kept.Program != solver.Program:
		return nil, &Problem{Kind: Conflict, Title: "The quote cannot be made again", Detail: fmt.Sprintf("It was made by %s; this is %s.", kept.Program, solver.Program), Next: "Read it as it was kept, or ask for a new one."}
	case kept.Odds == nil && kept.Without == "":
		return nil, &Problem{Kind: Conflict, Title: "The quote cannot be made again", Detail: "It was kept before quotes had odds.", Next: "Read it as it was kept, or ask for a new one."}
	case kept.Result.Status == plant.Feasible || kept.Result.Status == plant.Unknown || kept.Without == outOfTime:
		return nil, &Problem{Kind: Conflict, Title: "The quote cannot be made again", Detail: "Its time was up before all of it was worked out, and how far the planner comes in that time is not always the same.", Next: "Read it as it was kept, or ask for a new one."}
	}
	ctx, cancel := context.WithTimeout(ctx, MaxSolve)
	defer cancel()
	leave, err := a.solve(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	s, err := a.State(ctx, who, kept.Revision)
	if err != nil {
		return nil, err
	}
	again := *kept
	a.aside(func() { err = a.work(ctx, s, &again, nil) })
	if err != nil {
		return nil, quoting(planning(err))
	}
	return &again, nil
}

// quoting turns an error of a quote into a problem where it is one.
func quoting(err error) error {
	if none := (*solver.NoVisit)(nil); errors.As(err, &none) {
		return &Problem{Kind: Conflict, Title: "Nothing can be quoted", Detail: sentence(none.Error()), Next: "Correct what the sentence names of that truck, then ask for the quote again."}
	}
	return err
}

// Quote returns a quote.
func (a *App) Quote(ctx context.Context, who Actor, id string) (q *Quote, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Quote](tx, KindQuote, id)
		e.val.Seq = e.rec.Seq
		q = &e.val
		return err
	})
	return q, err
}

// Quotes lists quotes in the order in which they were made, or the newest first.
func (a *App) Quotes(ctx context.Context, who Actor, page Page) (list []*Quote, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Quote](tx, page.of(Query{Kind: KindQuote}))
		for i := range es {
			es[i].val.Seq = es[i].rec.Seq
			list = append(list, &es[i].val)
		}
		return err
	})
	return list, err
}
