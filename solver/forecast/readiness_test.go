package forecast_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/chance"
	"wetdown/solver/forecast"
	"wetdown/solver/plant"
)

// merge is a plant with one truck that waits on the line for some deliveries, and whose
// visit has not a day to spare.
func merge(t *testing.T, feeders int) *plant.Plant {
	t.Helper()
	list := ""
	for i := range feeders {
		list += fmt.Sprintf(", {name: feeder %d, station: final, expected: 2027-04-12}", i+1)
	}
	text := `
wetdown: 1
name: Merging Works
zone: America/Chicago
as_of: 2027-04-05T06:00
horizon: {from: 2027-04-05, through: 2027-06-30}
calendar: plant
calendars:
  - {id: plant, pattern: 5x8}
bays:
  - {id: pit, kinds: [pump_test]}
  - {id: floor, kinds: [floor]}
crews:
  - {id: hosts, name: Hosts, calendar: plant, heads: 1}
  - {id: drivers, name: Drivers, calendar: plant, heads: 1}
buffer: {ready_work_days: 2, notice_days: 7}
route:
  - {id: pump_test, name: Pump certification, department: testing, hours: 5, bay: pump_test, start_in: [morning], crosses: [shift], certifies: true}
  - {id: final_inspection, name: Final inspection, department: showroom, length: visit, visit: final_inspection, bay: floor, hold_before_parts: 1, crews: [{crew: hosts, heads: 1}], after: [pump_test], start_in: [morning], crosses: [shift]}
  - {id: delivery, name: Delivery, department: delivery, length: drive, crews: [{crew: drivers, heads: 1}], after: [final_inspection], start_in: [morning], crosses: [shift, weekend, closure], delivers: true}
line:
  stations: [{id: final, name: Final assembly, takt_hours: 16}]
customers:
  - {id: sedge, name: Sedgewater Fire Department, miles: 300}
trucks:
  - {id: T-1, customer: sedge, kind: pumper, content: medium, length_ft: 32, height_ft: 10, contract: {due: 2027-05-31}, line: {enters: 2027-04-12, feeders: [` + strings.TrimPrefix(list, ", ") + `]}}
visits:
  - {id: V-1, truck: T-1, kind: final_inspection, heads: 2, halves: 2, windows: [{from: 2027-04-12, through: 2027-05-31}], booking: {state: tentative, day: 2027-04-19, hold_until: 2027-04-16}}
`
	p, faults := plant.Read("merge", []byte(text))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return inForce(t, p)
}

func certain(values ...float64) forecast.Law {
	l, err := chance.NewEmpirical(values, nil)
	if err != nil {
		panic(err)
	}
	return forecast.Law{Law: l, Sample: len(values)}
}

func TestInHundred(t *testing.T) {
	for share, want := range map[float64]int{0: 0, 0.004: 0, 0.005: 1, 0.5: 50, 0.794: 79, 0.7999: 79, 0.8: 80, 0.994: 99, 0.996: 100, 1: 100} {
		if got := forecast.InHundred(share); got != want {
			t.Errorf("%v: %d, want %d", share, got, want)
		}
	}
}

// TestReadiness_Merge: a truck that waits for several deliveries, each in time with 80 %,
// is ready with the product: 80, 64 and 51.2 %, computed by hand.
func TestReadiness_Merge(t *testing.T) {
	for feeders, want := range map[int]float64{1: 0.80, 2: 0.64, 3: 0.512} {
		p := merge(t, feeders)
		o, err := forecast.Readiness(context.Background(), p, forecast.Options{Runs: 20000, Seed: 3, Workers: 2, Laws: forecast.Laws{
			Line:   func(*plant.Truck, int) forecast.Law { return forecast.Law{} },
			Feeder: func(*plant.Feeder, int) forecast.Law { return certain(0, 0, 0, 0, 0, 0, 0, 0, 5, 5) },
		}})
		if err != nil {
			t.Fatal(err)
		}
		v, err := o.For("V-1")
		if err != nil {
			t.Fatal(err)
		}
		for name, c := range map[string]forecast.Chance{"certified": v.Certified, "ready": v.Ready, "held": v.Held} {
			if d := c.Share - want; d > 3.3*c.Error || d < -3.3*c.Error {
				t.Errorf("%d feeders, %s: %.4f +- %.4f, want %.3f", feeders, name, c.Share, c.Error, want)
			}
		}
		if v.Unsafe != (v.Ready.Share < forecast.SafeShare) || feeders > 1 && !v.Unsafe {
			t.Errorf("%d feeders: unsafe is %v at %.3f", feeders, v.Unsafe, v.Ready.Share)
		}
		// In 80 % it is ready for 19 April, else five working days later.
		if feeders == 3 && v.SafeFrom != calendar.NewDate(2027, 4, 26) {
			t.Errorf("safe from %v", v.SafeFrom)
		}
	}
}

