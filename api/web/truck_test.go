package web_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"net/http"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/api/web"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

func TestTrucks(t *testing.T) {
	s := demoSite(t)
	for _, c := range []struct {
		path       string
		says, hush string
	}{
		{"/trucks", "H1019", "delivered</td>"},
		{"/trucks?q=h1019", "H1019", "H1018"},
		{"/trucks?q=Kestanmarch", "H1006", "H1019"},
		{"/trucks?show=line", "H1019", "H1003"},
		{"/trucks?show=off", "H1003", "H1019"},
		{"/trucks?show=late", "No truck is to be shown so", "H1019"},
		{"/trucks/H1019", "Report a slip", "delivered"},
		{"/trucks/H1001", "Papers and release", "Report a slip</button>"},
		{"/late", "No truck is late by the plan in force", "Ways out"},
		{"/loads", "Graphics artists", "NaN"},
		{"/progress", "up to now everything is told", "The plan in force no longer holds"},
		{"/revisions", "revisions/2", "Older"},
		{"/revisions/1", "Added", "NaN"},
	} {
		code, page := s.get(c.path)
		if code != http.StatusOK || !strings.Contains(page, c.says) || strings.Contains(page, c.hush) {
			t.Errorf("%s: %d; says %q: %v; says %q: %v", c.path, code, c.says, strings.Contains(page, c.says), c.hush, strings.Contains(page, c.hush))
		}
	}
	for _, path := range []string{"/trucks/H9999", "/revisions/99", "/revisions/x", "/proposals/none", "/repairs/none", "/answers/none", "/slips/new?truck=H9999"} {
		if code, page := s.get(path); code != http.StatusNotFound || !strings.Contains(page, `role="alert"`) {
			t.Errorf("%s: %d", path, code)
		}
	}
}

// A truck can be told to have begun and ended a stage, and to come off the line another
// day; what was said stays on its page.
func TestTruck_Reports(t *testing.T) {
	s := demoSite(t)
	if code, to := s.post("/trucks/H1002/progress", url.Values{"stage": {"corrections"}, "what": {"ended"}, "at": {"2027-03-01T06:00"}}); code != http.StatusSeeOther || to != "/trucks/H1002" {
		t.Fatalf("%d %s", code, to)
	}
	if n := len(s.state().FindTruck("H1002").Running); n != 0 {
		t.Errorf("%d stages still run", n)
	}
	if code, to := s.post("/trucks/H1019/line-off", url.Values{"day": {"2027-03-10"}, "reason": {"the cab <late>"}, "cause": {"paint"}}); code != http.StatusSeeOther || to != "/trucks/H1019" {
		t.Fatalf("%d %s", code, to)
	}
	if _, page := s.get("/trucks/H1019"); !strings.Contains(page, "manager, the cab &lt;late&gt;, paint") || !strings.Contains(page, "Wed Mar 10") {
		t.Error("what was said about line-off is not told")
	}
	for path, form := range map[string]url.Values{
		"/trucks/H1019/line-off": {"day": {"2027-02-01"}},
		"/trucks/H1003/line-off": {"day": {"2027-03-10"}},
		"/trucks/H1002/progress": {"stage": {"re_check"}, "what": {"began"}, "at": {"2027-03-05T06:00"}},
		"/trucks/H1001/progress": {"stage": {"papers"}, "what": {"ended"}},
	} {
		if code, page := s.post(path, form); code < 400 || code > 499 || !strings.Contains(page, `class="next"`) || !strings.Contains(page, "Stage by stage") {
			t.Errorf("%s %v: %d", path, form, code)
		}
	}
}

