package schedule

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
)

// beside makes one problem of two that share nothing: the second has its tasks, machines and
// pools after those of the first, and the tiers are those of both.
func beside(p, q *Problem) *Problem {
	out := *p
	tasks, machines, jobs := len(p.Tasks), len(p.Machines), 0
	for _, t := range p.Tasks {
		jobs = max(jobs, t.Job+1)
	}
	out.Machines = slices.Concat(p.Machines, q.Machines)
	out.Tasks, out.Arcs, out.Together = slices.Clone(p.Tasks), slices.Clone(p.Arcs), slices.Clone(p.Together)
	out.Resources, out.Tiers = slices.Clone(p.Resources), nil
	for _, t := range q.Tasks {
		t.Job += jobs
		t.Able = slices.Clone(t.Able)
		for i := range t.Able {
			t.Able[i] += machines
		}
		out.Tasks = append(out.Tasks, t)
	}
	for _, a := range q.Arcs {
		a.From, a.To = a.From+tasks, a.To+tasks
		out.Arcs = append(out.Arcs, a)
	}
	for _, g := range q.Together {
		out.Together = append(out.Together, [2]int{g[0] + tasks, g[1] + tasks})
	}
	for _, r := range q.Resources {
		r.Uses = slices.Clone(r.Uses)
		for i := range r.Uses {
			r.Uses[i].Task += tasks
		}
		out.Resources = append(out.Resources, r)
	}
	for n, t := range p.Tiers {
		t.Costs, t.Gaps = slices.Clone(t.Costs), slices.Clone(t.Gaps)
		for _, c := range q.Tiers[n].Costs {
			c.Task += tasks
			t.Costs = append(t.Costs, c)
		}
		for _, g := range q.Tiers[n].Gaps {
			g.From, g.To = g.From+tasks, g.To+tasks
			t.Gaps = append(t.Gaps, g)
		}
		out.Tiers = append(out.Tiers, t)
	}
	return &out
}

// otherwise numbers tasks and machines in another order, and jobs too.
func otherwise(r *rand.Rand, p *Problem) *Problem {
	out := *p
	tasks, machines := r.Perm(len(p.Tasks)), r.Perm(len(p.Machines))
	out.Tasks, out.Machines = make([]Task, len(p.Tasks)), make([]Machine, len(p.Machines))
	for i, t := range p.Tasks {
		t.Able = slices.Clone(t.Able)
		for k := range t.Able {
			t.Able[k] = machines[t.Able[k]]
		}
		slices.Sort(t.Able)
		out.Tasks[tasks[i]] = t
	}
	for i, m := range p.Machines {
		out.Machines[machines[i]] = m
	}
	out.Arcs, out.Together, out.Resources, out.Tiers = slices.Clone(p.Arcs), slices.Clone(p.Together), slices.Clone(p.Resources), slices.Clone(p.Tiers)
	for i := range out.Arcs {
		a := &out.Arcs[i]
		a.From, a.To = tasks[a.From], tasks[a.To]
	}
	for i := range out.Together {
		g := &out.Together[i]
		g[0], g[1] = tasks[g[0]], tasks[g[1]]
	}
	for i := range out.Resources {
		u := slices.Clone(out.Resources[i].Uses)
		for k := range u {
			u[k].Task = tasks[u[k].Task]
		}
		out.Resources[i].Uses = u
	}
	for n := range out.Tiers {
		t := &out.Tiers[n]
		t.Costs, t.Gaps = slices.Clone(t.Costs), slices.Clone(t.Gaps)
		for k := range t.Costs {
			t.Costs[k].Task = tasks[t.Costs[k].Task]
		}
		for k := range t.Gaps {
			t.Gaps[k].From, t.Gaps[k].To = tasks[t.Gaps[k].From], tasks[t.Gaps[k].To]
		}
	}
	return &out
}

// TestForeign_Relations compares the best answers of random problems with each other: two that
// share nothing cost, side by side, the sum of what they cost, tier by tier, and have no answer
// where one has none; and numbers mean nothing.
func TestForeign_Relations(t *testing.T) {
	solve := func(seed uint64, p *Problem) *Result {
		t.Helper()
		if err := p.Validate(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		r, err := Solve(context.Background(), p, Options{})
		if err != nil || r.Status != Optimal && r.Status != Infeasible {
			t.Fatalf("seed %d: %v %v", seed, r, err)
		}
		return r
	}
	runs := 2000 * *foreign
	if testing.Short() {
		runs = 20
	}
	count := map[Status]int{}
	for seed := range runs {
		p, q := tiny(10_000+2*seed), tiny(10_001+2*seed)
		one, other := solve(seed, p), solve(seed, q)
		both := solve(seed, otherwise(rand.New(rand.NewPCG(seed, 8)), beside(p, q)))
		count[both.Status]++
		if (one.Status == Infeasible || other.Status == Infeasible) != (both.Status == Infeasible) {
			t.Errorf("seed %d: %v and %v, side by side %v", seed, one.Status, other.Status, both.Status)
			continue
		}
		for n, v := range both.Values {
			if want := one.Values[n] + other.Values[n]; v != want || both.Bounds[n] != want {
				t.Errorf("seed %d: %v and %v, side by side %v with bounds %v", seed, one.Values, other.Values, both.Values, both.Bounds)
				break
			}
		}
	}
	if !testing.Short() && (count[Optimal] < 100 || count[Infeasible] < 100) {
		t.Errorf("%d pairs with an answer and %d without test too little", count[Optimal], count[Infeasible])
	}
}

// TestSolve_Nothing answers a problem without tasks.
func TestSolve_Nothing(t *testing.T) {
	for _, p := range []*Problem{
		{Slots: 4, Tiers: []Tier{{Name: "x"}}},
		{Slots: 4, Machines: []Machine{{Name: "A"}}, Resources: []Resource{{Name: "r", Capacity: []int32{1, 1, 1, 1}}}, Tiers: []Tier{{Name: "x"}}},
	} {
		if r, err := Solve(context.Background(), p, Options{}); err != nil || r.Status != Optimal || !slices.Equal(r.Values, []int64{0}) {
			t.Errorf("%+v %v", r, err)
		}
	}
}
