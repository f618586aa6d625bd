package main

import (
	"errors"
	"strings"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// conditionFlags are what a person insists on for one planning.
type conditionFlags struct {
	Keep         []string `placeholder:"ID" help:"Keep the visits to this truck, or this visit, on their planned day."`
	KeepDelivery []string `placeholder:"ID[=DATE]" help:"Deliver this truck no later than planned, or than the date."`
	NoOvertime   []string `placeholder:"DEPT" help:"No overtime, Saturday or Sunday in this department."`
	NotBefore    []string `placeholder:"CUSTOMER=DATE" help:"No visit of this customer begins before the date."`
	Rather       []string `placeholder:"ID=ID" help:"If a visit must move, that to the first truck rather than that to the second, which stays."`
	NoVisits     []string `placeholder:"DATE[..DATE]" help:"No visit takes place on these days."`
	Conditions   string   `placeholder:"FILE" help:"File of conditions (YAML or JSON)."`
}

// asked are the conditions of the command line for a plant, and the plant under them.
func (s *session) asked(p *plant.Plant) ([]solver.Condition, *plant.Plant, error) {
	if s.insist == nil {
		return nil, p, nil
	}
	list, err := s.insist.conditions(s, p)
	return list, solver.Under(p, list), err
}

// noDays is a run of days that was not given.
var noDays = plant.Range{From: calendar.None, Through: calendar.None}

// conditions reads what the flags and their file ask for.
func (f *conditionFlags) conditions(s *session, p *plant.Plant) (list []solver.Condition, err error) {
	add := func(c solver.Condition) { list = append(list, c) }
	for _, id := range f.Keep {
		c := solver.Condition{Kind: plant.KeepVisit, Day: calendar.None, Over: noDays}
		if p.FindVisit(id) != nil {
			c.Visit = id
		} else if t, err := findTruck(p, id); err != nil {
			return nil, err
		} else {
			c.Truck = t.ID
		}
		add(c)
	}
	for _, text := range f.KeepDelivery {
		id, date, dated := strings.Cut(text, "=")
		t, err := findTruck(p, id)
		if err != nil {
			return nil, err
		}
		c := solver.Condition{Kind: plant.KeepDelivery, Truck: t.ID, Day: calendar.None, Over: noDays}
		if dated {
			if c.Day, err = aDay("--keep-delivery", date); err != nil {
				return nil, err
			}
		}
		add(c)
	}
	for _, id := range f.NoOvertime {
		if p.FindDepartment(id) == nil {
			return nil, unknown("department", id, "in the plant file", ids(p.Departments, func(d *plant.Department) string { return d.ID }))
		}
		add(solver.Condition{Kind: plant.NoOvertime, Department: id, Day: calendar.None, Over: noDays})
	}
	for _, text := range f.NotBefore {
		id, date, ok := strings.Cut(text, "=")
		if !ok {
			return nil, refuse("--not-before %s: write the customer and the date, CUSTOMER=YYYY-MM-DD", text)
		}
		if p.FindCustomer(id) == nil {
			return nil, unknown("customer", id, "in the plant file", ids(p.Customers, func(c *plant.Customer) string { return c.ID }))
		}
		day, err := aDay("--not-before", date)
		if err != nil {
			return nil, err
		}
		add(solver.Condition{Kind: plant.NotBefore, Customer: id, Day: day, Over: noDays})
	}
	for _, text := range f.Rather {
		one, other, ok := strings.Cut(text, "=")
		if !ok {
			return nil, refuse("--rather %s: write two trucks, the one that may move first, ID=ID", text)
		}
		for _, id := range []string{one, other} {
			if _, err := findTruck(p, id); err != nil {
				return nil, err
			}
		}
		add(solver.Condition{Kind: plant.MoveRather, Truck: one, Than: other, Day: calendar.None, Over: noDays})
	}
	for _, text := range f.NoVisits {
		from, through, ok := strings.Cut(text, "..")
		if !ok {
			through = from
		}
		c := solver.Condition{Kind: plant.NoVisits, Day: calendar.None}
		if c.Over.From, err = aDay("--no-visits", from); err != nil {
			return nil, err
		}
		if c.Over.Through, err = aDay("--no-visits", through); err != nil {
			return nil, err
		}
		add(c)
	}
	if f.Conditions != "" {
		data, err := s.read(f.Conditions)
		if err != nil {
			return nil, err
		}
		more, faults := plant.ReadConditions(called(f.Conditions), data, p)
		if len(faults) > 0 {
			return nil, told(faults)
		}
		list = append(list, more...)
	}
	if faults := p.Conditions(list); len(faults) > 0 {
		return nil, told(faults)
	}
	return list, nil
}

func aDay(flag, text string) (calendar.Date, error) {
	d, err := calendar.ParseDate(text)
	if err != nil {
		return d, refuse("%s: %v", flag, err)
	}
	return d, nil
}

// underConditions says under which conditions the plan below is made.
func underConditions(pg *page, p *plant.Plant, list []solver.Condition) {
	if len(list) == 0 {
		return
	}
	pg.gap("You ask")
	for _, c := range list {
		pg.item("%s.", capital(solver.Say(p, c)))
	}
}

// anyway says what the conditions change even without the day that is asked about.
func anyway(pg *page, list []string) {
	if len(list) == 0 {
		return
	}
	pg.gap("Whatever day it is")
	for _, g := range list {
		pg.item("%s", g)
	}
}

// contradicted answers a question whose conditions no plan obeys; other errors are passed
// on.
func (s *session) contradicted(p *plant.Plant, conditions []solver.Condition, err error) (int, error) {
	var c *solver.Contradiction
	if !errors.As(err, &c) {
		return 0, err
	}
	pg := &page{}
	heading(pg, p)
	underConditions(pg, p, conditions)
	contradiction(pg, c)
	out := struct {
		Contradiction *wire.Contradiction `json:"contradiction"`
		Warnings      []wire.Warning      `json:"warnings"`
	}{wire.ToContradiction(p, c), s.warned()}
	return s.answer(false, out, pg)
}

// contradiction says why no plan obeys the conditions.
func contradiction(pg *page, c *solver.Contradiction) {
	pg.gap("")
	pg.say("Status: infeasible. Proven: no plan obeys every rule and every condition.")
	for _, s := range c.Sentences {
		pg.item("%s", s)
	}
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
