package calendar

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// Weekly hours of the patterns: 40 for 4x10 and 5x8, common practice, no source;
// the others by adding up their shifts.
func TestPatternMinutes(t *testing.T) {
	want := map[string]int{
		"4x10":        40 * 60,
		"5x8":         40 * 60,
		"half-friday": 40 * 60,
		"three-shift": 5 * 3 * 450,
		"two-shift":   80 * 60,
	}
	if !slices.IsSorted(PatternNames()) || len(PatternNames()) != len(want) {
		t.Errorf("names %v", PatternNames())
	}
	for _, name := range PatternNames() {
		w := mustPattern(t, name)
		if w.Minutes() != want[name] {
			t.Errorf("%s has %d minutes a week, want %d", name, w.Minutes(), want[name])
		}
		if problems := (Rules{Week: w}).Check(); problems != nil {
			t.Errorf("%s: %v", name, problems)
		}
		if len(w[time.Saturday])+len(w[time.Sunday]) != 0 {
			t.Errorf("%s works on the weekend", name)
		}
	}
}

func TestPatternIsACopy(t *testing.T) {
	w := mustPattern(t, "5x8")
	w[time.Monday][0].To = 0
	w[time.Monday][0].Breaks[0].To = 0
	again := mustPattern(t, "5x8")
	for _, d := range []time.Weekday{time.Monday, time.Tuesday} {
		if s := again[d][0]; s.To.String() != "15:30" || s.Breaks[0].To.String() != "11:30" {
			t.Errorf("%v changed to %v", d, s)
		}
	}
	if s := w[time.Tuesday][0]; s.To.String() != "15:30" || s.Breaks[0].To.String() != "11:30" {
		t.Errorf("Tuesday shares Monday's shift: %v", s)
	}
}

func TestPatternUnknown(t *testing.T) {
	_, err := Pattern("6x8")
	if err == nil || !strings.Contains(err.Error(), "4x10, 5x8, half-friday, three-shift, two-shift") {
		t.Errorf("got %v, want an error that lists the names", err)
	}
}
