package solver

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// A Contradiction says why no plan obeys some conditions.
type Contradiction struct {
	Conditions []Condition // together they cannot be met, and without any one of them the others can
	Whole      bool        // that was proven; false when time ran out before
	Plant      bool        // no plan obeys the rules even without conditions
	Sentences  []string    // for people: what cannot be, why, what to try
}

// contradict finds out which conditions contradict the plant or each other.
func contradict(ctx context.Context, p *plant.Plant, conditions []Condition) (*Contradiction, error) {
	c := &Contradiction{Whole: true}
	decide := func(list []Condition) (schedule.Status, error) {
		with := Under(p, list)
		_, _, status, err := possible(ctx, with, nil, demands(with, list), p.Plan)
		return status, err
	}
	switch status, err := decide(nil); {
	case err != nil:
		return nil, err
	case status == schedule.Infeasible:
		c.Plant = true
		facts, err := c.facts(ctx, p)
		c.Sentences = append([]string{"Even without your conditions no plan obeys every rule: ask for a plan without them first."}, facts...)
		return c, err
	case status == schedule.Unknown:
		c.Whole = false
	}
	c.Conditions = slices.Clone(conditions)
	for i := len(c.Conditions) - 1; i >= 0 && c.Whole; i-- {
		try := slices.Delete(slices.Clone(c.Conditions), i, i+1)
		switch status, err := decide(try); {
		case err != nil:
			return nil, err
		case status == schedule.Infeasible:
			c.Conditions = try
		case status == schedule.Unknown:
			c.Whole = false
		}
	}
	return c, c.explain(ctx, p, len(conditions)-len(c.Conditions))
}

// explain writes the sentences. So many other conditions are met easily enough.
func (c *Contradiction) explain(ctx context.Context, p *plant.Plant, others int) error {
	if !c.Whole {
		c.Sentences = append(c.Sentences, "Time ran out before the conditions that contradict each other were known: give more with --limit, or fewer conditions.")
		return nil
	}
	var asked []string
	for _, k := range c.Conditions {
		asked = append(asked, Say(p, k))
	}
	if len(asked) == 1 {
		blame := ""
		if others > 0 {
			blame = " The other conditions are not to blame."
		}
		c.Sentences = append(c.Sentences, fmt.Sprintf("No plan does this: %s.%s", asked[0], blame))
	} else {
		c.Sentences = append(c.Sentences, fmt.Sprintf("No plan does all of this together, though it can do any %s: %s.", without(len(asked)), strings.Join(asked, "; ")))
	}
	facts, err := c.facts(ctx, p)
	c.Sentences = append(c.Sentences, facts...)
	if len(asked) == 1 {
		c.Sentences = append(c.Sentences, "To try: give this condition up, or ask what would make it possible (wetdown why, wetdown slip).")
	} else {
		c.Sentences = append(c.Sentences, "To try: give up one of them, whichever costs least; each alone is enough.")
	}
	return err
}

func without(n int) string {
	if n == 2 {
		return "one of the two"
	}
	return fmt.Sprintf("%d of the %d", n-1, n)
}

// facts say what of the plant stands against the conditions.
func (c *Contradiction) facts(ctx context.Context, p *plant.Plant) (facts []string, err error) {
	with := Under(p, c.Conditions)
	list := demands(with, c.Conditions)
	q, lost, err := pose(with, nil, nil)
	if err != nil {
		return nil, err
	}
	for _, l := range lost {
		facts = append(facts, fmt.Sprintf("%s, %s: %s.", l.Truck, l.Stage, l.Why))
	}
	if len(lost) > 0 {
		return facts, nil
	}
	// A visit that the customer, the calendar or the line alone keep off its day, or a
	// truck that comes too late even with the plant to itself.
	prober, err := schedule.NewProber(&q.problem, nil, nil)
	if err != nil {
		return nil, err
	}
	var limits []schedule.Limit
	for _, d := range list {
		i, ok := q.at[rowKey{d.truck, d.stage}]
		if !ok {
			continue
		}
		w := &q.work[i]
		lo, hi := prober.Window(i)
		allowed := func(from, to int) (list []int) {
			for k := from; k <= to; k++ {
				if d.may(w.moves[k]) {
					list = append(list, k)
				}
			}
			return list
		}
		all, inside := allowed(0, len(w.moves)-1), allowed(lo, hi)
		switch {
		case len(all) == 0 && d.held && w.visit != nil:
			if day := d.onlyDay(q); day != calendar.None {
				r, _ := q.unsuited(w, day)
				facts = append(facts, r...)
			}
		case len(inside) == 0 && lo <= hi && w.stage.Delivers:
			facts = append(facts, fmt.Sprintf("%s comes off the line on %s and, with its stages and their waits, can be delivered on %s at the earliest, even with the plant to itself.",
				d.truck, say(q.lineOff.LineOff(d.truck)), say(w.moves[lo].last())))
		case len(inside) == 0 && lo <= hi:
			facts = append(facts, fmt.Sprintf("%s comes off the line on %s and, with its stages, their waits and its buffer of %d working days, can be shown %s, even with the plant to itself.",
				d.truck, say(q.lineOff.LineOff(d.truck)), with.ReadyWorkDays(w.truck), days(plant.Range{From: w.moves[lo].day(), Through: w.moves[hi].day()})))
		case d.held || w.stage.Delivers:
			limits = append(limits, schedule.Limit{Task: i, Lo: inside[0], Hi: inside[len(inside)-1]})
		}
	}
	if len(facts) > 0 || len(limits) == 0 {
		return facts, nil
	}
	return append(facts, q.pinch(ctx, limits)...), nil
}

