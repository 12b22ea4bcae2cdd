package maxt

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

var inf = math.Inf(1)

func relative(got, want float64) float64 { return math.Abs(got-want) / math.Abs(want) }

// means returns the covariance matrix, but for σ², of independent means of groups
// of the given sizes.
func means(sizes ...float64) *mat.SymDense {
	v := mat.NewSymDense(len(sizes), nil)
	for i, n := range sizes {
		v.SetSym(i, i, 1/n)
	}
	return v
}

// allPairs returns the contrasts of all pairs of k estimates, later minus earlier.
func allPairs(k int) *mat.Dense {
	c := mat.NewDense(k*(k-1)/2, k, nil)
	row := 0
	for i := range k {
		for j := i + 1; j < k; j++ {
			c.Set(row, j, 1)
			c.Set(row, i, -1)
			row++
		}
	}
	return c
}

// toFirst returns the contrasts of k−1 estimates with the first.
func toFirst(k int) *mat.Dense {
	c := mat.NewDense(k-1, k, nil)
	for i := 1; i < k; i++ {
		c.Set(i-1, i, 1)
		c.Set(i-1, 0, -1)
	}
	return c
}

// equal returns the m×m correlation matrix with every correlation rho.
func equal(m int, rho float64) *mat.SymDense {
	s := mat.NewSymDense(m, nil)
	for i := range m {
		s.SetSym(i, i, 1)
		for j := range i {
			s.SetSym(i, j, rho)
		}
	}
	return s
}

func must(d *Dist, err error) *Dist {
	if err != nil {
		panic(err)
	}
	return d
}

// Independent variables with a known scale multiply. The tolerance is the accuracy
// that the package comment states.
func TestUncorrelated(t *testing.T) {
	for _, m := range []int{1, 2, 5, 40} {
		for _, c := range []float64{0.5, 1, 2.5, 4, 8} {
			d := must(New(equal(m, 0), inf, TwoSided, nil))
			over := math.Erfc(c / math.Sqrt2)
			want := -math.Expm1(float64(m) * math.Log1p(-over))
			if got := d.Survival(c); !(relative(got, want) <= 1e-11) {
				t.Errorf("%d variables, two-sided: Survival(%g) = %.15g, want %.15g", m, c, got, want)
			}
			d = must(New(equal(m, 0), inf, OneSided, nil))
			want = math.Pow(1-over/2, float64(m))
			if got := d.CDF(c); !(math.Abs(got-want) <= 1e-11) {
				t.Errorf("%d variables, one-sided: CDF(%g) = %.15g, want %.15g", m, c, got, want)
			}
			want = math.Pow(over/2, float64(m))
			if got := d.CDF(-c); !(math.Abs(got-want) <= 1e-11) {
				t.Errorf("%d variables, one-sided: CDF(%g) = %.15g, want %.15g", m, -c, got, want)
			}
		}
	}
}

// One variable is Student's t, here with 1 and 2 degrees of freedom in closed form.
func TestOneVariable(t *testing.T) {
	for _, c := range []float64{0.1, 1, 7, 1e3, 1e9} {
		r := math.Hypot(c, math.Sqrt2)
		for df, upper := range map[float64]float64{1: math.Atan(1/c) / math.Pi, 2: 1 / (r * (r + c))} {
			one := must(New(equal(1, 0), df, OneSided, nil))
			two := must(New(equal(1, 0), df, TwoSided, nil))
			if !(relative(one.Survival(c), upper) <= 1e-11 && relative(two.Survival(c), 2*upper) <= 1e-11) {
				t.Errorf("df %g: Survival(%g) is %.15g and %.15g, want %.15g and twice that", df, c, one.Survival(c), two.Survival(c), upper)
			}
			if !(relative(one.CDF(-c), upper) <= 1e-11) {
				t.Errorf("df %g: CDF(%g) = %.15g, want %.15g", df, -c, one.CDF(-c), upper)
			}
			// 1−upper is rounded, by 1e-16 of upper, which matters from 1e3 on.
			if c < 1e3 && !(relative(one.Quantile(1-upper), c) <= 1e-11) {
				t.Errorf("df %g: Quantile(%.15g) = %.15g, want %g", df, 1-upper, one.Quantile(1-upper), c)
			}
		}
	}
}

