package gibbs

import "math"

// weigher is the density of log σ of one group.
type weigher struct {
	ss, n         float64 // sum of squares and number of what is exact
	lambda, omega float64 // log σ ~ Normal(λ, ω); ω = +Inf: flat
	lo, hi        []float64
}

// logScatter is the log density at log σ = l up to a constant.
func (w *weigher) logScatter(l float64) float64 {
	inv := math.Exp(-l)
	d := (l - w.lambda) / w.omega
	f := -w.n*l - 0.5*w.ss*inv*inv - 0.5*d*d
	return f + logBounds(w.lo, w.hi, 0, inv)
}
