package censreg

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

func TestLowerBoundSurvreg(t *testing.T) {
	// Expected values: R survreg with an offset, and uniroot (testdata/survreg.R,
	// versions in survreg_bounds.csv). uniroot was asked for 1e-13; R's profile
	// log-likelihood is good to about 1e-12 of itself, which near the root moves
	// b by about 1e-12. Group c of set lim has lower bounds only.
	const tol = 1e-9
	rows := readCSV(t, "survreg_bounds.csv")
	if len(rows) != 8 {
		t.Fatalf("%d rows, want 8", len(rows))
	}
	for _, row := range rows {
		s := load(t, row["set"])
		lo, hi, _ := s.logs()
		column := int(row["group"][0] - 'a')
		got, err := LowerBound(s.design("cell"), lo, hi, byName(row["dist"]), nil, column, number(t, row["level"]))
		if err != nil {
			t.Fatal(err)
		}
		if want := number(t, row["bound"]); !within(got, want, tol, 1) {
			t.Errorf("%s %s %s: %.12g, want %.12g (off by %.2g)", row["set"], row["dist"], row["level"], got, want, got-want)
		}
	}
}

// With exact observations only, one mean and σ unknown, the likelihood-ratio
// bound has a closed form: 2·(sup ℓ - sup ℓ(b)) = n·log(1 + (ȳ-b)²/v) with v the
// mean square about ȳ.
func TestLowerBoundClosedForm(t *testing.T) {
	y := []float64{2.1, 2.4, 1.9, 2.2, 2.6}
	n := float64(len(y))
	x := mat.NewDense(len(y), 1, []float64{1, 1, 1, 1, 1})
	mean := 2.24
	var v float64
	for _, u := range y {
		v += (u - mean) * (u - mean) / n
	}
	for _, level := range []float64{0.75, 0.95, 0.999} {
		z := distuv.UnitNormal.Quantile(level)
		want := mean - math.Sqrt(v*math.Expm1(z*z/n))
		got, err := LowerBound(x, y, y, Normal, nil, 0, level)
		// The root is where sqrt(2·Δℓ) is z to 1e-11.
		if err != nil || !within(got, want, 1e-11, 1) {
			t.Errorf("level %v: bound %.15g, %v, want %.15g", level, got, err, want)
		}
		// σ known: the bound is the usual ȳ - zσ/√n.
		want = mean - z*0.3/math.Sqrt(n)
		got, err = LowerBound(x, y, y, Normal, &Options{FixedScale: 0.3}, 0, level)
		if err != nil || !within(got, want, 1e-11, 1) {
			t.Errorf("level %v, σ fixed: bound %.15g, %v, want %.15g", level, got, err, want)
		}
	}
	// The figure that the doc of LowerBound gives for n = 5: the one-sided level
	// 0.95 is P(t(4) ≤ sqrt(4·expm1(z²/5))) in fact.
	z := distuv.UnitNormal.Quantile(0.95)
	actual := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 4}.CDF(math.Sqrt(4 * math.Expm1(z*z/5)))
	if math.Abs(actual-0.917) > 5e-4 { // three decimals are given
		t.Errorf("actual level %.4f, the doc says 0.917", actual)
	}
}

// σ known and a group of m lower bounds, all at c: the supremum is 1 for the
// group, and the bound is where m·log S((c-b)/σ) = -z²/2.
func TestLowerBoundOfLimitedGroup(t *testing.T) {
	inf := math.Inf(1)
	x := mat.NewDense(5, 2, []float64{1, 0, 1, 0, 0, 1, 0, 1, 0, 1})
	lo := []float64{2.1, 2.3, 2.4, 2.4, 2.4}
	hi := []float64{2.1, 2.3, inf, inf, inf}
	const sigma, level = 0.2, 0.95
	z := distuv.UnitNormal.Quantile(level)
	share := math.Exp(-z * z / 2 / 3)
	opt := &Options{FixedScale: sigma}
	for d, want := range map[Distribution]float64{
		Normal:          2.4 + sigma*distuv.UnitNormal.Quantile(share),
		SmallestExtreme: 2.4 - sigma*math.Log(z*z/2/3),
	} {
		got, err := LowerBound(x, lo, hi, d, opt, 1, level)
		if err != nil || !within(got, want, 1e-11, 1) {
			t.Errorf("%v: bound %.15g, %v, want %.15g", d, got, err, want)
		}
	}
}

