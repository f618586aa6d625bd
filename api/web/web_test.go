package web_test

import (
	"compress/gzip"
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/api/web"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// A door lets in whoever it is told.
type door struct {
	who     api.Actor
	renewed string // the password that was set last
}

func (d *door) Who(*http.Request) api.Actor { return d.who }
func (d *door) Enter(_ http.ResponseWriter, _ *http.Request, login, password string) error {
	if password != "right" {
		return &api.Problem{Kind: api.Unknown, Title: "Login name and password do not match", Next: "Try again."}
	}
	d.who = api.Actor{Name: login, Acts: api.ActsOf(api.RoleManager)}
	return nil
}
func (d *door) Renew(_ http.ResponseWriter, _ *http.Request, before, after string) error {
	if before != "right" {
		return &api.Problem{Kind: api.Forbidden, Title: "That is not your password", Next: "Write it once more."}
	}
	d.renewed = after
	return nil
}
func (d *door) Address(*http.Request) string             { return "https://plant.example" }
func (d *door) Leave(http.ResponseWriter, *http.Request) { d.who = api.Actor{} }

type inline struct{ app *api.App }

func (q inline) Add(ctx context.Context, id string) error { return q.app.Work(ctx, id) }
func (inline) Stop(string)                                {}

var manager = api.Actor{Name: "manager", Acts: api.ActsOf(api.RoleManager)}

// A site is the pages on a database of their own.
type site struct {
	t    testing.TB
	app  *api.App
	door *door
	web  *web.Web
}

// emptySite has no plant.
func emptySite(t testing.TB) *site {
	t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "wetdown.db"))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	a := api.New(s, api.Options{Clock: func() time.Time { return now }, Solves: 2})
	a.Serve(inline{a})
	t.Cleanup(func() {
		if err := errors.Join(a.Close(), s.Close()); err != nil {
			t.Error(err)
		}
	})
	d := &door{who: manager}
	return &site{t, a, d, web.New(a, d, web.Options{})}
}

// demoSite has the demo plant with its plan.
func demoSite(t testing.TB) *site {
	t.Helper()
	s := emptySite(t)
	p, faults := plant.Read("demo", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	s.load(p)
	return s
}

// load loads a plant and has it planned.
func (s *site) load(p *plant.Plant) {
	s.t.Helper()
	ctx := context.Background()
	if _, err := s.app.Load(ctx, manager, api.Intent{}, p); err != nil {
		s.t.Fatal(err)
	}
	j, err := s.app.AskProposal(ctx, manager, api.ProposeQuestion{Slips: []string{}})
	if err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.app.Accept(ctx, manager, api.Intent{}, j.ID); err != nil {
		s.t.Fatal(err)
	}
}

// get asks for a page, and looks whether it is a whole document.
func (s *site) get(path string) (int, string) {
	s.t.Helper()
	return s.ask(httptest.NewRequest(http.MethodGet, path, nil))
}

// post sends a form.
func (s *site) post(path string, form url.Values) (int, string) {
	s.t.Helper()
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return s.ask(r)
}

// styled is the style within a page, of which tests about its words want to know nothing.
var styled = regexp.MustCompile(`(?s)<style>.*?</style>`)

// ask returns the status and the page without its style, or where it sends the browser.
func (s *site) ask(r *http.Request) (int, string) {
	s.t.Helper()
	w := httptest.NewRecorder()
	s.web.ServeHTTP(w, r)
	if w.Code == http.StatusSeeOther {
		return w.Code, w.Header().Get("Location")
	}
	if strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
		whole(s.t, r.URL.Path, w.Body.String())
	}
	return w.Code, styled.ReplaceAllString(w.Body.String(), "")
}

// void are the elements without an end.
var void = map[string]bool{"meta": true, "link": true, "input": true, "br": true, "img": true, "hr": true, "col": true}

