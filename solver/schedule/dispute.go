package schedule

import (
	"context"
	"fmt"
	"slices"

	"wetdown/solver/cdcl"
	"wetdown/solver/cnf"
	"wetdown/solver/maxsat"
	"wetdown/solver/sat"
)

// A Term is one constraint that can be given up: it holds as long as all of its
// grounds do. One of the fields after Grounds says what it is.
type Term struct {
	Grounds  []int
	Limit    *Limit    // the task takes place, and starts in [Lo, Hi]
	Ban      *Limit    // the task does not start in [Lo, Hi]
	Arc      *Arc      // as in a Problem
	Resource *Resource // as in a Problem, period by period
}

// A Dispute asks why something cannot be. Its problem holds what nobody gives up
// and no machines or resources but hard ones; the terms hold the rest, under
// grounds numbered from 0.
type Dispute struct {
	Problem *Problem
	Terms   []Term
	Grounds int
	Job     int     // tasks of this job keep all of their starts
	Near    *Answer // where the search starts from; may disobey terms
	// Rooms is what a set of grounds makes of the machines: the machines, and
	// which of them take each task; none for a task that need not be told where
	// it stands.
	Rooms func(on []bool) ([]Machine, [][]int)
	// Period numbers the slots; terms about resources hold period by period. A run
	// of slots with one number is one period, and numbers ascend.
	Period []int

	g      graph
	full   windows
	w      windows
	margin Slot
	s      *sat.Session
	e      *encoding
	lits   [][]sat.Lit // by ground and period; one only for a ground without resources
	of     map[sat.Lit]spot
	later  []pending // crowds with much room to spare near Near
	inside []sat.Lit // by job: its tasks lie inside their windows
	calls  int
}

// pending is a crowd that is written when a model overfills it.
type pending struct {
	crowd
	term int
}

// spot says what the literal of a ground stands for.
type spot struct{ ground, period int }

// Open prepares the session. The other methods need it.
func (d *Dispute) Open() error {
	d.g = newGraph(d.Problem)
	var ok bool
	if d.full, ok = allWindows(d.Problem, d.g); !ok {
		return fmt.Errorf("schedule: a task that must take place has no start")
	}
	d.margin = firstMargin
	d.encode()
	return nil
}

// Calls is how often the SAT solver was asked.
func (d *Dispute) Calls() int { return d.calls }

// under adds literals that lift a clause to every clause.
type under struct {
	cnf.Sink
	off []sat.Lit
}

func (u under) Add(lits ...sat.Lit)   { u.Sink.Add(append(slices.Clone(lits), u.off...)...) }
func (u under) Add2(a, b sat.Lit)     { u.Add(a, b) }
func (u under) Add3(a, b, c sat.Lit)  { u.Add(a, b, c) }
func (d *Dispute) last() (period int) { return d.Period[len(d.Period)-1] }

// encode writes everything anew, in windows around Near.
func (d *Dispute) encode() {
	d.w = windows{slices.Clone(d.full.lo), slices.Clone(d.full.hi)}
	for i := range d.w.hi {
		t := &d.Problem.Tasks[i]
		if t.Job == d.Job || d.Near == nil || d.Near.Start[i] < 0 || d.w.lo[i] > d.w.hi[i] {
			continue
		}
		k := min(max(d.Near.Start[i], d.full.lo[i]), d.full.hi[i])
		d.w.lo[i] = min(k, max(d.full.lo[i], t.first(t.Starts[k]-d.margin)))
		d.w.hi[i] = max(k, min(d.full.hi[i], t.last(t.Starts[k]+d.margin)))
	}
	for _, t := range d.Terms {
		if l := t.Limit; l != nil { // a limit means nothing to a window that it does not reach
			d.w.lo[l.Task] = min(d.w.lo[l.Task], max(d.full.lo[l.Task], l.Hi))
			d.w.hi[l.Task] = max(d.w.hi[l.Task], min(d.full.hi[l.Task], l.Lo))
		}
	}
	hint := 1 << 16
	if d.s != nil {
		hint = 2 * d.s.Stats().Vars
	}
	d.s = sat.New(hint, 4*hint)
	d.later = nil
	d.e = newEncoding(d.Problem, d.w, d.full, d.s)
	for _, c := range d.e.capacities(nil) {
		d.e.fit(c)
	}
	d.e.period = d.Period
	sliced := make([]bool, d.Grounds)
	for _, t := range d.Terms {
		for _, n := range t.Grounds {
			sliced[n] = sliced[n] || t.Resource != nil
		}
	}
	d.lits, d.of = make([][]sat.Lit, d.Grounds), map[sat.Lit]spot{}
	for n := range d.lits {
		last := 0
		if sliced[n] {
			last = d.last()
		}
		for period := range last + 1 {
			l := d.s.Lit()
			d.lits[n] = append(d.lits[n], l)
			d.of[l] = spot{n, period}
		}
	}
	for n := range d.Terms {
		d.write(n)
	}
	d.e.sink, d.e.rule = d.s, d.s
	d.inside = hoped(d.e.inside())
	d.s.Reserve(1000)
	d.remember()
}

