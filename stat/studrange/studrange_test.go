package studrange

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var inf = math.Inf(1)

// records reads a CSV file in testdata without its comments and header.
func records(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 2 {
		t.Fatalf("%s has no rows", name)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func relative(got, want float64) float64 { return math.Abs(got-want) / math.Abs(want) }

// Both tails against 20-digit quadrature (testdata/README.md). The tolerance is
// the accuracy that the package comment states.
func TestAgainstHighPrecision(t *testing.T) {
	worst := 0.0
	for _, r := range records(t, "highprec.csv") {
		d := Dist{K: int(number(t, r[1])), DF: number(t, r[2])}
		q, want := number(t, r[3]), number(t, r[4])
		got := d.CDF(q)
		if r[0] == "upper" {
			got = d.Survival(q)
		}
		diff := relative(got, want)
		worst = max(worst, diff)
		if !(diff <= 1e-11) {
			t.Errorf("%v: %s tail at %g is %.16g, want %.16g", d, r[0], q, got, want)
		}
	}
	t.Logf("largest relative difference %.1e", worst)
}

// The table of quantiles computed by scipy (testdata/README.md). It has four
// decimals, hence half a unit of the fourth, plus 1e-9 for a value near a tie.
func TestAgainstScipy(t *testing.T) {
	for _, r := range records(t, "studentized_range.csv") {
		alpha, df, want := number(t, r[0]), number(t, r[1]), number(t, r[3])
		d := Dist{K: int(number(t, r[2])), DF: df}
		if got := d.Quantile(1 - alpha); !(math.Abs(got-want) <= 0.5e-4+1e-9) {
			t.Errorf("%v: quantile at 1-%g is %.6f, want %.4f", d, alpha, got, want)
		}
	}
}

// R at moderate degrees of freedom (testdata/README.md). R's own error decides the
// tolerances. Its ptukey, with fixed Gauss–Legendre rules, is off by 4.0e-8 for
// three groups, 5 degrees of freedom and q = 6; its qtukey stops when a step is
// below 1e-4, which bounds the step and not the error, and is off by 4.2e-4 for 20
// groups, 5 degrees of freedom and p = 0.99. highprec.csv has rows for both.
func TestAgainstR(t *testing.T) {
	var worstP, worstQ float64
	for _, r := range records(t, "ptukey.csv") {
		d := Dist{K: int(number(t, r[1])), DF: number(t, r[2])}
		arg, want := number(t, r[3]), number(t, r[4])
		switch r[0] {
		case "cdf":
			got := d.CDF(arg)
			worstP = max(worstP, math.Abs(got-want))
			if !(math.Abs(got-want) <= 1e-7) {
				t.Errorf("%v: CDF(%g) = %.12g, want %.12g", d, arg, got, want)
			}
		case "quantile":
			got := d.Quantile(arg)
			worstQ = max(worstQ, math.Abs(got-want))
			if !(math.Abs(got-want) <= 1e-3) {
				t.Errorf("%v: Quantile(%g) = %.10g, want %.10g", d, arg, got, want)
			}
		}
	}
	t.Logf("largest differences: probability %.1e, quantile %.1e", worstP, worstQ)
}

// R's qtukey is wrong at 2 degrees of freedom: 44.53 for 20 groups at 0.99
// (testdata/ptukey.csv). 37.94 is right: highprec.csv has the upper tail there,
// 0.010001814646260194535. From it one Newton step leads to the quantile; the tail
// falls as q^−2 this far out, to 1 %, so the step of 0.00344 is good to 4e-5.
func TestTwoDegreesOfFreedom(t *testing.T) {
	got := Dist{K: 20, DF: 2}.Quantile(0.99)
	want := 37.94 + (0.010001814646260194535-0.01)/(2*0.01/37.94)
	if !(math.Abs(got-want) <= 4e-5) {
		t.Errorf("Quantile(0.99) = %.6f, want %.6f", got, want)
	}
}

// The Tukey intervals of the NIST/SEMATECH e-Handbook, section 7.4.7.1, as read
// in an open test file that cites it; printed with two decimals. q(0.05; 4; 16) =
// 4.0461 is computed, scipy 1.10.1, studentized_range.ppf(0.95, 4, 16).
func TestHandbookIntervals(t *testing.T) {
	groups := map[int][]float64{}
	for _, r := range records(t, "nist_tukey_7471.csv") {
		g := int(number(t, r[0]))
		groups[g] = append(groups[g], number(t, r[1]))
	}
	mean := map[int]float64{}
	var square, df float64
	for g, ys := range groups {
		for _, y := range ys {
			mean[g] += y / float64(len(ys))
		}
		for _, y := range ys {
			square += (y - mean[g]) * (y - mean[g])
		}
		df += float64(len(ys) - 1)
	}
	q := Dist{K: len(groups), DF: df}.Quantile(0.95)
	if !(math.Abs(q-4.0461) <= 0.5e-4) {
		t.Errorf("q(0.05; 4; 16) = %.5f, want 4.0461", q)
	}
	half := q * math.Sqrt(square/df/5)
	for _, want := range []struct {
		a, b   int
		lo, hi float64
	}{
		{2, 1, 0.29, 4.47}, {3, 1, 1.13, 5.31}, {1, 4, -2.25, 1.93},
		{2, 3, -2.93, 1.25}, {2, 4, 0.13, 4.31}, {3, 4, 0.97, 5.15},
	} {
		diff := mean[want.a] - mean[want.b]
		// Half a unit of the second decimal.
		if !(math.Abs(diff-half-want.lo) <= 0.005 && math.Abs(diff+half-want.hi) <= 0.005) {
			t.Errorf("mean %d - mean %d: %.4f to %.4f, want %g to %g", want.a, want.b, diff-half, diff+half, want.lo, want.hi)
		}
	}
}

// For two groups q/√2 is Student's |t|, whose tails are incomplete beta functions,
// here gonum's mathext.RegIncBeta. The smaller argument, and the larger tail as
// the rest of the smaller, keep what rounding near 1 would lose; 1e-11 is the
// accuracy that the package states.
func TestTwoGroupsAreStudent(t *testing.T) {
	for _, df := range []float64{0.05, 0.3, 1, 1.5, 2, 3, 7.25, 16, 100, 1000} {
		d := Dist{K: 2, DF: df}
		for _, q := range []float64{1e-6, 0.01, 0.5, 1, 3, 5, 10, 30, 1e3, 1e6, 1e12} {
			var below, above float64
			if x := q * q / 2 / df; x < 1 {
				below = mathext.RegIncBeta(0.5, df/2, x/(1+x))
				above = 1 - below
				if below > 0.5 {
					above = mathext.RegIncBeta(df/2, 0.5, 1/(1+x))
				}
			} else {
				above = mathext.RegIncBeta(df/2, 0.5, 1/(1+x))
				below = 1 - above
			}
			if got := d.CDF(q); !(relative(got, below) <= 1e-11) {
				t.Errorf("%v: CDF(%g) = %.15g, want %.15g", d, q, got, below)
			}
			if above < 1e-250 {
				continue
			}
			if got := d.Survival(q); !(relative(got, above) <= 1e-11) {
				t.Errorf("%v: Survival(%g) = %.15g, want %.15g", d, q, got, above)
			}
		}
	}
}

// The quantile of two groups is √2 t. gonum's StudentsT.Quantile has about 12 good
// digits. At 2 degrees of freedom it is algebraic, t = (2p−1)/√(2p(1−p)) with p the
// one-sided probability.
func TestTwoGroupQuantiles(t *testing.T) {
	for _, df := range []float64{1, 2, 3, 7.25, 16, 100} {
		for _, p := range []float64{0.1, 0.5, 0.9, 0.95, 0.99, 0.9999} {
			want := math.Sqrt2 * distuv.StudentsT{Sigma: 1, Nu: df}.Quantile((1+p)/2)
			if got := (Dist{K: 2, DF: df}).Quantile(p); !(relative(got, want) <= 1e-10) {
				t.Errorf("df %g: Quantile(%g) = %.14g, want %.14g", df, p, got, want)
			}
		}
	}
	want := math.Sqrt2 * 0.99 / math.Sqrt(2*0.995*0.005)
	if got := (Dist{K: 2, DF: 2}).Quantile(0.99); !(relative(got, want) <= 1e-11) {
		t.Errorf("Quantile(0.99) = %.14g, want %.14g", got, want)
	}
}

// The tail of two groups at 1e-12 and at 1e-200.
func TestFarTailOfTwoGroups(t *testing.T) {
	// For a known scale, Survival(q) = erfc(q/2).
	for _, q := range []float64{0.1, 1, 5, 10.09, 20, 40, 43} {
		got, want := Dist{K: 2, DF: inf}.Survival(q), math.Erfc(q/2)
		if !(relative(got, want) <= 1e-11) {
			t.Errorf("Survival(%g) = %.15g, want %.15g", q, got, want)
		}
	}
	// For one degree of freedom, (2/π) arctan(√2/q); for two, 1 − t/√(2+t²), with
	// t = q/√2, which is 2/(r(r+t)) with r = √(2+t²).
	for _, q := range []float64{0.1, 3, 1e4, 9.0031631615e11, 1e20} {
		got, want := Dist{K: 2, DF: 1}.Survival(q), 2/math.Pi*math.Atan(math.Sqrt2/q)
		if !(relative(got, want) <= 1e-11) {
			t.Errorf("1 df: Survival(%g) = %.15g, want %.15g", q, got, want)
		}
		u := q / math.Sqrt2
		r := math.Sqrt(2 + u*u)
		got, want = Dist{K: 2, DF: 2}.Survival(q), 2/(r*(r+u))
		if !(relative(got, want) <= 1e-11) {
			t.Errorf("2 df: Survival(%g) = %.15g, want %.15g", q, got, want)
		}
	}
	q := Dist{K: 2, DF: 1}.Quantile(1 - 0x1p-40)
	if got, want := (Dist{K: 2, DF: 1}).Survival(q), 0x1p-40; !(relative(got, want) <= 1e-11) {
		t.Errorf("Survival(Quantile(1-2^-40)) = %g", got)
	}
}

// Three independent normal variables leave two dimensions once their mean is
// taken out, and the range is below w in a regular hexagon with inradius w/√2, so
//
//	Survival(q) = (6/π) ∫ (1 + q²/(2ν cos²θ))^(−ν/2) dθ,  0 < θ < π/6
//
// (exp(−q²/(4 cos²θ)) for ν = +Inf), a smooth integrand for which a 60-point
// Gauss–Legendre rule is exact to rounding.
func TestThreeGroupsAreAHexagon(t *testing.T) {
	for _, df := range []float64{1, 2, 3.5, 10, 120, inf} {
		for _, q := range []float64{0.2, 1, 3.3, 6, 12} {
			f := func(theta float64) float64 {
				x := q * q / (2 * math.Cos(theta) * math.Cos(theta))
				if math.IsInf(df, 1) {
					return math.Exp(-x / 2)
				}
				return math.Exp(-df / 2 * math.Log1p(x/df))
			}
			want := 6 / math.Pi * quad.Fixed(f, 0, math.Pi/6, 60, quad.Legendre{}, 1)
			if got := (Dist{K: 3, DF: df}).Survival(q); !(relative(got, want) <= 1e-11) {
				t.Errorf("df %g: Survival(%g) = %.15g, want %.15g", df, q, got, want)
			}
		}
	}
}

// anyDist draws a distribution over the range of the package's claims.
func anyDist(t *rapid.T) Dist {
	d := Dist{
		K:  rapid.IntRange(2, 200).Draw(t, "k"),
		DF: math.Exp(rapid.Float64Range(0, math.Log(1e6)).Draw(t, "log df")),
	}
	if rapid.IntRange(0, 9).Draw(t, "known scale") == 0 {
		d.DF = inf
	}
	return d
}

// The two tails are computed apart, and add up to 1.
func TestTailsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDist(t)
		q := math.Exp(rapid.Float64Range(-3, 7).Draw(t, "log q"))
		// Each is within 1e-11 of itself.
		if sum := d.CDF(q) + d.Survival(q); !(math.Abs(sum-1) <= 1e-11) {
			t.Fatalf("%v: CDF + Survival at %g is 1%+.2g", d, q, sum-1)
		}
	})
}

