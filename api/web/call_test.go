package web_test

import (
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/solver"
)

// called slips H1019, has the plan accepted, and returns the open calls.
func (s *site) called() []*api.Call {
	s.t.Helper()
	if code, to := s.post(s.slipped()+"/accept", nil); code != http.StatusSeeOther {
		s.t.Fatalf("%d %s", code, to)
	}
	open, err := s.app.Calls(context.Background(), manager, api.CallOpen, api.Page{})
	if err != nil || len(open) == 0 {
		s.t.Fatalf("%v %v", open, err)
	}
	return open
}

// callAbout is the call about a visit.
func callAbout(t testing.TB, list []*api.Call, visit string) *api.Call {
	t.Helper()
	for _, c := range list {
		if c.Visit == visit {
			return c
		}
	}
	t.Fatalf("nobody is called about %s", visit)
	return nil
}

// cardOf is the part of the page of calls that is about one call, as text.
func cardOf(t testing.TB, page string, c *api.Call) string {
	t.Helper()
	_, card, ok := strings.Cut(page, `id="call-`+c.ID+`"`)
	if !ok {
		t.Fatalf("call %s is not on the page", c.ID)
	}
	for _, next := range []string{`id="call-`, "Again later</h2>", "<h2>Called"} {
		card, _, _ = strings.Cut(card, next)
	}
	return html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(card, ""))
}

// Each call has its words: what was agreed and what is asked for, in calendar days and with
// the hours of both plans. What the planner knows comes with it.
func TestCalls_Script(t *testing.T) {
	s := demoSite(t)
	before := s.state()
	calls := s.called()
	after := s.state()
	c := callAbout(t, calls, "H1016-F")
	if c.Move == nil || c.Was == nil || c.Is == nil {
		t.Fatalf("%+v", c)
	}
	for _, x := range []struct {
		name string
		got  *api.Held
	}{{"before", c.Was}, {"after", c.Is}} {
		p := before
		if x.name == "after" {
			p = after
		}
		found := false
		for _, r := range p.Plan.Stages {
			found = found || r.Truck == "H1016" && r.Stage == "final_inspection" && r.Start == x.got.Start && r.End == x.got.End
		}
		if !found {
			t.Errorf("%s: no row of the plan is held from %s to %s", x.name, x.got.Start, x.got.End)
		}
	}
	_, page := s.get("/calls")
	card := cardOf(t, page, c)
	// Tuesday April 6 to Thursday April 8, 2027 is two days: by the calendar.
	for _, says := range []string{"This is Pellanmere Apparatus Works, about your pumper H1016.", "We had agreed on Tue Apr 6, 2027, ", "ready for you on Thu Apr 8, 2027", "2 calendar days later", "Can your 2 people come on Thu Apr 8, 2027?", "Please buy no travel for Tue Apr 6, 2027.", "We need your answer by "} {
		if !strings.Contains(card, says) {
			t.Errorf("the call does not say %q:\n%s", says, card)
		}
	}
	late := false
	for _, c := range calls {
		if c.Delivery == nil {
			continue
		}
		card := cardOf(t, page, c)
		late = true
		for _, says := range []string{"after the day of your contract", "By the contract the delay costs the plant $800 ($0 in the plan before)"} {
			if !strings.Contains(card, says) {
				t.Errorf("the call about %s does not say %q:\n%s", c.Truck, says, card)
			}
		}
	}
	if !late {
		t.Error("no call is about the late delivery")
	}
	if other := callAbout(t, calls, "H1019-F"); strings.Contains(cardOf(t, page, c), other.Customer) || strings.Contains(cardOf(t, page, c), "H1019") {
		t.Error("one customer would hear of another")
	}
}