// whole looks whether every element is closed in its turn, ids are there once, every
// label has its field, and there is one main heading.
func whole(t testing.TB, name, text string) {
	t.Helper()
	z := html.NewTokenizer(strings.NewReader(text))
	var open []string
	ids, fors, heads := map[string]bool{}, []string{}, 0
	for {
		switch z.Next() {
		case html.ErrorToken:
			if len(open) > 0 {
				t.Errorf("%s: %v are not closed", name, open)
			}
			for _, f := range fors {
				if !ids[f] {
					t.Errorf("%s: the label of %q has no field", name, f)
				}
			}
			if heads != 1 {
				t.Errorf("%s: %d main headings", name, heads)
			}
			return
		case html.StartTagToken:
			k := z.Token()
			if k.Data == "h1" {
				heads++
			}
			for _, a := range k.Attr {
				switch {
				case a.Key == "id" && ids[a.Val]:
					t.Errorf("%s: the id %q is there twice", name, a.Val)
				case a.Key == "id":
					ids[a.Val] = true
				case a.Key == "for":
					fors = append(fors, a.Val)
				case a.Key == "style" || strings.HasPrefix(a.Key, "on"):
					t.Errorf("%s: <%s> has %s, which the policy of the pages refuses", name, k.Data, a.Key)
				}
			}
			if !void[k.Data] {
				open = append(open, k.Data)
			}
		case html.EndTagToken:
			k := z.Token()
			if len(open) == 0 || open[len(open)-1] != k.Data {
				t.Errorf("%s: </%s> closes %v", name, k.Data, open)
				return
			}
			open = open[:len(open)-1]
		}
	}
}

func TestPages(t *testing.T) {
	s := demoSite(t)
	for _, c := range []struct {
		path, says string
	}{
		{"/floor", "Floor position 1"},
		{"/floor?from=2027-03-15&weeks=1", "Mar 15"},
		{"/visits/H1003-F", "Notice ladder"},
		{"/calls", "Nobody has to be called"},
	} {
		if code, text := s.get(c.path); code != http.StatusOK || !strings.Contains(text, c.says) {
			t.Errorf("%s: %d without %q", c.path, code, c.says)
		}
	}
	for _, c := range []struct {
		path string
		code int
		says string
	}{
		{"/visits/H1003-X", http.StatusNotFound, "Did you mean"},
		{"/floor?from=x", http.StatusUnprocessableEntity, "2027-05-14"},
		{"/jobs/none", http.StatusNotFound, "no such job"},
	} {
		if code, text := s.get(c.path); code != c.code || !strings.Contains(text, c.says) {
			t.Errorf("%s: %d, want %d with %q", c.path, code, c.code, c.says)
		}
	}
}

// Whoever has not logged in is sent to do so, and comes back to where they wanted to go,
// but to no other site.
func TestLogin(t *testing.T) {
	s := demoSite(t)
	s.door.who = api.Actor{}
	if code, to := s.get("/floor?weeks=2"); code != http.StatusSeeOther || to != "/login?to=%2Ffloor%3Fweeks%3D2" {
		t.Errorf("%d %s", code, to)
	}
	if code, text := s.post("/login", url.Values{"login": {"ann"}, "password": {"wrong"}}); code != http.StatusUnauthorized || !strings.Contains(text, `value="ann"`) {
		t.Errorf("%d %s", code, text)
	}
	for to, want := range map[string]string{"/floor?weeks=2": "/floor?weeks=2", "//evil.example": "/", "https://evil.example/": "/", `/\evil.example`: "/", "floor": "/", "/login": "/"} {
		if _, got := s.post("/login", url.Values{"login": {"ann"}, "password": {"right"}, "to": {to}}); got != want {
			t.Errorf("to %q: sent to %q, want %q", to, got, want)
		}
	}
	if code, to := s.post("/logout", nil); code != http.StatusSeeOther || to != "/login" || s.door.who.Name != "" {
		t.Errorf("%d %s %v", code, to, s.door.who)
	}
}

