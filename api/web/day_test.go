package web_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/emersion/go-ical"

	"wetdown/api"
	"wetdown/api/queue"
	"wetdown/api/rest"
	"wetdown/api/sheet"
	"wetdown/api/store"
	"wetdown/api/web"
	"wetdown/solver"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// A house is the whole service with the demo plant and its past, on the morning of its story: logins,
// jobs, news of what changes, and the pages.
type house struct {
	t   testing.TB
	app *api.App
	url string

	begun time.Time // when morning was by the clock of this machine
}

// morning is when the story of the demo plant begins: 06:00 in Chicago.
var morning = time.Date(2027, time.March, 1, 12, 0, 0, 0, time.UTC)

// open starts the service, with an account for each role.
func open(t testing.TB) *house {
	t.Helper()
	ctx := context.Background()
	p := demoPlant(t)
	planned, err := solver.Plan(ctx, p, solver.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p.Plan = planned.Plan
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "wetdown.db"))
	if err != nil {
		t.Fatal(err)
	}
	begun := time.Now()
	clock := func() time.Time { return morning.Add(time.Since(begun)) }
	h := &house{t: t, app: api.New(db, api.Options{Clock: clock}), begun: begun}
	h.app.InviteAs(api.Inviter{Domain: "pellanmere.example", Name: p.Name, Mail: "visits@pellanmere.example"})
	jobs, err := queue.NewLocal(ctx, h.app, queue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h.app.Serve(jobs)
	server, err := rest.New(h.app, rest.Options{Clock: clock})
	if err != nil {
		t.Fatal(err)
	}
	server.Mount(web.New(h.app, server, web.Options{}))
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	h.url = "http://" + l.Addr().String()
	serving, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(serving, l) }()
	t.Cleanup(func() {
		stop()
		if err := errors.Join(<-ended, jobs.Close(ctx), h.app.Close(), db.Close()); err != nil {
			t.Error(err)
		}
	})
	if _, err := h.app.Load(ctx, api.Service, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	if _, _, err := h.app.TakeFile(ctx, api.Service, api.Intent{}, sheet.History, "history.csv", []byte(testdata.DemoHistory), 0); err != nil {
		t.Fatal(err)
	}
	for _, role := range api.Roles() {
		if _, err := h.app.CreateAccount(ctx, api.Service, api.AccountOrder{Login: role, Name: role, Role: role, Password: passwordOf(role)}); err != nil {
			t.Fatal(err)
		}
	}
	return h
}

func passwordOf(role string) string { return "the long password of a " + role }

// visit is a visit as it is now.
func (h *house) visit(id string) *plant.Visit {
	h.t.Helper()
	s, err := h.app.State(context.Background(), manager, 0)
	if err != nil {
		h.t.Fatal(err)
	}
	return s.Plant.FindVisit(id)
}

// A desk is a browser in which somebody has logged in.
type desk struct {
	*tab
	scripts bool
}

// sits opens a browser, with or without scripts, and logs in.
func (h *house) sits(t testing.TB, role string, scripts bool) *desk {
	t.Helper()
	d := &desk{browse(t, h.url), scripts}
	do(d.tab, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !scripts})
		return err
	}))
	do(d.tab, chromedp.EmulateViewport(1280, 800))
	d.open("/")
	d.fill("Login name", role)
	d.fill("Password", passwordOf(role))
	d.touch("Log in")
	d.sees("Floor")
	return d
}

// long is how long a test waits for something that it expects, on a machine with much
// else to do.
const long = 90 * time.Second

// until asks the page again and again until what is asked gives a value that is not zero.
// The page may go away meanwhile and another come.
func until[T comparable](d *desk, what, script string) (v T) {
	d.t.Helper()
	var none T
	for end := time.Now().Add(long); ; time.Sleep(20 * time.Millisecond) {
		ctx, cancel := context.WithTimeout(d.ctx, long)
		v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script))
		cancel()
		if err == nil && v != none {
			return v
		}
		if time.Now().After(end) {
			d.t.Fatalf("%s: not there after %v, at %s: %v\n%s", what, long, do(d.tab, chromedp.Location()), err, do(d.tab, chromedp.Evaluate[string](`document.body.innerText`)))
		}
	}
}

// sees waits until the page says something.
func (d *desk) sees(text string) {
	d.t.Helper()
	until[bool](d, fmt.Sprintf("%q", text), fmt.Sprintf(`document.readyState === "complete" && document.body.innerText.includes(%q)`, text))
}

