package web_test

import (
	"bytes"
	"cmp"
	"context"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"golang.org/x/net/html"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// A round walks from page to page by their links, one address for each page of the table
// of pages, for each kind of thing in the plant and for each set of fields in a query.
type round struct {
	s     *site
	pages *http.ServeMux
	seen  map[string]bool
	queue []string
}

// walk visits pages from the start page and from the addresses on, and gives each with
// its answer to see.
func (s *site) walk(see func(path string, a *httptest.ResponseRecorder), from ...string) {
	s.t.Helper()
	r := &round{s: s, pages: http.NewServeMux(), seen: map[string]bool{}}
	for _, p := range s.web.Patterns() {
		r.pages.HandleFunc(p, func(http.ResponseWriter, *http.Request) {})
	}
	r.add("/")
	for _, path := range from {
		r.add(path)
	}
	for len(r.queue) > 0 {
		path := r.queue[0]
		r.queue = r.queue[1:]
		a := s.ask1(path)
		if to := a.Header().Get("Location"); to != "" {
			r.add(to)
			continue
		}
		see(path, a)
		for _, to := range links(a.Body.String()) {
			r.add(to)
		}
	}
}

// add puts an address at the end of the queue unless one like it was there.
func (r *round) add(address string) {
	u, err := url.Parse(address)
	if err != nil || u.Host != "" || !strings.HasPrefix(u.Path, "/") {
		return
	}
	_, key := r.pages.Handler(httptest.NewRequest(http.MethodGet, u.Path, nil))
	if key == "" || key == "GET /file/" {
		return // it is no page
	}
	switch {
	case strings.HasSuffix(u.Path, "/new"):
		key = u.Path
	case strings.HasPrefix(key, "GET /setup/{noun}"):
		key = strings.Join(strings.Split(u.Path, "/")[:3], "/") + key
	}
	for name := range u.Query() { // in any order: the key is sorted
		key += " " + name
	}
	words := strings.Fields(key)
	slices.Sort(words)
	if key = strings.Join(words, " "); r.seen[key] {
		return
	}
	r.seen[key] = true
	u.Fragment = ""
	r.queue = append(r.queue, u.String())
}

// links are where the links of a page lead to, in their order.
func links(text string) (list []string) {
	z := html.NewTokenizer(strings.NewReader(text))
	for {
		switch z.Next() {
		case html.ErrorToken:
			return list
		case html.StartTagToken:
			k := z.Token()
			for _, a := range k.Attr {
				if k.Data == "a" && a.Key == "href" {
					list = append(list, a.Val)
				}
			}
		}
	}
}

// ask1 asks for a page.
func (s *site) ask1(path string) *httptest.ResponseRecorder {
	s.t.Helper()
	w := httptest.NewRecorder()
	s.web.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

// firstPlan is a plant with the first plan that was found for it, as good as that is.
func firstPlan(t testing.TB, trucks int) *plant.Plant {
	t.Helper()
	p := generate.Generate(generate.Options{Seed: 1, Trucks: trucks, Load: 0.9})
	ctx, enough := context.WithCancel(context.Background())
	defer enough()
	r, err := solver.Plan(ctx, p, solver.Options{Report: func(g solver.Progress) {
		if g.Plan != nil {
			enough()
		}
	}})
	if err != nil || r.Plan == nil {
		t.Fatal(r, err)
	}
	p.Plan = r.Plan
	return p
}

// crowded is a site with a large plant of which much has been asked: a slip, a proposal
// that answers it, days on offer, reasons and a quote. It returns the addresses of the answers,
// that of the proposal first.
func crowded(t testing.TB, trucks int) (*site, []string) {
	t.Helper()
	ctx := context.Background()
	s := emptySite(t)
	s.door.who = administrator
	p := firstPlan(t, trucks)
	if _, err := s.app.Load(ctx, manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	if _, err := s.app.CreateAccount(ctx, administrator, api.AccountOrder{Login: "manager", Name: "Mara Quill", Role: api.RoleAdministrator, Password: firstPassword}); err != nil {
		t.Fatal(err)
	}
	var wants *plant.Visit // a final inspection that is agreed on
	for i := range p.Visits {
		if v := &p.Visits[i]; wants == nil && v.Kind == plant.FinalInspection && v.Booking.State == plant.Tentative {
			wants = v
		}
	}
	if _, _, err := s.app.ReportSlip(ctx, manager, api.Intent{}, plant.Slip{Kind: plant.LineOffMoved, Truck: onLine(p), Days: 6, Clock: "plant"}); err != nil {
		t.Fatal(err)
	}
	job := func(j *api.Job, err error) string {
		t.Helper()
		if err == nil {
			j, err = s.app.Job(ctx, manager, j.ID)
		}
		if err != nil || j.State != api.JobDone {
			t.Fatalf("%+v, %v", j, err)
		}
		return j.ID
	}
	proposal := job(s.app.AskProposal(ctx, manager, api.ProposeQuestion{Limit: 10 * time.Second}))
	offers := job(s.app.AskOffers(ctx, manager, api.OffersQuestion{Truck: wants.Truck}))
	why := job(s.app.AskWhy(ctx, manager, api.WhyQuestion{Truck: wants.Truck, Day: wants.Windows[0].From}))
	s.quoted(orderWith("customer", p.Customers[0].ID))
	return s, []string{"/proposals/" + proposal, "/floor?truck=" + wants.Truck + "&job=" + offers, "/answers/" + why, "/visits/" + wants.ID + "?day=" + wants.Booking.Day.String()}
}

var element = regexp.MustCompile(`<[a-z]`)

// Pages of a plant of 400 trucks are small enough to be sent. What the server takes for
// each is logged, not asserted: go test ./api/web -run TestLarge -v
func TestLarge(t *testing.T) {
	if testing.Short() {
		t.Skip("it takes a plan of 400 trucks")
	}
	s, from := crowded(t, 400)
	type cost struct {
		path  string
		took  time.Duration
		bytes int
	}
	var list []cost
	look := func(path string, a *httptest.ResponseRecorder) {
		if a.Code != http.StatusOK {
			t.Errorf("%s: %d", path, a.Code)
		}
		if !strings.HasPrefix(a.Header().Get("Content-Type"), "text/html") {
			return // a file
		}
		r := httptest.NewRequest(http.MethodGet, path, nil)
		r.Header.Set("Accept-Encoding", "gzip")
		b := httptest.NewRecorder()
		s.web.ServeHTTP(b, r)
		if b.Body.Len() > 100_000 || b.Header().Get("Content-Encoding") != "gzip" {
			t.Errorf("%s: %d bytes, packed with %q", path, b.Body.Len(), b.Header().Get("Content-Encoding"))
		}
		if n := len(element.FindAllIndex(a.Body.Bytes(), -1)); n > 12_000 { // with 10,000 a page was seen to scroll without a late frame: BenchmarkScroll
			t.Errorf("%s: %d elements", path, n)
		}
		took := time.Hour
		for range 3 { // other work on the machine lengthens it, nothing shortens it
			since := time.Now()
			s.ask1(path)
			took = min(took, time.Since(since))
		}
		list = append(list, cost{path, took, b.Body.Len()})
	}
	s.walk(look, from...)
	proposal := strings.TrimPrefix(from[0], "/proposals/")
	if _, err := s.app.Accept(context.Background(), manager, api.Intent{}, proposal); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{from[0], "/calls", "/revisions/3", "/revisions"} {
		look(path, s.ask1(path))
	}
	if len(list) < 60 {
		t.Errorf("only %d pages", len(list))
	}
	slices.SortFunc(list, func(x, y cost) int { return cmp.Compare(y.took, x.took) })
	for _, c := range list {
		t.Logf("%8.1f ms %7d bytes %s", float64(c.took.Microseconds())/1000, c.bytes, c.path)
	}
}

// A screen is how large a window is, in CSS pixels.
type screen struct {
	name          string
	width, height int64
}

var (
	onDesk      = screen{"desk", 1360, 900}
	onTelephone = screen{"telephone", 390, 800}
)

// shown opens every address in a browser, and looks whether the page can be used. Of pages
// that are the same but for their words and where their links lead, axe looks at the first.
func (s *site) shown(state string, on screen, paths ...string) {
	s.t.Helper()
	script := axe(s.t)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a := httptest.NewRecorder()
		s.web.ServeHTTP(a, r)
		a.Header().Del("Refresh") // a page that waits would come again while it is looked at
		maps.Copy(w.Header(), a.Header())
		w.WriteHeader(a.Code)
		if _, err := a.Body.WriteTo(w); err != nil {
			s.t.Log(err) // the browser has gone on
		}
	}))
	s.t.Cleanup(server.Close)
	b := browse(s.t, server.URL)
	do(b, chromedp.EmulateViewport(on.width, on.height))
	seen := map[string]bool{}
	for _, path := range paths {
		name := state + " " + path + ", " + on.name
		b.open(path)
		if made := wordless(s.ask1(path).Body.String()); seen[made] {
			b.fits(name)
		} else {
			seen[made] = true
			b.usable(script, name)
		}
	}
}

