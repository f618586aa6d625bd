package solver

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/check"
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

// Error says it in one line.
func (c *Contradiction) Error() string { return strings.Join(c.Sentences, " ") }

// contradict finds out which conditions contradict the plant or each other.
func contradict(ctx context.Context, p *plant.Plant, conditions []Condition) (*Contradiction, error) {
	c := &Contradiction{Whole: true}
	decide := func(list []Condition) (schedule.Status, error) {
		with := Under(p, list)
		_, _, status, err := possible(ctx, with, nil, nil, demands(with, list), p.Plan)
		return status, err
	}
	switch status, err := decide(nil); {
	case err != nil:
		return nil, err
	case status == schedule.Infeasible:
		c.Plant = true
		facts, _, err := c.facts(ctx, p)
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
	facts, helps, err := c.facts(ctx, p)
	c.Sentences = append(c.Sentences, facts...)
	try := "To try: give this condition up."
	if len(asked) > 1 {
		try = "To try: give up one of them, whichever costs least; each alone is enough."
	}
	if len(helps) > 0 {
		try += " Or lift a reason, then ask again: " + strings.Join(helps, "; ") + "."
	}
	c.Sentences = append(c.Sentences, try)
	return err
}

func without(n int) string {
	if n == 2 {
		return "one of the two"
	}
	return fmt.Sprintf("%d of the %d", n-1, n)
}

// facts say what of the plant stands against the conditions, and what could help.
func (c *Contradiction) facts(ctx context.Context, p *plant.Plant) (facts, helps []string, err error) {
	with := Under(p, c.Conditions)
	_, lost, err := pose(with, nil, nil)
	if err != nil {
		return nil, nil, err
	}
	for _, l := range lost {
		facts = append(facts, fmt.Sprintf("%s, %s: %s.", l.Truck, l.Stage, l.Why))
	}
	if len(lost) > 0 {
		return facts, nil, nil
	}
	// One condition is asked about, the others stand. Best is one that needs no other.
	best := []Reason(nil)
	for i, w := range wishes(with, c.Conditions) {
		reasons, alone, err := c.against(ctx, with, w.ask, w.others)
		if err != nil {
			return nil, nil, err
		}
		if i == 0 || alone {
			best = reasons
		}
		if alone {
			break
		}
	}
	for _, r := range best {
		if r.Kind != ReasonCondition { // those are said
			facts = append(facts, r.Sentence)
			if r.Help != "" && !slices.Contains(helps, r.Help) {
				helps = append(helps, r.Help)
			}
		}
	}
	switch {
	case len(best) == 0:
		facts = append(facts, "The order of the stages and their waits leave no other way.")
	case len(facts) == 0:
		facts = append(facts, "They contradict each other, whatever is planned.")
	}
	return facts, helps, nil
}

// A wished condition is about one visit or delivery; the others are not.
type wished struct {
	ask    *Condition // nil: nothing is asked about but the others
	others []Condition
}

// wishes lists the ways to ask about one visit or delivery of some conditions.
func wishes(p *plant.Plant, conditions []Condition) (list []wished) {
	var single []Condition
	for _, c := range conditions {
		truck := c.Truck
		switch c.Kind {
		case plant.MoveRather:
			truck = c.Than
		case plant.KeepDelivery:
			if t := p.FindTruck(truck); t != nil && c.Day == calendar.None {
				c.Day = p.PlannedDelivery(t)
			}
			single = append(single, c)
			continue
		case plant.KeepVisit:
			if c.Visit != "" && c.Day != calendar.None {
				single = append(single, c)
				continue
			}
		default:
			single = append(single, c)
			continue
		}
		for _, k := range p.Keeping(truck, c.Visit) {
			single = append(single, Condition{Kind: plant.KeepVisit, Visit: k.Visit.ID, Day: k.Day, Over: c.Over})
		}
	}
	for i := range single {
		switch single[i].Kind {
		case plant.KeepVisit, plant.HoldVisit, plant.KeepDelivery:
			list = append(list, wished{&single[i], slices.Delete(slices.Clone(single), i, i+1)})
		}
	}
	if len(list) == 0 {
		list = append(list, wished{nil, single})
	}
	return list
}

// against finds what stands against one condition while the others hold. alone: none of
// these is among it.
func (c *Contradiction) against(ctx context.Context, p *plant.Plant, ask *Condition, others []Condition) (list []Reason, alone bool, err error) {
	var asked *demand
	if ask != nil {
		ds := demands(p, []Condition{*ask})
		if len(ds) == 0 {
			return nil, false, nil
		}
		asked = &ds[0]
	}
	plan, called, err := c.near(ctx, p, asked, others)
	if err != nil {
		return nil, false, err
	}
	s := &standing{plan: plan, called: called, conditions: others}
	a, key := &apart{}, rowKey{}
	if asked != nil {
		s.truck, key = p.FindTruck(asked.truck), rowKey{asked.truck, asked.stage}
		a.truck = asked.truck
	}
	q, lost, err := pose(p, nil, a)
	if err != nil || len(lost) > 0 {
		return nil, false, err
	}
	d, err := newDispute(q, s.truck, plan, called, key, "", others)
	if err != nil {
		return nil, false, err
	}
	var want []schedule.Limit
	if asked != nil {
		i, ok := q.at[key]
		if !ok {
			return nil, false, nil
		}
		w := &q.work[i]
		l, ok := w.allowed(*asked)
		switch {
		case !ok && w.visit != nil:
			return []Reason{d.nobodyWorks(w, ask.Day)}, true, nil
		case !ok:
			return []Reason{q.noDrive(asked.truck, asked.stage, ask.Day)}, true, nil
		}
		l.Task = i
		want = append(want, l)
	}
	x := &Explanation{Status: plant.Optimal}
	if err := d.explain(ctx, x, want); err != nil {
		return nil, false, err
	}
	return x.Grounds, !slices.ContainsFunc(x.Grounds, func(r Reason) bool { return r.Kind == ReasonCondition }), nil
}

// near is a plan by which to tell who stands where: the plan in force if it is right,
// else one without what is asked about. It may be nil.
func (c *Contradiction) near(ctx context.Context, p *plant.Plant, asked *demand, others []Condition) (plan *plant.Plan, called string, err error) {
	if p.Plan != nil && check.Plan(p, p.Plan).Right() {
		return p.Plan, fmt.Sprintf("plan %d", p.Plan.Revision), nil
	}
	if asked == nil {
		return nil, "", nil
	}
	q, a, _, err := possible(ctx, p, nil, nil, demands(p, others), p.Plan)
	if err != nil || a == nil {
		return nil, "", err
	}
	called = "a plan without it"
	if len(c.Conditions) > 1 {
		called = fmt.Sprintf("a plan that lets %s be otherwise", asked.truck)
	}
	return q.plan(a), called, nil
}

// begun says of work under way that no condition is asked of it; "" when nothing of the kind is under way.
func begun(p *plant.Plant, truck string, is func(*plant.Stage) bool) string {
	t := p.FindTruck(truck)
	if t == nil || !slices.ContainsFunc(t.Running, func(r plant.Running) bool { s := p.FindStage(r.Stage); return s != nil && is(s) }) {
		return ""
	}
	return ", which changes nothing any more: it is under way"
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
			return fmt.Sprintf("%s is on %s", name(v), say(c.Day)) + begun(p, v.Truck, func(s *plant.Stage) bool { return s.Visit == v.Kind })
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
		return fmt.Sprintf("%s is delivered by %s", c.Truck, say(by)) + begun(p, c.Truck, func(s *plant.Stage) bool { return s.Delivers })
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
