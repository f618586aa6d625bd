package chance

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// An Interval runs from Low to High, both within.
type Interval struct{ Low, High float64 }

// Wilson returns the score interval of Wilson for a proportion of which a share
// was seen in n tries, with confidence level, 0 < level < 1. n need not be whole:
// tries that depend on each other count for fewer. Without tries it is all of 0
// to 1.
func Wilson(share, n, level float64) Interval {
	inside(share)
	inside(level)
	if n <= 0 {
		return Interval{0, 1}
	}
	z := normalQuantile((1 + level) / 2)
	mid := (share + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(share*(1-share)/n+z*z/(4*n*n))
	return Interval{max(0, mid-half), min(1, mid+half)}
}

// ClopperPearson returns the exact interval for a proportion of which k were seen
// in n tries, 0 <= k <= n: each of its ends is the proportion at which so many, or
// so few, would come with chance (1 - level) / 2. It never holds less often than
// it says. Without tries it is all of 0 to 1.
func ClopperPearson(k, n int, level float64) Interval {
	inside(level)
	tail := (1 - level) / 2
	i := Interval{0, 1}
	if k > 0 {
		i.Low = mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
	}
	if k < n {
		i.High = mathext.InvRegIncBeta(float64(k+1), float64(n-k), 1-tail)
	}
	return i
}
