package schedule

import (
	"slices"

	"wetdown/solver/cdcl"
	"wetdown/solver/cnf"
	"wetdown/solver/maxsat"
	"wetdown/solver/sat"
)

// An encoding is a problem as clauses. For every task there is one literal per
// start but the first, "the task starts at its k-th start or later", so that a
// bound on a start is one literal and an arc is one binary clause per step.
//
// A window narrower than the widest one has one more position at that end: the
// task starts somewhere before, or somewhere beyond it, where it occupies nothing
// and costs the least that it could. That is a relaxation: what it refuses is
// impossible, and an answer with everybody inside is exact.
type encoding struct {
	p      *Problem
	w      windows
	g      graph
	full   windows     // the widest windows; w lies within
	sink   cnf.Sink    // takes literals and what defines them
	rule   cnf.Sink    // takes capacities: sink, or sink under a guard
	top    sat.Lit     // always true
	ge     [][]sat.Lit // ge[i][j]: task i is at position j+1 or later, see first
	says   []bound     // by variable: what an order literal says, index -1 for others
	skip   []sat.Lit   // task is left out; -top when it may not be
	occ    map[occupied]sat.Lit
	period []int       // by slot: crowds of one period stand in for each other; nil: all do
	part   []int       // by job: its part of the session's variables; nil: there are none
	on     [][]sat.Lit // on[i][n]: task i stands in the n-th class of its family, 0 where it cannot; nil while machines are pooled
}

// occupied names the literal "the task starts at an index in [a, b]".
type occupied struct{ task, a, b int }

// open reports whether the window of task i leaves starts beyond it.
func (e *encoding) open(i int) bool { return e.w.hi[i] < e.full.hi[i] }

// before reports whether the window of task i leaves starts before it.
func (e *encoding) before(i int) bool { return e.w.lo[i] > e.full.lo[i] }

// first is the index that the first position of task i stands for: the first of
// its window, or one less where starts lie before it.
func (e *encoding) first(i int) int {
	if e.before(i) {
		return e.w.lo[i] - 1
	}
	return e.w.lo[i]
}

// newEncoding writes the order literals and the arcs; capacities and costs follow.
func newEncoding(p *Problem, w, full windows, sink cnf.Sink) *encoding {
	e := &encoding{p: p, g: newGraph(p), w: w, full: full, sink: sink, rule: sink,
		ge: make([][]sat.Lit, len(p.Tasks)), skip: make([]sat.Lit, len(p.Tasks)),
		occ: map[occupied]sat.Lit{}, on: make([][]sat.Lit, len(p.Tasks))}
	e.top = sink.Lit()
	sink.Add(e.top)
	for i := range p.Tasks {
		n := w.hi[i] - e.first(i)
		if e.open(i) {
			n++
		}
		e.skip[i] = -e.top
		if p.Tasks[i].Skip {
			e.skip[i] = sink.Lit()
		}
		if w.lo[i] > w.hi[i] {
			e.clause(e.skip[i])
			continue
		}
		e.ge[i] = make([]sat.Lit, n)
		for j := range e.ge[i] {
			e.ge[i][j] = sink.Lit()
			for len(e.says) < e.ge[i][j].Var() {
				e.says = append(e.says, bound{index: -1})
			}
			e.says = append(e.says, bound{i, e.first(i) + 1 + j})
			if j > 0 {
				e.sink.Add(-e.ge[i][j], e.ge[i][j-1])
			}
		}
	}
	for _, pair := range p.Together {
		x, y := e.skip[pair[0]], e.skip[pair[1]]
		e.clause(-x, y)
		e.clause(x, -y)
	}
	for _, a := range p.Arcs {
		e.arc(a)
	}
	return e
}

// clause adds a clause, leaving out false literals and whole true clauses.
func (e *encoding) clause(lits ...sat.Lit) {
	n := 0
	for _, l := range lits {
		if l == e.top {
			return
		}
		if l != -e.top {
			lits[n] = l
			n++
		}
	}
	e.sink.Add(lits[:n]...)
}

// refuse writes that what the rules ask for cannot be.
func (e *encoding) refuse() { e.rule.Add() }

