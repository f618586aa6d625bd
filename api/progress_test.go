package api_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/plant"
)

// TestReportProgress_Overrun: work that is known to need longer, and has begun, needs what
// is left of it, overrun and all. The figures follow from the route alone.
func TestReportProgress_Overrun(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	s := newest(t, a)
	// Some work by hours that the plan begins within the next days.
	var r plant.Planned
	for _, x := range s.Plant.Plan.Stages {
		if g := s.Plant.FindStage(x.Stage); g != nil && g.Length == plant.LengthHours && x.Start >= s.Plant.AsOf && (r.Truck == "" || x.Start < r.Start) {
			r = x
		}
	}
	if r.Truck == "" {
		t.Fatal("the demo plant plans no work")
	}
	g, truck := s.Plant.FindStage(r.Stage), s.Plant.FindTruck(r.Truck)
	const more = 5 * 60
	if _, _, err := a.ReportSlip(ctx, coordinator, api.Intent{}, plant.Slip{Kind: plant.StageOverran, Truck: r.Truck, Stage: r.Stage, Minutes: more}); err != nil {
		t.Fatal(err)
	}
	accepted(t, a, api.ProposeQuestion{})
	if n := len(newest(t, a).Plant.FindTruck(r.Truck).Overruns); n != 1 {
		t.Fatalf("%d overruns", n)
	}
	// It begins as it was planned, and the plant moves on by an hour.
	grid, err := s.Plant.Grid(s.Plant.AsOf.Date(), r.End.Date())
	if err != nil {
		t.Fatal(err)
	}
	h, err := s.Plant.DepartmentHours(g.Department, grid)
	if err != nil {
		t.Fatal(err)
	}
	now, _ := h.Add(r.Start, 60)
	after, err := a.ReportProgress(ctx, coordinator, api.Intent{}, api.Report{AsOf: now, Rows: []api.Progress{{Truck: r.Truck, Stage: r.Stage, Started: r.Start, Ended: calendar.NoMoment, Bay: r.Bay, Remaining: -1}}})
	if err != nil {
		t.Fatal(err)
	}
	got := after.Plant.FindTruck(r.Truck)
	want := s.Plant.StageMinutes(truck, g) + more - 60
	if len(got.Overruns) != 0 || len(got.Running) != 1+len(truck.Running) || got.Running[len(got.Running)-1].RemainingMinutes != want {
		t.Errorf("overruns %v, running %+v, want %d minutes left", got.Overruns, got.Running, want)
	}
}

// TestReportProgress_KnownLeft: work of which somebody has said what is left, and that goes
// as planned, still ends when the plan says. The estimate would have it end otherwise.
func TestReportProgress_KnownLeft(t *testing.T) {
	a := started(t, demoPlant(t))
	s := newest(t, a)
	to := s.Plant.AsOf + 25*60 + 1
	after, err := a.ReportProgress(context.Background(), coordinator, api.Intent{}, api.Report{AsOf: to, AsPlanned: true})
	if err != nil {
		t.Fatal(err)
	}
	// H1002 had 10 h of corrections left on Monday at 6:00, in a department that works from 7:00
	// to 15:30 with half an hour of rest: 8 h are done on Monday, and of the 2 h left one minute
	// by Tuesday at 7:01.
	r := after.Plant.FindTruck("H1002").Running
	if len(r) != 1 || r[0].Stage != "corrections" || r[0].RemainingMinutes != 119 {
		t.Errorf("H1002 runs %+v", r)
	}
	for _, b := range after.Fit().Broken {
		if strings.Contains(b, "H1002") {
			t.Error(b)
		}
	}
}

// TestReportProgress_Standing: at any moment the plan carried on obeys the judge, with the
// trucks that stand lined up then, and confirmed visits stay on their days.
func TestReportProgress_Standing(t *testing.T) {
	ctx := context.Background()
	stood := 0
	for step := range calendar.Moment(4 * 8) {
		a := started(t, demoPlant(t))
		before := newest(t, a)
		at := before.Plant.AsOf + step*3*60
		if _, err := a.ReportProgress(ctx, coordinator, api.Intent{}, api.Report{AsOf: at, AsPlanned: true}); err != nil {
			t.Fatalf("%s: %v", at, err)
		}
		after := newest(t, a).Plant
		for i := range after.Trucks {
			now := after.Trucks[i].Standing
			lined := slices.ContainsFunc(before.Plant.Plan.Stages, func(r plant.Planned) bool {
				return r.Truck == after.Trucks[i].ID && r.Hold < at && r.Start >= at && r.Stage == now.Stage && r.Bay == now.Bay
			})
			if lined {
				stood++
			} else if now.Stage != "" {
				t.Errorf("%s: truck %s stands ready in %s for its %s, and not by the plan", at, after.Trucks[i].ID, now.Bay, now.Stage)
			}
		}
		for _, b := range newest(t, a).Fit().Broken {
			// Nobody has moved the trucks that are on the line, so their work comes too early.
			if !strings.Contains(b, "the line") && !strings.Contains(b, "at station") {
				t.Errorf("%s: %s", at, b)
			}
		}
		for _, o := range after.Plan.Visits {
			if v := after.FindVisit(o.Visit); v.Booking.State == plant.Confirmed && o.Day != v.Booking.Day && before.Plant.Plan.Day(o.Visit) == v.Booking.Day {
				t.Errorf("%s: visit %s is on %s, booked on %s", at, o.Visit, o.Day, v.Booking.Day)
			}
		}
	}
	if stood == 0 {
		t.Error("no truck stands lined up at any of these moments")
	}
}

// TestReportProgress_HoldRunsOut lets the day pass until which a visit's day was held: the
// visit asks for a day again, and the plan in force still has it where it was.
func TestReportProgress_HoldRunsOut(t *testing.T) {
	ctx := context.Background()
	a := started(t, demoPlant(t))
	p := newest(t, a).Plant
	var visit string
	for _, o := range p.Plan.Visits {
		if v := p.FindVisit(o.Visit); v.Booking.State == plant.Tentative && v.Booking.Day == o.Day && o.Day > p.AsOf.Date()+7 {
			visit = o.Visit
			break
		}
	}
	v := p.FindVisit(visit)
	if v == nil {
		t.Fatal("no visit is held tentatively")
	}
	until := p.AsOf.Date() + 1
	if _, err := a.Book(ctx, coordinator, api.Intent{}, visit, api.BookingOrder{State: plant.Tentative, Day: v.Booking.Day, HoldUntil: until}); err != nil {
		t.Fatal(err)
	}
	for days, want := range []string{1: plant.Tentative, 2: plant.Requested} {
		if days == 0 {
			continue
		}
		s, err := a.ReportProgress(ctx, coordinator, api.Intent{}, api.Report{AsOf: p.AsOf + calendar.Moment(days)*24*60, AsPlanned: true})
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Plant.FindVisit(visit).Booking.State; got != want {
			t.Errorf("after %d days it is %s, want %s", days, got, want)
		}
		if s.Plant.Plan.Day(visit) != v.Booking.Day {
			t.Errorf("after %d days the plan has it on %s, it was on %s", days, s.Plant.Plan.Day(visit), v.Booking.Day)
		}
		if strings.Contains(s.Revision.What, "waits for another") != (want == plant.Requested) {
			t.Errorf("after %d days: %s", days, s.Revision.What)
		}
	}
}
