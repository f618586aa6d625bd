package cdcl

import (
	"context"
	"fmt"
	"math"
	"slices"

	"wetdown/solver/sat"
)

// A Solver holds clauses and looks for a model of all of them. Clauses may be added between
// calls of Solve; what was learned stays, and what was assumed and followed as far as the next
// call assumes the same. The zero value is not usable; see New.
type Solver struct {
	clauses
	vars   int     // variables are 1 to vars; slices by variable are longer
	value  []int8  // by literal: 1 true, -1 false, 0 open
	level  []int32 // by variable, where it was assigned
	why    []ref   // by variable: the clause that forced it, or none
	trail  []lit
	starts []int // of levels in the trail; level 0 has none
	head   int   // trail[head:] is not propagated yet
	absurd bool
	model  bool // the trail is one

	assumed []lit     // of the last call; the n-th is true at level n+1, where the trail goes as far
	asked   []sat.Lit // the same as they came
	core    []sat.Lit // of them, when they contradict the clauses

	order  order
	choosy bool   // see Decide
	idle   []bool // by variable: not to be decided on
	focus  focus
	phase  []bool // by variable: value of the last assignment
	aim    []bool // by variable: phase in the longest trail without a conflict since the last aim
	aimed  int    // how long that trail was

	seen    []bool
	touched []lit  // literals whose variable is seen
	dead    []int8 // while a clause is made shorter: 1 follows from the others, -1 does not
	marked  []int  // variables with a dead entry
	stack   []lit
	stamp   []int64 // by level, for counting levels
	stamps  int64

	added, calls            int // clauses, and calls of Solve
	conflicts, propagations int64
	lookAt                  int64   // propagations
	limit                   int64   // propagations, not above 0: none
	fast, slow              float64 // moving averages of how many levels learned clauses have
	since                   int64   // conflicts since the last restart
	reduceAt, reductions    int64
	calm                    bool  // few restarts, and phases that are aimed at
	turnAt, turns           int64 // propagations at which calm turns
	luby, lubyAt            int64

	trace func([]lit) // for tests: is told what is learned
}

// A lit is twice the variable, and one more when negated.
type lit uint32

// New returns a solver without clauses.
func New() *Solver {
	s := &Solver{clauses: newClauses(), order: newOrder(), reduceAt: reduceEvery}
	s.room(1 << 10)
	return s
}

// Reset forgets everything and keeps the memory for a solver that is made anew.
func (s *Solver) Reset() {
	n := len(s.level)
	old := *s
	*s = Solver{clauses: old.clauses.emptied(), order: newOrder(), reduceAt: reduceEvery, trail: old.trail[:0], trace: old.trace}
	s.room(n)
}

// room makes room for variables below n.
func (s *Solver) room(n int) {
	s.clauses.room(2 * n)
	s.value = longer(s.value, 2*n)
	s.level = longer(s.level, n)
	s.why = longer(s.why, n)
	s.idle = longer(s.idle, n)
	s.focus.room(n)
	s.phase = longer(s.phase, n)
	s.aim = longer(s.aim, n)
	s.seen = longer(s.seen, n)
	s.dead = longer(s.dead, n)
	s.order.room(n)
}

// longer is a slice with zeros up to length n.
func longer[T any](x []T, n int) []T {
	y := make([]T, n)
	copy(y, x)
	return y
}

// Lit returns the positive literal of a fresh variable.
func (s *Solver) Lit() sat.Lit {
	s.model = false
	s.vars++
	if s.vars == len(s.level) {
		s.room(s.vars + s.vars/2 + 8)
	}
	if s.choosy {
		s.idle[s.vars] = true
	} else {
		s.order.put(int32(s.vars))
	}
	return sat.Lit(s.vars)
}

// Add2 adds the clause a ∨ b.
func (s *Solver) Add2(a, b sat.Lit) { s.Add(a, b) }

// Add3 adds the clause a ∨ b ∨ c.
func (s *Solver) Add3(a, b, c sat.Lit) { s.Add(a, b, c) }

