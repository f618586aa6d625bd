package check

import "wetdown/calendar"

// standing: a truck that stands ready in a bay for a stage has that stage there.
func standing(h *hearing) {
	for _, r := range h.rows {
		at := r.docket.truck.Standing.Bay
		if !r.standing() || r.Bay == at {
			continue
		}
		v := r.subject(r.Start)
		v.Bay = r.Bay
		h.report(v, "%s takes place in %s; its truck stands ready for it in %s. Leave it there, or say that it stands there no more.", r.name(), h.bayOrNone(r.Bay), h.bayName(at))
	}
}

// standing reports whether the truck stands in a bay, ready for this row.
func (r *row) standing() bool {
	return r.running == nil && r.wish == nil && r.stage != nil && r.docket.truck.Standing.Stage == r.stage.ID
}

// bound is the moment from which the plan binds the row: where it stands ready that is its
// start, else its hold.
func (r *row) bound() calendar.Moment {
	if r.standing() {
		return r.Start
	}
	return r.Hold
}
