package check

import (
	"slices"

	"wetdown/calendar"
)

// hours: work starts at the first working minute of a part of the day in which
// the stage may start (a wish: at the first in which the visit's department works
// as well), holds its bay from the line-up before it, and ends when
// its working time is over. One complaint a row: with a wrong start, hold and end
// say nothing.
func hours(h *hearing) {
	for _, r := range h.rows {
		switch {
		case r.running != nil:
		case !r.sound:
			h.about(r, r.Start, "%s holds its bay from %s, starts on %s and ends on %s: this is no order of time, or far outside the horizon. Correct the times.",
				r.name(), atTime(r.Hold), atTime(r.Start), atTime(r.End))
		default:
			_ = h.startsInHours(r) && h.holdsInHours(r) && h.endsInHours(r)
		}
	}
}

func (h *hearing) startsInHours(r *row) bool {
	part := h.p.Parts[h.grid.Part(r.begin)].ID
	first := r.hours.First(r.begin)
	with := ""
	if r.wish != nil && r.visit.row != nil && r.visit.row.hours != nil && first != calendar.NoMoment {
		first, with = bothWork(r.hours, r.visit.row.hours, r.begin), " and of "+r.visit.row.dept+", which receives the visit,"
	}
	switch {
	case first == calendar.NoMoment && with != "":
		h.about(r, r.Start, "%s starts on %s, but %s and %s, which receives the visit, do not work together in the %s of that day. Start it in another part.",
			r.name(), atTime(r.Start), r.dept, r.visit.row.dept, part)
	case first == calendar.NoMoment:
		advice := "Start it earlier"
		if next := r.hours.Next(r.begin); next < h.grid.Slots() {
			advice = "The next work begins on " + atTime(r.hours.First(next))
		}
		h.about(r, r.Start, "%s starts on %s, but %s does not work in the %s of that day. %s.", r.name(), atTime(r.Start), r.dept, part, advice)
	case first != r.Start:
		h.about(r, r.Start, "%s starts on %s, but in that part of the day the work of %s%s begins on %s. Start it then.", r.name(), atTime(r.Start), r.dept, with, atTime(first))
	case r.wish == nil && len(r.stage.StartIn) > 0 && !slices.Contains(r.stage.StartIn, part):
		h.about(r, r.Start, "%s starts on %s, in the %s; it may start only in the %s. Move its start.", r.name(), atTime(r.Start), part, list(r.stage.StartIn, "or"))
	default:
		return true
	}
	return false
}

// bothWork is the first minute of the part in which both calendars work.
func bothWork(a, b *calendar.Hours, s calendar.Slot) calendar.Moment {
	for m := max(a.First(s), b.First(s)); m < a.Grid().End(s) && b.Work(s) > 0; m++ {
		if a.Between(m, m+1) == 1 && b.Between(m, m+1) == 1 {
			return m
		}
	}
	return calendar.NoMoment
}

func (h *hearing) holdsInHours(r *row) bool {
	want, n := r.Start, 0
	if r.wish == nil {
		n = r.stage.HoldBefore
	}
	s := r.begin
	for range n {
		s = r.hours.Prev(s - 1)
		if s < 0 {
			h.about(r, r.Hold, "%s starts on %s, but there is no work before it for its line-up. Start it later.", r.name(), atTime(r.Start))
			return false
		}
		want = r.hours.First(s)
	}
	if r.Hold == want {
		return true
	}
	h.about(r, r.Hold, "%s starts on %s and holds its bay from %s; the line-up takes %s, so it holds it from %s. Correct the hold.",
		r.name(), atTime(r.Start), atTime(r.Hold), count(n, "working part"), atTime(want))
	return false
}

func (h *hearing) endsInHours(r *row) bool {
	want, known := h.finish(r, r.Start)
	switch {
	case !known:
		h.about(r, r.End, "%s starts on %s and is not over when the calendars end, on %s; the plan says %s. Start it earlier, or plan further ahead.",
			r.name(), atTime(r.Start), onDay(h.grid.Through()), atTime(r.End))
	case r.End != want:
		h.about(r, r.End, "%s starts on %s and by the hours of %s ends on %s; the plan says %s. Correct the end.",
			r.name(), atTime(r.Start), r.dept, atTime(want), atTime(r.End))
	default:
		return true
	}
	return false
}