// Add adds the clause of lits. The slice is not kept. What was assigned stays so as far as the
// clause lets it.
func (s *Solver) Add(lits ...sat.Lit) {
	s.added++
	s.model = false
	c := s.stack[:0]
	for _, x := range lits {
		l := s.inner(x)
		if v := s.value[l]; v != 0 && s.level[l>>1] == 0 {
			if v > 0 {
				return
			}
			continue
		}
		if slices.Contains(c, l^1) {
			return
		}
		if !slices.Contains(c, l) {
			c = append(c, l)
		}
	}
	s.stack = c
	if len(c) < 2 {
		s.back(0)
	}
	if len(s.starts) == 0 {
		s.enter(c, 0)
		return
	}
	s.front(c)
	if s.value[c[0]] < 0 {
		s.back(int(s.level[c[0]>>1]) - 1)
		s.front(c)
	}
	if s.value[c[1]] < 0 && (s.value[c[0]] == 0 || s.level[c[0]>>1] > s.level[c[1]>>1]) {
		s.back(int(s.level[c[1]>>1]))
		r := s.enter(c, 0)
		s.set(c[0], r)
		return
	}
	s.enter(c, 0)
}

// front brings the two literals of a clause to its front that are false last: those that are not, else
// of the highest levels.
func (s *Solver) front(c []lit) {
	rank := func(l lit) int32 {
		if s.value[l] < 0 {
			return s.level[l>>1]
		}
		if s.value[l] > 0 {
			return math.MaxInt32
		}
		return math.MaxInt32 - 1
	}
	for n := range 2 {
		for k := n + 1; k < len(c); k++ {
			if rank(c[k]) > rank(c[n]) {
				c[n], c[k] = c[k], c[n]
			}
		}
	}
}

// inner translates a literal.
func (s *Solver) inner(x sat.Lit) lit {
	v := x.Var()
	if v <= 0 || v > s.vars {
		panic(fmt.Sprintf("cdcl: literal %d: variables 1 to %d exist", x, s.vars))
	}
	if x < 0 {
		return lit(2*v + 1)
	}
	return lit(2 * v)
}

// Phase says which value to try first for the variable of x: that which makes x true.
func (s *Solver) Phase(x sat.Lit) { s.phase[s.inner(x)>>1] = x > 0 }

// Decide says on which variables to decide. From the first call on all others, and those to come, are left
// alone until they have a part in a conflict, and are false in a model unless they follow to be true. The caller
// answers for it that this makes no clause false: what nobody decides on must only ever follow from the others. There
// are no calm turns then: values that are aimed at keep a search from models that are easily found elsewhere.
func (s *Solver) Decide(lits ...sat.Lit) {
	if !s.choosy {
		s.choosy = true
		s.back(0)
		s.order.clear()
		for v := range s.idle {
			s.idle[v] = true
		}
	}
	s.model = false
	for _, l := range lits {
		if v := s.inner(l) >> 1; s.idle[v] {
			s.wake(int32(v))
			s.order.put(int32(v))
		}
	}
}

// wake ends that a variable is idle.
func (s *Solver) wake(v int32) {
	s.idle[v] = false
	if s.focus.part[v] == 0 {
		s.focus.loose = append(s.focus.loose, v)
	}
}

// enter adds a clause whose literals are distinct and, at level 0, all open; learned
// ones come with their first literal open and the second of the highest level.
func (s *Solver) enter(c []lit, levels int) ref {
	switch len(c) {
	case 0:
		s.absurd = true
		return none
	case 1:
		s.set(c[0], none)
		return none
	}
	r := s.store(c, levels)
	if len(s.starts) > 0 {
		s.attachAll() // what the trail has passed would be overlooked
	}
	return r
}

func (s *Solver) set(l lit, why ref) {
	v := l >> 1
	s.value[l] = 1
	s.value[l^1] = -1
	s.level[v] = int32(len(s.starts))
	s.why[v] = why
	s.trail = append(s.trail, l)
}

// back undoes every level above the given one.
func (s *Solver) back(level int) {
	if len(s.starts) <= level {
		return
	}
	from := s.starts[level]
	for _, l := range s.trail[from:] {
		v := l >> 1
		s.value[l], s.value[l^1] = 0, 0
		s.phase[v] = l&1 == 0
		if !s.idle[v] && s.focus.on(int32(v)) {
			s.order.put(int32(v))
		}
	}
	s.trail = s.trail[:from]
	s.starts = s.starts[:level]
	s.head = from
}