// lacks looks that the page does not say something.
func (d *desk) lacks(text string) {
	d.t.Helper()
	if do(d.tab, chromedp.Evaluate[bool](fmt.Sprintf(`document.body.innerText.includes(%q)`, text))) {
		d.t.Errorf("%s says %q", do(d.tab, chromedp.Location()), text)
	}
}

// fill puts a value into the field that has the label.
func (d *desk) fill(label, value string) {
	d.t.Helper()
	if got := do(d.tab, chromedp.Evaluate[string](fmt.Sprintf(`(() => {
		const label = [...document.querySelectorAll("label")].find((l) => l.innerText.trim().startsWith(%q) && l.getClientRects().length);
		if (!label) return "there is no such field";
		(label.control || {}).value = %q;
		return label.control ? label.control.value : "the label has no field";
	})()`, label, value))); got != value {
		d.t.Fatalf("%s: %s", label, got)
	}
}

// A spot is where something can be touched, in CSS pixels.
type spot struct{ X, Y, Width, Height float64 }

// touch touches the link or button with the words, in the middle of it, as a mouse or a
// finger does, and waits for the page that follows. Within is what it lies in, a selector;
// without one it lies anywhere.
func (d *desk) touch(words string, within ...string) (at spot) {
	d.t.Helper()
	box := strings.Join(append(within, "body")[:1], "")
	script := fmt.Sprintf(`(() => {
		const there = [...document.querySelectorAll(%q)].flatMap((b) => [...b.querySelectorAll("a, button, summary")]).filter((e) => e.checkVisibility() && e.getClientRects().length);
		const says = (e) => (e.getAttribute("aria-label") || e.innerText).trim().replace(/\s+/g, " ");
		const e = there.find((e) => says(e) === %[2]q) || there.find((e) => says(e).startsWith(%[2]q)) || there.find((e) => e.innerText.includes(%[2]q));
		if (!e) return null;
		e.scrollIntoView({block: "center", inline: "center"});
		const r = e.getClientRects()[0], x = r.x + r.width / 2, y = r.y + r.height / 2;
		const top = document.elementFromPoint(x, y);
		if (top !== e && !e.contains(top)) return {X: -1, Y: -1};
		return {X: x, Y: y, Width: r.width, Height: r.height};
	})()`, box, words)
	at = until[spot](d, "something to touch that says "+words, script)
	if at.X < 0 {
		d.t.Fatalf("%s: something else lies over it", words)
	}
	before := do(d.tab, chromedp.Evaluate[float64](`performance.timeOrigin`))
	do(d.tab, chromedp.MouseClickXY(at.X, at.Y))
	until[bool](d, "the page after "+words, fmt.Sprintf(`performance.timeOrigin !== %v && document.readyState === "complete"`, before))
	return at
}

// answered waits until the page of a question to the planner has gone on to its answer.
func (d *desk) answered(path string) {
	d.t.Helper()
	until[bool](d, "the answer at "+path, fmt.Sprintf(`document.readyState === "complete" && location.pathname.startsWith(%q)`, path))
}

// keepShot keeps a picture of the page in the folder that WETDOWN_SHOTS names.
func (d *tab) keepShot(name string) {
	d.t.Helper()
	dir := os.Getenv("WETDOWN_SHOTS")
	if dir == "" {
		return
	}
	name = strings.Trim(regexp.MustCompile(`[^A-Za-z0-9]+`).ReplaceAllString(name, "-"), "-")
	if err := os.WriteFile(filepath.Join(dir, name+".png"), do(d, chromedp.FullScreenshot(100)), 0o644); err != nil {
		d.t.Fatal(err)
	}
}

// days runs a test in a browser with scripts and in one without.
func days(t *testing.T, day func(t *testing.T, scripts bool)) {
	t.Helper()
	if testing.Short() {
		t.Skip("it takes a browser")
	}
	for _, scripts := range []bool{true, false} {
		name := "with scripts"
		if !scripts {
			name = "without scripts"
		}
		t.Run(name, func(t *testing.T) { day(t, scripts) })
	}
}

