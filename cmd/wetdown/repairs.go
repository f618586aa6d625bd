package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// repairFlags switch off the ways out, which cost plannings of their own.
type repairFlags struct {
	repairTime
	takeFlag
	NoRepairs bool `name:"no-repairs" help:"Leave out the ways out: what measures of the price list would save, and for how much. They take plannings of their own."`
}

// takeFlag chooses a way out.
type takeFlag struct {
	Take *int `placeholder:"N" help:"With -o: put the Nth way out in force in the file written, 0 to do nothing. The ways are those that the same command shows without --take."`
}

// repairTime bounds the search for ways out.
type repairTime struct {
	RepairsLimit time.Duration `name:"repairs-limit" default:"1m" placeholder:"DURATION" help:"Longest time to look for ways out (each of them, where there are several). Default: 1m."`
}

// dayRepairFlags switch on the ways out for a day that is refused.
type dayRepairFlags struct {
	repairTime
	Repairs bool `help:"Also work out which measures of the price list would make a refused day possible, or deliver a late truck in time, and for how much. It takes some plannings."`
}

// mend looks for ways out and shows them.
func (f *repairTime) mend(pg *page, s *session, title string, before, after *plant.Plant, nothing *plant.Plan, goal solver.Goal, conditions []solver.Condition) (*solver.Repairs, *wire.Repairs, error) {
	since := s.stopwatch()
	w := s.watch("looking for ways out")
	o := s.options(w)
	o.Conditions = conditions
	o.Seek = func(k solver.Seeking) { w.seek(after, k) }
	ctx, cancel := context.WithTimeout(s.ctx, f.RepairsLimit)
	defer cancel()
	r, err := solver.Mend(ctx, before, after, nothing, goal, o)
	w.stop()
	if err != nil {
		return nil, nil, err
	}
	seconds := since()
	if r.Asked > 0 {
		s.note("ways out: %s in %.1f s", count(r.Asked, "question"), seconds)
	}
	next := "To take one, ask again with --take N -o FILE."
	if goal.Truck != "" {
		next = "To take one, ask wetdown why --repairs about it, with --take N -o FILE."
	}
	repairs(pg, title, next, after, r)
	out := wire.ToRepairs(after, r, seconds)
	return r, &out, nil
}

// repairs shows the ways out, and says what to do next to take one.
func repairs(pg *page, title, next string, p *plant.Plant, r *solver.Repairs) {
	if r.Promises == 0 && r.Nothing.Plan != nil {
		return // nothing that is promised is in danger
	}
	pg.gap(title)
	t := &table{heads: []string{"way", ">people moved", ">damages", ">measures", ">total", "best"}}
	row := func(name string, x *solver.Repair) {
		best := ""
		if x.Frontier {
			best = "*"
		}
		t.add(name, fmt.Sprint(x.Heads), dollars(x.Damages), dollars(x.Dollars), dollars(x.Total()), best)
	}
	if r.Nothing.Plan != nil {
		row("0", r.Nothing)
	}
	for i := range r.List {
		row(fmt.Sprint(i+1), &r.List[i])
	}
	pg.table(t)
	pg.item("0: %s", r.Nothing.Sentence(p))
	for i := range r.List {
		x := &r.List[i]
		text := x.Sentence(p)
		if i == 0 && x.Cheapest {
			text += " No cheaper set of measures saves it: proven."
		}
		pg.item("%d: %s", i+1, text)
	}
	for _, l := range r.Lost {
		pg.item("%s", l)
	}
	if r.Word != "" {
		pg.say("%s", r.Word)
	}
	if len(r.List) > 0 {
		pg.say("A way marked * is beaten by no other in people moved, damages and measures at once. Each has a plan that the judge has passed. %s", next)
	}
}

// check looks whether a way can be taken at all, where ways are looked for or not.
func (f *takeFlag) check(s *session, looked bool, flag string) error {
	switch {
	case f.Take == nil:
		return nil
	case *f.Take < 0:
		return refuse("--take %d: ways out are numbered from 0, which is to do nothing", *f.Take)
	case !looked:
		return refuse("--take %d: %s, since the way is looked for first", *f.Take, flag)
	case s.Out == "":
		return refuse("--take %d says which way out is put in force, and not where: name the plant file to be written with -o FILE", *f.Take)
	}
	return nil
}

