package schedule

import (
	"context"
	"iter"
	"math/rand/v2"
	"slices"
	"testing"
)

// solved yields the small problems that have answers, by seed, with their best ones.
func solved(t *testing.T) iter.Seq2[uint64, *Result] {
	return func(yield func(uint64, *Result) bool) {
		for seed := range uint64(300) {
			got, err := Solve(context.Background(), tiny(seed), Options{})
			if err != nil {
				t.Fatal(err)
			}
			if got.Answer != nil && !yield(seed, got) {
				return
			}
		}
	}
}

// TestMend disturbs answers: what comes back obeys the problem, and a right answer
// comes back as it is.
func TestMend(t *testing.T) {
	mended, same, gaveUp := 0, 0, 0
	for seed, got := range solved(t) {
		p := tiny(seed)
		g := newGraph(p)
		full, _ := allWindows(p, g)
		r := rand.New(rand.NewPCG(seed, 21))
		near := &Answer{slices.Clone(got.Answer.Start), slices.Clone(got.Answer.Machine)}
		if a := newConstructor(p, g, full, near).mend(near, -1); a == nil || !slices.Equal(a.Start, near.Start) || !slices.Equal(a.Machine, near.Machine) {
			t.Fatalf("seed %d: %v is right, and mended to %v", seed, near, a)
		}
		promised := windows{slices.Clone(full.lo), slices.Clone(full.hi)} // some keep their places, as promises do
		for i, k := range near.Start {
			if k >= 0 && r.IntN(2) > 0 {
				promised.lo[i], promised.hi[i] = k, k
			}
		}
		if a := newConstructor(p, g, promised, near).mend(near, -1); a == nil || !slices.Equal(a.Start, near.Start) || !slices.Equal(a.Machine, near.Machine) {
			t.Fatalf("seed %d: %v is right under promises, and mended to %v", seed, near, a)
		}
		for range 1 + r.IntN(3) {
			i := r.IntN(len(p.Tasks))
			if n := len(p.Tasks[i].Starts); n > 0 {
				near.Start[i] = r.IntN(n)
			}
			if n := len(p.Tasks[i].Able); n > 0 {
				near.Machine[i] = p.Tasks[i].Able[r.IntN(n)]
			}
		}
		a := newConstructor(p, g, full, near).mend(near, -1)
		if a == nil {
			gaveUp++
			continue
		}
		if _, faults := Verify(p, a); len(faults) > 0 {
			t.Fatalf("seed %d: %v mended to %v: %v", seed, near, a, faults)
		}
		_, faults := Verify(p, near)
		switch is := slices.Equal(a.Start, near.Start) && slices.Equal(a.Machine, near.Machine); {
		case is:
			same++
		case len(faults) == 0:
			t.Fatalf("seed %d: %v is right, and mended to %v", seed, near, a)
		default:
			mended++
		}
		again, err := Solve(context.Background(), p, Options{Prefer: near})
		if err != nil || compare(again.Values, got.Values) != 0 {
			t.Fatalf("seed %d: from %v the search comes to %v (%v), from nothing to %v", seed, near, again, err, got.Values)
		}
	}
	t.Logf("%d mended, %d right already, %d given up", mended, same, gaveUp)
	if mended < 50 || same < 10 {
		t.Error("this tests too little")
	}
}
