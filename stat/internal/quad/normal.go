package quad

import "math"

// NormalBelow returns Φ(x), with full relative accuracy for negative x.
func NormalBelow(x float64) float64 {
	return 0.5 * math.Erfc(-x/math.Sqrt2)
}

// gauss10 holds the positive nodes and the weights of the ten-point
// Gauss–Legendre rule on [−1, 1] (Abramowitz and Stegun, table 25.4).
var gauss10 = [5][2]float64{
	{0.148874338981631, 0.295524224714753},
	{0.433395394129247, 0.269266719309996},
	{0.679409568299024, 0.219086362515982},
	{0.865063366688985, 0.149451349150581},
	{0.973906528517172, 0.066671344308688},
}

// NormalBetween returns Φ(m+h) − Φ(m−h) for h > 0 with full relative accuracy.
// Where the two are close to each other it integrates
//
//	φ(m) ∫ exp(−m t − t²/2) dt,  −h < t < h
//
// by Gauss–Legendre quadrature, exact there to the digits of its constants.
func NormalBetween(m, h float64) float64 {
	m = math.Abs(m)
	if h > 0.25 || m*h > 1 {
		return NormalBelow(h-m) - NormalBelow(-m-h)
	}
	var sum float64
	for _, g := range gauss10 {
		t := h * g[0]
		sum += g[1] * math.Cosh(m*t) * math.Exp(-0.5*t*t)
	}
	return 2 * h * sum * math.Exp(-0.5*m*m) / math.Sqrt(2*math.Pi)
}