// The coordinator finds a day for a visit that wants one, holds it, confirms it and has
// the invitation.
func TestDay_Coordinator(t *testing.T) {
	t.Parallel()
	days(t, func(t *testing.T, scripts bool) {
		h := open(t)
		d := h.sits(t, api.RoleCoordinator, scripts)
		d.sees("Wants a day")
		d.keepShot("coordinator floor")
		d.touch("Days on offer", `tr:has(a[href="/visits/H1024-F"])`)
		d.sees("can be had for visit H1024-F")
		d.keepShot("coordinator offers")
		marked := do(d.tab, chromedp.Evaluate[int](`document.querySelectorAll("td.offer").length`))
		if marked == 0 {
			t.Error("no day that can be had is on the part of the floor that is shown")
		}
		d.touch("can be had", "td.offer")
		d.sees("Nothing else moves.")
		day := do(d.tab, chromedp.Evaluate[string](`document.querySelector("#day").value`))
		d.fill("Hold it until", "2027-03-12")
		d.keepShot("coordinator visit")
		d.touch("Hold this day")
		d.sees("held until Fri Mar 12")
		if b := h.visit("H1024-F").Booking; b.State != plant.Tentative || b.Day.String() != day || b.HoldUntil.String() != "2027-03-12" {
			t.Fatalf("held: %+v, want %s", b, day)
		}
		d.fill("Why, in a few words", "the chief rang")
		d.touch("Confirm this day")
		d.sees("the chief rang")
		if b := h.visit("H1024-F").Booking; b.State != plant.Confirmed || b.Day.String() != day {
			t.Fatalf("confirmed: %+v, want %s", b, day)
		}
		d.keepShot("coordinator confirmed")
		href := do(d.tab, chromedp.Evaluate[string](`[...document.querySelectorAll("a")].find((a) => a.innerText.startsWith("Invitation")).pathname`))
		invited(t, h.invitation(href), day)
	})
}

// invitation is the file behind a link, as a program gets it that logs in by the form.
func (h *house) invitation(path string) string {
	h.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		h.t.Fatal(err)
	}
	c := &http.Client{Jar: jar, Timeout: long}
	a, err := c.PostForm(h.url+"/login", url.Values{"login": {api.RoleCoordinator}, "password": {passwordOf(api.RoleCoordinator)}})
	if err != nil {
		h.t.Fatal(err)
	}
	a.Body.Close()
	if a, err = c.Get(h.url + path); err != nil {
		h.t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		h.t.Fatal(err)
	}
	if of := a.Header.Get("Content-Type"); a.StatusCode != http.StatusOK || !strings.HasPrefix(of, "text/calendar") {
		h.t.Fatalf("%s: %d, %s: %s", path, a.StatusCode, of, text)
	}
	return string(text)
}

// invited reads an invitation by another reader than ours, go-ical (RFC 5545).
func invited(t *testing.T, text, day string) {
	t.Helper()
	c, err := ical.NewDecoder(strings.NewReader(text)).Decode()
	if err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	events := c.Events()
	if len(events) != 1 {
		t.Fatalf("%d events", len(events))
	}
	e := &events[0]
	start, err := e.DateTimeStart(time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	if got := start.Format("2006-01-02 15:04 -0700"); got != day+" 07:00 -0500" { // the showroom begins at 7, in summer time of Chicago
		t.Errorf("the invitation is for %s, the visit on %s", got, day)
	}
	if status, err := e.Status(); err != nil || status != ical.EventConfirmed {
		t.Errorf("status %v, %v", status, err)
	}
	if summary, err := e.Props.Text(ical.PropSummary); err != nil || summary != "Final inspection of truck H1024" {
		t.Errorf("summary %q, %v", summary, err)
	}
}

// fingertip is how high something is that a finger hits at once, in CSS pixels: success
// criterion 2.5.5 of WCAG 2.2 (level AAA).
const fingertip = 44

// The manager reports a slip in three touches on a telephone, looks at ways out, puts the
// plan in force and has the list of calls.
func TestDay_Manager(t *testing.T) {
	t.Parallel()
	days(t, func(t *testing.T, scripts bool) {
		h := open(t)
		d := h.sits(t, api.RoleManager, scripts)
		do(d.tab, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait))
		d.open("/slips")
		for _, words := range []string{"H1019", "It comes off the line later", "3 days"} {
			d.keepShot("manager " + words)
			if at := d.touch(words, ".touch"); at.Height < fingertip || at.Width < fingertip {
				t.Errorf("%s is %.0f by %.0f px", words, at.Width, at.Height)
			}
		}
		d.answered("/proposals/")
		first := do(d.tab, chromedp.Location())
		d.sees("no better plan exists")
		d.sees("H1016")
		d.keepShot("manager proposal")
		d.touch("Ways out, with prices")
		d.answered("/repairs/")
		d.sees("No measure")
		if n := do(d.tab, chromedp.Evaluate[int](`document.querySelectorAll(".way").length`)); n < 2 {
			t.Errorf("%d ways out", n)
		}
		d.keepShot("manager ways")
		d.touch("Make a proposal of it", "ol.ways > li:nth-child(2)")
		d.answered("/proposals/")
		d.sees("Accept: put it in force")
		if at := do(d.tab, chromedp.Location()); at == first {
			t.Error("the way out is no proposal of its own")
		}
		d.open(strings.TrimPrefix(first, h.url))
		d.fill("Why", "the body shop is short of people")
		d.touch("Accept: put it in force")
		d.keepShot("manager accepted")
		if n := len(h.state().Slips); n != 0 {
			t.Errorf("%d slips wait for an answer", n)
		}
		for _, c := range []struct{ visit, day string }{{"H1019-F", "2027-04-06"}, {"H1016-F", "2027-04-08"}} { // as in TestDemoStory of cmd/wetdown
			if got := h.state().Plan.Day(c.visit).String(); got != c.day {
				t.Errorf("%s is on %s, want %s", c.visit, got, c.day)
			}
		}
		d.open("/calls")
		for _, says := range []string{"Sabelstead Fire Department", "Tolvermere Volunteer Fire Company", "at once"} {
			d.sees(says)
		}
		d.keepShot("manager calls")
	})
}

