package cnf

import (
	"fmt"

	"wetdown/solver/sat"
)

// An Order is an integer variable over the positions 0 to N-1, written as N-1 order
// literals "the position is k or later" with N-2 clauses that chain them. N-1
// variables follow each other, so an Order is three numbers. A bound on it is one
// literal, which is what scheduling constraints are made of.
type Order struct {
	n     int
	first sat.Lit // "position ≥ 1"; the literal of "position ≥ k" is first + k - 1
	top   sat.Lit // a literal known to be true
}

// NewOrder creates an integer over n positions, n at least 1. top is a literal
// known to be true, see True.
func NewOrder(s Sink, n int, top sat.Lit) Order {
	if n < 1 {
		panic(fmt.Sprintf("cnf: NewOrder over %d positions", n))
	}
	o := Order{n: n, top: top}
	for k := 1; k < n; k++ {
		l := s.Lit()
		if k == 1 {
			o.first = l
			continue
		}
		s.Add2(-l, l-1)
	}
	return o
}

// Len is the number of positions.
func (o Order) Len() int { return o.n }

// GE is the literal of "the position is k or later": true for k ≤ 0, false for
// k ≥ Len.
func (o Order) GE(k int) sat.Lit {
	switch {
	case k <= 0:
		return o.top
	case k >= o.n:
		return -o.top
	}
	return o.first + sat.Lit(k-1)
}

// LE is the literal of "the position is k or earlier".
func (o Order) LE(k int) sat.Lit { return -o.GE(k + 1) }

// Position reads the position out of a model: the number of order literals that
// hold, which the chain keeps in a row.
func (o Order) Position(value func(sat.Lit) bool) int {
	lo, hi := 0, o.n-1 // Invariant: the position is in [lo, hi].
	for lo < hi {
		mid := (lo + hi + 1) / 2
		if value(o.GE(mid)) {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	return lo
}