// from is the literal "task i starts at index k or later". Indices outside the
// window but within the widest one must be hi+1 at the most and, where starts lie
// before the window, lo at the least.
func (e *encoding) from(i, k int) sat.Lit {
	j := k - e.first(i) - 1
	switch {
	case j < 0:
		return e.top
	case j >= len(e.ge[i]):
		return -e.top
	}
	return e.ge[i][j]
}

// A bound is what an order literal says: the task starts at the index or later.
type bound struct{ task, index int }

// meaning tells what an order literal says; false for any other literal.
func (e *encoding) meaning(l sat.Lit) (bound, bool) {
	if l.Var() >= len(e.says) || e.says[l.Var()].index < 0 {
		return bound{}, false
	}
	return e.says[l.Var()], true
}

// arc writes both bounds of an arc, one clause per step of the bound.
func (e *encoding) arc(a Arc) {
	to := &e.p.Tasks[a.To]
	lo, hi := e.w.lo[a.From], e.w.hi[a.From]
	if lo > hi || e.w.lo[a.To] > e.w.hi[a.To] {
		return // one of them is left out
	}
	last := hi
	if e.open(a.From) {
		last++
	}
	if a.Earliest != nil {
		prev := e.first(a.To)
		for k := lo; k <= last; k++ {
			j := min(to.first(a.Earliest[k]), e.w.hi[a.To]+1)
			if j > prev {
				e.clause(-e.from(a.From, k), e.from(a.To, j), e.skip[a.From], e.skip[a.To])
				prev = j
			}
		}
	}
	if a.Latest != nil {
		prev := e.w.hi[a.To] + 1
		if e.open(a.To) {
			prev++
		}
		for k := hi; k >= lo; k-- {
			j := to.last(a.Latest[k]) + 1 // To starts before index j
			if j < prev {
				e.clause(e.from(a.From, k+1), -e.from(a.To, max(j, e.w.lo[a.To])), e.skip[a.From], e.skip[a.To])
				prev = j
			}
		}
	}
}

// within returns a literal that is true whenever task i takes place and starts at
// an index in [a, b], clipped to its window; -top when that cannot be. It may be
// true otherwise.
func (e *encoding) within(i, a, b int) sat.Lit {
	a, b = max(a, e.w.lo[i]), min(b, e.w.hi[i])
	if a > b {
		return -e.top
	}
	x, y := e.from(i, a), -e.from(i, b+1)
	if e.skip[i] == -e.top {
		switch {
		case x == e.top:
			return y
		case y == e.top:
			return x
		}
	}
	key := occupied{i, a, b}
	l, ok := e.occ[key]
	if !ok {
		l = e.sink.Lit()
		e.clause(-x, -y, e.skip[i], l)
		e.occ[key] = l
	}
	return l
}

// An item is a task that occupies a slot when it starts at an index in [a, b].
type item struct {
	task, a, b int
	need       int32
}

// A crowd is the items that may meet in one slot and the room for them there.
type crowd struct {
	slot  Slot
	items []item // by task
	room  int32
	owner int // the resource, or past all resources the machine set, in order
}

// covers reports whether a crowd that fits always leaves d fitting too.
func (c *crowd) covers(d *crowd) bool {
	if c.room > d.room {
		return false
	}
	n := 0
	for _, x := range d.items {
		for n < len(c.items) && c.items[n].task < x.task {
			n++
		}
		if n == len(c.items) || c.items[n].task != x.task || c.items[n].a > x.a || c.items[n].b < x.b || c.items[n].need < x.need {
			return false
		}
	}
	return true
}

