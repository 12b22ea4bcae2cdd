package studrange

import (
	"math"

	"bondtrial/stat/internal/quad"
)

type tail bool

const (
	lower tail = false
	upper tail = true
)

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

	maxRefinements = 12
)

// integrator computes one tail of a distribution. It keeps what depends on the
// distribution and the step alone, so that repeated calls are cheap.
type integrator struct {
	dist  Dist
	tail  tail
	chi   quad.LogChi
	rules []*rangeRule // by the number of refinements
}

func newIntegrator(d Dist, t tail) *integrator {
	in := &integrator{dist: d, tail: t}
	if !math.IsInf(d.DF, 1) {
		in.chi = quad.NewLogChi(d.DF)
	}
	return in
}

// prob returns the probability of the tail at q, 0 < q < Inf, NaN if the sums
// do not settle.
func (in *integrator) prob(q float64) float64 {
	last := in.sum(q, 0)
	for n := 1; n <= maxRefinements; n++ {
		next := in.sum(q, n)
		if math.Abs(next-last) <= settled*next || next < tiny {
			return min(next, 1)
		}
		last = next
	}
	return math.NaN()
}

// innerStep and outerStep are the steps of the first sum. They were chosen so that
// its relative error is mostly below settled: 1/(2√ν) is half a standard deviation
// of log s for many degrees of freedom, for few the strip in which the integrand
// is analytic sets the limit, and both steps shorten as the largest of k variables
// concentrates.
func innerStep(k int) float64 { return 0.5 / (1 + 0.35*math.Log(float64(k)/2)) }

func outerStep(d Dist) float64 {
	return 1 / math.Sqrt(4*d.DF+18+11*math.Log(float64(d.K)/2))
}

// shrink is the factor on both steps after n refinements.
func shrink(n int) float64 { return math.Pow(2, -0.5*float64(n)) }

// sum returns the trapezoidal sum after n refinements of both steps.
func (in *integrator) sum(q float64, n int) float64 {
	for len(in.rules) <= n {
		step := innerStep(in.dist.K) * shrink(len(in.rules))
		in.rules = append(in.rules, newRangeRule(in.dist.K, in.tail, step))
	}
	rule := in.rules[n]
	if math.IsInf(in.dist.DF, 1) {
		return rule.prob(q)
	}
	df := in.dist.DF
	h := outerStep(in.dist) * shrink(n)
	x0 := in.start(q)
	term := func(i int) float64 {
		x := x0 + float64(i)*h
		return in.chi.Density(x) * rule.prob(q*math.Exp(x))
	}
	total := term(0)
	for i := 1; ; i++ {
		t := term(i)
		total += t
		if t <= negligible*total {
			break
		}
	}
	for i := -1; ; i-- {
		t := term(i)
		total += t
		if t <= negligible*total {
			break
		}
		// Once S is 1 and s negligible, the terms end as a geometric series.
		x := x0 + float64(i)*h
		if in.tail == upper && x < -45 && x < -45-math.Log(q) {
			total += t / math.Expm1(df*h)
			break
		}
	}
	return h * total
}

// start returns a value of log s near the mode of the outer integrand, from the
// leading terms of the range's tails: log S(w) ≈ −w²/4 for long w, log C(w) ≈
// (k−1) log w for short.
func (in *integrator) start(q float64) float64 {
	df := in.dist.DF
	if in.tail == upper {
		return min(0, 0.5*math.Log(2*df)-math.Log(q))
	}
	// The second term stops where the range is no longer short.
	x := min(0.5*math.Log1p(float64(in.dist.K-1)/df), math.Log(2*typicalMax(in.dist.K)/q))
	return max(x, 0)
}
