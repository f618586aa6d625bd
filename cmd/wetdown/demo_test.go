package main

import (
	"context"
	"testing"

	"wetdown/solver"
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