// crowds lists, for uses of something with the given room by slot, those of the
// slots asked for that matter: whose crowd may be too large and is not covered by a
// neighbour's. Uses are sorted by task.
func (e *encoding) crowds(uses []Use, room func(t Slot) int32, ask func(Slot) bool) []crowd {
	var kept []crowd
	uses = slices.DeleteFunc(uses, func(u Use) bool { return u.Need == 0 || e.w.lo[u.Task] > e.w.hi[u.Task] })
	type cursor struct{ a, b int } // first index that ends after t, last index that begins by t
	at := make([]cursor, len(uses))
	for n, u := range uses {
		at[n] = cursor{e.w.lo[u.Task], e.w.lo[u.Task] - 1}
	}
	// What the uses can need together at all, by slot: most slots of most pools are
	// done with at a glance.
	change := make([]int32, e.p.Slots+1)
	for _, u := range uses {
		task := &e.p.Tasks[u.Task]
		change[u.from(task, e.w.lo[u.Task])] += u.Need
		change[task.Ends[e.w.hi[u.Task]]] -= u.Need
	}
	var most int32
	for t := Slot(0); t < e.p.Slots; t++ {
		most += change[t]
		c := crowd{slot: t, room: room(t)}
		if most <= c.room || !ask(t) {
			continue
		}
		var sum int32
		for n := range uses {
			u, task := &uses[n], &e.p.Tasks[uses[n].Task]
			hi := e.w.hi[u.Task]
			k := &at[n]
			for k.a <= hi && task.Ends[k.a] <= t {
				k.a++
			}
			for k.b < hi && u.from(task, k.b+1) <= t {
				k.b++
			}
			if k.a <= k.b && (u.On == nil || u.On[t]) {
				c.items = append(c.items, item{u.Task, k.a, k.b, u.Need})
				sum += u.Need
			}
		}
		if sum <= c.room {
			continue
		}
		if len(kept) > 0 && (e.period == nil || e.period[kept[len(kept)-1].slot] == e.period[t]) {
			if kept[len(kept)-1].covers(&c) {
				continue
			}
			if c.covers(&kept[len(kept)-1]) {
				kept[len(kept)-1] = c
				continue
			}
		}
		kept = append(kept, c)
	}
	return kept
}

func always(Slot) bool { return true }

// fit writes that a crowd fits its room.
func (e *encoding) fit(c crowd) {
	lits := make([]sat.Lit, 0, len(c.items))
	terms := make([]cnf.Term, 0, len(c.items))
	room := int64(c.room)
	even := true
	for _, x := range c.items {
		l := e.within(x.task, x.a, x.b)
		switch l {
		case -e.top:
		case e.top:
			room -= int64(x.need)
		default:
			lits = append(lits, l)
			terms = append(terms, cnf.Term{Lit: l, Weight: int64(x.need)})
			even = even && x.need == c.items[0].need
		}
	}
	switch {
	case room < 0:
		e.refuse()
	case len(lits) == 0:
	case even:
		cnf.AtMost(e.rule, counter, lits, int(room/int64(c.items[0].need)))
	default:
		cnf.AtMostWeight(e.rule, terms, room)
	}
}

// capacities lists the crowds of every resource, and of every set of machines that
// some tasks are confined to: the tasks confined to a set fit into it in every
// slot. Every right answer obeys this; whether the machines can then be named is
// another question (see named).
func (e *encoding) capacities(fs []family) (all []crowd) {
	owner := 0
	add := func(uses []Use, room func(Slot) int32) {
		for _, c := range e.crowds(uses, room, always) {
			c.owner = owner
			all = append(all, c)
		}
		owner++
	}
	for _, r := range e.p.Resources {
		uses := slices.Clone(r.Uses)
		slices.SortStableFunc(uses, func(x, y Use) int { return x.Task - y.Task })
		add(uses, func(t Slot) int32 { return r.Capacity[t] })
	}
	for _, f := range fs {
		for _, set := range f.sets {
			var uses []Use
			for _, i := range f.tasks {
				if within(e.p.Tasks[i].Able, set) {
					uses = append(uses, Use{Task: i, Need: 1})
				}
			}
			add(uses, func(t Slot) int32 { return e.p.openMachines(set, t) })
		}
	}
	return all
}

// uncovered drops the crowds that another one in the same slot covers: a crew of
// four that serves three bays never is the limit.
func uncovered(all []crowd) []crowd {
	slices.SortStableFunc(all, func(x, y crowd) int { return int(x.slot - y.slot) })
	var kept []crowd
	for len(all) > 0 {
		n := 1
		for n < len(all) && all[n].slot == all[0].slot {
			n++
		}
		for i := range all[:n] {
			if !slices.ContainsFunc(all[:n], func(c crowd) bool {
				return c.owner != all[i].owner && c.covers(&all[i]) && (!all[i].covers(&c) || c.owner < all[i].owner)
			}) {
				kept = append(kept, all[i])
			}
		}
		all = all[n:]
	}
	return kept
}