func TestQuantileInvertsCDF(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDist(t)
		p := rapid.Float64Range(1e-9, 1-1e-9).Draw(t, "p")
		q := d.Quantile(p)
		// An error of 1e-13 in log q moves log CDF by at most K+DF times as much
		// in the lower tail and DF times in the upper, in both at most about 40·q
		// times; 1e-9 of the smaller tail covers it.
		if got := d.CDF(q); !(math.Abs(got-p) <= 1e-9*min(p, 1-p)+1e-11*p) {
			t.Fatalf("%v: CDF(Quantile(%g)) = %.15g", d, p, got)
		}
	})
}

func TestMonotone(t *testing.T) {
	for _, df := range []float64{1, 3.3, 20, inf} {
		last := 0.0
		for _, k := range []int{2, 3, 4, 7, 20, 100, 200, 500} {
			d := Dist{K: k, DF: df}
			if q := d.Quantile(0.95); q > last {
				last = q
			} else {
				t.Errorf("df %g: the quantile falls to %g at K = %d", df, q, k)
			}
			p := 0.0
			for q := 0.5; q < 12; q += 0.25 {
				next := d.CDF(q)
				// Past 1−1e-12 rounding may undo an increase; 0 is below 1e-308.
				if !(next > p || p > 1-1e-12 || next == 0) {
					t.Errorf("%v: CDF falls from %.15g to %.15g at %g", d, p, next, q)
				}
				p = next
			}
		}
	}
}