// off is the literals that lift a term in a period.
func (d *Dispute) off(t Term, period int) (off []sat.Lit) {
	for _, n := range t.Grounds {
		if p := d.lits[n]; len(p) > 1 {
			off = append(off, -p[period])
		} else {
			off = append(off, -p[0])
		}
	}
	return off
}

// write writes a term under its grounds. Grounds with periods are on in all of them
// for a term that has none.
func (d *Dispute) write(n int) {
	e, t := d.e, d.Terms[n]
	e.sink = d.s
	if t.Resource != nil {
		d.resource(n)
		return
	}
	u := under{d.s, nil}
	for _, n := range t.Grounds {
		for _, l := range d.lits[n] {
			u.off = append(u.off, -l)
		}
	}
	e.sink = u
	switch {
	case t.Limit != nil:
		i := t.Limit.Task
		e.clause(-e.skip[i])
		if d.w.lo[i] <= d.w.hi[i] {
			e.clause(e.from(i, t.Limit.Lo))
			e.clause(-e.from(i, t.Limit.Hi+1))
		}
	case t.Ban != nil:
		i := t.Ban.Task
		lo, hi := max(t.Ban.Lo, d.w.lo[i]), min(t.Ban.Hi, d.w.hi[i])
		if lo <= hi {
			e.clause(e.skip[i], -e.from(i, lo), e.from(i, hi+1))
		}
	case t.Arc != nil:
		e.arc(*t.Arc)
	}
	e.sink = d.s
}

// resource writes the crowds of a resource, each under the grounds in its period.
// A crowd is left out only for another one of its period. Those that are half empty
// near Near wait.
func (d *Dispute) resource(n int) {
	r := d.Terms[n].Resource
	uses := slices.Clone(r.Uses)
	slices.SortStableFunc(uses, func(x, y Use) int { return x.Task - y.Task })
	kept := d.e.crowds(uses, func(t Slot) int32 { return r.Capacity[t] }, always)
	for _, c := range kept {
		if d.Near != nil && 2*c.need(d.Near.Start) <= c.room {
			d.later = append(d.later, pending{c, n})
		} else {
			d.fit(c, n)
		}
	}
}

func (d *Dispute) fit(c crowd, term int) {
	d.e.rule = under{d.s, d.off(d.Terms[term], d.Period[c.slot])}
	d.e.fit(c)
	d.e.rule = d.s
}

// need is what tasks with these starts need of a crowd's room.
func (c *crowd) need(start []int) (sum int32) {
	for _, x := range c.items {
		if k := start[x.task]; k >= x.a && k <= x.b {
			sum += x.need
		}
	}
	return sum
}

// overfull writes the crowds that waited and that starts overfill while the grounds
// marked hold; false when there are none.
func (d *Dispute) overfull(start []int, on []bool, part map[spot]bool) bool {
	var rest []pending
	for _, c := range d.later {
		holds := c.crowd.need(start) > c.room
		for _, n := range d.Terms[c.term].Grounds {
			holds = holds && on[n] && (part == nil || part[spot{n, min(d.Period[c.slot], len(d.lits[n])-1)}])
		}
		if holds {
			d.fit(c.crowd, c.term)
		} else {
			rest = append(rest, c)
		}
	}
	found := len(rest) < len(d.later)
	d.later = rest
	return found
}

