package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"wetdown/solver/cdcl"
)

// TestStretch plans some jobs anew, first within little reach, then within the whole time line. What
// comes of it obeys the problem, costs less, and leaves the others where they were. With the whole
// time line it costs no more than the best answer that leaves the machines of the others as well, and
// nothing is found only where that is no better either.
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

// TestStretch_Ends plans anew what would be a project by itself, and is out of reach: it ends when its effort is spent.
func TestStretch_Ends(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	r := rand.New(rand.NewPCG(1, 1))
	p := &Problem{Slots: 400, Tiers: []Tier{{Name: "makespan"}}}
	for pool := range 4 {
		p.Resources = append(p.Resources, Resource{Name: string(rune('A' + pool)), Capacity: slices.Repeat([]int32{10}, int(p.Slots))})
	}
	task := func(job int, length Slot, skip bool) int {
		x := Task{Name: "task", Job: job, Skip: skip}
		for s := Slot(0); s+length <= p.Slots; s++ {
			x.Starts, x.Ends = append(x.Starts, s), append(x.Ends, s+length)
		}
		p.Tasks = append(p.Tasks, x)
		return len(p.Tasks) - 1
	}
	last := task(0, 0, false)
	p.Tiers[0].Costs = []Cost{{Task: last}}
	for _, s := range p.Tasks[last].Starts {
		p.Tiers[0].Costs[0].At = append(p.Tiers[0].Costs[0].At, int64(s))
	}
	for range 40 {
		i := task(0, Slot(1+r.IntN(10)), false)
		p.Arcs = append(p.Arcs, Arc{From: i, To: last, Earliest: p.Tasks[i].Ends})
		for pool := range p.Resources {
			p.Resources[pool].Uses = append(p.Resources[pool].Uses, Use{Task: i, Need: int32(1 + r.IntN(6))})
		}
	}
	task(1, 1, true) // which makes the whole no project
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	s, _ := newSolving(p, Options{reach: p.Slots}, cdcl.New())
	row := &Answer{slices.Repeat([]int{-1}, len(p.Tasks)), slices.Repeat([]int{-1}, len(p.Tasks))} // one after the other
	end := Slot(0)
	for i := 1; i <= 40; i++ {
		row.Start[i] = int(end)
		end += p.Tasks[i].Ends[0]
	}
	row.Start[last] = int(end)
	if s.consider(row); s.err != nil {
		t.Fatal(s.err)
	}
	if q, _, _ := p.excerpt(s.best, s.wide, append(slices.Repeat([]role{moves}, 41), absent)); !q.project() || s.project {
		t.Fatal("this tests nothing")
	}
	a := s.stretch(ctx, s.best, []int{0})
	if s.err != nil || ctx.Err() != nil {
		t.Fatalf("%v, %v", s.err, ctx.Err())
	}
	if a != nil {
		if values, faults := Verify(p, a); len(faults) > 0 || compare(values, s.values) >= 0 {
			t.Errorf("from %v to %v: %v", s.values, values, faults)
		}
	}
}
