package cdcl

import (
	"math"
	"slices"
)

// clauses are kept one after the other in an arena, and found by the two literals that watch each.
// Nothing here points anywhere, which leaves the garbage collector nothing to follow.
type clauses struct {
	arena    []lit // each clause a head and its literals
	attached int   // arena[attached:] is not watched yet
	learned  []ref // learned clauses of more than two literals
	watches  []watch
	long     []list // by literal: clauses of three and more that watch it
	pairs    []list // by literal: clauses of two that have it
}

type (
	ref   uint32 // where a clause begins in the arena
	watch struct {
		clause ref
		other  lit // true: the clause needs no look; the other literal of a pair
	}
	list struct{ at, n, room uint32 } // watches[at:at+n]
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

func newClauses() clauses { return clauses{arena: make([]lit, 1), attached: 1} }

// emptied is no clauses, in the memory of these.
func (s *clauses) emptied() clauses {
	clear(s.long)
	clear(s.pairs)
	return clauses{arena: s.arena[:1], attached: 1, learned: s.learned[:0], watches: s.watches[:0], long: s.long, pairs: s.pairs}
}

// room makes room for literals below n.
func (s *clauses) room(n int) {
	if n > len(s.long) {
		s.long = longer(s.long, n)
		s.pairs = longer(s.pairs, n)
	}
}

func (s *clauses) lits(r ref) []lit { return s.arena[r+headed : r+headed+ref(s.arena[r+size])] }

func (s *clauses) list(l list) []watch { return s.watches[l.at : l.at+l.n] }

// store keeps a clause of two literals or more. It is not watched yet.
func (s *clauses) store(c []lit, levels int) ref {
	r := ref(len(s.arena))
	if cap(s.arena)-len(s.arena) < len(c)+headed {
		s.arena = slices.Grow(s.arena, len(s.arena)+len(c)+headed)
	}
	s.arena = append(s.arena, lit(len(c)), lit(levels), 2)
	s.arena = append(s.arena, c...)
	if levels > 0 && len(c) > 2 {
		s.learned = append(s.learned, r)
	}
	return r
}

// attachAll has the clauses watched that are not yet, each by its first two literals.
func (s *clauses) attachAll() {
	if 2*s.attached < len(s.arena) {
		s.attachAnew()
	}
	for ; s.attached < len(s.arena); s.attached += headed + int(s.arena[s.attached+size]) {
		r := ref(s.attached)
		c := s.lits(r)
		into := s.long
		if len(c) == 2 {
			into = s.pairs
		}
		s.push(&into[c[0]], watch{r, c[1]})
		s.push(&into[c[1]], watch{r, c[0]})
	}
}

// attachAnew writes the lists of all clauses, with room to grow.
func (s *clauses) attachAnew() {
	clear(s.long)
	clear(s.pairs)
	each := func(f func(into []list, r ref, c []lit)) {
		for at := 1; at < len(s.arena); at += headed + int(s.arena[at+size]) {
			r := ref(at)
			if c := s.lits(r); len(c) == 2 {
				f(s.pairs, r, c)
			} else {
				f(s.long, r, c)
			}
		}
	}
	each(func(into []list, _ ref, c []lit) {
		into[c[0]].room++
		into[c[1]].room++
	})
	sum := uint32(0)
	for l := range s.long {
		s.pairs[l].at = sum
		sum += s.pairs[l].room
		s.long[l].room += s.long[l].room / 2
		s.long[l].at = sum
		sum += s.long[l].room
	}
	if cap(s.watches) < int(sum) {
		s.watches = make([]watch, sum, sum+sum/4)
	}
	s.watches = s.watches[:sum]
	each(func(into []list, r ref, c []lit) {
		s.push(&into[c[0]], watch{r, c[1]})
		s.push(&into[c[1]], watch{r, c[0]})
	})
	s.attached = len(s.arena)
}

// push appends to a list, and reports whether lists were moved for it.
func (s *clauses) push(l *list, w watch) (moved bool) {
	if l.n == l.room {
		old := s.list(*l)
		room := max(4, 2*len(old))
		l.at, l.room = uint32(len(s.watches)), uint32(room)
		if cap(s.watches)-len(s.watches) < room {
			s.watches = slices.Grow(s.watches, len(s.watches)/2+room)
			moved = true
		}
		s.watches = s.watches[:len(s.watches)+room]
		copy(s.watches[l.at:], old)
	}
	s.watches[l.at+l.n] = w
	l.n++
	return moved
}

const reduceEvery = 300

// reduce drops the worse three quarters of what was learned and not of use lately, and clauses that are
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
func (s *clauses) drop(r ref) { s.arena[r+used] = gone }

const gone = 1 << 31

// compact moves the clauses together and watches them anew.
func (s *Solver) compact() {
	to := 1
	s.learned = s.learned[:0]
	for from := 1; from < len(s.arena); {
		n := headed + int(s.arena[from+size])
		c := s.arena[from : from+n]
		if c[used] != gone && !slices.ContainsFunc(c[headed:], func(l lit) bool { return s.value[l] > 0 && s.level[l>>1] == 0 }) {
			if c[glue] > 0 && c[size] > 2 {
				s.learned = append(s.learned, ref(to))
			}
			for _, l := range c[headed : headed+2] {
				if v := l >> 1; s.why[v] == ref(from) && s.value[l] > 0 {
					s.why[v] = ref(to) | moved
				}
			}
			copy(s.arena[to:], c)
			to += n
		}
		from += n
	}
	s.arena = s.arena[:to]
	for _, l := range s.trail {
		if v := l >> 1; s.level[v] == 0 {
			s.why[v] = none
		} else {
			s.why[v] &^= moved
		}
	}
	s.attachAnew()
}

const moved = 1 << 31
