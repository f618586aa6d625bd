package cnf

import "wetdown/solver/sat"

// A Sink takes what an encoding produces.
type Sink interface {
	// Lit returns the positive literal of a fresh variable, numbered one higher
	// than the fresh variable before it.
	Lit() sat.Lit
	// Add adds a clause. The slice is not kept.
	Add(lits ...sat.Lit)
	// Add2 and Add3 are Add for two and three literals, without a slice.
	Add2(a, b sat.Lit)
	Add3(a, b, c sat.Lit)
}

var (
	_ Sink = (*sat.Session)(nil)
	_ Sink = (*sat.Formula)(nil)
)

// True returns a fresh literal that the sink holds to be true. Encodings that meet
// a constant use it or its negation, and a session drops it on sight.
func True(s Sink) sat.Lit {
	top := s.Lit()
	s.Add(top)
	return top
}