// onlyDay is a day of the horizon that the demand asks for, if there is one.
func (d demand) onlyDay(q *question) calendar.Date {
	for day := q.p.AsOf.Date(); day <= q.grid.Through(); day++ {
		if d.may(move{start: day.At(0), end: day.At(0) + 1}) {
			return day
		}
	}
	return calendar.None
}

// pinch says which bays and crews leave no room for the limits together.
func (q *question) pinch(ctx context.Context, limits []schedule.Limit) []string {
	last := limits[len(limits)-1]
	prober, err := schedule.NewProber(&q.problem, limits[:len(limits)-1], nil)
	if err != nil {
		return nil
	}
	if _, status, err := prober.Possible(ctx, last.Task, last.Lo, last.Hi); err != nil || status != schedule.Infeasible {
		return nil
	}
	var what []string
	k := prober.Conflict(ctx, last.Task, last.Lo, last.Hi)
	for _, set := range k.Sets {
		what = append(what, bays(len(set))+" "+joined(q.bayNames(set), "and"))
	}
	for _, r := range k.Resources {
		if c := q.p.FindCrew(q.problem.Resources[r].Name); c != nil {
			what = append(what, c.Name)
		}
	}
	if len(what) == 0 {
		return []string{"The order of the stages and their waits leave no other way."}
	}
	return []string{fmt.Sprintf("There is not enough room for it in the parts of the days that matter: %s.", joined(what, "and"))}
}

// Say says a condition for people, as what is asked for.
func Say(p *plant.Plant, c Condition) string {
	name := func(v *plant.Visit) string { return fmt.Sprintf("the %s %s to %s", kindName(v.Kind), v.ID, v.Truck) }
	stay := func(truck, visit string) string {
		var list []string
		for _, k := range p.Keeping(truck, visit) {
			list = append(list, fmt.Sprintf("%s stays on %s", name(k.Visit), say(k.Day)))
		}
		return joined(list, "and")
	}
	switch c.Kind {
	case plant.KeepVisit:
		if v := p.FindVisit(c.Visit); v != nil && c.Day != calendar.None {
			return fmt.Sprintf("%s is on %s", name(v), say(c.Day))
		}
		return stay(c.Truck, c.Visit)
	case plant.HoldVisit:
		if v := p.FindVisit(c.Visit); v != nil {
			return name(v) + " is held"
		}
	case plant.KeepDelivery:
		by := c.Day
		if t := p.FindTruck(c.Truck); t != nil && by == calendar.None {
			by = p.PlannedDelivery(t)
		}
		return fmt.Sprintf("%s is delivered by %s", c.Truck, say(by))
	case plant.NoOvertime:
		if d := p.FindDepartment(c.Department); d != nil && d.Name != "" {
			return fmt.Sprintf("no overtime in %s (%s)", d.ID, d.Name)
		}
		return "no overtime in " + c.Department
	case plant.NotBefore:
		who := c.Customer
		if k := p.FindCustomer(c.Customer); k != nil {
			who = k.Name
		}
		return fmt.Sprintf("no visit of %s before %s", who, say(c.Day))
	case plant.MoveRather:
		return fmt.Sprintf("%s may move rather than %s: %s", c.Truck, c.Than, stay(c.Than, ""))
	case plant.NoVisits:
		return "no visits " + days(c.Over)
	}
	return c.Kind
}
