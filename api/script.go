package api

import (
	"cmp"
	"context"
	"fmt"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// A Script is the words for a call. Days stand in it as in the sentences of the planner
// (Thu 2027-04-08), times of day as 15:30.
type Script struct {
	Says  []string // what changed, to be said as it is
	Asks  []string // what to ask for
	Know  []string // for who calls, not to be said
	Moved string   // what the plan in force has by now, if it is not what is said; else ""
}

// Scripts writes the words for calls, one for each, by the plant as it is now. A call about
// a visit that is not safe needs the chances of the plant: while ctx leaves no time to work
// them out, it says what it is about and no more.
func (a *App) Scripts(ctx context.Context, who Actor, calls ...*Call) ([]Script, error) {
	s, err := a.State(context.WithoutCancel(ctx), who, 0)
	if err != nil {
		return nil, err
	}
	odds := map[string]*forecast.VisitOdds{} // by call
	for _, c := range calls {
		if c.Move != nil || c.Delivery != nil || c.Visit == "" {
			continue
		}
		if r, err := a.Readiness(ctx, who, false); err == nil {
			for _, u := range r.Unsafe {
				if odds[u.Call], err = r.Odds.For(u.Visit); err != nil {
					return nil, err
				}
			}
		}
		break
	}
	list := make([]Script, len(calls))
	for i, c := range calls {
		list[i] = scriptOf(c, s.Plant, odds[c.ID])
	}
	return list, nil
}

// Call returns one call with the words for it.
func (a *App) Call(ctx context.Context, who Actor, id string) (c *Call, s Script, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, s, err
	}
	if err := a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Call](tx, KindCall, id)
		c = e.call()
		return err
	}); err != nil {
		return nil, s, err
	}
	list, err := a.Scripts(ctx, who, c)
	if err != nil {
		return nil, s, err
	}
	return c, list[0], nil
}

// A writer writes the words for a call.
type writer struct {
	Script
	p *plant.Plant
}

func (w *writer) say(text string, a ...any)  { w.Says = append(w.Says, fmt.Sprintf(text, a...)) }
func (w *writer) ask(text string, a ...any)  { w.Asks = append(w.Asks, fmt.Sprintf(text, a...)) }
func (w *writer) know(text string, a ...any) { w.Know = append(w.Know, fmt.Sprintf(text, a...)) }

// scriptOf writes the words for a call; odds are those of its visit, nil for a call that is
// not about them.
func scriptOf(c *Call, p *plant.Plant, odds *forecast.VisitOdds) Script {
	w := &writer{p: p}
	if c.Move == nil && c.Delivery == nil {
		w.unsafe(c, odds)
		return w.Script
	}
	truck := "your truck " + c.Truck
	if t := p.FindTruck(c.Truck); t != nil {
		truck = "your " + spoken(t.Kind) + " " + t.ID
	}
	w.say("This is %s, about %s.", p.Name, truck)
	if c.Move != nil {
		w.visit(c)
		w.Moved = movedOn(p, p.FindVisit(c.Move.Visit), c.Move.To)
	}
	if d := c.Delivery; d != nil {
		w.delivery(d, c.Move == nil)
		if w.Moved == "" && p.Plan != nil {
			for _, x := range solver.Deliveries(p, p.Plan) {
				if x.Truck == c.Truck && x.Day != d.To.Day {
					w.Moved = "The plan in force now delivers it on " + onDay(x.Day) + "."
				}
			}
		}
	}
	return w.Script
}

// onDay writes a day with its weekday.
func onDay(d calendar.Date) string {
	if d == calendar.None {
		return "no day"
	}
	return d.Weekday().String()[:3] + " " + d.String()
}

// span is when a visit is held.
func span(day calendar.Date, h *Held) string {
	if h == nil || h.Start.Date() != day {
		return onDay(day)
	}
	end := ((h.End - 1).Clock() + 1).String()
	if last := (h.End - 1).Date(); last != day {
		end = onDay(last) + " " + end
	}
	return onDay(day) + ", " + h.Start.Clock().String() + " to " + end
}

// Apart says how many calendar days lie between two days.
func Apart(from, to calendar.Date) string {
	switch n := int(to - from); {
	case n > 0:
		return count(n, "calendar day") + " later"
	case n < 0:
		return count(-n, "calendar day") + " earlier"
	}
	return "the same day"
}

// people is a delegation in words.
func people(n int) string {
	if n == 1 {
		return "1 person"
	}
	return fmt.Sprintf("%d people", n)
}

