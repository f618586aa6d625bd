package chance

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mathext"
)

// A Law is the law of one random number.
type Law interface {
	Mean() float64
	// CDF returns the chance of x or less.
	CDF(x float64) float64
	// Quantile returns the least value whose CDF is at least p, 0 <= p <= 1. A p
	// outside is an error of the caller and panics.
	Quantile(p float64) float64
}

// Draw takes one number of the stream and returns a value of the law.
func Draw(l Law, r *rand.Rand) float64 { return l.Quantile(r.Float64()) }

// inside panics for what is no chance.
func inside(p float64) {
	if !(p >= 0 && p <= 1) {
		panic(fmt.Sprintf("chance: %v is no chance between 0 and 1", p))
	}
}

// threePoints says why three points are no estimate.
func threePoints(least, likely, most float64) error {
	if !(least <= likely && likely <= most) || math.IsInf(most-least, 0) {
		return fmt.Errorf("%g, %g, %g are no estimate: the least must come first, the most last", least, likely, most)
	}
	return nil
}

// A Triangular law has a density that rises in a straight line from the least
// value to the likely one and falls to the most.
type Triangular struct{ Least, Likely, Most float64 }

// NewTriangular returns the law; an error if the points are not in order.
func NewTriangular(least, likely, most float64) (Triangular, error) {
	return Triangular{least, likely, most}, threePoints(least, likely, most)
}

// Mean returns (least + likely + most) / 3.
func (t Triangular) Mean() float64 { return (t.Least + t.Likely + t.Most) / 3 }

// CDF returns the chance of x or less.
func (t Triangular) CDF(x float64) float64 {
	switch a, m, b := t.Least, t.Likely, t.Most; {
	case x >= b:
		return 1
	case x < a:
		return 0
	case x < m:
		return (x - a) * (x - a) / ((b - a) * (m - a))
	default:
		return 1 - (b-x)*(b-x)/((b-a)*(b-m))
	}
}

// Quantile returns the least value whose CDF is at least p.
func (t Triangular) Quantile(p float64) float64 {
	inside(p)
	a, m, b := t.Least, t.Likely, t.Most
	if p*(b-a) <= m-a {
		return a + math.Sqrt(p*(b-a)*(m-a))
	}
	return b - math.Sqrt((1-p)*(b-a)*(b-m))
}

// A PERT law is a beta law over the run from the least value to the most, with
// its peak at the likely one: alpha = 1 + 4 (likely - least) / (most - least),
// beta = 1 + 4 (most - likely) / (most - least).
type PERT struct{ Least, Likely, Most float64 }

// NewPERT returns the law; an error if the points are not in order.
func NewPERT(least, likely, most float64) (PERT, error) {
	return PERT{least, likely, most}, threePoints(least, likely, most)
}

func (t PERT) shape() (alpha, beta float64) {
	return 1 + 4*(t.Likely-t.Least)/(t.Most-t.Least), 1 + 4*(t.Most-t.Likely)/(t.Most-t.Least)
}

// Mean returns (least + 4 likely + most) / 6.
func (t PERT) Mean() float64 { return (t.Least + 4*t.Likely + t.Most) / 6 }

// SD returns the standard deviation that planners reckon with, (most - least) /
// 6. That of the beta law itself is at most this, and differs with the peak.
func (t PERT) SD() float64 { return (t.Most - t.Least) / 6 }

// CDF returns the chance of x or less.
func (t PERT) CDF(x float64) float64 {
	switch {
	case x >= t.Most:
		return 1
	case x <= t.Least:
		return 0
	}
	alpha, beta := t.shape()
	return mathext.RegIncBeta(alpha, beta, (x-t.Least)/(t.Most-t.Least))
}

// Quantile returns the least value whose CDF is at least p. It is found by
// iteration, in some microseconds: who draws a great many keeps a Table.
func (t PERT) Quantile(p float64) float64 {
	inside(p)
	if t.Most == t.Least {
		return t.Least
	}
	alpha, beta := t.shape()
	return t.Least + (t.Most-t.Least)*mathext.InvRegIncBeta(alpha, beta, p)
}

// A LogNormal law is that of a number whose logarithm is normal with mean Mu and
// standard deviation Sigma.
type LogNormal struct{ Mu, Sigma float64 }

// LogNormalOf returns the log-normal law with this median that stays at or below
// x with chance p; an error unless 0 < median < x and 0.5 < p < 1.
func LogNormalOf(median, x, p float64) (LogNormal, error) {
	if !(0 < median && median < x && 0.5 < p && p < 1) {
		return LogNormal{}, fmt.Errorf("no log-normal law has its median at %g and %g of its chance up to %g: give a median above 0, and a chance above 0.5 up to a larger value", median, p, x)
	}
	return LogNormal{math.Log(median), math.Log(x/median) / normalQuantile(p)}, nil
}

// Mean returns exp(mu + sigma^2 / 2).
func (l LogNormal) Mean() float64 { return math.Exp(l.Mu + l.Sigma*l.Sigma/2) }

// CDF returns the chance of x or less.
func (l LogNormal) CDF(x float64) float64 {
	if x <= 0 {
		return 0
	}
	if l.Sigma == 0 {
		if math.Log(x) < l.Mu {
			return 0
		}
		return 1
	}
	return math.Erfc(-(math.Log(x)-l.Mu)/(l.Sigma*math.Sqrt2)) / 2
}

