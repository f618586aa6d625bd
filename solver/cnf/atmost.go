package cnf

import (
	"fmt"

	"wetdown/solver/sat"
)

// A Counter is a way to write "at most k of n".
type Counter int8

const (
	// Sequential counts along the inputs (Sinz, CP 2005): about k·(n-k) helper
	// variables and twice as many clauses. Small for small k or small n-k.
	Sequential Counter = iota
	// Tree counts in halves (the totalizer of Bailleux and Boufkhad, CP 2003) and
	// nowhere beyond k: at most k helper variables and (k+1)² clauses a node. Far
	// fewer variables than Sequential when neither k nor n-k is small; shallow, a
	// chain of implications is log n long.
	Tree
)

// Counters lists all ways, for whoever tests or compares them.
var Counters = []Counter{Sequential, Tree}

func (c Counter) String() string {
	switch c {
	case Sequential:
		return "sequential"
	case Tree:
		return "tree"
	}
	return fmt.Sprintf("Counter(%d)", int8(c))
}

// AtMost writes that at most k of lits are true. A literal that occurs twice counts
// twice. A negative k makes the sink unsatisfiable.
func AtMost(s Sink, by Counter, lits []sat.Lit, k int) {
	switch n := len(lits); {
	case k >= n:
		return
	case k < 0:
		s.Add()
		return
	case k == 0:
		for _, l := range lits {
			s.Add(-l)
		}
		return
	case k == n-1:
		clause := make([]sat.Lit, n)
		for i, l := range lits {
			clause[i] = -l
		}
		s.Add(clause...)
		return
	}
	switch by {
	case Sequential:
		sequential(s, lits, k)
	case Tree:
		tree(s, lits, k)
	default:
		panic(fmt.Sprintf("cnf: AtMost by %s", by))
	}
}

// sequential writes the trimmed counter. The helper s(i,j) says "j or more of the
// first i inputs are true" and exists where that can still matter: where j inputs
// fit into the first i, and the n-i others could bring the count over k.
func sequential(s Sink, lits []sat.Lit, k int) {
	n := len(lits)
	low := func(i int) int { return max(1, k+1-(n-i)) }
	high := func(i int) int { return min(i, k) }
	var before, row []sat.Lit // before[j-low(i-1)] is s(i-1,j)
	for i := 1; i <= n; i++ {
		x := lits[i-1]
		prior := func(j int) sat.Lit { return before[j-low(i-1)] }
		if i > k {
			s.Add2(-x, -prior(k))
		}
		if i == n {
			return
		}
		row = row[:0]
		for j := low(i); j <= high(i); j++ {
			here := s.Lit()
			row = append(row, here)
			if j <= high(i-1) {
				s.Add2(-prior(j), here)
			}
			if j == 1 {
				s.Add2(-x, here)
			} else {
				s.Add3(-x, -prior(j-1), here)
			}
		}
		before, row = row, before
	}
}

// tree writes the totalizer cut off at k: no node counts further than k, and where
// two halves meet they may not sum to k+1.
func tree(s Sink, lits []sat.Lit, k int) {
	half := len(lits) / 2
	forbid(s, count(s, lits[:half], k), count(s, lits[half:], k), k)
}

// count returns literals of "one or more", "two or more", … of lits are true, up to
// k, each implied by its count.
func count(s Sink, lits []sat.Lit, k int) []sat.Lit {
	if len(lits) == 1 {
		return lits
	}
	half := len(lits) / 2
	a, b := count(s, lits[:half], k), count(s, lits[half:], k)
	forbid(s, a, b, k)
	outs := make([]sat.Lit, 0, min(len(lits), k))
	for j := 1; j <= cap(outs); j++ {
		outs = append(outs, s.Lit())
		implySum(s, a, b, j, outs[j-1])
	}
	return outs
}

// implySum writes, for all i, "i of a and sum-i of b imply out", where a[i-1] stands
// for "i or more".
func implySum(s Sink, a, b []sat.Lit, sum int, out sat.Lit) {
	for i := max(0, sum-len(b)); i <= min(sum, len(a)); i++ {
		switch j := sum - i; {
		case i == 0:
			s.Add2(-b[j-1], out)
		case j == 0:
			s.Add2(-a[i-1], out)
		default:
			s.Add3(-a[i-1], -b[j-1], out)
		}
	}
}

// forbid writes that a and b, counters up to k, do not sum to k+1.
func forbid(s Sink, a, b []sat.Lit, k int) {
	for i := max(1, k+1-len(b)); i <= min(k, len(a)); i++ {
		s.Add2(-a[i-1], -b[k-i])
	}
}
