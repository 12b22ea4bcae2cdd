package gibbs

import "math"

// weigher is the density of log σ of one group.
type weigher struct {
	ss, n         float64 // sum of squares and number of what is exact
	lambda, omega float64 // log σ ~ Normal(λ, ω); ω = +Inf: flat
	lo, hi        []float64
}

func (w *weigher) set(ss float64, n int, lambda, omega float64, lo, hi []float64) {
	*w = weigher{ss, float64(n), lambda, omega, lo, hi}
}

// logScatter is the log density at log σ = l up to a constant.
func (w *weigher) logScatter(l float64) float64 {
	inv := math.Exp(-l)
	d := (l - w.lambda) / w.omega
	f := -w.n*l - 0.5*w.ss*inv*inv - 0.5*d*d
	for i, lo := range w.lo {
		f += logBoundProb(lo*inv, w.hi[i]*inv)
	}
	return f
}
