package main

import (
	"errors"
	"fmt"
	"math"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

type quoteCmd struct {
	planFile
	oddsFlags
	Order string `required:"" placeholder:"FILE" help:"Order file: customer, truck, visit; - reads standard input."`
}

// Help says more than one line.
func (*quoteCmd) Help() string {
	return `The answer is the earliest delivery in a plan in which every visit keeps its day and no truck is delivered
later than its contract says, or than the plan in force says where that is later. Exit code 1: no day within
the horizon.

With a plan in force, the odds follow: the plant is simulated with the order in it, in the room that everybody
else leaves, by how long work takes and how late things come. A slip moves visits as it would then.

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
	// The odds first: they are soon there, and the search takes what time is left.
	odds, without, err := c.odds(s, w, p, order)
	var q *solver.QuoteResult
	if err == nil {
		w.set("looking for the earliest day")
		q, err = solver.Quote(s.ctx, order.With(p), solver.Order{Truck: order.Truck, Visit: order.Visit}, s.options(w))
	}
	w.stop()
	if errors.Is(err, plant.ErrNoSlot) {
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
	for _, line := range whyNot(q) {
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
	pg.gap("")
	if odds == nil {
		pg.say("%s", without)
	} else {
		oddsOf(pg, odds, order.Visit.Kind)
	}
	out := wire.QuoteWithOdds{Quote: wire.ToQuote(q), Odds: wire.ToQuoteOdds(odds)}
	out.Warnings = s.warned()
	return s.answer(q.Delivery != calendar.None, out, pg)
}

// whyNot says why there is no day, where that is known.
func whyNot(q *solver.QuoteResult) []string {
	if q.Status == plant.Unknown {
		return nil
	}
	return q.Sentences
}

// odds simulates the plant with the order in it. Without odds it says why.
func (c *quoteCmd) odds(s *session, w *watch, p *plant.Plant, order *plant.Order) (q *forecast.Quote, without string, err error) {
	o, err := c.oddsFlags.options(s, w, p, order.Truck)
	if err != nil {
		return nil, "", err
	}
	if c.Runs > 0 && p.Plan != nil {
		q, err = forecast.Quoted(s.ctx, order.With(p), order.Truck, order.Visit, o)
		if err == nil {
			return q, "", nil
		}
	}
	without, err = c.without(p, err)
	return nil, without, err
}

// oddsOf writes the odds of an order. kind is that of its visit, "" for none.
func oddsOf(pg *page, q *forecast.Quote, kind string) {
	pg.say("With chance: the day on or before which a step is done in so many of %s.", count(q.Runs, "simulated run"))
	pg.gap("")
	t := &table{heads: []string{"step", "earliest", "50%", "80%", "95%"}}
	add := func(step string, s forecast.Span) {
		t.add(step, onDay(s.Earliest), onDay(s.P50), onDay(s.P80), onDay(s.P95))
	}
	add("off the line", q.LineOff)
	if kind != "" {
		add("ready for the visit", q.Ready)
		add(spoken(kind)+" visit", q.Visit)
	}
	add("delivered", q.Delivery)
	pg.table(t)
	if late := q.Delivery.P95; late == calendar.None {
		pg.say("A dash stands for a day past those that are looked at.")
	}
	pg.gap("")
	if q.Window.From != calendar.None && q.Window.Through != calendar.None {
		window := onDay(q.Window.From) + " through " + onDay(q.Window.Through)
		if q.Window.From == q.Window.Through {
			window = onDay(q.Window.From)
		}
		pg.say("To tell the customer: %s (50 to 80%%). Where damages are asked for: %s (95%%).", window, onDay(q.Delivery.P95))
	}
	if q.Booked != calendar.None {
		outside := ""
		if q.Outside {
			outside = ", outside its windows, which have no day left"
		}
		pg.say("The visit is taken to be booked for %s%s, and is held on that day in %s.", onDay(q.Booked), outside, withError(q.Held))
	} else if kind != "" {
		pg.say("The visit finds no day among those that are looked at.")
	}
	variants(pg, q)
	drivers(pg, q)
	basis(pg, q.Basis)
}

// variants writes what would change the day.
func variants(pg *page, q *forecast.Quote) {
	if len(q.Earlier) == 0 {
		return
	}
	pg.gap(fmt.Sprintf("What would change the day, by the price list, in the same luck (%s)", count(q.Sampled, "run")))
	t := &table{heads: []string{"~what", ">days earlier", ">+-", "80%", ">cost", ">a day"}}
	for _, v := range q.Earlier {
		cost, day := "-", "-"
		if v.Dollars > 0 {
			cost = "$" + thousands(v.Dollars)
		}
		if v.PerDay > 0 {
			day = "$" + thousands(int64(math.Round(v.PerDay)))
		}
		t.add(v.Name, fmt.Sprintf("%.1f", v.Days), fmt.Sprintf("%.1f", v.Error), onDay(v.P80), cost, day)
	}
	pg.table(t)
	pg.say("Days are calendar days in the mean, with their standard error. Cost counts the Saturdays on which the order is worked on, in the mean, as if the price list reached so far ahead.")
}

// drivers writes what the uncertainty comes of.
func drivers(pg *page, q *forecast.Quote) {
	if len(q.Drivers) == 0 {
		return
	}
	pg.gap(fmt.Sprintf("What the uncertainty comes of (%s)", count(q.Sampled, "run")))
	t := &table{heads: []string{"~what", ">share"}}
	for _, d := range q.Drivers {
		t.add(d.Name, percent(d.Share))
	}
	pg.table(t)
	pg.say("A share is by how much the variance of the day of delivery falls when this alone goes as planned. Shares need not sum to 100%%.")
}
