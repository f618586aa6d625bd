package web_test

import (
	"context"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// slipped reports the slip of H1019 and returns the address of the proposal.
func (s *site) slipped() string {
	s.t.Helper()
	_, job := s.post("/slips", url.Values{"truck": {"H1019"}, "kind": {plant.LineOffMoved}, "days": {"3"}})
	code, to := s.get(job)
	if code != http.StatusSeeOther {
		s.t.Fatalf("%d %s", code, to)
	}
	return to
}

// A proposal is accepted, shown as in force, and taken back; nobody else may decide.
func TestProposal_Decided(t *testing.T) {
	s := demoSite(t)
	before := s.state().Plan.Stages
	at := s.slipped()
	s.door.who.Acts = api.ActsOf(api.RoleCoordinator)
	if code, _ := s.post(at+"/accept", nil); code != http.StatusForbidden {
		t.Errorf("a coordinator: %d", code)
	}
	if _, page := s.get(at); strings.Contains(page, at+"/accept") {
		t.Error("a coordinator is offered to accept")
	}
	s.door.who = manager
	if code, to := s.post(at+"/accept", url.Values{"why": {"the cab is late"}}); code != http.StatusSeeOther || to != at {
		t.Fatalf("%d %s", code, to)
	}
	_, page := s.get(at)
	for _, says := range []string{"In force", "Take it back", "/calls", "/trucks/H1016/why"} {
		if !strings.Contains(page, says) {
			t.Errorf("it does not say %q", says)
		}
	}
	if code, page := s.post(at+"/drop", nil); code != http.StatusConflict || !strings.Contains(page, "is decided") {
		t.Errorf("dropped after it was accepted: %d", code)
	}
	st, err := s.app.State(context.Background(), manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	number := st.Revision.Number
	revision := "/revisions/" + itoa(number)
	_, page = s.get(revision)
	for _, says := range []string{"the cab is late", "Work planned on truck H1016", "Final inspection visit start", "Re-check start", "damages value", "Slip S2"} {
		if !strings.Contains(page, says) {
			t.Errorf("%s does not say %q", revision, says)
		}
	}
	// Which stages change their bay differs between plans that are equally good.
	moved := 0
	for _, x := range s.state().Plan.Stages {
		n := slices.IndexFunc(before, func(y plant.Planned) bool { return y.Truck == x.Truck && y.Stage == x.Stage })
		if n < 0 || before[n].Bay == x.Bay {
			continue
		}
		moved++
		stage, wish, inside := strings.Cut(x.Stage, ".")
		name := s.state().FindStage(stage).Name
		if inside {
			name = s.state().FindWish(wish).Name
		}
		if says := name + " bay"; !strings.Contains(page, says) {
			t.Errorf("%s does not say %q, of %s", revision, says, x.Truck)
		}
	}
	if moved == 0 {
		t.Error("no stage changes its bay, so nothing is tried")
	}
	if _, page := s.get("/late"); !strings.Contains(page, "1 truck of") || !strings.Contains(page, "$800") {
		t.Error("the late truck is not told")
	}
	if code, to := s.post(revision+"/undo", url.Values{"to": {"/revisions"}}); code != http.StatusSeeOther || to != "/revisions" {
		t.Fatalf("%d %s", code, to)
	}
	if len(s.state().Slips) != 1 {
		t.Error("the slip does not wait again")
	}
}

// Another proposal under a condition obeys it, can be laid beside the first, and can be
// dropped.
func TestProposal_Conditions(t *testing.T) {
	s := demoSite(t)
	at := s.slipped()
	id := strings.TrimPrefix(at, "/proposals/")
	code, job := s.post("/proposals", url.Values{"again": {id}, "keep": {"H1016"}, "department": {"testing"}})
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, job)
	}
	_, other := s.get(job)
	_, page := s.get(other)
	if !strings.Contains(page, "H1016-F to H1016 stays on Tue Apr 6") || !strings.Contains(page, "no overtime in testing") {
		t.Errorf("the conditions are not told")
	}
	p, err := s.app.Proposal(context.Background(), manager, strings.TrimPrefix(other, "/proposals/"))
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Conditions) != 2 || len(p.Slips) != 1 {
		t.Errorf("asked with %v for %v", p.Conditions, p.Slips)
	}
	for _, v := range p.Impact.Visits {
		if v.Visit == "H1016-F" {
			t.Error("the visit that must stay moves")
		}
	}
	if code, page := s.get(at + "?with=" + p.ID); code != http.StatusOK || !strings.Contains(page, "side by side") || !strings.Contains(page, "decides") {
		t.Errorf("compared: %d", code)
	}
	// One condition is let go, another one added.
	_, job = s.post("/proposals", url.Values{"again": {p.ID}, "under": {`{"kind": "keep_visit", "truck": "H1016"}`}, "without_from": {"2027-04-01"}, "without_through": {"2027-04-02"}})
	_, third := s.get(job)
	q, err := s.app.Proposal(context.Background(), manager, strings.TrimPrefix(third, "/proposals/"))
	if err != nil {
		t.Fatal(err)
	}
	if len(q.Conditions) != 2 || q.Conditions[0].Kind != plant.KeepVisit || q.Conditions[1].Kind != plant.NoVisits {
		t.Errorf("asked with %v", q.Conditions)
	}
	if code, _ := s.post(other+"/drop", nil); code != http.StatusSeeOther {
		t.Errorf("dropped: %d", code)
	}
	if _, page := s.get("/proposals"); !strings.Contains(page, "dropped by manager") {
		t.Error("the list does not say that it was dropped")
	}
	for _, bad := range []url.Values{
		{"again": {id}, "keep": {"H9999"}},
		{"again": {id}, "rather": {"H1016"}},
		{"again": {id}, "before": {"2027-04-01"}},
		{"again": {id}, "without_from": {"soon"}},
		{"again": {id}, "under": {`{"kind": "keep_visit"`}},
	} {
		if code, page := s.post("/proposals", bad); code != http.StatusUnprocessableEntity || !strings.Contains(page, "Ask for another, under a condition") {
			t.Errorf("%v: %d", bad, code)
		}
	}
}