// remember makes the solver start from Near: it assumes it once.
func (d *Dispute) remember() {
	if d.Near == nil {
		return
	}
	var as []sat.Lit
	for i, k := range d.Near.Start {
		t := &d.Problem.Tasks[i]
		switch {
		case t.Job == d.Job || d.w.lo[i] > d.w.hi[i] || k < 0 && !t.Skip:
		case k < 0 || k >= d.w.lo[i] && k <= d.w.hi[i]:
			as = append(as, d.e.exact(i, k)...)
		}
	}
	d.s.Solve(context.Background(), as)
	d.calls++
}

// aim is the assumptions that something wanted is so.
func (d *Dispute) aim(want []Limit) (as []sat.Lit, ok bool) {
	for _, l := range want {
		i := l.Task
		if d.w.lo[i] > d.w.hi[i] || l.Lo > d.full.hi[i] || l.Hi < d.full.lo[i] {
			return nil, false
		}
		for _, x := range []sat.Lit{-d.e.skip[i], d.e.from(i, l.Lo), -d.e.from(i, l.Hi+1)} {
			if x != d.e.top {
				as = append(as, x)
			}
		}
	}
	return as, true
}

// solve asks for what is wanted while the grounds marked hold, and with part, only
// in the periods that it marks. With hope, every job lies inside its windows that can.
func (d *Dispute) solve(ctx context.Context, want []Limit, on []bool, part map[spot]bool, hope bool) (sat.Status, []spot) {
	as, ok := d.aim(want)
	if !ok {
		return sat.Unsat, nil
	}
	for n, yes := range on {
		for _, l := range d.lits[n] {
			if yes && (part == nil || part[d.of[l]]) {
				as = append(as, l)
			}
		}
	}
	var hopes []sat.Lit
	if hope {
		hopes = slices.Clone(d.inside)
	}
	for {
		d.calls++
		status := d.s.Solve(ctx, append(slices.Clone(as), hopes...))
		if status == sat.Unknown {
			return status, nil
		}
		if status == sat.Sat {
			if d.overfull(d.e.read(d.s.Value), on, part) {
				continue
			}
			return status, nil
		}
		var core []spot
		given := len(hopes)
		for _, l := range d.s.Core() {
			if p, ok := d.of[l]; ok {
				core = append(core, p)
			}
			hopes = slices.DeleteFunc(hopes, func(h sat.Lit) bool { return h == l })
		}
		if len(hopes) == given {
			return status, core
		}
	}
}

// Possible tells whether what is wanted can be while the grounds marked hold:
// Feasible with an answer that obeys all of them, Infeasible, or Unknown when ctx
// ended it or when nothing but telling the machines apart is left to decide.
func (d *Dispute) Possible(ctx context.Context, want []Limit, on []bool) (*Answer, Status, error) {
	for {
		switch status, _ := d.solve(ctx, want, on, nil, true); status {
		case sat.Unknown:
			return nil, Unknown, nil
		case sat.Unsat:
			return nil, Infeasible, nil
		}
		a, err := d.complete(ctx, d.e.read(d.s.Value), want, on)
		if a != nil || err != nil {
			return a, Feasible, err
		}
		if !d.widen() {
			return nil, Unknown, nil
		}
	}
}

// widen doubles the windows; false when they are whole already.
func (d *Dispute) widen() bool {
	if slices.Equal(d.w.lo, d.full.lo) && slices.Equal(d.w.hi, d.full.hi) {
		return false
	}
	d.margin *= 4
	d.encode()
	return true
}