// taken makes the way out that was chosen ready to be put in force: the plant with what
// it buys, and the best plan that moves no promised visit from the day shown, breaks no
// other, and costs no truck more damages and no deadline.
func (f *takeFlag) taken(pg *page, s *session, ways *solver.Repairs, conditions []solver.Condition) (*plant.Plant, *plant.Plan, *wire.Taken, error) {
	n := *f.Take
	switch {
	case ways == nil:
		return nil, nil, nil, refuse("--take %d: there are no ways out here: leave --take out to see why; nothing is written", n)
	case n == 0 && ways.Goal.Truck != "":
		return nil, nil, nil, refuse("--take 0 is to do nothing, and changes nothing in the file: take another way; nothing is written")
	case n > 0 && ways.Promises == 0 && ways.Nothing.Plan != nil:
		return nil, nil, nil, refuse("--take %d: nothing that is promised is in danger, and only 0, to do nothing, can be taken; nothing is written", n)
	case n > len(ways.List) && len(ways.List) == 0:
		return nil, nil, nil, refuse("--take %d: no way out was found, and only 0, to do nothing, can be taken; nothing is written", n)
	case n > len(ways.List):
		return nil, nil, nil, refuse("--take %d: there are only the ways 0 to %d: leave --take out to see them; nothing is written", n, len(ways.List))
	}
	way := ways.Nothing
	if n > 0 {
		way = &ways.List[n-1]
	}
	if way.Plan == nil {
		return nil, nil, nil, refuse("--take %d: no plan obeys every rule if nothing is done: take another way; nothing is written", n)
	}
	p := way.Agreed()
	w := s.watch("planning the way taken")
	o := s.options(w)
	o.Conditions = append(way.Pledges(), conditions...)
	r, err := solver.Replan(s.ctx, p, o)
	w.stop()
	if err != nil {
		return nil, nil, nil, err
	}
	if r.Plan == nil {
		return nil, nil, nil, refuse("--take %d: no plan for the file was found in the time given: give more with --limit; nothing is written", n)
	}
	pg.gap(fmt.Sprintf("Way %d is taken", n))
	for _, a := range way.Actions {
		switch a.Kind {
		case plant.AskCustomer:
			text := "the file takes it as agreed"
			if v := p.FindVisit(a.Visit); v.Booking.Day != way.Plant.FindVisit(a.Visit).Booking.Day {
				text += ", and books it for " + onDay(v.Booking.Day)
			}
			pg.item("%s: %s. Call first.", capital(solver.SayAction(p, a)), text)
		case plant.PayDamages:
			pg.item("%s: the file keeps the contract as it is. Call the customer.", capital(solver.SayAction(p, a)))
		default:
			pg.item("%s: a fact in the file from now on.", capital(solver.SayAction(p, a)))
		}
	}
	if len(way.Actions) == 0 {
		pg.item("Nothing is bought and nobody is asked.")
	}
	if r.Status == plant.Optimal {
		pg.say("Its plan obeys every rule, and of those that keep what way %d keeps none is better: proven in all %d tiers.", n, len(r.Tiers))
	} else {
		pg.say("Its plan obeys every rule and keeps what way %d keeps; that none is better is not proven.", n)
	}
	out := &wire.Taken{Way: n, Actions: wire.ToRepair(p, way).Actions, Result: s.result(p, r, 0)}
	return p, r.Plan, out, nil
}

// slip shows the ways out after a slip.
func (f *repairFlags) slip(pg *page, s *session, a *answered, out *wire.Slip) (ways *solver.Repairs, err error) {
	if f.NoRepairs || a.before.Plan == nil || a.r.Contradiction != nil || a.r.Plan == nil && a.first != nil && a.first.Plan == nil {
		return nil, nil
	}
	ways, out.Repairs, err = f.mend(pg, s, "Ways out, with what each costs", a.before, a.after, a.r.Plan, solver.Goal{Day: calendar.None}, a.conditions)
	return ways, err
}

// days shows what would make refused days possible, and returns the ways out for the last
// of them. A plant without a plan in force is planned first.
func (f *dayRepairFlags) days(pg *page, s *session, p *plant.Plant, truck string, days []calendar.Date, conditions []solver.Condition) (list []wire.Repairs, last *solver.Repairs, err error) {
	list = []wire.Repairs{}
	if !f.Repairs || len(days) == 0 {
		return list, nil, nil
	}
	if p, err = s.inForce(p, conditions); err != nil || p == nil {
		return list, nil, err
	}
	for _, d := range days {
		r, w, err := f.mend(pg, s, fmt.Sprintf("What would make %s possible, and for how much", onDay(d)), p, p, p.Plan, solver.Goal{Truck: truck, Day: d}, conditions)
		if err != nil {
			var n *solver.NoVisit
			if errors.As(err, &n) {
				return list, nil, refuseVisit(err)
			}
			return list, nil, err
		}
		list, last = append(list, *w), r
	}
	return list, last, nil
}

// inForce is the plant with a plan in force: its own, or the best under the conditions;
// nil when there is none.
func (s *session) inForce(p *plant.Plant, conditions []solver.Condition) (*plant.Plant, error) {
	if p.Plan != nil {
		return p, nil
	}
	w := s.watch("planning")
	o := s.options(w)
	o.Conditions = conditions
	r, err := solver.Plan(s.ctx, p, o)
	w.stop()
	if err != nil || r.Plan == nil {
		return nil, err
	}
	with := *p
	with.Plan = r.Plan
	return &with, nil
}

// late shows what would deliver a truck by its contract that the plan delivers late.
func (f *dayRepairFlags) late(pg *page, s *session, p *plant.Plant, truck string, conditions []solver.Condition) (*solver.Repairs, *wire.Repairs, error) {
	if !f.Repairs {
		return nil, nil, nil
	}
	p, err := s.inForce(p, conditions)
	if err != nil || p == nil {
		return nil, nil, err
	}
	for _, d := range solver.Deliveries(p, p.Plan) {
		if d.Truck == truck && d.Late > 0 {
			return f.mend(pg, s, fmt.Sprintf("What would deliver %s by %s, and for how much", truck, onDay(d.Due)), p, p, p.Plan, solver.Goal{Truck: truck, Day: calendar.None}, conditions)
		}
	}
	return nil, nil, nil
}