// The chance that no variable is positive does not depend on the scale: 1/(m+1)
// for correlations of 1/2, and 1/8 plus the sum of the arcsines over 4π for three
// variables (Sheppard's theorem).
func TestOrthants(t *testing.T) {
	for _, df := range []float64{0.3, 1, 5, inf} {
		for _, m := range []int{1, 2, 3, 7, 30} {
			d := must(New(equal(m, 0.5), df, OneSided, nil))
			if got, want := d.CDF(0), 1/float64(m+1); !(math.Abs(got-want) <= 1e-11) {
				t.Errorf("%d variables, df %g: CDF(0) = %.15g, want %.15g", m, df, got, want)
			}
		}
		corr := mat.NewSymDense(3, []float64{1, 0.3, -0.4, 0.3, 1, 0.5, -0.4, 0.5, 1})
		d := must(New(corr, df, OneSided, nil))
		want := 0.125 + (math.Asin(0.3)+math.Asin(-0.4)+math.Asin(0.5))/(4*math.Pi)
		if got, se := d.CDF(0), d.StdErr(0); !(math.Abs(got-want) <= 4*se && se <= 1e-4) {
			t.Errorf("three variables, df %g: CDF(0) = %.7f, standard error %.1e, want %.7f", df, got, se, want)
		}
	}
}

// Contrasts that repeat another, or its opposite, change nothing.
func TestRepeatedContrasts(t *testing.T) {
	base := toFirst(4)
	doubled := mat.NewDense(7, 4, nil)
	for i := range 7 {
		for j := range 4 {
			doubled.Set(i, j, base.At(i%3, j)*[]float64{1, 2, -3}[i/3])
		}
	}
	v := means(6, 4, 5, 9)
	a, b := must(FromContrasts(base, v, 12, TwoSided, nil)), must(FromContrasts(doubled, v, 12, TwoSided, nil))
	if !(b.Exact() && relative(b.Survival(2.5), a.Survival(2.5)) <= 1e-12) {
		t.Errorf("Survival(2.5) is %.15g, without repeats %.15g", b.Survival(2.5), a.Survival(2.5))
	}
	// T and −T, one-sided, are |T|.
	opposite := mat.NewSymDense(2, []float64{1, -1, -1, 1})
	one, two := must(New(opposite, 4, OneSided, nil)), must(New(equal(1, 0), 4, TwoSided, nil))
	for _, c := range []float64{0.2, 1, 3} {
		if one.Survival(c) != two.Survival(c) || one.CDF(c) != two.CDF(c) {
			t.Errorf("max(T, −T) and |T| differ at %g", c)
		}
	}
	if one.CDF(-1) != 0 || one.Survival(-1) != 1 || one.CDF(0) != 0 {
		t.Error("max(T, −T) is negative")
	}
}

// The order of the contrasts is irrelevant, up to the standard errors of both.
func TestOrderIrrelevant(t *testing.T) {
	c := allPairs(5)
	m, k := c.Dims()
	shuffled := mat.NewDense(m, k, nil)
	for i, j := range rand.New(rand.NewPCG(5, 5)).Perm(m) {
		shuffled.SetRow(i, mat.Row(nil, j, c))
	}
	v := means(3, 9, 4, 5, 7)
	a, b := must(FromContrasts(c, v, 9, TwoSided, nil)), must(FromContrasts(shuffled, v, 9, TwoSided, nil))
	for _, x := range []float64{1, 2, 3, 5} {
		if diff := math.Abs(a.CDF(x) - b.CDF(x)); !(diff <= 4*math.Hypot(a.StdErr(x), b.StdErr(x))) {
			t.Errorf("CDF(%g) differs by %.1e", x, diff)
		}
	}
}

// The same input gives the same numbers, whatever else differs, and the numbers
// stay what they were when this was written: frozen to 1e-9, as machines may round
// sums differently.
func TestReproducible(t *testing.T) {
	c, v := allPairs(4), means(4, 10, 6, 3)
	a := must(FromContrasts(c, v, 19, TwoSided, nil))
	b := must(FromContrasts(c, v, 19, TwoSided, rand.NewPCG(1, 1)))
	if a.Quantile(0.95) != b.Quantile(0.95) {
		t.Error("no source is not PCG(1, 1)")
	}
	other := must(FromContrasts(c, v, 19, TwoSided, rand.NewPCG(2, 3)))
	diff := math.Abs(other.Quantile(0.95) - a.Quantile(0.95))
	if se := math.Hypot(a.QuantileStdErr(0.95), other.QuantileStdErr(0.95)); diff == 0 || !(diff <= 4*se) {
		t.Errorf("another seed moves the quantile by %.1e, standard error %.1e", diff, se)
	}
	one := must(FromContrasts(c, v, 19, OneSided, nil))
	for _, f := range []struct{ got, want float64 }{
		{a.Quantile(0.95), frozenTwoSided},
		{one.Quantile(0.95), frozenOneSided},
	} {
		if !(math.Abs(f.got-f.want) <= 1e-9) {
			t.Errorf("frozen quantile %.12f, now %.12f", f.want, f.got)
		}
	}
}

