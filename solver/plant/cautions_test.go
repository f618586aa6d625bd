package plant

import (
	"fmt"
	"strings"
	"testing"
)

func TestCautionsAreNumberedAndDefer(t *testing.T) {
	list := Cautions()
	if len(list) != 16 {
		t.Fatalf("got %d cautions, want 16", len(list))
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
// overcome from about 1,300 rpm [CRAM]; 10 ft up to 50 kV, 50 ft above [AER-17].
func TestCautionFigures(t *testing.T) {
	for id, figures := range map[string][]string{
		"C1":  {"91-101 dB", "99-116 dB", "105-112 dB"},
		"C2":  {"300 psi"},
		"C6":  {"1,300 rpm"},
		"C11": {"50-100 miles"},
		"C12": {"10 ft", "50 kV", "50 ft", "35 mph"},
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

func TestWhichStagesShowWhichCautions(t *testing.T) {
	ids := func(list []Caution) string {
		var s []string
		for _, c := range list {
			s = append(s, c.ID)
		}
		return strings.Join(s, " ")
	}
	want := map[string]string{
		"pump_test":        "C1 C2 C3 C4 C5 C6 C7 C13 C14 C15 C16",
		"road_test":        "C8 C9 C10 C11 C15 C16",
		"aerial_test":      "C2 C6 C7 C12 C15 C16",
		"pre_paint":        "C7 C15",
		"graphics_layout":  "C7 C15",
		"final_inspection": "C7 C15",
		"delivery":         "C8 C9 C11 C16",
		"graphics":         "",
	}
	for _, s := range DefaultRoute() {
		if w, ok := want[s.ID]; ok && ids(s.Cautions()) != w {
			t.Errorf("%s shows %q, want %q", s.ID, ids(s.Cautions()), w)
		}
		delete(want, s.ID)
	}
	if len(want) > 0 {
		t.Errorf("stages not in the default route: %v", want)
	}
	for _, w := range DefaultWishes() {
		if got := ids(w.Cautions()); got != w.Caution {
			t.Errorf("wish %s shows %q, names %q", w.ID, got, w.Caution)
		}
	}
	if got := ids((&Wish{Caution: "C99 C3"}).Cautions()); got != "C3" {
		t.Errorf("unknown ids: got %q, want C3", got)
	}
}
