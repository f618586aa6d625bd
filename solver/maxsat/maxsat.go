package maxsat

import (
	"cmp"
	"context"
	"slices"

	"wetdown/solver/cdcl"
	"wetdown/solver/cnf"
	"wetdown/solver/sat"
)

// A Soft is a literal that costs Weight (above 0) when it is true.
type Soft struct {
	Lit    sat.Lit
	Weight int64
	Part   int // of the session's variables that it is about (see cdcl.Solver.Part); 0: of several, or of none
}

// What the caller of Minimize makes of a model.
type Verdict int

const (
	Accept Verdict = iota // the model is an answer
	Refuse                // the clauses say too little: more were added, go on
	Stop                  // end the search here
)

// Watch lets the caller follow a minimisation. Both functions may be nil.
type Watch struct {
	// Model is called in state sat for every model found, with the lower bound,
	// and final true when the model costs no more than that. It returns the least cost
	// known to be reachable (-1: none), and for a final model a verdict on it.
	Model func(lower int64, final bool) (upper int64, v Verdict)
	// Bound is called whenever the proven lower bound has grown. It returns the least cost known
	// to be reachable (-1: none).
	Bound func(lower int64) (upper int64)
	// Floor is a bound proven before, in another session. Models that cost less would be no answers: until
	// the bound is there again every weight is assumed, and a core is made into a sum as soon as it is paid for, so
	// that none are asked for.
	Floor int64
	// Parts is into how many parts the variables of the session are divided. From two on,
	// cores are looked for part by part before they are looked for among everything.
	Parts int
	// Fixed is called for every literal that all models of least cost make true,
	// as it is found out and added as a clause.
	Fixed func(sat.Lit)
}

// Hopes are literals that a search assumes as long as it can, and gives up when a
// core needs them, or when a question about them takes too long. They steer: they
// never change a least cost or a bound, and one may be given up that a model of
// least cost would have kept. Minimize wants a list, if only an empty one; what one
// call gives up stays given up for the next.
type Hopes struct {
	Lits []sat.Lit
	// Near are given up before any of Lits. They keep a search near to an answer that
	// is known, and let go only what is in the way.
	Near []sat.Lit
}

// giveUp drops the hopes in a core, those of Near if there are any, else those of
// Lits. It reports whether there were some.
func (h *Hopes) giveUp(core []sat.Lit) bool {
	in := func(l sat.Lit) bool { return slices.Contains(core, l) }
	if n := len(h.Near); n > 0 {
		if h.Near = slices.DeleteFunc(h.Near, in); len(h.Near) < n {
			return true
		}
	}
	n := len(h.Lits)
	h.Lits = slices.DeleteFunc(h.Lits, in)
	return len(h.Lits) < n
}

// Minimize proves the least cost of softs over all models of the session. It
// returns Sat with the least cost; the session then holds, as clauses, that
// nothing costs more (every model left is optimal), and may be used on for the
// next sum. It returns Unsat when there is no model at all, and Unknown, with
// the bound proven so far, when ctx or a verdict ended it.
//
// upper is the cost of an answer already known to the caller, or -1.
func Minimize(ctx context.Context, s *cdcl.Solver, softs []Soft, hopes *Hopes, upper int64, w Watch) (int64, sat.Status) {
	m := &minimizer{s: s, weight: map[sat.Lit]int64{}, sums: map[sat.Lit]sum{}, watch: w, upper: upper, hopes: hopes}
	m.quiet = make([]map[sat.Lit]bool, w.Parts+1)
	for _, f := range softs {
		m.add(f.Lit, f.Weight)
		m.in(f.Part, f.Lit)
	}
	m.tell()
	if m.upper == m.lower {
		m.settle()
		return m.lower, sat.Sat
	}
	for _, l := range m.lits {
		m.level = max(m.level, m.weight[l])
	}
	m.level = m.next(m.level)
	if w.Floor > m.lower {
		m.level = 1
	}
	effort := int64(firstEffort)
	for {
		if w.Parts > 1 {
			status := m.sift(ctx)
			if status == sat.Sat && m.upper == m.lower {
				m.settle()
			}
			if status != sat.Sat || m.upper == m.lower {
				return m.lower, status
			}
		}
		switch status := s.Within(ctx, effort, m.assumptions(0)); status {
		case sat.Unknown:
			if s.Ended(ctx) {
				return m.lower, sat.Unknown
			}
			// Too hard as long as everything is hoped for that the search was busy with.
			if !m.hopes.giveUp(s.Core()) {
				effort *= 2
			}
		case sat.Sat:
			verdict := m.found(softs)
			if m.upper == m.lower {
				m.settle()
				return m.lower, sat.Sat
			}
			if verdict == Stop {
				return m.lower, sat.Unknown
			}
			m.reform()
			m.harden()
			m.level = m.next(m.level)
		case sat.Unsat:
			if m.absurd(ctx) {
				return m.lower, sat.Unsat
			}
			if m.upper == m.lower {
				m.settle()
				return m.lower, sat.Sat
			}
			if m.lower < w.Floor {
				m.reform()
			}
		}
	}
}

