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

type offersCmd struct {
	planFile
	conditionFlags
	dayRepairFlags
	Truck  string `required:"" placeholder:"ID" help:"Shop order number of the truck."`
	Prices bool   `help:"Also work out what each refused day would cost. It takes a planning a day."`
}

// Help says more than one line.
func (*offersCmd) Help() string {
	return `A day is offered if a plan exists in which every other confirmed visit keeps its day, every other visit is
held, damages do not grow in all, and no hard deadline is newly missed. Slips recorded in the file have
happened. What you insist on (--keep and the others) is obeyed as well. Exit code 1: no day can be offered.`
}

// refusedDays are the days that were decided against.
func refusedDays(list *solver.OfferList) (days []calendar.Date) {
	for _, r := range list.Refused {
		if r.Decided {
			days = append(days, r.Day)
		}
	}
	return days
}

func (c *offersCmd) run(s *session) (int, error) {
	p, err := s.about(c.File, c.Truck)
	if err != nil {
		return 0, err
	}
	conditions, err := c.conditions(s, p)
	if err != nil {
		return 0, err
	}
	w := s.watch("deciding the days")
	o := s.options(w)
	o.Prices, o.Conditions = c.Prices, conditions
	list, err := solver.Offers(s.ctx, p, c.Truck, o)
	w.stop()
	if err != nil {
		return s.contradicted(p, conditions, refuseVisit(err))
	}
	pg := &page{}
	c.page(pg, p, list, conditions)
	out := wire.ToOffers(p, list, conditions)
	out.Warnings = s.warned()
	if out.Repairs, _, err = c.dayRepairFlags.days(pg, s, p, c.Truck, refusedDays(list), conditions); err != nil {
		return 0, err
	}
	return s.answer(len(list.Offers) > 0, out, pg)
}

func (c *offersCmd) page(pg *page, p *plant.Plant, list *solver.OfferList, conditions []solver.Condition) {
	heading(pg, p)
	asked(pg, p, list.Visit)
	underConditions(pg, p, conditions)
	anyway(pg, list.Given)
	pg.gap(fmt.Sprintf("Days that can be offered: %d", len(list.Offers)))
	if len(list.Offers) == 0 {
		pg.say("None. See the reasons below; wetdown why tells what would make a day possible.")
	}
	t := &table{heads: []string{"day", "position", "note"}}
	for _, o := range list.Offers {
		note := ""
		if o.Kept {
			note = "the day it is booked for"
		}
		if len(o.Trades) > 0 {
			note = strings.TrimPrefix(note+"; others trade damages, see below", "; ")
		}
		t.add(onDay(o.Day), blank(o.Bay), note)
	}
	pg.table(t)
	trades(pg, list)
	if len(list.Refused) == 0 {
		return
	}
	pg.gap("Days that cannot, and why")
	for _, r := range list.Refused {
		text := strings.TrimSuffix(r.Reason, ".") + "."
		if price := prices(r.Costs); price != "" {
			text += " " + price
		} else if c.Prices && r.Decided {
			text += " No price buys this day."
		}
		pg.item("%s: %s", onDay(r.Day), text)
	}
	if list.Status != plant.Optimal {
		pg.say("Not every day was decided in the time given: give more with --limit.")
	}
}

// trades says who pays for the days on which somebody does.
func trades(pg *page, list *solver.OfferList) {
	first := true
	for _, o := range list.Offers {
		if len(o.Trades) == 0 {
			continue
		}
		if first {
			pg.gap("Days on which damages do not grow in all, but for somebody")
			first = false
		}
		pg.item("%s: %s", onDay(o.Day), solver.TradeSentence(o.Trades))
	}
}

// prices says what a day would cost over what stands.
func prices(costs []plant.TierValue) string {
	var list []string
	for _, t := range costs {
		if t.Value > t.Bound {
			list = append(list, fmt.Sprintf("%s +%s", t.Name, thousands(t.Value-t.Bound)))
		}
	}
	if len(list) == 0 {
		return ""
	}
	return "It would cost: " + listed(list) + "."
}

// asked says which visit the answer is about.
func asked(pg *page, p *plant.Plant, id string) {
	v := p.FindVisit(id)
	if v == nil {
		return
	}
	t := p.FindTruck(v.Truck)
	who := ""
	if c := p.FindCustomer(t.Customer); c != nil {
		who = c.Name + ", "
	}
	booked := v.Booking.State
	if p.Frozen(v) {
		booked = "frozen"
	}
	if v.Booking.Day != calendar.None {
		booked += " on " + onDay(v.Booking.Day)
	}
	pg.say("Visit %s, %s of %s: %s%s, %s.", v.ID, spoken(v.Kind), v.Truck, who, people(v.Heads), booked)
}

// about loads the plant for a question about one truck.
func (s *session) about(file, truck string) (*plant.Plant, error) {
	if err := canWrite(s.Out); err != nil {
		return nil, err
	}
	p, _, err := s.loadNow(file)
	if err != nil {
		return nil, err
	}
	_, err = findTruck(p, truck)
	return p, err
}

// refuseVisit makes a refusal of a question that the file cannot answer.
func refuseVisit(err error) error {
	var n *solver.NoVisit
	if errors.As(err, &n) {
		return refuse("%v", n)
	}
	return err
}
