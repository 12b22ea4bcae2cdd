package censreg

import (
	"math"
	"math/big"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
)

func TestTails(t *testing.T) {
	// Expected values: mpmath, testdata/tails.py (versions in tails.csv).
	//
	// A value is good to 5e-15, some 20 units in the last place, and on the far
	// side, where it is a tiny complement, to z²·2⁻⁵² as well, the rounding of
	// the argument of erfc. (log h)' is a difference and good to that share of h.
	const tol = 5e-15
	count := 0
	for _, row := range readCSV(t, "tails.csv") {
		if row["what"] == "interval" {
			continue
		}
		count++
		d := Normal
		if row["d"] == "e" {
			d = SmallestExtreme
		}
		z := number(t, row["z"])
		value, hazard, slope := d.logUpper(z)
		if row["what"] == "lower" {
			value, hazard, slope = d.logLower(z)
		}
		want := [3]float64{number(t, row["v1"]), number(t, row["v2"]), number(t, row["v3"])}
		for i, got := range [3]float64{value, hazard, slope} {
			limit := (tol + z*z*0x1p-52) * math.Abs(want[i])
			if i == 2 {
				limit = tol * max(math.Abs(want[2]), math.Abs(want[1]))
			}
			if math.Abs(want[i]) < 1e-300 {
				limit = 1e-300 // beyond the smallest normal float64
			}
			if !(math.Abs(got-want[i]) <= limit) {
				t.Errorf("%s %v z = %v, value %d: %.17g, want %.17g", row["what"], d, z, i+1, got, want[i])
			}
		}
	}
	if count < 55 {
		t.Fatalf("only %d rows", count)
	}
}

func TestIntervals(t *testing.T) {
	// Expected values: mpmath, testdata/tails.py (versions in tails.csv).
	//
	// 2e-13 of the value itself for log P and d/ds, and for the others of the
	// terms that make them up, powers of the end that matters: an interval that
	// is just too wide for quadrature loses a digit or two in the difference of
	// distribution functions.
	const tol = 2e-13
	count := 0
	for _, row := range readCSV(t, "tails.csv") {
		if row["what"] != "interval" {
			continue
		}
		count++
		d := Normal
		if row["d"] == "e" {
			d = SmallestExtreme
		}
		z := span{lo: number(t, row["z"]), hi: number(t, row["zh"])}
		lo, _ := new(big.Rat).SetString(row["z"])
		hi, _ := new(big.Rat).SetString(row["zh"])
		z.width, _ = hi.Sub(hi, lo).Float64() // of the decimals, as Regress keeps it of the data
		o := d.observe(interval, z, z)
		got := [6]float64{o.logp, o.g0, o.g1, o.h00, o.h01, o.h11}
		far := max(math.Abs(z.lo), math.Abs(z.hi))
		if far > 20 {
			far = min(math.Abs(z.lo), math.Abs(z.hi)) // the end that matters
		}
		if d == SmallestExtreme && z.lo > 20 {
			far = math.Exp(z.hi) // the hazard, whose squares cancel
		}
		size := [6]float64{1, 1, far * far, 1 + far*far, 1 + far*far*far, 1 + far*far*far*far}
		for i := range got {
			want := number(t, row["v"+string(rune('1'+i))])
			if !(math.Abs(got[i]-want) <= tol*max(math.Abs(want), size[i])) {
				t.Errorf("%v [%v, %v] value %d: %.17g, want %.17g", d, z.lo, z.hi, i+1, got[i], want)
			}
		}
	}
	if count != 35 {
		t.Fatalf("%d rows, want 35", count)
	}
}

