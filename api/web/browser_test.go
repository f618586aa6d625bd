package web_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// A tab is a page in a real browser.
type tab struct {
	t   testing.TB
	ctx context.Context
	url string
}

// browser opens the site in a browser.
func (s *site) browser() *tab {
	s.t.Helper()
	server := httptest.NewServer(s.web)
	s.t.Cleanup(server.Close)
	return browse(s.t, server.URL)
}

// browse opens headless Chromium for the service at url. Without one the test is skipped,
// but not where the gate runs.
func browse(t testing.TB, url string) *tab {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("there is no chromium: install Debian's chromium")
		}
		t.Skip("there is no chromium: install Debian's chromium to try the pages in a browser")
	}
	flags := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir())}
	for _, f := range strings.Fields("disable-gpu disable-quic no-first-run disable-background-networking disable-component-update disable-sync headless") {
		flags = append(flags, chromedp.Flag(f, true))
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), flags...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if _, err := chromedp.Run(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal(err)
	}
	return &tab{t, ctx, url}
}

// do runs one step, which may take long on a busy machine but not for ever.
func do[T any](b *tab, a chromedp.Action[T]) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 90*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		b.t.Fatal(err)
	}
	return v
}

// open goes to a page of the site.
func (b *tab) open(path string) {
	b.t.Helper()
	do(b, chromedp.Navigate(b.url+path))
}

// axe is the script that looks at a page for people who use it with other means than
// their eyes and a mouse: axe-core, of npm.
func axe(t testing.TB) string {
	t.Helper()
	data, err := os.ReadFile("../../.ci/axe/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%v: run npm ci --prefix .ci/axe", err)
		}
		t.Skip("axe-core is not here: run npm ci --prefix .ci/axe to have the pages looked at")
	}
	return string(data)
}

// A finding of axe.
type finding struct {
	ID, Impact, Help string
	Nodes            []struct{ HTML string }
}

// found lists what axe finds serious on the page that is open, by the rules of WCAG 2.2
// A and AA and good practice.
func (b *tab) found(script string) (list []finding) {
	b.t.Helper()
	do(b, chromedp.Evaluate[chromedp.Void](script+"\n;0"))
	do(b, chromedp.Evaluate[chromedp.Void](`window.found = null; axe.run(document, {resultTypes: ["violations"]}).then(r => { window.found = r.violations.map(v => ({ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.map(n => ({HTML: n.html}))})) }, e => { window.found = [{ID: "error", Impact: "serious", Help: String(e), Nodes: []}] });0`))
	for i := 0; !do(b, chromedp.Evaluate[bool](`window.found !== null`)); i++ {
		if i == 1500 {
			b.t.Fatal("axe does not come to an end")
		}
		time.Sleep(20 * time.Millisecond)
	}
	for _, f := range do(b, chromedp.Evaluate[[]finding](`window.found`)) {
		if f.Impact == "serious" || f.Impact == "critical" {
			list = append(list, f)
		}
	}
	return list
}

// usable looks at the page that is open: axe finds nothing serious, and the page is no wider
// than the window.
func (b *tab) usable(script, name string) {
	b.t.Helper()
	b.clean(script, name)
	b.fits(name)
}

// fits complains of a page that is wider than the window.
func (b *tab) fits(name string) {
	b.t.Helper()
	if wide := do(b, chromedp.Evaluate[string](`(() => {
		const room = document.documentElement.clientWidth;
		if (document.documentElement.scrollWidth <= room) return "";
		const out = [...document.querySelectorAll("main *, header *")].filter((e) => e.getBoundingClientRect().right > room + 1 && !e.closest(".floorbox, .chartbox, nav"));
		return (out[0] || document.body).outerHTML.slice(0, 200);
	})()`)); wide != "" {
		b.t.Errorf("%s: the page is wider than the window: %s", name, wide)
	}
	b.keepShot(name)
}

