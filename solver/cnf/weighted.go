package cnf

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wetdown/solver/sat"
)

// A Term is a literal with what it weighs when it is true.
type Term struct {
	Lit    sat.Lit
	Weight int64 // at least 1
}

// AtMostWeight writes that the weights of the true terms sum to at most limit, as a
// reduced ordered decision diagram over the terms, heaviest first (Abío, Nieuwenhuis,
// Oliveras, Rodríguez-Carbonell and Mayer-Eichberger, A new look at BDDs for
// pseudo-Boolean constraints, JAIR 45, 2012). A node stands for "from this term on,
// at most so much more"; all remainders that no choice among the later terms can
// tell apart share one node. A node costs one variable and at most two clauses, and
// unit propagation is complete. Terms of the same literal count one by one. A
// negative limit makes the sink unsatisfiable.
//
// The number of nodes is small when the weights are small or few of them differ
// (at most n times the limit); for arbitrary large weights it can be exponential.
func AtMostWeight(s Sink, terms []Term, limit int64) {
	d := &diagram{sink: s, terms: slices.Clone(terms)}
	slices.SortStableFunc(d.terms, func(a, b Term) int { return cmp.Compare(b.Weight, a.Weight) })
	n := len(d.terms)
	d.rest = make([]int64, n+1)
	for i := n - 1; i >= 0; i-- {
		w := d.terms[i].Weight
		if w < 1 || w > unbounded-d.rest[i+1] {
			panic(fmt.Sprintf("cnf: AtMostWeight: weight %d of literal %d is below 1 or brings the sum over %d", w, d.terms[i].Lit, int64(unbounded)))
		}
		d.rest[i] = d.rest[i+1] + w
	}
	d.levels = make([][]span, n)
	switch root := d.node(0, min(limit, unbounded)); root.lit {
	case always:
	case never:
		s.Add()
	default:
		s.Add(root.lit)
	}
}

// unbounded stands for a limit that is never met. Sums stay below it, and it may be
// doubled without overflow.
const unbounded = math.MaxInt64 / 4

// always and never mark the two leaves of a diagram; no variable is numbered so high.
const (
	always sat.Lit = math.MaxInt32
	never  sat.Lit = -always
)

// A span is a node: its literal implies "the terms from here on weigh at most m" for
// each m in [from, to], limits between which the later weights see no difference.
type span struct {
	from, to int64
	lit      sat.Lit
}

type diagram struct {
	sink   Sink
	terms  []Term
	rest   []int64  // rest[i] is the weight of the terms from i on
	levels [][]span // nodes by first term, ascending and disjoint
}

// node returns the node of "the terms from i on weigh at most limit".
func (d *diagram) node(i int, limit int64) span {
	if limit < 0 {
		return span{-unbounded, -1, never}
	}
	if limit >= d.rest[i] {
		return span{d.rest[i], unbounded, always}
	}
	at, found := slices.BinarySearchFunc(d.levels[i], limit, func(n span, m int64) int {
		switch {
		case n.to < m:
			return -1
		case n.from > m:
			return 1
		}
		return 0
	})
	if found {
		return d.levels[i][at]
	}
	t := d.terms[i]
	with, without := d.node(i+1, limit-t.Weight), d.node(i+1, limit)
	n := span{
		from: max(with.from+t.Weight, without.from),
		to:   min(with.to+t.Weight, without.to),
		lit:  with.lit,
	}
	if with.lit != without.lit {
		n.lit = d.sink.Lit()
		if with.lit == never {
			d.sink.Add2(-n.lit, -t.Lit)
		} else {
			d.sink.Add3(-n.lit, -t.Lit, with.lit)
		}
		if without.lit != always {
			d.sink.Add2(-n.lit, without.lit)
		}
	}
	d.levels[i] = slices.Insert(d.levels[i], at, n)
	return n
}
