package schedule

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"wetdown/solver/cnf"
	"wetdown/solver/sat"
)

// Within tells whether the task can start at an index in [lo, hi] while the costs of
// a tier sum to at most so much, whoever of the tasks it is that costs: Feasible with
// an answer, Infeasible, or Unknown when ctx ended it. Everything else obeys the
// problem and the limits that are not waived.
//
// The sum is minimised as far as it must be, core by core: a core says that one of
// some costs cannot be spared, its least price is paid, and once more than the most
// is paid the answer is no. What cannot be spared wherever the task starts is found
// out once in a session.
func (r *Prober) Within(ctx context.Context, task, lo, hi, tier int, most int64) (*Answer, Status, error) {
	if lo > r.full.hi[task] || hi < r.full.lo[task] {
		return nil, Infeasible, nil
	}
	r.reach(task, min(hi, r.full.hi[task]))
	for {
		base, ok := r.metered(ctx, tier)
		if !ok {
			return nil, Unknown, nil
		}
		where := append(r.place(task, lo, hi), r.held(len(r.guards))...)
		a, status, err := r.spend(ctx, base.clone(), where, most)
		if status != beyond || err != nil {
			return a, status, err
		}
		r.margin *= 2
		r.encode()
	}
}

// beyond is the status of a search that ran into the end of its windows.
const beyond Status = -1

// spend looks for an answer that costs at most so much.
func (r *Prober) spend(ctx context.Context, m *meter, where []sat.Lit, most int64) (*Answer, Status, error) {
	for m.lower <= most {
		switch status := m.next(ctx, r.s, where); status {
		case sat.Unknown:
			return nil, Unknown, nil
		case sat.Unsat:
			if m.hopeless {
				return nil, Infeasible, nil
			}
			continue
		}
		start := r.e.read(r.s.Value)
		inside := !slices.Contains(start, unplaced)
		a, unnamed := r.finish(ctx, start)
		for _, n := range unnamed {
			r.named[n] = true
			r.name(n)
		}
		switch {
		case len(unnamed) > 0:
			continue
		case a == nil:
			return nil, beyond, nil
		}
		values, faults := Verify(r.p, a)
		switch {
		case len(faults) > 0:
			return nil, Unknown, fmt.Errorf("schedule: an answer breaks the problem: %v", faults[0])
		case values[m.tier] <= most:
			return a, Feasible, nil
		case inside:
			return nil, Unknown, fmt.Errorf("schedule: tier %s costs %d and was counted as %d", r.p.Tiers[m.tier].Name, values[m.tier], m.lower)
		}
		return nil, beyond, nil
	}
	return nil, Infeasible, nil
}

// metered is the meter of a tier, with everything paid that the problem alone asks
// for; false when ctx ended it.
func (r *Prober) metered(ctx context.Context, tier int) (*meter, bool) {
	m := r.meters[tier]
	if m == nil {
		m = &meter{tier: tier, weight: map[sat.Lit]int64{}, sums: map[sat.Lit]output{}}
		softs, base := r.e.tier(&r.p.Tiers[tier])
		m.lower = base
		for _, f := range softs {
			m.add(f.Lit, f.Weight)
		}
		r.s.Reserve(1000)
		r.meters[tier] = m
	}
	for !m.paid && !m.hopeless {
		switch m.next(ctx, r.s, r.guards[len(r.limits):]) {
		case sat.Unknown:
			return nil, false
		case sat.Sat:
			m.paid = true
		}
	}
	m.hopeless = false
	return m, true
}

// A meter is the costs of one tier. Invariant: the least they can sum to is lower
// plus the least that what weight still holds can.
type meter struct {
	tier     int
	lits     []sat.Lit // in order of arrival
	weight   map[sat.Lit]int64
	sums     map[sat.Lit]output
	lower    int64
	paid     bool // some answer costs no more than lower
	hopeless bool // the last core had no costs in it
}

// An output is "at least k of the inputs of t are true".
type output struct {
	t *cnf.Totalizer
	k int
}

