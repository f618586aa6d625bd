package solver

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// relaxed is a plant in which nothing stands against the visit of a truck on a day but
// what the reasons name, all of them but one. Everything else that could is given up in the plant
// itself: other visits are cancelled, bays and crews are there in plenty, the truck is
// off the line and its customer always free. It returns nil for reasons that a plant
// file cannot take back one by one. What each says is taken from its fields, and the
// plant from the file alone.
func relaxed(t *testing.T, p *plant.Plant, visit string, day calendar.Date, reasons []Reason, but int) *plant.Plant {
	t.Helper()
	var of []Reason
	kinds := map[string]int{}
	for n, r := range reasons {
		if n != but {
			of = append(of, r)
			kinds[r.Kind]++
		}
	}
	has := func(kind string, is func(Reason) bool) bool {
		return slices.ContainsFunc(of, func(r Reason) bool { return r.Kind == kind && is(r) })
	}
	any := func(Reason) bool { return true }
	line, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	q := copied(t, p)
	q.Plan = nil
	own := q.FindTruck(q.FindVisit(visit).Truck)
	last := q.Horizon.Through
	always := plant.Calendar{ID: "always"}
	for d := range always.Rules.Week {
		always.Rules.Week[d] = []calendar.Shift{{Span: calendar.Span{From: 0, To: 24 * 60}}}
	}
	q.Calendars = append(q.Calendars, always)
	for i := range q.Visits {
		v := &q.Visits[i]
		promise := func(r Reason) bool { return r.Visit == v.ID && r.Kind == ReasonPromise }
		switch {
		case v.ID == visit || !v.Planned() || slices.ContainsFunc(q.FindTruck(v.Truck).Running, func(r plant.Running) bool { return q.FindStage(r.Stage).Visit == v.Kind }):
		case !slices.ContainsFunc(of, promise):
			v.Booking = plant.Booking{State: plant.Cancelled, Day: calendar.None, HoldUntil: calendar.None}
		case v.Booking.State == plant.Confirmed:
			out := slices.IndexFunc(p.Plan.Visits, func(o plant.PlannedVisit) bool { return o.Visit == v.ID })
			freeze(v, p.Plan.Visits[out].Day)
		}
	}
	for i := range q.Trucks {
		truck := &q.Trucks[i]
		truck.Contract.Deadline = calendar.None
		for _, r := range of {
			if r.Kind == ReasonPromise && r.Visit == "" && r.Truck == truck.ID {
				truck.Contract.Deadline = r.Through
			}
		}
		if off := line.LineOff(truck.ID); off != calendar.None { // nobody's day moves with another's
			truck.Line.Overrides = []plant.Override{{On: q.AsOf.Date(), Off: off, By: "test", Reason: "test"}}
		}
		truck.Running = slices.DeleteFunc(truck.Running, func(r plant.Running) bool {
			if has(ReasonRunning, func(x Reason) bool { return x.Truck == truck.ID && x.Stage == r.Stage }) {
				return false
			}
			truck.Done = append(truck.Done, plant.Done{Stage: r.Stage, Ended: r.Started})
			return true
		})
	}
	for i := range q.Crews {
		c := &q.Crews[i]
		if !has(ReasonCrew, func(r Reason) bool { return r.Crew == c.ID }) {
			c.Size, c.Days, c.Calendar = 99, nil, always.ID
		}
	}
	// Bays. A kind that no reason speaks of is there in plenty. Of one that a reason
	// speaks of, so are the bays that it does not name.
	full := map[string]bool{}
	for _, r := range of {
		if r.Kind == ReasonBay {
			for _, id := range r.Bays {
				if full[id] {
					return nil // two sets that share a bay
				}
				full[id] = true
			}
		}
	}
	unfit := has(ReasonUnfit, any)
	if !unfit {
		own.LengthFt, own.HeightFt, own.FlowGPM = 1, 1, min(own.FlowGPM, 1)
	}
	var plenty []plant.Bay
	for i := range q.Bays {
		b := &q.Bays[i]
		if !has(ReasonClosed, func(r Reason) bool { return slices.Contains(r.Bays, b.ID) }) {
			b.Closures = nil
		}
		if full[b.ID] {
			continue
		}
		kept := unfit && slices.ContainsFunc(reasons, func(r Reason) bool { return r.Kind == ReasonUnfit && slices.Contains(r.Bays, b.ID) })
		if !kept {
			b.MaxLengthFt, b.MaxHeightFt, b.MaxFlowGPM = 0, 0, 0
		}
		for n := range len(q.Trucks) {
			twin := *b
			twin.ID = fmt.Sprintf("%s-%d", b.ID, n)
			plenty = append(plenty, twin)
		}
	}
	for i := range q.Bays {
		if b := &q.Bays[i]; full[b.ID] && len(full) > 1 { // smaller sets than the one named count no more
			b.MaxLengthFt, b.MaxHeightFt, b.MaxFlowGPM = 0, 0, 0
		}
	}
	q.Bays = append(q.Bays, plenty...)
	v := q.FindVisit(visit)
	if kinds[ReasonNotice]+kinds[ReasonTravel] > 0 {
		return nil
	}
	freeze(v, day)
	if !has(ReasonCustomer, func(r Reason) bool { return len(r.Sentence) > 0 }) {
		v.Windows, v.Blackouts = []plant.Range{{From: q.AsOf.Date(), Through: last}}, nil
		c := *q.FindCustomer(own.Customer)
		c.ID, c.Calendar = "own", ""
		q.Customers = append(q.Customers, c)
		own.Customer = c.ID
	}
	if !has(ReasonWish, any) {
		v.Wishes = nil
	}
	if !has(ReasonLineOff, any) {
		own.Line = plant.Place{Since: calendar.None, Enters: calendar.None, Off: q.AsOf.Date() - 1}
	}
	if !has(ReasonBuffer, any) {
		own.Ready = plant.Ready{Approver: "test"}
	}
	others := slices.ContainsFunc(reasons, func(r Reason) bool { return r.Kind == ReasonPromise && r.Truck != own.ID })
	for i := range q.Route {
		for k := range q.Route[i].After {
			a := &q.Route[i].After[k]
			wait := func(r Reason) bool { return r.Kind == ReasonWait && r.Stage == q.Route[i].ID }
			if !slices.ContainsFunc(of, wait) && (slices.ContainsFunc(reasons, wait) || !others) {
				*a = plant.After{Stage: a.Stage}
			}
		}
		order := slices.ContainsFunc(reasons, func(r Reason) bool { return r.Kind == ReasonOrder })
		if !has(ReasonOrder, any) && (order || !others) { // else the order of the others' work stands
			q.Route[i].After = nil
		}
	}
	return q
}