// wordless is a page with a mark for words and for where links and forms lead.
func wordless(text string) string {
	var made strings.Builder
	z := html.NewTokenizer(strings.NewReader(text))
	for {
		switch z.Next() {
		case html.ErrorToken:
			return made.String()
		case html.TextToken:
			if len(bytes.TrimSpace(z.Text())) > 0 {
				made.WriteString("words")
			}
		default:
			k := z.Token()
			for i := range k.Attr {
				if a := &k.Attr[i]; (a.Key == "href" || a.Key == "action") && a.Val != "" {
					a.Val = "there"
				}
			}
			made.WriteString(k.String())
		}
	}
}

// round lists the pages that links lead to, each of which must be there.
func (s *site) round(from ...string) (list []string) {
	s.t.Helper()
	s.walk(func(path string, a *httptest.ResponseRecorder) {
		if a.Code != http.StatusOK {
			s.t.Errorf("%s: %d", path, a.Code)
		}
		if strings.HasPrefix(a.Header().Get("Content-Type"), "text/html") {
			list = append(list, path)
		}
	}, from...)
	return list
}

// refusals asks for every page of the table of pages, with id in the place of what it is
// about, and returns those that are refused with the code. Each says what to do next.
func (s *site) refusals(id string, code int) (list []string) {
	s.t.Helper()
	for _, p := range s.web.Patterns() {
		path, is := strings.CutPrefix(p, "GET ")
		if !is || path == "/file/" {
			continue
		}
		path = regexp.MustCompile(`\{(\$|[a-z]+)\}`).ReplaceAllStringFunc(path, func(name string) string {
			if name == "{$}" {
				return ""
			}
			return id
		})
		a := s.ask1(path)
		if a.Code >= http.StatusInternalServerError {
			s.t.Errorf("%s: %d", path, a.Code)
		}
		if a.Code >= http.StatusBadRequest && !strings.Contains(a.Body.String(), `class="next"`) {
			s.t.Errorf("%s: %d, and no next step", path, a.Code)
		}
		if a.Code == code {
			list = append(list, path)
		}
	}
	return list
}

