package solver

import (
	"context"
	"flag"
	"fmt"
	"slices"
	"testing"

	"wetdown/solver/generate"
	"wetdown/solver/outside"
	"wetdown/solver/plant"
)

// foreign is for a night: go test ./solver ./solver/schedule -run 'Foreign|Brute|Clasp|Gecode' -foreign 20 -timeout 0
var foreign = flag.Uint64("foreign", 1, "how many times as many random plants and problems are compared with other solvers and with enumeration")

// TestForeign has clasp answer small random plants, from nothing and after slips, quiet and
// busy: every tier costs what it costs by the planner, and clasp's plan passes the judge.
func TestForeign(t *testing.T) {
	outside.Find(t, "clasp", "clasp")
	t.Parallel()
	ctx := context.Background()
	some := make([]int, len(plant.TierNames)) // plants in which a tier costs something
	slipped := 0
	runs := 700 * *foreign
	if testing.Short() {
		runs = 2
	}
	for seed := range runs {
		o := generate.Options{Trucks: 2 + int(seed%4), Seed: 1000 + seed, Load: 0.8 + 0.05*float64(seed%5), Slips: seed%2 == 1, LinedUp: seed%3 == 0}
		p := generate.Generate(o)
		slips := p.Slips
		p.Slips = nil
		r, err := Plan(ctx, p, Options{})
		if err == nil && o.Slips && r.Plan != nil {
			p.Plan = r.Plan
			if p, err = p.Apply(slips); err == nil {
				r, err = Replan(ctx, p, Options{})
			}
			slipped++
		}
		if err != nil || r.Status != plant.Optimal {
			t.Fatalf("%+v: %+v %v", o, r, err)
		}
		var values []int64
		for _, v := range r.Tiers {
			values = append(values, v.Value)
		}
		file := exported(t, p, WCNF)
		agreed(t, fmt.Sprintf("%+v", o), p, values, file, outside.ReadWCNF(t, file))
		for n, v := range values {
			if v > 0 {
				some[n]++
			}
		}
	}
	t.Logf("%d plants, %d after slips; tiers that cost something: %v", runs, slipped, some)
	for _, name := range []string{plant.TierConfirmed, plant.TierLateness, plant.TierCalm} {
		if some[slices.Index(plant.TierNames, name)] == 0 && !testing.Short() {
			t.Errorf("tier %s costs nothing in any of these plants: this tests too little", name)
		}
	}
}