// Computed with this package, go1.26 linux/amd64.
const (
	frozenTwoSided = 2.800139052283
	frozenOneSided = 2.487566705764
)

// anyCorrelation draws the correlations of at most 6 contrasts of at most 5 estimates.
func anyCorrelation(t *rapid.T) *mat.SymDense {
	m, r := rapid.IntRange(1, 6).Draw(t, "m"), rapid.IntRange(1, 5).Draw(t, "r")
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 7))
	rows := mat.NewDense(m, r, nil)
	for i := range m {
		var square float64
		for j := range r {
			x := rng.NormFloat64()
			rows.Set(i, j, x)
			square += x * x
		}
		for j := range r {
			rows.Set(i, j, rows.At(i, j)/math.Sqrt(square))
		}
	}
	var s mat.SymDense
	s.SymOuterK(1, rows)
	return &s
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		corr := anyCorrelation(t)
		m := float64(corr.SymmetricDim())
		df := rapid.SampledFrom([]float64{1, 2.5, 3, 10, 1e3, 1e8, inf}).Draw(t, "df")
		sides := rapid.SampledFrom([]Sides{TwoSided, OneSided}).Draw(t, "sides")
		d := must(New(corr, df, sides, nil))
		single := must(New(equal(1, 0), df, sides, nil))

		c := rapid.Float64Range(-4, 8).Draw(t, "c")
		below, above, se := d.CDF(c), d.Survival(c), d.StdErr(c)
		if !(below >= 0 && above >= 0 && math.Abs(below+above-1) <= 1e-11) {
			t.Fatalf("CDF(%g) = %g, Survival %g", c, below, above)
		}
		if next := d.CDF(c + 0.01); !(next >= below-1e-12) {
			t.Fatalf("CDF falls from %.15g to %.15g at %g", below, next, c)
		}
		// One variable alone, and the sum over all, enclose the chance that any is
		// beyond c. 1e-11 is for quadrature; 10 standard errors on 9 degrees of freedom
		// leave one false alarm in 1e5 draws.
		lo, hi := single.Survival(c), m*single.Survival(c)
		if slack := 10*se + 1e-11; !(above >= lo-slack && above <= hi+slack) {
			t.Fatalf("Survival(%g) = %g is not within %g and %g; standard error %.1e", c, above, lo, hi, se)
		}
		p := rapid.Float64Range(0.01, 0.9999).Draw(t, "p")
		// The root is good to 1e-12 of c, hence of p; 1e-10 leaves room for rounding
		// in sums of 1e5 terms.
		if got := d.CDF(d.Quantile(p)); !(math.Abs(got-p) <= 1e-10) {
			t.Fatalf("CDF(Quantile(%g)) = %.15g", p, got)
		}
	})
}

func TestSpecialCases(t *testing.T) {
	nan := math.NaN()
	for _, sides := range []Sides{TwoSided, OneSided} {
		for _, c := range []*Dist{
			must(New(equal(3, 0.5), 5, sides, nil)),                               // one factor
			must(FromContrasts(allPairs(3), means(1, 2, 3), 5, sides, nil)),       // circle
			must(FromContrasts(allPairs(4), means(1, 2, 3, 4), 5, sides, nil)),    // sphere
			must(FromContrasts(allPairs(4), means(1, 2, 3, 4), 1e15, sides, nil)), // as good as a known scale
		} {
			if c.CDF(inf) != 1 || c.CDF(-inf) != 0 || c.Survival(inf) != 0 || c.Survival(-inf) != 1 {
				t.Error("wrong at infinity")
			}
			if !math.IsNaN(c.CDF(nan)) || !math.IsNaN(c.Survival(nan)) {
				t.Error("NaN in, number out")
			}
			if c.Quantile(1) != inf || c.StdErr(inf) != 0 || c.QuantileStdErr(1) != 0 || c.QuantileStdErr(0) != 0 {
				t.Error("wrong at probability 1 or 0")
			}
			if sides == TwoSided && (c.Quantile(0) != 0 || c.CDF(0) != 0 || c.Survival(-2) != 1 || c.StdErr(-2) != 0) {
				t.Error("TwoSided reaches below 0")
			}
			if sides == OneSided && c.Quantile(0) != -inf {
				t.Error("OneSided does not begin at -Inf")
			}
		}
	}
	// Near the smallest float64.
	one := must(New(equal(1, 0), 10, TwoSided, nil))
	if p := one.CDF(1.7e-308); !(p >= 0 && p <= 1e-307) {
		t.Errorf("CDF(1.7e-308) = %g", p)
	}
	sphere := must(FromContrasts(allPairs(4), means(1, 2, 3, 4), 1e15, TwoSided, nil))
	known := must(FromContrasts(allPairs(4), means(1, 2, 3, 4), inf, TwoSided, nil))
	if sphere.Survival(2.5) != known.Survival(2.5) {
		t.Error("1e15 degrees of freedom are not a known scale")
	}
}