// Quantile returns the least value whose CDF is at least p: infinite for 1.
func (l LogNormal) Quantile(p float64) float64 {
	inside(p)
	if l.Sigma == 0 {
		return math.Exp(l.Mu)
	}
	return math.Exp(l.Mu + l.Sigma*normalQuantile(p))
}

// normalQuantile is the quantile of the normal law with mean 0 and standard
// deviation 1.
func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// An Empirical law is that of values as they were observed, each with a weight.
// The zero value is no law: see NewEmpirical.
type Empirical struct {
	values []float64 // rising, each once
	upTo   []float64 // weight of this value and all below
	mean   float64
	n      int
}

// NewEmpirical returns the law of the values. weights may be nil: each counts the
// same. No values, weights of another number, negative or without a sum, and what
// is no number are errors.
func NewEmpirical(values, weights []float64) (*Empirical, error) {
	if len(values) == 0 {
		return nil, fmt.Errorf("nothing was observed: a law of observations needs one at least")
	}
	if weights != nil && len(weights) != len(values) {
		return nil, fmt.Errorf("%d values have %d weights: give each one", len(values), len(weights))
	}
	type pair struct{ value, weight float64 }
	pairs := make([]pair, 0, len(values))
	for i, v := range values {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		if math.IsNaN(v) || math.IsInf(v, 0) || !(w >= 0) || math.IsInf(w, 0) {
			return nil, fmt.Errorf("observation %d is %g with weight %g: both must be numbers, and the weight not below 0", i+1, v, w)
		}
		if w > 0 {
			pairs = append(pairs, pair{v, w})
		}
	}
	if len(pairs) == 0 {
		return nil, fmt.Errorf("all weights are 0: give one observation a weight")
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.value, b.value) })
	e := &Empirical{n: len(pairs)}
	sum, moment := 0.0, 0.0
	for i, p := range pairs {
		sum += p.weight
		moment += p.weight * p.value
		if i > 0 && p.value == pairs[i-1].value {
			e.upTo[len(e.upTo)-1] = sum
			continue
		}
		e.values = append(e.values, p.value)
		e.upTo = append(e.upTo, sum)
	}
	e.mean = moment / sum
	return e, nil
}

// N returns how many observations have a weight.
func (e *Empirical) N() int { return e.n }

// Mean returns the weighted mean.
func (e *Empirical) Mean() float64 { return e.mean }

// CDF returns the share of the weight at x or below.
func (e *Empirical) CDF(x float64) float64 {
	i := sort.Search(len(e.values), func(i int) bool { return e.values[i] > x })
	if i == 0 {
		return 0
	}
	return e.upTo[i-1] / e.upTo[len(e.upTo)-1]
}

// rounding is how much of the whole a sum of weights may lack because numbers
// are rounded: 0.55 of 100 equal ones is 55 of them, and not 56.
const rounding = 1e-9

// Quantile returns the nearest rank: the least observed value at or below which
// lies at least the share p of the weight. Of n values that count the same it is
// the one of rank ceil(p n) from the least, and the least for p = 0. Values are
// never mixed.
func (e *Empirical) Quantile(p float64) float64 {
	inside(p)
	need := (p - rounding) * e.upTo[len(e.upTo)-1]
	i := sort.Search(len(e.upTo), func(i int) bool { return e.upTo[i] >= need })
	return e.values[i]
}

// NearestRank returns the quantile of values that count the same, as
// Empirical.Quantile; values need no order and stay as they are. It panics if
// there are none.
func NearestRank(values []float64, p float64) float64 {
	inside(p)
	sorted := slices.Sorted(slices.Values(values))
	return sorted[max(1, int(math.Ceil((p-rounding)*float64(len(sorted)))))-1]
}

// A Table is a law by its quantiles at equal steps of chance, with straight lines
// between: quick to draw from.
type Table struct {
	at   []float64 // quantiles at 0, 1/n ... 1
	mean float64
}

// NewTable tabulates a law in n steps, n >= 1; the law must end on both sides.
func NewTable(l Law, n int) *Table {
	t := &Table{at: make([]float64, n+1)}
	for i := range t.at {
		t.at[i] = l.Quantile(float64(i) / float64(n))
		if i > 0 {
			t.mean += (t.at[i-1] + t.at[i]) / 2 / float64(n)
		}
	}
	return t
}

// Mean returns the mean of the law as it is tabulated.
func (t *Table) Mean() float64 { return t.mean }

// CDF returns the chance of x or less.
func (t *Table) CDF(x float64) float64 {
	n := len(t.at) - 1
	i := sort.Search(len(t.at), func(i int) bool { return t.at[i] > x }) // the first above
	switch {
	case i == 0:
		return 0
	case i > n:
		return 1
	}
	return (float64(i-1) + (x-t.at[i-1])/(t.at[i]-t.at[i-1])) / float64(n)
}

// Quantile returns the least value whose CDF is at least p.
func (t *Table) Quantile(p float64) float64 {
	inside(p)
	at := p * float64(len(t.at)-1)
	i := min(int(at), len(t.at)-2)
	return t.at[i] + (at-float64(i))*(t.at[i+1]-t.at[i])
}