// propagate draws the consequences of the trail. It returns a clause that is false, or none.
func (s *Solver) propagate() ref {
	value := s.value
	for s.head < len(s.trail) {
		no := s.trail[s.head] ^ 1
		s.head++
		s.propagations++
		for _, w := range s.list(s.pairs[no]) {
			switch v := value[w.other]; {
			case v < 0:
				return w.clause
			case v == 0:
				s.set(w.other, w.clause)
			}
		}
		ws := s.list(s.long[no])
		kept := 0
	next:
		for i := 0; i < len(ws); i++ {
			w := ws[i]
			if value[w.other] > 0 {
				ws[kept] = w
				kept++
				continue
			}
			c := s.arena[w.clause+headed : w.clause+headed+ref(s.arena[w.clause+size])]
			other := c[0] ^ c[1] ^ no
			v := value[other]
			if v > 0 {
				ws[kept] = watch{w.clause, other}
				kept++
				continue
			}
			for k := 2; k < len(c); k++ {
				if l := c[k]; value[l] >= 0 {
					if value[l] > 0 { // stays where it is
						ws[kept] = watch{w.clause, l}
						kept++
						continue next
					}
					c[0], c[1], c[k] = other, l, no
					if s.push(&s.long[l], watch{w.clause, other}) {
						ws = s.list(s.long[no])
					}
					continue next
				}
			}
			ws[kept] = watch{w.clause, other}
			kept++
			if v < 0 {
				kept += copy(ws[kept:], ws[i+1:])
				s.long[no].n = uint32(kept)
				return w.clause
			}
			s.set(other, w.clause)
		}
		s.long[no].n = uint32(kept)
	}
	return none
}

// Solve looks for a model in which the assumptions, which hold for this call only, are true. The
// answer is Unknown when ctx ends it early.
func (s *Solver) Solve(ctx context.Context, assumptions []sat.Lit) sat.Status {
	return s.Within(ctx, 0, assumptions)
}

// Limit ends the question in which so many propagations have been made since the solver was new or
// reset, and all after it; not above 0: any number. They are counted now and then, and repeat exactly.
func (s *Solver) Limit(propagations int64) { s.limit = propagations }

// Ended reports whether every question is to end, for ctx or for the limit.
func (s *Solver) Ended(ctx context.Context) bool {
	return ctx.Err() != nil || s.limit > 0 && s.propagations >= s.limit
}

// Within is Solve, and its answer is Unknown too when it took that many conflicts (0: any number).
func (s *Solver) Within(ctx context.Context, conflicts int64, assumptions []sat.Lit) sat.Status {
	s.calls++
	s.since = 0
	s.model = false
	s.core = s.core[:0]
	if s.Ended(ctx) {
		return sat.Unknown
	}
	same := 0
	for same < min(len(assumptions), len(s.assumed), len(s.starts)) && s.assumed[same] == s.inner(assumptions[same]) {
		same++
	}
	s.back(same)
	s.assumed = s.assumed[:same]
	for _, x := range assumptions[same:] {
		s.assumed = append(s.assumed, s.inner(x))
	}
	s.asked = append(s.asked[:0], assumptions...)
	if most := len(assumptions) + s.vars + 1; len(s.stamp) < most {
		s.stamp = longer(s.stamp, 2*most)
	}
	s.attachAll()
	last := s.conflicts + conflicts
	for !s.absurd {
		if s.propagations >= s.lookAt {
			if s.lookAt = s.propagations + look; s.Ended(ctx) {
				return sat.Unknown
			}
		}
		if wrong := s.propagate(); wrong != none {
			if len(s.starts) == 0 {
				s.absurd = true
				break
			}
			if s.conflicts+1 == last {
				s.blame(s.lits(wrong)...)
			}
			s.learn(wrong)
			if s.conflicts == last {
				return sat.Unknown
			}
			continue
		}
		switch {
		case s.restarts():
			s.restart()
		case s.conflicts >= s.reduceAt:
			s.reduce()
		default:
			l, ok := lit(0), true
			if n := len(s.starts); n < len(s.assumed) {
				if l = s.assumed[n]; s.value[l] < 0 {
					if s.blame(l); !slices.Contains(s.core, s.asked[n]) {
						s.core = append(s.core, s.asked[n])
					}
					return sat.Unsat
				}
				if s.value[l] > 0 { // a level without a decision
					s.starts = append(s.starts, len(s.trail))
					continue
				}
			} else if l, ok = s.decide(); !ok {
				s.model = s.focus.at == 0
				return sat.Sat
			}
			s.starts = append(s.starts, len(s.trail))
			s.set(l, none)
		}
	}
	return sat.Unsat
}