func TestErrors(t *testing.T) {
	indefinite := mat.NewSymDense(3, []float64{1, 0.9, -0.9, 0.9, 1, 0.9, -0.9, 0.9, 1})
	if _, err := New(indefinite, 5, TwoSided, nil); err != ErrNotPositive {
		t.Errorf("indefinite matrix: %v", err)
	}
	if _, err := New(mat.NewSymDense(2, []float64{1, math.NaN(), math.NaN(), 1}), 5, TwoSided, nil); err != ErrNotPositive {
		t.Errorf("NaN correlation: %v", err)
	}
	if _, err := New(mat.NewSymDense(2, []float64{1, 2, 2, 1}), 5, TwoSided, nil); err != ErrNotPositive {
		t.Errorf("correlation 2: %v", err)
	}
	if _, err := New(mat.NewSymDense(2, []float64{4, 1, 1, 4}), 5, TwoSided, nil); err != ErrNotCorrelation {
		t.Errorf("covariance matrix: %v", err)
	}
	if _, err := New(mat.NewSymDense(1, []float64{math.NaN()}), 5, TwoSided, nil); err != ErrNotCorrelation {
		t.Errorf("NaN diagonal: %v", err)
	}
	c := toFirst(3)
	c.SetRow(1, []float64{0, 0, 0})
	if _, err := FromContrasts(c, means(1, 2, 3), 5, TwoSided, nil); err != ErrZeroVariance {
		t.Errorf("empty contrast: %v", err)
	}
	// A perfectly correlated pair has a difference without variance.
	twins := mat.NewSymDense(2, []float64{1, 1, 1, 1})
	if _, err := FromContrasts(toFirst(2), twins, 5, TwoSided, nil); err != ErrZeroVariance {
		t.Errorf("difference of twins: %v", err)
	}
	negative := mat.NewSymDense(2, []float64{1, 3, 3, 1})
	c.SetRow(1, []float64{math.NaN(), 0, 0})
	if _, err := FromContrasts(c, means(1, 2, 3), 5, TwoSided, nil); err != ErrNotPositive {
		t.Errorf("NaN contrast: %v", err)
	}
	if _, err := FromContrasts(toFirst(2), negative, 5, TwoSided, nil); err != ErrNotPositive {
		t.Errorf("negative variance: %v", err)
	}
}

func TestPanics(t *testing.T) {
	good := must(New(equal(3, 0.5), 5, TwoSided, nil))
	for _, c := range []struct {
		want string
		call func()
	}{
		{badDF, func() { _, _ = New(equal(3, 0.5), 0, TwoSided, nil) }},
		{badDF, func() { _, _ = New(equal(3, 0.5), math.NaN(), TwoSided, nil) }},
		{badSides, func() { _, _ = New(equal(3, 0.5), 5, Sides(2), nil) }},
		{noContrast, func() { _, _ = New(&mat.SymDense{}, 5, TwoSided, nil) }},
		{noContrast, func() { _, _ = FromContrasts(&mat.Dense{}, means(1, 2), 5, TwoSided, nil) }},
		{badShape, func() { _, _ = FromContrasts(toFirst(3), means(1, 2), 5, TwoSided, nil) }},
		{badProbability, func() { good.Quantile(-0.1) }},
		{badProbability, func() { good.Quantile(math.NaN()) }},
		{badProbability, func() { good.QuantileStdErr(2) }},
	} {
		func() {
			defer func() {
				if got := recover(); got != c.want {
					t.Errorf("panic %v, want %q", got, c.want)
				}
			}()
			c.call()
		}()
	}
}
