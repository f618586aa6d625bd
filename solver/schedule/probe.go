package schedule

import (
	"context"
	"fmt"
	"slices"

	"wetdown/solver/cnf"
	"wetdown/solver/sat"
)

// A Limit keeps a task to some of its starts: it takes place, and starts at an
// index in [Lo, Hi].
type Limit struct {
	Task, Lo, Hi int
}

// A Prober answers, over one warm session, whether a task can start at one of its
// starts or another while everything else obeys the problem and the limits. Costs
// play no part. The session begins with the first question that takes one. A Prober is
// not safe for concurrent use.
type Prober struct {
	p      *Problem
	g      graph
	full   windows
	w      windows
	limits []Limit
	near   *Answer
	fs     []family
	named  []bool
	margin Slot

	s      *sat.Session // nil until a question takes one
	e      *encoding
	guards []sat.Lit // one per limit, resource, machine set and family, in this order
	sets   [][]int

	last     *Answer        // that a search has found
	waived   []bool         // by limit: not asked for
	meters   map[int]*meter // by tier, of this session
	sessions int
}

// NewProber prepares questions. near is an answer that the search starts from and
// fills up with; it may disobey the limits.
func NewProber(p *Problem, limits []Limit, near *Answer) (*Prober, error) {
	r := &Prober{p: p, g: newGraph(p), limits: limits, near: near, margin: firstMargin}
	full, ok := allWindows(p, r.g)
	if !ok {
		return nil, fmt.Errorf("schedule: a task that must take place has no start")
	}
	r.full = full
	r.fs = families(p)
	r.named = make([]bool, len(r.fs))
	for _, f := range r.fs {
		r.sets = append(r.sets, f.sets...)
	}
	return r, nil
}

// From names another answer to start from and to fill up with. The session goes on.
func (r *Prober) From(near *Answer) { r.near = near }

// guarded adds the same literal to every clause.
type guarded struct {
	cnf.Sink
	off sat.Lit
}

func (g guarded) Add(lits ...sat.Lit) { g.Sink.Add(append(slices.Clone(lits), g.off)...) }
func (g guarded) Add2(a, b sat.Lit)   { g.Sink.Add3(a, b, g.off) }
func (g guarded) Add3(a, b, c sat.Lit) {
	g.Sink.Add(a, b, c, g.off)
}

// encode writes everything anew, in windows that reach a margin past near.
func (r *Prober) encode() {
	r.w = windows{slices.Clone(r.full.lo), slices.Clone(r.full.hi)}
	for i := range r.w.hi {
		if r.near == nil || r.w.lo[i] > r.w.hi[i] {
			continue
		}
		t := &r.p.Tasks[i]
		k := max(r.near.Start[i], r.w.lo[i])
		r.w.hi[i] = min(r.w.hi[i], max(r.w.lo[i], t.last(t.Starts[k]+r.margin)))
	}
	for _, l := range r.limits {
		r.w.hi[l.Task] = min(r.full.hi[l.Task], max(r.w.hi[l.Task], l.Hi))
	}
	r.s = sat.New(0, 0)
	r.sessions++
	r.meters = map[int]*meter{}
	r.e = newEncoding(r.p, r.w, r.full, r.s)
	r.guards = r.guards[:0]
	for range r.pools() + len(r.fs) {
		r.guards = append(r.guards, r.s.Lit())
	}
	at := 0
	guard := func() cnf.Sink {
		at++
		return guarded{r.s, -r.guards[at-1]}
	}
	for _, l := range r.limits {
		r.keep(guard(), l)
	}
	first := at
	for _, c := range r.e.capacities(r.fs) {
		r.e.rule = guarded{r.s, -r.guards[first+c.owner]}
		r.e.fit(c)
	}
	r.e.rule = r.e.sink
	for n := range r.fs {
		if r.named[n] {
			r.name(n)
		}
	}
	r.s.Reserve(1000)
	r.remind()
}

// remind has the solver look at near once, so that every search starts from there.
func (r *Prober) remind() {
	if r.near == nil {
		return
	}
	var as []sat.Lit
	for i, k := range r.near.Start {
		if k < 0 && r.p.Tasks[i].Skip || k >= r.w.lo[i] && k <= r.w.hi[i] {
			as = append(as, r.e.exact(i, k)...)
		}
	}
	r.s.Solve(context.Background(), append(as, r.held(len(r.guards))...))
}

