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

// A Condition is what a person insists on for one planning; see plant.Condition. For
// move_rather this is a hard "that one stays", not a preference that a greater gain may
// overrule: who says it has decided, and either gets the best plan in which that visit
// stays, or is told what stands against it.
type Condition = plant.Condition

// Under returns the plant as it is under the conditions: a department that may work no
// overtime has a calendar without it. All else that conditions ask for changes
// nothing in the plant. Plans made under conditions are plans for this plant.
func Under(p *plant.Plant, conditions []Condition) *plant.Plant {
	out := p
	for _, c := range conditions {
		if c.Kind != plant.NoOvertime {
			continue
		}
		d := out.FindDepartment(c.Department)
		if d == nil {
			continue
		}
		was := out.FindCalendar(d.Calendar)
		if was == nil || len(was.Rules.Overtime)+len(was.Rules.Week[0])+len(was.Rules.Week[6]) == 0 {
			continue
		}
		with := *out
		with.Departments = slices.Clone(out.Departments)
		regular := *was
		for regular.ID = d.ID + " regular"; out.FindCalendar(regular.ID) != nil; regular.ID += "'" {
		}
		regular.Rules.Overtime = nil
		regular.Rules.Week[0], regular.Rules.Week[6] = nil, nil
		with.Calendars = append(slices.Clone(out.Calendars), regular)
		with.FindDepartment(c.Department).Calendar = regular.ID
		out = &with
	}
	return out
}

// given says what the conditions change in the plan in force, or where it does not fit, in
// the bookings: confirmed visits that move or are broken, and damages.
func (s *sitting) given() (list []string) {
	if len(s.q.conditions) == 0 {
		return nil
	}
	plan := s.q.plan(s.standing)
	was := s.q.whole.Plan
	if was != nil && !check.Plan(s.q.whole, was).Right() {
		was = nil
	}
	for _, r := range plan.Visits {
		v := s.p.FindVisit(r.Visit)
		from := v.Booking.Day
		if was != nil {
			from = calendar.None
			if i := slices.IndexFunc(was.Visits, func(o plant.PlannedVisit) bool { return o.Visit == r.Visit }); i >= 0 {
				from = was.Visits[i].Day
			}
		}
		switch name := fmt.Sprintf("the %s %s to %s", kindName(v.Kind), v.ID, v.Truck); {
		case v.Booking.State != plant.Confirmed || from == calendar.None || r.Day == from:
		case r.Day == calendar.None:
			list = append(list, fmt.Sprintf("What you ask breaks %s on %s.", name, say(from)))
		default:
			list = append(list, fmt.Sprintf("What you ask moves %s from %s to %s.", name, say(from), say(r.Day)))
		}
	}
	if was == nil {
		return list
	}
	if more := damages(s.p, plan) - damages(s.q.whole, was); more > 0 {
		list = append(list, fmt.Sprintf("What you ask adds %s of damages.", Dollars(more)))
	}
	return list
}

// damages are the dollars that a plan costs in damages.
func damages(p *plant.Plant, plan *plant.Plan) (sum int64) {
	for _, d := range Deliveries(p, plan) {
		sum += d.Damages
	}
	return sum
}

// A demand is a limit on one kind of row of one truck, beside the rules.
type demand struct {
	truck, stage string
	held         bool // the visit takes place
	may          func(m move) bool
	of           Condition // that asks for it
}

// demands spells out what conditions ask of single stages. Work under way is not
// asked.
func demands(p *plant.Plant, conditions []Condition) (list []demand) {
	visit := func(v *plant.Visit, held bool, may func(m move) bool) {
		for i := range p.Route {
			if s := &p.Route[i]; s.Visit == v.Kind {
				list = append(list, demand{truck: v.Truck, stage: s.ID, held: held, may: may})
			}
		}
	}
	stay := func(v *plant.Visit, day calendar.Date) {
		visit(v, true, func(m move) bool { return m.day() == day })
	}
	for _, c := range conditions {
		from := len(list)
		switch c.Kind {
		case plant.KeepVisit, plant.MoveRather:
			truck := c.Truck
			if c.Kind == plant.MoveRather {
				truck = c.Than
			}
			if v := p.FindVisit(c.Visit); v != nil && c.Day != calendar.None {
				stay(v, c.Day)
				break
			}
			for _, k := range p.Keeping(truck, c.Visit) {
				stay(k.Visit, k.Day)
			}
		case plant.HoldVisit:
			if v := p.FindVisit(c.Visit); v != nil {
				visit(v, true, func(move) bool { return true })
			}
		case plant.NotBefore, plant.NoVisits:
			for i := range p.Visits {
				v := &p.Visits[i]
				t := p.FindTruck(v.Truck)
				switch {
				case !v.Planned() || t == nil:
				case c.Kind == plant.NoVisits:
					visit(v, false, func(m move) bool { return m.last() < c.Over.From || m.day() > c.Over.Through })
				case t.Customer == c.Customer:
					visit(v, false, func(m move) bool { return m.day() >= c.Day })
				}
			}
		case plant.KeepDelivery:
			t := p.FindTruck(c.Truck)
			if t == nil {
				break
			}
			by := c.Day
			if by == calendar.None {
				by = p.PlannedDelivery(t)
			}
			for i := range p.Route {
				if s := &p.Route[i]; s.Delivers {
					list = append(list, demand{truck: t.ID, stage: s.ID, may: func(m move) bool { return m.last() <= by }})
				}
			}
		}
		for i := from; i < len(list); i++ {
			list[i].of = c
		}
	}
	return list
}

