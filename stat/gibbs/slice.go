package gibbs

import (
	"math"
	"math/rand/v2"
)

// slice draws once from the density whose logarithm, up to a constant, is logf,
// starting at x: an interval of the given width is laid at random over x and
// shrunk towards x until a point in the slice is hit (Neal 2003, figure 5). The
// interval is not stepped out (figure 3), which would cost two evaluations a draw:
// with a width of about six standard deviations it reaches far enough, and any
// width leaves the density as it is.
func slice(x, width float64, logf func(float64) float64, rng *rand.Rand) float64 {
	level := logf(x) - rng.ExpFloat64()
	lo := x - width*rng.Float64()
	hi := lo + width
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
