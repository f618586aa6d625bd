package cdcl

import (
	"context"
	"fmt"
	"math"
	"slices"

	"wetdown/solver/sat"
)

// A Solver holds clauses and looks for a model of all of them. Clauses may be added between
// calls of Solve; what was learned stays. The zero value is not usable; see New.
type Solver struct {
	arena   []lit     // clauses, each a head and its literals
	learned []ref     // learned clauses of more than two literals
	long    [][]watch // by literal: clauses of three and more that watch it
	pairs   [][]watch // by literal: clauses of two that have it
	value   []int8    // by literal: 1 true, -1 false, 0 open
	level   []int32   // by variable, where it was assigned
	why     []ref     // by variable: the clause that forced it, or none
	trail   []lit
	starts  []int // of levels in the trail; level 0 has none
	head    int   // trail[head:] is not propagated yet
	absurd  bool

	order order
	phase []bool // by variable: value of the last assignment
	aim   []bool // by variable: phase in the longest trail without a conflict since the last aim
	aimed int    // how long that trail was

	seen    []bool
	touched []lit  // literals whose variable is seen
	dead    []int8 // while a clause is made shorter: 1 follows from the others, -1 does not
	marked  []int  // variables with a dead entry
	stack   []lit
	stamp   []int64 // by level, for counting levels
	stamps  int64

	added, calls            int // clauses, and calls of Solve
	conflicts, propagations int64
	fast, slow              float64 // moving averages of how many levels learned clauses have
	since                   int64   // conflicts since the last restart
	reduceAt, reductions    int64
	calm                    bool  // few restarts, and phases that are aimed at
	turnAt, turns           int64 // propagations at which calm turns
	luby, lubyAt            int64

	trace func([]lit) // for tests: is told what is learned
}

type (
	lit   uint32 // twice the variable, and one more when negated
	ref   uint32 // where a clause begins in the arena
	watch struct {
		clause ref
		other  lit // true: the clause needs no look; the other literal of a pair
	}
)

const none ref = 0

// The head of a clause: how many literals it has, and for learned ones how many
// levels met in it and how often it was of use lately.
const (
	size = iota
	glue // 0: not learned
	used
	headed
)

// New returns a solver without clauses.
func New() *Solver {
	return &Solver{
		arena: make([]lit, 1), long: make([][]watch, 2), pairs: make([][]watch, 2), value: make([]int8, 2), level: make([]int32, 1),
		why: make([]ref, 1), phase: make([]bool, 1), aim: make([]bool, 1), seen: make([]bool, 1), dead: make([]int8, 1),
		stamp: make([]int64, 1), order: newOrder(), reduceAt: reduceEvery,
	}
}

// Lit returns the positive literal of a fresh variable.
func (s *Solver) Lit() sat.Lit {
	v := len(s.level)
	s.long = append(s.long, nil, nil)
	s.pairs = append(s.pairs, nil, nil)
	s.value = append(s.value, 0, 0)
	s.level = append(s.level, 0)
	s.why = append(s.why, none)
	s.phase = append(s.phase, false)
	s.aim = append(s.aim, false)
	s.seen = append(s.seen, false)
	s.dead = append(s.dead, 0)
	s.stamp = append(s.stamp, 0)
	s.order.add()
	return sat.Lit(v)
}

// Add2 adds the clause a ∨ b.
func (s *Solver) Add2(a, b sat.Lit) { s.Add(a, b) }

// Add3 adds the clause a ∨ b ∨ c.
func (s *Solver) Add3(a, b, c sat.Lit) { s.Add(a, b, c) }

// Add adds the clause of lits. The slice is not kept.
func (s *Solver) Add(lits ...sat.Lit) {
	s.added++
	s.back(0)
	c := make([]lit, 0, len(lits))
	for _, x := range lits {
		l := s.inner(x)
		if s.value[l] > 0 || slices.Contains(c, l^1) {
			return
		}
		if s.value[l] == 0 && !slices.Contains(c, l) {
			c = append(c, l)
		}
	}
	s.enter(c, 0)
}

// inner translates a literal.
func (s *Solver) inner(x sat.Lit) lit {
	v := x.Var()
	if v <= 0 || v >= len(s.level) {
		panic(fmt.Sprintf("cdcl: literal %d: variables 1 to %d exist", x, len(s.level)-1))
	}
	if x < 0 {
		return lit(2*v + 1)
	}
	return lit(2 * v)
}

// Phase says which value to try first for the variable of x: that which makes x true.
func (s *Solver) Phase(x sat.Lit) { s.phase[x.Var()] = x > 0 }

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
	r := ref(len(s.arena))
	s.arena = append(s.arena, lit(len(c)), lit(levels), 2)
	s.arena = append(s.arena, c...)
	s.attach(r)
	if levels > 0 && len(c) > 2 {
		s.learned = append(s.learned, r)
	}
	return r
}

func (s *Solver) attach(r ref) {
	c := s.lits(r)
	into := s.long
	if len(c) == 2 {
		into = s.pairs
	}
	into[c[0]] = append(into[c[0]], watch{r, c[1]})
	into[c[1]] = append(into[c[1]], watch{r, c[0]})
}

