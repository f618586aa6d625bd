package forecast_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/check"
	"wetdown/solver/forecast"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// house is a plant with a plan in force.
func house(t testing.TB, trucks int, seed uint64, load float64) *plant.Plant {
	t.Helper()
	return inForce(t, generate.Generate(generate.Options{Trucks: trucks, Seed: seed, Load: load}))
}

func inForce(t testing.TB, p *plant.Plant) *plant.Plant {
	t.Helper()
	r, err := solver.Plan(context.Background(), p, solver.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Plan == nil {
		t.Fatalf("no plan: %s, %v", r.Status, r.Reasons)
	}
	with := *p
	with.Plan = r.Plan
	return &with
}

func demo(t testing.TB) *plant.Plant {
	t.Helper()
	p, faults := plant.Read("demo", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	return inForce(t, p)
}

// TestUnfold_PlanInForce: without chance the plan in force comes out, row for row, minute
// for minute, bay for bay.
func TestUnfold_PlanInForce(t *testing.T) {
	if testing.Short() {
		t.Skip("one goroutine, and minutes with the race detector")
	}
	plants := map[string]*plant.Plant{"demo": demo(t)}
	for seed := uint64(1); seed <= 6; seed++ {
		plants[fmt.Sprintf("40 trucks, seed %d", seed)] = house(t, 40, seed, 0.95)
	}
	plants["lined up"] = inForce(t, generate.Generate(generate.Options{Trucks: 60, Seed: 4, Load: 0.95, LinedUp: true}))
	if !slices.ContainsFunc(plants["lined up"].Trucks, func(t plant.Truck) bool { return t.Standing.Stage != "" }) {
		t.Error("nobody is lined up: take another seed")
	}
	for name, p := range plants {
		t.Run(name, func(t *testing.T) {
			got, err := forecast.Unfold(p)
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Stages) == 0 {
				t.Fatal("nothing came out")
			}
			if d := cmp.Diff(p.Plan.Stages, got.Stages); d != "" {
				t.Errorf("stages, - planned, + simulated:\n%s", d)
			}
			if d := cmp.Diff(p.Plan.Visits, got.Visits); d != "" {
				t.Errorf("visits, - planned, + simulated:\n%s", d)
			}
		})
	}
}

// TestUnfold_Judged: what becomes of a plan after slips that nobody has planned for obeys the
// rules too, but for what the package says a simulation leaves out.
func TestUnfold_Judged(t *testing.T) {
	if testing.Short() {
		t.Skip("one goroutine, and minutes with the race detector")
	}
	moved := 0
	for seed := uint64(1); seed <= 6; seed++ {
		p := inForce(t, generate.Generate(generate.Options{Trucks: 40, Seed: seed, Load: 0.95}))
		slipped, err := p.Apply(generate.Generate(generate.Options{Trucks: 40, Seed: seed, Load: 0.95, Slips: true}).Slips)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := forecast.Unfold(slipped)
		if err != nil {
			t.Fatal(err)
		}
		if cmp.Equal(p.Plan.Stages, plan.Stages) {
			t.Errorf("seed %d: the slips change nothing", seed)
		}
		for _, v := range plan.Visits {
			if v.Outcome == plant.Moved {
				moved++
			}
		}
		for _, b := range check.Plan(slipped, plan).Broken {
			if leftOut(b) {
				continue
			}
			t.Errorf("seed %d, %s: %s", seed, b.Rule, b.Sentence)
		}
	}
	if moved == 0 {
		t.Error("no visit moves: take other seeds")
	}
}

// leftOut reports whether a rule is one that a simulation may break: frozen visits move
// as well, greatest waits that a moved visit exceeds are not worked off again, wishes
// without a place are left out, late work steps aside for visits, visits take place outside windows that have no day left,
// and after the truck has left the station of the line that they were to be at.
func leftOut(v check.Violation) bool {
	says := func(text string) bool { return strings.Contains(v.Sentence, text) }
	switch v.Rule {
	case "frozen":
		return true
	case "route":
		return says("at most")
	case "complete":
		return strings.Contains(v.Stage, ".")
	case "customer":
		return says("when the customer cannot come")
	case "bay": // late work steps aside for a visit, or for what a delegation wants to do
		return strings.Contains(v.Stage, ".") || strings.Contains(v.Stage, "inspection") || strings.Contains(v.Stage, "layout")
	case "release":
		return says("stands at station")
	}
	return false
}

// TestQuoted_Judged: a would-be order as it is most likely, beside the plan in force, is a
// plan that the judge passes, and no earlier than the day that the planner proves to be the
// first.
func TestQuoted_Judged(t *testing.T) {
	if testing.Short() {
		t.Skip("one goroutine, and minutes with the race detector")
	}
	plants := map[string]*plant.Plant{"demo": demo(t)}
	for seed := uint64(1); seed <= 3; seed++ {
		p := generate.Generate(generate.Options{Trucks: 30, Seed: seed, Load: 0.9})
		p.Horizon.Through += 60 // the order comes after all others
		plants[fmt.Sprintf("30 trucks, seed %d", seed)] = inForce(t, p)
	}
	truck, visit := order()
	for name, p := range plants {
		with, plan, err := forecast.Insert(p, truck, visit)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		rows := 0
		delivered := calendar.None
		for _, r := range plan.Stages {
			if r.Truck == truck.ID {
				rows++
			}
			if r.Truck == truck.ID && r.Stage == "delivery" {
				delivered = (r.End - 1).Date()
			}
		}
		if rows < 10 || delivered == calendar.None {
			t.Fatalf("%s: %d rows of the order, delivered on %v", name, rows, delivered)
		}
		for _, b := range check.Plan(with, plan).Broken {
			if !leftOut(b) {
				t.Errorf("%s, %s: %s", name, b.Rule, b.Sentence)
			}
		}
		exact, err := solver.Quote(context.Background(), p, solver.Order{Truck: truck, Visit: visit}, solver.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if exact.Status != plant.Optimal || delivered < exact.Delivery {
			t.Errorf("%s: delivered on %v by rule; the first day possible is %v (%s)", name, delivered, exact.Delivery, exact.Status)
		}
		t.Logf("%s: %v by rule, %v by proof", name, delivered, exact.Delivery)
	}
}
