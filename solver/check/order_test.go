package check_test

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// TestOrderOfRows judges the right plan, and plans broken in many places at once,
// with their rows shuffled: the verdict is the same, and neither plant nor plan is
// changed.
func TestOrderOfRows(t *testing.T) {
	const seed = 8
	rng := rand.New(rand.NewPCG(seed, 0))
	p := right(t)
	o := newOracle(t, p)
	for broken := range 40 {
		m := &mutant{clone(p.Plan), o, o.jobs(), rng}
		for range broken {
			if change := mutations[rng.IntN(len(mutations))]; len(m.Visits) > 1 && m.known() {
				change.do(m)
			}
		}
		plan := m.Plan
		before := clone(plan)
		want := check.Plan(p, plan)
		if !reflect.DeepEqual(plan, before) || !reflect.DeepEqual(p, right(t)) {
			t.Fatalf("seed %d, %d changes: the judge changed what it judged", seed, broken)
		}
		for range 3 {
			rng.Shuffle(len(plan.Stages), func(i, k int) { plan.Stages[i], plan.Stages[k] = plan.Stages[k], plan.Stages[i] })
			rng.Shuffle(len(plan.Visits), func(i, k int) { plan.Visits[i], plan.Visits[k] = plan.Visits[k], plan.Visits[i] })
			if got := check.Plan(p, plan); !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d, %d changes: shuffled, got\n%+v\nwant\n%+v", seed, broken, got, want)
			}
		}
	}
}

// known reports whether every row is one that the plant may ask for, so that the
// mutations know its calendar.
func (m *mutant) known() bool {
	return !slices.ContainsFunc(m.Stages, func(r plant.Planned) bool { return m.jobs[r.Truck+" "+r.Stage] == nil })
}

// TestOrderOfPlant judges for a plant whose lists are reversed. The route's and
// the stations' order mean something and stay.
func TestOrderOfPlant(t *testing.T) {
	p := right(t)
	want := check.Plan(p, p.Plan)
	slices.Reverse(p.Trucks)
	slices.Reverse(p.Visits)
	slices.Reverse(p.Bays)
	slices.Reverse(p.Crews)
	slices.Reverse(p.Calendars)
	slices.Reverse(p.Departments)
	slices.Reverse(p.Customers)
	slices.Reverse(p.Wishes)
	if got := check.Plan(p, p.Plan); !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
}
