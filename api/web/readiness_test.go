package web_test

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// inHundred writes a share as the pages do.
func inHundred(share float64) string {
	n := int(math.Round(share * 100))
	if n == 80 && share < 0.8 {
		n = 79
	}
	switch n {
	case 100:
		return "over 99 in 100"
	case 0:
		return "under 1 in 100"
	default:
		return fmt.Sprint(n, " in 100")
	}
}

// part is what stands between two texts, the first of them included.
func part(text, from, to string) string {
	_, rest, ok := strings.Cut(text, from)
	if !ok {
		return ""
	}
	rest, _, _ = strings.Cut(rest, to)
	return from + rest
}

// words are the words of a piece of a page, without its marks.
func words(piece string) string {
	return strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(piece, " ")), " ")
}

// Every visit to come is listed with the chance that its truck is ready, in a word and a
// number, and the day from which it is safe; those that were promised and are not safe come
// first, with what to do.
func TestReadiness(t *testing.T) {
	s := demoSite(t)
	r, err := s.app.Readiness(t.Context(), manager, true)
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.get("/visits")
	_, floor := s.get("/floor?weeks=8&all=yes")
	unsafe, tickets := 0, 0
	for _, x := range r.Odds.Visits {
		row := part(page, `<a href="/visits/`+x.Visit+`">`, "</tr>")
		word := "unlikely"
		if x.Ready.Share >= 0.8 {
			word = "safe"
		} else if x.Ready.Share >= 0.5 {
			word = "at risk"
		}
		if want := word + " " + inHundred(x.Ready.Share); !strings.Contains(words(row), want) {
			t.Errorf("%s: no %q in %q", x.Visit, want, words(row))
		}
		if want := `datetime="` + x.SafeFrom.String() + `"`; x.SafeFrom != calendar.None && !strings.Contains(row, want) {
			t.Errorf("%s: no %s in %s", x.Visit, want, row)
		}
		if ticket := part(floor, `href="/visits/`+x.Visit+`" draggable`, "</a>"); ticket != "" {
			tickets++
			if !strings.Contains(words(ticket), "ready "+inHundred(x.Ready.Share)) || x.Unsafe != strings.Contains(ticket, "<b>!</b>") {
				t.Errorf("ticket of %s: %q, unsafe %v", x.Visit, words(ticket), x.Unsafe)
			}
		}
		if x.Unsafe {
			unsafe++
			if !strings.Contains(row, "Day by day") {
				t.Errorf("%s: not safe, and nothing to do", x.Visit)
			}
			if !strings.Contains(part(floor, "Promised, and not safe", "</table>"), x.Visit) {
				t.Errorf("%s is not safe, and the floor does not say so", x.Visit)
			}
			if _, own := s.get("/visits/" + x.Visit); !strings.Contains(own, "Not safe: ready "+inHundred(x.Ready.Share)) {
				t.Errorf("%s: its page does not say that it is not safe", x.Visit)
			}
		}
	}
	if unsafe == 0 || tickets < 10 {
		t.Fatalf("%d not safe, %d tickets: too few to try it", unsafe, tickets)
	}
	rows := strings.Split(part(page, "<tbody>", "</tbody>"), "<tr")[1:]
	if len(rows) != len(r.Odds.Visits) {
		t.Errorf("%d rows for %d visits", len(rows), len(r.Odds.Visits))
	}
	for i, row := range rows {
		if first := strings.Contains(row, `class="unsafe"`); first != (i < unsafe) {
			t.Errorf("row %d of %d not safe: %v", i, unsafe, first)
		}
	}
	if want := fmt.Sprintf("In %s simulated runs of revision 2", "2,000"); !strings.Contains(page, want) || !strings.Contains(floor, want) {
		t.Error("a page does not say what its chances rest on")
	}
	if _, few := s.get("/visits?show=unsafe"); strings.Count(few, `class="unsafe"`) != unsafe || !strings.Contains(few, fmt.Sprintf("%d of %d visits are in this list", unsafe, len(rows))) {
		t.Error("what is not safe is not shown alone")
	}
	if _, none := s.get("/visits?q=nobody"); !strings.Contains(none, "Show all") {
		t.Error("no way back from an empty list")
	}
}

// The page of a visit has the chance of each working day, drawn and as a table that say the
// same.
func TestVisit_Chances(t *testing.T) {
	s := demoSite(t)
	c, err := s.app.VisitChances(t.Context(), manager, "H1018-F")
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.get("/visits/H1018-F")
	table := part(page, "Chance that the truck is ready for a visit on each working day", "</table>")
	rows := strings.Split(table, `<th scope="row">`)[1:]
	if len(rows) != len(c.Days) {
		t.Fatalf("%d rows for %d days", len(rows), len(c.Days))
	}
	for i, x := range c.Days {
		if !strings.Contains(rows[i], x.Day.String()) || !strings.Contains(rows[i], inHundred(x.Chance.Share)) || strings.Contains(rows[i], "safe from here on") != (x.Day == c.SafeFrom) {
			t.Errorf("%s, %.3f: %s", x.Day, x.Chance.Share, words(rows[i]))
		}
	}
	path := regexp.MustCompile(`class="line" d="M(\d+) (\d+)([^"]*)"`).FindStringSubmatch(page)
	if path == nil {
		t.Fatal("nothing is drawn")
	}
	steps := regexp.MustCompile(`H(\d+)V(\d+)`).FindAllStringSubmatch(path[3], -1)
	if len(steps) != len(c.Days)-1 {
		t.Fatalf("%d steps for %d days", len(steps), len(c.Days))
	}
	x, y := path[1], path[2]
	for i, step := range steps {
		if len(x) > len(step[1]) || len(x) == len(step[1]) && x >= step[1] {
			t.Errorf("step %d goes back from %s to %s", i, x, step[1])
		}
		if rises := y != step[2]; rises && c.Days[i+1].Chance.Share <= c.Days[i].Chance.Share {
			t.Errorf("step %d changes where the chance does not", i)
		}
		x, y = step[1], step[2]
	}
}

