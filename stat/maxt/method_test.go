package maxt

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"bondtrial/stat/internal/quad"
)

// rowsOf returns the factor of a correlation matrix and its products.
func rowsOf(t *testing.T, corr mat.Symmetric) (rows, rho [][]float64) {
	t.Helper()
	rows, err := factorise(corr)
	if err != nil {
		t.Fatal(err)
	}
	return rows, correlations(rows)
}

// Two variables of any correlation are of rank 2 and of one-factor form: two
// quadratures that share nothing give one answer, to the sum of their tolerances.
func TestCircleAndOneFactorAgree(t *testing.T) {
	for _, rho := range []float64{-0.99, 0, 0.6} {
		corr := mat.NewSymDense(2, []float64{1, rho, rho, 1})
		rows, products := rowsOf(t, corr)
		b, ok := oneFactorLoads(products)
		if !ok {
			t.Fatalf("correlation %g is not one factor", rho)
		}
		for _, df := range []float64{0.5, 3.7, inf} {
			for _, sides := range []Sides{TwoSided, OneSided} {
				circle, factor := newCircle(rows, df, sides), newOneFactor(b, df, sides)
				for _, c := range []float64{-6, -0.3, -1e-7, 0, 1e-10, 1e-6, 0.001, 1, 15} {
					if sides == TwoSided && c <= 0 {
						continue
					}
					// Lower tails far below 0 are good to 1e-10 in all only.
					tol := 1e-10
					if x := circle.cdf(c); c > 0 {
						tol *= x
					}
					if x, y := circle.cdf(c), factor.cdf(c); !(math.Abs(x-y) <= tol) {
						t.Errorf("rho %g, df %g, sides %d: cdf(%g) is %.14g and %.14g", rho, df, sides, c, x, y)
					}
					if x, y := circle.survival(c), factor.survival(c); !(relative(x, y) <= 1e-10) {
						t.Errorf("rho %g, df %g, sides %d: survival(%g) is %.14g and %.14g", rho, df, sides, c, x, y)
					}
				}
			}
		}
	}
}

// The sphere agrees with both quadratures where those apply, within 4.5 of its
// standard errors in some 200 comparisons, and 1e-8 for its bins.
func TestSphereAgainstQuadrature(t *testing.T) {
	pairs := must(FromContrasts(allPairs(3), means(2, 9, 5), 1, TwoSided, nil))
	if _, ok := pairs.law.(circle); !ok {
		t.Fatal("three groups are not a circle")
	}
	threePairs, err := contrastCorrelation(allPairs(3), means(2, 9, 5))
	if err != nil {
		t.Fatal(err)
	}
	control, err := contrastCorrelation(toFirst(5), means(20, 3, 3, 15, 6))
	if err != nil {
		t.Fatal(err)
	}
	for name, corr := range map[string]*mat.SymDense{"pairs": threePairs, "control": control, "independent": equal(4, 0)} {
		rows, rho := rowsOf(t, corr)
		for _, sides := range []Sides{TwoSided, OneSided} {
			for _, df := range []float64{1, 2.5, inf} {
				sample := newSphere(rows, rho, df, sides, rand.New(rand.NewPCG(3, 1)))
				var exact law = newCircle(rows, df, sides)
				if name != "pairs" {
					b, ok := oneFactorLoads(rho)
					if !ok {
						t.Fatalf("%s is not one factor", name)
					}
					exact = newOneFactor(b, df, sides)
				}
				for _, c := range []float64{-5, -2, -0.5, -0.01, 0, 0.01, 0.5, 1, 2, 2.5, 3, 4, 5} {
					if sides == TwoSided && c <= 0 {
						continue
					}
					got, want, se := sample.survival(c), exact.survival(c), sample.stdErr(c)
					if !(math.Abs(got-want) <= 4.5*se+1e-8) {
						t.Errorf("%s, df %g, sides %d: survival(%g) is %.9f, standard error %.1e, want %.9f", name, df, sides, c, got, se, want)
					}
				}
			}
		}
	}
}

// The standard errors are honest: over 25 seeds the differences from the exact
// value are as large as they say. The mean of 25 squares of t ratios on 9
// degrees of freedom has the mean 9/7 and the standard deviation 0.46; the limits
// are 2.4 of these above and below.
func TestStandardErrorIsHonest(t *testing.T) {
	control, err := contrastCorrelation(toFirst(5), means(20, 3, 3, 15, 6))
	if err != nil {
		t.Fatal(err)
	}
	rows, rho := rowsOf(t, control)
	b, _ := oneFactorLoads(rho)
	exact := newOneFactor(b, 10, TwoSided)
	points := []float64{1, 2.7, 6}
	squares := make([]float64, len(points))
	for seed := range uint64(25) {
		sample := newSphere(rows, rho, 10, TwoSided, rand.New(rand.NewPCG(seed, 9)))
		for i, c := range points {
			d := (sample.survival(c) - exact.survival(c)) / sample.stdErr(c)
			squares[i] += d * d / 25
		}
	}
	for i, mean := range squares {
		if !(mean > 0.2 && mean < 2.4) {
			t.Errorf("at %g the mean square of difference over standard error is %.2f", points[i], mean)
		}
	}
}

