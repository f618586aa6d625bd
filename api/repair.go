package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A RepairsQuestion asks for ways out. The answer of its job is a RepairsAnswer.
type RepairsQuestion struct {
	Truck      string // "" with no day: of what the recorded slips, and the conditions, do to everybody
	Day        calendar.Date
	Conditions []plant.Condition // that every way out obeys
}

// A RepairsAnswer is what was found.
type RepairsAnswer struct {
	Slips      []plant.Slip // that were recorded, and are facts in every way out
	Conditions []plant.Condition
	Goal       solver.Goal
	Nothing    WayOut
	List       []WayOut
	Promises   int      // that doing nothing breaks, the goal among them
	Lost       []string // sentences about those that no measure saves
	Asked      int      // questions that were answered to find them
	Whole      bool     // the search came to its end
	AtLeast    int64    // dollars; with no way proven to be the cheapest, proven that none costs less: see solver.Repairs
	Word       string   // what is to be said of the search
}

// A WayOut is a set of measures with the plan that they make possible.
type WayOut struct {
	Sentence string
	Actions  []plant.Action
	Dollars  int64 // what the measures cost
	Damages  int64 // dollars that the plan costs in damages
	Moved    []string
	Heads    int
	Missed   int // hard deadlines
	Cheapest bool
	Frontier bool
	Status   plant.Status
	Impact   *solver.Impact
	Changes  []plant.PieceChange // from the revision of the job
}

// AskRepairs asks for ways out.
func (a *App) AskRepairs(ctx context.Context, who Actor, q RepairsQuestion) (*Job, error) {
	if err := a.posed(ctx, q.Truck, q.Conditions); err != nil {
		return nil, err
	}
	if q.Truck == "" && q.Day != calendar.None {
		return nil, dayWithoutTruck()
	}
	return a.ask(ctx, who, JobRepairs, q)
}

func (a *App) repairs(ctx context.Context, s *State, j *Job, q RepairsQuestion) (*RepairsAnswer, error) {
	if s.Plant.Plan == nil {
		return nil, noPlan()
	}
	out := &RepairsAnswer{Goal: solver.Goal{Truck: q.Truck, Day: q.Day}, Conditions: q.Conditions}
	after, nothing := s.Plant, s.Plant.Plan
	if q.Truck == "" {
		out.Slips = s.Plant.Slips
	}
	if len(out.Slips) > 0 || len(q.Conditions) > 0 && !s.Fits(q.Conditions) {
		var err error
		if after, err = s.Plant.Apply(out.Slips); err != nil {
			return nil, err
		}
		r, err := solver.Replan(ctx, after, solver.Options{Conditions: q.Conditions, Report: a.reporter(j.ID)})
		if err != nil {
			return nil, err
		}
		if r.Contradiction != nil {
			return nil, contradicted(after, r.Contradiction)
		}
		nothing = r.Plan
	}
	after = solver.Under(after, q.Conditions)
	found, err := solver.Mend(ctx, s.Plant, after, nothing, out.Goal, solver.Options{Conditions: q.Conditions, Seek: func(k solver.Seeking) {
		a.live.set(j.ID, &JobProgress{Word: fmt.Sprintf("%s asked, %s found", count(k.Asked, "question"), count(k.Found, "way"))})
	}})
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil && !errors.Is(context.Cause(ctx), errTimeUp) {
		return nil, err
	}
	out.Promises, out.Lost, out.Asked, out.Whole, out.AtLeast, out.Word = found.Promises, found.Lost, found.Asked, found.Whole, found.AtLeast, found.Word
	if found.Nothing != nil {
		if out.Nothing, err = wayOut(s, after, out.Slips, found.Nothing); err != nil {
			return nil, err
		}
	}
	for i := range found.List {
		w, err := wayOut(s, after, out.Slips, &found.List[i])
		if err != nil {
			return nil, err
		}
		out.List = append(out.List, w)
	}
	return out, nil
}

// wayOut is a repair as it is kept.
func wayOut(s *State, after *plant.Plant, slips []plant.Slip, r *solver.Repair) (WayOut, error) {
	w := WayOut{
		Sentence: r.Sentence(after), Actions: r.Actions, Dollars: r.Dollars, Damages: r.Damages, Moved: r.Moved,
		Heads: r.Heads, Missed: r.Missed, Cheapest: r.Cheapest, Frontier: r.Frontier,
	}
	if r.Plan == nil {
		return w, nil
	}
	with := *r.Plant
	with.Plan = r.Plan
	w.Status = r.Plan.Status
	w.Changes = plant.Diff(s.pieces, plant.Split(&with))
	var err error
	w.Impact, err = solver.Compare(s.Plant, r.Plant, slips, r.Plan)
	return w, err
}

// ProposeWayOut makes a proposal of a way out that a job has found; 0 is to do nothing.
// Its id follows from the job's, so asking twice makes one.
func (a *App) ProposeWayOut(ctx context.Context, who Actor, job string, n int) (*Proposal, error) {
	if err := who.must(ActReport); err != nil {
		return nil, err
	}
	var out *Proposal
	err := a.store.Update(ctx, func(tx Tx) error {
		found, err := fetch[Job](tx, KindJob, job)
		if err != nil {
			return err
		}
		j := found.job()
		if j.Kind != JobRepairs || j.State != JobDone {
			return &Problem{Kind: Conflict, Title: "This job has found no ways out", Detail: fmt.Sprintf("It is of the kind %s and is %s.", j.Kind, j.State), Next: "Ask for repairs, and wait until the job is done."}
		}
		var answer RepairsAnswer
		if err := json.Unmarshal(j.Answer, &answer); err != nil {
			return err
		}
		if n < 0 || n > len(answer.List) {
			return invalid("number", fmt.Sprintf("There are %d ways out.", len(answer.List)), "Give the number of one, from 1; 0 is to do nothing.")
		}
		w := answer.Nothing
		if n > 0 {
			w = answer.List[n-1]
		}
		if w.Impact == nil {
			return &Problem{Kind: Conflict, Title: "There is no plan for it", Detail: w.Sentence, Next: "Choose another way out."}
		}
		id := fmt.Sprintf("%s-%d", job, n)
		if old, err := fetch[Proposal](tx, KindProposal, id); err == nil {
			out = old.proposal()
			return nil
		}
		e := entry[Proposal]{Record{Kind: KindProposal, ID: id, State: ProposalReady, Ref: who.Name}, Proposal{
			Base: j.Revision, At: a.now(), Who: who.Name, Slips: answer.Slips, Conditions: answer.Conditions, Status: w.Status, Impact: w.Impact,
			Summary: trimmed(w.Sentence + " " + w.Impact.Summary()), Promises: movesPromise(w.Impact), Changes: w.Changes,
		}}
		for _, t := range w.Impact.Tiers {
			e.val.Tiers = append(e.val.Tiers, plant.TierValue{Name: t.Name, Value: t.After})
		}
		if err := e.keep(tx); err != nil {
			return err
		}
		out = e.proposal()
		return nil
	})
	return out, err
}
