package calendar

// WorksDay reports whether there is work on the day. A day works if at least one
// working minute lies on it by the clock: the morning after a night shift is a
// working day, even a closed one.
func (h *Hours) WorksDay(d Date) bool {
	return h.grid.Contains(d) && h.days[d-h.grid.from+1] > h.days[d-h.grid.from]
}

// PatternWorks reports whether there would be work on the day by the week alone,
// without holidays, closures and overtime. It knows every day, also outside the
// grid.
func (h *Hours) PatternWorks(d Date) bool { return h.pattern[d.Weekday()] }

// Closed reports whether a holiday or a closure closes the day, and which. A
// holiday that is moved off a weekend closes both days, that on which it is
// observed and its own: nobody is asked in on Christmas Day because it is a
// Saturday. Overtime on a closed day does not open it. Days outside
// the grid are not known to be closed.
func (h *Hours) Closed(d Date) (reason string, closed bool) {
	if !h.grid.Contains(d) {
		return "", false
	}
	reason = h.closed[d-h.grid.from]
	return reason, reason != ""
}

// NextWorkDay returns the first day after d that has work, false if the grid has
// none.
func (h *Hours) NextWorkDay(d Date) (Date, bool) {
	i := h.workDaysBefore(d + 1)
	if i == len(h.workDays) {
		return None, false
	}
	return h.workDays[i], true
}

// PrevWorkDay returns the last day before d that has work, false if the grid has
// none.
func (h *Hours) PrevWorkDay(d Date) (Date, bool) {
	i := h.workDaysBefore(d) - 1
	if i < 0 {
		return None, false
	}
	return h.workDays[i], true
}

// WorkDaysBetween returns the number of days with work after a and before b; 0 if
// b does not come after a. Days outside the grid are not counted: let the grid
// begin early enough.
func (h *Hours) WorkDaysBetween(a, b Date) int {
	if b <= a {
		return 0
	}
	return h.workDaysBefore(b) - h.workDaysBefore(a+1)
}

// workDaysBefore returns the number of days with work before d.
func (h *Hours) workDaysBefore(d Date) int {
	return int(h.days[min(max(int(d-h.grid.from), 0), h.grid.days)])
}
