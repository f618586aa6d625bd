package schedule

import (
	"context"
	"math/rand/v2"
	"testing"
)

// TestPinned pins jobs where an answer has them: that answer stays one, what is found
// obeys the whole problem at the same cost, leaves the pinned where they were, and is
// never better than the best.
func TestPinned(t *testing.T) {
	better := 0
	for seed := range uint64(300) {
		p := tiny(seed)
		best, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		any := *p
		any.Tiers = []Tier{{Name: "any"}}
		some, err := Solve(context.Background(), &any, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if (some.Answer == nil) != (best.Answer == nil) {
			t.Fatalf("seed %d: %v without costs, %v with", seed, some.Status, best.Status)
		}
		if some.Answer == nil {
			continue
		}
		near := some.Answer
		if a := Mended(p, near); a == nil {
			t.Fatalf("seed %d: an answer is not left as it is", seed)
		}
		r := rand.New(rand.NewPCG(seed, 3))
		free := map[int]bool{}
		for i := range p.Tasks {
			if _, ok := free[p.Tasks[i].Job]; !ok {
				free[p.Tasks[i].Job] = r.IntN(2) == 0
			}
		}
		q, back := Pinned(p, near, func(job int) bool { return free[job] })
		if err := q.Validate(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		got, err := Solve(context.Background(), q, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got.Status != Optimal {
			t.Fatalf("seed %d: %v, though an answer is pinned", seed, got.Status)
		}
		a := back(got.Answer)
		values, faults := Verify(p, a)
		was, _ := Verify(p, near)
		if len(faults) > 0 || compare(values, got.Values) != 0 || compare(values, was) > 0 || compare(values, best.Values) < 0 {
			t.Errorf("seed %d: costs %v, counted %v, before %v, best %v; %v", seed, values, got.Values, was, best.Values, faults)
		}
		for i := range p.Tasks {
			if !free[p.Tasks[i].Job] && a.Start[i] != near.Start[i] {
				t.Errorf("seed %d: task %d is pinned and moved", seed, i)
			}
		}
		if compare(values, was) < 0 {
			better++
		}
	}
	if better < 20 {
		t.Errorf("%d answers became better: too few to mean much", better)
	}
}