// Reasons lead to ways out, and a day that can be had to its booking.
func TestWhy(t *testing.T) {
	s := demoSite(t)
	_, job := s.get("/trucks/H1019/why?on=2027-03-31")
	_, to := s.get(job)
	if code, page := s.get(to); code != http.StatusOK || !strings.Contains(page, "ask the customer for wider windows") || !strings.Contains(page, "Look for ways out") {
		t.Errorf("%d %s", code, to)
	}
	_, job = s.get("/trucks/H1019/why?on=2027-03-29")
	_, to = s.get(job)
	if _, page := s.get(to); !strings.Contains(page, "/visits/H1019-F?day=2027-03-29#order") {
		t.Error("the day that can be had cannot be booked from there")
	}
	_, job = s.get("/trucks/H1019/why")
	_, to = s.get(job)
	if _, page := s.get(to); !strings.Contains(page, "There is nothing to explain") {
		t.Error("nothing is explained without a word")
	}
	s.post(s.slipped()+"/accept", nil)
	_, job = s.post("/explanations", nil)
	_, to = s.get(job)
	_, page := s.get(to)
	for _, says := range []string{"Because", "H1019", "H1016", "What could help"} {
		if !strings.Contains(page, says) {
			t.Errorf("the reasons of the plan do not say %q", says)
		}
	}
}

// A day on, as planned but for two things.
func TestProgress(t *testing.T) {
	s := demoSite(t)
	_, page := s.get("/progress?to=2027-03-02T07:01")
	at := func(truck, name string) string {
		for i := range 60 {
			n := strconv.Itoa(i)
			if strings.Contains(page, `name="truck-`+n+`" value="`+truck+`"`) && strings.Contains(page, `name="stage-`+n+`" value="`+name+`"`) {
				return n
			}
		}
		t.Fatalf("the page does not ask about %s of %s", name, truck)
		return ""
	}
	one, two := at("H1013", "foam_test"), at("H1016", "weigh")
	form := url.Values{"to": {"2027-03-02T07:01"}, "truck-" + one: {"H1013"}, "stage-" + one: {"foam_test"}, "what-" + one: {"runs"}, "truck-" + two: {"H1016"}, "stage-" + two: {"weigh"}, "what-" + two: {"not"}}
	if code, page := s.post("/progress", form); code != http.StatusUnprocessableEntity || !strings.Contains(page, "How many hours are left?") || !strings.Contains(page, `<option value="not" selected>`) {
		t.Fatalf("%d", code)
	}
	form.Set("hours-"+one, "3")
	code, to := s.post("/progress", form)
	if code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, to)
	}
	p := s.state()
	if p.AsOf.String() != "2027-03-02T07:01" {
		t.Errorf("the plant stands as of %s", p.AsOf)
	}
	if r := p.FindTruck("H1013").Running; len(r) == 0 || r[0].Stage != "foam_test" || r[0].RemainingMinutes != 180 {
		t.Errorf("H1013 runs %v", r)
	}
	if r := p.FindTruck("H1016").Running; len(r) > 0 {
		t.Errorf("H1016 runs %v, which comes after weigh", r)
	}
	for _, d := range p.FindTruck("H1016").Done {
		if d.Stage == "weigh" || d.Stage == "burnish" {
			t.Errorf("%s of H1016 is done", d.Stage)
		}
	}
	if _, page := s.get(to); !strings.Contains(page, "The plan in force no longer holds") || !strings.Contains(page, "Ask for a new plan") {
		t.Error("that the plan no longer holds is not said")
	}
	if code, _ := s.post("/progress", url.Values{"to": {"2027-03-01T06:00"}}); code != http.StatusConflict {
		t.Errorf("back in time: %d", code)
	}
	if code, _ := s.post("/progress", url.Values{"to": {"2027-03-04T06:00"}, "seen": {"1"}}); code != http.StatusConflict {
		t.Errorf("by an older page: %d", code)
	}
}