// Without a plant, with a plant in which nobody has asked for anything, and with a crowded
// one, the pages can be used. As they usually are, all of them are looked at by
// TestBrowser_Axe.
func TestState_EmptyAndCrowded(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser some minutes")
	}
	t.Run("no plant", func(t *testing.T) {
		s := emptySite(t)
		s.door.who = administrator
		list := s.refusals("none", http.StatusConflict)
		if len(list) < 10 {
			t.Errorf("only %v are refused", list)
		}
		s.shown("no plant", onTelephone, append(list, "/setup", "/setup/plant", "/setup/people", "/setup/trail", "/setup/tokens")...)
	})
	t.Run("nothing yet", func(t *testing.T) {
		s := emptySite(t)
		s.door.who = administrator
		p := demoPlant(t)
		p.Trucks, p.Visits, p.Customers, p.Plan, p.Line.FreeSlots = nil, nil, nil, nil, nil
		if _, err := s.app.Load(context.Background(), manager, api.Intent{}, p); err != nil {
			t.Fatal(err)
		}
		list := s.round()
		if len(list) < 40 {
			t.Errorf("only %v", list)
		}
		list = slices.DeleteFunc(list, func(path string) bool { return strings.HasSuffix(path, "/new") && strings.HasPrefix(path, "/setup/") }) // they are as ever
		s.shown("nothing yet", onTelephone, list...)
	})
	t.Run("crowded", func(t *testing.T) {
		s, from := crowded(t, 200)
		var list []string // the pages that grow with the plant
		for _, path := range s.round(from...) {
			if !strings.HasPrefix(path, "/setup/") || path == "/setup/trucks" || path == "/setup/visits" {
				list = append(list, path)
			}
		}
		s.shown("crowded", onTelephone, list...)
		s.shown("crowded", onDesk, "/floor", "/trucks", "/late", "/loads", "/slips/new", from[0])
	})
}

