package tolerance

import (
	"math"

	"bondtrial/stat/internal/quad"
)

const (
	badDF          = "tolerance: degrees of freedom not positive"
	badDelta       = "tolerance: noncentrality not finite"
	badProbability = "tolerance: probability outside [0,1]"
)

// NoncentralT is the noncentral t distribution with DF > 0 degrees of freedom,
// +Inf for a known scale, and finite noncentrality Delta.
type NoncentralT struct {
	DF    float64
	Delta float64
}

// CDF returns the probability of a value at most t.
//
// Special cases are: 0 for t = −Inf, 1 for t = +Inf, NaN for t = NaN. CDF panics
// if DF is not positive or Delta not finite. The accuracy is given in the package
// comment; NaN, should the sums ever fail to settle.
func (d NoncentralT) CDF(t float64) float64 {
	d.check()
	return d.tail(t, d.Delta)
}

// Survival returns the probability of a value above t, with its relative accuracy
// kept in the upper tail. Special cases and panics are those of CDF, with 0 and 1
// exchanged.
func (d NoncentralT) Survival(t float64) float64 {
	d.check()
	// −T has the noncentrality −δ.
	return d.tail(-t, -d.Delta)
}

// Quantile returns the t at which CDF(t) is p. Above p = 1/2 it solves
// Survival(t) = 1−p. It is within 1e-12 relative of the exact root of the computed
// function.
//
// Special cases are: −Inf for p = 0, +Inf for p = 1. Quantile panics if p is not
// in [0,1], DF is not positive or Delta not finite.
func (d NoncentralT) Quantile(p float64) float64 {
	d.check()
	switch {
	case !(p >= 0 && p <= 1):
		panic(badProbability)
	case p == 0:
		return math.Inf(-1)
	case p == 1:
		return math.Inf(1)
	}
	// asinh straightens heavy tails on both sides.
	f := func(u float64) float64 { return logFloor(d.CDF(math.Sinh(u))) - math.Log(p) }
	if p > 0.5 {
		f = func(u float64) float64 { return math.Log1p(-p) - logFloor(d.Survival(math.Sinh(u))) }
	}
	return math.Sinh(quad.IncreasingRoot(f, math.Asinh(d.Delta), 0.25))
}

func (d NoncentralT) check() {
	if !(d.DF > 0) {
		panic(badDF)
	}
	if math.IsNaN(d.Delta) || math.IsInf(d.Delta, 0) {
		panic(badDelta)
	}
}

const (
	// negligible is the share of the sum so far below which a term ends it.
	negligible = 1e-17

	// tiny is where a sum counts as settled in any case: its terms come near the
	// smallest float64 and lose digits.
	tiny = 1e-290

	// settled is the relative difference of two sums, the second with steps shorter
	// by √2, at which the second is accepted. The error of the trapezoidal rule is
	// of the order exp(−c/h) at worst, so it falls from 1e-9 to below 1e-12.
	settled = 1e-9

	maxRefinements = 14
)

// tail returns P((Z + delta)/s ≤ t), NaN if the sums do not settle.
func (d NoncentralT) tail(t, delta float64) float64 {
	switch {
	case math.IsNaN(t):
		return math.NaN()
	case math.IsInf(t, -1):
		return 0
	case math.IsInf(t, 1):
		return 1
	case t == 0:
		return quad.NormalBelow(-delta)
	case math.IsInf(d.DF, 1):
		return quad.NormalBelow(t - delta)
	}
	// Half a standard deviation of log s for many degrees of freedom, as much of
	// the rise of Φ for large δ, and for few degrees of freedom what the strip in
	// which the integrand is analytic allows.
	h := 1 / math.Sqrt(4*d.DF+18+2*delta*delta)
	last := d.sum(t, delta, h)
	for n := 1; n <= maxRefinements; n++ {
		next := d.sum(t, delta, h*math.Pow(2, -0.5*float64(n)))
		if math.Abs(next-last) <= settled*next || next < tiny {
			return min(next, 1)
		}
		last = next
	}
	return math.NaN()
}

// sum returns the trapezoidal sum over log s with step h.
func (d NoncentralT) sum(t, delta, h float64) float64 {
	chi := quad.NewLogChi(d.DF)
	x0 := d.start(t, delta)
	term := func(i int) float64 {
		x := x0 + float64(i)*h
		return chi.Density(x) * quad.NormalBelow(t*math.Exp(x)-delta)
	}
	total := term(0)
	for i := 1; ; i++ {
		v := term(i)
		total += v
		if v <= negligible*total {
			break
		}
	}
	for i := -1; ; i-- {
		v := term(i)
		total += v
		if v <= negligible*total {
			break
		}
		// Once t s is negligible, the terms end as a geometric series.
		x := x0 + float64(i)*h
		if x < -45 && x < -45-math.Log(math.Abs(t)) {
			total += v / math.Expm1(d.DF*h)
			break
		}
	}
	return h * total
}

// start returns a value of log s near the mode of the integrand. Where Φ is not
// small there, that is 0. Otherwise, with exp(−(t s − δ)²/2) for Φ, s solves
//
//	(ν + t²) s² − t δ s − ν = 0
func (d NoncentralT) start(t, delta float64) float64 {
	if t >= delta {
		return 0
	}
	norm := math.Hypot(math.Sqrt(d.DF), t)
	b := t / norm * delta
	root := math.Sqrt(b*b + 4*d.DF)
	if b < 0 {
		return math.Log(2*d.DF/(root-b)) - math.Log(norm)
	}
	return math.Log((b+root)/2) - math.Log(norm)
}

// logFloor is log x, with 0 taken for a number too small to be written.
func logFloor(x float64) float64 {
	if x == 0 {
		return -750
	}
	return math.Log(x)
}