// What no plan can obey comes back with reasons.
func TestProposal_None(t *testing.T) {
	s := demoSite(t)
	id := strings.TrimPrefix(s.slipped(), "/proposals/")
	code, job := s.post("/proposals", url.Values{"again": {id}, "keep": {"H1019"}, "from": {"2027-03-30"}, "through": {"2027-03-31"}})
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, job)
	}
	_, to := s.get(job)
	if code, page := s.get(to); code != http.StatusOK || !strings.Contains(page, "Why there is no such plan") || strings.Contains(page, "/accept") {
		t.Errorf("%d", code)
	}
}

// Ways out are asked for, priced, and made a proposal.
func TestRepairs(t *testing.T) {
	s := demoSite(t)
	s.slipped()
	code, job := s.post("/repairs", nil)
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, job)
	}
	_, at := s.get(job)
	_, page := s.get(at)
	for _, says := range []string{"Do nothing", "$1,800", "Make a proposal of it", "<svg", "The search came to its end"} {
		if !strings.Contains(page, says) {
			t.Errorf("it does not say %q", says)
		}
	}
	code, to := s.post(at+"/proposals", url.Values{"number": {"1"}})
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, to)
	}
	if _, page := s.get(to); !strings.Contains(page, "Electrical test works on Sat Mar 13") {
		t.Error("the measure is not told")
	}
	if code, _ := s.post(to+"/accept", nil); code != http.StatusSeeOther {
		t.Errorf("accepted: %d", code)
	}
	if code, page := s.post(at+"/proposals", url.Values{"number": {"99"}}); code != http.StatusUnprocessableEntity || !strings.Contains(page, "ways out") {
		t.Errorf("a way that is not there: %d", code)
	}
	if code, _ := s.get(strings.Replace(at, "/repairs/", "/answers/", 1)); code != http.StatusNotFound {
		t.Errorf("repairs as reasons: %d", code)
	}
}

// Before a proposal is accepted it says why it moves what it moves: the reasons that the
// plan has once it is in force. When the plant has moved on it says so instead.
func TestProposal_Why(t *testing.T) {
	s := demoSite(t)
	at := s.slipped()
	if _, page := s.get(at); !strings.Contains(page, at+"/why") || strings.Contains(page, `id="reasons"`) {
		t.Fatal("there is nothing to ask by, or reasons that nobody asked for")
	}
	reasons := func(form url.Values) string {
		code, job := s.post(at+"/why", form)
		if code != http.StatusSeeOther {
			t.Fatalf("%d %s", code, job)
		}
		code, to := s.get(job)
		if code != http.StatusSeeOther || !strings.HasPrefix(to, at+"?why=") {
			t.Fatalf("%d %s", code, to)
		}
		to, _, _ = strings.Cut(to, "#")
		_, page := s.get(to)
		_, part, ok := strings.Cut(page, `id="reasons"`)
		if !ok {
			t.Fatalf("no reasons:\n%s", page)
		}
		part, _, _ = strings.Cut(part, "</section>")
		return part
	}
	all, one := reasons(nil), reasons(url.Values{"truck": {"H1016"}})
	if n := strings.Count(one, "<h3>"); n == 0 || strings.Count(one, "<h3>The final inspection visit H1016-F of H1016 ")+strings.Count(one, "<h3>The delivery of H1016 ") != n || strings.Count(all, "<h3>") <= n {
		t.Errorf("for one truck:\n%s", one)
	}
	if code, _ := s.post(at+"/accept", nil); code != http.StatusSeeOther {
		t.Fatal(code)
	}
	j, err := s.app.AskWhy(context.Background(), manager, api.WhyQuestion{Day: calendar.None})
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.get("/answers/" + j.ID)
	_, page, _ = strings.Cut(page, "<main")
	for _, li := range regexp.MustCompile(`<li>.*?</li>`).FindAllString(page, -1) {
		if !strings.Contains(all, strings.ReplaceAll(li, "by plan 2", "by this plan")) {
			t.Errorf("in force it says, and did not before: %s", li)
		}
	}
	if code, page := s.post(at+"/why", nil); code != http.StatusConflict || !strings.Contains(page, "The proposal is in force") {
		t.Errorf("accepted: %d", code)
	}
	if code, _ := s.get(at + "?why=" + j.ID); code != http.StatusNotFound {
		t.Errorf("reasons of something else: %d", code)
	}
}