// state is the plant as it is now.
func (h *house) state() *plant.Plant {
	h.t.Helper()
	s, err := h.app.State(context.Background(), manager, 0)
	if err != nil {
		h.t.Fatal(err)
	}
	return s.Plant
}

// Sales asks with the form as it comes, has a day, and prints it.
func TestDay_Sales(t *testing.T) {
	t.Parallel()
	days(t, func(t *testing.T, scripts bool) {
		h := open(t)
		d := h.sits(t, api.RoleSales, scripts)
		d.touch("Quotes", "nav")
		d.touch("Ask for a delivery day")
		d.keepShot("sales order")
		d.touch("Ask for the earliest day")
		d.answered("/quotes/")
		d.sees("Until the plant changes")
		d.lacks("No day")
		d.keepShot("sales quote")
		list, err := h.app.Quotes(context.Background(), manager, api.Page{})
		if err != nil || len(list) != 1 || list[0].Result.Status != plant.Optimal {
			t.Fatalf("%v, %v", list, err)
		}
		day := list[0].Result.Delivery
		_, m, n := day.YMD()
		d.sees(fmt.Sprintf("%s %d, 2027", m.String()[:3], n))
		do(d.tab, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			return err
		}))
		if left := do(d.tab, chromedp.Evaluate[string](`[...document.querySelectorAll("nav, button, .noprint, .button")].filter((e) => e.checkVisibility()).map((e) => e.outerHTML.slice(0, 80)).join("\n")`)); left != "" {
			t.Errorf("printed without a use: %s", left)
		}
		d.sees(fmt.Sprintf("%s %d, 2027", m.String()[:3], n))
		paper := do(d.tab, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperLetter)))
		if n := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(paper, -1)); n < 1 || n > 2 {
			t.Errorf("it takes %d sheets of paper", n)
		}
	})
}

// What one person books another one sees within the time that the pages promise: the news
// comes by itself, and the page as it is now is one touch away.
func TestDay_TwoBrowsers(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes two browsers")
	}
	h := open(t)
	one, other := h.sits(t, api.RoleCoordinator, true), h.sits(t, api.RoleManager, true)
	other.open("/floor?from=2027-05-03&weeks=1")
	do(other.tab, chromedp.Evaluate[chromedp.Void](`window.newsAt = 0;
		new MutationObserver(() => { if (!document.querySelector(".news").hidden) window.newsAt ||= Date.now(); }).observe(document.querySelector(".news"), {attributes: true});0`))
	if !do(other.tab, chromedp.Evaluate[bool](`document.querySelector(".news").hidden`)) {
		t.Fatal("there is news before anything has changed")
	}
	one.open("/visits/H1024-F?day=2027-05-06#order")
	one.touch("Hold this day")
	seen := time.UnixMilli(int64(until[float64](other, "news of the booking", `window.newsAt`)))
	s, err := h.app.State(context.Background(), manager, 0)
	if err != nil {
		t.Fatal(err)
	}
	booked := h.begun.Add(s.Revision.At.Sub(morning))
	t.Logf("the other browser has the news %v after the booking was kept", seen.Sub(booked).Round(time.Millisecond))
	other.touch("The plant has moved on")
	if got := until[string](other, "the ticket", `(document.querySelector("a[data-visit='H1024-F']") || {}).innerText || ""`); !strings.Contains(got, "tentative") {
		t.Errorf("the other browser has %q", got)
	}
}
