package web_test

import (
	"context"
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/history"
)

// remember takes in a history of days as a table.
func (s *site) remember(table string) {
	s.t.Helper()
	if _, _, err := s.app.TakeFile(context.Background(), manager, api.Intent{}, sheet.History, "old.csv", []byte(table), 0); err != nil {
		s.t.Fatal(err)
	}
}

// pastOf is a history that was made, as a table.
func pastOf(o generate.HistoryOptions) string {
	events, _ := generate.History(o)
	table := &strings.Builder{}
	table.WriteString("truck,event,said,projected,actual,truck_kind,content,customer,owner,requested,contract\n")
	day := func(d calendar.Date) string {
		if d == calendar.None {
			return ""
		}
		return d.String()
	}
	for _, e := range events {
		fmt.Fprintf(table, "%s,%s,%s,%s,%s,%s,%s,%s,%s,%s,%s\n", e.Truck, e.What, day(e.Said), day(e.Projected), day(e.Actual), e.Kind, e.Content, e.Customer, e.Owner, day(e.Requested), day(e.Contract))
	}
	return table.String()
}

// The four ratios are those counted by hand from a table of three trucks:
//
//	A  said for 2 March, then for 9 March; asked for 1 March, contract 10 March; came on 9 March
//	B  said for 2 March; contract 1 March; came on 2 March
//	C  said for 1 April; still to come in the next year
func TestOnTime(t *testing.T) {
	s := demoSite(t)
	s.remember(`truck,event,said,projected,actual,truck_kind,content,customer,owner,requested,contract
A,delivery,2026-01-05,2026-03-02,2026-03-09,pumper,medium,<script>alert(1)</script>,supplier,2026-03-01,2026-03-10
A,delivery,2026-02-02,2026-03-09,2026-03-09,pumper,medium,<script>alert(1)</script>,supplier,2026-03-01,2026-03-10
B,delivery,2026-01-05,2026-03-02,2026-03-02,pumper,medium,Yarn,,,2026-03-01
C,delivery,2026-01-05,2026-04-01,,pumper,medium,Yarn,,,
`)
	_, page := s.get("/on-time")
	row := words(part(part(page, "<h2>Delivery</h2>", "</table>"), `<th scope="row">All`, "</tr>"))
	if want := "All 1 of 3 few 1 on the day, 1 still to come 2 of 3 few 2 on the day, 1 still to come 0 of 1 few 0 on the day 1 of 2 few 0 on the day"; !strings.HasSuffix(row, want) {
		t.Errorf("%q, want %q", row, want)
	}
	if strings.Contains(page, "in 100") || !strings.Contains(page, "fewer than 8") {
		t.Error("a share of so few is told, or it is not said why none is")
	}
	_, page = s.get("/on-time?by=customer")
	if strings.Contains(page, "<script>alert") {
		t.Error("the name of a customer runs as a script")
	}
	if got := words(part(page, `<th scope="row">Yarn`, "</tr>")); !strings.HasSuffix(got, "Yarn 1 of 2 few 1 on the day, 1 still to come 1 of 2 few 1 on the day, 1 still to come none 0 of 1 few 0 on the day") {
		t.Errorf("Yarn: %q", got)
	}
	if code, page := s.get("/on-time?by=colour"); code != http.StatusUnprocessableEntity || !strings.Contains(page, "Nothing is counted by") {
		t.Errorf("by colour: %d", code)
	}
}

// Each bar is as long as its parts are many, and each share is told of how many.
func TestOnTime_Bars(t *testing.T) {
	s := demoSite(t)
	s.remember(pastOf(generate.HistoryOptions{Trucks: 120, Seed: 3}))
	for _, by := range []string{"", "customer", "kind", "period", "owner"} {
		o, err := s.app.OnTime(t.Context(), manager, by)
		if err != nil {
			t.Fatal(err)
		}
		_, page := s.get("/on-time?by=" + by)
		cells := regexp.MustCompile(`class="early" x="0" y="2" width="(\d+)" height="10"/><rect class="onday" x="(\d+)" y="2" width="(\d+)" height="10"/><rect class="lately" x="(\d+)" y="6" width="(\d+)" height="2"/></svg><b>(\d+) of (\d+)</b>`).FindAllStringSubmatch(page, -1)
		n := 0
		for _, g := range o.Groups {
			for _, r := range g.Ratios {
				if r.Of() == 0 {
					continue
				}
				if n == len(cells) {
					t.Fatalf("by %q: only %d bars", by, n)
				}
				v := make([]int, len(cells[n]))
				for i, text := range cells[n][1:] {
					v[i+1], _ = strconv.Atoi(text)
				}
				if v[6] != r.Early+r.OnDay || v[7] != r.Of() || v[1]+v[3]+v[5] != 110 || v[2] != v[1] || v[4] != v[1]+v[3] || v[1]*r.Of() > 110*r.Early || v[5] == 0 && r.Late > r.Of()/50 {
					t.Errorf("by %q, %s %s: %v is drawn for %+v", by, g.What, g.Name, cells[n][1:], r)
				}
				n++
			}
		}
		if n < 4 || n != len(cells) {
			t.Errorf("by %q: %d bars for %d ratios", by, len(cells), n)
		}
	}
}