// Under is the problem in which exactly the grounds marked hold and what is wanted
// is so. Bans are left out: tasks that have them are in no need of filling in.
func (d *Dispute) Under(want []Limit, on []bool) *Problem {
	p := *d.Problem
	p.Tiers = nil
	p.Tasks = slices.Clone(p.Tasks)
	p.Arcs = slices.Clone(p.Arcs)
	p.Resources = slices.Clone(p.Resources)
	keep := func(l Limit) {
		t := &p.Tasks[l.Task]
		t.Skip = false
		arc := Arc{From: l.Task, To: l.Task, Earliest: make([]Slot, len(t.Starts)), Latest: make([]Slot, len(t.Starts))}
		for k := range t.Starts {
			arc.Earliest[k], arc.Latest[k] = t.Starts[l.Lo], t.Starts[l.Hi]
		}
		p.Arcs = append(p.Arcs, arc)
	}
	for _, t := range d.Terms {
		if slices.ContainsFunc(t.Grounds, func(n int) bool { return !on[n] }) {
			continue
		}
		switch {
		case t.Limit != nil && len(p.Tasks[t.Limit.Task].Starts) > 0:
			keep(*t.Limit)
		case t.Arc != nil:
			p.Arcs = append(p.Arcs, *t.Arc)
		case t.Resource != nil:
			p.Resources = append(p.Resources, *t.Resource)
		}
	}
	for _, l := range want {
		keep(l)
	}
	machines, able := d.Rooms(on)
	p.Machines = machines
	for i := range p.Tasks {
		p.Tasks[i].Able = able[i]
	}
	// Whoever must take place takes along what is left out with him or not at all.
	p.Together = nil
	for _, pair := range d.Problem.Together {
		x, y := &p.Tasks[pair[0]], &p.Tasks[pair[1]]
		if x.Skip && y.Skip {
			p.Together = append(p.Together, pair)
		} else {
			x.Skip, y.Skip = false, false
		}
	}
	return &p
}

// complete places what lies outside the windows and names the machines; nil when
// that does not work out.
func (d *Dispute) complete(ctx context.Context, start []int, want []Limit, on []bool) (*Answer, error) {
	p := d.Under(want, on)
	a := &Answer{Start: start, Machine: make([]int, len(start))}
	var rest []int
	for i, k := range start {
		a.Machine[i] = -1
		if k == unplaced {
			rest = append(rest, i)
		}
	}
	var prefer []int
	if d.Near != nil {
		prefer = d.Near.Machine
	}
	for _, f := range families(p) {
		if _, ok := f.name(ctx, 0, p, start, prefer, a.Machine, nil); !ok {
			return nil, nil
		}
	}
	if len(rest) > 0 {
		g := newGraph(p)
		full, ok := allWindows(p, g)
		if !ok {
			return nil, nil
		}
		if a = fill(p, g, full, a, rest); a == nil {
			return nil, nil
		}
	}
	if _, faults := Verify(p, a); len(faults) > 0 {
		return nil, fmt.Errorf("schedule: an answer breaks the problem: %v", faults[0])
	}
	return a, nil
}

// A Finding is a set of grounds on which something cannot be.
type Finding struct {
	Grounds []int   // ascending
	Periods [][]int // by ground found: the periods in which it matters, ascending; nil for one without periods
	// Sharp: without any one of the grounds it can be, by an answer that obeys the
	// others.
	Sharp bool
	// Least: no set of grounds weighs less.
	Least bool
}

// Find looks for the set of grounds of least weight on which what is wanted cannot
// be. It is meant for what Possible calls Infeasible with all grounds on; it returns
// nil when ctx ended it before there was any set. A set that cannot be made smaller comes
// first: it is looked for among the grounds of rank 0, then of ranks 0 and 1, and so on,
// since few grounds make short proofs. Then as many SAT calls as the budget allows go
// into a lighter one. Weights are above 0.
//
// The lighter one is found as a least hitting set: whatever lets the wanted thing
// be when it is given up must meet every set on which it cannot be. As long as the
// lightest set that meets all known ways out still lets it be, that is a new way out;
// once it does not, nothing lighter can (Ignatiev, Previti, Liffiton and
// Marques-Silva, "Smallest MUS extraction with minimal hitting set dualization",
// CP 2015).
func (d *Dispute) Find(ctx context.Context, want []Limit, weight []int64, rank []int, budget int) (*Finding, error) {
	end := d.calls + budget
	var core []spot
	status := sat.Sat
	for r := 0; status == sat.Sat && r <= slices.Max(append(rank, 0)); r++ {
		on := make([]bool, d.Grounds)
		for n := range on {
			on[n] = rank[n] <= r
		}
		status, core = d.solve(ctx, want, on, nil, false)
	}
	if status != sat.Unsat {
		return nil, nil
	}
	set, sharp := d.shrink(ctx, want, grounds(core), weight)
	f := &Finding{Sharp: sharp}
	if sharp && budget > 0 {
		set, f.Least = d.lighter(ctx, want, set, weight, end)
	}
	// Whether it can be without any one of them must be true of the problem and not
	// only of the windows that the search looked at: an answer proves it.
	for n := 0; n < len(set) && f.Sharp; n++ {
		_, status, err := d.Possible(ctx, want, marked(d.Grounds, except(set, n)))
		switch {
		case err != nil:
			return nil, err
		case status == Infeasible: // wider windows show it: this one is not needed
			set, f.Sharp = d.shrink(ctx, want, except(set, n), weight)
			f.Least, n = false, -1
		case status == Unknown:
			f.Sharp, f.Least = false, false
		}
	}
	f.Grounds = set
	f.Periods = d.periods(ctx, want, set)
	return f, nil
}

