package schedule

import (
	"context"
	"flag"
	"math/rand/v2"
	"slices"
	"testing"

	"wetdown/solver/cdcl"
	"wetdown/solver/cnf"
	"wetdown/solver/sat"
)

// tiny makes a random problem small enough to enumerate: up to four tasks with a
// few starts each, machines of overlapping ability with closures, one resource
// with demands above one, arcs with both bounds, tasks that may be left out.
func tiny(seed uint64) *Problem {
	r := rand.New(rand.NewPCG(seed, 7))
	p := &Problem{Slots: 10}
	for m := range 1 + r.IntN(3) {
		mc := Machine{Name: string(rune('A' + m))}
		if r.IntN(3) == 0 {
			f := Slot(r.IntN(8))
			mc.Closed = []Interval{{f, f + 1 + Slot(r.IntN(2))}}
		}
		p.Machines = append(p.Machines, mc)
	}
	n := 2 + r.IntN(4)
	for i := range n {
		t := Task{Name: string(rune('a' + i)), Job: i / 2, Skip: r.IntN(4) == 0}
		length := Slot(1 + r.IntN(3))
		for s := Slot(0); s+length <= p.Slots; s++ {
			if r.IntN(3) > 0 || len(t.Starts) == 0 {
				end := s + length + Slot(r.IntN(2))
				if k := len(t.Ends); k > 0 {
					end = max(end, t.Ends[k-1])
				}
				t.Starts, t.Ends = append(t.Starts, s), append(t.Ends, min(end, p.Slots))
			}
		}
		for m := range p.Machines {
			if r.IntN(3) > 0 {
				t.Able = append(t.Able, m)
			}
		}
		p.Tasks = append(p.Tasks, t)
	}
	for i := 1; i < n; i++ {
		if r.IntN(2) == 0 {
			continue
		}
		from := r.IntN(i)
		a := Arc{From: from, To: i}
		for k := range p.Tasks[from].Starts {
			a.Earliest = append(a.Earliest, p.Tasks[from].Ends[k]+Slot(r.IntN(2)))
			a.Latest = append(a.Latest, p.Tasks[from].Ends[k]+2+Slot(r.IntN(4)))
		}
		slices.Sort(a.Earliest)
		slices.Sort(a.Latest)
		switch r.IntN(3) {
		case 0:
			a.Latest = nil
		case 1:
			a.Earliest = nil
		}
		p.Arcs = append(p.Arcs, a)
	}
	for i := 1; i < n; i++ {
		if p.Tasks[i].Skip && p.Tasks[i-1].Skip && r.IntN(2) == 0 {
			p.Together = append(p.Together, [2]int{i - 1, i})
		}
	}
	res := Resource{Name: "crew"}
	for range p.Slots {
		res.Capacity = append(res.Capacity, int32(r.IntN(4)))
	}
	for i := range n {
		if r.IntN(2) == 0 {
			u := Use{Task: i, Need: int32(1 + r.IntN(2))}
			if r.IntN(3) == 0 {
				for k, s := range p.Tasks[i].Starts {
					u.From = append(u.From, min(s+1, p.Tasks[i].Ends[k]))
				}
			}
			if r.IntN(3) == 0 {
				u.On = make([]bool, p.Slots)
				for t := range u.On {
					u.On[t] = r.IntN(3) > 0
				}
			}
			res.Uses = append(res.Uses, u)
		}
	}
	p.Resources = append(p.Resources, res)
	for t := range 3 {
		tier := Tier{Name: string(rune('x' + t))}
		for i := range n {
			if r.IntN(2) == 0 {
				c := Cost{Task: i, Skip: int64(r.IntN(8))}
				for range p.Tasks[i].Starts {
					c.At = append(c.At, int64(r.IntN(4)))
				}
				tier.Costs = append(tier.Costs, c)
			}
		}
		if n > 2 && r.IntN(2) == 0 {
			g := Gap{From: 0, To: n - 1, Free: int32(r.IntN(2)), Cap: 3, Weight: int64(1 + r.IntN(2))}
			for _, s := range p.Tasks[0].Starts {
				g.FromDay = append(g.FromDay, s/2)
			}
			for _, s := range p.Tasks[n-1].Starts {
				g.ToDay = append(g.ToDay, s/2)
			}
			tier.Gaps = append(tier.Gaps, g)
		}
		p.Tiers = append(p.Tiers, tier)
	}
	return p
}

