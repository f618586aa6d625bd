package main

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

type offersCmd struct {
	planFile
	conditionFlags
	dayRepairFlags
	oddsFlags
	Truck  string `placeholder:"ID" help:"Shop order number of the truck. Without it: how likely every visit and delivery of the plan in force is."`
	By     string `enum:"day,chance" default:"day" help:"Order of the days on offer: by day, or by chance: those that are safe first (80% or more), then those on weekdays that the customer prefers, then the likelier, then the earlier."`
	Prices bool   `help:"Also work out what each refused day would cost. It takes a planning a day."`
}

// Help says more than one line.
func (*offersCmd) Help() string {
	return `A day is offered if a plan exists in which every other confirmed visit keeps its day, every other visit is
held, damages do not grow in all, and no hard deadline is newly missed. Slips recorded in the file have
happened. What you insist on (--keep and the others) is obeyed as well. Exit code 1: no day can be offered.

With a plan in force each day has the chance that the truck is ready for it: all certificates in hand with the
buffer before it, all other work before it done, if the truck is worked on as soon as there is room beside the
plan. Without --truck, the chances are those of the plan as it stands; exit code 1: some promised visit has less
than 80%.`
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
	if c.Truck == "" {
		return c.all(s)
	}
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
	var days *forecast.Days
	without := ""
	if err == nil {
		days, without, err = c.days(s, w, p, list.Visit)
	}
	w.stop()
	if err != nil {
		return s.contradicted(p, conditions, refuseVisit(err))
	}
	chances := c.arrange(p, list, days)
	pg := &page{}
	c.page(pg, p, list, days, chances, conditions)
	if days != nil {
		basis(pg, days.Basis)
	} else {
		pg.gap("")
		pg.say("%s", without)
	}
	out := wire.OffersWithChances{Offers: wire.ToOffers(p, list, conditions)}
	out.Chances = wire.ToDayChances(out.Offers, days, chances)
	out.Warnings = s.warned()
	if out.Repairs, _, err = c.dayRepairFlags.days(pg, s, p, c.Truck, refusedDays(list), conditions); err != nil {
		return 0, err
	}
	return s.answer(len(list.Offers) > 0, out, pg)
}

// days simulates the plant for the visit. Without chances it says why.
func (c *offersCmd) days(s *session, w *watch, p *plant.Plant, visit string) (d *forecast.Days, without string, err error) {
	o, err := c.oddsFlags.options(s, w, p)
	if err != nil {
		return nil, "", err
	}
	if c.Runs > 0 && p.Plan != nil {
		if d, err = forecast.Visiting(s.ctx, p, visit, o); err == nil {
			return d, "", nil
		}
	}
	without, err = c.without(p, err)
	return nil, without, err
}

// arrange puts the days on offer in the order asked for, and returns their chances; none without
// days.
func (c *offersCmd) arrange(p *plant.Plant, list *solver.OfferList, days *forecast.Days) (chances []forecast.Chance) {
	if days == nil {
		return nil
	}
	if v := p.FindVisit(list.Visit); c.By == "chance" && v != nil {
		rank := func(o solver.Offer) (safe, preferred int, share float64) {
			share = days.On(o.Day).Share
			if share >= forecast.SafeShare {
				safe = 1
			}
			if slices.Contains(v.Weekdays, o.Day.Weekday()) {
				preferred = 1
			}
			return safe, preferred, share
		}
		slices.SortStableFunc(list.Offers, func(a, b solver.Offer) int {
			safeA, preferredA, shareA := rank(a)
			safeB, preferredB, shareB := rank(b)
			return cmp.Or(safeB-safeA, preferredB-preferredA, cmp.Compare(shareB, shareA), cmp.Compare(a.Day, b.Day))
		})
	}
	for _, o := range list.Offers {
		chances = append(chances, days.On(o.Day))
	}
	return chances
}

// all tells how likely every visit and delivery is under the plan in force.
func (c *offersCmd) all(s *session) (int, error) {
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	p, _, err := s.loadNow(c.File)
	if err != nil {
		return 0, err
	}
	if c.Runs == 0 {
		return 0, refuse("--runs 0 leaves nothing to tell without --truck: give a number of runs, or a truck")
	}
	w := s.watch("chances")
	o, err := c.oddsFlags.options(s, w, p)
	var odds *forecast.Odds
	if err == nil {
		odds, err = forecast.Readiness(s.ctx, p, o)
	}
	w.stop()
	if err != nil {
		text, err := c.without(p, err)
		if err == nil {
			err = refuse("%s", text)
		}
		return 0, err
	}
	pg := &page{}
	heading(pg, p)
	safe := readiness(pg, p, odds)
	basis(pg, odds.Basis)
	out := wire.ToReadiness(odds)
	out.Warnings = s.warned()
	return s.answer(safe, out, pg)
}

