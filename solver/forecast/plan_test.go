package forecast_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wetdown/solver"
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
	plants := map[string]*plant.Plant{"demo": demo(t)}
	for seed := uint64(1); seed <= 6; seed++ {
		plants[fmt.Sprintf("40 trucks, seed %d", seed)] = house(t, 40, seed, 0.95)
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
