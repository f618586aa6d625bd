package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
)

// small reports whether a problem can be enumerated, machines included.
func small(p *Problem) bool {
	size := 1
	for i := range p.Tasks {
		size *= len(p.Tasks[i].Starts)*max(1, len(p.Tasks[i].Able)) + 1
	}
	return size <= 6_000
}

// randomLimits keeps some tasks to some of their starts; a range may be as
// narrow as one start.
func randomLimits(p *Problem, seed uint64) (list []Limit) {
	r := rand.New(rand.NewPCG(seed, 13))
	for i := range p.Tasks {
		if n := len(p.Tasks[i].Starts); n > 0 && r.IntN(3) == 0 {
			lo := r.IntN(n)
			list = append(list, Limit{i, lo, lo + r.IntN(n-lo)})
		}
	}
	return list
}

func obeys(a *Answer, limits []Limit) bool {
	return !slices.ContainsFunc(limits, func(l Limit) bool {
		return a.Start[l.Task] < l.Lo || a.Start[l.Task] > l.Hi
	})
}

// starts marks, by task and start, what some answer within the limits has.
func starts(p *Problem, limits []Limit) [][]bool {
	can := make([][]bool, len(p.Tasks))
	for i := range can {
		can[i] = make([]bool, len(p.Tasks[i].Starts))
	}
	enumerate(p, func(a *Answer) {
		if !obeys(a, limits) {
			return
		}
		if _, faults := Verify(p, a); len(faults) > 0 {
			return
		}
		for i, k := range a.Start {
			if k >= 0 {
				can[i][k] = true
			}
		}
	})
	return can
}

// probed makes a prober for the problem of a seed; every other one starts near an
// answer of the problem, in windows that reach one slot past it.
func probed(t *testing.T, p *Problem, limits []Limit, seed uint64) *Prober {
	t.Helper()
	var near *Answer
	if seed%2 == 1 {
		got, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		near = got.Answer
	}
	r, err := NewProber(p, limits, near)
	if err != nil {
		return nil
	}
	r.margin = 1
	r.encode()
	return r
}

// TestProber_Possible compares every start of every task, and a range of starts,
// with enumeration.
func TestProber_Possible(t *testing.T) {
	runs := uint64(400)
	if testing.Short() {
		runs = 60
	}
	yes, no := 0, 0
	for seed := range runs {
		p := tiny(seed)
		if !small(p) {
			continue
		}
		limits := randomLimits(p, seed)
		can := starts(p, limits)
		r := probed(t, p, limits, seed)
		if r == nil {
			for i := range can {
				if slices.Contains(can[i], true) {
					t.Fatalf("seed %d: refused, but %s can start", seed, p.Tasks[i].Name)
				}
			}
			continue
		}
		for i := range p.Tasks {
			for lo := range can[i] {
				for _, hi := range []int{lo, min(lo+2, len(can[i])-1), len(can[i]) + 3} {
					want := Infeasible
					if slices.Contains(can[i][lo:min(hi+1, len(can[i]))], true) {
						want = Feasible
					}
					a, status, err := r.Possible(context.Background(), i, lo, hi)
					if err != nil || status != want {
						t.Fatalf("seed %d: %s at [%d, %d] of %d: %v %v, want %v", seed, p.Tasks[i].Name, lo, hi, len(can[i]), status, err, want)
					}
					if status == Infeasible {
						no++
						continue
					}
					yes++
					if _, faults := Verify(p, a); len(faults) > 0 || !obeys(a, limits) || a.Start[i] < lo || a.Start[i] > hi {
						t.Fatalf("seed %d: %s at [%d, %d]: answer %v, limits %v: %v", seed, p.Tasks[i].Name, lo, hi, a.Start, limits, faults)
					}
				}
			}
		}
	}
	if yes < 100 || no < 100 {
		t.Errorf("%d starts possible, %d not: too one-sided to test anything", yes, no)
	}
}

