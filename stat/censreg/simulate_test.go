package censreg

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// Ordinary data, groups of a few observations with lower bounds among them: the
// fit is there whenever every group has an exact observation and some scatter is
// left, and otherwise the error names the groups that have none.
func TestOrdinaryData(t *testing.T) {
	rnd := rand.New(rand.NewPCG(20, 26))
	fits, unbounded, most := 0, 0, 0
	for range 2000 {
		groups, size := 2+rnd.IntN(6), 2+rnd.IntN(7)
		n := groups * size
		room := 0.4*rnd.Float64() - 0.1
		x := mat.NewDense(n, groups, nil)
		lo, hi := make([]float64, n), make([]float64, n)
		exacts := make([]int, groups)
		for i := range n {
			g := i % groups
			x.Set(i, g, 1)
			y := 2 + 0.1*float64(g%3) + 0.2*rnd.NormFloat64()
			limit := 2.1 + room + 0.15*rnd.NormFloat64()
			lo[i], hi[i] = y, y
			if y > limit {
				lo[i], hi[i] = limit, math.Inf(1)
			} else {
				exacts[g]++
			}
		}
		var none []int
		for g, m := range exacts {
			if m == 0 {
				none = append(none, g)
			}
		}
		d := bothDistributions[rnd.IntN(2)]
		f, err := Regress(x, lo, hi, d, nil)
		var e *UnboundedError
		switch {
		case len(none) == groups:
			if !errors.Is(err, ErrNoExact) {
				t.Fatalf("%v, want ErrNoExact", err)
			}
		case len(none) > 0:
			if !errors.As(err, &e) || !slices.Equal(e.Columns, none) || len(e.Rows) != size*len(none) {
				t.Fatalf("%v, want columns %v", err, none)
			}
			unbounded++
		case slices.Max(exacts) == 1 && errors.Is(err, ErrPerfectFit):
			// One exact observation in each group, and every bound below it.
		case err != nil:
			t.Fatalf("exact observations %v: %v", exacts, err)
		default:
			fits++
			most = max(most, f.Iterations)
		}
	}
	if fits < 500 || unbounded < 200 {
		t.Errorf("%d fits, %d without estimate: not much was tested", fits, unbounded)
	}
	if most > 12 {
		t.Errorf("up to %d iterations", most)
	}
	t.Logf("%d fits, at most %d iterations; %d without estimate", fits, most, unbounded)
}

// The estimates are close to the truth in a large sample.
func TestRecovery(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	const n, sigma = 20000, 0.3
	truth := []float64{2, 2.2, 0.1}
	x := mat.NewDense(n, 3, nil)
	lo, hi := make([]float64, n), make([]float64, n)
	for _, d := range bothDistributions {
		for i := range n {
			u := rnd.NormFloat64()
			x.SetRow(i, []float64{float64(i % 2), float64(1 - i%2), u})
			w := rnd.NormFloat64()
			if d == SmallestExtreme {
				w = math.Log(rnd.ExpFloat64())
			}
			y := dot(x.RawRowView(i), truth) + sigma*w
			lo[i], hi[i] = y, y
			switch i % 7 {
			case 0, 1:
				if limit := 2 + 0.2*rnd.NormFloat64(); y > limit {
					lo[i], hi[i] = limit, math.Inf(1)
				}
			case 2:
				if limit := 2 + 0.2*rnd.NormFloat64(); y < limit {
					lo[i], hi[i] = math.Inf(-1), limit
				}
			case 3:
				lo[i], hi[i] = math.Floor(4*y)/4, math.Floor(4*y)/4+0.25
			}
		}
		f := fitOrFail(t, x, lo, hi, d, nil)
		// Four standard errors: a chance of 6e-5 for each of eight numbers, and
		// the seed is fixed.
		for j, v := range truth {
			if math.Abs(f.Coef[j]-v) > 4*f.StdErr[j] || f.StdErr[j] > 0.01 {
				t.Errorf("%v: coefficient %d is %.4f ± %.4f, true %v", d, j, f.Coef[j], f.StdErr[j], v)
			}
		}
		if math.Abs(math.Log(f.Scale/sigma)) > 4*f.StdErr[3] {
			t.Errorf("%v: scale %.4f ± %.4f, true %v", d, f.Scale, f.Scale*f.StdErr[3], sigma)
		}
	}
}

// One value far above 50 000 others. Under the extreme-value distribution the
// likelihood starts at -exp(224), the square root of n being the most standard
// deviations that one value can be out; a Newton step takes 1 off the exponent.
func TestOutlier(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	const n = 50000
	x, y := mat.NewDense(n, 1, nil), make([]float64, n)
	for i := range n {
		x.Set(i, 0, 1)
		y[i] = rnd.NormFloat64()
	}
	y[n/2] = 1e6
	f := fitOrFail(t, x, y, y, SmallestExtreme, nil)
	if f.Iterations > 30 {
		t.Errorf("%d iterations", f.Iterations)
	}
}
