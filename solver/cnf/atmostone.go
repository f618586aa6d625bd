package cnf

import "wetdown/solver/sat"

// pairwiseLimit is the largest group whose pairs are forbidden one by one: 10
// clauses for five inputs, where the product needs as many and helpers besides.
const pairwiseLimit = 5

// AtMostOne writes that at most one of lits is true: pair by pair when they are few,
// else as the product of Chen (A new SAT encoding of the at-most-one constraint,
// 2010): the inputs fill a grid, an input implies its row and its column, and of
// rows and of columns at most one is used. About 2·√n helper variables and
// 2n + 4·√n clauses, all of two literals.
func AtMostOne(s Sink, lits []sat.Lit) {
	n := len(lits)
	if n <= pairwiseLimit {
		for i, a := range lits {
			for _, b := range lits[i+1:] {
				s.Add2(-a, -b)
			}
		}
		return
	}
	columns := 1
	for columns*columns < n {
		columns++
	}
	rows := (n + columns - 1) / columns
	column, row := fresh(s, columns), fresh(s, rows)
	for i, l := range lits {
		s.Add2(-l, row[i/columns])
		s.Add2(-l, column[i%columns])
	}
	AtMostOne(s, column)
	AtMostOne(s, row)
}

func fresh(s Sink, n int) []sat.Lit {
	lits := make([]sat.Lit, n)
	for i := range lits {
		lits[i] = s.Lit()
	}
	return lits
}
