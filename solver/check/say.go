package check

import (
	"fmt"
	"strings"

	"wetdown/calendar"
)

// onDay prints a date with its weekday: Wed 2027-03-10.
func onDay(d calendar.Date) string {
	if d == calendar.None {
		return "no day"
	}
	return d.Weekday().String()[:3] + " " + d.String()
}

// atTime prints a moment with its weekday: Wed 2027-03-10 07:00.
func atTime(m calendar.Moment) string {
	if m == calendar.NoMoment {
		return "no time"
	}
	return onDay(m.Date()) + " " + m.Clock().String()
}

// during prints a run of days, both in it: on Wed 2027-03-10, from Wed 2027-03-10
// through Thu 2027-03-11.
func during(from, through calendar.Date) string {
	if from == through {
		return "on " + onDay(from)
	}
	return "from " + onDay(from) + " through " + onDay(through)
}

// inParts prints a run of parts of the day, both in it.
func (h *hearing) inParts(from, through calendar.Slot) string {
	if from == through {
		return h.inPart(from)
	}
	return h.inPart(from) + " to " + h.inPart(through)
}

// inPart prints a part of a day: Wed 2027-03-10 morning.
func (h *hearing) inPart(s calendar.Slot) string {
	return onDay(h.grid.Date(s)) + " " + h.p.Parts[h.grid.Part(s)].ID
}

// long prints a length of time: 5 h 40 min.
func long(minutes int) string {
	sign := ""
	if minutes < 0 {
		sign, minutes = "-", -minutes
	}
	switch {
	case minutes%60 == 0:
		return fmt.Sprintf("%s%d h", sign, minutes/60)
	case minutes < 60:
		return fmt.Sprintf("%s%d min", sign, minutes)
	}
	return fmt.Sprintf("%s%d h %d min", sign, minutes/60, minutes%60)
}

// count prints a number of things: 1 day, 2 days.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// list prints names as people do: a, b and c.
func list(names []string, word string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " " + word + " " + names[last]
}

// named prefers the name for people over the id.
func named(name, id string) string {
	if name != "" {
		return name
	}
	return id
}
