package solver

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"maps"
	"slices"
	"sync"
	"testing"

	"wetdown/solver/outside"
	"wetdown/solver/plant"
)

// foreign is for a night: go test ./solver ./solver/schedule -run Foreign -foreign 20 -timeout 0
var foreign = flag.Uint64("foreign", 1, "how many times as many random plants and problems are compared with other solvers, with enumeration and with each other")

// least are the values of the tiers of the best plan; nil when there is none. An error tells of
// any other end.
func least(p *plant.Plant, conditions ...Condition) ([]int64, error) {
	r, err := Replan(context.Background(), p, Options{Conditions: conditions})
	switch {
	case err != nil:
		return nil, err
	case r.Status == plant.Infeasible:
		return nil, nil
	case r.Status != plant.Optimal:
		return nil, fmt.Errorf("the plan is %s", r.Status)
	}
	var values []int64
	for _, v := range r.Tiers {
		if v.Value != v.Bound {
			return nil, fmt.Errorf("optimal, and tier %s has the value %d and the bound %d", v.Name, v.Value, v.Bound)
		}
		values = append(values, v.Value)
	}
	return values, nil
}

// spread runs a check on seeds from 0 on, each in a test of its own.
func spread(t *testing.T, runs uint64, check func(t *testing.T, seed uint64)) {
	if testing.Short() {
		runs = 4
	}
	t.Run("seed", func(t *testing.T) {
		for seed := range runs {
			t.Run(fmt.Sprint(seed), func(t *testing.T) {
				t.Parallel()
				check(t, seed)
			})
		}
	})
}

// A tally counts what was met, from several goroutines.
type tally struct {
	sync.Mutex
	n      map[string]int
	logged bool
}

func (c *tally) add(what string) {
	c.Lock()
	defer c.Unlock()
	if c.n == nil {
		c.n = map[string]int{}
	}
	c.n[what]++
}

// costs counts plants without a plan, and those in which a tier costs something.
func (c *tally) costs(values []int64) {
	c.add("plants")
	if values == nil {
		c.add("without a plan")
	}
	for n, v := range values {
		if v > 0 {
			c.add("tier " + plant.TierNames[n])
		}
	}
}

// met logs all counts, the first time, and asks for at least so many of each kind in a run of usual length.
func (c *tally) met(t *testing.T, atLeast int, kinds ...string) {
	t.Helper()
	if !c.logged {
		for _, k := range slices.Sorted(maps.Keys(c.n)) {
			t.Logf("%5d %s", c.n[k], k)
		}
		c.logged = true
	}
	for _, k := range kinds {
		if c.n[k] < atLeast && !testing.Short() {
			t.Errorf("%s: only %d, this tests too little", k, c.n[k])
		}
	}
}

// everyTier names what costs counts.
var everyTier = []string{"without a plan", "tier frozen", "tier confirmed", "tier deadlines", "tier damages", "tier lateness", "tier wishes", "tier calm"}

// TestForeign_Clasp has clasp answer small odd plants: every tier costs what it costs by the
// planner, and clasp's plan passes the judge; or there is no plan.
func TestForeign_Clasp(t *testing.T) {
	outside.Find(t, "clasp", "clasp")
	t.Parallel()
	var met tally
	spread(t, 500**foreign, func(t *testing.T, seed uint64) {
		s := specimenOf(t, seed)
		s.complain(t, "clasp", func(p *plant.Plant) string {
			values, err := least(p)
			if err != nil {
				return err.Error()
			}
			if p == s.p {
				met.costs(values)
			}
			file, err := export(t, p, WCNF)
			switch {
			case values != nil && err != nil:
				return err.Error()
			case values != nil:
				return disagreed(t, p, values, file, outside.ReadWCNF(t, file))
			case errors.Is(err, ErrNoStart):
				return ""
			case err != nil:
				return err.Error()
			}
			if v := outside.Clasp(context.Background(), t, file, "--opt-strategy=usc"); v.Status != "UNSATISFIABLE" {
				return fmt.Sprintf("clasp says %s, cost %d; the planner has no plan", v.Status, v.Cost)
			}
			met.add("without a plan, after a search")
			return ""
		})
	})
	met.met(t, 3, append(everyTier, "without a plan, after a search")...)
}

// TestForeign_Gecode has Gecode answer smaller ones.
func TestForeign_Gecode(t *testing.T) {
	outside.Find(t, "minizinc", "minizinc")
	t.Parallel()
	var met tally
	spread(t, 100**foreign, func(t *testing.T, seed uint64) {
		s := littleOf(t, seed)
		s.complain(t, "gecode", func(p *plant.Plant) string {
			values, err := least(p)
			if err != nil {
				return err.Error()
			}
			if _, lost, err := ask(p); len(lost) > 0 || err != nil {
				return ""
			}
			met.costs(values)
			return gecode(t, p, values)
		})
	})
	met.met(t, 1, everyTier...)
}
