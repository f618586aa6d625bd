package solver

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// Program is the version that plans name as their maker.
const Program = "wetdown 0.1"

// Options steer a planning. The zero value is fine.
type Options struct {
	// Clock measures the seconds of a Result; nil leaves them zero. It never
	// changes an answer.
	Clock func() time.Time
	// Conditions are what the plan must obey beside the rules. Plans made under
	// them are plans for the plant that Under returns.
	Conditions []Condition
	// Prices asks Offers to work out what each refused day would cost.
	Prices bool
	// Report is called with every better plan and every better bound.
	Report func(Progress)
	// Seek is called by Mend before every question about a set of measures.
	Seek func(Seeking)
}

// Progress is what is known at one moment of a planning.
type Progress struct {
	Plan  *plant.Plan // a better plan that the judge has passed, nil when only a bound is new
	Tiers []plant.TierValue
	Tier  int // index of the tier that is being proven
}

// A Result is what a planning ends with.
type Result struct {
	Status  plant.Status
	Plan    *plant.Plan // nil when there is none
	Tiers   []plant.TierValue
	Seconds Seconds
	Counts  Counts
	Broken  []check.Violation // what the judge found; always empty for a plan
	Reasons []string          // when infeasible: why, in sentences

	Contradiction *Contradiction // when infeasible under conditions: which of them, and why
}

// Seconds of wall clock since the call, except Encode, which is a duration.
type Seconds struct {
	Encode float64 // from plant to abstract problem
	First  float64 // to the first judged plan
	Best   float64 // to the plan returned
	Proof  float64 // to the last bound
	Total  float64
}

// Counts measure the work, and repeat exactly.
type Counts struct {
	Trucks    int
	Stages    int // open stages and wishes
	Variables int
	Clauses   int
	SATCalls  int
	Rounds    int // sessions of the SAT solver, each in wider windows or with more said from the start
}

// ErrJudge is returned when the judge refuses a plan that the planner made, or
// scores it differently: a fault of the program, never of the plant.
var ErrJudge = errors.New("the judge refuses the planner's plan")

// Plan finds the best plan for the plant as it stands: every rule obeyed, the
// tiers minimal one after the other. When ctx ends it early the result says what
// is known: the best plan so far, and proven bounds.
func Plan(ctx context.Context, p *plant.Plant, o Options) (*Result, error) {
	return solve(ctx, p, o, false)
}

// Replan is Plan starting from the plan in force: the same values, found faster,
// and of equally good plans one that stays near to it.
func Replan(ctx context.Context, p *plant.Plant, o Options) (*Result, error) {
	return solve(ctx, p, o, true)
}

func solve(ctx context.Context, p *plant.Plant, o Options, near bool) (*Result, error) {
	since := stopwatch(o.Clock)
	p = Under(p, o.Conditions)
	q, lost, err := pose(p, nil, nil, demands(p, o.Conditions)...)
	if err != nil {
		return nil, err
	}
	q.conditions = o.Conditions
	r, err := q.best(ctx, lost, o, near, since)
	if err == nil && r.Status == plant.Infeasible && len(o.Conditions) > 0 {
		r.Contradiction, err = contradict(ctx, p, o.Conditions)
		if err == nil {
			r.Reasons = r.Contradiction.Sentences
		}
		r.Seconds.Total = since()
	}
	return r, err
}

// best answers the question, unless stages are lost.
func (q *question) best(ctx context.Context, lost []stuck, o Options, near bool, since func() float64) (*Result, error) {
	p := q.p
	r := &Result{Status: plant.Unknown, Counts: Counts{Trucks: len(p.Trucks)}}
	if len(lost) > 0 {
		r.Status = plant.Infeasible
		for _, l := range lost {
			r.Reasons = append(r.Reasons, fmt.Sprintf("%s, %s: %s.", l.Truck, l.Stage, l.Why))
		}
		r.Seconds.Total = since()
		return r, nil
	}
	r.Counts.Stages = len(q.work)
	r.Seconds.Encode = since()
	var judged error
	so := schedule.Options{Report: func(pr schedule.Progress) {
		tiers := tierValues(pr.Values, pr.Bounds)
		if !pr.Better {
			r.Seconds.Proof = since()
			if o.Report != nil {
				o.Report(Progress{nil, tiers, pr.Tier})
			}
			return
		}
		plan, err := q.judged(pr.Answer, pr.Values)
		if err != nil {
			judged = cmp.Or(judged, err)
			return
		}
		r.Seconds.Best = since()
		if r.Seconds.First == 0 {
			r.Seconds.First = r.Seconds.Best
		}
		if o.Report != nil {
			o.Report(Progress{plan, tiers, pr.Tier})
		}
	}}
	if near && p.Plan != nil {
		so.Prefer = q.recall(p.Plan)
	}
	a, err := schedule.Solve(ctx, &q.problem, so)
	if err == nil {
		err = judged
	}
	if err != nil {
		return nil, err
	}
	r.Status = [...]plant.Status{plant.Unknown, plant.Feasible, plant.Optimal, plant.Infeasible}[a.Status]
	r.Counts.Variables, r.Counts.Clauses, r.Counts.SATCalls, r.Counts.Rounds = a.Counts.Variables, a.Counts.Clauses, a.Counts.Calls, a.Counts.Rounds
	r.Tiers = tierValues(a.Values, a.Bounds)
	if a.Answer != nil {
		if r.Plan, err = q.judged(a.Answer, a.Values); err != nil {
			return nil, err
		}
		r.Plan.Status, r.Plan.Tiers = r.Status, r.Tiers
	}
	if r.Status == plant.Infeasible && len(o.Conditions) == 0 {
		reasons, err := contradiction(ctx, p)
		if err != nil {
			return nil, err
		}
		for _, x := range reasons {
			r.Reasons = append(r.Reasons, x.Sentence)
		}
		if len(reasons) > 0 {
			r.Reasons = append(r.Reasons, "Together these do not fit. Try a later last day of the horizon, one more head in a crew, or one more bay.")
		}
	}
	r.Seconds.Total = since()
	return r, nil
}