// insist lays out a plant under conditions for questions about one truck's visit. What
// stands for others is what the plan in force holds, or, where that does not obey the
// conditions, the best plan under them. When no plan does, the error is a Contradiction.
func insist(ctx context.Context, p *plant.Plant, truck string, conditions []Condition) (*sitting, error) {
	with := Under(p, conditions)
	at := newSitting(with)
	if len(conditions) == 0 || p.FindTruck(truck) == nil {
		return at, nil
	}
	q, lost, err := pose(with, nil, nil, demands(with, conditions)...)
	if err != nil {
		return nil, err
	}
	against := func() error {
		c, err := contradict(ctx, p, conditions)
		if err != nil {
			return err
		}
		return c
	}
	if len(lost) > 0 {
		return nil, against()
	}
	q.conditions, q.whole = conditions, p
	var o schedule.Options
	if with.Plan != nil {
		o.Prefer = q.recall(with.Plan)
		if len(check.Conditions(with, with.Plan, conditions)) == 0 && q.obeys(with.Plan) {
			at.standing = o.Prefer
		}
	}
	if at.standing == nil {
		r, err := schedule.Solve(ctx, &q.problem, o)
		switch {
		case err != nil:
			return nil, err
		case r.Status == schedule.Infeasible:
			return nil, against()
		case r.Answer == nil:
			return nil, &NoVisit{truck, "no plan under these conditions was found in the time given: give more with --limit"}
		}
		at.standing = r.Answer
	}
	at.q = q
	at.values, _ = schedule.Verify(&q.problem, at.standing)
	return at, nil
}

// demanded drops the moves of a stage that the demands on it do not allow, and
// reports whether it must take place.
func (q *question) demanded(w *work) (held bool) {
	for _, d := range q.demands {
		if d.truck != w.truck.ID || d.stage != w.stage.ID {
			continue
		}
		held = held || d.held
		lo, hi, gaps := -1, -1, false // those that stay, mostly a run of them
		for k, m := range w.moves {
			if !d.may(m) {
				continue
			}
			if lo < 0 {
				lo, hi = k, k
			}
			gaps = gaps || k > hi+1
			hi = k
		}
		switch {
		case lo < 0:
			w.moves = nil
		case !gaps: // shared, not copied
			w.moves = slices.Clip(w.moves[lo : hi+1])
		default: // what is shared is left as it is
			w.moves = slices.DeleteFunc(slices.Clone(w.moves), func(m move) bool { return !d.may(m) })
			w.noted = false
		}
	}
	return held
}

// possible tells whether a plan obeys the rules and the demands: Feasible with an
// answer, Infeasible, or Unknown when ctx ended it. near may be nil. It is about some
// trucks alone; nil: all. The ledger may be nil.
func possible(ctx context.Context, p *plant.Plant, l *ledger, only map[string]bool, list []demand, near *plant.Plan) (*question, *schedule.Answer, schedule.Status, error) {
	q, lost, err := poseSome(p, nil, l, nil, only, list...)
	if err != nil {
		return nil, nil, schedule.Unknown, err
	}
	if len(lost) > 0 {
		return q, nil, schedule.Infeasible, nil
	}
	problem := q.problem
	problem.Tiers = []schedule.Tier{{Name: "any"}} // whatever it costs
	var o schedule.Options
	if near != nil {
		o.Prefer = q.recall(near)
	}
	r, err := schedule.Solve(ctx, &problem, o)
	if err != nil {
		return nil, nil, schedule.Unknown, err
	}
	if r.Answer != nil {
		return q, r.Answer, schedule.Feasible, nil
	}
	return q, nil, r.Status, nil
}

// obeyed has the judge look whether a plan obeys the conditions.
func obeyed(p *plant.Plant, plan *plant.Plan, conditions []Condition) error {
	if broken := check.Conditions(p, plan, conditions); len(broken) > 0 {
		return fmt.Errorf("%w: %s (a condition; and %d more)", ErrJudge, broken[0].Sentence, len(broken)-1)
	}
	return nil
}
