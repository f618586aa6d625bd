package plant

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// planOf is a plan with rows "truck stage".
func planOf(rows ...string) *Plan {
	plan := &Plan{}
	for _, r := range rows {
		truck, stage, _ := strings.Cut(r, " ")
		plan.Stages = append(plan.Stages, Planned{Truck: truck, Stage: stage})
	}
	return plan
}

func shownFor(p *Plant, rows ...string) string {
	var s []string
	for _, h := range p.Hazards(planOf(rows...)) {
		s = append(s, h.ID)
	}
	return strings.Join(s, " ")
}

// hazardPlant has the standard route and wishes, a plain truck and one with
// everything.
func hazardPlant() *Plant {
	return &Plant{
		Route: DefaultRoute(), Wishes: DefaultWishes(),
		Trucks: []Truck{{ID: "plain", Kind: "rescue"}, {ID: "full", Kind: "aerial", FlowGPM: 1500, Options: []string{"generator", "foam", "breathing_air"}}},
	}
}

// Every kind of work that a caution is wanted for, in the standard route.
func TestHazards_StandardRoute(t *testing.T) {
	want := map[string]string{
		"pre_paint": "visit", "graphics_layout": "visit", "final_inspection": "visit", "re_inspection": "visit",
		"weigh": "", "burnish": "road", "road_test": "road",
		"low_voltage": "low_voltage", "line_voltage": "low_voltage line_voltage", "breathing_air": "breathing_air",
		"pump_test": "pump", "foam_test": "pump", "aerial_test": "aerial",
		"touch_up": "", "release_check": "", "graphics": "", "gold_leaf": "", "make_ready": "",
		"corrections": "", "re_check": "", "papers": "", "delivery": "delivery",
		"final_inspection.drive": "road", "final_inspection.pump": "pump",
	}
	p := hazardPlant()
	rows := []string{"full final_inspection.drive", "full final_inspection.pump"}
	for _, s := range p.Route {
		rows = append(rows, "full "+s.ID)
	}
	for _, r := range rows {
		_, stage, _ := strings.Cut(r, " ")
		w, known := want[stage]
		if got := shownFor(p, r); !known || got != w {
			t.Errorf("%s shows %q, want %q", stage, got, w)
		}
	}
	if got, w := shownFor(p, append(rows, rows...)...), "pump road aerial low_voltage line_voltage breathing_air visit delivery"; got != w {
		t.Errorf("all of it shows %q, want %q", got, w)
	}
}

// A plant may call its work and its bays otherwise, and do two tests in one stage.
func TestHazards_OtherRoutes(t *testing.T) {
	p := hazardPlant()
	p.Route = []Stage{
		{ID: "draft", Bay: "pit", Needs: []string{"pump"}},
		{ID: "wires", Bay: "electrical", Extra: []Extra{{"generator", 210}}},
		{ID: "road_test"},
		{ID: "drive_away", Delivers: true},
	}
	p.Wishes = []Wish{{ID: "hose", Bay: "pump_test"}, {ID: "climb", Name: "Climb it", Caution: "C12 C99 C7"}, {ID: "drive", Caution: "C8 C13"}}
	for row, want := range map[string]string{
		"full draft": "pump", "full wires": "low_voltage line_voltage", "plain wires": "low_voltage", "plain road_test": "road",
		"plain drive_away": "delivery", "plain x.hose": "pump", "plain x.climb": "climb", "plain x.drive": "road drive",
		"nobody draft": "", "full magic": "", "full x.magic": "",
	} {
		if got := shownFor(p, row); got != want {
			t.Errorf("%s shows %q, want %q", row, got, want)
		}
	}
	own := p.Hazards(planOf("plain x.climb", "full x.climb"))
	if len(own) != 1 || own[0].Work != "Climb it" || len(own[0].Cautions) != 2 || !strings.HasPrefix(own[0].Brief, "Safety shoes") || !strings.Contains(own[0].Brief, "Level firm ground") || strings.Contains(own[0].Brief, Deferral) {
		t.Errorf("what a wish names itself: %+v", own)
	}
	// C8 belongs to driving anyway.
	if list := p.Hazards(planOf("plain x.drive")); len(list) != 2 || len(list[1].Cautions) != 1 || list[1].Cautions[0].ID != "C13" {
		t.Errorf("what a wish names beside its work: %+v", list)
	}
}

// What is shown beside the work is short, and is of cautions that there are.
func TestHazards_Brief(t *testing.T) {
	for _, h := range hazards {
		if n := utf8.RuneCountInString("- " + h.work + ": " + h.brief); n > 2*98 {
			t.Errorf("%s: %d characters are more than two lines", h.id, n)
		}
		if !strings.HasSuffix(h.brief, ".") || strings.Contains(h.brief, Deferral) {
			t.Errorf("%s: %q is no sentence", h.id, h.brief)
		}
		if got, want := len(cautionsOf(h.cautions)), len(strings.Fields(h.cautions)); got != want || got == 0 {
			t.Errorf("%s: %d of %d cautions are there", h.id, got, want)
		}
	}
	used := ""
	for _, h := range hazards {
		used += " " + h.cautions
	}
	for _, c := range cautions {
		if !strings.Contains(used+" ", " "+c.ID+" ") {
			t.Errorf("no kind of work shows %s, %s", c.ID, c.Title)
		}
	}
}