// A queue of which nobody takes anything.
type idle struct{}

func (idle) Add(context.Context, string) error { return nil }
func (idle) Stop(string)                       {}

// What goes wrong says so on a page that can be used, with what to do next.
func TestState_Failing(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser some minutes")
	}
	script := axe(t)
	ctx := context.Background()
	t.Run("the planner is busy", func(t *testing.T) {
		s := demoSite(t)
		s.app.Serve(idle{})
		j, err := s.app.AskOffers(ctx, manager, api.OffersQuestion{Truck: "H1024"})
		if err != nil {
			t.Fatal(err)
		}
		gone, err := s.app.AskOffers(ctx, manager, api.OffersQuestion{Truck: "H1018"})
		if err != nil {
			t.Fatal(err)
		}
		if code, to := s.post("/jobs/"+gone.ID+"/cancel", nil); code != http.StatusSeeOther {
			t.Errorf("cancelled: %d %s", code, to)
		}
		if _, page := s.get("/jobs/" + gone.ID); !strings.Contains(page, "It was cancelled") || strings.Contains(page, "<progress") || strings.Contains(page, "Stop it") {
			t.Error("a question that was cancelled still looks as if it went on")
		}
		s.shown("busy", onTelephone, "/jobs/"+j.ID, "/floor?truck=H1024&job="+j.ID, "/jobs/"+gone.ID)
		for err == nil {
			_, err = s.app.AskOffers(ctx, manager, api.OffersQuestion{Truck: "H1024"})
		}
		if api.AsProblem(err).Kind != api.Busy {
			t.Fatal(err)
		}
		d := &desk{s.browser(), true}
		d.open("/trucks/H1024")
		d.touch("Days on offer")
		d.sees("Wait for answers, or cancel questions")
		d.usable(script, "busy, too many questions")
	})
	t.Run("the page is stale", func(t *testing.T) {
		s := demoSite(t)
		d := &desk{s.browser(), true}
		d.open("/visits/H1018-F")
		if _, err := s.app.Book(ctx, manager, api.Intent{}, "H1018-F", api.BookingOrder{State: plant.Confirmed, Day: calendar.None, HoldUntil: calendar.None}); err != nil {
			t.Fatal(err)
		}
		d.fill("Why, in a few words", "they rang twice")
		d.touch("Cancel the visit")
		d.sees("changed meanwhile")
		d.usable(script, "stale visit")
		if b := s.state().FindVisit("H1018-F").Booking; b.State != plant.Confirmed {
			t.Errorf("the stale page made it %s", b.State)
		}
		if got := do(d.tab, chromedp.Evaluate[string](`document.querySelector("#why").value`)); got != "they rang twice" {
			t.Errorf("what was typed is gone: %q", got)
		}
	})
	t.Run("it is not theirs to do", func(t *testing.T) {
		s := demoSite(t)
		s.door.who = api.Actor{Name: "rita", Acts: api.ActsOf(api.RoleReader)}
		list := s.refusals("H1018", http.StatusForbidden)
		if len(list) < 5 {
			t.Errorf("only %v are refused", list)
		}
		s.round() // leads to nothing that is refused
		s.shown("reader", onDesk, list[0], "/floor", "/trucks/H1018", "/visits/H1018-F", "/setup")
	})
	t.Run("there is no such thing", func(t *testing.T) {
		s := governed(t)
		list := s.refusals("H1O18", http.StatusNotFound)
		if len(list) < 8 {
			t.Errorf("only %v are not found", list)
		}
		s.shown("not found", onTelephone, list...)
	})
}