// Every page says so when nobody has told for days how it went.
func TestStale(t *testing.T) {
	ctx := context.Background()
	for now, says := range map[string]string{"2027-03-02T20:00:00Z": "", "2027-03-03T20:00:00Z": "1 working day behind", "2027-03-08T20:00:00Z": "4 working days behind"} {
		at, err := time.Parse(time.RFC3339, now)
		if err != nil {
			t.Fatal(err)
		}
		st, err := store.Open(ctx, filepath.Join(t.TempDir(), "wetdown.db"))
		if err != nil {
			t.Fatal(err)
		}
		a := api.New(st, api.Options{Clock: func() time.Time { return at }})
		a.Serve(inline{a})
		d := &door{who: manager}
		s := &site{t, a, d, web.New(a, d, web.Options{})}
		s.load(demoPlant(t))
		_, page := s.get("/floor")
		if got := strings.Contains(page, "behind the clock"); got != (says != "") || !strings.Contains(page, says) {
			t.Errorf("at %s: %v, want %q", now, got, says)
		}
		if _, page := s.get("/progress"); says != "" && !strings.Contains(page, "What became of it") {
			t.Errorf("at %s: no work is asked about", now)
		}
		if err := errors.Join(a.Close(), st.Close()); err != nil {
			t.Error(err)
		}
	}
}

// nasty names of everything that has one.
func nasty(p *plant.Plant) {
	names := []string{`<script>alert("1")</script>`, "مطافئ المدينة \u200fالقديمة", strings.Repeat("Sehrlangername", 20), `O'Brien & "Söhne", {x: [y]}`}
	for i := range p.Customers {
		p.Customers[i].Name = names[i%len(names)]
		p.Customers[i].Town = names[(i+1)%len(names)]
	}
	for i := range p.Bays {
		p.Bays[i].Name = names[i%len(names)]
	}
	for i := range p.Crews {
		p.Crews[i].Name = names[i%len(names)]
	}
	for i := range p.Route {
		p.Route[i].Name = names[i%len(names)]
	}
}

// managerPages are all pages of this plant that need no answer of the planner.
func managerPages(p *plant.Plant) []string {
	list := []string{"/slips", "/slips/new", "/slips/new?kind=bay_down", "/slips/new?kind=crew_away", "/slips/new?kind=customer_moves", "/proposals", "/trucks", "/late", "/loads", "/line", "/progress", "/progress?to=" + p.AsOf.Date().AddDays(7).At(360).String(), "/revisions", "/revisions/1", "/revisions/2"}
	for i := range p.Trucks {
		if i%10 == 0 {
			id := p.Trucks[i].ID
			list = append(list, "/trucks/"+id, "/slips/new?truck="+id, "/slips/new?kind=stage_overran&stage=graphics&truck="+id)
		}
	}
	return list
}

// Whatever things are called, a page is whole, and nothing in a name is taken for HTML.
func TestManager_Nasty(t *testing.T) {
	p := demoPlant(t)
	nasty(p)
	s := emptySite(t)
	s.load(p)
	at := s.slipped()
	_, job := s.post("/repairs", nil)
	_, repairs := s.get(job)
	for _, path := range append(managerPages(p), at, repairs) {
		code, page := s.get(path)
		if code != http.StatusOK || strings.Contains(page, "<script>alert") {
			t.Errorf("%s: %d", path, code)
		}
	}
}

// Pages of a plant of 200 trucks stay below 100 kB as they are sent.
func TestManager_Large(t *testing.T) {
	if testing.Short() {
		t.Skip("it takes a plan of 200 trucks")
	}
	p := generate.Generate(generate.Options{Seed: 1, Trucks: 200, Load: 0.8})
	s := emptySite(t)
	s.load(p)
	_, job := s.post("/slips", url.Values{"kind": {plant.BayDown}, "bay": {p.Bays[0].ID}, "from": {"2027-03-08"}, "through": {"2027-03-12"}})
	_, proposal := s.get(job)
	for _, path := range append(managerPages(p), proposal) {
		code, page := s.get(path)
		if code != http.StatusOK {
			t.Errorf("%s: %d", path, code)
		}
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		z.Write([]byte(page))
		z.Close()
		if b.Len() > 100_000 {
			t.Errorf("%s: %d bytes", path, b.Len())
		}
	}
}

// demoPlant is the plant of the demo, without a plan.
func demoPlant(t testing.TB) *plant.Plant {
	t.Helper()
	p, faults := plant.Read("demo", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	return p
}
