package web_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"wetdown/api"
	"wetdown/solver/plant"
)

// boxes are the values of the boxes of conditions that are ticked on a page.
func boxes(t testing.TB, page string) (list []string) {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range doc.Descendants() {
		of := map[string]string{}
		for _, a := range n.Attr {
			of[a.Key] = a.Val
		}
		if n.Data == "input" && of["name"] == "under" && of["type"] == "checkbox" {
			list = append(list, of["value"])
		}
	}
	return list
}

// asked is the question of the job that an address leads to, in the form that it is kept in,
// and the page that shows its answer.
func (s *site) asked(to string, q any) (at, page string, code int) {
	s.t.Helper()
	id := strings.TrimPrefix(to, "/jobs/")
	id, _, _ = strings.Cut(id, "?")
	if strings.HasPrefix(to, "/floor?") {
		u, err := url.Parse(to)
		if err != nil {
			s.t.Fatal(err)
		}
		id, at = u.Query().Get("job"), to
	}
	j, err := s.app.Job(s.t.Context(), manager, id)
	if err != nil {
		s.t.Fatalf("%s: %v", to, err)
	}
	if err := json.Unmarshal(j.Question, q); err != nil {
		s.t.Fatal(err)
	}
	if at == "" {
		if code, at = s.get(to); code != http.StatusSeeOther {
			s.t.Fatalf("%s: %d %s", to, code, at)
		}
	}
	code, page = s.get(at)
	return at, page, code
}

// The same form stands wherever the planner is asked. What is filled in becomes conditions of
// the question; they are told with the answer, stand in its form as boxes that can be let go,
// and stay when the address of the answer is opened by somebody else.
func TestConditions(t *testing.T) {
	s := demoSite(t)
	form := url.Values{
		"keep": {"H1016"}, "delivery": {"H1017"}, "hold": {"H1018-F"}, "department": {"graphics"},
		"rather": {"H1024"}, "than": {"H1020"}, "without_from": {"2027-04-29"}, "without_through": {"2027-04-30"},
	}
	customer := s.state().FindTruck("H1024").Customer
	form.Set("customer", customer)
	form.Set("before", "2027-03-08")
	kinds := []string{plant.KeepVisit, plant.KeepDelivery, plant.HoldVisit, plant.NoOvertime, plant.NotBefore, plant.MoveRather, plant.NoVisits}
	says := []string{"H1016", "no overtime in", "Thu Apr 29"}
	with := func(more url.Values) url.Values {
		f := url.Values{}
		for _, k := range []url.Values{form, more} {
			for name, list := range k { // the order of a form is not looked at
				f[name] = list
			}
		}
		return f
	}
	for _, x := range []struct {
		name string
		ask  func(f url.Values) string
		from url.Values
	}{
		{"offers", func(f url.Values) string { _, to := s.post("/trucks/H1024/offers", f); return to }, nil},
		{"why on a day", func(f url.Values) string { _, to := s.get("/trucks/H1024/why?" + f.Encode()); return to }, url.Values{"on": {"2027-03-30"}}},
		{"why all", func(f url.Values) string { _, to := s.post("/explanations", f); return to }, nil},
		{"ways out", func(f url.Values) string { _, to := s.post("/repairs", f); return to }, url.Values{"truck": {"H1024"}, "day": {"2027-05-05"}}},
	} {
		to := x.ask(with(x.from))
		if !strings.HasPrefix(to, "/jobs/") && !strings.HasPrefix(to, "/floor?") {
			t.Errorf("%s: %s", x.name, to)
			continue
		}
		var q struct{ Conditions []plant.Condition }
		_, page, code := s.asked(to, &q)
		if code != http.StatusOK {
			t.Errorf("%s: %d\n%s", x.name, code, words(page))
		}
		if len(q.Conditions) != len(kinds) {
			t.Errorf("%s: asked under %+v", x.name, q.Conditions)
			continue
		}
		for i, k := range kinds {
			if q.Conditions[i].Kind != k {
				t.Errorf("%s: condition %d is %+v, want %s", x.name, i, q.Conditions[i], k)
			}
		}
		for _, w := range says {
			if !strings.Contains(page, w) {
				t.Errorf("%s: the page does not say %q", x.name, w)
			}
		}
		held := boxes(t, page)
		if len(held) != len(kinds) {
			t.Errorf("%s: boxes %q", x.name, held)
			continue
		}
		// All but the first are let go, and it is said once more, which makes it no second one.
		f := url.Values{"under": held[:1], "keep": {"H1016"}}
		for name, list := range x.from {
			f[name] = list
		}
		_, page, _ = s.asked(x.ask(f), &q)
		if len(q.Conditions) != 1 || q.Conditions[0].Kind != plant.KeepVisit || q.Conditions[0].Truck != "H1016" || len(boxes(t, page)) != 1 {
			t.Errorf("%s: asked again under %+v", x.name, q.Conditions)
		}
	}
}

