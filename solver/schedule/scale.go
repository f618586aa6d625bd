package schedule

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"
)

// maxWeight is the largest weight of a soft clause: clasp 3.3.5 refuses larger
// ones ("Clause weight out of bounds").
const maxWeight = math.MaxInt32

// ErrNeedsProof says that the greatest values that the tiers could take make
// weights of more than 31 bits. Prove finds out what makes smaller ones.
var ErrNeedsProof = errors.New("the tiers cannot be weighed against each other in 31 bits before their optima are proven")

// Proven is what is known for certain about the values of a problem.
type Proven struct {
	Best []int64 // the values of an optimal answer; nil: proven that there is no answer
	// Scales holds by tier how much its values count, so that the sum of value ×
	// scale is least for Best and for nothing else; nil: not asked.
	Scales []int64
}

// Prove solves p and, where the best values alone do not make scales that fit 31
// bits, finds smaller ones. It returns an error when ctx ends it before.
func Prove(ctx context.Context, p *Problem) (*Proven, error) {
	var seen []*Answer
	best, err := Solve(ctx, p, Options{Report: func(pr Progress) {
		if pr.Better {
			seen = append(seen, pr.Answer)
		}
	}})
	switch {
	case err != nil:
		return nil, err
	case best.Status == Infeasible:
		return &Proven{}, nil
	case best.Status != Optimal:
		return nil, fmt.Errorf("the search ended before it proved the best values that the tiers are weighed by (proven so far: at least %v): allow it more time", best.Bounds)
	}
	k := &Proven{Best: best.Values}
	rs := reaches(p)
	s := plain(rs, k.Best)
	if s.fits(rs) {
		return k, nil
	}
	x := newExchange(p, best.Answer, s.hard)
	for _, a := range seen {
		x.note(a)
	}
	k.Scales, err = x.scales(ctx)
	return k, err
}

// An exchange finds out at which rate tiers can be traded: how much the tiers
// after one can gain, scaled, for each one by which it gets worse. Tiers that are
// hard come first in it: the best answer costs there what every answer costs, so
// it stays the best, and answers that cost more there do not count. Whatever
// answers are met on the way are witnesses, which a scale must outweigh.
type exchange struct {
	p     Problem
	order []int // tiers of the problem as it was, by tier of p
	hard  int   // how many of them are hard
	best  *Answer
	v     []int64   // its values
	seen  [][]int64 // values of answers
}

func newExchange(p *Problem, best *Answer, hard []bool) *exchange {
	x := &exchange{p: *p, best: best}
	for _, first := range []bool{true, false} {
		for t := range p.Tiers {
			if hard[t] == first {
				x.order = append(x.order, t)
			}
		}
		if first {
			x.hard = len(x.order)
		}
	}
	x.p.Tiers = nil
	for _, t := range x.order {
		x.p.Tiers = append(x.p.Tiers, p.Tiers[t])
	}
	x.v = x.p.values(best)
	return x
}

// note keeps the values of an answer that a search has found.
func (x *exchange) note(a *Answer) { x.seen = append(x.seen, x.p.values(a)) }

// scales goes from the last tier to the first. Let the scales after tier k be such
// that, of all answers that are as good as the best one up to and with k, only the
// best values have the least sum after k. A scale of k is guessed from the
// answers seen, with room to spare. Then the problem is solved with the tiers
// before k as they are and all others as one sum, in which k counts one less. When
// the best values have the least sum in that, no answer gains more after k than
// the scale less one for each one by which it is worse in k: with the scale itself
// its sum is higher. When not, there is a new answer, and with it the guess at
// least doubles.
func (x *exchange) scales(ctx context.Context) ([]int64, error) {
	n := len(x.v)
	by := make([]int64, n)
	for k := n - 1; k >= 0; k-- {
		switch {
		case k == n-1:
			by[k] = 1
			continue
		case k < x.hard:
			by[k] = by[k+1] // it is worse nowhere
			continue
		}
		for best := false; !best; {
			by[k] = max(times(2, x.rate(k, by)), min(times(apart, by[k+1]), maxWeight/max(1, x.p.Tiers[k].heaviest())-1))
			merged := x.p
			merged.Tiers = append(slices.Clone(x.p.Tiers[:k]), sum(x.p.Tiers[k:], by[k:]))
			r, err := Solve(ctx, &merged, Options{Prefer: x.best, Report: func(pr Progress) {
				if pr.Better {
					x.note(pr.Answer)
				}
			}})
			if err != nil {
				return nil, err
			}
			if r.Status != Optimal {
				return nil, fmt.Errorf("the search ended before it proved how tier %s weighs against those after it: allow it more time", x.p.Tiers[k].Name)
			}
			best = r.Values[k] == dot(x.v[k:], by[k:])
			by[k] = plus(by[k], 1)
		}
	}
	scales := make([]int64, n)
	for k, t := range x.order {
		scales[t] = by[k]
	}
	return scales, nil
}

// apart is how many times the scale of the tier after it a scale is guessed to be,
// where 31 bits allow. More makes sums that are proven faster, and larger weights.
const apart = 31

// heaviest is the greatest single cost of a tier.
func (t *Tier) heaviest() (most int64) {
	for _, c := range t.Costs {
		most = max(most, c.Skip)
		for _, v := range c.At {
			most = max(most, v)
		}
	}
	for _, g := range t.Gaps {
		most = max(most, g.Weight)
	}
	return most
}

