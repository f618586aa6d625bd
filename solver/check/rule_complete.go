package check

import "wetdown/calendar"

// complete: every open stage of every truck, and every wish of a visit that takes
// place, is in the plan exactly once, and nothing else is. A visit without a row
// is one that the plan breaks; whether it says so is the rule declared's to ask.
func complete(h *hearing) {
	for _, s := range h.strays {
		h.report(Violation{Truck: s.row.Truck, Stage: s.row.Stage, At: s.row.Start},
			"The row %s of truck %s, which starts on %s, is not asked for: %s. Take it out.", s.row.Stage, s.row.Truck, atTime(s.row.Start), s.why)
	}
	for _, d := range h.dockets {
		for i := range h.p.Route {
			s := &h.p.Route[i]
			if d.demands(s) && d.rows[s.ID] == nil {
				h.report(Violation{Truck: d.truck.ID, Stage: s.ID, At: calendar.NoMoment},
					"%s of truck %s is open and not in the plan. Plan it, or record that it is done.", named(s.Name, s.ID), d.truck.ID)
			}
			for _, id := range h.wishesOf(d, s) {
				if d.owes(s, id) && d.rows[id] == nil {
					h.report(Violation{Truck: d.truck.ID, Stage: id, Visit: d.visits[s.Visit].ID, At: calendar.NoMoment},
						"The row %s of truck %s is not in the plan, and the visit takes place. Plan it inside the visit, or take the wish from the visit.", id, d.truck.ID)
				}
			}
		}
	}
}
