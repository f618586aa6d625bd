package cnf

import (
	"context"
	"math/bits"
	"testing"

	"wetdown/solver/sat"
)

// An encoding is one way to say which sets of inputs are allowed.
type encoding struct {
	name  string
	write func(s Sink, inputs []sat.Lit, k int)
}

// cardinalities are all ways to write "at most k of the inputs".
func cardinalities() []encoding {
	list := []encoding{
		{"totalizer", func(s Sink, in []sat.Lit, k int) {
			if k < len(in) {
				s.Add(-NewTotalizer(s, in).AtLeast(k + 1))
			}
		}},
		{"totalizer extended step by step", func(s Sink, in []sat.Lit, k int) {
			if k >= len(in) {
				return
			}
			t := NewTotalizer(s, in)
			for j := 1; j <= k; j++ {
				t.AtLeast(j)
			}
			s.Add(-t.AtLeast(k + 1))
		}},
		{"weight 3 each", func(s Sink, in []sat.Lit, k int) {
			terms := make([]Term, len(in))
			for i, l := range in {
				terms[i] = Term{l, 3}
			}
			AtMostWeight(s, terms, int64(3*k+2))
		}},
	}
	for _, by := range Counters {
		list = append(list, encoding{by.String(), func(s Sink, in []sat.Lit, k int) { AtMost(s, by, in, k) }})
	}
	return list
}

// allowed lists the sets of n inputs (bit i for input i) that the clauses allow,
// each asked for by assumptions.
func allowed(n int, write func(s Sink, inputs []sat.Lit)) []uint {
	s := sat.New(64, 256)
	inputs := fresh(s, n)
	write(s, inputs)
	var sets []uint
	assume := make([]sat.Lit, n)
	for set := range uint(1) << n {
		for i, l := range inputs {
			assume[i] = l
			if set>>i&1 == 0 {
				assume[i] = -l
			}
		}
		if s.Solve(context.Background(), assume) == sat.Sat {
			sets = append(sets, set)
		}
	}
	return sets
}

// The number of models on the inputs is the sum of C(n,i) for i up to k.
func TestAtMost_ModelCounts(t *testing.T) {
	for _, enc := range cardinalities() {
		for n := 1; n <= 8; n++ {
			for k := 0; k <= n; k++ {
				sets := allowed(n, func(s Sink, in []sat.Lit) { enc.write(s, in, k) })
				want, c := 0, 1
				for i := 0; i <= k; i++ {
					want += c
					c = c * (n - i) / (i + 1)
				}
				if len(sets) != want {
					t.Errorf("%s: at most %d of %d has %d models, want %d", enc.name, k, n, len(sets), want)
				}
				for _, set := range sets {
					if bits.OnesCount(set) > k {
						t.Errorf("%s: at most %d of %d allows %0*b", enc.name, k, n, n, set)
					}
				}
			}
		}
	}
}
