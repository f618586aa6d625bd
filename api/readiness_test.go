package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// ready is the readiness of the newest revision.
func ready(t testing.TB, a *api.App) *api.Readiness {
	t.Helper()
	r, err := a.Readiness(ctx, manager, true)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// same compares values by their JSON.
func same(t testing.TB, what string, got, want any) {
	t.Helper()
	g, err := json.Marshal(got)
	w, also := json.Marshal(want)
	if err != nil || also != nil {
		t.Fatal(err, also)
	}
	if string(g) != string(w) {
		t.Errorf("%s:\n%.600s\nwant:\n%.600s", what, g, w)
	}
}

// lineOff has a truck expected off the line on a day, and returns the revision.
func lineOff(t testing.TB, a *api.App, truck string, day calendar.Date) int64 {
	t.Helper()
	s, err := a.ReportLineOff(ctx, coordinator, api.Intent{}, api.LineOff{Truck: truck, Day: day})
	if err != nil {
		t.Fatal(err)
	}
	return s.Revision.Number
}

// march is a day of the month in which the plant of the demo stands.
func march(day int) calendar.Date { return calendar.NewDate(2027, time.March, day) }

// TestReadiness compares what is kept with package forecast, asked about the same plant, and
// looks which revision an answer says that it is of.
func TestReadiness(t *testing.T) {
	a := started(t, demoPlant(t))
	r, err := a.Readiness(ctx, who(api.RoleReader), false) // none is kept: it is worked out
	if err != nil {
		t.Fatal(err)
	}
	s := newest(t, a)
	want, err := forecast.Readiness(ctx, s.Plant, forecast.Options{Runs: 2000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "visits", r.Odds.Visits, want.Visits)
	same(t, "deliveries", r.Odds.Deliveries, want.Deliveries)
	if r.Revision != s.Revision.Number || r.Newest != r.Revision || r.Odds.Runs != 2000 || r.Odds.Seed != 1 || len(want.Visits) == 0 {
		t.Errorf("revision %d of %d, %d runs, seed %d", r.Revision, r.Newest, r.Odds.Runs, r.Odds.Seed)
	}

	newer := lineOff(t, a, "H1024", march(22))
	old, err := a.Readiness(ctx, manager, false)
	if err != nil || old.Revision != r.Revision || old.Newest != newer {
		t.Fatalf("after a change: revision %d of %d, %v", old.Revision, old.Newest, err)
	}
	same(t, "what was kept", old.Odds, r.Odds)
	if now := ready(t, a); now.Revision != newer || now.Newest != newer {
		t.Errorf("waited for: revision %d of %d", now.Revision, now.Newest)
	}
	if _, err := a.Readiness(ctx, api.Actor{Name: "somebody"}, false); problem(t, err) != api.Forbidden {
		t.Errorf("somebody who may not read: %v", err)
	}

	h := newHall(t)
	bare := demoPlant(t)
	bare.Plan = nil
	if _, err := h.Load(ctx, h.admin, api.Intent{}, bare); err != nil {
		t.Fatal(err)
	}
	if _, err := h.Readiness(ctx, h.admin, false); problem(t, err) != api.Conflict {
		t.Errorf("without a plan in force: %v", err)
	}
}

// TestReadiness_Slip reports a slip that no plan has answered yet: it counts as a fact.
func TestReadiness_Slip(t *testing.T) {
	a := started(t, demoPlant(t))
	before := ready(t, a)
	if _, _, err := a.ReportSlip(ctx, coordinator, api.Intent{}, plant.Slip{Kind: plant.LineOffMoved, Truck: "H1019", Days: 5}); err != nil {
		t.Fatal(err)
	}
	s, after := newest(t, a), ready(t, a)
	facts, err := s.Plant.Apply(s.Plant.Slips)
	if err != nil {
		t.Fatal(err)
	}
	want, err := forecast.Readiness(ctx, facts, forecast.Options{Runs: 2000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "visits", after.Odds.Visits, want.Visits)
	was, _ := before.Odds.For("H1019-F")
	is, err := after.Odds.For("H1019-F")
	if err != nil || is.Ready.Share >= was.Ready.Share || !strings.Contains(after.Odds.Assumptions[0]+after.Odds.Assumptions[1], "counts as having happened: 1 slip.") {
		t.Errorf("ready with %v, before %v: %q", is.Ready.Share, was.Ready.Share, after.Odds.Assumptions)
	}
}

// TestReadiness_Once has many ask at the same moment for chances that nobody worked out: they
// are kept once.
func TestReadiness_Once(t *testing.T) {
	a := started(t, demoPlant(t))
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			if r, err := a.Readiness(ctx, manager, true); err != nil || r.Revision != r.Newest {
				t.Error(r, err)
			}
		})
	}
	wg.Wait()
	if n := api.ReadinessVersion(t, a); n != 1 {
		t.Errorf("they were kept %d times", n)
	}
}