// unsafe writes the words for a call about a visit that was promised and is not safe, or that
// was kept before there were words for its sort.
func (w *writer) unsafe(c *Call, odds *forecast.VisitOdds) {
	visit, t := w.p.FindVisit(c.Visit), w.p.FindTruck(c.Truck)
	if visit == nil || t == nil || odds == nil {
		w.say("%s", c.About)
		return
	}
	w.say("This is %s, about your %s %s.", w.p.Name, spoken(t.Kind), t.ID)
	w.say("We hold %s for the %s. We cannot be sure that the truck is ready for you by then.", onDay(odds.Day), spoken(visit.Kind))
	if odds.SafeFrom != calendar.None {
		w.ask("Could your %s come on %s or later?", people(c.Heads), onDay(odds.SafeFrom))
	} else {
		w.ask("Could your %s come on a later day?", people(c.Heads))
	}
	if w.p.Frozen(visit) {
		w.ask("What would another day mean for the travel that you have bought?")
	} else {
		w.ask("Please buy no travel yet.")
	}
	w.know("%s", c.About)
	w.know("See first whether the truck can be brought forward.")
}

// visit says what becomes of a visit, and what is asked.
func (w *writer) visit(c *Call) {
	m := c.Move
	visit := spoken(m.Kind)
	before := m.Booked
	if before == calendar.None {
		before = m.From
	}
	was := "had agreed on"
	if m.State == plant.Tentative {
		was = "were holding"
	}
	switch {
	case m.To == calendar.None && before == calendar.None:
		w.say("You asked for a day for the %s. On none of the days that you named can we have the truck ready.", visit)
	case m.To == calendar.None:
		w.say("We %s %s for the %s. We cannot keep that day, and we are sorry.", was, span(before, c.Was), visit)
	case m.To == m.Booked:
		w.say("The %s stays on %s, the day that we %s. Any other day that you have heard of does not count.", visit, span(m.To, c.Is), was)
	case before == calendar.None:
		w.say("For the %s we can now have %s.", visit, span(m.To, c.Is))
	default:
		w.say("We %s %s for the %s. We cannot keep that day, and we are sorry.", was, span(before, c.Was), visit)
		w.say("The truck will be ready for you on %s: %s.", span(m.To, c.Is), Apart(before, m.To))
	}
	switch {
	case m.To == calendar.None:
		w.ask("On which other days can your %s come?", people(m.Heads))
		if m.Frozen {
			w.ask("What would another day mean for the travel that you have bought?")
		}
	case m.To == m.Booked:
		w.ask("Is it still right for your %s?", people(m.Heads))
	default:
		w.ask("Can your %s come on %s?", people(m.Heads), onDay(m.To))
		w.ask("Please buy no travel for %s.", onDay(before))
		if m.Frozen {
			w.ask("What would the new day mean for the travel that you have bought?")
		}
	}
	if m.Frozen {
		w.know("Travel is bought. Note what changing it would cost them: the manager decides what the plant pays.")
	}
	if before != m.From && m.From != calendar.None && before != calendar.None {
		w.know("The plan before had %s already, which they may not have been told.", onDay(m.From))
	}
	if m.To != calendar.None && m.Bay != "" {
		bay := m.Bay
		if b := w.p.FindBay(bay); b != nil {
			bay = cmp.Or(b.Name, b.ID)
		}
		w.know("The truck stands at %s.", bay)
	}
}

// delivery says what becomes of a delivery.
func (w *writer) delivery(d *solver.DeliveryMove, alone bool) {
	switch {
	case d.To.Day == calendar.None:
		w.say("We cannot name the day of delivery any more, and we are sorry. We call again when we can.")
	case d.From.Day == calendar.None || d.From.Day == d.To.Day:
		w.say("We now plan to deliver it on %s.", onDay(d.To.Day))
	default:
		w.say("We planned to deliver it on %s. It will be %s: %s, and %s after the day of your contract, %s.", onDay(d.From.Day), onDay(d.To.Day), Apart(d.From.Day, d.To.Day), count(d.To.Late, "calendar day"), onDay(d.Due))
	}
	if alone {
		w.ask("Can you take it over on that day, and who will be there?")
		w.ask("Does anything of yours hang on the day of the contract, such as a grant or a truck that goes out of service?")
	}
	if d.To.Damages > 0 {
		w.know("By the contract the delay costs the plant %s (%s in the plan before).", solver.Dollars(d.To.Damages), solver.Dollars(d.From.Damages))
	}
	if d.To.Missed {
		w.know("The hard deadline, %s, is missed: tell the manager what they say about it.", onDay(d.To.Deadline))
	}
}

// movedOn says what the plan in force has for a visit, if it is not the day of the call.
func movedOn(p *plant.Plant, x *plant.Visit, to calendar.Date) string {
	switch {
	case x == nil:
		return "The visit is no longer in the plant."
	case !x.Planned():
		return "The visit is " + spoken(x.Booking.State) + "."
	case x.Booking.Day == to && to != calendar.None:
		return "The new day is booked already."
	case p.Plan == nil:
		return "There is no plan in force any more."
	}
	switch day := p.Plan.Day(x.ID); day {
	case to:
		return ""
	case calendar.None:
		return "The plan in force now has no day for the visit."
	default:
		return "The plan in force now has the visit on " + onDay(day) + "."
	}
}
