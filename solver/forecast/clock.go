package forecast

import (
	"time"

	"wetdown/calendar"
)

// A clock is the working time of a department in a form that is quick to walk.
type clock struct {
	hours  *calendar.Hours
	before []int32 // by slot, and past the last: working minutes before it
}

func newClock(h *calendar.Hours) *clock {
	n := h.Grid().Slots()
	c := &clock{hours: h, before: make([]int32, n+1)}
	for s := range c.before {
		c.before[s] = int32(h.Before(calendar.Slot(s)))
	}
	return c
}

// works reports whether there is work in the slot.
func (c *clock) works(s int32) bool { return c.before[s+1] > c.before[s] }

// finish returns the slot in which the last of so many minutes lies, at least one, if
// work starts with the first minute of slot s; the number of slots if the grid ends before.
func (c *clock) finish(s, minutes int32) int32 {
	done := c.before[s] + minutes
	slots := int32(len(c.before)) - 1
	for s < slots && c.before[s+1] < done {
		s++
	}
	return s
}

// from returns the first slot whose first working minute is m or later; the number of
// slots if there is none.
func (c *clock) from(m calendar.Moment) int32 {
	g := c.hours.Grid()
	s, ok := g.At(m)
	switch {
	case !ok && m < g.Begin(0):
		s = 0
	case !ok:
		return g.Slots()
	}
	s = c.hours.Next(s)
	if s < g.Slots() && c.hours.First(s) < m {
		s = c.hours.Next(s + 1)
	}
	return s
}

// crosses says over what work from one moment to another runs, by the rule crossing.
func (c *clock) crosses(start, end calendar.Moment) (shift, weekend, closure bool) {
	h := c.hours
	shift = h.Shift(start) != h.Shift(end-1)
	for d := start.Date() + 1; d < (end - 1).Date(); d++ {
		w := d.Weekday()
		if _, closed := h.Closed(d); closed && h.PatternWorks(d) {
			closure = true
		} else if !h.PatternWorks(d) && (w == time.Saturday || w == time.Sunday) {
			weekend = true
		}
	}
	return shift, weekend, closure
}
