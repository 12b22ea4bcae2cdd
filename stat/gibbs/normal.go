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

// logBounds is the log probability that independent normals with mean x and
// standard deviation 1/inv lie in [lo[i], hi[i]]. An empty hi stands for +Inf
// throughout, which is quick.
func logBounds(lo, hi []float64, x, inv float64) float64 {
	sum := 0.0
	if len(hi) > 0 {
		for i := range lo {
			sum += math.Log(intervalProb((lo[i]-x)*inv, (hi[i]-x)*inv))
		}
		return sum
	}
	for _, l := range lo {
		z := (x - l) * inv
		if !(z >= quickLeast) {
			sum += math.Log(normalCDF(z))
		} else if z < quickMost {
			s := (z - quickLeast) * quickSteps
			i := int(s)
			u := s - float64(i)
			a, b := &quickTable[i], &quickTable[i+1]
			d := b.value - a.value
			sum += a.value + u*(a.slope+u*((3*d-2*a.slope-b.slope)+u*(a.slope+b.slope-2*d)))
		}
	}
	return sum
}

// Table of log Φ, which is asked for hundreds of times a draw: values and slopes at
// the knots from quickLeast on. Cubic Hermite interpolation between them is wrong
// by less than 1e-10. Below the table stands the logarithm itself, above it 0.
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
