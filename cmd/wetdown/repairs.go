package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// repairFlags switch off the ways out, which cost plannings of their own.
type repairFlags struct {
	repairTime
	NoRepairs bool `name:"no-repairs" help:"Leave out the ways out: what measures of the price list would save, and for how much. They take plannings of their own."`
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

// wireRepairs are the ways out for machines.
type wireRepairs struct {
	Truck    *string      `json:"truck"` // of the goal; null: to keep every promise
	Date     *string      `json:"date"`  // of the goal: the visit to the truck is on it; null: it is delivered by its contract
	Promises int          `json:"promises"`
	Nothing  wireRepair   `json:"nothing"`
	Repairs  []wireRepair `json:"repairs"`
	Lost     []string     `json:"lost"`
	Measures int          `json:"measures"`
	Asked    int          `json:"asked"`
	Whole    bool         `json:"whole"`
	Word     string       `json:"word"`
	Seconds  float64      `json:"seconds"`
}

type wireRepair struct {
	Actions  []wireAction `json:"actions"`
	Cost     int64        `json:"cost"` // dollars, damages not among them
	Damages  int64        `json:"damages"`
	People   int          `json:"people"` // of the promised visits that move or are broken
	Moved    []string     `json:"moved"`
	Missed   int          `json:"deadlines_missed"`
	Cheapest bool         `json:"cheapest"`
	Frontier bool         `json:"frontier"`
	Sentence string       `json:"sentence"`
	Plan     *wirePlan    `json:"plan"`
}

type wireAction struct {
	Measure  string  `json:"measure"`
	Kind     string  `json:"kind"`
	Truck    *string `json:"truck"`
	Visit    *string `json:"visit"`
	Customer *string `json:"customer"`
	From     *string `json:"from"`
	Through  *string `json:"through"`
	Approver *string `json:"approver"`
	Cost     int64   `json:"cost"`
	Sentence string  `json:"sentence"`
}

func toRepair(p *plant.Plant, r *solver.Repair) wireRepair {
	w := wireRepair{
		Actions: each(r.Actions, func(a solver.Action) wireAction {
			return wireAction{a.Measure, a.Kind, text(a.Truck), text(a.Visit), text(a.Customer), day(a.From), day(a.Through), text(a.Approver), a.Dollars, solver.SayAction(p, a)}
		}),
		Cost: r.Dollars, Damages: r.Damages, People: r.Heads, Moved: texts(r.Moved), Missed: r.Missed,
		Cheapest: r.Cheapest, Frontier: r.Frontier, Sentence: r.Sentence(p),
	}
	for i := range w.Actions { // days that mean nothing are none
		if w.Actions[i].Through == nil && w.Actions[i].Kind != plant.FlyLater && w.Actions[i].Kind != plant.PayDamages {
			w.Actions[i].From = nil
		}
	}
	if r.Plan != nil {
		w.Plan = toPlan(r.Plant, r.Plan)
	}
	return w
}

// mend looks for ways out and shows them.
func (f *repairTime) mend(pg *page, s *session, title string, before, after *plant.Plant, nothing *plant.Plan, goal solver.Goal, conditions []solver.Condition) (*wireRepairs, error) {
	since := s.stopwatch()
	w := s.watch("looking for ways out")
	o := s.options(w)
	o.Conditions = conditions
	ctx, cancel := context.WithTimeout(s.ctx, f.RepairsLimit)
	defer cancel()
	r, err := solver.Mend(ctx, before, after, nothing, goal, o)
	w.stop()
	if err != nil {
		return nil, err
	}
	seconds := since()
	if r.Asked > 0 {
		s.note("ways out: %s in %.1f s", count(r.Asked, "question"), seconds)
	}
	repairs(pg, title, after, r)
	wire := &wireRepairs{
		Truck: text(goal.Truck), Date: day(goal.Day), Promises: r.Promises, Nothing: toRepair(after, r.Nothing),
		Repairs: each(r.List, func(x solver.Repair) wireRepair { return toRepair(after, &x) }),
		Lost:    texts(r.Lost), Measures: r.Measures, Asked: r.Asked, Whole: r.Whole, Word: r.Word, Seconds: micro(seconds),
	}
	return wire, nil
}

// repairs shows the ways out.
func repairs(pg *page, title string, p *plant.Plant, r *solver.Repairs) {
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
		pg.say("A way marked * is beaten by no other in people moved, damages and measures at once. Each has a plan that the judge has passed; to take one, change the plant file as it says, and plan.")
	}
}

// slip shows the ways out after a slip.
func (f *repairFlags) slip(pg *page, s *session, a *answered) (*wireRepairs, error) {
	if f.NoRepairs || a.before.Plan == nil || a.r.Contradiction != nil || a.r.Plan == nil && a.first != nil && a.first.Plan == nil {
		return nil, nil
	}
	return f.mend(pg, s, "Ways out, with what each costs", a.before, a.after, a.r.Plan, solver.Goal{Day: calendar.None}, a.conditions)
}

// days shows what would make a refused day possible. A plant without a plan in force is
// planned first.
func (f *dayRepairFlags) days(pg *page, s *session, p *plant.Plant, truck string, days []calendar.Date) ([]wireRepairs, error) {
	list := []wireRepairs{}
	if !f.Repairs || len(days) == 0 {
		return list, nil
	}
	p, err := s.inForce(p)
	if err != nil || p == nil {
		return list, err
	}
	for _, d := range days {
		w, err := f.mend(pg, s, fmt.Sprintf("What would make %s possible, and for how much", onDay(d)), p, p, p.Plan, solver.Goal{Truck: truck, Day: d}, nil)
		if err != nil {
			var n *solver.NoVisit
			if errors.As(err, &n) {
				return list, refuseVisit(err)
			}
			return list, err
		}
		list = append(list, *w)
	}
	return list, nil
}

// inForce is the plant with a plan in force: its own, or the best; nil when there is
// none.
func (s *session) inForce(p *plant.Plant) (*plant.Plant, error) {
	if p.Plan != nil {
		return p, nil
	}
	w := s.watch("planning")
	r, err := solver.Plan(s.ctx, p, s.options(w))
	w.stop()
	if err != nil || r.Plan == nil {
		return nil, err
	}
	with := *p
	with.Plan = r.Plan
	return &with, nil
}

// late shows what would deliver a truck by its contract that the plan delivers late.
func (f *dayRepairFlags) late(pg *page, s *session, p *plant.Plant, truck string) (*wireRepairs, error) {
	if !f.Repairs {
		return nil, nil
	}
	p, err := s.inForce(p)
	if err != nil || p == nil {
		return nil, err
	}
	for _, d := range solver.Deliveries(p, p.Plan) {
		if d.Truck == truck && d.Late > 0 {
			return f.mend(pg, s, fmt.Sprintf("What would deliver %s by %s, and for how much", truck, onDay(d.Due)), p, p, p.Plan, solver.Goal{Truck: truck, Day: calendar.None}, nil)
		}
	}
	return nil, nil
}
