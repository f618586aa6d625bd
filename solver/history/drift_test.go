package history

import (
	"math"
	"math/bits"
	"testing"
)

// The mean and variance of what halves dealt out at random would give are those of
// all ways to deal them out.
func TestExcess(t *testing.T) {
	values := []float64{-3, 0, 0, 1, 4, 4, 11}
	for m := 1; m < len(values); m++ {
		ways, sum, squares, variance := 0.0, 0.0, 0.0, 0.0
		for set := range 1 << len(values) {
			if bits.OnesCount(uint(set)) != m {
				continue
			}
			marked := make([]bool, len(values))
			for i := range marked {
				marked[i] = set&(1<<i) != 0
			}
			var s float64
			s, variance = excess(values, marked)
			ways++
			sum += s
			squares += s * s
		}
		if math.Abs(sum) > 1e-9 || math.Abs(squares/ways-variance) > 1e-9 {
			t.Errorf("%d marked: sum %v over all ways, variance %v, want %v", m, sum, squares/ways, variance)
		}
	}
}
