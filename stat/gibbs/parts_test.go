package gibbs

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The mean and variance of a truncated normal in closed form: with Z the
// probability of [a, b], the mean is (φ(a) − φ(b))/Z and the variance
// 1 + (aφ(a) − bφ(b))/Z − mean² (Johnson, Kotz and Balakrishnan, Continuous
// Univariate Distributions 1, 2nd ed., section 10.1).
func TestTruncatedNormalMoments(t *testing.T) {
	inf := math.Inf(1)
	phi := func(x float64) float64 {
		if math.IsInf(x, 0) {
			return 0
		}
		return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi)
	}
	times := func(x float64) float64 {
		if math.IsInf(x, 0) {
			return 0
		}
		return x * phi(x)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range [][2]float64{
		{-inf, inf}, {-3, inf}, {0, inf}, {0.66, inf}, {0.68, inf}, {3, inf}, {6, inf},
		{-inf, 0}, {-inf, -2}, {-1, 1}, {-0.2, 0.3}, {1, 1.5}, {2, 5}, {-5, -2}, {-4, 0.5}, {4, 4.1}, {-0.5, 3},
	} {
		a, b := c[0], c[1]
		z := intervalProb(a, b)
		mean := (phi(a) - phi(b)) / z
		variance := 1 + (times(a)-times(b))/z - mean*mean
		const n = 200_000
		x := make([]float64, n)
		for i := range x {
			if x[i] = truncNormal(a, b, rng); x[i] < a || x[i] > b {
				t.Fatalf("[%g, %g]: drew %g", a, b, x[i])
			}
		}
		m, v := moments(x)
		// Five standard errors; that of the variance is at most √(8/n) of it for
		// these shapes, whose kurtosis is at most that of the exponential, 9.
		if math.Abs(m-mean) > 5*math.Sqrt(variance/n) || math.Abs(v-variance) > 5*variance*math.Sqrt(8.0/n) {
			t.Errorf("[%g, %g]: mean %.5f, want %.5f; variance %.5f, want %.5f", a, b, m, mean, v, variance)
		}
	}
}

func TestTruncatedNormalOfNoNumber(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	if x := truncNormal(math.NaN(), math.Inf(1), rng); !math.IsNaN(x) {
		t.Errorf("drew %v above NaN", x)
	}
	if x := truncNormal(math.Inf(1), math.Inf(1), rng); !math.IsInf(x, 1) {
		t.Errorf("drew %v above +Inf", x)
	}
}

func TestSliceKeepsTheDensity(t *testing.T) {
	// A gamma density with shape 3 and rate 2 has mean 3/2 and variance 3/4.
	rng := rand.New(rand.NewPCG(5, 6))
	logf := func(x float64) float64 {
		if x <= 0 {
			return math.Inf(-1)
		}
		return 2*math.Log(x) - 2*x
	}
	for _, width := range []float64{0.3, 2, 20} {
		const n = 300_000
		x, square := make([]float64, n), make([]float64, n)
		at := 1.0
		for i := range x {
			at = slice(at, width, logf, rng)
			x[i], square[i] = at, (at-1.5)*(at-1.5)
		}
		m, v := moments(x)
		v2, spread := moments(square)
		// Five standard errors, from the effective sizes of the draws and of their
		// squared distances.
		if math.Abs(m-1.5) > 5*math.Sqrt(v/ESSMean(x, 1)) || math.Abs(v2-0.75) > 5*math.Sqrt(spread/ESSMean(square, 1)) {
			t.Errorf("width %g: mean %.4f, variance %.4f, want 1.5 and 0.75", width, m, v2)
		}
	}
}

func TestChiSquared(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, df := range []float64{2, 3, 10, 500} {
		const n = 100_000
		x := make([]float64, n)
		for i := range x {
			x[i] = chiSquared(df, rng)
		}
		m, v := moments(x)
		// Mean df, variance 2 df, fourth central moment 12 df (df + 4).
		if math.Abs(m-df) > 5*math.Sqrt(2*df/n) || math.Abs(v-2*df) > 5*math.Sqrt((12*df*(df+4)-4*df*df)/n) {
			t.Errorf("df %g: mean %.3f, variance %.3f", df, m, v)
		}
	}
}