// A booking is changed by the form of its visit; a refusal is shown there, and changes
// nothing.
func TestVisit_Booking(t *testing.T) {
	s := demoSite(t)
	code, text := s.post("/visits/H1018-F/booking", url.Values{"state": {"tentative"}, "day": {"2027-03-02"}})
	if code != http.StatusConflict || !strings.Contains(text, "This day cannot be had") || !strings.Contains(text, `value="2027-03-02"`) {
		t.Errorf("%d %s", code, text)
	}
	st, err := s.app.State(context.Background(), manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	day := st.Plant.FindVisit("H1018-F").Booking.Day
	if code, to := s.post("/visits/H1018-F/booking", url.Values{"state": {"confirmed"}, "day": {day.String()}, "why": {"they rang"}}); code != http.StatusSeeOther || to != "/visits/H1018-F" {
		t.Fatalf("%d %s", code, to)
	}
	if _, text := s.get("/visits/H1018-F"); !strings.Contains(text, "they rang") || !strings.Contains(text, "Take back") {
		t.Error("the change is not told")
	}
	if code, text := s.post("/visits/H1018-F/booking", url.Values{"state": {"cancelled"}, "seen": {"1"}}); code != http.StatusConflict || !strings.Contains(text, "changed meanwhile") {
		t.Errorf("an older page: %d %s", code, text)
	}
}

// Days on offer are shown on the floor.
func TestFloor_Offers(t *testing.T) {
	s := demoSite(t)
	code, to := s.post("/trucks/H1018/offers", nil)
	if code != http.StatusSeeOther || !strings.HasPrefix(to, "/floor?job=") {
		t.Fatalf("%d %s", code, to)
	}
	if _, text := s.get(to + "&from=2027-04-05&weeks=8"); !strings.Contains(text, "can be had") || !strings.Contains(text, "Placing truck H1018") {
		t.Error("no day is marked")
	}
}

// Without a plant there is nothing to see, and a word on what to do.
func TestEmpty(t *testing.T) {
	s := emptySite(t)
	if code, text := s.get("/floor"); code != http.StatusConflict || !strings.Contains(text, "There is no plant here yet") {
		t.Errorf("%d %s", code, text)
	}
}

// TestPacked asks for pages as browsers do: packed where they take it, the same page, and
// never where something is shown this once.
func TestPacked(t *testing.T) {
	s := governed(t)
	ask := func(method, path, takes string, form url.Values) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
		if form != nil {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		if takes != "" {
			r.Header.Set("Accept-Encoding", takes)
		}
		w := httptest.NewRecorder()
		s.web.ServeHTTP(w, r)
		return w
	}
	plain := ask("GET", "/trucks", "", nil)
	if plain.Code != http.StatusOK || plain.Header().Get("Content-Encoding") != "" || !strings.Contains(strings.Join(plain.Header().Values("Vary"), ", "), "Accept-Encoding") {
		t.Fatalf("%d %v", plain.Code, plain.Header())
	}
	for takes, packed := range map[string]bool{"gzip, deflate, br": true, "deflate, gzip;q=0.5": true, "GZIP": true, "gzip;q=0": false, "br": false, "x-gzip": false} {
		a := ask("GET", "/trucks", takes, nil)
		if got := a.Header().Get("Content-Encoding") == "gzip"; got != packed {
			t.Errorf("%q: packed %v", takes, got)
			continue
		}
		text := a.Body.String()
		if packed {
			if 3*len(text) > plain.Body.Len() {
				t.Errorf("%d of %d bytes", len(text), plain.Body.Len())
			}
			z, err := gzip.NewReader(a.Body)
			if err != nil {
				t.Fatal(err)
			}
			whole, err := io.ReadAll(z)
			if err != nil {
				t.Fatal(err)
			}
			text = string(whole)
		}
		if text != plain.Body.String() {
			t.Errorf("%q: it is another page", takes)
		}
	}
	made := ask("POST", "/setup/tokens", "gzip", url.Values{"name": {"erp"}, "act": {"read"}, "until": {"2027-01-31"}})
	if made.Code != http.StatusOK || made.Header().Get("Content-Encoding") != "" || !strings.Contains(made.Body.String(), "wd_") {
		t.Errorf("a token that is shown: %d %v", made.Code, made.Header())
	}
}
