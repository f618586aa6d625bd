package web_test

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"wetdown/calendar"
)

// Deliveries come with their days at three chances against the contract, those most likely
// late first, and the drawing says what the row does.
func TestDeliveries(t *testing.T) {
	s := demoSite(t)
	r, err := s.app.Readiness(t.Context(), manager, true)
	if err != nil {
		t.Fatal(err)
	}
	_, page := s.get("/deliveries")
	rows := strings.Split(part(page, "<tbody>", "</tbody>"), "<tr")[1:]
	if len(rows) != len(r.Odds.Deliveries) || len(rows) < 10 {
		t.Fatalf("%d rows for %d trucks", len(rows), len(r.Odds.Deliveries))
	}
	number := func(row, pattern string) int {
		m := regexp.MustCompile(pattern).FindStringSubmatch(row)
		if m == nil {
			return 0
		}
		n, err := strconv.Atoi(m[1])
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	before := 0.0
	for _, row := range rows {
		found := false
		for _, x := range r.Odds.Deliveries {
			if !strings.Contains(row, `href="/trucks/`+x.Truck+`"`) {
				continue
			}
			found = true
			if x.OnTime.Share < before {
				t.Errorf("%s (%.3f) stands after %.3f", x.Truck, x.OnTime.Share, before)
			}
			before = x.OnTime.Share
			if !strings.Contains(words(row), inHundred(x.OnTime.Share)) {
				t.Errorf("%s: no %s in %s", x.Truck, inHundred(x.OnTime.Share), words(row))
			}
			for _, d := range []calendar.Date{x.Due, x.Planned, x.P50, x.P80, x.P95} {
				if d != calendar.None && !strings.Contains(row, d.String()) {
					t.Errorf("%s: no %s", x.Truck, d)
				}
			}
			half, most, nearly, due := number(row, `class="dot" cx="(\d+)"`), number(row, `class="most" d="M\d+ 13H(\d+)"`), number(row, `class="reach" d="M\d+ 13H(\d+)`), number(row, `class="owed" d="M(\d+) `)
			if half > most || most > nearly || due == 0 {
				t.Errorf("%s is drawn %d, %d, %d, contract %d", x.Truck, half, most, nearly, due)
			}
			for _, c := range []struct {
				day calendar.Date
				at  int
			}{{x.P50, half}, {x.P80, most}, {x.P95, nearly}} {
				if c.day != calendar.None && (c.day > x.Due) != (c.at > due) {
					t.Errorf("%s: %s, contract %s, is drawn at %d, contract at %d", x.Truck, c.day, x.Due, c.at, due)
				}
			}
		}
		if !found {
			t.Errorf("no truck in %s", words(row))
		}
	}
	if _, late := s.get("/late"); !strings.Contains(late, `href="/deliveries"`) {
		t.Error("no way from what is late to what may be")
	}
}