// rate is the greatest gain after tier k, scaled, for each one lost in k, among
// the answers seen.
func (x *exchange) rate(k int, by []int64) (rate int64) {
	for _, w := range x.seen {
		lost, gain := w[k]-x.v[k], dot(x.v[k+1:], by[k+1:])-dot(w[k+1:], by[k+1:])
		if slices.Equal(w[:k], x.v[:k]) && lost > 0 && gain > 0 {
			rate = max(rate, (gain-1)/lost+1)
		}
	}
	return rate
}

// dot is the sum of value × scale.
func dot(values, by []int64) (sum int64) {
	for n := range values {
		sum = plus(sum, times(values[n], by[n]))
	}
	return sum
}

// sum is one tier that costs what the tiers cost together, scaled.
func sum(tiers []Tier, by []int64) (all Tier) {
	for n, t := range tiers {
		all.Name += t.Name + " "
		for _, c := range t.Costs {
			at := make([]int64, len(c.At))
			for k, v := range c.At {
				at[k] = times(v, by[n])
			}
			all.Costs = append(all.Costs, Cost{c.Task, at, times(c.Skip, by[n])})
		}
		for _, g := range t.Gaps {
			g.Weight = times(g.Weight, by[n])
			all.Gaps = append(all.Gaps, g)
		}
	}
	return all
}

// A reach is what a tier can come to, as its costs show it at sight.
type reach struct {
	fixed    int64 // every answer costs it: the least that tasks cost which must take place
	most     int64 // no answer costs more
	heaviest int64 // the greatest single cost
}

// reaches adds up the costs of every tier, over the starts that the arcs leave.
func reaches(p *Problem) []reach {
	w, _ := allWindows(p, newGraph(p))
	rs := make([]reach, len(p.Tiers))
	for t := range p.Tiers {
		r := &rs[t]
		for _, c := range p.Tiers[t].Costs {
			var at []int64
			if lo, hi := w.lo[c.Task], w.hi[c.Task]; lo <= hi {
				at = append(at, c.At[lo:hi+1]...)
			}
			if p.Tasks[c.Task].Skip {
				at = append(at, c.Skip)
			}
			if len(at) == 0 {
				continue // there is no answer
			}
			if !p.Tasks[c.Task].Skip {
				r.fixed = plus(r.fixed, slices.Min(at))
			}
			r.most = plus(r.most, slices.Max(at))
			r.heaviest = max(r.heaviest, slices.Max(at))
		}
		for _, g := range p.Tiers[t].Gaps {
			r.most = plus(r.most, times(g.Weight, int64(g.Cap)))
			r.heaviest = max(r.heaviest, g.Weight)
		}
	}
	return rs
}

// scales weigh the tiers: the sum of value × scale is least for the best answer.
type scales struct {
	by   []int64 // by tier
	hard []bool  // by tier: proven that none of its costs need be paid beyond the fixed ones
	how  string  // a sentence for readers
}

// weigh chooses the scales of a problem: from what tiers can cost at all, when
// those fit; else from what the best answer costs; else those that Prove found.
//
// The second is right for this reason. Let v be the values of the best answer, and
// those of another differ first in tier k. It is worse there by one or more, and
// after k it cannot gain more than all that v costs there, which is scale[k] - 1.
func weigh(p *Problem, k *Proven) (scales, error) {
	rs := reaches(p)
	most := make([]int64, len(rs))
	for t, r := range rs {
		most[t] = r.most
	}
	s := scales{by: ladder(most), hard: make([]bool, len(rs)),
		how: "A scale is one more than all tiers after it can cost together."}
	switch {
	case s.fits(rs):
		return s, nil
	case k == nil:
		return s, ErrNeedsProof
	case k.Best == nil:
		for t := range s.by {
			s.by[t] = 1
		}
		s.how = "There is no answer, so the scales weigh nothing."
		return s, nil
	}
	if s = plain(rs, k.Best); k.Scales != nil {
		s.by = k.Scales
		s.how = fmt.Sprintf("A scale is more than the tiers after it can gain, scaled, for each one by which the tier is worse than in the best answer, while those before it are as good. This is proven tier by tier, as is the best answer, which costs %v.", k.Best)
	}
	return s, nil
}

// plain weighs the tiers with nothing but the values of the best answer.
func plain(rs []reach, best []int64) scales {
	s := scales{by: ladder(best), hard: make([]bool, len(rs)),
		how: fmt.Sprintf("A scale is one more than the tiers after it cost together in the best answer, which costs %v and is proven. An answer that is worse in a tier by one gains at most that much in the tiers after it.", best)}
	for t, r := range rs {
		s.hard[t] = best[t] == r.fixed
	}
	return s
}

// ladder returns scales that climb from the last tier to the first: each is one
// more than what the tiers after it come to, scaled.
func ladder(values []int64) []int64 {
	by := make([]int64, len(values))
	below := int64(0)
	for t := len(by) - 1; t >= 0; t-- {
		by[t] = plus(below, 1)
		below = plus(below, times(by[t], values[t]))
	}
	return by
}

// fits reports whether what a tier costs in any case, and every single cost that
// may be paid, makes a weight of at most 31 bits.
func (s *scales) fits(rs []reach) bool {
	for t, r := range rs {
		weight := r.fixed
		if !s.hard[t] {
			weight = max(weight, r.heaviest)
		}
		if times(s.by[t], weight) > maxWeight {
			return false
		}
	}
	return true
}

// plus and times stop at the greatest number. Their arguments are not negative.
func plus(a, b int64) int64 {
	if a > math.MaxInt64-b {
		return math.MaxInt64
	}
	return a + b
}

func times(a, b int64) int64 {
	if hi, lo := bits.Mul64(uint64(a), uint64(b)); hi == 0 && lo <= math.MaxInt64 {
		return int64(lo)
	}
	return math.MaxInt64
}
