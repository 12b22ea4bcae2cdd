package gibbs

import "math"

// logProduct sums logarithms of probabilities by multiplying them, and takes a
// logarithm only when the product runs low.
type logProduct struct {
	sum     float64
	product float64
	started bool
}

func (p *logProduct) times(x float64) {
	if !p.started {
		p.product, p.started = 1, true
	}
	p.product *= x
	if p.product < 1e-200 {
		p.sum += math.Log(p.product)
		p.product = 1
	}
}

func (p *logProduct) log() float64 {
	if !p.started {
		return 0
	}
	return p.sum + math.Log(p.product)
}

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
	var acc logProduct
	for i, lo := range w.lo {
		acc.times(boundProb(lo*inv, w.hi[i]*inv))
	}
	return f + acc.log()
}