// named writes in which class of machines each task of the family stands: a
// literal per task and class, exactly one of them, and in every class, in every slot
// asked for, at most as many tasks as it has open machines. Machines of one class
// are alike, so that tasks who fit in by number can always be given one each.
func (e *encoding) named(f family, ask func(Slot) bool) {
	for _, i := range f.tasks {
		if e.on[i] != nil || e.w.lo[i] > e.w.hi[i] {
			continue
		}
		e.on[i] = make([]sat.Lit, len(f.classes))
		var able []sat.Lit
		for n, class := range f.classes {
			if slices.ContainsFunc(class, func(m int) bool { return slices.Contains(e.p.Tasks[i].Able, m) }) {
				e.on[i][n] = e.top
				able = append(able, 0)
			}
		}
		if len(able) == 1 {
			continue
		}
		able = able[:0]
		for n, l := range e.on[i] {
			if l == e.top {
				e.on[i][n] = e.sink.Lit()
				able = append(able, e.on[i][n])
			}
		}
		e.clause(slices.Clone(able)...)
		cnf.AtMostOne(e.sink, able)
	}
	for n, class := range f.classes {
		var uses []Use
		for _, i := range f.tasks {
			if e.on[i] != nil && e.on[i][n] != 0 {
				uses = append(uses, Use{Task: i, Need: 1})
			}
		}
		for _, c := range e.crowds(uses, func(t Slot) int32 { return e.p.openMachines(class, t) }, ask) {
			var here []sat.Lit
			room := int(c.room)
			for _, x := range c.items {
				in, on := e.within(x.task, x.a, x.b), e.on[x.task][n]
				switch {
				case in == -e.top:
				case in == e.top && on == e.top:
					room--
				case on == e.top:
					here = append(here, in)
				case in == e.top:
					here = append(here, on)
				default:
					l := e.sink.Lit()
					e.clause(-in, -on, l)
					here = append(here, l)
				}
			}
			if room < 0 {
				e.clause(-e.top)
				continue
			}
			cnf.AtMost(e.sink, counter, here, room)
		}
	}
}

// tier returns the costs of a tier as soft literals, and what it costs in any
// case.
func (e *encoding) tier(t *Tier) (softs []maxsat.Soft, base int64) {
	part := 0
	soft := func(l sat.Lit, w int64) {
		switch {
		case l == e.top:
			base += w
		case w > 0 && l != -e.top:
			softs = append(softs, maxsat.Soft{Lit: l, Weight: w, Part: part})
		}
	}
	for _, c := range t.Costs {
		i := c.Task
		part = e.partOf(i)
		soft(e.skip[i], c.Skip)
		lo, hi := e.w.lo[i], e.w.hi[i]
		if lo > hi {
			continue
		}
		var at []int64
		if e.before(i) {
			at = append(at, slices.Min(c.At[e.full.lo[i]:lo]))
		}
		at = append(at, c.At[lo:hi+1]...)
		if e.open(i) {
			at = append(at, slices.Min(c.At[hi+1:e.full.hi[i]+1]))
		}
		e.cost(i, at, soft)
	}
	for _, g := range t.Gaps {
		part = e.partOf(g.To)
		e.gap(g, soft)
	}
	return softs, base
}

// cost writes the costs of the positions of task i: its valley (never rising
// towards the cheapest position) as weights on order literals, what stands out
// above the valley as weights on literals for runs of positions.
func (e *encoding) cost(i int, at []int64, soft func(sat.Lit, int64)) {
	lo := e.first(i)
	cheapest := 0
	for k, v := range at {
		if v < at[cheapest] {
			cheapest = k
		}
	}
	valley := slices.Clone(at)
	for k := len(at) - 2; k >= cheapest; k-- {
		valley[k] = min(at[k], valley[k+1])
	}
	for k := 1; k <= cheapest; k++ {
		valley[k] = min(at[k], valley[k-1])
	}
	// The cheapest position costs too: unless it costs nothing, always.
	soft(e.present(i), at[cheapest])
	conditional := func(l sat.Lit, w int64) {
		if w > 0 && e.skip[i] != -e.top && l != -e.top { // costs only when the task takes place
			c := e.sink.Lit()
			e.clause(-l, e.skip[i], c)
			l = c
		}
		soft(l, w)
	}
	for k := cheapest + 1; k < len(at); k++ {
		conditional(e.from(i, lo+k), valley[k]-valley[k-1])
	}
	for k := cheapest - 1; k >= 0; k-- {
		conditional(-e.from(i, lo+k+1), valley[k]-valley[k+1])
	}
	type run struct {
		a, b   int
		excess int64
	}
	var runs []run
	for k := range at {
		x := at[k] - valley[k]
		if n := len(runs); n > 0 && runs[n-1].excess == x && runs[n-1].b == k-1 {
			runs[n-1].b = k
		} else if x > 0 {
			runs = append(runs, run{k, k, x})
		}
	}
	extra := map[int64]sat.Lit{} // one literal per height: a task is in one run only
	for _, r := range runs {
		l, ok := extra[r.excess]
		if !ok {
			l = e.sink.Lit()
			extra[r.excess] = l
			soft(l, r.excess)
		}
		e.clause(-e.from(i, lo+r.a), e.from(i, lo+r.b+1), e.skip[i], l)
	}
}