// Many degrees of freedom lead over to a known scale; the difference is of the
// order q⁴/ν relative to the tail.
func TestManyDegreesOfFreedom(t *testing.T) {
	for _, df := range []float64{1e6, 1e9, 1e12, 1e18} {
		got, want := Dist{K: 5, DF: df}.Survival(4), Dist{K: 5, DF: inf}.Survival(4)
		if !(relative(got, want) <= 4*4*4*4/df+1e-11) {
			t.Errorf("df %g: %.15g, known scale %.15g", df, got, want)
		}
	}
}

func TestSpecialCases(t *testing.T) {
	d := Dist{K: 3, DF: 5}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"CDF(0)", d.CDF(0), 0},
		{"CDF(-1)", d.CDF(-1), 0},
		{"CDF(-Inf)", d.CDF(-inf), 0},
		{"CDF(Inf)", d.CDF(inf), 1},
		{"Survival(0)", d.Survival(0), 1},
		{"Survival(-1)", d.Survival(-1), 1},
		{"Survival(Inf)", d.Survival(inf), 0},
		{"Quantile(0)", d.Quantile(0), 0},
		{"Quantile(1)", d.Quantile(1), inf},
		// A quantile beyond the largest float64: the tail falls as q^(−1e-6).
		{"Quantile(0.95) at 1e-6 df", Dist{K: 2, DF: 1e-6}.Quantile(0.95), inf},
		// Beyond the smallest float64.
		{"Survival(100)", Dist{K: 3, DF: inf}.Survival(100), 0},
		{"CDF(1e-300)", Dist{K: 3, DF: inf}.CDF(1e-300), 0},
	} {
		if c.got != c.want {
			t.Errorf("%s = %g, want %g", c.name, c.got, c.want)
		}
	}
	// Near the smallest float64.
	if p := (Dist{K: 2, DF: 10}).CDF(1.7e-308); !(p >= 0 && p <= 1e-307) {
		t.Errorf("CDF(1.7e-308) = %g", p)
	}
	if !math.IsNaN(d.CDF(math.NaN())) || !math.IsNaN(d.Survival(math.NaN())) {
		t.Error("NaN in, number out")
	}
}

func TestPanics(t *testing.T) {
	good := Dist{K: 3, DF: 5}
	for _, c := range []struct {
		want string
		call func()
	}{
		{badGroups, func() { Dist{K: 1, DF: 5}.CDF(1) }},
		{badGroups, func() { Dist{DF: 5}.Quantile(0.5) }},
		{badDF, func() { Dist{K: 3}.Survival(1) }},
		{badDF, func() { Dist{K: 3, DF: -1}.CDF(1) }},
		{badDF, func() { Dist{K: 3, DF: math.NaN()}.CDF(1) }},
		{badProbability, func() { good.Quantile(-0.1) }},
		{badProbability, func() { good.Quantile(1.1) }},
		{badProbability, func() { good.Quantile(math.NaN()) }},
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

func BenchmarkSurvival(b *testing.B) {
	for b.Loop() {
		Dist{K: 6, DF: 20}.Survival(4.2)
	}
}

func BenchmarkQuantile(b *testing.B) {
	for b.Loop() {
		Dist{K: 6, DF: 20}.Quantile(0.95)
	}
}