// pooled is the problem with some of its resources, and with machine sets as
// further resources, their open machines the room; no machines.
func pooled(p *Problem, resources []int, sets [][]int) *Problem {
	q := &Problem{Slots: p.Slots, Arcs: p.Arcs, Together: p.Together}
	for _, t := range p.Tasks {
		t.Able = nil
		q.Tasks = append(q.Tasks, t)
	}
	for _, n := range resources {
		q.Resources = append(q.Resources, p.Resources[n])
	}
	for _, set := range sets {
		pool := Resource{Capacity: make([]int32, p.Slots)}
		for s := range p.Slots {
			for _, m := range set {
				if !slices.ContainsFunc(p.Machines[m].Closed, func(c Interval) bool { return c.From <= s && s < c.To }) {
					pool.Capacity[s]++
				}
			}
		}
		for i, t := range p.Tasks {
			if len(t.Able) > 0 && !slices.ContainsFunc(t.Able, func(m int) bool { return !slices.Contains(set, m) }) {
				pool.Uses = append(pool.Uses, Use{Task: i, Need: 1})
			}
		}
		q.Resources = append(q.Resources, pool)
	}
	return q
}

// toldApart is the problem with some of its resources, and with the machines of
// the sets; what stands on no machine of them needs none.
func toldApart(p *Problem, resources []int, sets [][]int) *Problem {
	q := pooled(p, resources, nil)
	q.Machines = p.Machines
	for i, t := range p.Tasks {
		for _, set := range sets {
			if len(t.Able) > 0 && slices.Contains(set, t.Able[0]) {
				q.Tasks[i].Able = t.Able
			}
		}
	}
	return q
}

// without is a list less its n-th element.
func without[T any](list []T, n int) []T { return slices.Delete(slices.Clone(list), n, n+1) }

// TestProber_Conflict checks that what a conflict names forbids the start, and
// that the start is possible without any one thing that it names, both by
// enumeration in the pooled view of the machines; where the pools allow the
// start, the machines of the sets told apart must forbid it.
func TestProber_Conflict(t *testing.T) {
	runs := uint64(400)
	if testing.Short() {
		runs = 120
	}
	named := [3]int{}
	several, apart := 0, 0
	for seed := range runs {
		p := tiny(seed)
		if !small(p) {
			continue
		}
		limits := randomLimits(p, seed)
		r := probed(t, p, limits, seed)
		if r == nil {
			continue
		}
		for i := range p.Tasks {
			for k := range p.Tasks[i].Starts {
				_, status, err := r.Possible(context.Background(), i, k, k)
				if err != nil {
					t.Fatalf("seed %d: %v", seed, err)
				}
				if status != Infeasible {
					continue
				}
				c := r.Conflict(context.Background(), i, k, k)
				if !c.Whole {
					t.Fatalf("seed %d: %s at %d: conflict %+v is not proven", seed, p.Tasks[i].Name, k, c)
				}
				var kept []Limit
				for _, n := range c.Limits {
					kept = append(kept, limits[n])
				}
				possible := func(limits []Limit, resources []int, sets [][]int) bool {
					return starts(pooled(p, resources, sets), limits)[i][k]
				}
				if possible(kept, c.Resources, c.Sets) {
					apart++
					if starts(toldApart(p, c.Resources, c.Sets), kept)[i][k] {
						t.Errorf("seed %d: %s at %d: possible in spite of %+v", seed, p.Tasks[i].Name, k, c)
					}
					continue
				}
				if r.near != nil {
					continue // only in full windows can every part be shown to be needed
				}
				for n := range kept {
					if !possible(without(kept, n), c.Resources, c.Sets) {
						t.Errorf("seed %d: %s at %d: %+v forbids it without limit %d", seed, p.Tasks[i].Name, k, c, n)
					}
				}
				for n := range c.Resources {
					if !possible(kept, without(c.Resources, n), c.Sets) {
						t.Errorf("seed %d: %s at %d: %+v forbids it without resource %d", seed, p.Tasks[i].Name, k, c, n)
					}
				}
				for n := range c.Sets {
					if !possible(kept, c.Resources, without(c.Sets, n)) {
						t.Errorf("seed %d: %s at %d: %+v forbids it without set %d", seed, p.Tasks[i].Name, k, c, n)
					}
				}
				named[0] += len(c.Limits)
				named[1] += len(c.Resources)
				named[2] += len(c.Sets)
				if len(c.Limits)+len(c.Resources)+len(c.Sets) > 1 {
					several++
				}
			}
		}
	}
	for n, what := range []string{"limits", "resources", "machine sets"} {
		if named[n] < 10 {
			t.Errorf("conflicts named %d %s: too few to test anything", named[n], what)
		}
	}
	if !testing.Short() && apart == 0 {
		t.Error("no conflict came from telling machines apart")
	}
	if several < 10 {
		t.Errorf("%d conflicts of several: too few to test anything", several)
	}
}
