package gibbs

import "math"

// weigher is the density of log σ of one group.
type weigher struct {
	ss, n         float64 // sum of squares and number of what is exact
	lambda, omega float64 // log σ ~ Normal(λ, ω); ω = +Inf: flat
	within        Range   // of log σ
	lo, hi        []float64
}

// logScatter is the log density at log σ = l up to a constant.
func (w *weigher) logScatter(l float64) float64 {
	if !w.within.holds(l) {
		return math.Inf(-1)
	}
	inv := math.Exp(-l)
	d := (l - w.lambda) / w.omega
	f := -w.n*l - 0.5*w.ss*inv*inv - 0.5*d*d
	return f + logBounds(w.lo, w.hi, 0, inv)
}

func (r Range) holds(x float64) bool { return x >= r.Lo && x <= r.Hi }

func (r Range) nearest(x float64) float64 { return min(max(x, r.Lo), r.Hi) }
