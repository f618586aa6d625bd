package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestHome prefers best answers in which something starts later than it could: they come back as they
// are. And it prefers others: in what comes back no task could be where they have it, alone and at no cost.
func TestHome(t *testing.T) {
	late, away := 0, 0
	for seed, got := range solved(t) {
		p := tiny(seed)
		cost := func(a *Answer) ([]int64, bool) {
			values, faults := Verify(p, a)
			return values, len(faults) == 0
		}
		r := rand.New(rand.NewPCG(seed, 22))
		near := &Answer{slices.Clone(got.Answer.Start), slices.Clone(got.Answer.Machine)}
		for i, k := range near.Start {
			for k >= 0 && near.Start[i]+1 < len(p.Tasks[i].Starts) {
				near.Start[i]++
				if v, ok := cost(near); !ok || compare(v, got.Values) > 0 {
					near.Start[i]--
					break
				}
				late++
			}
		}
		again, err := Solve(context.Background(), p, Options{Prefer: near})
		if err != nil || !slices.Equal(again.Answer.Start, near.Start) || !slices.Equal(again.Answer.Machine, near.Machine) {
			t.Fatalf("seed %d: %v is as good as any and comes back as %v (%v)", seed, near, again, err)
		}
		for i := range p.Tasks {
			if n := len(p.Tasks[i].Starts); n > 0 && near.Start[i] >= 0 && r.IntN(2) > 0 {
				near.Start[i] = r.IntN(n)
			}
			if n := len(p.Tasks[i].Able); n > 0 && near.Machine[i] >= 0 {
				near.Machine[i] = p.Tasks[i].Able[r.IntN(n)]
			}
		}
		again, err = Solve(context.Background(), p, Options{Prefer: near})
		if err != nil || compare(again.Values, got.Values) != 0 {
			t.Fatalf("seed %d: %v for %v (%v)", seed, again, got.Values, err)
		}
		for i := range p.Tasks {
			a := &Answer{slices.Clone(again.Answer.Start), slices.Clone(again.Answer.Machine)}
			if a.Start[i] < 0 || near.Start[i] < 0 {
				continue
			}
			if a.Start[i] != near.Start[i] {
				away++
			}
			// On the machine that near has for it, and on its own.
			for _, m := range []int{near.Machine[i], a.Machine[i]} {
				a.Start[i], a.Machine[i] = near.Start[i], m
				if v, ok := cost(a); ok && compare(v, got.Values) <= 0 && (a.Start[i] != again.Answer.Start[i] || m != again.Answer.Machine[i]) {
					t.Fatalf("seed %d: from %v came %v, where task %d could be at home at no cost, on machine %d", seed, near, again.Answer, i, m)
				}
			}
		}
	}
	t.Logf("%d starts later than need be, %d tasks away", late, away)
	if late < 100 || away < 100 {
		t.Error("this tests too little")
	}
}
