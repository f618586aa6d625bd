package api_test

import (
	"path/filepath"
	"testing"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/api/store/pgtest"
	"wetdown/calendar"
)

// TestBothStores has the same said to an application on SQLite and to one on PostgreSQL: a past,
// slips, a quote, a place that is held and ordered, and one that is given up. Both
// answer alike about chances, on time, and what became of it.
func TestBothStores(t *testing.T) {
	type answers struct {
		Readiness *api.Readiness
		Again     *api.Readiness
		OnTime    *api.OnTime
		Odds      any
		Result    any
		Held      []any
		Became    []string
		Days      *api.VisitChances
		Calls     []string
		Past      string
		Promises  any
	}
	story := func(url string) (out answers) {
		a := startedOn(t, url, demoPlant(t))
		must := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
		}
		out.Readiness = ready(t, a)
		_, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", slipped(40, 7), 0)
		must(err)
		lineOff(t, a, "H1019", march(15))
		out.Again = ready(t, a)
		out.OnTime, err = a.OnTime(ctx, manager, "kind")
		must(err)
		out.Days, err = a.VisitChances(ctx, manager, "H1019-F")
		must(err)
		p := newest(t, a).Plant
		q := quoted(t, a, wouldBe(p))
		out.Odds, out.Result = q.Odds, q.Result
		again, err := a.QuoteAgain(ctx, manager, q.ID)
		must(err)
		same(t, "the quote made again", again.Odds, q.Odds)
		for _, truck := range []string{"N-1", "N-2"} {
			r, no := reserved(t, a, api.ReserveQuestion{Quote: q.ID, Truck: truck, Until: p.AsOf.Date() + 14})
			if no != nil {
				t.Fatal(no)
			}
			r.Quote = ""
			out.Held = append(out.Held, *r)
			if truck == "N-1" {
				_, err = a.Release(ctx, sales, api.Intent{}, truck)
			} else {
				_, err = a.Ordered(ctx, sales, api.Intent{}, truck)
			}
			must(err)
		}
		became, err := a.QuoteOutcomes(ctx, manager, api.Page{})
		must(err)
		for _, b := range became {
			out.Became = append(out.Became, b.State+" "+b.Truck)
		}
		calls, err := a.Calls(ctx, manager, "", api.Page{})
		must(err)
		for _, c := range calls {
			out.Calls = append(out.Calls, c.State+" "+c.About)
		}
		data, err := a.GiveFile(ctx, manager, sheet.History, sheet.CSV)
		must(err)
		out.Past = string(data)
		out.Promises, err = a.Promises(ctx, manager, "H1019")
		must(err)
		for _, r := range []*api.Readiness{out.Readiness, out.Again} {
			for i := range r.Unsafe {
				if r.Unsafe[i].Call != "" {
					r.Unsafe[i].Call = "one" // its number is drawn
				}
			}
		}
		return out
	}
	file, server := story(filepath.Join(t.TempDir(), "wetdown.db")), story(pgtest.URL(t))
	same(t, "on PostgreSQL", server, file)
	if len(file.Held) != 2 || len(file.Became) != 1 || len(file.Calls) == 0 || file.OnTime.AsOf == calendar.None || len(file.OnTime.Groups) == 0 {
		t.Errorf("too little was asked: %+v", file)
	}
}