// clean complains of what axe finds serious on the page that is open.
func (b *tab) clean(script, name string) {
	b.t.Helper()
	for _, f := range b.found(script) {
		var where []string
		for _, n := range f.Nodes[:min(3, len(f.Nodes))] {
			where = append(where, n.HTML[:min(160, len(n.HTML))])
		}
		b.t.Errorf("%s: %s (%s): %s", name, f.Help, f.ID, strings.Join(where, "  "))
	}
}

// addressesOf are addresses of all pages that can be looked at on the demo plant with a
// slip, a proposal and ways out.
func addressesOf(s *site) []string {
	s.t.Helper()
	ctx := context.Background()
	st, err := s.app.State(ctx, manager, 0)
	if err != nil {
		s.t.Fatal(err)
	}
	if _, _, err := s.app.ReportSlip(ctx, manager, api.Intent{}, plant.Slip{Kind: plant.LineOffMoved, Truck: onLine(st.Plant), Days: 6, Clock: "plant"}); err != nil {
		s.t.Fatal(err)
	}
	j, err := s.app.AskProposal(ctx, manager, api.ProposeQuestion{})
	if err != nil {
		s.t.Fatal(err)
	}
	job, err := s.app.AskOffers(ctx, manager, api.OffersQuestion{Truck: "H1018"})
	if err != nil {
		s.t.Fatal(err)
	}
	ways, err := s.app.AskRepairs(ctx, manager, api.RepairsQuestion{Day: calendar.None})
	if err != nil {
		s.t.Fatal(err)
	}
	why, err := s.app.AskWhy(ctx, manager, api.WhyQuestion{Truck: "H1019", Day: day("2027-03-31")})
	if err != nil {
		s.t.Fatal(err)
	}
	_, quote := s.post("/quotes", orderWith("customer", st.Plant.Customers[0].ID, "enters", "2027-03-08", "due", "2027-03-31", "deadline", "2027-05-14", "damages", "400", "wish", "pump", "flow_gpm", "0"))
	if _, quote = s.get(quote); !strings.HasPrefix(quote, "/quotes/") {
		s.t.Fatal(quote)
	}
	worth, err := s.app.AskWorth(ctx, manager, api.WorthQuestion{Top: 3})
	if err != nil {
		s.t.Fatal(err)
	}
	s.remember(pastOf(generate.HistoryOptions{Trucks: 60, Seed: 3}))
	known := map[string]string{
		"/quotes/{id}": quote, "/worth/{id}": "/worth/" + worth.ID,
		"/repairs/{id}": "/repairs/" + ways.ID, "/answers/{id}": "/answers/" + why.ID,
		"/proposals/{id}": "/proposals/" + j.ID, "/trucks/{id}": "/trucks/H1018", "/visits/{id}": "/visits/H1018-F", "/revisions/{number}": "/revisions/2", "/setup/people/{login}": "/setup/people/manager", "/setup/contacts/{customer}": "/setup/contacts/C025",
		"/floor": "/floor?truck=H1018&job=" + job.ID, "/trucks/{id}/why": "/trucks/H1018/why?on=2027-03-20",
	}
	var list []string
	for _, p := range s.web.Patterns() {
		path, is := strings.CutPrefix(p, "GET ")
		if !is || path == "/file/" || path == "/{$}" || strings.HasSuffix(path, ".yaml") {
			continue
		}
		if a := known[path]; a != "" {
			path = a
		} else if strings.Contains(path, "{") {
			continue // it needs an answer that is not there
		}
		list = append(list, path)
	}
	return list
}

// Every page can be used without a mouse and without eyes, as far as a program can tell:
// axe finds nothing serious, on a desk and on a telephone, by day and by night.
func TestBrowser_Axe(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser a minute")
	}
	script := axe(t)
	s := governed(t)
	b := s.browser()
	list := addressesOf(s)
	if len(list) < 5 {
		t.Fatalf("only %d pages: %v", len(list), list)
	}
	for _, size := range []struct {
		name          string
		width, height int64
		dark          bool
	}{{"desk", 1360, 900, false}, {"telephone at night", 390, 800, true}} {
		do(b, chromedp.EmulateViewport(size.width, size.height))
		scheme := "light"
		if size.dark {
			scheme = "dark"
		}
		do(b, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			return err
		}))
		for _, path := range list {
			b.open(path)
			b.usable(script, path+", "+size.name)
		}
	}
}