// absurd takes the core of the last question. Hopes in it are given up, else it is paid for. It
// reports whether there was nothing in it: there is no model at all.
func (m *minimizer) absurd(ctx context.Context) bool {
	core := m.trim(ctx, slices.Clone(m.s.Core()))
	if m.hopes.giveUp(core) {
		// Hopes are assumed last: a core rarely names one needlessly, and
		// to find out would cost a model.
		return false
	}
	if len(core) == 0 {
		return true
	}
	m.pay(core)
	return false
}

// firstEffort is how many conflicts a question may take before hopes are given up for it. When
// none has to do with it, the next one may take twice as many.
const firstEffort = 500

// A minimizer is one run of Minimize. Invariant: the least cost of the softs is
// lower plus the least cost of what weight still holds.
type minimizer struct {
	s      *cdcl.Solver
	lits   []sat.Lit // every literal that ever had a weight, in order of arrival
	weight map[sat.Lit]int64
	sums   map[sat.Lit]sum // outputs of totalizers: which, and how many
	paid   []paid          // cores paid for and not yet turned into totalizers
	lower  int64
	told   int64 // the bound last reported
	upper  int64 // least cost known to be reachable, -1: none
	level  int64 // only weights from here on are assumed
	watch  Watch
	hopes  *Hopes
	quiet  []map[sat.Lit]bool // by part: what was assumed when nothing was found against it
}

type sum struct {
	t *cnf.Totalizer
	k int
}

type paid struct {
	core   []sat.Lit
	weight int64
}

// add gives the literal more weight. A literal and its negation cannot both be
// spared: the lesser of their weights is paid at once.
func (m *minimizer) add(l sat.Lit, w int64) {
	if w == 0 {
		return
	}
	if n := m.weight[-l]; n > 0 {
		least := min(n, w)
		m.lower += least
		m.weight[-l] -= least
		if w -= least; w == 0 {
			return
		}
	}
	if _, ok := m.weight[l]; !ok {
		m.lits = append(m.lits, l)
	}
	m.weight[l] += w
}

// assumptions spells out that nothing of the current level costs anything, in one part or, with
// 0, at all, heavy weights first.
func (m *minimizer) assumptions(part int) []sat.Lit {
	asked := func(l sat.Lit) bool { return part == 0 || m.s.PartOf(l) == part }
	var as []sat.Lit
	for _, l := range m.lits {
		if m.weight[l] >= m.level && asked(l) {
			as = append(as, l)
		}
	}
	slices.SortStableFunc(as, func(x, y sat.Lit) int { return cmp.Compare(m.weight[y], m.weight[x]) })
	for i := range as {
		as[i] = -as[i]
	}
	for _, hopes := range [][]sat.Lit{m.hopes.Lits, m.hopes.Near} {
		for _, l := range hopes {
			if asked(l) {
				as = append(as, l)
			}
		}
	}
	return as
}

