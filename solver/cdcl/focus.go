package cdcl

import "wetdown/solver/sat"

// A focus is the part of the variables that is decided on for the time being.
type focus struct {
	part    []int32   // by variable, 0: in none
	members [][]int32 // variables by part
	loose   []int32   // variables in no part that are decided on all the same
	lo, hi  int32     // the parts decided on, [lo, hi); 0: everything
}

// room makes room for variables below n.
func (f *focus) room(n int) { f.part = longer(f.part, n) }

// on reports whether a variable is looked at.
func (f *focus) on(v int32) bool {
	p := f.part[v]
	return f.lo == 0 || p == 0 || f.lo <= p && p < f.hi
}

// Part puts the variables of literals into a part, from 1, where they stay. What only follows from variables
// of several parts is in none.
func (s *Solver) Part(n int, lits ...sat.Lit) {
	f := &s.focus
	for len(f.members) <= n {
		f.members = append(f.members, nil)
	}
	for _, l := range lits {
		if v := s.inner(l) >> 1; f.part[v] == 0 {
			f.part[v] = int32(n)
			f.members[n] = append(f.members[n], int32(v))
		}
	}
}

// PartOf is the part that the variable of a literal is in, 0 for none.
func (s *Solver) PartOf(l sat.Lit) int { return int(s.focus.part[s.inner(l)>>1]) }

// Focus has the calls to come decide only on variables of the parts [lo, hi), and on those in no part that had
// something to do with a conflict. What such a call refutes is refuted; but Sat means only
// that nothing against the assumptions was found among these variables, and there is no model. Focus(0, 0) ends it.
func (s *Solver) Focus(lo, hi int) {
	f := &s.focus
	if int(f.lo) == lo && int(f.hi) == hi {
		return
	}
	s.model = false
	s.back(min(len(s.starts), len(s.assumed)))
	f.lo, f.hi = int32(lo), int32(hi)
	s.order.clear()
	if lo == 0 {
		for v := 1; v <= s.vars; v++ {
			if !s.idle[v] {
				s.order.put(int32(v))
			}
		}
		return
	}
	for _, list := range append([][]int32{f.loose}, f.members[min(lo, len(f.members)):min(hi, len(f.members))]...) {
		for _, v := range list {
			if !s.idle[v] {
				s.order.put(v)
			}
		}
	}
}