// TestReadiness_Moves: a visit whose truck is five working days late moves with the
// plant's notice. The last certificate could have come on Wednesday the 14th, so it is plain on the 15th; seven
// days later is Thursday the 22nd, but the truck is ready only on Monday the 26th.
func TestReadiness_Moves(t *testing.T) {
	p := merge(t, 1)
	for late, want := range map[float64]string{0: "2027-04-20", 1: "2027-04-23", 5: "2027-04-27"} {
		o, err := forecast.Readiness(context.Background(), p, forecast.Options{Runs: 10, Laws: forecast.Laws{
			Line:   func(*plant.Truck, int) forecast.Law { return forecast.Law{} },
			Feeder: func(*plant.Feeder, int) forecast.Law { return certain(late) },
		}})
		if err != nil {
			t.Fatal(err)
		}
		if got := o.Deliveries[0].P50.String(); got != want {
			t.Errorf("%v days late: delivered on %s, want %s", late, got, want)
		}
	}
}

// TestReadiness_Wait: a witness who comes two working days late.
func TestReadiness_Wait(t *testing.T) {
	p := merge(t, 0)
	o, err := forecast.Readiness(context.Background(), p, forecast.Options{Runs: 10, Laws: forecast.Laws{
		Line: func(*plant.Truck, int) forecast.Law { return forecast.Law{} },
		Wait: func(_ *plant.Truck, s *plant.Stage) forecast.Law {
			if s.ID == "pump_test" {
				return certain(2)
			}
			return forecast.Law{}
		},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if v := o.Visits[0]; v.Ready.Share != 0 || v.SafeFrom != v.Day+2 {
		t.Errorf("%+v", v)
	}
}

func say(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestSameBytes: an answer is that of its plant, runs and seed, whoever works on it.
func TestSameBytes(t *testing.T) {
	p := house(t, 30, 2, 0.9)
	truck, visit := order()
	ctx := context.Background()
	var odds, quotes, days []string
	for _, workers := range []int{1, 3, 2} {
		o := forecast.Options{Runs: 300, Seed: 5, Workers: workers}
		x, err := forecast.Readiness(ctx, p, o)
		if err != nil {
			t.Fatal(err)
		}
		odds = append(odds, say(t, x))
		q, err := forecast.Quoted(ctx, p, truck, visit, o)
		if err != nil {
			t.Fatal(err)
		}
		quotes = append(quotes, say(t, q))
		d, err := forecast.Visiting(ctx, p, x.Visits[len(x.Visits)-1].Visit, o)
		if err != nil {
			t.Fatal(err)
		}
		days = append(days, say(t, d)+fmt.Sprint(d.On(x.Visits[len(x.Visits)-1].Day)))
	}
	for _, list := range [][]string{odds, quotes, days} {
		if list[0] != list[1] || list[0] != list[2] {
			t.Errorf("not the same with 1, 3 and 2 workers:\n%s\n%s\n%s", list[0], list[1], list[2])
		}
	}
	o := forecast.Options{Runs: 300, Seed: 6}
	x, err := forecast.Readiness(ctx, p, o)
	if err != nil {
		t.Fatal(err)
	}
	if say(t, x.Deliveries) == strings.Split(odds[0], `"Deliveries":`)[1] {
		t.Error("another seed gives the same")
	}
}

// TestVisiting: chances grow with the day, and reach 80 % on the day said.
func TestVisiting(t *testing.T) {
	p := house(t, 30, 2, 0.9)
	seen := 0
	for _, v := range p.Visits {
		if !v.Planned() || v.Kind != plant.FinalInspection {
			continue
		}
		d, err := forecast.Visiting(context.Background(), p, v.ID, forecast.Options{Runs: 200, Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		last := -1.0
		for day := p.AsOf.Date(); day <= p.Horizon.Through; day++ {
			c := d.On(day)
			if c.Share < last || c.Low > c.Share || c.High < c.Share {
				t.Fatalf("%s on %v: %+v after %v", v.ID, day, c, last)
			}
			last = c.Share
			if (c.Share >= forecast.SafeShare) && d.SafeFrom > day && d.SafeFrom-day > 4 { // a weekend and a holiday at the most
				t.Errorf("%s is safe on %v, and said to be from %v", v.ID, day, d.SafeFrom)
			}
		}
		if d.SafeFrom != calendar.None && d.On(d.SafeFrom).Share < forecast.SafeShare {
			t.Errorf("%s: %v on %v", v.ID, d.On(d.SafeFrom), d.SafeFrom)
		}
		seen++
	}
	if seen < 10 {
		t.Errorf("only %d visits", seen)
	}
}

// TestEnds: a simulation ends with its context, and reports on its way.
func TestEnds(t *testing.T) {
	p := house(t, 20, 1, 0.9)
	ctx, cancel := context.WithCancel(context.Background())
	at := 0
	o := forecast.Options{Runs: 100000, Workers: 2, Report: func(done, runs int) {
		if runs != 100000 {
			t.Errorf("of %d runs", runs)
		}
		if at = done; done > 200 {
			cancel()
		}
	}}
	if _, err := forecast.Readiness(ctx, p, o); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if at == 0 || at > 50000 {
		t.Errorf("ended after %d runs", at)
	}
}

// TestRefuses: what cannot be answered is told with what to do.
func TestRefuses(t *testing.T) {
	p := house(t, 20, 1, 0.9)
	none := *p
	none.Plan = nil
	ctx := context.Background()
	truck, visit := order()
	if _, err := forecast.Readiness(ctx, &none, forecast.Options{}); !errors.Is(err, forecast.ErrNoPlan) {
		t.Errorf("readiness without a plan: %v", err)
	}
	if _, err := forecast.Quoted(ctx, &none, truck, visit, forecast.Options{}); !errors.Is(err, forecast.ErrNoPlan) {
		t.Errorf("quote without a plan: %v", err)
	}
	full := *p
	full.Line.FreeSlots = nil
	if _, err := forecast.Quoted(ctx, &full, truck, visit, forecast.Options{}); !errors.Is(err, plant.ErrNoSlot) || !strings.Contains(err.Error(), "list one under line") {
		t.Errorf("quote without a slot: %v", err)
	}
	// A visit that has begun has no other days.
	begun := *p
	begun.Trucks = slices.Clone(p.Trucks)
	at := slices.IndexFunc(p.Visits, func(v plant.Visit) bool { return v.Planned() && v.Kind == plant.FinalInspection })
	stage := slices.IndexFunc(p.Route, func(s plant.Stage) bool { return s.Visit == plant.FinalInspection })
	for i := range begun.Trucks {
		if begun.Trucks[i].ID == p.Visits[at].Truck {
			begun.Trucks[i].Running = []plant.Running{{Stage: p.Route[stage].ID, Started: p.AsOf, RemainingMinutes: 60}}
		}
	}
	if _, err := forecast.Visiting(ctx, &begun, p.Visits[at].ID, forecast.Options{}); !errors.Is(err, forecast.ErrUnderWay) {
		t.Errorf("days of a visit under way: %v", err)
	}

	// A week that is named and full is refused as the planner refuses it, and the next one told.
	named := *p
	week := p.AsOf.Date().AddDays(70)
	named.Line.FreeSlots = []plant.FreeSlot{{Week: week, Content: truck.Content}, {Week: week.AddDays(14), Content: truck.Content, Count: 1}}
	late := truck
	late.Line.Enters = week.AddDays(2)
	for name, ask := range map[string]func() error{
		"with chance": func() error {
			_, err := forecast.Quoted(ctx, &named, late, visit, forecast.Options{Runs: 10})
			return err
		},
		"planned": func() error {
			_, err := solver.Quote(ctx, &named, solver.Order{Truck: late, Visit: visit}, solver.Options{})
			return err
		},
	} {
		if err := ask(); !errors.Is(err, plant.ErrNoSlot) || !strings.Contains(err.Error(), "the first week with one is that of "+week.AddDays(14).String()) {
			t.Errorf("%s, a full week: %v", name, err)
		}
	}
	truck.ID = p.Trucks[0].ID
	if _, err := forecast.Quoted(ctx, p, truck, visit, forecast.Options{}); err == nil || !strings.Contains(err.Error(), "a number of its own") {
		t.Errorf("quote with a known number: %v", err)
	}
	if _, err := forecast.Visiting(ctx, p, "nobody", forecast.Options{}); err == nil || !strings.Contains(err.Error(), "ask for one that has") {
		t.Errorf("days of no visit: %v", err)
	}
	if d := cmp.Diff(p.Plan, house(t, 20, 1, 0.9).Plan); d != "" {
		t.Errorf("the plant was changed:\n%s", d)
	}
}
