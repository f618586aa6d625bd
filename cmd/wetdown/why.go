package main

import (
	"errors"
	"fmt"
	"strings"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

type whyCmd struct {
	planFile
	conditionFlags
	dayRepairFlags
	takeFlag
	Truck string `required:"" placeholder:"ID" help:"Shop order number of the truck."`
	On    string `placeholder:"DATE" help:"The day asked for. Without it: why the plan delivers the truck late, or moves or breaks its visits."`
}

// Help says more than one line.
func (*whyCmd) Help() string {
	return `The reasons together rule it out, and none of them is idle: without any one of them the others do not.
What helps lifts one reason; then others, not told yet, may stand in the way: ask again. With --on, exit
code 1 says that the day is not possible. Without --on, it is the plan in force that is explained, or the
best plan where none fits. What you insist on (--keep and the others) is among the reasons where it stands
in the way. With --repairs --take N -o FILE, the Nth way to make it possible is put in force in the plant file
written; without --take, -o takes the answer.`
}

func (c *whyCmd) run(s *session) (int, error) {
	if err := c.check(s, c.dayRepairFlags.Repairs, "add --repairs"); err != nil {
		return 0, err
	}
	if c.On == "" {
		return c.plan(s)
	}
	on, err := calendar.ParseDate(c.On)
	if err != nil {
		return 0, refuse("--on: %v", err)
	}
	p, err := s.about(c.File, c.Truck)
	if err != nil {
		return 0, err
	}
	switch first, last := p.AsOf.Date(), p.Horizon.Through; {
	case on < first:
		return 0, refuse("--on %s: the day is past, %s speaks as of %s. Ask for a day from %s through %s", on, called(c.File), first, first, last)
	case on > last:
		return 0, refuse("--on %s: the calendar of %s ends on %s, the last day of its horizon, and nothing can be said of later days. Write a later day under through of horizon in the file, or ask for a day from %s through %s", on, called(c.File), last, first, last)
	}
	conditions, err := c.conditions(s, p)
	if err != nil {
		return 0, err
	}
	w := s.watch("looking for reasons")
	o := s.options(w)
	o.Conditions = conditions
	x, err := solver.Why(s.ctx, p, c.Truck, on, o)
	w.stop()
	if err != nil {
		return s.contradicted(p, conditions, refuseVisit(err))
	}
	pg := &page{}
	heading(pg, p)
	asked(pg, p, x.Visit)
	underConditions(pg, p, conditions)
	anyway(pg, x.Given)
	pg.gap("")
	pg.say("%s", x.Sentence)
	if len(x.Reasons) > 0 {
		pg.gap(plural(len(x.Reasons), "Because", "Because, all of it together"))
		for _, r := range x.Reasons {
			pg.item("%s", r)
		}
	}
	if len(x.Helps) > 0 {
		pg.gap("What could help (each lifts one reason; then ask again)")
		for _, h := range x.Helps {
			pg.item("%s.", strings.TrimSuffix(h, "."))
		}
	}
	if x.Note != "" {
		pg.gap("")
		pg.say("%s", x.Note)
	}
	out := wire.ToWhy(p, x, conditions)
	out.Warnings = s.warned()
	if !x.Possible {
		var ways *solver.Repairs
		if out.Repairs, ways, err = c.dayRepairFlags.days(pg, s, p, c.Truck, []calendar.Date{on}, conditions); err != nil {
			return 0, err
		}
		if c.Take != nil {
			goal := solver.Condition{Kind: plant.KeepVisit, Visit: x.Visit, Day: on, Over: noDays}
			if out.Taken, err = c.force(pg, s, ways, append(conditions, goal)); err != nil {
				return 0, err
			}
			return s.report(true, out, pg)
		}
	} else if c.Take != nil {
		return 0, refuse("--take %d: the day is possible as it is, without any way out; nothing is written", *c.Take)
	}
	return s.answer(x.Possible, out, pg)
}

// plan explains what the plan makes of one truck: the plan in force, or the best one
// where that does not fit any more.
func (c *whyCmd) plan(s *session) (int, error) {
	p, err := s.about(c.File, c.Truck)
	if err != nil {
		return 0, err
	}
	conditions, err := c.conditions(s, p)
	if err != nil {
		return 0, err
	}
	pg := &page{}
	heading(pg, p)
	underConditions(pg, p, conditions)
	out := wire.Causes{Truck: c.Truck, Explanations: []wire.Explanation{}, Conditions: wire.ToConditions(p, conditions), Warnings: s.warned()}
	w := s.watch("looking for reasons")
	o := s.options(w)
	o.Conditions = conditions
	var list []*solver.Explanation
	err = solver.ErrStale
	if p.Plan != nil {
		out.Plan = &p.Plan.Revision
		list, err = solver.Causes(s.ctx, p, p.Plan, c.Truck, o)
	}
	var r *solver.Result
	if errors.Is(err, solver.ErrStale) {
		out.Plan = nil
		if r, err = solver.Plan(s.ctx, p, o); err == nil && r.Plan != nil {
			list, err = solver.Causes(s.ctx, p, r.Plan, c.Truck, o)
		}
	}
	w.stop()
	if err != nil {
		return 0, refuseVisit(err)
	}
	if r != nil {
		if len(conditions) > 0 {
			pg.gap("")
		}
		if r.Plan == nil {
			verdict(pg, s.ctx, r)
			return s.answer(false, out, pg)
		}
		pg.say("No plan that fits%s is in force: this is about one made now. %s", map[bool]string{true: " and does what you ask"}[len(conditions) > 0], proven(r.Status, r.Tiers))
	}
	out.Explanations = wire.Each(list, wire.ToExplanation)
	if len(list) == 0 {
		pg.gap("")
		pg.say("There is nothing to explain: the plan moves and breaks no visit to %s, and delivers it in time.", c.Truck)
	}
	explanations(pg, list)
	var ways *solver.Repairs
	if ways, out.Repairs, err = c.dayRepairFlags.late(pg, s, p, c.Truck, conditions); err != nil {
		return 0, err
	}
	if c.Take != nil {
		goal := solver.Condition{Kind: plant.KeepDelivery, Truck: c.Truck, Day: p.FindTruck(c.Truck).Contract.Due, Over: noDays}
		if out.Taken, err = c.force(pg, s, ways, append(conditions, goal)); err != nil {
			return 0, err
		}
		return s.report(true, out, pg)
	}
	return s.answer(true, out, pg)
}

// force puts the way out that was taken in force in the file of -o.
func (c *whyCmd) force(pg *page, s *session, ways *solver.Repairs, conditions []solver.Condition) (*wire.Taken, error) {
	p, plan, out, err := c.taken(pg, s, ways, conditions)
	if err != nil {
		return nil, err
	}
	return out, s.enforce(pg, p, plan)
}

// explanations shows the reasons for what a plan could not keep.
func explanations(pg *page, list []*solver.Explanation) {
	for _, x := range list {
		pg.gap("")
		pg.say("%s", x.Sentence)
		if len(x.Reasons) > 0 {
			pg.say("%s", plural(len(x.Reasons), "Because:", "Because, all of it together:"))
		}
		for _, r := range x.Reasons {
			pg.item("%s", r)
		}
		if len(x.Helps) > 0 {
			pg.say("%s", fmt.Sprintf("What could help: %s.", strings.Join(x.Helps, "; ")))
		}
		if x.Note != "" {
			pg.say("%s", x.Note)
		}
	}
}

// causes explains, under a plan for a plant under conditions, every visit that it breaks
// or moves and every delivery that it makes late. p is the plant without the conditions.
func (s *session) causes(pg *page, p *plant.Plant, plan *plant.Plan, conditions []solver.Condition) ([]wire.Explanation, error) {
	w := s.watch("looking for reasons")
	o := s.options(w)
	o.Conditions = conditions
	list, err := solver.Causes(s.ctx, p, plan, "", o)
	w.stop()
	if err != nil {
		return nil, err
	}
	pg.gap("Why")
	if len(list) == 0 {
		pg.say("There is nothing to explain: no visit moves or is broken, and no delivery is late.")
	}
	explanations(pg, list)
	return wire.Each(list, wire.ToExplanation), nil
}