// present is the literal "task i takes place".
func (e *encoding) present(i int) sat.Lit { return -e.skip[i] }

// gap writes the cost of the days between two tasks, one literal per day: the
// gap is at least j days.
func (e *encoding) gap(g Gap, soft func(sat.Lit, int64)) {
	if e.w.lo[g.From] > e.w.hi[g.From] || e.w.lo[g.To] > e.w.hi[g.To] || g.Weight == 0 {
		return
	}
	// What the arcs alone ask for costs in any case, unless From is left out.
	least := int32(0)
	if !e.p.Tasks[g.To].Skip {
		least = e.leastGap(g)
		soft(e.present(g.From), int64(least)*g.Weight)
	}
	var before sat.Lit
	last := e.w.hi[g.To]
	if e.open(g.To) { // beyond the window it is a day later at least
		last++
	}
	for j := least + 1; j <= g.Cap; j++ {
		var l sat.Lit
		step := -1
		for k := e.w.lo[g.To]; k <= last; k++ {
			// From so early that a To at k or later leaves a gap of j days.
			n, _ := slices.BinarySearch(g.FromDay, g.ToDay[k]-g.Free-j+1)
			n = min(n, e.w.hi[g.From]+1)
			if n <= e.first(g.From) || n == step {
				continue
			}
			step = n
			if l == 0 {
				l = e.sink.Lit()
				if before != 0 {
					e.clause(-l, before)
				}
			}
			e.clause(-e.from(g.To, k), e.from(g.From, n), e.skip[g.From], e.skip[g.To], l)
		}
		if l == 0 {
			return
		}
		soft(l, g.Weight)
		before = l
	}
}

// A hope is a literal that asks something of one job.
type hope struct {
	job int
	lit sat.Lit
}

// hopeFor is the literal of the hope for a job, which is made when there is none yet.
func (e *encoding) hopeFor(job int, hopes *[]hope, of map[int]sat.Lit) sat.Lit {
	l, ok := of[job]
	if !ok {
		l = e.sink.Lit()
		of[job] = l
		*hopes = append(*hopes, hope{job, l})
	}
	return l
}

// inside is the hope, job by job, that every task lies inside its window.
func (e *encoding) inside() (hopes []hope) {
	of := map[int]sat.Lit{}
	for i := range e.p.Tasks {
		if e.w.lo[i] > e.w.hi[i] || !e.open(i) && !e.before(i) {
			continue
		}
		l := e.hopeFor(e.p.Tasks[i].Job, &hopes, of)
		if e.open(i) {
			e.clause(-l, -e.from(i, e.w.hi[i]+1))
		}
		if e.before(i) {
			e.clause(-l, e.from(i, e.w.lo[i]))
		}
	}
	return hopes
}

// stay is the hope, job by job, that everything is as the starts say. Jobs with a start
// outside its window are left alone, and those that are loose.
func (e *encoding) stay(start []int, loose map[int]bool) (hopes []hope) {
	of := map[int]sat.Lit{}
	out := map[int]bool{}
	for i, k := range start {
		job := e.p.Tasks[i].Job
		out[job] = out[job] || loose[job] || k >= 0 && (k < e.w.lo[i] || k > e.w.hi[i])
	}
	for i, k := range start {
		job := e.p.Tasks[i].Job
		if out[job] {
			continue
		}
		l := e.hopeFor(job, &hopes, of)
		for _, x := range e.exact(i, k) {
			e.clause(-l, x)
		}
	}
	return hopes
}