func (s *Solver) lits(r ref) []lit { return s.arena[r+headed : r+headed+ref(s.arena[r+size])] }

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
		s.order.put(int32(v))
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
		for _, w := range s.pairs[no] {
			switch v := value[w.other]; {
			case v < 0:
				return w.clause
			case v == 0:
				s.set(w.other, w.clause)
			}
		}
		ws := s.long[no]
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
					s.long[l] = append(s.long[l], watch{w.clause, other})
					continue next
				}
			}
			ws[kept] = watch{w.clause, other}
			kept++
			if v < 0 {
				kept += copy(ws[kept:], ws[i+1:])
				s.long[no] = ws[:kept]
				return w.clause
			}
			s.set(other, w.clause)
		}
		s.long[no] = ws[:kept]
	}
	return none
}

// Solve looks for a model in which the assumptions, which hold for this call only, are true. The answer is
// Unknown when ctx ends it early, or when it took that many conflicts (0: any number).
func (s *Solver) Solve(ctx context.Context, conflicts int64, assumptions ...sat.Lit) sat.Status {
	s.calls++
	s.back(0)
	s.since = 0
	assumed := make([]lit, len(assumptions))
	for i, x := range assumptions {
		assumed[i] = s.inner(x)
	}
	last := s.conflicts + conflicts
	for !s.absurd {
		if wrong := s.propagate(); wrong != none {
			if len(s.starts) == 0 {
				s.absurd = true
				break
			}
			s.learn(wrong)
			if conflicts > 0 && s.conflicts >= last || s.conflicts%look == 0 && ctx.Err() != nil {
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
			if n := len(s.starts); n < len(assumed) {
				if l = assumed[n]; s.value[l] < 0 {
					return sat.Unsat
				}
				if s.value[l] > 0 { // a level without a decision
					s.starts = append(s.starts, len(s.trail))
					continue
				}
			} else if l, ok = s.decide(); !ok {
				return sat.Sat
			}
			s.starts = append(s.starts, len(s.trail))
			s.set(l, none)
		}
	}
	return sat.Unsat
}

// look is after how many conflicts Solve looks whether it shall end.
const look = 100

// Value is the value of x in the model that Solve has just found.
func (s *Solver) Value(x sat.Lit) bool { return s.value[s.inner(x)] > 0 }

// Stats counts what the solver was given, and how often it was asked.
func (s *Solver) Stats() sat.Stats {
	return sat.Stats{Vars: len(s.level) - 1, Clauses: s.added, Calls: s.calls}
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
	c := append(s.stack[:0:0], 0)
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
	levels := s.levels(c)
	for _, l := range s.touched {
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
	s.fast += (float64(levels) - s.fast) * quick
	s.slow += (float64(levels) - s.slow) * long
}

// Weights of the newest clause in the moving averages.
const (
	quick = 0.03
	long  = 0.0001
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
	if len(s.starts) == 0 {
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
		s.calm = !s.calm && s.turns > 0
		s.turnAt = s.propagations + turnEvery*s.turns
		s.aimed = 0
		s.luby, s.lubyAt = 0, 1024
	}
	s.back(0)
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

const reduceEvery = 300

// reduce drops the worse half of what was learned and not of use lately, and clauses that are
// true for good.
func (s *Solver) reduce() {
	s.reductions++
	s.reduceAt = s.conflicts + int64(reduceEvery*math.Sqrt(float64(s.conflicts)/100))
	var may []ref
	for _, r := range s.learned {
		h := s.arena[r : r+headed]
		u := h[used]
		if u > 0 {
			h[used]--
		}
		if c := s.lits(r); h[glue] <= 2 || u > 0 && h[glue] <= 6 || u > 1 || s.why[c[0]>>1] == r || s.why[c[1]>>1] == r {
			continue
		}
		may = append(may, r)
	}
	slices.SortStableFunc(may, func(x, y ref) int {
		if d := int(s.arena[y+glue]) - int(s.arena[x+glue]); d != 0 {
			return d
		}
		return int(s.arena[y+size]) - int(s.arena[x+size])
	})
	for _, r := range may[:len(may)*3/4] {
		s.drop(r)
	}
	s.compact()
}

// drop marks a clause as gone; compact takes it away.
func (s *Solver) drop(r ref) { s.arena[r+used] = gone }

const gone = 1 << 31

// compact moves the clauses together and watches them anew.
func (s *Solver) compact() {
	old := s.arena
	s.arena = make([]lit, 1, len(old))
	for l := range s.long {
		s.long[l] = s.long[l][:0]
		s.pairs[l] = s.pairs[l][:0]
	}
	s.learned = s.learned[:0]
	for r := ref(1); int(r) < len(old); {
		n := headed + ref(old[r+size])
		c := old[r : r+n]
		if c[used] != gone && !slices.ContainsFunc(c[headed:], func(l lit) bool { return s.value[l] > 0 && s.level[l>>1] == 0 }) {
			to := ref(len(s.arena))
			s.arena = append(s.arena, c...)
			if c[glue] > 0 && c[size] > 2 {
				s.learned = append(s.learned, to)
			}
			for _, l := range c[headed : headed+2] {
				if v := l >> 1; s.why[v] == r && s.value[l] > 0 {
					s.why[v] = to | moved
				}
			}
			s.attach(to)
		}
		r += n
	}
	for _, l := range s.trail {
		if v := l >> 1; s.level[v] == 0 {
			s.why[v] = none
		} else {
			s.why[v] &^= moved
		}
	}
}

const moved = 1 << 31