// enumerate calls f with every way to place the tasks, whether it obeys the rules
// or not.
func enumerate(p *Problem, f func(*Answer)) {
	a := Answer{make([]int, len(p.Tasks)), make([]int, len(p.Tasks))}
	var rec func(i int)
	rec = func(i int) {
		if i == len(p.Tasks) {
			f(&a)
			return
		}
		t := &p.Tasks[i]
		for k := range t.Starts {
			a.Start[i] = k
			if len(t.Able) == 0 {
				a.Machine[i] = -1
				rec(i + 1)
			}
			for _, m := range t.Able {
				a.Machine[i] = m
				rec(i + 1)
			}
		}
		if t.Skip {
			a.Start[i], a.Machine[i] = -1, -1
			rec(i + 1)
		}
	}
	rec(0)
}

// brute enumerates every answer and returns the best values, nil if there is none.
func brute(p *Problem) (best []int64) {
	enumerate(p, func(a *Answer) {
		if v, faults := Verify(p, a); len(faults) == 0 && (best == nil || compare(v, best) < 0) {
			best = v
		}
	})
	return best
}

// foreign is for a night: go test ./solver ./solver/schedule -run Foreign -foreign 20 -timeout 0
var foreign = flag.Uint64("foreign", 1, "how many times as many random problems are compared with enumeration and with other solvers")

// What the search does not decide on only ever follows: a model in which the rest of it is false obeys
// every clause, whatever is hoped for or not to cost anything.
func TestDeciding(t *testing.T) {
	count := map[sat.Status]int{}
	for seed := range uint64(400) {
		p := tiny(seed)
		g := newGraph(p)
		full, ok := allWindows(p, g)
		if !ok {
			continue
		}
		dice := rand.New(rand.NewPCG(seed, 5))
		w := windows{slices.Clone(full.lo), slices.Clone(full.hi)}
		for i := range w.lo {
			if n := w.hi[i] - w.lo[i]; n > 1 && dice.IntN(2) == 0 {
				w.lo[i] += dice.IntN(n / 2)
				w.hi[i] -= dice.IntN(n / 2)
			}
		}
		write := func(sink cnf.Sink) (e *encoding, assume []sat.Lit) {
			e = newEncoding(p, w, full, sink)
			fs := families(p)
			for _, c := range e.capacities(fs) {
				e.fit(c)
			}
			if seed%2 == 0 {
				for _, f := range fs {
					e.named(f, always)
				}
			}
			for n := range p.Tiers {
				softs, _ := e.tier(&p.Tiers[n])
				for _, x := range softs {
					assume = append(assume, -x.Lit)
				}
			}
			return e, append(assume, hoped(e.inside())...)
		}
		var f sat.Formula
		write(&f)
		s := cdcl.New()
		e, assume := write(s)
		s.Decide(e.deciding()...)
		for range 20 {
			as := slices.DeleteFunc(slices.Clone(assume), func(sat.Lit) bool { return dice.IntN(4) > 0 })
			status := s.Solve(context.Background(), as)
			if count[status]++; status != sat.Sat {
				continue
			}
			for n := range f.NumClauses() {
				if !slices.ContainsFunc(f.Clause(n), s.Value) {
					t.Fatalf("seed %d, assumed %v: clause %v is false", seed, as, f.Clause(n))
				}
			}
		}
	}
	if count[sat.Sat] < 500 || count[sat.Unsat] < 500 {
		t.Errorf("answers %v: want many of both", count)
	}
}

// TestForeign_Brute compares with enumeration.
func TestForeign_Brute(t *testing.T) {
	runs := 2000 * *foreign
	if testing.Short() {
		runs = 60
	}
	answers := 0
	for seed := range runs {
		p := tiny(seed)
		if err := p.Validate(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		size := 1
		for i := range p.Tasks {
			size *= len(p.Tasks[i].Starts)*max(1, len(p.Tasks[i].Able)) + 1
		}
		if size > 30_000 {
			continue
		}
		want := brute(p)
		got, err := Solve(context.Background(), p, Options{margin: 1 + Slot(seed%3), patience: 1 + int(seed%5), rebuilt: 1 + int(seed%3), part: int(seed % 4), stretch: int(seed % 3), reach: 1 + Slot(seed%4)})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if want == nil {
			if got.Status != Infeasible {
				t.Errorf("seed %d: status %v, want infeasible", seed, got.Status)
			}
			continue
		}
		answers++
		if got.Status != Optimal || !slices.Equal(got.Values, want) || !slices.Equal(got.Bounds, want) {
			t.Errorf("seed %d: status %v values %v bounds %v, want optimal %v", seed, got.Status, got.Values, got.Bounds, want)
		}
	}
	if answers < int(runs/4) {
		t.Errorf("only %d of %d problems had an answer: the generator is too strict to test anything", answers, runs)
	}
}
