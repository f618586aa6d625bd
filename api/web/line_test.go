package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"wetdown/calendar"
)

// A truck goes on, another gets its cab, a third comes off the line: kept together, or
// nothing of it.
func TestLine(t *testing.T) {
	s := demoSite(t)
	_, page := s.get("/line")
	row := func(truck string) string {
		t.Helper()
		m := regexp.MustCompile(`name="truck-(\d+)" value="` + truck + `"`).FindStringSubmatch(page)
		if m == nil {
			t.Fatalf("the page does not have truck %s", truck)
		}
		return m[1]
	}
	for _, says := range []string{"Paint", "To enter the line", "painted cab arrived", "late"} {
		if !strings.Contains(page, says) {
			t.Errorf("the page does not say %q", says)
		}
	}
	on, waits, enters := row("H1018"), row("H1019"), row("H1021")
	form := url.Values{
		"truck-0": {"H1018"}, "truck-1": {"H1019"}, "truck-2": {"H1021"},
		"to-0": {"cab"}, "day-0": {"2027-03-01"}, "feeder-1-0": {"on"}, "to-2": {"chassis"}, "day-2": {"2027-03-02"},
	}
	if on == waits || waits == enters {
		t.Fatal("two trucks in one row")
	}
	// The third cannot have entered tomorrow, so nothing is kept; what was chosen stays.
	code, said := s.post("/line", form)
	if code != http.StatusUnprocessableEntity || !strings.Contains(said, "has not come yet") || !strings.Contains(said, "progress up to that day") {
		t.Fatalf("%d %s", code, said)
	}
	if now := s.state().FindTruck("H1018"); now.Line.Station != "paint" {
		t.Errorf("kept in part: %+v", now.Line)
	}
	form.Del("to-2")
	if code, to := s.post("/line", form); code != http.StatusSeeOther || to != "/line?done=yes" {
		t.Fatalf("%d %s", code, to)
	}
	p := s.state()
	if l := p.FindTruck("H1018").Line; l.Station != "cab" || l.Since != calendar.NewDate(2027, 3, 1) {
		t.Errorf("%+v", l)
	}
	if l := p.FindTruck("H1019").Line; len(l.Feeders) != 0 {
		t.Errorf("%+v", l)
	}
	for _, c := range []struct {
		form url.Values
		code int
		says string
	}{
		{url.Values{"truck-0": {"H1018"}}, http.StatusUnprocessableEntity, "Nothing was said"},
		{url.Values{"truck-0": {"H1018"}, "to-0": {"pump"}}, http.StatusConflict, "does not go back"},
		{url.Values{"truck-0": {"H1018"}, "to-0": {"off"}, "day-0": {"soon"}}, http.StatusUnprocessableEntity, "This is no day"},
		{url.Values{"truck-0": {"H1018"}, "to-0": {"off"}, "seen": {"1"}}, http.StatusConflict, "It has changed meanwhile"},
	} {
		if code, page := s.post("/line", c.form); code != c.code || !strings.Contains(page, c.says) || !strings.Contains(page, "Where it is now") {
			t.Errorf("%v: %d, says %q: %v", c.form, code, c.says, strings.Contains(page, c.says))
		}
	}
	if code, _ := s.post("/line", url.Values{"truck-0": {"H1018"}, "to-0": {"off"}}); code != http.StatusSeeOther {
		t.Errorf("off the line: %d", code)
	}
	if s.state().FindTruck("H1018").Line.Off == calendar.None {
		t.Error("it is still on the line")
	}
}
