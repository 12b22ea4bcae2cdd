package quad

import (
	"math"
	"testing"
)

// The density of log s integrates to 1, and E[s²] = 1: ν s² is chi-squared with ν
// degrees of freedom. Both by the trapezoidal rule, which is exact to rounding for
// such integrands.
func TestLogChiMoments(t *testing.T) {
	for _, df := range []float64{0.5, 1, 2, 3.7, 10, 20, 21, 1000, 1e6} {
		c := NewLogChi(df)
		h := 0.02 / math.Sqrt(1+df)
		total, square := 0.0, 0.0
		for x := -30.0 / min(df, 1); x < 3; x += h {
			// Beyond 12 standard deviations of log s the density is below 1e-30.
			if math.Abs(x) > 60/math.Sqrt(df) && df > 100 {
				continue
			}
			d := c.Density(x) * h
			total += d
			square += d * math.Exp(2*x)
		}
		if math.Abs(total-1) > 1e-10 || math.Abs(square-1) > 1e-10 {
			t.Errorf("df %g: total %.12f, E[s²] %.12f", df, total, square)
		}
	}
}

func TestIncreasingRoot(t *testing.T) {
	for _, c := range []struct {
		name    string
		f       func(float64) float64
		x, root float64
	}{
		{"line", func(x float64) float64 { return x - 3 }, 0, 3},
		{"from above", func(x float64) float64 { return x - 3 }, 10, 3},
		{"at the start", func(x float64) float64 { return x }, 0, 0},
		{"exponential", func(x float64) float64 { return math.Exp(x) - 2 }, -5, math.Ln2},
		{"flat ends", func(x float64) float64 { return math.Tanh(x - 7) }, 0, 7},
		{"cube", func(x float64) float64 { return x*x*x - 8 }, 100, 2},
	} {
		if got := IncreasingRoot(c.f, c.x, 0.25); math.Abs(got-c.root) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.name, got, c.root)
		}
	}
	if got := IncreasingRoot(func(float64) float64 { return math.NaN() }, 0, 1); !math.IsNaN(got) {
		t.Errorf("of NaN: %v", got)
	}
}

// Expected: R 4.2.2, sprintf("%.15g", pnorm(x)). Intervals are compared with
// differences where nothing cancels; the narrow one with φ(3)·2e-8, its first-order
// value, φ(3) = 0.00443184841193801 by R's dnorm.
func TestNormal(t *testing.T) {
	for _, c := range []struct{ got, want, rel float64 }{
		{NormalBelow(0), 0.5, 1e-15},
		{NormalBelow(-10), 7.61985302416053e-24, 1e-13},
		{NormalBelow(1.96), 0.97500210485178, 1e-13},
		{NormalBetween(0, 1), 0.682689492137086, 1e-13},
		{NormalBetween(5, 1), NormalBelow(-4) - NormalBelow(-6), 1e-12},
		{NormalBetween(-5, 1), NormalBelow(-4) - NormalBelow(-6), 1e-12},
		{NormalBetween(3, 1e-8), 0.00443184841193801 * 2e-8, 1e-13},
		{NormalBetween(0.5, 0.25), NormalBelow(0.75) - NormalBelow(0.25), 1e-13},
	} {
		if math.Abs(c.got-c.want) > c.rel*c.want {
			t.Errorf("got %.16g, want %.16g", c.got, c.want)
		}
	}
}
