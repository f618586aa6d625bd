package check

import (
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// floor: a truck takes the floor on the plant's working day before the visit or
// later.
func floor(h *hearing) {
	for _, r := range h.rows {
		if r.visit == nil || r.wish != nil || r.running != nil || !r.sound {
			continue
		}
		day, ok := h.hours[h.p.Calendar].PrevWorkDay(r.firstDay())
		if ok && r.Hold.Date() < day {
			h.about(r, r.Hold, "%s starts on %s and its truck takes the floor on %s; it may not before the working day before, %s. Take it later.",
				h.visitName(r.visit), onDay(r.firstDay()), onDay(r.Hold.Date()), onDay(day))
		}
	}
}

// readiness: between the day of the last certificate and the first day of a final
// inspection lie at least the full working days of the readiness buffer, by the
// plant's calendar, strictly between. Certificates are the ends of all certifying
// stages that come before the visit in the route, however far.
func readiness(h *hearing) {
	for _, r := range h.rows {
		if r.visit == nil || r.visit.Kind != plant.FinalInspection || r.wish != nil || r.running != nil || !r.sound {
			continue
		}
		last, stage := h.lastCertificate(r)
		if stage == nil {
			continue
		}
		days := h.hours[h.p.Calendar].WorkDaysBetween(last, r.firstDay())
		if least := h.p.ReadyWorkDays(r.docket.truck); days < least {
			h.about(r, r.Start, "%s starts on %s, with %s between it and the last certificate, %s, on %s; at least %d must lie between. Visit later, or certify earlier.",
				h.visitName(r.visit), onDay(r.firstDay()), count(days, "full working day"), named(stage.Name, stage.ID), onDay(last), least)
		}
	}
}

// lastCertificate returns the day and the stage of the last certificate before a
// visit; nil when there is none.
func (h *hearing) lastCertificate(r *row) (last calendar.Date, stage *plant.Stage) {
	last = calendar.None
	seen := map[string]bool{r.stage.ID: true}
	todo := []*plant.Stage{r.stage}
	for len(todo) > 0 {
		s := todo[0]
		todo = todo[1:]
		for _, a := range s.After {
			pred := h.stages[a.Stage]
			if pred == nil || seen[pred.ID] {
				continue
			}
			seen[pred.ID] = true
			todo = append(todo, pred)
			ended, has := r.docket.done[pred.ID]
			if row := r.docket.rows[pred.ID]; row != nil && row.sound {
				ended, has = row.End, true
			}
			if day := (ended - 1).Date(); has && pred.Certifies && day > last {
				last, stage = day, pred
			}
		}
	}
	return last, stage
}
