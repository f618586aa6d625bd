package solver

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"wetdown/calendar"
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

// ErrNoSlot is returned for an order that finds no place on the line.
var ErrNoSlot = errors.New("the line has no free slot")

// Quote finds the earliest day on which a would-be order can be delivered while
// every visit of the plan keeps its day and no truck is delivered later than its
// contract says, or than the plan says where that is later.
func Quote(ctx context.Context, p *plant.Plant, order Order, o Options) (*QuoteResult, error) {
	with := *p
	t, v := order.Truck, order.Visit
	if p.FindTruck(t.ID) != nil {
		return nil, fmt.Errorf("there is a truck %s in the plant already: give the would-be order a number of its own", t.ID)
	}
	r := &QuoteResult{Status: plant.Unknown, Visit: calendar.None, Delivery: calendar.None, Bound: calendar.None}
	if p.Plan != nil {
		r.Revision = p.Plan.Revision
	}
	if err := enter(p, &t); err != nil {
		return nil, err
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
		return nil, err
	}
	if len(lost) > 0 {
		return nil, &NoVisit{lost[0].Truck, fmt.Sprintf("no plan holds its stage %s, so nothing can be quoted: %s", lost[0].Stage, lost[0].Why)}
	}
	standing, err := alone.standing(ctx, p)
	if err != nil || standing == nil {
		return r, err
	}
	plan := alone.plan(standing)
	q, lost, err := ask(&with)
	if err != nil {
		return nil, err
	}
	if len(lost) > 0 {
		r.Status = plant.Infeasible
		r.Sentences = []string{fmt.Sprintf("No day within the horizon, which ends on %s: %s", p.Horizon.Through, lost[0].Why)}
		return r, nil
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
		return nil, fmt.Errorf("the route has no stage that delivers: mark one in the plant file")
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
		return nil, err
	}
	r.Status = [...]plant.Status{plant.Unknown, plant.Feasible, plant.Optimal, plant.Infeasible}[a.Status]
	if a.Answer == nil {
		r.Sentences = []string{"No day within the horizon leaves every promise alone: move the horizon's last day, or ask what moving one promise would cost."}
		return r, nil
	}
	r.Delivery = q.work[delivery].moves[a.Answer.Start[delivery]].last()
	r.Bound = p.AsOf.Date().AddDays(int(a.Bounds[1]))
	for i := range q.work {
		if w := &q.work[i]; w.truck.ID == t.ID && w.stage.Visit == plant.FinalInspection && w.wish == nil && a.Answer.Start[i] >= 0 {
			r.Visit = w.moves[a.Answer.Start[i]].day()
		}
	}
	return r, nil
}

// enter puts a would-be order on the line: on the first free line slot for its
// content, unless the order says where it stands.
func enter(p *plant.Plant, t *plant.Truck) error {
	if t.Line.Off != calendar.None || t.Line.Station != "" || t.Line.Enters != calendar.None && t.Line.Enters != 0 {
		return nil
	}
	for _, s := range p.Line.FreeSlots {
		if s.Content == t.Content && s.Count > 0 && s.Week.AddDays(6) >= p.AsOf.Date() {
			t.Line = plant.Place{Enters: max(s.Week, p.AsOf.Date()), Since: calendar.None, Off: calendar.None, Feeders: t.Line.Feeders}
			return nil
		}
	}
	return fmt.Errorf("%w for a %s truck: list one under line, or say on which day the order enters", ErrNoSlot, t.Content)
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
