package check_test

import (
	"testing"
	"time"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

func date(t testing.TB, s string) calendar.Date {
	t.Helper()
	d, err := calendar.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func moment(t testing.TB, s string) calendar.Moment {
	t.Helper()
	m, err := calendar.ParseMoment(s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// stage returns the row of a stage, to be changed in place.
func stage(t testing.TB, plan *plant.Plan, truck, stage string) *plant.Planned {
	t.Helper()
	for i := range plan.Stages {
		if r := &plan.Stages[i]; r.Truck == truck && r.Stage == stage {
			return r
		}
	}
	t.Fatalf("the plan has no %s of %s", stage, truck)
	return nil
}

// drop takes the row of a stage out.
func drop(t testing.TB, plan *plant.Plan, truck, id string) {
	t.Helper()
	r := stage(t, plan, truck, id)
	for i := range plan.Stages {
		if &plan.Stages[i] == r {
			plan.Stages = append(plan.Stages[:i:i], plan.Stages[i+1:]...)
			return
		}
	}
}

// TestScore compares all tiers with values worked out by hand with the prices of
// plant.DefaultPrices: broken 60 a head; moved 10 a head and 1 a head and day up to
// 15 days, twice for a visit that stood 21 days ahead or nearer; tentative 2 a
// head; weekday 1; disturbed 5; a waiting day 1, up to 10 a truck.
//
// The small plant's own plan costs: V-206 broken, 3 heads, 180. W-205 is due
// 10 April with a deadline on 12 April, at 500 a day up to 1500, and arrives on
// 16 April: a deadline missed, 1500, and 6 days late. W-202 is due 31 March, at 200
// a day and weight 2, and arrives on 2 April: 400, and 2 days late counted twice.
// V-204 is newly on a Wednesday and prefers Tuesday or Thursday: 1. Trucks wait 7,
// 7, 8 and 12 days, the last counted as 10: 32.
func TestScore(t *testing.T) {
	own := [7]int64{0, 180, 1, 1900, 10, 1, 32}
	for _, c := range []struct {
		name   string
		change func(*testing.T, *plant.Plant, *plant.Plan)
		want   [7]int64 // frozen, confirmed, deadlines, damages, lateness, wishes, calm: what is added to own
	}{
		{"as it is", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {}, [7]int64{}},
		{"a frozen visit of 4 broken; its truck waits no more", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			drop(t, plan, "W-201", "final_inspection")
		}, [7]int64{4, 0, 0, 0, 0, 0, -7 + 5}}, // 9 March was near: disturbed
		{"a confirmed visit of 3 broken", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			drop(t, plan, "W-202", "final_inspection")
		}, [7]int64{0, 180, 0, 0, 0, 0, -7}},
		{"a tentative visit of 2 broken, its preferred day no matter", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			drop(t, plan, "W-203", "final_inspection")
		}, [7]int64{0, 120, 0, 0, 0, 0, -8 + 5}}, // 17 March 07:00 was near
		{"a requested visit of 2 broken", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			drop(t, plan, "W-205", "pre_paint")
		}, [7]int64{0, 120, 0, 0, 0, 0, 0}},
		{"a confirmed visit of 3 moved by 14 days, from 20 days ahead: 3 x (10 + 14) x 1", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-202").Booking.Day = date(t, "2027-04-06")
		}, [7]int64{0, 72, 0, 0, 0, 0, 0}},
		{"a confirmed visit of 3 moved by 1 day, from 21 days ahead: 3 x (10 + 1) x 2", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-202").Booking.Day = date(t, "2027-03-24")
		}, [7]int64{0, 66, 0, 0, 0, 0, 0}},
		{"the same, from 22 days ahead: 3 x (10 + 2)", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-202").Booking.Day = date(t, "2027-03-25")
		}, [7]int64{0, 36, 0, 0, 0, 0, 0}},
		{"the same, brought forward by 20 days, counted as 15, from 40 days ahead", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-202").Booking.Day = date(t, "2027-04-12")
		}, [7]int64{0, 75, 0, 0, 0, 0, 0}},
		{"a confirmed visit moved off its preferred days", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-202").Booking.Day = date(t, "2027-03-25")
			p.FindVisit("V-202").Weekdays = []calendar.Weekday{time.Thursday}
		}, [7]int64{0, 36, 0, 0, 0, 1, 0}},
		{"a confirmed visit kept off its preferred days costs nothing", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-202").Weekdays = []calendar.Weekday{time.Thursday}
		}, [7]int64{}},
		{"a tentative visit of 2 moved, to a preferred day", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-203").Booking.Day = date(t, "2027-03-18")
		}, [7]int64{0, 0, 0, 0, 0, 4, 0}},
		{"the same, off the preferred days", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-203").Booking.Day = date(t, "2027-03-18")
			p.FindVisit("V-203").Weekdays = []calendar.Weekday{time.Monday}
		}, [7]int64{0, 0, 0, 0, 0, 5, 0}},
		{"a requested visit on a preferred day", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindVisit("V-204").Weekdays = []calendar.Weekday{time.Wednesday}
		}, [7]int64{0, 0, 0, 0, 0, -1, 0}},
		{"delivered on the day of the deadline", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindTruck("W-205").Contract.Deadline = date(t, "2027-04-16")
		}, [7]int64{0, 0, -1, 0, 0, 0, 0}},
		{"no cap on damages: 6 days at 500 in place of 1500", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindTruck("W-205").Contract.DamagesCap = 0
		}, [7]int64{0, 0, 0, 1500, 0, 0, 0}},
		{"delivered on the day it is due", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindTruck("W-202").Contract.Due = date(t, "2027-04-02")
		}, [7]int64{0, 0, 0, -400, -4, 0, 0}},
		{"a delivery that ends at midnight ends on the day before", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindTruck("W-202").Contract.Due = date(t, "2027-04-02")
			stage(t, plan, "W-202", "delivery").End = moment(t, "2027-04-03T00:00")
		}, [7]int64{0, 0, 0, -400, -4, 0, 0}},
		{"nobody knows when it is due", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindTruck("W-202").Contract.Due = calendar.None
		}, [7]int64{0, 0, 0, -400, -4, 0, 0}},
		{"no delivery in the plan: neither late nor waiting", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			drop(t, plan, "W-202", "delivery")
		}, [7]int64{0, 0, 0, -400, -4, 0, -7}},
		{"the last day that is near: W-201 leaves on 16 March, 13 days from now, and now a day later", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			r := stage(t, plan, "W-201", "delivery")
			r.Start, r.End = moment(t, "2027-03-17T07:00"), moment(t, "2027-03-18T15:30")
		}, [7]int64{0, 0, 0, 0, 0, 0, 5 + 1}},
		{"the first moment that is not near: 17 March 11:00", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			stage(t, p.Plan, "W-203", "final_inspection").Start = moment(t, "2027-03-17T11:00")
		}, [7]int64{}},
		{"the last moment that is near: 17 March 10:59", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			stage(t, p.Plan, "W-203", "final_inspection").Start = moment(t, "2027-03-17T10:59")
		}, [7]int64{0, 0, 0, 0, 0, 0, 5}},
		{"the plan before had it before now: not near", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			stage(t, p.Plan, "W-203", "pump_test").Start = moment(t, "2027-03-03T10:59")
		}, [7]int64{}},
		{"another end, hold and bay disturb nobody", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			r := stage(t, plan, "W-203", "pump_test")
			r.End, r.Hold, r.Bay = r.End+60, r.Hold-60, "pit_1"
		}, [7]int64{}},
		{"a visit under way costs nothing, though it stood on another day", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			v := p.FindVisit("V-202")
			v.Booking.Day, v.Weekdays = date(t, "2027-03-24"), []calendar.Weekday{time.Friday}
			p.FindTruck("W-202").Running = []plant.Running{{Stage: "final_inspection"}}
		}, [7]int64{}},
		{"a wish moved disturbs nobody", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			stage(t, plan, "W-201", "final_inspection.pump").Start += 60
		}, [7]int64{}},
		{"running work disturbs nobody", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			stage(t, p.Plan, "W-201", "graphics").Start = moment(t, "2027-03-04T06:00")
		}, [7]int64{}},
		{"work that is done disturbs nobody", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-203", Stage: "weigh", Start: moment(t, "2027-03-08T06:00")})
		}, [7]int64{}},
		{"work that does not apply any more disturbs nobody", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.FindTruck("W-202").Options = []string{"aerial"}
			drop(t, plan, "W-202", "touch_up")
		}, [7]int64{}},
		{"a truck that is gone disturbs nobody", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			p.Plan.Stages = append(p.Plan.Stages, plant.Planned{Truck: "W-200", Stage: "weigh", Start: moment(t, "2027-03-08T06:00")})
		}, [7]int64{}},
		{"no plan before", func(t *testing.T, p *plant.Plant, plan *plant.Plan) {
			stage(t, plan, "W-203", "pump_test").Start += 1440
			p.Plan = nil
		}, [7]int64{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := right(t)
			plan := clone(p.Plan)
			c.change(t, p, plan)
			got := check.Score(p, plan)
			for i, name := range plant.TierNames {
				if want := (plant.TierValue{Name: name, Value: own[i] + c.want[i]}); got[i] != want {
					t.Errorf("got %v, want %v", got[i], want)
				}
			}
			if v := check.Plan(p, plan); len(got) != len(plant.TierNames) || len(v.Tiers) != len(got) || v.Tiers[6] != got[6] {
				t.Errorf("Plan has the tiers %v, Score %v", v.Tiers, got)
			}
		})
	}
}