// Conditions that contradict each other come back as sentences with what to try, in the form
// in which one of them can be let go.
func TestConditions_Contradict(t *testing.T) {
	s := demoSite(t)
	day := s.state().Plan.Day("H1016-F").String()
	form := url.Values{"keep": {"H1016-F"}, "delivery": {"H1020"}, "without_from": {day}}
	for name, to := range map[string]string{
		"offers":       second(s.post("/trucks/H1024/offers", form)),
		"why on a day": second(s.get("/trucks/H1024/why?on=2027-05-05&" + form.Encode())),
		"why all":      second(s.post("/explanations", form)),
		"ways out":     second(s.post("/repairs", form)),
	} {
		var q struct{ Conditions []plant.Condition }
		at, page, _ := s.asked(to, &q)
		if !strings.Contains(page, "No plan obeys what is asked") || !strings.Contains(page, "Ask again without one of the conditions that are named.") {
			t.Errorf("%s, %s: it is not said what contradicts\n%s", name, at, words(page))
		}
		if n := strings.Count(page, "(contradicts:"); len(boxes(t, page)) != 3 || n != 2 { // the delivery has nothing to do with it
			t.Errorf("%s: %d of %d conditions contradict", name, n, len(boxes(t, page)))
		}
	}
}

func second(_ int, to string) string { return to }

// A floor can be sent on before anything was looked for, and what cannot be a condition is
// refused where it was typed.
func TestConditions_Address(t *testing.T) {
	s := demoSite(t)
	at := "/floor?" + url.Values{"truck": {"H1024"}, "under": {`{"kind":"keep_visit","truck":"H1016"}`, `{"kind":"no_overtime","department":"graphics"}`}}.Encode()
	code, page := s.get(at)
	if held := boxes(t, page); code != http.StatusOK || len(held) != 2 || held[0] != `{"kind":"keep_visit","truck":"H1016"}` {
		t.Errorf("%d, %q", code, held)
	}
	for name, f := range map[string]url.Values{
		"no such truck":  {"keep": {"H9999"}},
		"half of it":     {"before": {"2027-04-01"}},
		"no day":         {"without_from": {"soon"}},
		"no JSON":        {"under": {`{"kind": `}},
		"another key":    {"under": {`{"kind":"keep_visit","lorry":"H1016"}`}},
		"more than one":  {"under": {`{"kind":"keep_visit","truck":"H1016"}], "more": [`}},
		"another number": {"under": {`7`}},
	} {
		if code, page := s.post("/trucks/H1024/offers", f); code != http.StatusUnprocessableEntity || !strings.Contains(page, `role="alert"`) || !strings.Contains(page, "Look again, under a condition") {
			t.Errorf("%s on the floor: %d", name, code)
		}
		if code, page := s.get("/trucks/H1024/why?" + f.Encode()); code != http.StatusUnprocessableEntity || !strings.Contains(page, `role="alert"`) {
			t.Errorf("%s, why: %d", name, code)
		}
		if code, page := s.post("/repairs", f); code != http.StatusUnprocessableEntity || !strings.Contains(page, `role="alert"`) {
			t.Errorf("%s, ways out: %d", name, code)
		}
	}
	s.door.who = api.Actor{Name: "reader", Acts: api.ActsOf(api.RoleReader)}
	if code, page := s.get(at); code != http.StatusOK || len(boxes(t, page)) != 2 {
		t.Errorf("a reader gets %d", code)
	}
}