// A page is painted from the one answer that it comes in: with all other requests refused
// it has its style, and none of them held it up.
func TestBrowser_Paint(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser")
	}
	s := governed(t)
	list := addressesOf(s)
	var refused atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("Sec-Fetch-Dest") != "document" {
			refused.Add(1)
			http.Error(w, "not now", http.StatusServiceUnavailable)
			return
		}
		s.web.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	b := browse(t, server.URL)
	for _, path := range list {
		b.open(path)
		for i := 0; !do(b, chromedp.Evaluate[bool](`performance.getEntriesByName("first-contentful-paint").length > 0`)); i++ {
			if i == 100 {
				t.Fatalf("%s: it is not painted", path)
			}
			time.Sleep(20 * time.Millisecond)
		}
		if wrong := do(b, chromedp.Evaluate[string](`(() => {
			const mast = getComputedStyle(document.querySelector(".mast")), page = getComputedStyle(document.documentElement);
			if (mast.display !== "flex" || page.backgroundColor === "rgba(0, 0, 0, 0)") return "it has no style";
			return performance.getEntriesByType("resource").filter((r) => r.renderBlockingStatus === "blocking").map((r) => "it waits for " + r.name).join(", ");
		})()`)); wrong != "" {
			t.Errorf("%s: %s", path, wrong)
		}
	}
	if refused.Load() == 0 {
		t.Error("nothing else was asked for: this tests nothing")
	}
}

// At every width between a telephone and a wall the pages fit, and the names of the pages
// stay in one row.
func TestBrowser_Widths(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser a minute")
	}
	s := governed(t)
	b := s.browser()
	list := addressesOf(s)
	for _, path := range list {
		b.open(path)
		for _, size := range [][2]int64{{390, 844}, {768, 1024}, {1100, 800}, {1280, 800}, {1920, 1080}} {
			do(b, chromedp.EmulateViewport(size[0], size[1])) // style alone looks at the width, no script does
			if wrong := do(b, chromedp.Evaluate[string](fmt.Sprintf(`(() => {
				const room = document.documentElement.clientWidth;
				if (innerWidth !== %d) return "it is laid out for another width: this tests nothing";
				if (document.documentElement.scrollWidth > room) return "the page is wider than the window";
				const tops = [...document.querySelectorAll(".mast nav li")].map((e) => Math.round(e.getBoundingClientRect().top));
				return tops.length > 0 && Math.min(...tops) < Math.max(...tops) ? "the names of the pages take two rows" : "";
			})()`, size[0]))); wrong != "" {
				t.Errorf("%s, %d wide: %s", path, size[0], wrong)
			}
		}
	}
	// From afar: the number of a truck has 26 units at least, of 1080 (no source; a letter
	// of 2 cm on a screen that is 80 cm high).
	b.open("/floor")
	if size := do(b, chromedp.Evaluate[float64](`parseFloat(getComputedStyle(document.querySelector(".floor .ticket b")).fontSize)`)); size < 26 {
		t.Errorf("on the wall a truck is written in %.0f units", size)
	}
}

