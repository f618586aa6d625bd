package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestProber_Within compares every start of every task, under several budgets and
// with some limits waived, with enumeration, over one session.
func TestProber_Within(t *testing.T) {
	runs := uint64(250)
	if testing.Short() {
		runs = 60
	}
	yes, no, traded := 0, 0, 0
	for seed := range runs {
		p := tiny(seed)
		if !small(p) || len(p.Tiers) == 0 {
			continue
		}
		limits := randomLimits(p, seed)
		r := probed(t, p, limits, seed)
		if r == nil {
			continue
		}
		dice := rand.New(rand.NewPCG(seed, 5))
		for n := len(limits); n < len(p.Tasks) && n < len(limits)+2; n++ { // some come later
			i := dice.IntN(len(p.Tasks))
			if k := len(p.Tasks[i].Starts); k > 0 {
				l := Limit{i, 0, dice.IntN(k)}
				if at := r.Limit(l); at != len(limits) {
					t.Fatalf("seed %d: limit %d is number %d", seed, len(limits), at)
				}
				limits = append(limits, l)
			}
		}
		tier := dice.IntN(len(p.Tiers))
		for range 2 {
			var waived []int
			var held []Limit
			for n := range limits {
				if dice.IntN(2) == 0 {
					waived = append(waived, n)
				} else {
					held = append(held, limits[n])
				}
			}
			r.Waive(waived...)
			least := cheapestStarts(p, held, tier)
			for i := range least {
				for k, cost := range least[i] {
					if _, status, err := r.Possible(context.Background(), i, k, k); err != nil || (status == Feasible) != (cost >= 0) {
						t.Fatalf("seed %d: %s at %d: %v, the least cost is %d (%v)", seed, p.Tasks[i].Name, k, status, cost, err)
					}
					for _, most := range []int64{cost - 1, cost, cost + 2} {
						if most < 0 {
							continue
						}
						want := Infeasible
						if cost >= 0 && cost <= most {
							want = Feasible
						}
						a, status, err := r.Within(context.Background(), i, k, k, tier, most)
						if err != nil || status != want {
							t.Fatalf("seed %d: %s at %d for %d: %v (%v), the least cost is %d", seed, p.Tasks[i].Name, k, most, status, err, cost)
						}
						if status == Infeasible {
							no++
							continue
						}
						yes++
						values, faults := Verify(p, a)
						if len(faults) > 0 || !obeys(a, held) || a.Start[i] != k || values[tier] > most {
							t.Fatalf("seed %d: %s at %d for %d: %v costs %v, %v", seed, p.Tasks[i].Name, k, most, a, values, faults)
						}
						if cost > 0 {
							traded++
						}
					}
				}
			}
		}
	}
	t.Log(yes, "possible,", no, "not,", traded, "at a cost")
	if yes < 100 || no < 100 || traded < 50 {
		t.Error("too one-sided to test anything")
	}
}

// cheapestStarts is the least cost of a tier, by task and start, over all answers
// within the limits; -1 where there is none.
func cheapestStarts(p *Problem, limits []Limit, tier int) [][]int64 {
	least := make([][]int64, len(p.Tasks))
	for i := range least {
		least[i] = slices.Repeat([]int64{-1}, len(p.Tasks[i].Starts))
	}
	enumerate(p, func(a *Answer) {
		if !obeys(a, limits) {
			return
		}
		values, faults := Verify(p, a)
		if len(faults) > 0 {
			return
		}
		for i, k := range a.Start {
			if k >= 0 && (least[i][k] < 0 || values[tier] < least[i][k]) {
				least[i][k] = values[tier]
			}
		}
	})
	return least
}

// TestProber_Cancelled ends a question at once: the next one is answered as ever.
func TestProber_Cancelled(t *testing.T) {
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	asked := 0
	for seed := range uint64(40) {
		p := tiny(seed)
		if !small(p) {
			continue
		}
		can := starts(p, nil)
		r := probed(t, p, nil, seed)
		if r == nil {
			continue
		}
		for i := range can {
			for k, want := range can[i] {
				_, status, err := r.Within(gone, i, k, k, 0, 1<<40)
				if err != nil || status == Feasible {
					t.Fatalf("seed %d: a question that ended at once is answered: %v, %v", seed, status, err)
				}
				if _, status, err = r.Within(context.Background(), i, k, k, 0, 1<<40); err != nil || (status == Feasible) != want {
					t.Fatalf("seed %d: %s at %d: %v (%v) after a cancelled question, want %v", seed, p.Tasks[i].Name, k, status, err, want)
				}
				asked++
			}
		}
	}
	if asked < 50 {
		t.Error("this tests too little")
	}
}