// TestReadiness_Unsafe has a visit become unsafe by a slip: the coordinator is told once, with
// a word on the trail, not again while it stays so, and the call is idle when it is safe
// again. When that happens a second time they are told a second time.
func TestReadiness_Unsafe(t *testing.T) {
	a := started(t, demoPlant(t))
	admin := api.Actor{Name: "root", Acts: api.Acts()}
	const visit = "H1019-F"
	state := func(r *api.Readiness) (share float64, told *api.UnsafeVisit) {
		t.Helper()
		v, err := r.Odds.For(visit)
		if err != nil {
			t.Fatal(err)
		}
		if k := slices.IndexFunc(r.Unsafe, func(u api.UnsafeVisit) bool { return u.Visit == visit }); k >= 0 {
			told = &r.Unsafe[k]
		}
		return v.Ready.Share, told
	}
	calls := func(state string) (list []*api.Call) {
		t.Helper()
		all, err := a.Calls(ctx, coordinator, state, api.Page{})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range all {
			if c.Visit == visit {
				list = append(list, c)
			}
		}
		return list
	}
	first := ready(t, a)
	if share, told := state(first); share < 0.8 || told != nil || len(first.Unsafe) == 0 {
		t.Fatalf("at first it is ready with %v: of no use for this test", share)
	}
	for _, u := range first.Unsafe {
		if u.Call != "" {
			t.Errorf("the first time nothing has changed, and %+v", u)
		}
	}
	if all, err := a.Calls(ctx, coordinator, "", api.Page{}); err != nil || len(all) != 0 {
		t.Errorf("calls of the first time: %d, %v", len(all), err)
	}

	became := lineOff(t, a, "H1019", march(15))
	share, told := state(ready(t, a))
	open := calls(api.CallOpen)
	if share >= 0.8 || told == nil || told.Since != became || told.Day != march(30) || len(open) != 1 || told.Call != open[0].ID {
		t.Fatalf("after the slip: ready with %v, told %+v, %d calls", share, told, len(open))
	}
	if c := open[0]; c.Truck != "H1019" || c.Revision != became || c.Heads != 5 || !strings.Contains(c.About, "2027-03-30") || !strings.Contains(c.About, "where it was 92%") {
		t.Errorf("the call: %+v", c)
	}
	trail, err := a.Trail(ctx, admin, 0, 10)
	said := slices.DeleteFunc(trail, func(e api.Event) bool { return e.Subject != "visits/"+visit })
	if err != nil || len(said) != 1 || said[0].Who != "wetdown" || said[0].Detail != open[0].About {
		t.Errorf("the trail: %+v, %v", said, err)
	}

	lineOff(t, a, "H1019", march(16))
	if _, still := state(ready(t, a)); *still != *told || len(calls("")) != 1 {
		t.Errorf("still unsafe: %+v, %d calls", still, len(calls("")))
	}
	if _, err := a.TickCall(ctx, coordinator, told.Call, true, "they know"); err != nil {
		t.Fatal(err)
	}
	lineOff(t, a, "H1019", march(17))
	ready(t, a)
	if len(calls("")) != 1 || len(calls(api.CallDone)) != 1 {
		t.Errorf("after the call was made: %d calls, %d done", len(calls("")), len(calls(api.CallDone)))
	}
	lineOff(t, a, "H1019", march(8))
	if share, told := state(ready(t, a)); share < 0.8 || told != nil {
		t.Fatalf("as before: ready with %v, told %+v", share, told)
	}
	lineOff(t, a, "H1019", march(15))
	ready(t, a)
	if len(calls("")) != 2 || len(calls(api.CallOpen)) != 1 {
		t.Errorf("a second time: %d calls, %d open", len(calls("")), len(calls(api.CallOpen)))
	}
	lineOff(t, a, "H1019", march(8))
	ready(t, a)
	if len(calls(api.CallOpen)) != 0 || len(calls(api.CallIdle)) != 1 {
		t.Errorf("safe again: %d calls open, %d idle", len(calls(api.CallOpen)), len(calls(api.CallIdle)))
	}
}

