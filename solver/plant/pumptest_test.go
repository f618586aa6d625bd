package plant

import (
	"math"
	"testing"
)

// The runs: 120 + 10 + 30 + 30 minutes [FE-UL2]; smaller pumps 30 + 10 + 10, from
// memory.
func TestPumpingMinutes(t *testing.T) {
	for gpm, want := range map[int]int{250: 50, 500: 50, 749: 50, 750: 190, 1500: 190, 2250: 190} {
		if got := PumpingMinutes(gpm); got != want {
			t.Errorf("%d gpm: %d minutes of pumping, want %d", gpm, got, want)
		}
	}
}

// 60 set-up + 190 runs + 60 vacuum, controls and tank + 30 tear-down = 340.
func TestPumpBayMinutes(t *testing.T) {
	if got := PumpBayMinutes(1500); got != 340 {
		t.Errorf("bay minutes %d, want 340", got)
	}
	if got := PumpBayMinutes(500); got != 340-190+50 {
		t.Errorf("small pump: bay minutes %d, want 200", got)
	}
	const shift = 10 * 60
	if 2*PumpBayMinutes(750) <= shift {
		t.Errorf("two certifications (%d min) must not fit one ten-hour shift", 2*PumpBayMinutes(750))
	}
	if PumpBayMinutes(750) > 8*60 {
		t.Error("one certification must fit an eight-hour shift")
	}
	for _, s := range DefaultRoute() {
		if s.ID == "pump_test" && s.Hours.Medium.LikelyMinutes != 340 {
			t.Errorf("the route plans %d minutes for it, want 340", s.Hours.Medium.LikelyMinutes)
		}
	}
}

// Gallons 166 x rated flow, water horsepower flow x psi / 1714, and the rise of
// a 12,000 and a 20,000 gallon pit, worked by hand to one decimal.
func TestPumpCheckValues(t *testing.T) {
	for _, c := range []struct {
		gpm, gallons                    int
		whp150, whp165, rise12, rise20k float64
	}{
		{750, 124500, 65.6, 72.2, 7.9, 4.7},
		{1000, 166000, 87.5, 96.3, 10.5, 6.3},
		{1250, 207500, 109.4, 120.3, 13.1, 7.9},
		{1500, 249000, 131.3, 144.4, 15.8, 9.5},
		{1750, 290500, 153.2, 168.5, 18.4, 11.0},
		{2000, 332000, 175.0, 192.5, 21.0, 12.6},
		{2250, 373500, 196.9, 216.6, 23.6, 14.2},
	} {
		if got := PumpedGallons(c.gpm); got != c.gallons {
			t.Errorf("%d gpm: %d gallons, want %d", c.gpm, got, c.gallons)
		}
		for _, f := range []struct {
			name      string
			got, want float64
		}{
			{"hp at 150 psi", WaterHorsepower(c.gpm, 150), c.whp150},
			{"hp at 165 psi", WaterHorsepower(c.gpm, 165), c.whp165},
			{"rise in 12,000 gal", PitRise(c.gpm, 12000), c.rise12},
			{"rise in 20,000 gal", PitRise(c.gpm, 20000), c.rise20k},
		} {
			if math.Abs(f.got-f.want) > 0.05 {
				t.Errorf("%d gpm: %s is %.2f, want %.1f", c.gpm, f.name, f.got, f.want)
			}
		}
	}
}

// The only interrupted run that starts again is a pumping run.
func TestUnbrokenRuns(t *testing.T) {
	for _, e := range PumpTest(1500) {
		if e.Unbroken != (e.FlowPercent > 0) {
			t.Errorf("%s: unbroken %v, flow %d %%", e.ID, e.Unbroken, e.FlowPercent)
		}
	}
}