// Both ways of computing an interval agree where one hands over to the other.
func TestIntervalRoutesAgree(t *testing.T) {
	for _, d := range []Distribution{Normal, SmallestExtreme} {
		for _, lo := range []float64{-6, -2, -0.5, 0, 0.3, 1, 2, 3} {
			_, slope, _ := d.logDensity(lo)
			width := 0.9 * narrow / (1 + math.Abs(slope))
			z := span{lo, lo + width, width}
			a, b := d.narrowInterval(z, z), d.wideInterval(z, z)
			// The wide route divides by a probability that is 0.2 of its terms,
			// and its second derivatives by the square of that; in the lower tail
			// of the extreme-value distribution they are differences of numbers
			// of size 1/width².
			limit := 1e-13 * (1 + lo*lo) / (width * width)
			for i, pair := range [][2]float64{
				{a.logp, b.logp}, {a.g0, b.g0}, {a.g1, b.g1}, {a.h00, b.h00}, {a.h01, b.h01}, {a.h11, b.h11},
			} {
				if math.Abs(pair[0]-pair[1]) > limit {
					t.Errorf("%v [%v, +%v] value %d: %.15g narrow, %.15g wide", d, lo, width, i, pair[0], pair[1])
				}
			}
		}
	}
}

// The analytic derivatives of sums against central differences of the value.
func TestDerivatives(t *testing.T) {
	s := load(t, "mix") // exact, lower, upper and interval observations with weights
	lo, hi, _ := s.logs()
	x := s.design("covariate")
	data, err := newSample(x, lo, hi, &Options{Weights: s.wgt})
	if err != nil {
		t.Fatal(err)
	}
	z, err := data.standardise(0)
	if err != nil {
		t.Fatal(err)
	}
	p := z.p
	for _, d := range []Distribution{Normal, SmallestExtreme} {
		for _, logScale := range []bool{false, true} {
			// at turns the coordinates that the derivatives belong to into (δ, γ).
			at := func(theta []float64) []float64 {
				v := append([]float64(nil), theta...)
				if logScale {
					v[p] = math.Exp(-theta[p])
					for j := range p {
						v[j] *= v[p]
					}
				}
				return v
			}
			theta := []float64{0.2, -0.1, 0.3, 0.15, 0.8}
			grad, hess := make([]float64, p+1), make([]float64, (p+1)*(p+1))
			z.sums(d, at(theta), grad, hess, logScale)

			// Central differences with steps of 1e-4 are off by h²·f‴/6, about
			// 1e-6 with f‴ of the order of the total weight, 100, and by
			// rounding, 1e-16·100/h = 1e-10.
			const tol = 2e-5
			settings := &fd.Settings{Formula: fd.Central, Step: 1e-4}
			value := func(theta []float64) float64 { return z.sums(d, at(theta), nil, nil, false) }
			for j, want := range fd.Gradient(nil, value, theta, settings) {
				if math.Abs(grad[j]-want) > tol {
					t.Errorf("%v logScale %v: gradient %d is %.10g, differences give %.10g", d, logScale, j, grad[j], want)
				}
			}
			jacobian := mat.NewDense(p+1, p+1, nil)
			fd.Jacobian(jacobian, func(g, theta []float64) {
				z.sums(d, at(theta), g, make([]float64, len(hess)), logScale)
			}, theta, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-4})
			for j := range p + 1 {
				for k := j; k <= p; k++ {
					got := hess[j*(p+1)+k]
					if math.Abs(got-jacobian.At(j, k)) > tol || math.Abs(got-jacobian.At(k, j)) > tol {
						t.Errorf("%v logScale %v: Hessian %d,%d is %.10g, differences give %.10g",
							d, logScale, j, k, got, jacobian.At(j, k))
					}
				}
			}
		}
	}
}

// Beyond the range of exp an observation on its safe side is certain, with
// derivatives of 0 and not NaN; one on the other side is impossible.
func TestCertain(t *testing.T) {
	safe := SmallestExtreme.observe(upper, span{math.Inf(-1), 800, math.Inf(1)}, span{math.Inf(-1), 800, math.Inf(1)})
	if safe != (term{}) {
		t.Errorf("%+v, want zeros", safe)
	}
	for _, d := range bothDistributions {
		safe = d.observe(lower, span{-800, math.Inf(1), math.Inf(1)}, span{-800, math.Inf(1), math.Inf(1)})
		if math.Abs(safe.logp)+math.Abs(safe.g0)+math.Abs(safe.h00)+math.Abs(safe.h11) > 0 {
			t.Errorf("%v: %+v, want zeros", d, safe)
		}
	}
	if o := SmallestExtreme.observe(lower, span{lo: 800}, span{lo: 800}); !math.IsInf(o.logp, -1) {
		t.Errorf("log probability %v, want -Inf", o.logp)
	}
}
