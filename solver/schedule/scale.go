package schedule

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
)

// maxWeight is the largest weight of a soft clause: clasp 3.3.5 refuses larger
// ones ("Clause weight out of bounds").
const maxWeight = math.MaxInt32

// ErrNeedsProof says that the greatest values that the tiers could take make
// weights of more than 31 bits. Prove finds out what makes smaller ones.
var ErrNeedsProof = errors.New("the tiers cannot be weighed against each other in 31 bits before their optima are proven")

// Proven is what is known for certain about the values of a problem.
type Proven struct {
	Best  []int64 // the values of an optimal answer; nil: proven that there is no answer
	Least []int64 // by tier, what every answer costs at least, whatever the other tiers; nil: not asked
}

// Prove solves p and, where the optimum alone does not make scales that fit 31
// bits, each tier alone. It returns an error when ctx ends it before the optimum of
// p is proven; of a tier alone it then takes what is proven so far.
func Prove(ctx context.Context, p *Problem) (*Proven, error) {
	best, err := Solve(ctx, p, Options{})
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
	if s := plain(rs, k.Best); s.fits(rs) {
		return k, nil
	}
	for t := range p.Tiers {
		k.Least = append(k.Least, rs[t].certain)
		if t == 0 || k.Best[t] == rs[t].certain || ctx.Err() != nil {
			continue // it is below no other tier, or cannot be lower
		}
		alone := *p
		alone.Tiers = p.Tiers[t : t+1]
		r, err := Solve(ctx, &alone, Options{Prefer: best.Answer})
		if err != nil {
			return nil, err
		}
		k.Least[t] = max(k.Least[t], r.Bounds[0])
	}
	return k, nil
}

// A reach is what a tier can come to, as its costs show it at sight.
type reach struct {
	certain  int64 // no answer costs less
	fixed    int64 // the part of certain that falls on tasks that must take place
	most     int64 // no answer costs more
	step     int64 // values differ by multiples of it; 0 when there is one value only
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
			least, most := at[0], at[0]
			for _, v := range at {
				r.step = gcd(r.step, v-at[0])
				least, most = min(least, v), max(most, v)
			}
			r.certain, r.most = plus(r.certain, least), plus(r.most, most)
			if !p.Tasks[c.Task].Skip {
				r.fixed = plus(r.fixed, least)
			}
			r.heaviest = max(r.heaviest, most)
		}
		for _, g := range p.Tiers[t].Gaps {
			if g.Cap > 0 {
				r.step = gcd(r.step, g.Weight)
				r.most = plus(r.most, times(g.Weight, int64(g.Cap)))
				r.heaviest = max(r.heaviest, g.Weight)
			}
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

// weigh chooses the scales of a problem. In each of three ways a scale is so
// large that what is gained below by giving up one step of the tier is not worth
// it. Let v be the values of the best answer, and those of another differ first
// in tier k. It is then worse there by the tier's step d or more, and its sum is
// higher by at least
//
//	scale[k]·d - sum over the tiers j below k of scale[j]·(v[j] - least[j])
//
// where least[j] is at most every value of tier j. That is above zero by choice.
func weigh(p *Problem, k *Proven) (scales, error) {
	rs := reaches(p)
	n := len(rs)
	if k != nil && k.Best == nil {
		s := scales{by: make([]int64, n), hard: make([]bool, n), how: "There is no answer, so the scales weigh nothing."}
		for t := range s.by {
			s.by[t] = 1
		}
		return s, nil
	}
	most := make([]int64, n)
	for t, r := range rs {
		most[t] = r.most
	}
	s := scales{by: ladder(make([]int64, n), most, ones(n)), hard: make([]bool, n),
		how: "A scale is one more than all tiers after it can cost together."}
	if s.fits(rs) {
		return s, nil
	}
	if k == nil {
		return s, ErrNeedsProof
	}
	if s = plain(rs, k.Best); s.fits(rs) || k.Least == nil {
		return s, nil
	}
	steps := make([]int64, n)
	for t, r := range rs {
		steps[t] = max(r.step, 1)
	}
	s.by = ladder(k.Least, k.Best, steps)
	s.how = fmt.Sprintf("A scale times the step of its tier %v is more than the tiers after it can be lower together than in the best answer, which costs %v and is proven: whatever the other tiers, each costs %v at the least, proven too. An answer that is worse in a tier by a step gains less than that in the tiers after it.",
		steps, k.Best, k.Least)
	return s, nil
}

// plain weighs the tiers with nothing but the values of the best answer.
func plain(rs []reach, best []int64) scales {
	s := scales{by: ladder(make([]int64, len(rs)), best, ones(len(rs))), hard: make([]bool, len(rs))}
	for t, r := range rs {
		s.hard[t] = best[t] == r.fixed
	}
	s.how = fmt.Sprintf("A scale is one more than the tiers after it cost together in the best answer, which costs %v and is proven. An answer that is worse in a tier by one gains at most that much in the tiers after it.", best)
	return s
}

// ladder returns scales that climb from the last tier to the first: each times
// its step exceeds what the tiers after it span, scaled, from least to best.
func ladder(least, best, step []int64) []int64 {
	by := make([]int64, len(best))
	var below int64
	for t := len(by) - 1; t >= 0; t-- {
		by[t] = plus(below/step[t], 1)
		below = plus(below, times(by[t], best[t]-least[t]))
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

func ones(n int) []int64 {
	list := make([]int64, n)
	for i := range list {
		list[i] = 1
	}
	return list
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
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
