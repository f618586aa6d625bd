package cdcl

import "wetdown/solver/sat"

// A focus is the part of the variables that is decided on for the time being.
type focus struct {
	part    []int32   // by variable, 0: in none
	members [][]int32 // variables by part
	loose   []int32   // variables in no part that are decided on all the same
	at      int32     // the part decided on; 0: everything
}

// room makes room for variables below n.
func (f *focus) room(n int) { f.part = longer(f.part, n) }

// on reports whether a variable is looked at.
func (f *focus) on(v int32) bool {
	return f.at == 0 || f.part[v] == 0 || f.part[v] == f.at
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

// Focus has the calls to come decide only on variables of one part, and on those in none that had
// something to do with a conflict. What such a call refutes is refuted; but Sat means only
// that nothing against the assumptions was found among these variables, and there is no model. Focus(0) ends it.
func (s *Solver) Focus(part int) {
	f := &s.focus
	if f.at == int32(part) {
		return
	}
	s.model = false
	s.back(min(len(s.starts), len(s.assumed)))
	f.at = int32(part)
	s.order.clear()
	put := func(v int32) {
		if !s.idle[v] {
			s.order.put(v)
		}
	}
	if part == 0 {
		for v := range int32(s.vars) {
			put(v + 1)
		}
		return
	}
	for _, v := range f.loose {
		put(v)
	}
	for _, v := range f.members[part] {
		put(v)
	}
}