// keep writes a limit.
func (r *Prober) keep(s cnf.Sink, l Limit) {
	r.add(s, -r.e.skip[l.Task])
	r.add(s, r.e.from(l.Task, l.Lo))
	r.add(s, -r.e.from(l.Task, l.Hi+1))
}

// pools is how many guards come before those of the families.
func (r *Prober) pools() int { return len(r.limits) + len(r.p.Resources) + len(r.sets) }

// name tells the machines of the n-th family apart, under its guard. What this
// defines nobody else uses: no task is in two families.
func (r *Prober) name(n int) {
	r.e.sink = guarded{r.s, -r.guards[r.pools()+n]}
	r.e.named(r.fs[n], always)
	r.e.sink = r.s
}

// add writes that a literal holds, under a guard.
func (r *Prober) add(s cnf.Sink, l sat.Lit) {
	switch l {
	case r.e.top:
	case -r.e.top:
		s.Add()
	default:
		s.Add(l)
	}
}

// reach makes the session reach the task's k-th start; it begins one if there is none.
func (r *Prober) reach(task, k int) {
	if r.s == nil {
		r.encode()
	}
	for r.w.hi[task] < k {
		r.margin *= 2
		r.encode()
	}
}

// Window is the first and the last start that the arcs alone leave the task.
func (r *Prober) Window(task int) (lo, hi int) { return r.full.lo[task], r.full.hi[task] }

// Possible tells whether the task can start at an index in [lo, hi]: Feasible with
// an answer, Infeasible, or Unknown when ctx ended it.
func (r *Prober) Possible(ctx context.Context, task, lo, hi int) (*Answer, Status, error) {
	if lo > r.full.hi[task] || hi < r.full.lo[task] {
		return nil, Infeasible, nil
	}
	if a := r.around(Limit{task, lo, hi}); a != nil {
		return a, Feasible, nil
	}
	r.reach(task, min(hi, r.full.hi[task]))
	for {
		as := append(r.place(task, lo, hi), r.held(len(r.guards))...)
		switch r.s.Solve(ctx, as) {
		case sat.Unknown:
			return nil, Unknown, nil
		case sat.Unsat:
			return nil, Infeasible, nil
		}
		a, unnamed := r.finish(ctx, r.e.read(r.s.Value))
		if a != nil {
			if _, faults := Verify(r.p, a); len(faults) > 0 {
				return nil, Unknown, fmt.Errorf("schedule: an answer breaks the problem: %v", faults[0])
			}
			r.last = a
			return a, Feasible, nil
		}
		if len(unnamed) == 0 {
			r.margin *= 2
			r.encode()
			continue
		}
		for _, n := range unnamed {
			r.named[n] = true
			r.name(n)
		}
	}
}

// around tries to change near, or the last answer, by hand so that the task starts within a limit and all
// the others are held, too: often enough it works, and saves a search.
func (r *Prober) around(l Limit) *Answer {
	if r.near == nil {
		return nil
	}
	w := windows{slices.Clone(r.full.lo), slices.Clone(r.full.hi)}
	limits := []Limit{l}
	for n, l := range r.limits {
		if n >= len(r.waived) || !r.waived[n] {
			limits = append(limits, l)
		}
	}
	for _, l := range limits {
		w.lo[l.Task], w.hi[l.Task] = max(w.lo[l.Task], l.Lo), min(w.hi[l.Task], l.Hi)
	}
	for _, near := range []*Answer{r.near, r.last} {
		if near == nil {
			continue
		}
		c := newConstructor(r.p, r.g, w, near)
		for _, first := range []int{-1, l.Task} {
			a := c.mend(near, first)
			if a == nil || slices.ContainsFunc(limits, func(l Limit) bool { return a.Start[l.Task] < l.Lo || a.Start[l.Task] > l.Hi }) {
				continue
			}
			if _, faults := Verify(r.p, a); len(faults) == 0 {
				return a
			}
		}
	}
	return nil
}

// place spells out that a task starts at an index in [lo, hi].
func (r *Prober) place(task, lo, hi int) (as []sat.Lit) {
	for _, l := range []sat.Lit{-r.e.skip[task], r.e.from(task, lo), -r.e.from(task, hi+1)} {
		if l != r.e.top {
			as = append(as, l)
		}
	}
	return as
}