// stopwatch returns a function that tells the seconds since now.
func stopwatch(clock func() time.Time) func() float64 {
	if clock == nil {
		return func() float64 { return 0 }
	}
	begin := clock()
	return func() float64 { return clock().Sub(begin).Seconds() }
}

func tierValues(values, bounds []int64) (list []plant.TierValue) {
	for t, name := range plant.TierNames {
		v := plant.TierValue{Name: name}
		if values != nil {
			v.Value = values[t]
		}
		if bounds != nil {
			v.Bound = bounds[t]
		}
		list = append(list, v)
	}
	return list
}

// judged decodes an answer and has the judge agree on its rules and its score.
func (q *question) judged(a *schedule.Answer, values []int64) (*plant.Plan, error) {
	plan := q.plan(a)
	verdict := check.Plan(q.p, plan)
	if len(verdict.Broken) > 0 {
		return nil, fmt.Errorf("%w: %s (and %d more)", ErrJudge, verdict.Broken[0].Sentence, len(verdict.Broken)-1)
	}
	if len(q.conditions) > 0 {
		if err := obeyed(q.p, plan, q.conditions); err != nil {
			return nil, err
		}
	}
	for t, v := range verdict.Tiers {
		if v.Value != values[t] {
			return nil, fmt.Errorf("%w: tier %s is %d by the judge, %d by the planner", ErrJudge, v.Name, v.Value, values[t])
		}
	}
	return plan, nil
}

// plan decodes an answer.
func (q *question) plan(a *schedule.Answer) *plant.Plan {
	plan := &plant.Plan{Revision: 1, Plant: q.p.Name, Made: q.p.AsOf, Program: Program}
	if q.p.Plan != nil {
		plan.Revision = q.p.Plan.Revision + 1
	}
	for i := range q.work {
		w, k := &q.work[i], a.Start[i]
		if k < 0 {
			continue
		}
		m := w.moves[k]
		row := plant.Planned{Truck: w.truck.ID, Stage: w.row(), Hold: m.start, Start: m.start, End: m.end}
		if m.hold < m.begin {
			row.Hold = w.hours.First(m.hold)
		}
		if b := a.Machine[i]; b >= 0 {
			row.Bay = q.p.Bays[b].ID
		}
		plan.Stages = append(plan.Stages, row)
	}
	slices.SortFunc(plan.Stages, func(x, y plant.Planned) int {
		return cmp.Or(cmp.Compare(x.Truck, y.Truck), cmp.Compare(x.Start, y.Start), cmp.Compare(x.Stage, y.Stage))
	})
	for i := range q.p.Visits {
		if v := &q.p.Visits[i]; v.Planned() {
			plan.Visits = append(plan.Visits, q.outcome(a, v))
		}
	}
	slices.SortFunc(plan.Visits, func(x, y plant.PlannedVisit) int { return cmp.Compare(x.Visit, y.Visit) })
	return plan
}

// standing returns the plan in force as an answer to q, or makes the best plan
// when there is none or when it does not answer q any more.
func (q *question) standing(ctx context.Context, p *plant.Plant) (*schedule.Answer, error) {
	if p.Plan != nil {
		a := q.recall(p.Plan)
		if _, faults := schedule.Verify(&q.problem, a); len(faults) == 0 {
			return a, nil
		}
	}
	r, err := schedule.Solve(ctx, &q.problem, schedule.Options{})
	if err != nil {
		return nil, err
	}
	if r.Answer == nil {
		return nil, nil
	}
	return r.Answer, nil
}

// outcome says what the answer makes of a visit.
func (q *question) outcome(a *schedule.Answer, v *plant.Visit) plant.PlannedVisit {
	out := plant.PlannedVisit{Visit: v.ID, Outcome: plant.Broken, Day: calendar.None}
	for i := range q.work {
		w := &q.work[i]
		if w.visit != v || w.wish != nil || a.Start[i] < 0 {
			continue
		}
		out.Day = w.moves[a.Start[i]].day()
		if b := a.Machine[i]; b >= 0 {
			out.Bay = q.p.Bays[b].ID
		}
		switch {
		case v.Booking.State == plant.Requested:
			out.Outcome = plant.Placed
		case out.Day == v.Booking.Day:
			out.Outcome = plant.Kept
		default:
			out.Outcome = plant.Moved
		}
	}
	return out
}

// recall turns a plan into the answer nearest to it: its starts where they are
// still possible, else the next ones, and its bays.
func (q *question) recall(plan *plant.Plan) *schedule.Answer {
	a := &schedule.Answer{Start: make([]int, len(q.work)), Machine: make([]int, len(q.work))}
	for i := range a.Start {
		a.Start[i], a.Machine[i] = -1, -1
	}
	for _, r := range plan.Stages {
		i, ok := q.at[rowKey{r.Truck, r.Stage}]
		if !ok {
			continue
		}
		moves := q.work[i].moves
		k, _ := slices.BinarySearchFunc(moves, r.Start, func(m move, s calendar.Moment) int { return cmp.Compare(m.start, s) })
		if k == len(moves) {
			k--
		}
		a.Start[i] = k
		a.Machine[i] = slices.IndexFunc(q.p.Bays, func(b plant.Bay) bool { return b.ID == r.Bay })
	}
	return a
}
