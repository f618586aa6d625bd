package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/forecast"
)

var sales = api.Actor{Name: "sales", Acts: api.ActsOf(api.RoleSales)}

// kept is a quote by the address of its page.
func (s *site) kept(at string) *api.Quote {
	s.t.Helper()
	q, err := s.app.Quote(s.t.(*testing.T).Context(), manager, strings.TrimPrefix(at, "/quotes/"))
	if err != nil {
		s.t.Fatal(err)
	}
	return q
}

// A quote says its days at three chances, what they rest on, what drives them and what
// would bring them forward, in numbers and drawn.
func TestQuote_Odds(t *testing.T) {
	s := demoSite(t)
	at, page := s.quoted(orderWith("customer", customer(s), "content", "medium", "due", "2027-06-01"))
	q := s.kept(at)
	o := q.Odds
	if o == nil || o.Delivery.P95 == calendar.None || len(o.Drivers) == 0 {
		t.Fatalf("no odds to look at: %q %+v", q.Without, o)
	}
	card := part(page, "<h2>How likely</h2>", "</section>")
	for _, sp := range []forecast.Span{o.LineOff, o.Ready, o.Visit, o.Delivery} {
		for _, d := range []calendar.Date{sp.Earliest, sp.P50, sp.P80, sp.P95} {
			if d != calendar.None && !strings.Contains(card, `datetime="`+d.String()+`"`) {
				t.Errorf("no %s", d)
			}
		}
	}
	if tell := part(page, "Tell the customer", "</p>"); !strings.Contains(tell, o.Window.From.String()) || !strings.Contains(tell, o.Window.Through.String()) || !strings.Contains(tell, "simulated runs") {
		t.Errorf("the window: %s", tell)
	}
	dots := regexp.MustCompile(`class="dot" cx="(\d+)" cy="(\d+)"`).FindAllStringSubmatch(card, -1)
	if len(dots) != 3 {
		t.Fatalf("%d days are marked", len(dots))
	}
	for i := range dots[1:] {
		x0, _ := strconv.Atoi(dots[i][1])
		x1, _ := strconv.Atoi(dots[i+1][1])
		y0, _ := strconv.Atoi(dots[i][2])
		y1, _ := strconv.Atoi(dots[i+1][2])
		if x1 < x0 || y1 >= y0 {
			t.Errorf("the curve goes from %d,%d to %d,%d", x0, y0, x1, y1)
		}
	}
	drivers := part(page, "What the uncertainty comes of", "</section>")
	for _, d := range o.Drivers {
		if !strings.Contains(words(drivers), inHundred(d.Share)) {
			t.Errorf("%s has no %s", d.Name, inHundred(d.Share))
		}
	}
	earlier := part(page, "What would bring it forward", "</section>")
	if n := strings.Count(earlier, `<th scope="row">`); n != len(o.Earlier) {
		t.Errorf("%d ways for %d", n, len(o.Earlier))
	}
	for _, want := range []string{"In 2,000 simulated runs of revision 2", "from seed 1", "Until the plant changes", "revision 2"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	for _, says := range o.Assumptions {
		if !strings.Contains(page, strings.ReplaceAll(strings.ReplaceAll(says, "'", "&#39;"), "+", "&#43;")) {
			t.Errorf("the assumption %q is not told", says)
		}
	}
}

// A place is held, marked where trucks are listed, ordered or given up, and what became of
// the quote is told; two who want the same place do not both have it.
func TestReservation(t *testing.T) {
	s := demoSite(t)
	form := orderWith("customer", customer(s), "content", "medium")
	one, page := s.quoted(form)
	two, _ := s.quoted(form)
	q := s.kept(one)
	if q.Result.Delivery == calendar.None || !strings.Contains(page, `action="`+one+`/reservation"`) {
		t.Fatalf("nothing to hold: %+v", q.Result)
	}
	// What is wrong comes back on the page, with what was typed.
	for _, c := range []struct {
		truck, until, says string
	}{
		{"", "2027-03-10", "has no number"},
		{"N-1", "", "Until when"},
		{"N-1", "2026-01-01", "cannot be held until"},
		{"H1018", "2027-03-10", "There is a truck H1018 already"},
	} {
		code, text := s.post(one+"/reservation", url.Values{"truck": {c.truck}, "until": {c.until}, "why": {"the mayor's"}})
		if code != http.StatusUnprocessableEntity || !strings.Contains(text, c.says) || !strings.Contains(text, `value="the mayor&#39;s"`) {
			t.Errorf("%+v: %d", c, code)
		}
	}
	hold := func(at, truck string) (int, string) {
		code, job := s.post(at+"/reservation", url.Values{"truck": {truck}, "until": {"2027-03-15"}})
		if code != http.StatusSeeOther {
			t.Fatalf("%d %s", code, job)
		}
		return s.get(job)
	}
	if code, to := hold(one, "N-1"); code != http.StatusSeeOther || to != one {
		t.Fatalf("%d %s", code, to)
	}
	if _, text := s.get(one); !strings.Contains(words(text), "The place is held until Mon Mar 15, 2027") || strings.Contains(text, one+"/reservation") {
		t.Error("the quote does not say that its place is held, or can be held again")
	}
	if code, text := hold(two, "N-2"); code != http.StatusConflict || !strings.Contains(text, `class="next"`) || !strings.Contains(text, `value="N-2"`) {
		t.Errorf("the same place for another: %d", code)
	}
	row := func() string {
		_, text := s.get("/trucks?q=N-1")
		return words(part(text, `href="/trucks/N-1"`, "</tr>"))
	}
	if got := row(); !strings.Contains(got, "Not ordered: place held until Mon Mar 15") {
		t.Errorf("the list of trucks: %q", got)
	}
	if _, text := s.get("/trucks?show=held"); strings.Count(text, `class="reserved"`) != 1 || !strings.Contains(text, "1 of 25 trucks are in this list") {
		t.Error("held places are not shown alone")
	}
	if _, text := s.get("/trucks/N-1"); !strings.Contains(text, "Not ordered yet") {
		t.Error("the page of the truck does not say so")
	}
	_, floor := s.get("/floor?weeks=3&from=" + s.state().Plan.Day("N-1-F").String())
	if got := words(part(floor, `href="/visits/N-1-F" draggable`, "</a>")); !strings.Contains(got, "not ordered") {
		t.Errorf("on the floor: %q", got)
	}
	if _, text := s.get("/visits?q=N-1-F"); !strings.Contains(text, "truck not ordered: place held") {
		t.Error("the list of visits does not say so")
	}
	if _, text := s.get(one); strings.Contains(text, "Ask again before anybody signs") {
		t.Error("the place is held, and the quote says that its day may be gone")
	}
	s.door.who = api.Actor{Name: "rita", Acts: api.ActsOf(api.RoleReader)}
	if _, text := s.get("/trucks/N-1"); strings.Contains(text, "/trucks/N-1/order") {
		t.Error("a reader is offered to order")
	}
	if code, _ := s.post("/trucks/N-1/order", nil); code != http.StatusForbidden {
		t.Errorf("a reader orders: %d", code)
	}
	s.door.who = sales
	if code, to := s.post("/trucks/N-1/order", url.Values{"to": {one}}); code != http.StatusSeeOther || to != one {
		t.Fatalf("%d %s", code, to)
	}
	if got := row(); strings.Contains(got, "Not ordered") {
		t.Errorf("ordered, and listed as %q", got)
	}
	_, list := s.get("/quotes")
	if got := words(part(list, `href="`+one+`"`, "</tr>")); !strings.Contains(got, "ordered truck N-1") {
		t.Errorf("what became of it: %q", got)
	}
	if got := words(part(list, `href="`+two+`"`, "</tr>")); !strings.Contains(got, " quoted ") {
		t.Errorf("what became of the other: %q", got)
	}
	if code, text := s.post("/trucks/N-1/release", nil); code != http.StatusConflict || !strings.Contains(text, "No place is held") {
		t.Errorf("given up after it was ordered: %d", code)
	}
}

// A place is given up by a touch, and the quote says so.
func TestReservation_GivenUp(t *testing.T) {
	s := demoSite(t)
	at, _ := s.quoted(orderWith("customer", customer(s), "content", "medium"))
	_, job := s.post(at+"/reservation", url.Values{"truck": {"N-1"}, "until": {"2027-03-15"}})
	if code, to := s.get(job); code != http.StatusSeeOther || to != at {
		t.Fatalf("%d %s", code, to)
	}
	if code, to := s.post("/trucks/N-1/release", url.Values{"to": {"/trucks"}}); code != http.StatusSeeOther || to != "/trucks" {
		t.Fatalf("%d %s", code, to)
	}
	if _, text := s.get(at); !strings.Contains(text, "A place was held for it, and given up.") || !strings.Contains(text, at+"/reservation") {
		t.Error("the quote does not say that its place was given up, or cannot be held again")
	}
	if code, _ := s.get("/trucks/N-1"); code != http.StatusNotFound {
		t.Errorf("the truck is still there: %d", code)
	}
}

// A quote whose place is held, the truck that holds it, and a refusal to hold it are as
// usable as other pages.
func TestBrowser_AxeHeld(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it takes a browser")
	}
	script := axe(t)
	s := demoSite(t)
	form := orderWith("customer", customer(s), "content", "medium", "due", "2027-07-26")
	one, _ := s.quoted(form)
	two, _ := s.quoted(form)
	var jobs []string
	for i, at := range []string{one, two} {
		_, job := s.post(at+"/reservation", url.Values{"truck": {[]string{"N-1", "N-2"}[i]}, "until": {"2027-03-15"}})
		jobs = append(jobs, job)
	}
	if code, _ := s.get(jobs[1]); code != http.StatusConflict {
		t.Fatalf("two have the one place: %d", code)
	}
	b := s.browser()
	for _, on := range []screen{onDesk, onTelephone} {
		do(b, chromedp.EmulateViewport(on.width, on.height))
		for _, path := range []string{one, two, jobs[1], "/quotes", "/trucks/N-1", "/trucks?show=held", "/deliveries", "/visits"} {
			b.open(path)
			b.usable(script, path+", held, "+on.name)
		}
	}
}