// TestReadiness_UnsafeStill takes back the revision with which a call about a visit came up
// that is not safe: the visit is still not safe, so the coordinator is told again. The first
// call cannot be ticked, since what it said does not hold.
func TestReadiness_UnsafeStill(t *testing.T) {
	a := started(t, demoPlant(t))
	const visit = "H1019-F"
	open := func() (list []*api.Call) {
		t.Helper()
		all, err := a.Calls(ctx, coordinator, api.CallOpen, api.Page{})
		if err != nil {
			t.Fatal(err)
		}
		return slices.DeleteFunc(all, func(c *api.Call) bool { return c.Visit != visit })
	}
	ready(t, a)
	lineOff(t, a, "H1019", march(15))
	last := lineOff(t, a, "H1020", march(12))
	ready(t, a)
	first := open()
	if len(first) != 1 || first[0].Revision != last {
		t.Fatalf("%d calls: of no use for this test", len(first))
	}
	if _, err := a.Undo(ctx, manager, api.Intent{}, last); err != nil {
		t.Fatal(err)
	}
	ready(t, a)
	again := open()
	if len(again) != 1 {
		t.Fatalf("not safe still, and %d calls", len(again))
	}
	if again[0].ID == first[0].ID {
		t.Fatal("the call was not idle in between: of no use for this test")
	}
	if _, err := a.TickCall(ctx, coordinator, first[0].ID, true, "they know"); problem(t, err) != api.Conflict || api.AsProblem(err).Next == "" {
		t.Errorf("the first call is ticked: %v", err)
	}
	ready(t, a)
	if n := len(open()); n != 1 {
		t.Errorf("told twice: %d calls", n)
	}
}

// slipped is a table of a history in which line-offs came so many days after the day that was
// said, twenty weeks ahead and again four.
func slipped(trucks, days int) []byte {
	text := "truck,event,said,projected,actual,truck_kind,content,customer,requested,contract\n"
	for i := range trucks {
		projected := calendar.NewDate(2026, time.February, 2).AddDays(7 * i)
		for _, ahead := range []int{140, 28} {
			text += fmt.Sprintf("OLD-%d,line_off,%s,%s,%s,pumper,medium,X,,\n", i, projected.AddDays(-ahead), projected, projected.AddDays(days))
		}
	}
	return []byte(text)
}

// TestReadiness_History takes in a history of trucks that were three weeks late: the chances
// rest on it from then on, with no other revision of the plant.
func TestReadiness_History(t *testing.T) {
	a := started(t, demoPlant(t))
	before := ready(t, a)
	if _, _, err := a.TakeFile(ctx, manager, api.Intent{}, sheet.History, "old.csv", slipped(12, 21), 0); err != nil {
		t.Fatal(err)
	}
	after := ready(t, a)
	if after.Revision != before.Revision || after.Table != before.Table+1 {
		t.Errorf("revision %d, table %d; before %d, %d", after.Revision, after.Table, before.Revision, before.Table)
	}
	if says := strings.Join(after.Odds.Assumptions, " "); !strings.Contains(says, "from how projections slipped before") {
		t.Errorf("it rests on: %s", says)
	}
	was, _ := before.Odds.For("H1019-F")
	is, err := after.Odds.For("H1019-F")
	if err != nil || is.Ready.Share >= was.Ready.Share {
		t.Errorf("ready with %v, before %v", is.Ready.Share, was.Ready.Share)
	}
}

// TestKeepForecasting has the chances follow the revisions in the background, and ends it.
func TestKeepForecasting(t *testing.T) {
	a := started(t, demoPlant(t))
	before := goleak.IgnoreCurrent()
	background, end := context.WithCancel(ctx)
	var wg sync.WaitGroup
	wg.Go(func() {
		a.KeepForecasting(background, time.Minute, func(err error) { t.Error(err) })
	})
	until := func(revision int64) {
		t.Helper()
		for {
			news := a.ReadinessNews()
			r, err := a.Readiness(ctx, manager, false)
			if err != nil {
				t.Fatal(err)
			}
			if r.Revision >= revision {
				return
			}
			<-news
		}
	}
	until(newest(t, a).Revision.Number)
	for day := 15; day < 20; day++ {
		lineOff(t, a, "H1019", march(day))
	}
	until(newest(t, a).Revision.Number)
	end()
	wg.Wait()
	goleak.VerifyNone(t, before)
}

// TestReadiness_Processes has two processes on one database find at the same time that a visit
// is not safe any more: the coordinator is told once.
func TestReadiness_Processes(t *testing.T) {
	h := newHall(t)
	other := api.New(h.store, api.Options{Clock: h.clock})
	defer other.Close()
	if _, err := h.Load(ctx, h.admin, api.Intent{}, demoPlant(t)); err != nil {
		t.Fatal(err)
	}
	h.App.Serve(inline{h.App})
	accepted(t, h.App, api.ProposeQuestion{Slips: []string{}})
	both := func() {
		t.Helper()
		var wg sync.WaitGroup
		for _, a := range []*api.App{h.App, other} {
			wg.Go(func() {
				if _, err := a.Forecast(ctx); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
	}
	both()
	lineOff(t, h.App, "H1019", march(15))
	both()
	calls, err := h.Calls(ctx, coordinator, "", api.Page{})
	if err != nil {
		t.Fatal(err)
	}
	calls = slices.DeleteFunc(calls, func(c *api.Call) bool { return c.Visit != "H1019-F" })
	if n := api.ReadinessVersion(t, h.App); n != 2 || len(calls) != 1 {
		t.Errorf("kept %d times, told %d times", n, len(calls))
	}
}
