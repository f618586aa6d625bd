package plant

import (
	"fmt"
	"strings"
	"testing"
)

func TestCautionsAreNumberedAndDefer(t *testing.T) {
	list := Cautions()
	if len(list) != 18 {
		t.Fatalf("got %d cautions, want 18", len(list))
	}
	for i, c := range list {
		if want := fmt.Sprintf("C%d", i+1); c.ID != want {
			t.Errorf("caution %d is %s, want %s", i, c.ID, want)
		}
		if c.Title == "" || !strings.HasSuffix(c.Text, ". "+Deferral) {
			t.Errorf("%s: title %q, text %q must be a sentence that ends with the deferral", c.ID, c.Title, c.Text)
		}
		if !strings.Contains("V M P D", c.Mark) || c.Mark == "" {
			t.Errorf("%s: mark %q", c.ID, c.Mark)
		}
	}
	if first := Cautions()[0].Text; strings.Count(first, Deferral) != 1 {
		t.Errorf("asking twice repeats the deferral: %q", first)
	}
}

// Figures of the sources: pump panel 91-101 dB, cabs 99-116 dB, jump seats
// 105-112 dB [FE-DEAF]; a discharge elbow broken at 300 psi [NEARMISS]; park brake
// overcome from about 1,300 rpm [CRAM]; 10 ft up to 50 kV, 50 ft above [AER-17];
// acid, explosive gas and tools that turn burning hot at batteries, Workers' Safety
// and Compensation Commission (Northwest Territories), Instructor guide: Batteries;
// 120 or 240 V: what NFPA 1900 calls line voltage (from memory); every source disconnected, locked out
// or tagged, WAC 296-24-975; a source kept apart from the shore line, a generator
// maker's installation manual. 900 V of the dielectric test is from memory.
func TestCautionFigures(t *testing.T) {
	for id, figures := range map[string][]string{
		"C1":  {"91-101 dB", "99-116 dB", "105-112 dB"},
		"C2":  {"300 psi"},
		"C6":  {"1,300 rpm"},
		"C11": {"50-100 miles"},
		"C12": {"10 ft", "50 kV", "50 ft", "35 mph"},
		"C17": {"acid", "gas that explodes", "rings off"},
		"C18": {"120 or 240 volts", "locked out and tagged", "shore line", "900 volts"},
	} {
		c := cautionsOf(id)
		if len(c) != 1 {
			t.Fatalf("%s: found %d", id, len(c))
		}
		for _, f := range figures {
			if !strings.Contains(c[0].Text, f) {
				t.Errorf("%s lacks %q: %s", id, f, c[0].Text)
			}
		}
	}
}