// TestWhy_Reasons takes reasons at their word: it changes the plant so that nothing is
// left of what is not named, and plans it. With all of the reasons the day must be
// impossible, and without any one of them possible.
func TestWhy_Reasons(t *testing.T) {
	sets, single, skipped, checked := 0, 0, 0, map[string]int{}
	for _, o := range asked[:3] {
		p := inForce(t, o)
		for i := range p.Trucks[:4] {
			s, err := newSitting(p).explained(context.Background(), p.Trucks[i].ID)
			if err != nil {
				continue
			}
			for n, day := 0, p.AsOf.Date(); day <= p.AsOf.Date()+70 && n < 4; day += 3 {
				x, err := s.why(context.Background(), day)
				if err != nil {
					continue
				}
				if x.Possible || x.Grounds[0].Kind == ReasonCalendar {
					continue
				}
				if len(x.Grounds) == 1 {
					if single++; single%6 != 0 {
						continue
					}
				}
				n++
				all := relaxed(t, p, x.Visit, day, x.Grounds, -1)
				if all == nil {
					skipped++
					continue
				}
				sets++
				if kept(t, all, 1<<40) {
					t.Errorf("%+v, %s, %s: possible in a plant with nothing against it but %q", o, x.Truck, say(day), x.Reasons)
				}
				for k, r := range x.Grounds {
					checked[r.Kind]++
					less := relaxed(t, p, x.Visit, day, x.Grounds, k)
					if less != nil && !kept(t, less, 1<<40) {
						t.Errorf("%+v, %s, %s: impossible even without %q of %q", o, x.Truck, say(day), r.Sentence, x.Reasons)
					}
				}
			}
		}
	}
	t.Log(sets, "sets of reasons,", skipped, "left out; reasons by kind:", checked)
	if sets < 20 || len(checked) < 4 {
		t.Error("this tests too little")
	}
}
