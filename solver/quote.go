package solver

import (
	"context"
	"fmt"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// An Order is a truck that might be ordered, with the visit its customer would
// make. The visit's booking is ignored; windows left empty mean any day.
type Order struct {
	Truck plant.Truck
	Visit plant.Visit
}

// A QuoteResult is the earliest delivery of a would-be order that leaves every
// promise alone.
type QuoteResult struct {
	Status    plant.Status // optimal: no earlier day exists; infeasible: no day within the horizon
	Revision  int          // of the plan whose promises were kept
	LineOff   calendar.Date
	Visit     calendar.Date // first day of the visit, calendar.None without one
	Delivery  calendar.Date
	Bound     calendar.Date // proven: no earlier delivery
	Sentences []string
}

// Quote finds the earliest day on which a would-be order can be delivered while
// every visit of the plan keeps its day and no truck is delivered later than its
// contract says, or than the plan says where that is later.
func Quote(ctx context.Context, p *plant.Plant, order Order, o Options) (*QuoteResult, error) {
	r, _, err := quote(ctx, p, order)
	return r, err
}

// Reserve is Quote, and returns the plant with the order in it, which holds its place
// until a day: its truck on the line, due on the day of the answer, its visit tentative
// and held as long, and a plan in force that keeps every promise. Without an answer that
// plant is nil. The plan is right, and not proven the best one.
func Reserve(ctx context.Context, p *plant.Plant, order Order, hold plant.Reserved, o Options) (*QuoteResult, *plant.Plant, error) {
	r, with, err := quote(ctx, p, order)
	if err != nil || with == nil {
		return r, nil, err
	}
	t := with.FindTruck(order.Truck.ID)
	t.Reserved = hold
	t.Contract.Due = r.Delivery
	if v := with.FindVisit(order.Visit.ID); v != nil && r.Visit != calendar.None {
		v.Booking = plant.Booking{State: plant.Tentative, Day: r.Visit, HoldUntil: min(hold.Until, r.Visit)}
		with.Plan = booked(with, with.Plan, v.ID)
	}
	if v := check.Plan(with, with.Plan); !v.Right() {
		return nil, nil, fmt.Errorf("%w: with the order %s: %s", ErrJudge, t.ID, v.Broken[0].Sentence)
	}
	with.Plan = scored(with, with.Plan)
	return r, with, nil
}

// quote answers for an order, and returns the plant with the order and a plan that holds
// the answer; nil without an answer.
func quote(ctx context.Context, p *plant.Plant, order Order) (*QuoteResult, *plant.Plant, error) {
	with := *p
	t, v := order.Truck, order.Visit
	if p.FindTruck(t.ID) != nil {
		return nil, nil, fmt.Errorf("there is a truck %s in the plant already: give the would-be order a number of its own", t.ID)
	}
	r := &QuoteResult{Status: plant.Unknown, Visit: calendar.None, Delivery: calendar.None, Bound: calendar.None}
	if p.Plan != nil {
		r.Revision = p.Plan.Revision
	}
	if err := enter(&with, &t); err != nil {
		return nil, nil, err
	}
	with.Trucks = append(slices.Clone(p.Trucks), t)
	if v.Truck == t.ID {
		v.Booking = plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None}
		if len(v.Windows) == 0 {
			v.Windows = []plant.Range{{From: p.AsOf.Date(), Through: p.Horizon.Through}}
		}
		with.Visits = append(slices.Clone(p.Visits), v)
	}
	alone, lost, err := ask(p)
	if err != nil {
		return nil, nil, err
	}
	if len(lost) > 0 {
		return nil, nil, &NoVisit{lost[0].Truck, fmt.Sprintf("no plan holds its stage %s, so nothing can be quoted: %s", lost[0].Stage, lost[0].Why)}
	}
	standing, err := alone.standing(ctx, p)
	if err != nil || standing == nil {
		return r, nil, err
	}
	plan := alone.plan(standing)
	q, lost, err := ask(&with)
	if err != nil {
		return nil, nil, err
	}
	if len(lost) > 0 {
		r.Status = plant.Infeasible
		r.Sentences = []string{fmt.Sprintf("No day within the horizon, which ends on %s: %s", p.Horizon.Through, lost[0].Why)}
		return r, nil, nil
	}
	r.LineOff = q.lineOff.LineOff(t.ID)
	near := q.recall(plan)
	delivery := -1
	for i := range q.work {
		if q.work[i].truck.ID == t.ID && q.work[i].stage.Delivers {
			delivery = i
		}
	}
	if delivery < 0 {
		return nil, nil, fmt.Errorf("the route has no stage that delivers: mark one in the plant file")
	}
	problem := q.problem
	problem.Tasks = slices.Clone(problem.Tasks)
	for _, pr := range q.promises(near, t.ID, true) {
		q.confine(&problem, pr.limit)
	}
	first := schedule.Tier{Name: "delivery", Costs: []schedule.Cost{{Task: delivery}}}
	for _, m := range q.work[delivery].moves {
		first.Costs[0].At = append(first.Costs[0].At, int64(m.last()-p.AsOf.Date()))
	}
	held := schedule.Tier{Name: "visit"}
	for i := range q.work {
		if w := &q.work[i]; w.truck.ID == t.ID && w.visit != nil && w.wish == nil {
			held.Costs = append(held.Costs, schedule.Cost{Task: i, At: make([]int64, len(w.moves)), Skip: 1})
		}
	}
	problem.Tiers = []schedule.Tier{held, first} // a visit that is asked for is held, if any day suits
	a, err := schedule.Solve(ctx, &problem, schedule.Options{Prefer: near})
	if err != nil {
		return nil, nil, err
	}
	r.Status = [...]plant.Status{plant.Unknown, plant.Feasible, plant.Optimal, plant.Infeasible}[a.Status]
	if a.Answer == nil && r.Status != plant.Infeasible {
		r.Sentences = []string{"No day was found in the time given, and none is ruled out: ask again with more time."}
		return r, nil, nil
	}
	if a.Answer == nil {
		r.Sentences = []string{"No day within the horizon leaves every promise alone: move the horizon's last day, or ask what moving one promise would cost."}
		return r, nil, nil
	}
	r.Delivery = q.work[delivery].moves[a.Answer.Start[delivery]].last()
	r.Bound = p.AsOf.Date().AddDays(int(a.Bounds[1]))
	for i := range q.work {
		if w := &q.work[i]; w.truck.ID == t.ID && w.stage.Visit == plant.FinalInspection && w.wish == nil && a.Answer.Start[i] >= 0 {
			r.Visit = w.moves[a.Answer.Start[i]].day()
		}
	}
	with.Plan = q.plan(a.Answer)
	return r, &with, nil
}

