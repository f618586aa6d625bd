package solver

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// apart names the truck whose own rules are kept out of the problem, so that each
// of them can be given up: its order of work, its waits, and what rules starts out.
type apart struct{ truck string } // "": only crews and bays are kept apart

func (a *apart) has(t *plant.Truck) bool { return a != nil && a.truck != "" && a.truck == t.ID }

// rules are rules about one stage alone that a start breaks.
type rules uint16

const (
	byLineOff  rules = 1 << iota // before the truck has come off the line
	byWindow                     // outside the customer's windows
	byBlackout                   // the customer is away
	byHoliday                    // the customer's calendar is closed
	byNotice                     // nearer than the days of notice
	byTravel                     // not the day for which travel is bought
	byReady                      // too soon after a certificate in hand
	byWait                       // too soon or too long after a stage that is done
)

var eachRule = []rules{byLineOff, byWindow, byBlackout, byHoliday, byNotice, byTravel, byReady, byWait}

// looseMoves lists the starts of a stage that the calendar alone allows, and notes
// the rules that each of them breaks. Those that break none are the moves of a
// question with nothing kept apart, but for bays and crews.
func (q *question) looseMoves(w *work) (list []move, err error) {
	t, s, h := w.truck, w.stage, w.hours
	off := q.lineOff.LineOff(t.ID)
	var customer *calendar.Hours
	if w.visit != nil {
		if c := q.p.FindCustomer(t.Customer); c != nil && c.Calendar != "" {
			if customer, err = q.customer(c.Calendar); err != nil {
				return nil, err
			}
		}
	}
	for slot := h.Next(q.now); slot < q.grid.Slots(); slot = h.Next(slot + 1) {
		if len(s.StartIn) > 0 && !slices.Contains(s.StartIn, q.p.Parts[q.grid.Part(slot)].ID) {
			continue
		}
		m := move{start: h.First(slot), begin: slot, hold: slot}
		for range s.HoldBefore {
			m.hold = h.Prev(m.hold - 1)
		}
		if m.start < q.p.AsOf || m.hold < 0 || !w.ready() && q.past(h, m.hold) {
			continue
		}
		var ok bool
		if m.end, m.finish, ok = q.lasting(t, s, w.visit, h, slot, m.start); !ok {
			break
		}
		if q.crosses(w, m) || w.visit != nil && !q.onFloor(w, m) {
			continue
		}
		var broken rules
		if off != calendar.None && q.grid.Date(m.hold) <= off {
			broken |= byLineOff
		}
		if w.visit != nil {
			broken |= q.unfit(w, m, customer)
		}
		list = append(list, m)
		w.against = append(w.against, broken|q.afterward(w, m))
	}
	return list, nil
}

// onFloor reports whether the truck takes its place on the working day before its
// visit, or later.
func (q *question) onFloor(w *work, m move) bool {
	if w.stage.HoldBefore == 0 {
		return true
	}
	before, ok := q.house.PrevWorkDay(m.day())
	return ok && q.grid.Date(m.hold) >= before
}

// unfit lists the rules about visits that a move breaks.
func (q *question) unfit(w *work, m move, customer *calendar.Hours) (broken rules) {
	v := w.visit
	if q.p.Frozen(v) && m.day() != v.Booking.Day {
		broken |= byTravel
	}
	booked := v.Booking.State != plant.Requested && m.day() == v.Booking.Day
	if !booked && m.day() < q.p.AsOf.Date().AddDays(q.p.Buffer.NoticeDays) {
		broken |= byNotice
	}
	for s := m.begin; s <= m.finish; s++ {
		if d := q.grid.Date(s); w.hours.Work(s) > 0 && !slices.ContainsFunc(v.Windows, func(r plant.Range) bool { return r.Contains(d) }) {
			broken |= byWindow
		}
	}
	for d := m.day().AddDays(-v.TravelDays); d <= m.last().AddDays(v.TravelDays); d++ {
		if slices.ContainsFunc(v.Blackouts, func(r plant.Range) bool { return r.Contains(d) }) {
			broken |= byBlackout
		}
		if customer != nil {
			if _, closed := customer.Closed(d); closed {
				broken |= byHoliday
			}
		}
	}
	if !q.certified(w, m) {
		broken |= byReady
	}
	return broken
}

// afterward tells whether a move comes too soon or too long after a stage that is
// done.
func (q *question) afterward(w *work, m move) rules {
	for _, l := range q.links(w.truck, w.stage) {
		for _, d := range w.truck.Done {
			if d.Stage != l.stage.ID {
				continue
			}
			finish, ok := q.grid.At(d.Ended - 1)
			if !ok {
				finish = -1
			}
			if !q.reached(w, m, d.Ended, finish, l.after) || q.exceeded(w, m, d.Ended, l.after) {
				return byWait
			}
		}
	}
	return 0
}