// readiness writes the odds of visits and deliveries. It reports whether all that is promised
// is safe.
func readiness(pg *page, p *plant.Plant, odds *forecast.Odds) (safe bool) {
	safe = true
	pg.gap("Visits, and how likely they are")
	t := &table{heads: []string{"visit", "truck", "state", "day", ">certified", ">ready", ">held", "80% from", "note"}}
	for _, v := range odds.Visits {
		note := ""
		if v.Unsafe {
			safe, note = false, "not safe"
		}
		state := v.State
		if x := p.FindVisit(v.Visit); x != nil && p.Frozen(x) {
			state = "frozen"
		}
		t.add(v.Visit, v.Truck, state, onDay(v.Day), percent(v.Certified.Share), percent(v.Ready.Share), percent(v.Held.Share), onDay(v.SafeFrom), note)
	}
	pg.table(t)
	pg.say("Certified: all certificates in hand with the buffer before the day. Ready: all other work before it done as well. Held: the visit takes place on that day. Not safe: promised, and ready with less than 80%%.")
	pg.gap("Deliveries, and how likely they are")
	t = &table{heads: []string{"truck", "planned", "50%", "80%", "95%", "contract", ">in time"}}
	for _, d := range odds.Deliveries {
		t.add(d.Truck, onDay(d.Planned), onDay(d.P50), onDay(d.P80), onDay(d.P95), onDay(d.Due), percent(d.OnTime.Share))
	}
	pg.table(t)
	most := 0.0
	for _, v := range odds.Visits {
		most = max(most, v.Certified.Error, v.Ready.Error, v.Held.Error)
	}
	for _, d := range odds.Deliveries {
		most = max(most, d.OnTime.Error)
	}
	pg.say("Standard errors of these shares, from the number of runs: %.1f%% at the most.", 100*most)
	return safe
}

func (c *offersCmd) page(pg *page, p *plant.Plant, list *solver.OfferList, days *forecast.Days, chances []forecast.Chance, conditions []solver.Condition) {
	heading(pg, p)
	asked(pg, p, list.Visit)
	underConditions(pg, p, conditions)
	anyway(pg, list.Given)
	pg.gap(fmt.Sprintf("Days that can be offered: %d", len(list.Offers)))
	if len(list.Offers) == 0 {
		pg.say("None. See the reasons below; wetdown why tells what would make a day possible.")
	}
	t := &table{heads: []string{"day", "position", "note"}}
	if days != nil {
		t.heads = slices.Insert(t.heads, 0, ">ready")
	}
	for i, o := range list.Offers {
		note := ""
		if o.Kept {
			note = "the day it is booked for"
		}
		if len(o.Trades) > 0 {
			note = strings.TrimPrefix(note+"; others trade damages, see below", "; ")
		}
		cells := []string{onDay(o.Day), blank(o.Bay), note}
		if days != nil {
			cells = slices.Insert(cells, 0, percent(chances[i].Share))
		}
		t.add(cells...)
	}
	pg.table(t)
	c.explain(pg, days, chances)
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

// explain says what the chances mean, and in which order the days stand.
func (c *offersCmd) explain(pg *page, days *forecast.Days, chances []forecast.Chance) {
	if days == nil || len(chances) == 0 {
		return
	}
	order := "Days stand in their order; --by chance puts the safe ones first."
	if c.By == "chance" {
		order = "First the days that are safe (80% or more), then those on preferred weekdays, then the likelier, then the earlier."
	}
	most := 0.0
	for _, x := range chances {
		most = max(most, x.Error)
	}
	safe := "Within the days that are looked at it does not reach 80%."
	if days.SafeFrom != calendar.None {
		safe = "It reaches 80% on " + onDay(days.SafeFrom) + "."
	}
	pg.say("Ready: the chance that certificates, buffer and all work before the visit are done (standard error %.1f%% at the most). %s %s", 100*most, safe, order)
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
