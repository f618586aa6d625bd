package check

import (
	"slices"
	"time"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// crossing: a stage runs over the end of a shift, a weekend or a closure only
// where it may. Days between are those strictly between the first and the last
// day of work: a weekend is crossed if one of them is a Saturday or Sunday that
// the department's week leaves free, a closure if one of them is a day that its
// week works and that is closed all the same. A wish lies inside its visit and is
// not asked.
func crossing(h *hearing) {
	for _, r := range h.rows {
		if r.running != nil || r.wish != nil || !r.sound {
			continue
		}
		may := r.stage.Crosses
		if !slices.Contains(may, plant.CrossShift) && r.hours.Shift(r.Start) != r.hours.Shift(r.end()) {
			h.about(r, r.Start, "%s works from %s to %s, over the end of a shift of %s, which it must not. Start it in a shift that is long enough.",
				r.name(), atTime(r.Start), atTime(r.End), r.dept)
		}
		if d := r.freeWeekend(); d != calendar.None && !slices.Contains(may, plant.CrossWeekend) {
			h.about(r, d.At(0), "%s works from %s to %s, over the weekend day %s, which it must not. Let it end before, or start after.",
				r.name(), atTime(r.Start), atTime(r.End), onDay(d))
		}
		if d := r.closedWorkDay(); d != calendar.None && !slices.Contains(may, plant.CrossClosure) {
			reason, _ := r.hours.Closed(d)
			h.about(r, d.At(0), "%s works from %s to %s, over %s (%s), which it must not. Let it end before, or start after.",
				r.name(), atTime(r.Start), atTime(r.End), onDay(d), reason)
		}
	}
}

// freeWeekend returns the first Saturday or Sunday between the days of work that
// the week of the department leaves free.
func (r *row) freeWeekend() calendar.Date {
	for d := r.firstDay() + 1; d < r.lastDay(); d++ {
		if w := d.Weekday(); (w == time.Saturday || w == time.Sunday) && !r.hours.PatternWorks(d) {
			return d
		}
	}
	return calendar.None
}

// closedWorkDay returns the first day between the days of work that the week of
// the department works but that is closed.
func (r *row) closedWorkDay() calendar.Date {
	for d := r.firstDay() + 1; d < r.lastDay(); d++ {
		if _, closed := r.hours.Closed(d); closed && r.hours.PatternWorks(d) {
			return d
		}
	}
	return calendar.None
}