func grounds(core []spot) (set []int) {
	for _, p := range core {
		set = append(set, p.ground)
	}
	slices.Sort(set)
	return slices.Compact(set)
}

func except(set []int, n int) []int { return slices.Delete(slices.Clone(set), n, n+1) }

func marked(n int, set []int) []bool {
	on := make([]bool, n)
	for _, g := range set {
		on[g] = true
	}
	return on
}

// shrink drops grounds, the heavy ones first, as long as what is wanted still
// cannot be; false when ctx ended it.
func (d *Dispute) shrink(ctx context.Context, want []Limit, set []int, weight []int64) ([]int, bool) {
	order := slices.Clone(set)
	slices.SortStableFunc(order, func(x, y int) int { return int(weight[y] - weight[x]) })
	for _, n := range order {
		at, ok := slices.BinarySearch(set, n)
		if !ok {
			continue
		}
		switch status, core := d.solve(ctx, want, marked(d.Grounds, except(set, at)), nil, false); status {
		case sat.Unknown:
			return set, false
		case sat.Unsat:
			set = grounds(core)
		}
	}
	return set, true
}

// lighter looks for the lightest set until the calls are used up. set cannot be
// made smaller; what comes back cannot either.
func (d *Dispute) lighter(ctx context.Context, want []Limit, set []int, weight []int64, end int) (least []int, proven bool) {
	sum := func(set []int) (w int64) {
		for _, n := range set {
			w += weight[n]
		}
		return w
	}
	var ways [][]int
	for d.calls < end {
		hit, ok := lightest(ctx, d.Grounds, ways, weight)
		if !ok {
			return set, false
		}
		if sum(hit) == sum(set) {
			return set, true
		}
		status, core := d.solve(ctx, want, marked(d.Grounds, hit), nil, false)
		switch status {
		case sat.Unknown:
			return set, false
		case sat.Unsat:
			return grounds(core), true
		}
		way, other := d.way(ctx, want, hit, weight, end)
		if len(other) > 0 && sum(other) < 2*sum(set) {
			if other, ok := d.shrink(ctx, want, other, weight); ok && sum(other) < sum(set) {
				set = other
			}
		}
		if way == nil {
			return set, false
		}
		ways = append(ways, way)
	}
	return set, false
}

// way finds grounds that need be given up so that what is wanted can be, none of
// them in keep, and none more than needed; and the lightest set met with on which it
// cannot be. The way is proven by an answer to the problem. It is nil when that does
// not come about: the calls are used up (an end of 0 is none), or the set met with is
// in keep, so that there is no way.
func (d *Dispute) way(ctx context.Context, want []Limit, keep []int, weight []int64, end int) (way, lightest []int) {
	on := marked(d.Grounds, nil)
	for n := range on {
		on[n] = true
	}
	var least int64
	for {
		if end > 0 && d.calls >= end {
			return nil, lightest
		}
		status, core := d.solve(ctx, want, on, nil, false)
		switch status {
		case sat.Unknown:
			return nil, lightest
		case sat.Unsat:
			set, w := grounds(core), int64(0)
			best := -1
			for _, n := range set {
				w += weight[n]
				if !slices.Contains(keep, n) && (best < 0 || weight[n] < weight[best]) {
					best = n
				}
			}
			if best < 0 {
				return nil, set
			}
			if least == 0 || w < least {
				least, lightest = w, set
			}
			on[best] = false
			way = append(way, best)
			continue
		}
		for n := 0; n < len(way) && len(way) > 1; {
			on[way[n]] = true
			switch status, _ := d.solve(ctx, want, on, nil, false); status {
			case sat.Sat:
				way = except(way, n)
			case sat.Unsat:
				on[way[n]] = false
				n++
			default:
				return nil, lightest
			}
		}
		switch _, status, err := d.Possible(ctx, want, on); {
		case err != nil || status == Unknown:
			return nil, lightest
		case status == Feasible:
			slices.Sort(way)
			return way, lightest
		}
		// Wider windows show that it takes more.
	}
}

