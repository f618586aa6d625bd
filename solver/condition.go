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

// A demand is a limit on one kind of row of one truck, beside the rules.
type demand struct {
	truck, stage string
	held         bool // the visit takes place
	may          func(m move) bool
}

// demands spells out what conditions ask of single stages. Work under way is not
// asked.
func demands(p *plant.Plant, conditions []Condition) (list []demand) {
	visit := func(v *plant.Visit, held bool, may func(m move) bool) {
		for i := range p.Route {
			if s := &p.Route[i]; s.Visit == v.Kind {
				list = append(list, demand{v.Truck, s.ID, held, may})
			}
		}
	}
	stay := func(v *plant.Visit, day calendar.Date) {
		visit(v, true, func(m move) bool { return m.day() == day })
	}
	for _, c := range conditions {
		switch c.Kind {
		case plant.KeepVisit, plant.MoveRather:
			truck := c.Truck
			if c.Kind == plant.MoveRather {
				truck = c.Than
			}
			if v := p.FindVisit(c.Visit); v != nil && c.Day != calendar.None {
				stay(v, c.Day)
				continue
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
				continue
			}
			by := c.Day
			if by == calendar.None {
				by = p.PlannedDelivery(t)
			}
			for i := range p.Route {
				if s := &p.Route[i]; s.Delivers {
					list = append(list, demand{t.ID, s.ID, false, func(m move) bool { return m.last() <= by }})
				}
			}
		}
	}
	return list
}

// demanded drops the moves of a stage that the demands on it do not allow, and
// reports whether it must take place.
func (q *question) demanded(w *work) (held bool) {
	for _, d := range q.demands {
		if d.truck != w.truck.ID || d.stage != w.stage.ID {
			continue
		}
		held = held || d.held
		kept := make([]move, 0, len(w.moves)) // those of w may be shared
		for _, m := range w.moves {
			if d.may(m) {
				kept = append(kept, m)
			}
		}
		w.moves = kept
	}
	return held
}

// possible tells whether a plan obeys the rules and the demands: Feasible with an
// answer, Infeasible, or Unknown when ctx ended it. near may be nil. It is about some
// trucks alone; nil: all.
func possible(ctx context.Context, p *plant.Plant, only map[string]bool, list []demand, near *plant.Plan) (*question, *schedule.Answer, schedule.Status, error) {
	q, lost, err := poseSome(p, nil, nil, only, list...)
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
