package plant

import (
	"slices"
	"testing"
)

// A stage comes after what the list has shown already, and no name occurs twice.
func TestRouteIsInOrder(t *testing.T) {
	departments := DefaultDepartments()
	seen := map[string]bool{}
	delivers := 0
	for _, s := range DefaultRoute() {
		if seen[s.ID] || s.ID == "" || s.Name == "" {
			t.Errorf("stage %q (%s) occurs twice or has no name", s.ID, s.Name)
		}
		for _, a := range s.After {
			if !seen[a.Stage] {
				t.Errorf("%s comes after %s, which is not listed before it", s.ID, a.Stage)
			}
		}
		seen[s.ID] = true
		if !slices.ContainsFunc(departments, func(d Department) bool { return d.ID == s.Department }) {
			t.Errorf("%s: no department %s", s.ID, s.Department)
		}
		if !slices.Contains([]string{"V", "M", "P", "D"}, s.Mark) {
			t.Errorf("%s: mark %q", s.ID, s.Mark)
		}
		for _, e := range []Estimate{s.Hours.Light, s.Hours.Medium, s.Hours.Heavy} {
			if (s.Length == LengthHours) != (e.LikelyMinutes > 0) || e.MinMinutes > e.LikelyMinutes || e.LikelyMinutes > e.MaxMinutes {
				t.Errorf("%s: length %s, estimate %v", s.ID, s.Length, e)
			}
		}
		if s.Delivers {
			delivers++
		}
	}
	if delivers != 1 {
		t.Errorf("%d stages deliver, want 1", delivers)
	}
}

// The order of the trade: weight before burnish before measured stops; reserve
// and load tests before line voltage [KREM-TOC for the order within]; foam after
// the pump certificate, the aerial's water after both; certificates before the
// release check, that before graphics; the rest common practice, no source.
func TestRouteOrder(t *testing.T) {
	p := &Plant{Route: DefaultRoute()}
	comesAfter := func(later, earlier string) bool {
		return slices.ContainsFunc(p.following(earlier), func(s *Stage) bool { return s.ID == later })
	}
	for _, chain := range [][]string{
		{"weigh", "burnish", "road_test", "release_check"},
		{"low_voltage", "line_voltage", "release_check"},
		{"pump_test", "foam_test", "aerial_test", "release_check"},
		{"release_check", "graphics_layout", "graphics", "gold_leaf", "make_ready", "final_inspection",
			"corrections", "re_check", "re_inspection", "papers", "delivery"},
	} {
		for i := 1; i < len(chain); i++ {
			if !comesAfter(chain[i], chain[i-1]) {
				t.Errorf("%s does not come after %s", chain[i], chain[i-1])
			}
		}
	}
	for i := range p.Route {
		s := &p.Route[i]
		if s.Certifies && !comesAfter("release_check", s.ID) {
			t.Errorf("certificate of %s is not needed for the release check", s.ID)
		}
		if s.ID != "delivery" && s.Station == "" && !comesAfter("delivery", s.ID) {
			t.Errorf("delivery does not wait for %s", s.ID)
		}
	}
	if comesAfter("pump_test", "weigh") || comesAfter("weigh", "pump_test") {
		t.Error("weighing and the pump test do not depend on one another")
	}
}

// Hours per stage: the modes of common practice, no source, save 340 minutes for
// the pump (worked out, see TestPumpBayMinutes).
func TestRouteHours(t *testing.T) {
	p := &Plant{Route: DefaultRoute()}
	truck := &Truck{Content: Medium, Graphics: "stripes"}
	for id, want := range map[string]float64{
		"weigh": 1, "burnish": 6, "road_test": 3, "low_voltage": 5, "line_voltage": 3.5, "breathing_air": 6,
		"pump_test": 340.0 / 60, "foam_test": 1.5, "aerial_test": 12,
		"release_check": 8, "make_ready": 8, // about one day each
		"gold_leaf": 32, "corrections": 16, "re_check": 2, "papers": 16,
		"graphics": 20, "final_inspection": 0, "delivery": 0,
	} {
		if got := float64(p.StageMinutes(truck, p.FindStage(id))) / 60; got != want {
			t.Errorf("%s takes %.2f h, want %.2f", id, got, want)
		}
	}
}