// lightest is the lightest set of n grounds that meets all sets.
func lightest(ctx context.Context, n int, sets [][]int, weight []int64) (hit []int, ok bool) {
	if len(sets) == 0 {
		return nil, true
	}
	s := cdcl.New()
	lits := make([]sat.Lit, n)
	var softs []maxsat.Soft
	for _, set := range sets {
		var clause []sat.Lit
		for _, g := range set {
			if lits[g] == 0 {
				lits[g] = s.Lit()
				softs = append(softs, maxsat.Soft{Lit: lits[g], Weight: weight[g]})
			}
			clause = append(clause, lits[g])
		}
		s.Add(clause...)
	}
	if _, status := maxsat.Minimize(ctx, s, softs, &maxsat.Hopes{}, -1, maxsat.Watch{}); status != sat.Sat || s.Solve(ctx, nil) != sat.Sat {
		return nil, false
	}
	for g, l := range lits {
		if l != 0 && s.Value(l) {
			hit = append(hit, g)
		}
	}
	return hit, true
}

// periods narrows the grounds of a set to the periods that are needed, dropping from
// both ends.
func (d *Dispute) periods(ctx context.Context, want []Limit, set []int) [][]int {
	on := marked(d.Grounds, set)
	list := make([][]int, len(set))
	status, core := d.solve(ctx, want, on, nil, false)
	if status != sat.Unsat {
		return list
	}
	part := map[spot]bool{}
	for _, p := range core {
		part[p] = true
	}
	var order []spot
	for _, p := range core {
		if len(d.lits[p.ground]) > 1 {
			order = append(order, p)
		}
	}
	drop := func(p spot) {
		if !part[p] {
			return
		}
		part[p] = false
		status, core := d.solve(ctx, want, on, part, false)
		if status != sat.Unsat {
			part[p] = true
			return
		}
		clear(part)
		for _, p := range core {
			part[p] = true
		}
	}
	for lo, hi := 0, len(order)-1; lo <= hi; lo, hi = lo+1, hi-1 {
		drop(order[lo])
		if hi > lo {
			drop(order[hi])
		}
	}
	for i, n := range set {
		for period := range d.lits[n] {
			if part[spot{n, period}] && len(d.lits[n]) > 1 {
				list[i] = append(list[i], period)
			}
		}
	}
	return list
}

// Least is the least index at which a task can start while the grounds marked hold:
// proven that it starts at none before.
func (d *Dispute) Least(ctx context.Context, task int, on []bool) int {
	lo, hi := d.full.lo[task], d.full.hi[task]+1
	for lo < hi {
		mid := (lo + hi) / 2
		if status, _ := d.solve(ctx, []Limit{{task, d.full.lo[task], mid}}, on, nil, false); status == sat.Unsat {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// Reach is the first and the last start that the arcs and the limits leave every
// task; ok is false when they leave some task none.
func Reach(p *Problem, limits []Limit) (lo, hi []int, ok bool) {
	g := newGraph(p)
	w := windows{lo: make([]int, len(p.Tasks)), hi: make([]int, len(p.Tasks))}
	for i := range p.Tasks {
		w.hi[i] = len(p.Tasks[i].Starts) - 1
	}
	for _, l := range limits {
		w.lo[l.Task], w.hi[l.Task] = max(w.lo[l.Task], l.Lo), min(w.hi[l.Task], l.Hi)
	}
	ok = w.tighten(p, g)
	return w.lo, w.hi, ok
}
