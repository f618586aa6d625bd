package chance

import "math"

// Pinball returns the loss of a quantile that was stated for chance p, once the
// actual value is there: p for each unit that it came above, 1 - p for each that
// it stayed below. In the mean it is least for the true quantile.
func Pinball(p, stated, actual float64) float64 {
	inside(p)
	if actual >= stated {
		return p * (actual - stated)
	}
	return (1 - p) * (stated - actual)
}

// CRPS returns the continuous ranked probability score of the law for the actual
// value, in its unit: the area between the CDF and the step at the actual value,
// squared. Less is better; of a law that is one value alone it is the distance.
func (e *Empirical) CRPS(actual float64) float64 {
	area, whole := 0.0, e.upTo[len(e.upTo)-1]
	strip := func(from, to, below float64) {
		if to > from {
			area += (to - from) * below * below
		}
	}
	first, last := e.values[0], e.values[len(e.values)-1]
	strip(actual, first, 1) // CDF 0, step already 1
	strip(last, actual, 1)  // CDF 1, step still 0
	for i := range len(e.values) - 1 {
		from, to, f := e.values[i], e.values[i+1], e.upTo[i]/whole
		strip(from, min(to, actual), f)
		strip(max(from, actual), to, 1-f)
	}
	return area
}

// A Coverage is how often what was stated with a chance has held.
type Coverage struct {
	Stated   float64 // the chance
	Held, Of float64 // how often, of how many; weights where these are weighted
	Interval Interval
}

// Share returns how often it held, NaN where nothing was stated.
func (c Coverage) Share() float64 {
	if c.Of == 0 {
		return math.NaN()
	}
	return c.Held / c.Of
}