// What comes up only in the course of work is as usable: calls with their words and other
// days, reasons of a proposal, a plant file with its difference, a feed just made, and the
// question before something is done for good.
func TestBrowser_AxeInWork(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser")
	}
	script := axe(t)
	s := governed(t)
	at := s.slipped()
	_, job := s.post(at+"/why", nil)
	_, reasons := s.get(job)
	s.door.who = administrator
	other := strings.Replace(s.takenOut("/setup/plant.yaml"), "name: Floor position 1", "name: By the door", 1)
	b := s.browser()
	do(b, chromedp.EmulateViewport(1280, 800))
	b.open(reasons)
	b.clean(script, "reasons of a proposal")
	send := func(name, to string, fields map[string]string, says string) {
		t.Helper()
		b.open("/setup/plant")
		text, err := json.Marshal(fields)
		if err != nil {
			t.Fatal(err)
		}
		do(b, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => {
			const f = document.createElement("form");
			f.method = "post"; f.action = %q; f.enctype = "multipart/form-data";
			for (const [k, v] of Object.entries(%s)) { const i = document.createElement("input"); i.type = "hidden"; i.name = k; i.value = v; f.append(i); }
			document.body.append(f); f.submit();
		})();0`, to, text)))
		for i := 0; !do(b, chromedp.Evaluate[bool](fmt.Sprintf(`!!document.body && document.readyState === "complete" && document.body.innerText.includes(%q)`, says))); i++ {
			if i == 100 {
				t.Fatalf("%s: the browser does not come to %q", name, says)
			}
			time.Sleep(100 * time.Millisecond)
		}
		b.clean(script, name)
	}
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	if _, err := w.Write([]byte(other)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	send("a plant file with its difference", "/setup/plant", map[string]string{"kept": base64.StdEncoding.EncodeToString(z.Bytes()), "name": "mine.yaml"}, "Put it in place")
	feeds, err := func() ([]*api.Feed, error) {
		send("a feed just made", "/setup/feeds", map[string]string{"of": "bays/floor-1"}, "It is shown this once")
		return s.app.Feeds(context.Background(), manager)
	}()
	if err != nil || len(feeds) != 1 {
		t.Fatalf("%v %v", feeds, err)
	}
	send("a question before something is done for good", "/setup/feeds/"+feeds[0].ID, map[string]string{"do": "revoke"}, "cannot be taken back")
	if code, _ := s.post(at+"/accept", nil); code != 303 {
		t.Fatal(code)
	}
	_, job = s.post("/calls", nil)
	_, calls := s.get(job)
	for _, path := range []string{calls, "/trucks/H1016"} {
		b.open(path)
		b.clean(script, path)
	}
}

// A ticket that is dragged to another day shows what that day would do, and moves
// nothing.
func TestBrowser_Drag(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser")
	}
	s := demoSite(t)
	b := s.browser()
	do(b, chromedp.EmulateViewport(1360, 900))
	b.open("/floor?from=2027-04-12&weeks=3")
	moved := do(b, chromedp.Evaluate[string](`(() => {
		const ticket = document.querySelector("[data-visit='H1018-F']");
		const to = document.querySelector("td.free[data-day='2027-04-15']") || document.querySelector("td.free[data-day]");
		if (!ticket || !to) return "nothing to drag";
		const carried = new DataTransfer();
		for (const [on, what] of [[ticket, "dragstart"], [to, "dragover"], [to, "drop"]])
			on.dispatchEvent(new DragEvent(what, {bubbles: true, cancelable: true, dataTransfer: carried}));
		return to.dataset.day;
	})()`))
	want := fmt.Sprintf("/visits/H1018-F?day=%s#order", moved)
	for i := 0; ; i++ {
		if at := do(b, chromedp.Location()); strings.HasSuffix(at, want) {
			break
		} else if i == 100 {
			t.Fatalf("dragged to %s, and the browser is at %s", moved, at)
		}
		time.Sleep(100 * time.Millisecond)
	}
	st, err := s.app.State(context.Background(), manager, 0)
	if err != nil || st.Revision.Number != 2 {
		t.Errorf("revision %d (%v): dragging changed the plant", st.Revision.Number, err)
	}
}

// onLine is a truck that is still on the line.
func onLine(p *plant.Plant) string {
	for i := range p.Trucks {
		if p.Trucks[i].Line.Off == calendar.None {
			return p.Trucks[i].ID
		}
	}
	return ""
}
