package schedule

import (
	"context"
	"iter"
	"slices"
	"testing"
)

// A building is a constructor and the first answer that it makes.
type building struct {
	*constructor
	first *Answer
}

// built yields the first answers of small problems, by seed, where there are some.
func built(seeds uint64) iter.Seq2[uint64, building] {
	return func(yield func(uint64, building) bool) {
		for seed := range seeds {
			p := tiny(seed)
			g := newGraph(p)
			full, ok := allWindows(p, g)
			if !ok {
				continue
			}
			c := newConstructor(p, g, full, nil)
			if first := c.build(c.urgent()); first != nil && !yield(seed, building{c, first}) {
				return
			}
		}
	}
}

// TestRebuild rebuilds first answers: what comes of it obeys the problem, is never worse, often
// better, and never better than the best.
func TestRebuild(t *testing.T) {
	better, same := 0, 0
	for seed, b := range built(300) {
		p, c, first := b.p, b.constructor, b.first
		was, _ := Verify(p, first)
		r := newRebuilder(c, first, nil, 2000, 1)
		if r == nil {
			continue
		}
		a := r.run(context.Background())
		if a == nil {
			t.Fatalf("seed %d: the answer cannot be put back", seed)
		}
		is, faults := Verify(p, a)
		if len(faults) > 0 {
			t.Fatalf("seed %d: %v", seed, faults)
		}
		r = newRebuilder(c, first, first, 2000, 1)
		near := r.run(context.Background())
		if is, _ := Verify(p, near); compare(is, was) == 0 && !slices.Equal(near.Start, first.Start) {
			t.Fatalf("seed %d: %v costs what %v does, which it should be like", seed, near.Start, first.Start)
		}
		best, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		switch d := compare(is, was); {
		case d > 0 || compare(is, best.Values) < 0:
			t.Fatalf("seed %d: from %v to %v, and the best is %v", seed, was, is, best.Values)
		case d < 0:
			better++
		default:
			same++
		}
	}
	t.Logf("%d better, %d not", better, same)
	if better < 30 {
		t.Error("this tests too little")
	}
}

// TestRebuild_Dice rebuilds a little and then once more: where the same dice gain nothing more,
// others do now and then.
func TestRebuild_Dice(t *testing.T) {
	const left = 30
	stuck, further := 0, 0
	for seed, b := range built(1000) {
		c, first := b.constructor, b.first
		again := func(a *Answer, seed uint64) (*Answer, []int64) {
			r := newRebuilder(c, a, nil, left, seed)
			if r == nil {
				return nil, nil
			}
			b := r.run(context.Background())
			values, faults := Verify(c.p, b)
			if len(faults) > 0 {
				t.Fatalf("seed %d: %v", seed, faults)
			}
			return b, values
		}
		a, was := again(first, 1)
		if a == nil {
			continue
		}
		_, same := again(a, 1)
		_, other := again(a, 2)
		if compare(same, was) > 0 || compare(other, was) > 0 {
			t.Fatalf("seed %d: from %v to %v and %v", seed, was, same, other)
		}
		if compare(same, was) == 0 {
			if stuck++; compare(other, was) < 0 {
				further++
			}
		}
	}
	t.Logf("%d at an end with the same dice, %d of them further with others", stuck, further)
	if further < 5 {
		t.Error("this tests too little")
	}
}
