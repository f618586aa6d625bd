package web_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// state is the plant as it is now.
func (s *site) state() *plant.Plant {
	s.t.Helper()
	st, err := s.app.State(context.Background(), manager, 0)
	if err != nil {
		s.t.Fatal(err)
	}
	return st.Plant
}

// A slip takes three touches: each is a link or a button of the page before it.
func TestSlip_ThreeTouches(t *testing.T) {
	s := demoSite(t)
	_, first := s.get("/slips/new")
	if !strings.Contains(first, `href="/slips/new?truck=H1019"`) {
		t.Fatal("the truck cannot be touched")
	}
	_, second := s.get("/slips/new?truck=H1019")
	if !strings.Contains(second, `href="/slips/new?truck=H1019&amp;kind=line_off_moved"`) {
		t.Fatal("what happened cannot be touched")
	}
	_, third := s.get("/slips/new?truck=H1019&kind=line_off_moved")
	if !strings.Contains(third, `<button name="days" value="3">`) {
		t.Fatal("how much cannot be touched")
	}
	form := url.Values{"truck": {"H1019"}, "kind": {plant.LineOffMoved}, "days": {"3"}}
	code, to := s.post("/slips", form)
	if code != http.StatusSeeOther || !strings.HasPrefix(to, "/jobs/") {
		t.Fatalf("%d %s", code, to)
	}
	if list := s.state().Slips; len(list) != 1 || list[0].Truck != "H1019" || list[0].Days != 3 {
		t.Errorf("on record: %v", list)
	}
	if code, to = s.get(to); code != http.StatusSeeOther || !strings.HasPrefix(to, "/proposals/") {
		t.Fatalf("%d %s", code, to)
	}
	_, page := s.get(to)
	for _, says := range []string{"Tue Mar 30", "Tue Apr 6", "5 working days", "$0 → $800", "no better plan exists", "Accept"} {
		if !strings.Contains(page, says) {
			t.Errorf("the proposal does not say %q", says)
		}
	}
	if code, page := s.post("/slips", form); code != http.StatusConflict || !strings.Contains(page, "on record already") || len(s.state().Slips) != 1 {
		t.Errorf("twice: %d", code)
	}
	if _, page := s.get("/slips"); !strings.Contains(page, "Truck H1019 comes off the line 3 working days later") {
		t.Error("it is not in the list")
	}
	if code, _ := s.post("/slips/"+s.state().Slips[0].ID+"/withdraw", nil); code != http.StatusSeeOther || len(s.state().Slips) != 0 {
		t.Errorf("withdrawn: %d, %d left", code, len(s.state().Slips))
	}
	if _, page := s.get("/slips"); !strings.Contains(page, "Nothing waits for an answer") {
		t.Error("the empty list does not say so")
	}
}

// Every choice of every truck can have happened: it is taken.
func TestSlip_Kinds(t *testing.T) {
	s := demoSite(t)
	for _, c := range []struct {
		form url.Values
		want plant.Slip
	}{
		// The department of graphics works 8 h on Tuesday 2 March 2027, the first day after now.
		{url.Values{"kind": {plant.StageOverran}, "truck": {"H1016"}, "stage": {"graphics"}, "days": {"1"}}, plant.Slip{Truck: "H1016", Stage: "graphics", Minutes: 480}},
		{url.Values{"kind": {plant.StageOverran}, "truck": {"H1016"}, "stage": {"graphics"}, "hours": {"4"}}, plant.Slip{Truck: "H1016", Stage: "graphics", Minutes: 240}},
		{url.Values{"kind": {plant.TestFailed}, "truck": {"H1003"}, "stage": {"road_test"}}, plant.Slip{Truck: "H1003", Stage: "road_test"}},
		{url.Values{"kind": {plant.BayDown}, "bay": {"pump-1"}, "from": {"2027-03-08"}, "through": {"2027-03-09"}}, plant.Slip{Bay: "pump-1", Over: plant.Range{From: day("2027-03-08"), Through: day("2027-03-09")}}},
		{url.Values{"kind": {plant.CrewAway}, "crew": {"hosts"}, "heads": {"1"}, "from": {"2027-03-08"}}, plant.Slip{Crew: "hosts", Heads: 1, Over: plant.Range{From: day("2027-03-08"), Through: day("2027-03-08")}}},
		{url.Values{"kind": {plant.CustomerMoves}, "visit": {"H1019-F"}, "from": {"2027-03-30"}, "cause": {"storm"}, "clock": {"customer"}}, plant.Slip{Visit: "H1019-F", Over: plant.Range{From: day("2027-03-30"), Through: day("2027-03-30")}, Cause: "storm", Clock: "customer"}},
	} {
		code, page := s.post("/slips", c.form)
		if code != http.StatusSeeOther {
			t.Errorf("%v: %d %s", c.form, code, page)
			continue
		}
		list := s.state().Slips
		got := list[len(list)-1]
		c.want.ID, c.want.Known, c.want.Kind = got.ID, got.Known, c.form.Get("kind")
		if c.want.Over == (plant.Range{}) {
			c.want.Over = plant.Range{From: calendar.None, Through: calendar.None}
		}
		if got != c.want {
			t.Errorf("%v: kept %+v, want %+v", c.form, got, c.want)
		}
		if _, page := s.get("/slips"); !strings.Contains(page, got.ID) {
			t.Errorf("%s is not listed", got.ID)
		}
		s.post("/slips/"+got.ID+"/withdraw", nil)
	}
	for _, bad := range []url.Values{
		{"kind": {plant.LineOffMoved}, "truck": {"H1019"}},
		{"kind": {plant.LineOffMoved}, "truck": {"H1019"}, "days": {"many"}},
		{"kind": {plant.LineOffMoved}, "truck": {"H1001"}, "days": {"2"}},
		{"kind": {plant.TestFailed}, "truck": {"H1019"}, "stage": {"road_test"}},
		{"kind": {plant.BayDown}, "bay": {"pump-1"}},
		{"kind": {plant.CrewAway}, "crew": {"hosts"}, "heads": {"0"}, "from": {"2027-03-08"}},
		{"kind": {"<script>"}, "truck": {"H1019"}},
		{},
	} {
		if code, page := s.post("/slips", bad); code != http.StatusUnprocessableEntity || !strings.Contains(page, `class="next"`) {
			t.Errorf("%v: %d", bad, code)
		}
	}
	if n := len(s.state().Slips); n > 0 {
		t.Errorf("%d slips of refused forms are on record", n)
	}
}

func day(text string) calendar.Date {
	d, err := calendar.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}