// Days to offer instead are those that the planner offers for the visit, without the one
// that is asked for. When the plant has moved on they are gone.
func TestCalls_OtherDays(t *testing.T) {
	s := demoSite(t)
	c := callAbout(t, s.called(), "H1016-F")
	code, to := s.post("/calls", url.Values{"call": {c.ID}})
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, to)
	}
	code, back := s.get(to)
	if code != http.StatusSeeOther || !strings.HasPrefix(back, "/calls?days=") || !strings.HasSuffix(back, "#call-"+c.ID) {
		t.Fatalf("%d %s", code, back)
	}
	at, _, _ := strings.Cut(back, "#")
	_, page := s.get(at)
	card := cardOf(t, page, c)
	offered, err := solver.Offers(context.Background(), s.state(), "H1016", solver.Options{})
	if err != nil {
		t.Fatal(err)
	}
	others := 0
	for _, o := range offered.Offers {
		_, m, d := o.Day.YMD()
		words := m.String()[:3] + " " + itoa(int64(d)) + ", 2027\n"
		if o.Day == c.Move.To {
			continue
		}
		if others++; others <= 8 && !strings.Contains(strings.ReplaceAll(card, "</li>", "\n"), strings.TrimSpace(words)) {
			t.Errorf("%s is not offered:\n%s", o.Day, card)
		}
	}
	if others == 0 {
		t.Fatal("the planner offers no other day: this tests nothing")
	}
	if _, page := s.post("/slips", url.Values{"truck": {"H1018"}, "kind": {"line_off_moved"}, "days": {"1"}}); page == "" {
		t.Fatal("no slip")
	}
	if _, page := s.get(at); !strings.Contains(cardOf(t, page, c), "Other days were not looked for") {
		t.Error("days for an older plant are still offered")
	}
	if code, page := s.post("/calls", url.Values{"call": {"none"}}); code != http.StatusNotFound || !strings.Contains(page, "no such call") {
		t.Errorf("%d", code)
	}
	if code, to := s.post("/calls", nil); code != http.StatusSeeOther || !strings.HasPrefix(to, "/jobs/") {
		t.Errorf("for all: %d %s", code, to)
	}
}

// A call is done, not done after all, or to be made again on a day; each with a note. A
// refusal changes nothing and says what to do.
func TestCalls_Ticked(t *testing.T) {
	s := demoSite(t)
	c := callAbout(t, s.called(), "H1016-F")
	at := "/calls/" + c.ID
	for name, form := range map[string]url.Values{
		"no day":       {"do": {"again"}},
		"a past day":   {"do": {"again"}, "again": {"2027-02-26"}},
		"no word":      {"note": {"x"}},
		"a long note":  {"do": {"done"}, "note": {strings.Repeat("x", 1001)}},
		"no day at al": {"do": {"again"}, "again": {"soon"}},
	} {
		if code, page := s.post(at, form); code != http.StatusUnprocessableEntity || !strings.Contains(page, `role="alert"`) || !strings.Contains(page, "call-"+c.ID) {
			t.Errorf("%s: %d", name, code)
		}
	}
	if code, to := s.post(at, url.Values{"do": {"again"}, "again": {"2027-03-04"}, "note": {"the chief is away <b>"}}); code != http.StatusSeeOther || to != "/calls" {
		t.Fatalf("%d %s", code, to)
	}
	_, page := s.get("/calls")
	_, later, ok := strings.Cut(page, "Again later</h2>")
	if !ok || !strings.Contains(later, "call-"+c.ID) || !strings.Contains(cardOf(t, page, c), "again Thu Mar 4") || !strings.Contains(cardOf(t, page, c), "manager: the chief is away <b>") {
		t.Errorf("it does not wait for its day")
	}
	if code, _ := s.post(at, url.Values{"do": {"done"}, "note": {"agreed"}}); code != http.StatusSeeOther {
		t.Errorf("done: %d", code)
	}
	if _, page := s.get("/calls"); strings.Contains(page, "call-"+c.ID) || !strings.Contains(page, "agreed") {
		t.Error("a call that is done is still open")
	}
	if code, page := s.post(at, url.Values{"do": {"again"}, "again": {"2027-03-05"}}); code != http.StatusConflict || !strings.Contains(page, "This call is over") {
		t.Errorf("again after it was done: %d", code)
	}
	if code, _ := s.post(at, url.Values{"do": {"open"}}); code != http.StatusSeeOther {
		t.Errorf("not done after all: %d", code)
	}
	if _, page := s.get("/calls"); !strings.Contains(page, "call-"+c.ID) {
		t.Error("it is not open again")
	}
}