// finish names the machines and places what lies beyond the windows; it returns
// neither an answer nor families when the latter does not work out.
func (r *Prober) finish(ctx context.Context, start []int) (*Answer, []int) {
	a := &Answer{Start: start, Machine: make([]int, len(start))}
	var rest []int
	for i, k := range start {
		a.Machine[i] = -1
		if k == unplaced {
			rest = append(rest, i)
		}
	}
	var prefer []int
	if r.near != nil {
		prefer = r.near.Machine
	}
	var unnamed []int
	for n := range r.fs {
		told := func(machine []int) bool {
			return r.named[n] && r.e.names(r.fs[n], start, prefer, r.s.Value, machine)
		}
		if _, ok := r.fs[n].name(ctx, 0, r.p, start, prefer, a.Machine, told); !ok {
			unnamed = append(unnamed, n)
		}
	}
	if len(unnamed) > 0 || len(rest) == 0 {
		if len(unnamed) > 0 {
			return nil, unnamed
		}
		return a, nil
	}
	return fill(r.p, r.g, r.full, a, rest), nil
}

// fill places the tasks of rest around an answer that places all others, or
// returns nil.
func fill(p *Problem, g graph, full windows, a *Answer, rest []int) *Answer {
	b := newBoard(p, g, full)
	for i, k := range a.Start {
		if k >= 0 {
			b.set(i, k, a.Machine[i], 1)
		} else if k == -1 {
			b.Start[i] = -1
		}
	}
	left := tries * len(rest)
	if !b.place(p.topological(g, rest), nil, &left) {
		return nil
	}
	return &b.Answer
}

// A Conflict says what stands in the way of a start, by index: limits, resources
// and sets of machines. It is irreducible: without any one of them, in the pooled
// view of the machines, the start is possible as long as what lies beyond the
// windows of the session fits. Where only telling the machines apart refuses the
// start, Sets has all machines of the families told apart.
type Conflict struct {
	Limits    []int
	Resources []int
	Sets      [][]int
	Whole     bool // minimality was proven; false when ctx ended it
}

// Conflict explains a start that Possible calls Infeasible: no subset of what it
// returns would do. Limits are given up last: what people may change first is
// better said in terms of bays and crews.
func (r *Prober) Conflict(ctx context.Context, task, lo, hi int) (c Conflict) {
	if lo > r.full.hi[task] || hi < r.full.lo[task] {
		return Conflict{Whole: true}
	}
	r.reach(task, min(hi, r.full.hi[task]))
	where := r.place(task, lo, hi)
	core := r.held(r.pools())
	solve := func(try []sat.Lit) sat.Status {
		status := r.s.Solve(ctx, append(slices.Clone(where), try...))
		if status == sat.Unsat {
			core = slices.DeleteFunc(slices.Clone(r.s.Core()), func(l sat.Lit) bool { return slices.Contains(where, l) })
		}
		return status
	}
	if status := solve(core); status == sat.Unknown || status == sat.Sat && solve(r.held(len(r.guards))) != sat.Unsat {
		return c
	}
	c.Whole = true
	for i := 0; i < len(core); {
		try := slices.Delete(slices.Clone(core), i, i+1)
		switch solve(try) {
		case sat.Sat:
			i++
		case sat.Unknown:
			c.Whole = false
			i = len(core)
		case sat.Unsat:
			// core is now a subset of try: those before i stay needed.
			i = min(i, len(core))
		}
	}
	for _, l := range core {
		n := slices.Index(r.guards, l)
		switch {
		case n < len(r.limits):
			c.Limits = append(c.Limits, n)
		case n < len(r.limits)+len(r.p.Resources):
			c.Resources = append(c.Resources, n-len(r.limits))
		case n < r.pools():
			c.Sets = append(c.Sets, r.sets[n-len(r.limits)-len(r.p.Resources)])
		default:
			if f := r.fs[n-r.pools()]; !slices.ContainsFunc(c.Sets, func(s []int) bool { return slices.Equal(s, f.machines) }) {
				c.Sets = append(c.Sets, f.machines)
			}
		}
	}
	return c
}
