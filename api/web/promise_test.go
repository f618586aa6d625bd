package web_test

import (
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"wetdown/api"
)

// promisedRow is the row of a truck's table of promises, as text between bars.
func (s *site) promisedRow(truck, name string) string {
	s.t.Helper()
	_, page := s.get("/trucks/" + truck)
	_, page, _ = strings.Cut(page, "What was promised, and what came of it")
	if !strings.Contains(page, `<svg class="drifts"`) {
		s.t.Errorf("truck %s: nothing is drawn", truck)
	}
	_, row, ok := strings.Cut(page, `<tr><th scope="row">`+name+"</th>")
	if !ok {
		s.t.Fatalf("truck %s has no row %s", truck, name)
	}
	row, _, _ = strings.Cut(row, "</tr>")
	return html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(strings.ReplaceAll(row, "</td>", "|"), ""))
}

// What was said of a day first, what was said last and what came of it are told, with how
// far they are apart, by the calendar.
func TestTruck_Promises(t *testing.T) {
	s := demoSite(t)
	ctx := context.Background()
	// A visit that took place, as the plant file has it.
	if got := s.promisedRow("H1016", "Visit H1016-P"); !strings.HasPrefix(got, "Thu Feb 18, 2027|the same|Thu Feb 18, 2027|as said first|") {
		t.Errorf("a visit that took place: %s", got)
	}
	// A line-off day that is said anew twice: Monday March 8, then the 10th, then the 15th.
	for _, d := range []string{"2027-03-10", "2027-03-15"} {
		if _, err := s.app.ReportLineOff(ctx, manager, api.Intent{}, api.LineOff{Truck: "H1019", Day: day(d), Reason: "axle"}); err != nil {
			t.Fatal(err)
		}
	}
	if got := s.promisedRow("H1019", "Line-off"); !strings.HasPrefix(got, "Mon Mar 8, 2027") || !strings.Contains(got, "|Mon Mar 15, 2027") || !strings.Contains(got, "moved 2 times|not yet|7 calendar days later|") {
		t.Errorf("a line-off that was put off: %s", got)
	}
	// A visit whose day is agreed anew: April 6 becomes April 8, two days later.
	s = demoSite(t)
	c := callAbout(t, s.called(), "H1016-F")
	if code, page := s.post("/visits/H1016-F/booking", url.Values{"state": {"confirmed"}, "day": {c.Move.To.String()}}); code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, page)
	}
	if got := s.promisedRow("H1016", "Visit H1016-F"); !strings.HasPrefix(got, "Tue Apr 6, 2027|Thu Apr 8, 2027") || !strings.Contains(got, "moved 1 time|not yet|2 calendar days later|") {
		t.Errorf("a visit that moved: %s", got)
	}
	// Deliveries against the contract, counted from the plan here.
	p, told := s.state(), 0
	for _, r := range p.Plan.Stages {
		if g := p.FindStage(r.Stage); g == nil || !g.Delivers || told == 6 {
			continue
		}
		told++
		n := int((r.End - 1).Date() - p.FindTruck(r.Truck).Contract.Due)
		want := "|on its day|"
		if n > 0 {
			want = "|" + itoa(int64(n)) + " calendar days after it|"
		} else if n < 0 {
			want = "|" + itoa(int64(-n)) + " calendar days before it|"
		}
		if got := s.promisedRow(r.Truck, "Delivery"); !strings.HasSuffix(got, strings.Replace(want, "|1 calendar days", "|1 calendar day", 1)) {
			t.Errorf("%s against the contract, %s: %s", r.Truck, want, got)
		}
	}
	if told == 0 {
		t.Error("the plan delivers nothing")
	}
}
