package gibbs

import (
	"math"
	"math/rand/v2"
)

// truncNormal draws a standard normal conditioned on [a, b], either end of which
// may be infinite (Robert 1995).
func truncNormal(a, b float64, rng *rand.Rand) float64 {
	switch {
	case b < 0 || (b <= 0 && math.IsInf(a, -1)):
		return -truncNormal(-b, -a, rng)
	case math.IsInf(b, 1):
		return lowerTruncNormal(a, rng)
	case b-a < 1 || a > 0 && (b-a)*a < 2:
		return narrowTruncNormal(a, b, rng)
	}
	for {
		x := lowerTruncNormal(a, rng)
		if x <= b {
			return x
		}
	}
}

// lowerTruncNormal draws a standard normal conditioned on [a, ∞): plain
// rejection where at least a quarter of the normal lies above a, an exponential
// proposal beyond.
func lowerTruncNormal(a float64, rng *rand.Rand) float64 {
	switch {
	case a < 0.67:
		for {
			if x := rng.NormFloat64(); x >= a {
				return x
			}
		}
	case !(a < math.MaxFloat64):
		return a // +Inf, or NaN, which the caller will see
	}
	rate := 0.5 * (a + math.Sqrt(a*a+4))
	for {
		x := a + rng.ExpFloat64()/rate
		d := x - rate
		if 0.5*d*d <= rng.ExpFloat64() {
			return x
		}
	}
}

// narrowTruncNormal draws by uniform proposals over [a, b].
func narrowTruncNormal(a, b float64, rng *rand.Rand) float64 {
	mode := 0.0
	if a > 0 {
		mode = a
	} else if b < 0 {
		mode = b
	}
	for {
		x := a + (b-a)*rng.Float64()
		if 0.5*(x*x-mode*mode) <= rng.ExpFloat64() {
			return x
		}
	}
}