// hoped are the literals of hopes.
func hoped(hopes []hope) (lits []sat.Lit) {
	for _, h := range hopes {
		lits = append(lits, h.lit)
	}
	return lits
}

// mark marks the jobs whose hopes are no longer kept.
func mark(jobs map[int]bool, hopes []hope, kept []sat.Lit) {
	for _, h := range hopes {
		if !slices.Contains(kept, h.lit) {
			jobs[h.job] = true
		}
	}
}

// leastGap is the fewest days, less Free, that the arcs leave between the tasks of a
// gap within the widest windows.
func (e *encoding) leastGap(g Gap) int32 {
	least := g.Cap
	for k := e.full.lo[g.From]; k <= e.full.hi[g.From]; k++ {
		early := map[int]int{g.From: k} // by task: the earliest start that k leaves
		for queue := []int{g.From}; len(queue) > 0; queue = queue[1:] {
			i := queue[0]
			for _, n := range e.g.out[i] {
				a := &e.p.Arcs[n]
				if a.Earliest == nil || e.p.Tasks[a.To].Skip || early[i] >= len(a.Earliest) {
					continue
				}
				at := max(e.full.lo[a.To], e.p.Tasks[a.To].first(a.Earliest[early[i]]))
				if was, ok := early[a.To]; !ok || at > was {
					early[a.To] = at
					queue = append(queue, a.To)
				}
			}
		}
		to, ok := early[g.To]
		switch {
		case !ok:
			to = e.full.lo[g.To]
		case to > e.full.hi[g.To]:
			continue // From cannot start there
		}
		least = min(least, g.ToDay[to]-g.FromDay[k]-g.Free)
	}
	return max(0, least)
}

// exact returns the literals that say that task i starts at index k, or is left
// out for k < 0.
func (e *encoding) exact(i, k int) (lits []sat.Lit) {
	if k < 0 {
		return append(lits, e.skip[i])
	}
	if e.skip[i] != -e.top {
		lits = append(lits, -e.skip[i])
	}
	if l := e.from(i, k); l != e.top {
		lits = append(lits, l)
	}
	if l := e.from(i, k+1); l != -e.top {
		lits = append(lits, -l)
	}
	return lits
}

// deciding are the literals that all others follow from, or may be false: orders, who is left out, and classes.
func (e *encoding) deciding() (lits []sat.Lit) {
	for i := range e.ge {
		lits = append(lits, e.ge[i]...)
		if e.skip[i] != -e.top {
			lits = append(lits, e.skip[i])
		}
		for _, l := range e.on[i] {
			if l != 0 && l != e.top {
				lits = append(lits, l)
			}
		}
	}
	return lits
}

// prefer has the solver try the starts first.
func (e *encoding) prefer(solver *cdcl.Solver, start []int) {
	for i, k := range start {
		for n := e.first(i) + 1; n <= e.first(i)+len(e.ge[i]); n++ {
			if l := e.from(i, n); n <= k {
				solver.Phase(l)
			} else {
				solver.Phase(-l)
			}
		}
	}
}

// preferNames has the solver try the classes of these machines first, where the machines of the
// family are told apart.
func (e *encoding) preferNames(solver *cdcl.Solver, f family, machine []int) {
	for _, i := range f.tasks {
		if e.on[i] == nil || machine[i] < 0 {
			continue
		}
		for n, class := range f.classes {
			switch l := e.on[i][n]; {
			case l == 0 || l == e.top:
			case slices.Contains(class, machine[i]):
				solver.Phase(l)
			default:
				solver.Phase(-l)
			}
		}
	}
}

// read takes the starts out of a model. Tasks outside their window are unplaced.
func (e *encoding) read(value func(sat.Lit) bool) []int {
	start := make([]int, len(e.p.Tasks))
	for i := range start {
		if e.skip[i] != -e.top && value(e.skip[i]) {
			start[i] = -1
			continue
		}
		n, _ := slices.BinarySearchFunc(e.ge[i], true, func(l sat.Lit, _ bool) int {
			if value(l) {
				return -1
			}
			return 0
		})
		if start[i] = e.first(i) + n; start[i] < e.w.lo[i] || start[i] > e.w.hi[i] {
			start[i] = unplaced
		}
	}
	return start
}
