package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/solver/cdcl"
	"wetdown/solver/sat"
)

// TestName_BruteForce compares naming with trying every machine for every task:
// name finds a naming exactly where there is one, and it is right.
func TestName_BruteForce(t *testing.T) {
	named, refused, searched := 0, 0, 0
	for seed := range uint64(3000) {
		p, start := standing(rand.New(rand.NewPCG(seed, 7)))
		machine := slices.Repeat([]int{-1}, len(start))
		all := true
		for _, f := range families(p) {
			w := &sweep{p: p, start: start, rank: make([]int, len(p.Machines))}
			w.order = slices.Clone(f.tasks)
			if _, ok := f.name(context.Background(), 0, p, start, nil, machine, nil); ok {
				if w.run() >= 0 {
					searched++
				}
				named++
			} else {
				all = false
				refused++
			}
		}
		if want := nameable(p, slices.Repeat([]int{-1}, len(start)), 0); want != all {
			t.Fatalf("seed %d: named %v, by trying everything %v", seed, all, want)
		}
		if all {
			if _, faults := Verify(p, &Answer{start, machine}); len(faults) > 0 {
				t.Fatalf("seed %d: %v", seed, faults)
			}
		}
	}
	if named < 1000 || refused < 1000 || searched < 20 {
		t.Errorf("%d families named, %d refused, %d not at the first sweep: too one-sided to test anything", named, refused, searched)
	}
}

// TestNames reads machines out of models in which families are told apart. Told apart in all slots they
// always have names, and those are right; told apart in some, those that are found are right.
func TestNames(t *testing.T) {
	all, some, none := 0, 0, 0
	for seed := range uint64(1500) {
		random := rand.New(rand.NewPCG(seed, 7))
		p, start := standing(random)
		hidden := make([]bool, p.Slots)
		for t := range hidden {
			hidden[t] = seed%3 > 0 && random.IntN(2) == 0
		}
		s := cdcl.New()
		e := newEncoding(p, windows{start, start}, windows{start, start}, s)
		fs := families(p)
		for _, f := range fs {
			e.named(f, func(t Slot) bool { return !hidden[t] })
		}
		if s.Solve(context.Background(), nil) != sat.Sat {
			continue
		}
		a := &Answer{start, slices.Repeat([]int{-1}, len(start))}
		found := true
		for _, f := range fs {
			found = found && e.names(f, start, nil, s.Value, a.Machine)
		}
		switch whole := !slices.Contains(hidden, true); {
		case whole && !found:
			t.Fatalf("seed %d: told apart everywhere, and no names", seed)
		case !found:
			none++
			continue
		case whole:
			all++
		default:
			some++
		}
		if _, faults := Verify(p, a); len(faults) > 0 {
			t.Fatalf("seed %d: %v", seed, faults)
		}
	}
	if all < 100 || some < 100 || none < 100 {
		t.Errorf("%d told apart everywhere, %d in some slots and named, %d not: too one-sided to test anything", all, some, none)
	}
}

// TestPreferNames draws who stands in which class of machines, as far as that can be: a session that is to try
// these classes first finds them all again.
func TestPreferNames(t *testing.T) {
	same, other := 0, 0
	for seed := range uint64(500) {
		random := rand.New(rand.NewPCG(seed, 8))
		p, start := standing(random)
		fs := families(p)
		classes := func(prefer func(*cdcl.Solver, *encoding)) (found [][]bool) {
			s := cdcl.New()
			e := newEncoding(p, windows{start, start}, windows{start, start}, s)
			for _, f := range fs {
				e.named(f, func(Slot) bool { return true })
			}
			s.Decide(e.deciding()...)
			prefer(s, e)
			if s.Solve(context.Background(), nil) != sat.Sat {
				return nil
			}
			for _, on := range e.on {
				var list []bool
				for _, l := range on {
					list = append(list, l != 0 && s.Value(l))
				}
				found = append(found, list)
			}
			return found
		}
		plain := classes(func(*cdcl.Solver, *encoding) {})
		if plain == nil {
			continue
		}
		drawn := classes(func(s *cdcl.Solver, e *encoding) {
			for _, on := range e.on {
				for _, l := range on {
					if l != 0 && l != e.top && random.IntN(2) == 0 {
						s.Phase(l)
					}
				}
			}
		})
		machine := slices.Repeat([]int{-1}, len(start)) // any of the class
		for _, f := range fs {
			for _, i := range f.tasks {
				if n := slices.Index(drawn[i], true); n >= 0 {
					machine[i] = f.classes[n][0]
				}
			}
		}
		again := classes(func(s *cdcl.Solver, e *encoding) {
			for _, f := range fs {
				e.preferNames(s, f, machine)
			}
		})
		if !slices.EqualFunc(again, drawn, slices.Equal) {
			t.Fatalf("seed %d: %v were to be tried first, and %v found", seed, drawn, again)
		}
		if slices.EqualFunc(plain, drawn, slices.Equal) {
			same++
		} else {
			other++
		}
	}
	if other < 100 {
		t.Errorf("%d found others when left alone, %d the same: too few to test anything", other, same)
	}
}

// standing is a problem of tasks with one start each, and machines that not all of them can have.
func standing(random *rand.Rand) (p *Problem, start []int) {
	p = &Problem{Slots: 17}
	for range 2 + random.IntN(4) {
		m := Machine{}
		if at := Slot(random.IntN(14)); random.IntN(3) == 0 {
			m.Closed = []Interval{{at, at + 1 + Slot(random.IntN(3))}}
		}
		p.Machines = append(p.Machines, m)
	}
	long := len(p.Machines) / 2 // the last ones take long tasks
	for range 4 + random.IntN(8) {
		at := Slot(random.IntN(12))
		task := Task{Starts: []Slot{at}, Ends: []Slot{at + 1 + Slot(random.IntN(5))}}
		switch random.IntN(5) {
		case 0:
			task.Able = []int{random.IntN(len(p.Machines))}
		case 1, 2:
			for m := long; m < len(p.Machines); m++ {
				task.Able = append(task.Able, m)
			}
		default:
			for m := range p.Machines {
				task.Able = append(task.Able, m)
			}
		}
		p.Tasks = append(p.Tasks, task)
		start = append(start, 0)
	}
	return p, start
}

// nameable tries every machine for every task from the n-th on.
func nameable(p *Problem, on []int, n int) bool {
	if n == len(on) {
		return true
	}
	t := &p.Tasks[n]
	from, to := t.Starts[0], t.Ends[0]
	for _, m := range t.Able {
		free := !slices.ContainsFunc(p.Machines[m].Closed, func(c Interval) bool { return c.From < to && from < c.To })
		for k := range n {
			if o := &p.Tasks[k]; on[k] == m && o.Starts[0] < to && from < o.Ends[0] {
				free = false
			}
		}
		if on[n] = m; free && nameable(p, on, n+1) {
			return true
		}
	}
	on[n] = -1
	return false
}
