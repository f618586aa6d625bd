package main

import (
	"context"
	"slices"
	"testing"

	"wetdown/api/sheet"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/history"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// The demo plant tells the story that its head tells: every promise can be kept;
// after three days' slip of H1019 five people move to the day on which the host is
// with two others, who move in turn. By hand: 5 x (10 + 7) for a week's distance, 2
// x (10 + 2) for two days; and two days late at 400 dollars.
func TestDemoStory(t *testing.T) {
	p, faults := plant.Read("demo/plant.yaml", []byte(testdata.DemoPlant))
	for _, f := range faults {
		t.Error(f)
	}
	if p == nil {
		t.Fatal("the demo plant cannot be read")
	}
	before, err := solver.Plan(context.Background(), p, solver.Options{})
	if err != nil || before.Status != plant.Optimal {
		t.Fatal(before, err)
	}
	p.Plan = before.Plan
	slipped, err := p.Apply([]plant.Slip{{Kind: plant.LineOffMoved, Truck: "H1019", Days: 3, Known: p.AsOf.Date()}})
	if err != nil {
		t.Fatal(err)
	}
	after, err := solver.Replan(context.Background(), slipped, solver.Options{})
	if err != nil || after.Status != plant.Optimal {
		t.Fatal(after, err)
	}
	for i, want := range []struct{ before, after int64 }{{0, 0}, {0, 5*(10+7) + 2*(10+2)}, {0, 0}, {0, 2 * 400}} {
		if b, a := before.Tiers[i].Value, after.Tiers[i].Value; b != want.before || a != want.after {
			t.Errorf("%s: %d before, %d after, want %d and %d", before.Tiers[i].Name, b, a, want.before, want.after)
		}
	}
	for _, c := range []struct{ visit, before, after string }{
		{"H1019-F", "2027-03-30", "2027-04-06"},
		{"H1016-F", "2027-04-06", "2027-04-08"},
	} {
		if b, a := dayOf(before.Plan, c.visit), dayOf(after.Plan, c.visit); b != c.before || a != c.after {
			t.Errorf("%s moves from %s to %s, want %s to %s", c.visit, b, a, c.before, c.after)
		}
	}
}

// dayOf returns the day of a visit in a plan.
func dayOf(p *plant.Plan, visit string) string {
	for _, v := range p.Visits {
		if v.Visit == visit {
			return v.Day.String()
		}
	}
	return "nowhere"
}

// The past of the demo plant is over by its morning and fits the plant: what it says of the
// trucks that are in both is the same.
func TestDemoHistory(t *testing.T) {
	p, faults := plant.Read("demo/plant.yaml", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	read, err := sheet.Read(sheet.History, "history.csv", []byte(testdata.DemoHistory), p, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	list, err := read.Past()
	if err != nil {
		t.Fatal(err)
	}
	today := p.AsOf.Date()
	owners := map[string]int{}
	both := 0
	for _, h := range list {
		if h.Said >= today || h.Actual >= today || p.FindCustomer(h.Customer) == nil {
			t.Errorf("%+v", h)
		}
		owners[h.Owner]++
		x := p.FindTruck(h.Truck)
		if x == nil {
			if h.Actual == calendar.None {
				t.Errorf("%s: %s has left the plant and is not over", h.Truck, h.Event)
			}
			continue
		}
		both++
		if x.Kind != h.Kind || x.Content != h.Content || x.Customer != h.Customer || h.Contract != calendar.None && h.Contract != x.Contract.Due {
			t.Errorf("%s is another truck than that of the plant: %+v", h.Truck, h)
		}
		switch h.Event {
		case sheet.EventLineOff:
			if h.Actual != x.Line.Off {
				t.Errorf("%s came off the line on %v, not on %v", h.Truck, x.Line.Off, h.Actual)
			}
		case sheet.EventDelivery:
			if h.Actual != calendar.None {
				t.Errorf("%s is still in the plant and is delivered", h.Truck)
			}
		case plant.FinalInspection:
			if !slices.ContainsFunc(p.Visits, func(v plant.Visit) bool {
				return v.Truck == h.Truck && v.Kind == h.Event && v.Booking.State == plant.Held && v.Booking.Day == h.Actual
			}) {
				t.Errorf("%s was not inspected on %v", h.Truck, h.Actual)
			}
		}
	}
	if both < len(p.Trucks) {
		t.Errorf("%d rows are about trucks of the plant", both)
	}
	for _, o := range history.Owners {
		if owners[o] == 0 {
			t.Errorf("no slip is on the clock of the %s", o)
		}
	}
}