// What stated days held is told with how many, drawn as it is in the table, held against the
// naive rule, and the page says where little is known.
func TestBacktest(t *testing.T) {
	s := demoSite(t)
	code, page := s.get("/history/backtest")
	if code != http.StatusOK || !strings.Contains(page, "Nothing can be judged yet") || strings.Contains(page, "<svg") {
		t.Fatalf("without a history: %d", code)
	}
	s.remember(pastOf(generate.HistoryOptions{Trucks: 200, Seed: 3}))
	_, page = s.get("/history/backtest")
	j, err := s.app.AskBacktest(t.Context(), manager)
	if err != nil {
		t.Fatal(err)
	}
	var r history.Report
	s.answer(j.ID, &r)
	if r.Scored == 0 {
		t.Fatal("nothing is judged")
	}
	levels := part(part(page, "<h2>How often they held</h2>", "</table>"), "<tbody>", "</tbody>")
	for _, l := range r.Levels {
		row := words(part(levels, `<th scope="row">`+inHundred(l.Stated), "</tr>"))
		want := fmt.Sprintf("%s %s %.0f to %.0f in 100 %s %d %.2f %.2f", inHundred(l.Stated), inHundred(l.Share()), 100*l.Interval.Low, 100*l.Interval.High, commas(l.Of), l.Trucks, l.Loss.Ours, l.Loss.Naive)
		if !strings.Contains(row, want) {
			t.Errorf("%q, want %q", row, want)
		}
	}
	judged := 0
	for _, h := range r.Reliability {
		if h.Of > 0 {
			judged++
		}
	}
	dots := regexp.MustCompile(`class="between" d="M(\d+) (\d+)V(\d+)"/><circle class="dot" cx="(\d+)" cy="(\d+)"`).FindAllStringSubmatch(page, -1)
	if len(dots) != judged {
		t.Errorf("%d dots for %d chances", len(dots), judged)
	}
	for _, d := range dots {
		low, _ := strconv.Atoi(d[2])
		high, _ := strconv.Atoi(d[3])
		at, _ := strconv.Atoi(d[5])
		if d[1] != d[4] || at > low || at < high {
			t.Errorf("a dot at %d lies outside of its interval, %d to %d", at, low, high)
		}
	}
	if p := r.Pinball(); !strings.Contains(page, fmt.Sprintf("The loss is %.0f%% smaller", 100*(1-p.Ours/p.Naive))) {
		t.Errorf("the naive rule: %+v", p)
	}
	if n := len(r.Thin()); n > 0 != strings.Contains(page, "Thin:") || !strings.Contains(page, fmt.Sprintf("Thin classes: %d", n)) {
		t.Errorf("%d thin classes are not told", n)
	}
}

// commas writes a whole number below a million as the pages do.
func commas(x float64) string {
	if x < 1000 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%d,%03d", int(x)/1000, int(x)%1000)
}

// A history whose slips grow is told to drift.
func TestBacktest_Drift(t *testing.T) {
	s := demoSite(t)
	s.remember(pastOf(generate.HistoryOptions{Trucks: 1000, Seed: 1, Drift: 0.6}))
	_, page := s.get("/history/backtest")
	j, err := s.app.AskBacktest(t.Context(), manager)
	if err != nil {
		t.Fatal(err)
	}
	var r history.Report
	s.answer(j.ID, &r)
	n := 0
	for _, d := range r.Drifts {
		if d.Drifts {
			n++
		}
	}
	if n == 0 || strings.Count(page, " drifts:</strong>") != n {
		t.Errorf("%d events drift, %d are told", n, strings.Count(page, " drifts:</strong>"))
	}
}
