package api_test

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"sync"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

var sales = api.Actor{Name: "sales", Acts: api.ActsOf(api.RoleSales)}

// wouldBe is an order of medium work content, with a visit.
func wouldBe(p *plant.Plant) solver.Order {
	return solver.Order{
		Truck: plant.Truck{
			ID: "would-be", Customer: p.Customers[0].ID, Kind: "pumper", Content: plant.Medium, LengthFt: 30, HeightFt: 9, FlowGPM: 1250,
			Contract: plant.Contract{Due: p.Horizon.Through, Deadline: calendar.None, Weight: 1},
			Line:     plant.Place{Since: calendar.None, Off: calendar.None, Enters: calendar.None},
		},
		Visit: plant.Visit{
			ID: "would-be-F", Truck: "would-be", Kind: plant.FinalInspection, Heads: 3, Halves: 2,
			Booking: plant.Booking{State: plant.Requested, Day: calendar.None, HoldUntil: calendar.None},
			Windows: []plant.Range{{From: p.AsOf.Date(), Through: p.Horizon.Through}},
		},
	}
}

// quoted asks for a quote and returns it.
func quoted(t *testing.T, a *api.App, o solver.Order) *api.Quote {
	t.Helper()
	j, err := a.AskQuote(context.Background(), sales, api.QuoteQuestion{Order: o})
	if err != nil {
		t.Fatal(err)
	}
	q, err := a.Quote(context.Background(), sales, j.ID)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// reserved asks to hold a place and returns what came of it.
func reserved(t *testing.T, a *api.App, q api.ReserveQuestion) (*api.Reservation, *api.Problem) {
	t.Helper()
	j, err := a.AskReservation(context.Background(), sales, q)
	if err == nil {
		j, err = a.Job(context.Background(), sales, j.ID)
	}
	if err != nil {
		return nil, api.AsProblem(err)
	}
	if j.Problem != nil {
		return nil, j.Problem
	}
	r := &api.Reservation{}
	if err := json.Unmarshal(j.Answer, r); err != nil {
		t.Fatal(err)
	}
	return r, nil
}

// TestReservation holds the last place on the line for one of two customers who were both
// quoted it, and gives it up, orders it, or lets it lapse.
func TestReservation(t *testing.T) {
	ctx := context.Background()
	a := started(t, demoPlant(t))
	p := newest(t, a).Plant
	one, two := quoted(t, a, wouldBe(p)), quoted(t, a, wouldBe(p))
	if one.Result.Delivery == calendar.None || one.Result.Delivery != two.Result.Delivery {
		t.Fatalf("quoted for %s and %s", one.Result.Delivery, two.Result.Delivery)
	}
	until := p.AsOf.Date() + 14
	var won, lost int
	var wg sync.WaitGroup
	var mu sync.Mutex
	for n, q := range []*api.Quote{one, two} {
		wg.Go(func() {
			r, no := reserved(t, a, api.ReserveQuestion{Quote: q.ID, Truck: []string{"N-1", "N-2"}[n], Until: until})
			mu.Lock()
			defer mu.Unlock()
			if no == nil {
				won++
				if r.Delivery > q.Result.Delivery || r.Day == calendar.None || r.Until != until {
					t.Errorf("%+v for a quote of %s", r, q.Result.Delivery)
				}
			} else {
				lost++
				if no.Kind != api.Conflict || no.Next == "" {
					t.Errorf("%+v", no)
				}
			}
		})
	}
	wg.Wait()
	if won != 1 || lost != 1 {
		t.Fatalf("the one place was had by %d, and refused to %d", won, lost)
	}
	s := newest(t, a)
	truck := "N-1"
	if s.Plant.FindTruck(truck) == nil {
		truck = "N-2"
	}
	if v := check.Plan(s.Plant, s.Plant.Plan); !v.Right() {
		t.Error(v.Broken)
	}
	if _, err := a.Ordered(ctx, sales, api.Intent{}, p.Trucks[0].ID); problem(t, err) != api.Conflict {
		t.Errorf("a truck that is ordered already: %v", err)
	}
	if _, err := a.Release(ctx, sales, api.Intent{}, "N-9"); problem(t, err) != api.NotFound {
		t.Errorf("a truck that is not there: %v", err)
	}

	if _, err := a.Drop(ctx, manager, api.Intent{}, "trucks/"+truck); problem(t, err) != api.Conflict || !strings.Contains(api.AsProblem(err).Next, "Give the place up") {
		t.Errorf("taken out of the plant, with the place on the line lost: %v", err)
	}

	// It is given up: the place on the line is free again, and the plan is what it was.
	s, err := a.Release(ctx, sales, api.Intent{}, truck)
	if err != nil {
		t.Fatal(err)
	}
	if s.Plant.FindTruck(truck) != nil || s.Plant.FindVisit(truck+"-F") != nil {
		t.Error("the truck is still there")
	}
	for i, f := range s.Plant.Line.FreeSlots {
		if f != p.Line.FreeSlots[i] {
			t.Errorf("free place %+v, was %+v", f, p.Line.FreeSlots[i])
		}
	}
	if v := check.Plan(s.Plant, s.Plant.Plan); !v.Right() {
		t.Error(v.Broken)
	}

	// The other may have it now, and orders.
	if _, no := reserved(t, a, api.ReserveQuestion{Quote: two.ID, Truck: "N-3", Until: until}); no != nil {
		t.Fatal(no)
	}
	if s, err = a.Ordered(ctx, sales, api.Intent{}, "N-3"); err != nil {
		t.Fatal(err)
	}
	if r := s.Plant.FindTruck("N-3").Reserved; r.For != "" {
		t.Errorf("ordered, and still %+v", r)
	}
	if b := s.Plant.FindVisit("N-3-F").Booking; b.State != plant.Tentative || b.HoldUntil != calendar.None {
		t.Errorf("its visit is %+v", b)
	}
}

// TestReservation_Lapses lets the day pass until which a place was held.
func TestReservation_Lapses(t *testing.T) {
	ctx := context.Background()
	a := started(t, demoPlant(t))
	p := newest(t, a).Plant
	q := quoted(t, a, wouldBe(p))
	if _, no := reserved(t, a, api.ReserveQuestion{Quote: q.ID, Truck: "N-1", Until: p.AsOf.Date() - 1}); no == nil || no.Kind != api.Invalid {
		t.Errorf("held until yesterday: %v", no)
	}
	if _, no := reserved(t, a, api.ReserveQuestion{Quote: q.ID, Truck: "N-1", Until: p.AsOf.Date() + 1}); no != nil {
		t.Fatal(no)
	}
	if _, err := a.ReportProgress(ctx, coordinator, api.Intent{}, api.Report{AsOf: p.AsOf + 24*60, AsPlanned: true}); err != nil {
		t.Fatal(err)
	}
	if newest(t, a).Plant.FindTruck("N-1") == nil {
		t.Error("it was given up on its last day")
	}
	s, err := a.ReportProgress(ctx, coordinator, api.Intent{}, api.Report{AsOf: p.AsOf + 2*24*60, AsPlanned: true})
	if err != nil {
		t.Fatal(err)
	}
	if s.Plant.FindTruck("N-1") != nil || !strings.Contains(s.Revision.What, "N-1 given up") {
		t.Errorf("after its last day: %s", s.Revision.What)
	}
	if _, err := a.Quote(ctx, sales, "no-such"); !errors.As(err, new(*api.Problem)) {
		t.Error(err)
	}
}

// TestReservation_SameNumber asks twice to hold a place by one number: whoever comes second is
// told so.
func TestReservation_SameNumber(t *testing.T) {
	h := newHall(t)
	h.Serve(inline{h.App})
	if _, err := h.Load(ctx, h.admin, api.Intent{}, demoPlant(t)); err != nil {
		t.Fatal(err)
	}
	p := newest(t, h.App).Plant
	q := quoted(t, h.App, wouldBe(p))
	h.Serve(nil)
	var jobs []string
	for range 2 { // alike in everything
		j, err := h.AskReservation(ctx, sales, api.ReserveQuestion{Quote: q.ID, Truck: "N-1", Until: p.AsOf.Date().AddDays(7)})
		if err != nil {
			t.Fatal(err)
		}
		jobs = append(jobs, j.ID)
	}
	for n, want := range []api.Kind{0, api.Invalid} {
		if err := h.Work(ctx, jobs[n]); err != nil {
			t.Error(err)
		}
		j, err := h.Job(ctx, sales, jobs[n])
		if err != nil {
			t.Fatal(err)
		}
		if got := j.Problem; want == 0 && got != nil || want != 0 && (got == nil || got.Kind != want) {
			t.Errorf("question %d: %+v", n+1, got)
		}
	}
}

// TestNotHeld says no only where the planner does.
func TestNotHeld(t *testing.T) {
	day := march(30)
	q := &api.Quote{Revision: 1, Result: &solver.QuoteResult{Delivery: day}}
	for _, c := range []struct {
		r    solver.QuoteResult
		want api.Kind
	}{
		{solver.QuoteResult{Status: plant.Unknown, Delivery: calendar.None, Bound: calendar.None}, api.Busy},
		{solver.QuoteResult{Status: plant.Feasible, Delivery: day + 5, Bound: day - 2}, api.Busy},
		{solver.QuoteResult{Status: plant.Feasible, Delivery: day + 5, Bound: day + 1}, api.Conflict},
		{solver.QuoteResult{Status: plant.Optimal, Delivery: day + 5, Bound: day + 5}, api.Conflict},
		{solver.QuoteResult{Status: plant.Infeasible, Delivery: calendar.None, Bound: calendar.None}, api.Conflict},
	} {
		if p := api.NotHeld(q, &c.r); p.Kind != c.want || p.Next == "" {
			t.Errorf("%+v: %+v", c.r, p)
		}
	}
}
