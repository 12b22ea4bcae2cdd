package studrange

import (
	"math"

	"bondtrial/stat/internal/quad"
)

const (
	badGroups      = "studrange: fewer than two groups"
	badDF          = "studrange: degrees of freedom not positive"
	badProbability = "studrange: probability outside [0,1]"
)

// Dist is the distribution of the studentized range, the range of K independent
// standard normal variables over an independent root mean square on DF degrees
// of freedom.
type Dist struct {
	K  int     // number of groups, 2 or more
	DF float64 // degrees of freedom of the scale, positive; +Inf for a known scale
}

// CDF returns the probability that the studentized range is at most q.
//
// Special cases are: 0 for q ≤ 0, 1 for q = +Inf, NaN for q = NaN. CDF panics if
// K is below 2 or DF is not positive. The accuracy is given in the package
// comment; NaN, should the integral ever fail to settle.
func (d Dist) CDF(q float64) float64 {
	d.check()
	switch {
	case math.IsNaN(q):
		return math.NaN()
	case q <= 0:
		return 0
	case math.IsInf(q, 1):
		return 1
	}
	return newIntegrator(d, lower).prob(q)
}

// Survival returns the probability that the studentized range exceeds q. It is
// computed on its own and keeps its relative accuracy far into the tail.
//
// Special cases are: 1 for q ≤ 0, 0 for q = +Inf, NaN for q = NaN. Survival
// panics if K is below 2 or DF is not positive. The accuracy is given in the
// package comment; NaN, should the integral ever fail to settle.
func (d Dist) Survival(q float64) float64 {
	d.check()
	switch {
	case math.IsNaN(q):
		return math.NaN()
	case q <= 0:
		return 1
	case math.IsInf(q, 1):
		return 0
	}
	return newIntegrator(d, upper).prob(q)
}

// Quantile returns the q at which CDF(q) is p. Up to p = 1/2 it solves
// CDF(q) = p, above it Survival(q) = 1−p, so both ends are as good as p itself.
//
// Special cases are: 0 for p = 0, +Inf for p = 1. Quantile panics if K is below
// 2, DF is not positive, or p is not in [0,1]. It returns NaN, should an integral
// ever fail to settle, and +Inf for a quantile beyond 8e307, which takes a small
// fraction of a degree of freedom.
func (d Dist) Quantile(p float64) float64 {
	d.check()
	switch {
	case !(p >= 0 && p <= 1):
		panic(badProbability)
	case p == 0:
		return 0
	case p == 1:
		return math.Inf(1)
	}
	// In the logarithms of q and of the smaller tail the curve is close to
	// straight at both ends.
	var f func(u float64) float64
	if p <= 0.5 {
		in := newIntegrator(d, lower)
		f = func(u float64) float64 { return logFloor(in.prob(math.Exp(u))) - math.Log(p) }
	} else {
		in := newIntegrator(d, upper)
		f = func(u float64) float64 {
			if u >= logMax {
				return math.Inf(1)
			}
			return math.Log1p(-p) - logFloor(in.prob(math.Exp(u)))
		}
	}
	u := quad.IncreasingRoot(f, math.Log(3), 0.25)
	if u >= logMax-1e-9 {
		return math.Inf(1)
	}
	return math.Exp(u)
}

// logMax is the logarithm of the largest quantile that is told from +Inf, 8e307.
const logMax = 709

// logFloor is log x, with 0 taken for a number too small to be written.
func logFloor(x float64) float64 {
	if x == 0 {
		return -750
	}
	return math.Log(x)
}

func (d Dist) check() {
	if d.K < 2 {
		panic(badGroups)
	}
	if !(d.DF > 0) {
		panic(badDF)
	}
}