// A plan that was taken back is told to nobody, and the way back to who may have heard of it.
// When the plan has moved on since, the call says so before anybody calls.
func TestCalls_MovedOn(t *testing.T) {
	s := demoSite(t)
	c := callAbout(t, s.called(), "H1016-F")
	plan := s.revision()
	if code, to := s.post("/calls/"+c.ID, url.Values{"do": {"again"}, "note": {"rang, nobody there"}, "again": {"2027-03-02"}}); code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, to)
	}
	if code, to := s.post("/revisions/"+itoa(plan)+"/undo", url.Values{"to": {"/calls"}}); code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, to)
	}
	open, err := s.app.Calls(t.Context(), manager, api.CallOpen, api.Page{})
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.get("/calls")
	if strings.Contains(page, `id="call-`+c.ID+`"`) {
		t.Error("a plan that was taken back is still told")
	}
	if card := cardOf(t, page, callAbout(t, open, "H1016-F")); !strings.Contains(card, "Tue Apr 6, 2027") {
		t.Errorf("the way back is not told to who may have heard of the plan:\n%s", card)
	}
	// The customer has the new day already.
	s = demoSite(t)
	c = callAbout(t, s.called(), "H1016-F")
	if code, to := s.post("/visits/H1016-F/booking", url.Values{"state": {"confirmed"}, "day": {c.Move.To.String()}}); code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, to)
	}
	_, page = s.get("/calls")
	if !strings.Contains(cardOf(t, page, c), "booked already") {
		t.Error("what is booked is still asked for")
	}
}

// A call about a visit that is not safe any more has words for the customer, without shares
// of runs among them, and stands beside the visit where that is listed.
func TestCalls_Unsafe(t *testing.T) {
	s := demoSite(t)
	if _, err := s.app.Readiness(t.Context(), manager, true); err != nil {
		t.Fatal(err)
	}
	if _, err := s.app.ReportLineOff(t.Context(), manager, api.Intent{}, api.LineOff{Truck: "H1019", Day: day("2027-03-22")}); err != nil {
		t.Fatal(err)
	}
	r, err := s.app.Readiness(t.Context(), manager, true)
	if err != nil {
		t.Fatal(err)
	}
	open, err := s.app.Calls(t.Context(), manager, api.CallOpen, api.Page{})
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.get("/calls")
	_, visits := s.get("/visits")
	n := 0
	for _, u := range r.Unsafe {
		if u.Call == "" {
			continue
		}
		n++
		x, err := r.Odds.For(u.Visit)
		if err != nil {
			t.Fatal(err)
		}
		c := callAbout(t, open, u.Visit)
		card := cardOf(t, page, c)
		said, _, _ := strings.Cut(card, "ByWe need")
		for _, want := range []string{"We cannot be sure that the truck is ready for you by then.", x.Day.Weekday().String()[:3], "Could your"} {
			if !strings.Contains(said, want) {
				t.Errorf("%s: no %q in %s", u.Visit, want, said)
			}
		}
		if strings.Contains(said, "%") || strings.Contains(said, "in 100") || !strings.Contains(card, "simulated runs") {
			t.Errorf("%s: shares of runs are to be said, or not to be known: %s", u.Visit, card)
		}
		if frozen := s.state().Frozen(s.state().FindVisit(u.Visit)); frozen == strings.Contains(said, "buy no travel yet") {
			t.Errorf("%s, travel bought %v: %s", u.Visit, frozen, said)
		}
		if !strings.Contains(visits, "/calls#call-"+u.Call) {
			t.Errorf("%s: no way from the visit to the call", u.Visit)
		}
	}
	if n == 0 {
		t.Fatalf("nobody is to be called: %+v", r.Unsafe)
	}
}
