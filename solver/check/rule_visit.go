package check

import (
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// outcome returns what the stages of the plan make of a visit.
func (v *visit) outcome() string {
	switch {
	case v.row == nil:
		return plant.Broken
	case v.Booking.State == plant.Requested:
		return plant.Placed
	case v.row.firstDay() == v.Booking.Day:
		return plant.Kept
	}
	return plant.Moved
}

// frozen: a frozen visit stays on its day or is declared broken; it is never
// moved.
func frozen(h *hearing) {
	for _, v := range h.visits {
		if v.row != nil && v.row.running == nil && h.p.Frozen(v.Visit) && v.outcome() == plant.Moved {
			h.about(v.row, v.row.Start, "%s is frozen on %s and stands on %s. Put it back, or break it and say so.", h.visitName(v), onDay(v.Booking.Day), onDay(v.row.firstDay()))
		}
	}
}

// notice: a visit is not placed on, or moved to, a day nearer to now than the
// days of notice, unless that is its booked day.
func notice(h *hearing) {
	first := h.p.AsOf.Date() + calendar.Date(h.p.Buffer.NoticeDays)
	for _, v := range h.visits {
		if v.row == nil || v.row.running != nil || v.outcome() == plant.Kept || v.row.firstDay() >= first {
			continue
		}
		h.about(v.row, v.row.Start, "%s is newly on %s, with %s of notice; customers get %d, so not before %s. Choose a later day.",
			h.visitName(v), onDay(v.row.firstDay()), count(int(v.row.firstDay()-h.p.AsOf.Date()), "day"), h.p.Buffer.NoticeDays, onDay(first))
	}
}

// declared: every requested, tentative or confirmed visit has exactly one row,
// and its outcome, day and bay are what the stages say: kept on its booked day,
// moved to another, placed if it had none, broken if there is no stage.
func declared(h *hearing) {
	said := map[string][]plant.PlannedVisit{}
	for _, row := range h.plan.Visits {
		said[row.Visit] = append(said[row.Visit], row)
	}
	for _, v := range h.visits {
		rows := said[v.ID]
		delete(said, v.ID)
		switch {
		case len(rows) == 0:
			h.ofVisit(v.ID, v.Truck, "%s has no outcome in the plan. Declare it %s.", h.visitName(v), v.outcome())
			continue
		case len(rows) > 1:
			h.ofVisit(v.ID, v.Truck, "%s has %d outcomes in the plan. Leave one: %s.", h.visitName(v), len(rows), v.outcome())
			continue
		}
		want := plant.PlannedVisit{Visit: v.ID, Outcome: v.outcome(), Day: calendar.None}
		if v.row != nil {
			want.Day, want.Bay = v.row.firstDay(), v.row.Bay
		}
		if rows[0] != want {
			h.ofVisit(v.ID, v.Truck, "%s is declared %s; its stage says %s. Make the two agree.", h.visitName(v), h.sayOutcome(rows[0]), h.sayOutcome(want))
		}
	}
	for _, id := range sortedKeys(said) {
		h.ofVisit(id, "", "Visit %s has an outcome in the plan, but no such visit has still to take place. Take it out.", id)
	}
}

func (h *hearing) ofVisit(id, truck, format string, args ...any) {
	h.report(Violation{Truck: truck, Visit: id, At: calendar.NoMoment}, format, args...)
}

func (h *hearing) sayOutcome(v plant.PlannedVisit) string {
	s := v.Outcome
	if v.Day != calendar.None {
		s += " on " + onDay(v.Day)
	}
	if v.Bay != "" {
		s += " in " + h.bayName(v.Bay)
	}
	return s
}
