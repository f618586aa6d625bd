package check

import "wetdown/calendar"

// started: running work is in the plan as it runs: same start, same bay, the
// remaining time. Where nobody has said what remains, it ends when the estimate
// from its start is over, but at least one working minute from now.
func started(h *hearing) {
	for _, r := range h.rows {
		if r.running == nil {
			continue
		}
		want, known := h.remains(r)
		switch {
		case r.Start != r.running.Started || r.Hold != r.running.Started:
			h.about(r, r.Start, "%s runs since %s; the plan has it start on %s and hold its bay from %s. Leave it as it runs.",
				r.name(), atTime(r.running.Started), atTime(r.Start), atTime(r.Hold))
		case r.Bay != r.running.Bay:
			v := r.subject(r.Start)
			v.Bay = r.Bay
			h.report(v, "%s runs in %s; the plan has it in %s. Leave it where it is.", r.name(), h.bayOrNone(r.running.Bay), h.bayOrNone(r.Bay))
		case !known:
			h.about(r, r.End, "%s runs and is not over when the calendars end, on %s. Plan further ahead.", r.name(), onDay(h.grid.Through()))
		case r.End != want:
			h.about(r, r.End, "%s runs and by what remains ends on %s; the plan says %s. Correct the end, or what remains.", r.name(), atTime(want), atTime(r.End))
		}
	}
}

// remains returns when running work ends.
func (h *hearing) remains(r *row) (calendar.Moment, bool) {
	if r.running.RemainingMinutes >= 0 {
		return r.hours.Add(h.p.AsOf, r.running.RemainingMinutes)
	}
	soonest, ok := r.hours.Add(h.p.AsOf, 1)
	if !ok {
		return calendar.NoMoment, false
	}
	end, ok := h.finish(r, r.running.Started)
	return max(end, soonest), ok
}

func (h *hearing) bayOrNone(id string) string {
	if id == "" {
		return "no bay"
	}
	return h.bayName(id)
}