// found takes note of a model. Invariant: upper is the least cost of an accepted
// model or of an answer that the caller knows.
func (m *minimizer) found(softs []Soft) Verdict {
	var cost int64
	for _, f := range softs {
		if m.s.Value(f.Lit) {
			cost += f.Weight
		}
	}
	m.tell()
	final := m.all()
	if final {
		cost = m.lower
	}
	verdict := Accept
	if m.watch.Model != nil {
		var u int64
		if u, verdict = m.watch.Model(m.lower, final || cost == m.lower); u >= 0 && (m.upper < 0 || u < m.upper) {
			m.upper = u
		}
	}
	if verdict == Accept && (m.watch.Model == nil || final || cost == m.lower) && (m.upper < 0 || cost < m.upper) {
		m.upper = cost
	}
	return verdict
}

// all reports whether everything that has a weight is assumed and every core
// is reformed, so that a model costs no more than the lower bound.
func (m *minimizer) all() bool {
	for _, l := range m.lits {
		if w := m.weight[l]; w > 0 && w < m.level {
			return false
		}
	}
	return len(m.paid) == 0
}

// trim shortens a core by asking again for it alone, while that helps.
func (m *minimizer) trim(ctx context.Context, core []sat.Lit) []sat.Lit {
	for len(core) > 1 {
		if m.s.Within(ctx, firstEffort, core) != sat.Unsat {
			break
		}
		c := m.s.Core()
		if len(c) >= len(core) {
			break
		}
		core = slices.Clone(c)
	}
	return core
}

// pay accounts for a core: one of its literals must cost, so the least weight
// among them is paid and taken off all of them.
func (m *minimizer) pay(core []sat.Lit) {
	least := int64(1) << 62
	for i, a := range core {
		core[i] = -a
		least = min(least, m.weight[-a])
	}
	for _, l := range core {
		m.weight[l] -= least
	}
	m.lower += least
	if len(core) == 1 {
		m.fix(core[0])
	}
	m.paid = append(m.paid, paid{core, least})
	m.tell()
}

// tell reports the lower bound if it has grown.
func (m *minimizer) tell() {
	if m.watch.Bound != nil && m.lower > m.told {
		m.told = m.lower
		if u := m.watch.Bound(m.lower); u >= 0 && (m.upper < 0 || u < m.upper) {
			m.upper = u
		}
	}
}

// reform makes the cores paid for into sums: the first violation of a core is
// paid, a second one costs again.
func (m *minimizer) reform() {
	for _, p := range m.paid {
		for _, l := range p.core {
			if s, ok := m.sums[l]; ok { // an output violated: the next one takes over
				m.output(s.t, s.k+1, p.weight, m.s.PartOf(l))
			}
		}
		if len(p.core) > 1 {
			m.output(cnf.NewTotalizer(m.s, p.core), 2, p.weight, m.s.PartOf(p.core[0]))
		}
	}
	m.paid = m.paid[:0]
}

// output puts a weight on "at least k inputs of t are true". A core is of the part of its first literal.
func (m *minimizer) output(t *cnf.Totalizer, k int, w int64, part int) {
	if k > t.Len() {
		return
	}
	l := t.AtLeast(k)
	m.sums[l] = sum{t, k}
	m.in(part, l)
	m.add(l, w)
}

// harden makes hard what no answer as good as the best one violates.
func (m *minimizer) harden() {
	if m.upper < 0 {
		return
	}
	for _, l := range m.lits {
		if w := m.weight[l]; w > m.upper-m.lower {
			m.weight[l] = 0
			m.fix(-l)
		}
	}
}

// fix adds a literal that every model of least cost makes true.
func (m *minimizer) fix(l sat.Lit) {
	m.s.Add(l)
	if m.watch.Fixed != nil {
		m.watch.Fixed(l)
	}
}

// settle makes hard that nothing more costs: every optimal answer agrees.
func (m *minimizer) settle() {
	m.reform()
	for _, l := range m.lits {
		if m.weight[l] > 0 {
			m.fix(-l)
		}
	}
}

// next is the level after the given one: the largest weight below an eighth of
// it. Finding a model costs more than finding a core here, so steps are long.
func (m *minimizer) next(level int64) int64 {
	var next int64 = 1
	for _, l := range m.lits {
		if w := m.weight[l]; w <= level/8 {
			next = max(next, w)
		}
	}
	return next
}