// Where the data set no lower limit the bound is -Inf; the coefficient of the
// other groups has its bound all the same, and it is the one without the group.
func TestLowerBoundWithoutLimit(t *testing.T) {
	inf := math.Inf(1)
	x := mat.NewDense(7, 2, []float64{1, 0, 1, 0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 1})
	lo := []float64{2.1, 2.3, 2.2, 2.5, -inf, -inf, -inf}
	hi := []float64{2.1, 2.3, 2.2, inf, 2.4, 2.2, 2.3}
	for _, d := range bothDistributions {
		got, err := LowerBound(x, lo, hi, d, nil, 1, 0.95)
		if err != nil || !math.IsInf(got, -1) {
			t.Errorf("%v: bound %v, %v of a group of upper bounds, want -Inf", d, got, err)
		}
		got, err = LowerBound(x, lo, hi, d, nil, 0, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		want, err := LowerBound(x.Slice(0, 4, 0, 1), lo[:4], hi[:4], d, nil, 0, 0.95)
		if err != nil || !within(got, want, 1e-10, 1) {
			t.Errorf("%v: bound %.15g beside the group, %.15g without it, %v", d, got, want, err)
		}
		// In treatment coding with the limited group as baseline the contrast
		// rises without limit as the baseline falls, and has a bound all the
		// same. Held there, it leaves one mean to fit, at a cost of z²/2.
		y := mat.NewDense(7, 2, []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1, 0, 1, 0})
		b, err := LowerBound(y, lo, hi, d, nil, 1, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		lo2, hi2 := make([]float64, 7), make([]float64, 7)
		for i := range lo {
			lo2[i], hi2[i] = lo[i]-b*y.At(i, 1), hi[i]-b*y.At(i, 1)
		}
		held := fitOrFail(t, y.Slice(0, 7, 0, 1), lo2, hi2, d, nil)
		top := fitOrFail(t, x.Slice(0, 4, 0, 1), lo[:4], hi[:4], d, nil)
		z := distuv.UnitNormal.Quantile(0.95)
		// b is good to 1e-11 of a standard error, so the root of twice the drop
		// is as well.
		if got := math.Sqrt(2 * (top.LogLik - held.LogLik)); !within(got, z, 1e-10, 0) {
			t.Errorf("%v: signed root %.12g at the bound %v, want %.12g", d, got, b, z)
		}
	}
}

// The bound does not depend on units or level of y, on the scale of the column,
// or on where the column stands.
func TestLowerBoundInvariance(t *testing.T) {
	s := load(t, "lim")
	lo, hi, _ := s.logs()
	x := s.design("cell")
	n, p := x.Dims()
	for _, d := range bothDistributions {
		want, err := LowerBound(x, lo, hi, d, nil, 2, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		turned := mat.NewDense(n, p, nil)
		lo2, hi2 := make([]float64, n), make([]float64, n)
		for i := range n {
			for j := range p {
				turned.Set(i, p-1-j, x.At(i, j)*5)
			}
			lo2[i], hi2[i] = 3*lo[i]+7, 3*hi[i]+7
		}
		got, err := LowerBound(turned, lo2, hi2, d, nil, p-3, 0.95)
		if err != nil || !within(got, (3*want+7)/5, 1e-10, 1) {
			t.Errorf("%v: bound %.15g, %v, want %.15g", d, got, err, (3*want+7)/5)
		}
	}
}

func TestLowerBoundErrors(t *testing.T) {
	inf := math.Inf(1)
	x := mat.NewDense(3, 1, []float64{1, 1, 1})
	for _, c := range []struct {
		lo, hi []float64
		want   error
	}{
		{[]float64{1, 2, 3}, []float64{inf, inf, inf}, ErrNoExact},
		{[]float64{1, 1, 1}, []float64{1, 1, inf}, ErrPerfectFit},
		{[]float64{1, 0.5, 0.7}, []float64{1, inf, inf}, ErrPerfectFit},
	} {
		if got, err := LowerBound(x, c.lo, c.hi, Normal, nil, 0, 0.95); !errors.Is(err, c.want) || !math.IsNaN(got) {
			t.Errorf("%v: %v, %v, want %v", c.lo, got, err, c.want)
		}
	}
}