// blame makes a core of the assumptions that make literals false.
func (s *Solver) blame(no ...lit) {
	for _, l := range no {
		s.seen[l>>1] = s.level[l>>1] > 0
	}
	if len(s.starts) > 0 {
		for at := len(s.trail) - 1; at >= s.starts[0]; at-- {
			u := s.trail[at] >> 1
			if !s.seen[u] || s.why[u] == none {
				continue
			}
			s.seen[u] = false
			for _, o := range s.lits(s.why[u]) {
				if w := o >> 1; w != u {
					s.seen[w] = s.level[w] > 0
				}
			}
		}
	}
	for i, a := range s.assumed {
		if s.seen[a>>1] {
			s.seen[a>>1] = false
			s.core = append(s.core, s.asked[i])
		}
	}
	for _, b := range s.starts[min(len(s.assumed), len(s.starts)):] {
		s.seen[s.trail[b]>>1] = false
	}
}

// Core is those of the assumptions, in their order and each once, that the call of Solve which has just
// answered Unsat found to contradict the clauses; none when the clauses contradict each other. It need not
// be smallest, and is valid until the next call. When the call took too many conflicts, they are those
// that the last of these comes from.
func (s *Solver) Core() []sat.Lit { return s.core }

// look is after how many propagations, some milliseconds, Solve looks whether it shall end.
const look = 20_000

// Value is the value of x in the model that Solve has just found. It panics when there is none.
func (s *Solver) Value(x sat.Lit) bool {
	if !s.model {
		panic("cdcl: Value without a model, or after something was added")
	}
	l := s.inner(x)
	return s.value[l] > 0 || s.value[l] == 0 && x < 0
}

// Stats counts what the solver was given, and how often it was asked.
func (s *Solver) Stats() sat.Stats {
	return sat.Stats{Vars: s.vars, Clauses: s.added, Calls: s.calls, Propagations: s.propagations}
}

func (s *Solver) decide() (lit, bool) {
	for {
		v, ok := s.order.pop()
		if !ok {
			return 0, false
		}
		l := lit(2 * v)
		if s.value[l] != 0 {
			continue
		}
		yes := s.phase[v]
		if s.calm && s.aimed > 0 {
			yes = s.aim[v]
		}
		if !yes {
			l ^= 1
		}
		return l, true
	}
}

