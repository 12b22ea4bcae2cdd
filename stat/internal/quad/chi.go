package quad

import "math"

// LogChi is the density of x = log s, where ν s² is chi-squared with ν degrees
// of freedom. With a = ν/2 it is
//
//	2 a^a / Γ(a) · exp(2a x − a e^(2x)) = norm · exp(−a (e^(2x) − 1 − 2x))
//
// The second form has its peak, norm, at x = 0 and loses nothing for large ν.
type LogChi struct {
	a    float64
	norm float64
}

// NewLogChi returns the density for ν = df, which must be positive and finite.
func NewLogChi(df float64) LogChi {
	a := df / 2
	return LogChi{a: a, norm: math.Sqrt(2*a/math.Pi) * math.Exp(-stirling(a))}
}

// Density returns the density at x = log s.
func (c LogChi) Density(x float64) float64 {
	return c.norm * math.Exp(-c.a*expm1Rest(2*x))
}

// expm1Rest returns e^t − 1 − t. Its relative error is a few units of rounding.
func expm1Rest(t float64) float64 {
	if math.Abs(t) > 0.5 {
		return math.Expm1(t) - t
	}
	// The Taylor series from t²/2 on; at 0.5 the 16th term is below 1e-18 of the sum.
	sum, term := 0.0, t
	for n := 2; n < 18; n++ {
		term *= t / float64(n)
		sum += term
	}
	return sum
}

// stirling returns the error of Stirling's formula,
// log Γ(a) − [(a−1/2) log a − a + log(2π)/2].
func stirling(a float64) float64 {
	if a < 10 {
		lg, _ := math.Lgamma(a)
		return lg - ((a-0.5)*math.Log(a) - a + 0.5*math.Log(2*math.Pi))
	}
	// Abramowitz and Stegun 6.1.40; the first term left out is below 1e-15 at 10.
	b := 1 / (a * a)
	return (1.0/12 - b*(1.0/360-b*(1.0/1260-b*(1.0/1680-b*(1.0/1188-b*691.0/360360))))) / a
}
