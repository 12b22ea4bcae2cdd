package gibbs

import "math"

// normalCDF is Φ(x). The complementary error function keeps the lower tail.
func normalCDF(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// intervalProb is the probability that a standard normal lies in [a, b], taken
// on the side of zero where nothing cancels.
func intervalProb(a, b float64) float64 {
	if a > 0 {
		return normalCDF(-a) - normalCDF(-b)
	}
	return normalCDF(b) - normalCDF(a)
}

// logBoundProb is the log probability that a standard normal lies in [a, b],
// quick where b is +Inf.
func logBoundProb(a, b float64) float64 {
	if math.IsInf(b, 1) {
		return quickLogCDF(-a)
	}
	return math.Log(intervalProb(a, b))
}

// Table of log Φ for quickLogCDF: values and slopes at the knots from quickLeast
// on.
const (
	quickLeast = -3.0
	quickMost  = 8.0
	quickSteps = 64 // to a unit
	quickKnots = int((quickMost-quickLeast)*quickSteps) + 1
)

type knot struct{ value, slope float64 } // log Φ, and φ/Φ times the distance of knots

var quickTable = func() (t [quickKnots + 1]knot) {
	for i := range t {
		x := quickLeast + float64(i)/quickSteps
		p := normalCDF(x)
		t[i] = knot{math.Log(p), math.Exp(-0.5*x*x) / math.Sqrt(2*math.Pi) / p / quickSteps}
	}
	return t
}()

// quickLogCDF is log Φ(x) for where it is asked for hundreds of times a draw:
// cubic Hermite interpolation in a table, wrong by less than 1e-10. Below the
// table it is the logarithm itself, above it 0.
func quickLogCDF(x float64) float64 {
	if !(x >= quickLeast) {
		return math.Log(normalCDF(x))
	}
	if x >= quickMost {
		return 0
	}
	s := (x - quickLeast) * quickSteps
	i := int(s)
	u := s - float64(i)
	a, b := &quickTable[i], &quickTable[i+1]
	d := b.value - a.value
	return a.value + u*(a.slope+u*((3*d-2*a.slope-b.slope)+u*(a.slope+b.slope-2*d)))
}