// A Student t prior predicts one more member of a normal population: the density
// of Learned is compared with its closed form at K = 2 by hand. With values 1 and
// 2, S = 1/2, DF 4, Scale 0.4: s² = (4·0.16 + 0.5)/5 = 0.228, centre 1.5, scale
// √(0.228·1.5) = 0.58481, 5 degrees of freedom.
func TestLearnedDensity(t *testing.T) {
	p := Learned{Cells: []int{2}, From: []int{0, 1}, DF: 4, Scale: 0.4}
	at := func(p *Learned, mu ...float64) float64 { return p.logDensity(p.spread(mu), mu) }
	got := at(&p, 1, 2, 2.5) - at(&p, 1, 2, 1.5)
	want := -3 * math.Log1p(1/(0.228*1.5)/5)
	if math.Abs(got-want) > 1e-12 {
		t.Errorf("log density ratio %v, want %v", got, want)
	}
	// The scale is part of it: 1 and 2 against 1 and 3 (S = 2, s² = 0.528, centre 2).
	got = at(&p, 1, 2, 1.5) - at(&p, 1, 3, 2)
	want = 0.5 * math.Log(0.528/0.228)
	if math.Abs(got-want) > 1e-12 {
		t.Errorf("log density ratio at the centres %v, want %v", got, want)
	}
	moved := p.spread([]float64{1, 2, 0}).replaced(2, 3)
	direct := p.spread([]float64{1, 3, 0})
	if math.Abs(moved.sum-direct.sum) > 1e-15 || math.Abs(moved.squares-direct.squares) > 1e-15 {
		t.Errorf("spread after a change %v, want %v", moved, direct)
	}
	empty := Learned{Cells: []int{0}, DF: 4, Scale: 0.4, Center: 1}
	got = at(&empty, 2) - at(&empty, 1)
	want = -2.5 * math.Log1p(1/(0.16*2)/4)
	if math.Abs(got-want) > 1e-12 {
		t.Errorf("without other cells: log density ratio %v, want %v", got, want)
	}
}

func TestLogBounds(t *testing.T) {
	for x := -37.0; x <= 12; x += 0.00371 {
		got, want := logBounds([]float64{0}, nil, x, 1), math.Log(normalCDF(x))
		if math.Abs(got-want) > 1e-10 {
			t.Fatalf("log Φ(%g) = %.15g, want %.15g", x, got, want)
		}
	}
	inf := math.Inf(1)
	lo, hi := []float64{1, -inf, 2, 0.5}, []float64{inf, 3, 2.5, inf}
	want := 0.0
	for i := range lo {
		want += math.Log(intervalProb((lo[i]-1.5)/0.7, (hi[i]-1.5)/0.7))
	}
	if got := logBounds(lo, hi, 1.5, 1/0.7); math.Abs(got-want) > 1e-12 {
		t.Errorf("intervals: %v, want %v", got, want)
	}
	if got := logBounds([]float64{1, 2}, nil, 1.5, 1/0.7); math.Abs(got-logBounds([]float64{1, 2}, []float64{inf, inf}, 1.5, 1/0.7)) > 1e-9 {
		t.Errorf("lower bounds: %v by table, otherwise as intervals", got)
	}
}

func TestSorted(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, n := range []int{0, 1, 10, 499, 500, 20_000} {
		x := make([]float64, n)
		for i := range x {
			switch i % 4 {
			case 0:
				x[i] = rng.NormFloat64()
			case 1:
				x[i] = math.Round(3 * rng.NormFloat64()) // ties, 0 and −0
			case 2:
				x[i] = -math.Exp(50 * rng.NormFloat64())
			case 3:
				x[i] = math.Inf(rng.IntN(2)*2 - 1)
			}
		}
		want := slices.Clone(x)
		slices.Sort(want)
		if got := sorted(x); !slices.Equal(got, want) {
			t.Fatalf("%d values not sorted", n)
		}
		order := ascending(x)
		for i := 1; i < n; i++ {
			if x[order[i].at] == x[order[i-1].at] && order[i].at < order[i-1].at {
				t.Fatalf("%d values: equal ones change places", n)
			}
		}
	}
}

func BenchmarkSorted(b *testing.B) {
	rng := rand.New(rand.NewPCG(3, 3))
	x := make([]float64, 40_000)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	b.Run("digits", func(b *testing.B) {
		for b.Loop() {
			sorted(x)
		}
	})
	b.Run("comparing", func(b *testing.B) {
		for b.Loop() {
			slices.Sort(slices.Clone(x))
		}
	})
}
