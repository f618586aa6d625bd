package check

import (
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// customer: every day on which a visit works lies in one of the customer's
// windows; and no day from the first less the days of travel to the last plus the
// days of travel is a blackout or closed by the customer's calendar. Its weekly
// rest is no hindrance. One complaint each for windows, every blackout, and the
// calendar.
func customer(h *hearing) {
	for _, r := range h.rows {
		if r.visit == nil || r.wish != nil || r.running != nil || !r.sound {
			continue
		}
		h.inWindows(r)
		travel := calendar.Date(min(r.visit.TravelDays, maxHistory))
		from, through := r.firstDay()-travel, r.lastDay()+travel
		h.offBlackouts(r, from, through)
		h.offHolidays(r, from, through)
	}
}

// visitName names the visit of a row for people.
func (h *hearing) visitName(v *visit) string {
	name := "Visit " + v.ID + " to truck " + v.Truck
	if t := h.p.FindTruck(v.Truck); t != nil {
		if c := h.customers[t.Customer]; c != nil {
			name += " (" + named(c.Name, c.ID) + ")"
		}
	}
	return name
}

func (h *hearing) inWindows(r *row) {
	for d := r.firstDay(); d <= r.lastDay(); d++ {
		inside := slices.ContainsFunc(r.visit.Windows, func(w plant.Range) bool { return w.Contains(d) })
		if r.hours.WorksDay(d) && !inside {
			h.about(r, d.At(0), "%s lies on %s, when the customer cannot come. Choose a day in one of its windows, or ask for another.", h.visitName(r.visit), onDay(d))
			return
		}
	}
}

func (h *hearing) offBlackouts(r *row, from, through calendar.Date) {
	for _, b := range r.visit.Blackouts {
		day := max(b.From, from)
		if day > min(b.Through, through) {
			continue
		}
		h.about(r, day.At(0), "%s, with %s of travel on either side, takes up the days %s; the customer has ruled out %s. Choose another day.",
			h.visitName(r.visit), count(r.visit.TravelDays, "day"), during(from, through), onDay(day))
	}
}

func (h *hearing) offHolidays(r *row, from, through calendar.Date) {
	c := h.customers[r.docket.truck.Customer]
	if c == nil || h.hours[c.Calendar] == nil {
		return
	}
	for d := from; d <= through; d++ {
		if reason, closed := h.hours[c.Calendar].Closed(d); closed {
			h.about(r, d.At(0), "%s, with %s of travel on either side, takes up the days %s; the customer is closed on %s (%s). Choose another day.",
				h.visitName(r.visit), count(r.visit.TravelDays, "day"), during(from, through), onDay(d), reason)
			return
		}
	}
}
