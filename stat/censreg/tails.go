package censreg

import "math"

// A standard distribution is handled through the logarithm of its density f, of
// its survival function S and of its distribution function F, and through the
// two hazards
//
//	h(z) = f(z)/S(z)   and   r(z) = f(z)/F(z).
//
// The curvature of log S is -h·(log h)', that of log F is r·(log r)'. Far out in
// the tails (log h)' is a small difference of large numbers, so each
// distribution returns it in its own stable form.

const (
	halfLog2Pi = 0.91893853320467274178032973640561763986139747363778
	invSqrt2   = 1 / math.Sqrt2
)

// logDensity returns log f(z) and its first and second derivative.
func (d Distribution) logDensity(z float64) (logf, d1, d2 float64) {
	if d == SmallestExtreme {
		u := math.Exp(z)
		return z - u, 1 - u, -u
	}
	return -0.5*z*z - halfLog2Pi, -z, -1
}

// logUpper returns log S(z), the hazard h(z) and (log h)'(z).
func (d Distribution) logUpper(z float64) (logS, h, dlogh float64) {
	if d == SmallestExtreme {
		u := math.Exp(z)
		return -u, u, 1
	}
	return normalUpper(z)
}

// logLower returns log F(z), the reversed hazard r(z) and (log r)'(z).
func (d Distribution) logLower(z float64) (logF, r, dlogr float64) {
	if d == SmallestExtreme {
		return extremeLower(z)
	}
	logF, r, dlogr = normalUpper(-z)
	return logF, r, -dlogr
}

// The continued fraction below is used from millsFrom on. With millsTerms terms
// its relative error there is below 1e-15 and falls quickly with z.
const (
	millsFrom  = 3.5
	millsTerms = 40
)

// normalUpper returns, for the standard normal distribution, log S(z), the
// hazard h(z) (the inverse Mills ratio) and (log h)'(z) = h(z) - z.
//
// In the upper tail it uses the continued fraction of Laplace (Abramowitz and
// Stegun 1964, 26.2.14),
//
//	h(z) = z + 1/(z + 2/(z + 3/(z + …))).
func normalUpper(z float64) (logS, h, dlogh float64) {
	if z < millsFrom {
		s := 0.5 * math.Erfc(z*invSqrt2)
		h = math.Exp(-0.5*z*z-halfLog2Pi) / s
		if z < 0 {
			// S is close to 1, and log1p keeps what is missing.
			return math.Log1p(-0.5 * math.Erfc(-z*invSqrt2)), h, h - z
		}
		return math.Log(s), h, h - z
	}
	tail := z
	for i := float64(millsTerms); i >= 2; i-- {
		tail = z + i/tail
	}
	excess := 1 / tail
	h = z + excess
	return -0.5*z*z - halfLog2Pi - math.Log(h), h, excess
}

// extremeLower returns, for the standard smallest-extreme-value distribution
// with u = exp(z) and F = 1 - exp(-u),
//
//	log F,   r = u/(exp(u) - 1),   (log r)' = 1 - u - r.
func extremeLower(z float64) (logF, r, dlogr float64) {
	u := math.Exp(z)
	switch {
	case u < 1e-17:
		return z, 1, -u / 2
	case u < 0.05:
		// Series of 1 - u - u/(exp(u)-1) in Bernoulli numbers (Abramowitz and
		// Stegun 1964, 23.1.1); the terms left out are below 2e-15 of the sum.
		r = u / math.Expm1(u)
		u2 := u * u
		return math.Log(-math.Expm1(-u)), r, -u/2 - u2/12*(1-u2/60*(1-u2/42))
	case u > 750:
		return 0, 0, math.Inf(-1)
	}
	r = u / math.Expm1(u)
	return math.Log1p(-math.Exp(-u)), r, 1 - u - r
}
