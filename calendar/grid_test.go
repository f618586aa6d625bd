package calendar

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawGrid draws a grid of a few days cut anyhow.
func drawGrid(t *rapid.T) *Grid {
	from := Date(rapid.Int32Range(19000, 24000).Draw(t, "from"))
	days := Date(rapid.Int32Range(1, 16).Draw(t, "days"))
	var cuts []Clock
	for c := rapid.IntRange(1, 1000).Draw(t, "cut"); c < minutesPerDay && len(cuts) < 4; c += rapid.IntRange(1, 1000).Draw(t, "cut") {
		cuts = append(cuts, Clock(c))
	}
	zone := rapid.SampledFrom([]string{chicago, "America/St_Johns", "America/Phoenix", "Australia/Lord_Howe", "UTC"}).Draw(t, "zone")
	g, err := NewGrid(zone, from, from+days-1, cuts)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestGridRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawGrid(t)
		want := Slot(0)
		for d := g.From(); d <= g.Through(); d++ {
			for part := range g.Parts() {
				s := g.Slot(d, part)
				if s != want || g.Date(s) != d || g.Part(s) != part {
					t.Fatalf("%v part %d is slot %d, %v part %d; want slot %d", d, part, s, g.Date(s), g.Part(s), want)
				}
				if s > 0 && g.Begin(s) != g.End(s-1) {
					t.Fatalf("slot %d begins at %v, slot before ends at %v", s, g.Begin(s), g.End(s-1))
				}
				for _, m := range []Moment{g.Begin(s), g.End(s) - 1} {
					if got, ok := g.At(m); !ok || got != s {
						t.Fatalf("%v lies in slot %d (%v), want %d", m, got, ok, s)
					}
				}
				want++
			}
		}
		if want != g.Slots() {
			t.Fatalf("%d slots, want %d", g.Slots(), want)
		}
		if g.Begin(0) != g.From().At(0) || g.Begin(g.Slots()) != g.Through().At(minutesPerDay) {
			t.Fatalf("grid from %v to %v", g.Begin(0), g.Begin(g.Slots()))
		}
		for _, m := range []Moment{g.Begin(0) - 1, g.Begin(g.Slots()), NoMoment} {
			if s, ok := g.At(m); ok {
				t.Fatalf("%v outside the grid lies in slot %d", m, s)
			}
		}
	})
}

func TestGridRefused(t *testing.T) {
	tests := []struct {
		zone          string
		from, through Date
		cuts          []Clock
		want          string
	}{
		{chicago, date("2027-01-02"), date("2027-01-01"), nil, "not before"},
		{chicago, None, date("2027-01-01"), nil, "give a first day"},
		{chicago, date("2027-01-01"), date("2227-01-01"), nil, "nearer last day"},
		{chicago, date("2027-01-01"), date("2027-01-01"), []Clock{0}, "after 00:00"},
		{chicago, date("2027-01-01"), date("2027-01-01"), []Clock{1440}, "before 24:00"},
		{chicago, date("2027-01-01"), date("2027-01-01"), []Clock{720, 720}, "cut 2"},
		{"America/Springfield", date("2027-01-01"), date("2027-01-01"), nil, "IANA"},
		{"Local", date("2027-01-01"), date("2027-01-01"), nil, "IANA"},
		{"", date("2027-01-01"), date("2027-01-01"), nil, "IANA"},
	}
	for _, tt := range tests {
		if _, err := NewGrid(tt.zone, tt.from, tt.through, tt.cuts); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q %v %v %v: %v, want an error with %q", tt.zone, tt.from, tt.through, tt.cuts, err, tt.want)
		}
	}
}
