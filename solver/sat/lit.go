package sat

// A Lit is a literal: variable v as v, its negation as -v, variables counted from
// 1 in order of creation, as in DIMACS files. Zero is no literal.
type Lit int32

// Var is the variable of l, from 1.
func (l Lit) Var() int {
	if l < 0 {
		return int(-l)
	}
	return int(l)
}