// enter puts a would-be order on the line of a plant, and takes the free slot that it needs.
func enter(p *plant.Plant, t *plant.Truck) error {
	slot, enters, err := p.Slot(t)
	if err != nil {
		return err
	}
	if t.Line.Off == calendar.None && t.Line.Station == "" && t.Line.Enters != enters {
		t.Line = plant.Place{Enters: enters, Since: calendar.None, Off: calendar.None, Feeders: t.Line.Feeders}
	}
	if slot >= 0 {
		p.Line.FreeSlots = slices.Clone(p.Line.FreeSlots)
		p.Line.FreeSlots[slot].Count--
	}
	return nil
}

// confine keeps a task to the starts of a limit, which are a run of its starts.
func (q *question) confine(p *schedule.Problem, l schedule.Limit) {
	t := &p.Tasks[l.Task]
	t.Skip = false
	// Starts outside the limit stay in the lists, so that every table keeps its
	// length; arcs from the task to itself forbid them.
	arc := schedule.Arc{From: l.Task, To: l.Task}
	for range t.Starts {
		arc.Earliest = append(arc.Earliest, t.Starts[l.Lo])
		arc.Latest = append(arc.Latest, t.Starts[l.Hi])
	}
	p.Arcs = append(slices.Clone(p.Arcs), arc)
}