// Days on offer come with their chances: the safe ones first, the earliest at the head, then
// the likelier.
func TestFloor_OffersRanked(t *testing.T) {
	s := demoSite(t)
	all, early := 0, 0
	for _, truck := range []string{"H1018", "H1019", "H1024"} {
		n, few := s.ranked(truck)
		all, early = all+n, early+few
	}
	if all < 8 || early == 0 {
		t.Errorf("%d days on offer, of which %d not safe: too few to try it", all, early)
	}
}

// ranked looks at the days on offer for the final inspection of a truck, and says how many
// there are and how many of them are not safe.
func (s *site) ranked(truck string) (all, early int) {
	t := s.t
	t.Helper()
	_, to := s.post("/trucks/"+truck+"/offers", nil)
	_, page := s.get(to)
	c, err := s.app.VisitChances(context.Background(), manager, truck+"-F")
	if err != nil {
		t.Fatal(err)
	}
	share := func(d calendar.Date) float64 {
		n := 0.0
		for _, x := range c.Days {
			if x.Day <= d {
				n = x.Chance.Share
			}
		}
		return n
	}
	var days []calendar.Date
	for _, m := range regexp.MustCompile(`day=(\d{4}-\d\d-\d\d)#order"><time[^>]*>[^<]*</time>((?:<span class="small">(?:<strong>)?[^<]*(?:</strong>)?</span>)*)`).FindAllStringSubmatch(part(page, `<ol class="days"`, "</ol>"), -1) {
		d := day(m[1])
		days = append(days, d)
		if !strings.Contains(words(m[2]), "ready "+inHundred(share(d))) {
			t.Errorf("%s: %s, want %s", d, words(m[2]), inHundred(share(d)))
		}
	}
	if len(days) == 0 {
		t.Fatalf("%s: nothing is on offer", truck)
	}
	safe := func(d calendar.Date) bool { return share(d) >= forecast.SafeShare }
	for i, d := range days[1:] {
		before := days[i]
		switch {
		case safe(before) && safe(d) && before > d, !safe(before) && safe(d), !safe(before) && share(before) < share(d):
			t.Errorf("%s (%.2f) stands before %s (%.2f)", before, share(before), d, share(d))
		}
	}
	if safe(days[0]) != strings.Contains(page, "first safe day") {
		t.Error("the first safe day is not said, or said of another")
	}
	for _, d := range days {
		if !safe(d) {
			early++
		}
	}
	return len(days), early
}

// Chances of an older plant are told as such, and where there are none the page says what
// to do.
func TestReadiness_Old(t *testing.T) {
	s := demoSite(t)
	if _, err := s.app.Readiness(t.Context(), manager, true); err != nil {
		t.Fatal(err)
	}
	if _, err := s.app.Book(t.Context(), manager, api.Intent{}, "H1018-F", api.BookingOrder{State: plant.Confirmed, Day: calendar.None, HoldUntil: calendar.None}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/visits", "/floor", "/deliveries"} {
		if code, page := s.get(path); code != http.StatusOK || !strings.Contains(page, "chances of an older plant") || !strings.Contains(page, "revision 2") {
			t.Errorf("%s does not say that its chances are of an older plant", path)
		}
	}
	none := emptySite(t)
	p := demoPlant(t)
	p.Plan = nil
	if _, err := none.app.Load(t.Context(), manager, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/visits", "/floor", "/deliveries", "/visits/H1018-F"} {
		if code, page := none.get(path); code != http.StatusOK || !strings.Contains(page, "There is no plan in force") || !strings.Contains(page, "accept it") {
			t.Errorf("%s without a plan: %d", path, code)
		}
	}
}

// Names that are meant to do harm stay names.
func TestReadiness_Hostile(t *testing.T) {
	s := emptySite(t)
	p := demoPlant(t)
	i := slices.IndexFunc(p.Customers, func(c plant.Customer) bool { return c.ID == p.FindTruck("H1018").Customer })
	p.Customers[i].Name = `<script>alert(1)</script>`
	s.load(p)
	for _, path := range []string{"/visits", "/floor?weeks=8", "/deliveries", "/visits?q=" + url.QueryEscape(`"><script>alert(1)</script>`)} {
		if _, page := s.get(path); strings.Contains(page, "<script>alert") {
			t.Errorf("%s runs a name as a script", path)
		}
	}
}
