package maxt

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// circle is the law for correlations of rank 2. The T_j are then the coordinates,
// along directions at angles α_j, of a vector whose angle θ is uniform and whose
// length R is independent of it, with
//
//	P(R > x) = (1 + x²/ν)^(−ν/2)
//
// The direction nearest to θ has the largest coordinate, so the distribution is a
// sum, over the arcs between neighbouring directions, of single integrals of
// P(R cos θ > c). For TwoSided every direction comes with its opposite. With
// cos θ = 1/cosh v, the inverse Gudermannian, they are
//
//	∫ P(R > c/cos θ) dθ = ∫ P(R > c cosh v) / cosh v dv
//
// which is smooth on a scale of 1 also where c is small and cos θ near 0.
type circle struct {
	halves []float64 // half the arc between each direction and the next
	df     float64
}

func newCircle(rows [][]float64, df float64, sides Sides) circle {
	var angles []float64
	for _, a := range rows {
		angle := math.Atan2(a[1], a[0])
		angles = append(angles, angle)
		if sides == TwoSided {
			opposite := angle + math.Pi
			if opposite > math.Pi {
				opposite -= 2 * math.Pi
			}
			angles = append(angles, opposite)
		}
	}
	slices.Sort(angles)
	law := circle{df: df}
	for i, a := range angles {
		next := angles[0] + 2*math.Pi
		if i+1 < len(angles) {
			next = angles[i+1]
		}
		law.halves = append(law.halves, (next-a)/2)
	}
	return law
}

func (l circle) stdErr(float64) float64 { return 0 }

func (l circle) survival(c float64) float64 {
	if c < 0 {
		return 1 - l.cdf(c)
	}
	var sum float64
	for _, half := range l.halves {
		sum += arc(l.beyond, c, 0, half)
	}
	return sum / math.Pi
}

func (l circle) cdf(c float64) float64 {
	var sum float64
	for _, half := range l.halves {
		if c >= 0 {
			// Beyond a quarter turn the coordinate is negative.
			sum += arc(l.within, c, 0, half) + max(0, half-math.Pi/2)
		} else if half > math.Pi/2 {
			// The largest coordinate is negative there, and −c is exceeded by its
			// opposite, which is at angles from π − half to a quarter turn.
			sum += arc(l.beyond, -c, math.Pi-half, math.Pi/2)
		}
	}
	return sum / math.Pi
}

// beyond returns P(R > x) for x ≥ 0.
func (l circle) beyond(x float64) float64 { return math.Exp(l.logBeyond(x)) }

// within returns P(R ≤ x) for x ≥ 0.
func (l circle) within(x float64) float64 { return -math.Expm1(l.logBeyond(x)) }

func (l circle) logBeyond(x float64) float64 {
	if math.IsInf(l.df, 1) {
		return -0.5 * x * x
	}
	if x > 1e150 {
		return -l.df * (math.Log(x) - 0.5*math.Log(l.df))
	}
	return -0.5 * l.df * math.Log1p(x*x/l.df)
}

// arc returns the integral of f(c/cos θ) over θ between two angles, up to a quarter
// turn at most.
func arc(f func(x float64) float64, c, from, to float64) float64 {
	g := func(v float64) float64 {
		cosh := math.Cosh(v)
		return f(c*cosh) / cosh
	}
	// Beyond v = 40 is less than 1e-17 of a quarter turn.
	v, end := math.Asinh(math.Tan(from)), 40.0
	if to < math.Pi/2 {
		end = min(end, math.Asinh(math.Tan(to)))
	}
	const width = 2
	var sum float64
	for v < end {
		next := min(v+width, end)
		sum += refine(g, v, next, gauss(g, v, next, 24), sum, 40)
		v = next
	}
	return sum
}

// refine returns the integral of f ≥ 0 from a to b, halving the interval until the
// Gauss–Legendre rules with 12 and 24 points agree to 1e-11 of it, or to 1e-15 of
// what there is already. fine is the sum with 24 points.
func refine(f func(float64) float64, a, b, fine, already float64, depth int) float64 {
	diff := math.Abs(fine - gauss(f, a, b, 12))
	if diff <= 1e-11*fine || diff <= 1e-15*already || depth == 0 {
		return fine
	}
	m := (a + b) / 2
	left := refine(f, a, m, gauss(f, a, m, 24), already, depth-1)
	return left + refine(f, m, b, gauss(f, m, b, 24), already+left, depth-1)
}

func gauss(f func(float64) float64, a, b float64, n int) float64 {
	return quad.Fixed(f, a, b, n, quad.Legendre{}, 1)
}