func (m *meter) clone() *meter {
	c := *m
	c.lits, c.weight, c.sums = slices.Clone(m.lits), maps.Clone(m.weight), maps.Clone(m.sums)
	return &c
}

// add gives a literal more weight; of a literal and its negation one is always paid.
func (m *meter) add(l sat.Lit, w int64) {
	if n := min(w, m.weight[-l]); n > 0 {
		m.lower += n
		m.weight[-l] -= n
		w -= n
	}
	if w == 0 {
		return
	}
	if _, ok := m.weight[l]; !ok {
		m.lits = append(m.lits, l)
	}
	m.weight[l] += w
}

// next asks for an answer that costs nothing more, and pays for a core if there is
// none.
func (m *meter) next(ctx context.Context, s *sat.Session, where []sat.Lit) sat.Status {
	var spared []sat.Lit
	for _, l := range m.lits {
		if m.weight[l] > 0 {
			spared = append(spared, l)
		}
	}
	slices.SortStableFunc(spared, func(x, y sat.Lit) int { return cmp.Compare(m.weight[y], m.weight[x]) })
	as := slices.Clone(where)
	for _, l := range spared {
		as = append(as, -l)
	}
	status := s.Solve(ctx, as)
	if status != sat.Unsat {
		return status
	}
	core := slices.Clone(s.Core())
	for len(core) > 1 && s.Solve(ctx, core) == sat.Unsat && len(s.Core()) < len(core) {
		core = slices.Clone(s.Core())
	}
	costs := slices.DeleteFunc(core, func(l sat.Lit) bool { return slices.Contains(where, l) })
	if m.hopeless = len(costs) == 0; !m.hopeless {
		m.pay(s, costs)
	}
	return sat.Unsat
}

// pay takes the least weight of a core, of which one must be true, off all of it. The
// first of them is paid with that; a second one costs again.
func (m *meter) pay(s *sat.Session, core []sat.Lit) {
	var least int64
	for i := range core {
		core[i] = -core[i]
		if w := m.weight[core[i]]; i == 0 || w < least {
			least = w
		}
	}
	for _, l := range core {
		m.weight[l] -= least
	}
	m.lower += least
	for _, l := range core {
		if o, ok := m.sums[l]; ok {
			m.output(o.t, o.k+1, least)
		}
	}
	if len(core) > 1 {
		m.output(cnf.NewTotalizer(s, core), 2, least)
	}
}

func (m *meter) output(t *cnf.Totalizer, k int, w int64) {
	if k > t.Len() {
		return
	}
	l := t.AtLeast(k)
	m.sums[l] = output{t, k}
	m.add(l, w)
}

// Waive leaves some of the limits, by index, out of the questions that follow, and
// no others.
func (r *Prober) Waive(limits ...int) {
	r.waived = make([]bool, len(r.limits))
	for _, n := range limits {
		r.waived[n] = true
	}
}

// Limit adds a limit and returns its index. The session goes on.
func (r *Prober) Limit(l Limit) int {
	n := len(r.limits)
	r.limits = append(r.limits, l)
	r.waived = append(r.waived, false)
	if r.s == nil || min(l.Hi, r.full.hi[l.Task]) > r.w.hi[l.Task] {
		r.s = nil // the next one reaches far enough
		return n
	}
	r.guards = slices.Insert(r.guards, n, r.s.Lit())
	r.keep(guarded{r.s, -r.guards[n]}, l)
	return n
}

// Sessions is how many sessions the prober has begun: one with the first question that
// takes one, and one more for every time that a question or a limit led beyond its windows.
func (r *Prober) Sessions() int { return r.sessions }

// held is the guards of the first n things, without the limits that are waived.
func (r *Prober) held(n int) []sat.Lit {
	list := make([]sat.Lit, 0, n)
	for i, l := range r.guards[:n] {
		if i >= len(r.waived) || !r.waived[i] {
			list = append(list, l)
		}
	}
	return list
}
