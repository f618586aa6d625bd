package main

import (
	"errors"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/plant"
)

type quoteCmd struct {
	planFile
	Order string `required:"" placeholder:"FILE" help:"Order file: customer, truck, visit; - reads standard input."`
}

// Help says more than one line.
func (*quoteCmd) Help() string {
	return `The answer is the earliest delivery in a plan in which every visit keeps its day and no truck is delivered
later than its contract says, or than the plan in force says where that is later. Exit code 1: no day within
the horizon.

An order file:

  wetdown: 1
  truck: {customer: C001, kind: pumper, content: medium, length_ft: 32, height_ft: 10, flow_gpm: 1500}
  visit: {heads: 3, halves: 2}`
}

func (c *quoteCmd) run(s *session) (int, error) {
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	if c.File == "-" && c.Order == "-" {
		return 0, refuse("only one of plant file and order file can come from standard input: name the other")
	}
	p, _, err := s.loadNow(c.File)
	if err != nil {
		return 0, err
	}
	data, err := s.read(c.Order)
	if err != nil {
		return 0, err
	}
	order, faults := plant.ReadOrder(called(c.Order), data, p)
	if len(faults) > 0 {
		return 0, told(faults)
	}
	s.warn(order.Warnings(p, called(c.Order), data))
	w := s.watch("looking for the earliest day")
	q, err := solver.Quote(s.ctx, order.With(p), solver.Order{Truck: order.Truck, Visit: order.Visit}, s.options(w))
	w.stop()
	if errors.Is(err, solver.ErrNoSlot) {
		return 0, refuse("%v", err)
	}
	if err != nil {
		return 0, refuseVisit(err)
	}
	pg := &page{}
	heading(pg, p)
	t := &order.Truck
	pg.say("A would-be order: %s, %s work content, for %s.", t.Kind, t.Content, t.Customer)
	pg.gap("")
	switch q.Status {
	case plant.Optimal:
		pg.say("Status: optimal. It can be delivered on %s, and on no earlier day while every promise is kept: proven.", onDay(q.Delivery))
	case plant.Feasible:
		pg.say("Status: feasible. It can be delivered on %s; no day before %s is possible. Give more time with --limit to find an earlier one or prove this one.", onDay(q.Delivery), onDay(q.Bound))
	case plant.Infeasible:
		pg.say("Status: infeasible. No day within the horizon is possible while every promise is kept: proven.")
	default:
		pg.say("Status: unknown. No day was found in the time given: give more with --limit.")
	}
	for _, line := range q.Sentences {
		pg.item("%s", line)
	}
	if q.Delivery != calendar.None {
		d := &table{heads: []string{"step", "day"}}
		d.add("off the line", onDay(q.LineOff))
		if order.Visit.ID != "" {
			visit := onDay(q.Visit)
			if q.Visit == calendar.None {
				visit = "on no day"
			}
			d.add(spoken(order.Visit.Kind)+" visit", visit)
		}
		d.add("delivered", onDay(q.Delivery))
		pg.gap("")
		pg.table(d)
	}
	out := wire.ToQuote(q)
	out.Warnings = s.warned()
	return s.answer(q.Delivery != calendar.None, out, pg)
}