func TestFactorise(t *testing.T) {
	corr, err := contrastCorrelation(allPairs(6), means(3, 8, 4, 6, 5, 5))
	if err != nil {
		t.Fatal(err)
	}
	rows, _ := rowsOf(t, corr)
	if len(rows[0]) != 5 {
		t.Fatalf("rank %d, want 5", len(rows[0]))
	}
	for i := range rows {
		for j := range rows {
			// Five products, each rounded.
			if !(math.Abs(dot(rows[i], rows[j])-corr.At(i, j)) <= 1e-14) {
				t.Errorf("entry %d, %d is off by %.1e", i, j, dot(rows[i], rows[j])-corr.At(i, j))
			}
		}
	}
}

func TestOneFactorLoads(t *testing.T) {
	form := func(b []float64) [][]float64 {
		rho := make([][]float64, len(b))
		for i := range b {
			rho[i] = make([]float64, len(b))
			for j := range b {
				rho[i][j] = b[i] * b[j]
			}
			rho[i][i] = 1
		}
		return rho
	}
	for _, want := range [][]float64{
		{0.5}, {0.3, -0.8}, {0, 0, 0}, {0.7, 0, 0.2, 0}, {0, 0.9, -0.4}, {-0.6, 0.7, -0.8, 0.1}, {0.5, 0.5, 0.5},
	} {
		rho := form(want)
		got, ok := oneFactorLoads(rho)
		if !ok {
			t.Errorf("%v not recognised", want)
			continue
		}
		for i := range got {
			for j := range i {
				if !(math.Abs(got[i]*got[j]-rho[i][j]) <= 1e-14) {
					t.Errorf("%v: loads %v", want, got)
				}
			}
		}
	}
	for _, bad := range [][][]float64{
		{{1, 0.3, -0.4}, {0.3, 1, 0.5}, {-0.4, 0.5, 1}},                                // product negative
		{{1, 0.9, 0.9}, {0.9, 1, 0.63}, {0.9, 0.63, 1}},                                // b² above 1
		{{1, 0.9, 0, 0}, {0.9, 1, 0, 0}, {0, 0, 1, 0.5}, {0, 0, 0.5, 1}},               // two blocks
		{{1, .5, .5, .5}, {.5, 1, .5, .5}, {.5, .5, 1, .4}, {.5, .5, .4, 1}},           // one entry off
		{{1, 0.999999, 0.5}, {0.999999, 1, 0.5000001}, {0.5, 0.5000001, 1}},            // b² too near 1
		{{1, 0.5, 0.25 + 1e-8}, {0.5, 1, 0.5}, {0.25 + 1e-8, 0.5, 1.0000000000000002}}, // b² of 1
	} {
		if got, ok := oneFactorLoads(bad); ok {
			t.Errorf("%v recognised, loads %v", bad, got)
		}
	}
}

// A sum over bins is exact for cubics in the square root of the value.
func TestBins(t *testing.T) {
	b := newBins()
	cubic := func(v float64) float64 { x := math.Sqrt(v); return 1 + x*(2+x*(-3+x*4)) }
	rng := rand.New(rand.NewPCG(8, 8))
	var want float64
	for i := range 1000 {
		v, w := rng.Float64(), rng.Float64()
		if i < 4 {
			v = []float64{0, 1, 1e-9, 1 - 1e-12}[i]
		}
		b.add(v, w)
		want += w * cubic(v)
	}
	var got float64
	for i, w := range b {
		got += w * cubic(binAt(i))
	}
	// A thousand terms of order 1.
	if !(relative(got, want) <= 1e-12) {
		t.Errorf("sum %.15g, want %.15g", got, want)
	}
}

// The chi table against the distribution function on 9 degrees of freedom, in the
// closed form for odd numbers,
//
//	P(ξ > x) = erfc(x/√2) + √(2/π) exp(−x²/2) (x + x³/3 + x⁵/15 + x⁷/105)
func TestChiTable(t *testing.T) {
	table := newChiTable()
	for z := -6.0; z <= 6; z += 0.37 {
		x := table.quantile(z)
		over := math.Erfc(x/math.Sqrt2) + math.Sqrt(2/math.Pi)*math.Exp(-x*x/2)*(x+math.Pow(x, 3)/3+math.Pow(x, 5)/15+math.Pow(x, 7)/105)
		density := math.Sqrt(2/math.Pi) * math.Pow(x, 8) / 105 * math.Exp(-x*x/2)
		// The error of x is that of the probability over the density. Below z = −2
		// the closed form cancels, to 1e-16 over the density.
		if diff := (over - quad.NormalBelow(-z)) / density; !(math.Abs(diff) <= 1e-7+1e-15/density) {
			t.Errorf("quantile at %g is off by %.1e", z, diff)
		}
	}
}

// The stored vector begins as the search in lattice_test.go finds it; the rest was
// found the same way, by searchLattice(len(latticeVector)).
func TestLatticeVector(t *testing.T) {
	for i, z := range searchLattice(8) {
		if z != latticeVector[i] {
			t.Errorf("component %d is %d, search finds %d", i, latticeVector[i], z)
		}
	}
}

func BenchmarkFifteenContrasts(b *testing.B) {
	c, v := allPairs(6), means(3, 8, 4, 6, 5, 5)
	for b.Loop() {
		must(FromContrasts(c, v, 25, TwoSided, nil)).Quantile(0.95)
	}
}

func BenchmarkControl(b *testing.B) {
	c, v := toFirst(6), means(3, 8, 4, 6, 5, 5)
	for b.Loop() {
		must(FromContrasts(c, v, 25, TwoSided, nil)).Quantile(0.95)
	}
}