// Graphics by package: stripe and chevron 16-24 h, letters and numbers 8-16 h
// more, all custom 24-40 h; common practice, no source.
func TestGraphicsHours(t *testing.T) {
	p := &Plant{Route: DefaultRoute()}
	for _, content := range []string{Light, Medium, Heavy} {
		hours := map[string]int{}
		for _, g := range []string{"stripes", "lettering", "custom", "gold_leaf"} {
			hours[g] = p.StageMinutes(&Truck{Content: content, Graphics: g}, p.FindStage("graphics")) / 60
		}
		if h := hours["stripes"]; h < 16 || h > 24 {
			t.Errorf("%s: stripes %d h", content, h)
		}
		if h := hours["lettering"] - hours["stripes"]; h < 8 || h > 16 {
			t.Errorf("%s: lettering %d h more", content, h)
		}
		if h := hours["custom"]; h < 24 || h > 40 {
			t.Errorf("%s: custom %d h", content, h)
		}
	}
}

// What may not be interrupted is not: pump, electrical and aerial work keep out
// of weekends and closures; a visit may run into a second day, not over a weekend.
func TestRouteCrossing(t *testing.T) {
	p := &Plant{Route: DefaultRoute()}
	for id, want := range map[string]string{
		"pump_test": "", "foam_test": "", "low_voltage": "", "line_voltage": "", "road_test": "",
		"aerial_test": "shift", "final_inspection": "shift", "graphics": "shift weekend closure", "gold_leaf": "shift weekend",
	} {
		got := ""
		for i, c := range p.FindStage(id).Crosses {
			if i > 0 {
				got += " "
			}
			got += c
		}
		if got != want {
			t.Errorf("%s crosses %q, want %q", id, got, want)
		}
	}
	if s := p.FindStage("final_inspection"); s.HoldBefore != 1 || !slices.Equal(s.StartIn, []string{"morning"}) {
		t.Errorf("the visit holds the floor %d parts before and starts in %v", s.HoldBefore, s.StartIn)
	}
}

// Waits in elapsed time: film 24 h before washing, leaf hard dry within 24-72 h,
// paint cured 72 h; the laboratory needs 3-10 working days.
func TestRouteWaits(t *testing.T) {
	p := &Plant{Route: DefaultRoute()}
	wait := func(stage, after string) After {
		for _, a := range p.FindStage(stage).After {
			if a.Stage == after {
				return a
			}
		}
		t.Fatalf("%s has no link to %s", stage, after)
		return After{}
	}
	if m := wait("make_ready", "graphics").MinElapsedMinutes; m != 24*60 {
		t.Errorf("film: %d min", m)
	}
	if m := wait("make_ready", "gold_leaf").MinElapsedMinutes; m < 24*60 || m > 72*60 {
		t.Errorf("leaf: %d min", m)
	}
	if m := wait("graphics", "touch_up").MinElapsedMinutes; m != 72*60 {
		t.Errorf("paint: %d min", m)
	}
	if d := wait("make_ready", "breathing_air").MinWorkMinutes / 480; d < 3 || d > 10 {
		t.Errorf("laboratory: %d working days", d)
	}
}

// The ladder: 90, 45, 30, 21, 10, 7 and 3 days; common practice, on the sources
// named at DefaultNotice.
func TestNoticeLadder(t *testing.T) {
	want := []struct {
		id   string
		days int
	}{{"window", 90}, {"week", 45}, {"tentative", 30}, {"confirmed", 21}, {"roster", 10}, {"frozen", 7}, {"go_no_go", 3}}
	got := DefaultNotice()
	if len(got) != len(want) {
		t.Fatalf("%d rungs, want %d", len(got), len(want))
	}
	for i, n := range got {
		if n.ID != want[i].id || n.DaysBefore != want[i].days || n.Name == "" {
			t.Errorf("rung %d: %+v, want %v", i, n, want[i])
		}
	}
}

// A broken visit costs more than any move of it.
func TestPricesAreInOrder(t *testing.T) {
	p := DefaultPrices()
	dearest := (p.MovedPerHead + p.MovedPerHeadDay*p.MovedDaysCap) * p.ShortNoticeFactor
	if p.BrokenPerHead <= dearest {
		t.Errorf("breaking costs %d a head, the dearest move %d", p.BrokenPerHead, dearest)
	}
	if r := p.DriveMilesPerDay; r < 400 || r > 500 {
		t.Errorf("%d miles a day, want 400-500 (common practice, no source)", r)
	}
}