// learn learns from a clause that is false: what all of it goes back to, down to one literal
// of the present level, and goes back to where that one follows.
func (s *Solver) learn(wrong ref) {
	s.conflicts++
	s.since++
	if s.calm && len(s.trail) > s.aimed { // nearly without a conflict: the last level is
		s.aimed = s.starts[len(s.starts)-1]
		for _, l := range s.trail[:s.aimed] {
			s.aim[l>>1] = l&1 == 0
		}
	}
	now := int32(len(s.starts))
	c := append(s.stack[:0], 0)
	open := 0
	at := len(s.trail) - 1
	for r, pivot := wrong, lit(0); ; {
		if g := s.arena[r+glue]; g > 0 {
			s.arena[r+used] = 2
			if g > 2 {
				if n := lit(s.levels(s.lits(r))); n < g {
					s.arena[r+glue] = n
				}
			}
		}
		for _, l := range s.lits(r) {
			v := l >> 1
			if l == pivot || s.seen[v] || s.level[v] == 0 {
				continue
			}
			s.seen[v] = true
			s.touched = append(s.touched, l)
			if s.level[v] == now {
				open++
			} else {
				c = append(c, l)
			}
		}
		for !s.seen[s.trail[at]>>1] {
			at--
		}
		pivot = s.trail[at]
		at--
		if open--; open == 0 {
			c[0] = pivot ^ 1
			break
		}
		r = s.why[pivot>>1]
	}
	// Shorter: without literals that follow from the others.
	kept := 1
	for _, l := range c[1:] {
		if s.why[l>>1] == none || !s.follows(l, 0) {
			c[kept] = l
			kept++
		}
	}
	c = c[:kept]
	s.stack = c
	levels := s.levels(c)
	for _, l := range s.touched {
		if s.idle[l>>1] {
			s.wake(int32(l >> 1))
		}
		s.order.bump(int32(l >> 1))
		s.seen[l>>1] = false
	}
	s.touched = s.touched[:0]
	for _, v := range s.marked {
		s.dead[v] = 0
	}
	s.marked = s.marked[:0]
	s.order.decay(s.calm)
	to := 0
	if len(c) > 1 {
		n := 1
		for k := range c {
			if k > 0 && s.level[c[k]>>1] > s.level[c[n]>>1] {
				n = k
			}
		}
		c[1], c[n] = c[n], c[1]
		to = int(s.level[c[1]>>1])
	}
	if s.trace != nil {
		s.trace(c)
	}
	s.back(to)
	if r := s.enter(c, levels); r != none {
		s.set(c[0], r)
	}
	s.fast += (float64(levels) - s.fast) * max(quick, 1/float64(s.conflicts))
	s.slow += (float64(levels) - s.slow) * max(slow, 1/float64(s.conflicts))
}

// Weights of the newest clause in the moving averages.
const (
	quick = 0.03
	slow  = 0.0001
)

// follows reports whether a literal of the clause that is being learned follows from its others.
func (s *Solver) follows(l lit, depth int) bool {
	v := l >> 1
	for _, o := range s.lits(s.why[v]) {
		u := o >> 1
		if u == v || s.level[u] == 0 || s.dead[u] > 0 || s.seen[u] && s.in(u) {
			continue
		}
		if s.dead[u] < 0 || s.why[u] == none || depth > 500 || !s.follows(o, depth+1) {
			s.mark(v, -1)
			return false
		}
	}
	s.mark(v, 1)
	return true
}

// in reports whether a seen variable belongs to the clause: it was assigned before the present level.
func (s *Solver) in(v lit) bool { return s.level[v] < int32(len(s.starts)) }

func (s *Solver) mark(v lit, how int8) {
	s.dead[v] = how
	s.marked = append(s.marked, int(v))
}

// levels counts the levels that meet in a clause.
func (s *Solver) levels(c []lit) (n int) {
	s.stamps++
	for _, l := range c {
		if k := s.level[l>>1]; s.stamp[k] != s.stamps {
			s.stamp[k] = s.stamps
			n++
		}
	}
	return n
}

// restarts reports whether to begin anew: what is learned has become worse than it was.
func (s *Solver) restarts() bool {
	if len(s.starts) <= len(s.assumed) {
		return false
	}
	if s.calm {
		return s.since >= s.lubyAt
	}
	return s.since >= 2 && s.fast > 1.1*s.slow
}

// restart begins anew, and now and then changes between calm and quick.
func (s *Solver) restart() {
	s.since = 0
	if s.calm {
		s.luby++
		s.lubyAt = 1024 * luby(s.luby)
		s.aimed = 0
	}
	if s.propagations >= s.turnAt {
		s.turns++
		s.calm = !s.calm && !s.choosy
		s.turnAt = s.propagations + turnEvery*s.turns
		s.aimed = 0
		s.luby, s.lubyAt = 0, 1024
	}
	s.back(min(len(s.starts), len(s.assumed)))
}

// turnEvery is how many propagations the first turn lasts; the n-th lasts n times as long.
const turnEvery = 1_000_000

// luby is the n-th number of 1 1 2 1 1 2 4 1 1 2 …, from 1.
func luby(n int64) int64 {
	for k := 1; ; k++ {
		if n == 1<<k-1 {
			return 1 << (k - 1)
		}
		if n < 1<<k-1 {
			return luby(n - (1<<(k-1) - 1))
		}
	}
}
