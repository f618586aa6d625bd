package plant

import (
	"fmt"
	"slices"
	"strings"

	"wetdown/calendar"
)

// visits looks at each visit: its days, its booking, and that it has a stage.
func (q *inquiry) visits() {
	first := map[[2]string]string{} // by truck and kind
	for i := range q.p.Visits {
		v := &q.p.Visits[i]
		at := place{key("visits"), nth(i, v.ID)}
		for j, r := range v.Windows {
			q.span(r.From, r.Through, at.with(key("windows"), nth(j, r.From.String()))...)
		}
		for j, r := range v.Blackouts {
			q.span(r.From, r.Through, at.with(key("blackouts"), nth(j, r.From.String()))...)
		}
		q.booking(v, at)
		if !v.Planned() {
			continue
		}
		q.visitStage(v, at)
		k := [2]string{v.Truck, v.Kind}
		if f, again := first[k]; again {
			q.find(wrong{
				fmt.Sprintf("%s has two visits of the kind %s to come, %s and %s", v.Truck, v.Kind, f, v.ID),
				"one visit of a kind to come", "cancel one of them, or make a second visit a " + ReInspection,
			}, at.key("kind")...)
		} else {
			first[k] = v.ID
		}
	}
}

// visitStage looks whether the visit is a stage of its truck, and whether its
// wishes find room in it.
func (q *inquiry) visitStage(v *Visit, at place) {
	i, ok := q.known.at[aTruck][v.Truck]
	if !ok {
		return
	}
	j := slices.IndexFunc(q.p.Route, func(s Stage) bool { return s.Visit == v.Kind })
	if j < 0 {
		if slices.Contains(visitKinds, v.Kind) {
			q.find(wrong{"no stage of the route is a visit of the kind " + v.Kind, oneOf(q.visitKinds()), "add a stage with visit: " + v.Kind + " to the route, or correct the kind"}, at.key("kind")...)
		}
		return
	}
	s := &q.p.Route[j]
	if !q.facts[i].has(s.Needs) {
		q.find(wrong{
			fmt.Sprintf("%s is for trucks with %s, and %s does not have all of it", s.ID, strings.Join(s.Needs, ", "), v.Truck),
			"a visit that applies to the truck", "correct the kind of the visit, the truck, or needs of the stage",
		}, at.key("kind")...)
	}
	if q.facts[i].stage[j] == isDone {
		q.find(wrong{
			fmt.Sprintf("%s of %s is done, but %s is still %s", s.ID, v.Truck, v.ID, v.Booking.State),
			Held + ", " + Cancelled + " or " + NoShow, "write state: " + Held + ", or take the stage away from done",
		}, at.with(key("booking"), key("state"))...)
	}
	wishes := 0
	for _, id := range v.Wishes {
		if w, ok := q.known.at[aWish][id]; ok && q.facts[i].has(q.p.Wishes[w].Needs) {
			wishes++
		}
	}
	if wishes > v.Halves && v.Halves > 0 {
		q.find(wrong{
			fmt.Sprintf("%d wishes need a part of the day each, and the visit has %d", wishes, v.Halves),
			fmt.Sprintf("up to %d", v.Halves), "make the visit longer, or take a wish away",
		}, at.key("wishes")...)
	}
}

// visitKinds lists the kinds of visit that the route has.
func (q *inquiry) visitKinds() []string {
	var list []string
	for _, s := range q.p.Route {
		if s.Visit != "" {
			list = append(list, s.Visit)
		}
	}
	return list
}

// booking looks whether the state of the booking and what was agreed go together.
func (q *inquiry) booking(v *Visit, at place) {
	b, now := &v.Booking, q.p.AsOf.Date()
	at = at.key("booking")
	booked := b.State == Tentative || b.State == Confirmed
	past := now != calendar.None && b.Day != calendar.None && b.Day < now
	switch {
	case booked && b.Day == calendar.None:
		q.find(wrong{fmt.Sprintf("%s is %s for no day", v.ID, b.State), "a day YYYY-MM-DD", "write the day, or state: " + Requested}, at.key("day")...)
	case b.State == Requested && b.Day != calendar.None:
		q.find(wrong{fmt.Sprintf("%s is only requested, but has the day %v", v.ID, b.Day), "a requested visit has no day", "write state: " + Tentative + " or " + Confirmed + ", or take the day away"}, at.key("day")...)
	case booked && past && !q.underWay(v):
		q.find(wrong{
			fmt.Sprintf("%s is %s for %v, which is before as_of", v.ID, b.State, b.Day),
			"a day from " + now.String() + " on", "write state: " + Held + ", " + Cancelled + " or " + NoShow + ", or, if it is under way, its stage under running",
		}, at.key("day")...)
	}
	if b.HoldUntil != calendar.None {
		switch {
		case slices.Contains(bookingStates, b.State) && b.State != Tentative:
			q.find(wrong{fmt.Sprintf("%s is %s, but held until %v", v.ID, b.State, b.HoldUntil), "only a tentative day is held", "take hold_until away, or write state: " + Tentative}, at.key("hold_until")...)
		case now != calendar.None && b.HoldUntil < now:
			q.find(wrong{
				fmt.Sprintf("%s was held until %v, which is before as_of", v.ID, b.HoldUntil),
				"a day from " + now.String() + " on", "ask the customer; then hold it longer, confirm it, or write state: " + Requested,
			}, at.key("hold_until")...)
		}
	}
	if b.TravelBought && (b.State == Requested || b.State == Tentative) {
		q.find(wrong{fmt.Sprintf("the customer has bought travel for %s, which is only %s", v.ID, b.State), "travel is bought for a confirmed day", "write state: " + Confirmed + ", or take travel_bought away"}, at.key("travel_bought")...)
	}
}

// underWay reports whether the stage of the visit runs now.
func (q *inquiry) underWay(v *Visit) bool {
	i, ok := q.known.at[aTruck][v.Truck]
	if !ok {
		return false
	}
	for j := range q.p.Route {
		if q.p.Route[j].Visit == v.Kind && q.facts[i].stage[j] == isRunning {
			return true
		}
	}
	return false
}
