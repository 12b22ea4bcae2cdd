package gibbs

import (
	"math"
	"math/rand/v2"
)

// slice draws once from the density whose logarithm, up to a constant, is logf,
// starting at x: stepping out by width and shrinking (Neal 2003, figures 3 and
// 5).
func slice(x, width float64, logf func(float64) float64, rng *rand.Rand) float64 {
	level := logf(x) - rng.ExpFloat64()
	lo := x - width*rng.Float64()
	hi := lo + width
	const most = 60 // steps out on each side; far more than a sensible width takes
	for k := 0; k < most && logf(lo) > level; k++ {
		lo -= width
	}
	for k := 0; k < most && logf(hi) > level; k++ {
		hi += width
	}
	for {
		y := lo + (hi-lo)*rng.Float64()
		if y == x || logf(y) >= level {
			return y
		}
		if y < x {
			lo = y
		} else {
			hi = y
		}
		if !(hi-lo > 1e-15*(1+math.Abs(x))) {
			return x
		}
	}
}
