package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/solver/cdcl"
)

// TestStretch plans some jobs anew, first within little reach, then within the whole time line. What comes of it obeys the problem,
// costs less, and leaves the others where they were. With the whole time line it costs no more than the best answer that
// leaves the machines of the others as well, and nothing is found only where that is no better either.
func TestStretch(t *testing.T) {
	ctx := context.Background()
	better, near, none := 0, 0, 0
	for seed, best := range solved(t) {
		p := tiny(seed)
		r := rand.New(rand.NewPCG(seed, 5))
		any := *p
		any.Tiers = make([]Tier, len(p.Tiers))
		some, err := Solve(ctx, &any, Options{})
		if err != nil {
			t.Fatal(err)
		}
		var jobs []int
		for job := range p.Tasks[len(p.Tasks)-1].Job + 1 {
			if r.IntN(3) > 0 {
				jobs = append(jobs, job)
			}
		}
		was := p.values(some.Answer)
		for _, reach := range []Slot{Slot(1 + r.IntN(2)), p.Slots} {
			s, _ := newSolving(p, Options{reach: reach}, cdcl.New())
			s.consider(some.Answer)
			a := s.stretch(ctx, s.best, jobs)
			if s.err != nil {
				t.Fatalf("seed %d: %v", seed, s.err)
			}
			values := was
			if a != nil {
				var faults []string
				if values, faults = Verify(p, a); len(faults) > 0 {
					t.Fatalf("seed %d: %v", seed, faults)
				}
				if compare(values, was) >= 0 || compare(values, best.Values) < 0 {
					t.Fatalf("seed %d: from %v to %v, and the best is %v", seed, was, values, best.Values)
				}
				for i := range p.Tasks {
					if !slices.Contains(jobs, p.Tasks[i].Job) && a.Start[i] != some.Answer.Start[i] {
						t.Fatalf("seed %d: task %d was to stay", seed, i)
					}
				}
			}
			if reach < p.Slots {
				if a != nil {
					near++
				}
				continue
			}
			q, back := Pinned(p, some.Answer, func(job int) bool { return slices.Contains(jobs, job) })
			pinned, err := Solve(ctx, q, Options{})
			if err != nil {
				t.Fatal(err)
			}
			switch d := compare(values, p.values(back(pinned.Answer))); {
			case d > 0:
				t.Fatalf("seed %d: %v, and with all machines of others as they are %v", seed, values, pinned.Values)
			case a == nil:
				none++
			default:
				better++
			}
		}
	}
	t.Logf("%d better, %d of them within little reach, %d as good as they can be", better, near, none)
	if better < 50 || near < 20 || none < 50 {
		t.Error("this tests too little")
	}
}
