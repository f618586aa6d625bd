package solver

import (
	"context"
	"slices"
	"strings"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/generate"
	"wetdown/solver/outside"
	"wetdown/solver/plant"
)

// hallOf is the hall of a truck or a bay, read off its features.
func hallOf(features []string) string {
	i := slices.IndexFunc(features, func(f string) bool { return strings.HasPrefix(f, "hall_") })
	if i < 0 {
		return ""
	}
	return features[i]
}

// In a plan for two halls every truck stands in bays of its own hall, and the plan is
// the best by clasp.
func TestPlan_Halls(t *testing.T) {
	outside.Find(t, "clasp", "clasp")
	for seed := uint64(1); seed <= 4; seed++ {
		p := generate.Generate(generate.Options{Trucks: 20, Halls: 2, Seed: seed, Load: 0.95})
		r, err := Plan(context.Background(), p, Options{})
		if err != nil || r.Status != plant.Optimal {
			t.Fatalf("seed %d: %v, %v", seed, r, err)
		}
		stands := map[string]int{}
		for _, row := range r.Plan.Stages {
			if row.Bay == "" {
				continue
			}
			truck, bay := hallOf(p.FindTruck(row.Truck).Options), hallOf(p.FindBay(row.Bay).Needs)
			if truck != bay || bay == "" {
				t.Errorf("seed %d: %s of %q stands in %s of %q", seed, row.Truck, truck, row.Bay, bay)
			}
			stands[bay]++
		}
		if len(stands) != 2 {
			t.Errorf("seed %d: rows by hall %v", seed, stands)
		}
		var values []int64
		for _, v := range r.Tiers {
			values = append(values, v.Value)
		}
		file := exported(t, p, WCNF)
		if wrong := disagreed(t, p, values, file, outside.ReadWCNF(t, file)); wrong != "" {
			t.Errorf("seed %d: %s", seed, wrong)
		}
	}
}

// With the floor of its hall closed a visit is ruled out by that and by what the
// positions of the other hall need. A truck of both halls can have its day, unless the
// other hall is full.
func TestWhy_OtherHall(t *testing.T) {
	told, freed := 0, 0
	for seed := uint64(1); seed <= 12 && told < 3; seed++ {
		p := generate.Generate(generate.Options{Trucks: 20, Halls: 2, Seed: seed, Load: 0.8})
		r, err := Plan(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		p.Plan = r.Plan
		i := slices.IndexFunc(p.Visits, func(v plant.Visit) bool {
			return v.Kind == plant.FinalInspection && v.Planned() && v.Booking.State == plant.Confirmed && v.Booking.Day >= p.AsOf.Date()+14
		})
		if i < 0 {
			continue
		}
		v := p.Visits[i]
		day := p.Plan.Day(v.ID)
		if day == calendar.None {
			continue
		}
		own := hallOf(p.FindTruck(v.Truck).Options)
		closed := func(p *plant.Plant) *plant.Plant {
			q := *p
			q.Bays = slices.Clone(p.Bays)
			for b := range q.Bays {
				if slices.Contains(q.Bays[b].Kinds, "floor") && hallOf(q.Bays[b].Needs) == own {
					q.Bays[b].Closures = []plant.Range{{From: day - 7, Through: day + 7, Reason: "new floor"}}
				}
			}
			return &q
		}
		q := closed(p)
		if r, err = Replan(context.Background(), q, Options{}); err != nil {
			t.Fatal(err)
		}
		q.Plan = r.Plan
		x, err := Why(context.Background(), q, v.Truck, day, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		g := slices.IndexFunc(x.Grounds, func(r Reason) bool {
			return r.Kind == ReasonUnfit && strings.Contains(r.Sentence, "is for trucks with hall_")
		})
		if x.Possible || g < 0 {
			t.Logf("seed %d: %s", seed, x.Reasons)
			continue
		}
		told++
		for _, id := range x.Grounds[g].Bays {
			if hallOf(q.FindBay(id).Needs) == own {
				t.Errorf("seed %d: %s is of the truck's own hall", seed, id)
			}
		}
		open := *q // the truck belongs to both halls
		open.Trucks = slices.Clone(q.Trucks)
		truck := open.FindTruck(v.Truck)
		truck.Options = append(slices.Clone(truck.Options), "hall_1", "hall_2")
		y, err := Why(context.Background(), &open, v.Truck, day, Options{})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("seed %d: %s; of both halls: %v %s", seed, x.Reasons, y.Possible, y.Reasons)
		if y.Possible {
			freed++
		}
	}
	if told == 0 || freed == 0 {
		t.Errorf("the other hall was among the reasons %d times, and a truck of both halls came free %d times", told, freed)
	}
}
