package calendar

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Week lists the shifts that begin on each day of the week, indexed by
// Weekday: Sunday is 0. A day without shifts is a day of rest.
type Week [7][]Shift

// Minutes returns the working minutes of one week.
func (w Week) Minutes() int {
	n := 0
	for _, day := range w {
		for _, s := range day {
			n += s.Minutes()
		}
	}
	return n
}

// A pattern is a named week: runs of days with the same shifts.
type pattern struct {
	name string
	runs []run
}

// A run is a run of weekdays, both ends in it, that work the same shifts.
type run struct {
	from, through Weekday
	shifts        []Shift
}

// patterns are the weeks that can be named. They are starting points to edit:
// hours of 5x8 and 4x10 are common practice, no source; so are the rest.
var patterns = []pattern{
	{"4x10", []run{{time.Monday, time.Thursday, []Shift{shift("06:00", "16:30", "11:00", "11:30")}}}},
	{"5x8", []run{{time.Monday, time.Friday, []Shift{shift("07:00", "15:30", "11:00", "11:30")}}}},
	{"half-friday", []run{
		{time.Monday, time.Thursday, []Shift{shift("06:30", "16:00", "11:00", "11:30")}},
		{time.Friday, time.Friday, []Shift{shift("06:30", "10:30")}},
	}},
	{"three-shift", []run{{time.Monday, time.Friday, []Shift{
		shift("06:00", "14:00", "10:00", "10:30"),
		shift("14:00", "22:00", "18:00", "18:30"),
		shift("22:00", "30:00", "26:00", "26:30"),
	}}}},
	{"two-shift", []run{{time.Monday, time.Friday, []Shift{
		shift("06:00", "14:30", "10:00", "10:30"),
		shift("14:30", "23:00", "18:30", "19:00"),
	}}}},
}

// shift builds a shift of the table above from its clock times: begin, end, and
// pairs of begin and end of a break.
func shift(clocks ...string) Shift {
	spans := make([]Span, 0, len(clocks)/2)
	for i := 0; i < len(clocks); i += 2 {
		spans = append(spans, Span{mustClock(clocks[i]), mustClock(clocks[i+1])})
	}
	return Shift{Span: spans[0], Breaks: spans[1:]}
}

func mustClock(s string) Clock {
	c, err := ParseClock(s)
	if err != nil {
		panic(err)
	}
	return c
}

// PatternNames lists, sorted, the weeks that Pattern knows.
func PatternNames() []string {
	names := make([]string, len(patterns))
	for i, p := range patterns {
		names[i] = p.name
	}
	return names
}

// Pattern returns the week of that name, a copy that the caller may change:
//
//	4x10         Mon-Thu 06:00-16:30, lunch 11:00-11:30
//	5x8          Mon-Fri 07:00-15:30, lunch 11:00-11:30
//	half-friday  Mon-Thu 06:30-16:00, lunch 11:00-11:30; Fri 06:30-10:30
//	three-shift  Mon-Fri 06:00-14:00, 14:00-22:00, 22:00-06:00, half an hour off in each
//	two-shift    Mon-Fri 06:00-14:30, 14:30-23:00, half an hour off in each
//
// An unknown name is an error that lists the known ones.
func Pattern(name string) (Week, error) {
	var w Week
	i := slices.IndexFunc(patterns, func(p pattern) bool { return p.name == name })
	if i < 0 {
		return w, fmt.Errorf("%q is no week pattern: write one of %s, or list the shifts of each day", name, strings.Join(PatternNames(), ", "))
	}
	for _, r := range patterns[i].runs {
		for d := r.from; d <= r.through; d++ {
			for _, s := range r.shifts {
				w[d] = append(w[d], s.clone())
			}
		}
	}
	return w, nil
}
