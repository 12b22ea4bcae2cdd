package tolerance

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mathext"
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

// Tails and factors to 20 digits (testdata/README.md). The tolerance is the
// accuracy that the package comment states.
func TestAgainstHighPrecision(t *testing.T) {
	var worst float64
	for _, r := range records(t, "noncentral.csv") {
		a, b, c, want := number(t, r[1]), number(t, r[2]), number(t, r[3]), number(t, r[4])
		var got float64
		switch r[0] {
		case "cdf":
			got = NoncentralT{DF: a, Delta: b}.CDF(c)
		case "survival":
			got = NoncentralT{DF: a, Delta: b}.Survival(c)
		case "factor":
			got = K(int(a), b, c)
		default:
			t.Fatalf("unknown row %v", r)
		}
		worst = max(worst, relative(got, want))
		if !(relative(got, want) <= 1e-11) {
			t.Errorf("%v: got %.16g", r, got)
		}
	}
	t.Logf("largest relative difference %.1e", worst)
}

// All 530 factors computed by scipy (testdata/README.md), five decimals: half a
// unit of the last, and 1e-9 for a value near a tie.
func TestFactorTable(t *testing.T) {
	rows := records(t, "tolerance_onesided_normal.csv")
	if len(rows) != 530 {
		t.Fatalf("%d rows, want 530", len(rows))
	}
	for _, r := range rows {
		coverage, confidence, n := number(t, r[0]), number(t, r[1]), int(number(t, r[2]))
		if got, want := K(n, coverage, confidence), number(t, r[3]); !(math.Abs(got-want) <= 0.5e-5+1e-9) {
			t.Errorf("K(%d, %g, %g) = %.7f, want %.5f", n, coverage, confidence, got, want)
		}
	}
}

// The case of the NIST/SEMATECH e-Handbook, section 7.2.6.3: 43 observations,
// coverage 0.90, confidence 0.99. The handbook's factor is Natrella's, 1.8751896,
// and its upper limit 97.120255 (both read in a public worksheet that quotes the
// page); the exact factor is 1.873954 (computed, scipy 1.10.1, nct.ppf). Each
// tolerance is half a unit of the last digit given.
func TestHandbookCase(t *testing.T) {
	if got := K(43, 0.90, 0.99); !(math.Abs(got-1.873954) <= 0.5e-6) {
		t.Errorf("exact factor %.8f, want 1.873954", got)
	}
	got, ok := Natrella(43, 0.90, 0.99)
	if !ok || !(math.Abs(got-1.8751896) <= 0.5e-7) {
		t.Errorf("Natrella's factor %.9f, want 1.8751896", got)
	}
	// Computed, R 4.2.2, the formula with qnorm(0.90) and qnorm(0.99): twelve decimals.
	if !(math.Abs(got-1.875189581277) <= 0.5e-11) {
		t.Errorf("Natrella's factor %.12f, want 1.875189581277", got)
	}
	if limit := 97.07 + got*0.0268; !(math.Abs(limit-97.120255) <= 0.5e-6) {
		t.Errorf("upper limit %.7f, want 97.120255", limit)
	}
}

// The table and the formula of EN 14358:2016 beside the exact factor
// (testdata/README.md): the formula with four decimals, the table to the letter,
// the exact factor with four decimals.
func TestEN14358(t *testing.T) {
	for _, r := range records(t, "en14358_ks.csv") {
		if r[0] == "inf" {
			// 1e9 observations are as good as no limit: the formula is within 2e-9.
			if got := EN14358(1e9); !(math.Abs(got-number(t, r[2])) <= 0.5e-4+1e-8) {
				t.Errorf("EN14358(1e9) = %.5f, want %s", got, r[2])
			}
			continue
		}
		n := int(number(t, r[0]))
		if got, want := EN14358Table(n), number(t, r[1]); got != want {
			t.Errorf("EN14358Table(%d) = %g, want %g", n, got, want)
		}
		if got, want := EN14358(n), number(t, r[2]); !(math.Abs(got-want) <= 0.5e-4+1e-9) {
			t.Errorf("EN14358(%d) = %.5f, want %.4f", n, got, want)
		}
		exact := K(n, 0.95, 0.75)
		if want := number(t, r[3]); !(math.Abs(exact-want) <= 0.5e-4+1e-9) {
			t.Errorf("K(%d, 0.95, 0.75) = %.5f, want %.4f", n, exact, want)
		}
		// The documentation promises 0.005.
		if diff := math.Abs(EN14358Table(n) - exact); !(diff <= 0.005) {
			t.Errorf("n = %d: the table is %.4f from the exact factor", n, diff)
		}
	}
	// Between rows the larger factor holds.
	for _, c := range []struct {
		n    int
		want float64
	}{{4, 3.15}, {9, 2.46}, {499, 1.76}, {501, 1.69}, {1e6, 1.69}} {
		if got := EN14358Table(c.n); got != c.want {
			t.Errorf("EN14358Table(%d) = %g, want %g", c.n, got, c.want)
		}
	}
}

// With noncentrality 0 the distribution is Student's t: in closed form for 1 and 2
// degrees of freedom, far into the tail.
func TestCentral(t *testing.T) {
	for _, x := range []float64{-1e8, -12, -1, 0, 0.3, 2, 50, 1e6, 1e12} {
		d := NoncentralT{DF: 1}
		want := 0.5 - math.Atan(x)/math.Pi
		if x > 1 {
			want = math.Atan(1/x) / math.Pi
		}
		if got := d.Survival(x); !(relative(got, want) <= 1e-11) {
			t.Errorf("1 df: Survival(%g) = %.15g, want %.15g", x, got, want)
		}
		d = NoncentralT{DF: 2}
		r := math.Hypot(x, math.Sqrt2)
		want = (r - x) / (2 * r)
		if x > 0 {
			want = 1 / (r * (r + x))
		}
		if got := d.Survival(x); !(relative(got, want) <= 1e-11) {
			t.Errorf("2 df: Survival(%g) = %.15g, want %.15g", x, got, want)
		}
	}
	// An incomplete beta function otherwise.
	for _, df := range []float64{0.2, 3, 7.5, 40, 1000} {
		for _, x := range []float64{1.5, 3, 8} {
			want := 0.5 * mathext.RegIncBeta(df/2, 0.5, 1/(1+x*x/df))
			if got := (NoncentralT{DF: df}).Survival(x); !(relative(got, want) <= 1e-11) {
				t.Errorf("%g df: Survival(%g) = %.15g, want %.15g", df, x, got, want)
			}
		}
	}
}

func TestIdentities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := NoncentralT{
			DF:    math.Exp(rapid.Float64Range(0, math.Log(1e5)).Draw(t, "log df")),
			Delta: rapid.Float64Range(-40, 40).Draw(t, "delta"),
		}
		x := d.Delta + rapid.Float64Range(-20, 20).Draw(t, "t - delta")
		below, above := d.CDF(x), d.Survival(x)
		// Each is within 1e-11 of itself.
		if !(math.Abs(below+above-1) <= 1e-11) {
			t.Fatalf("%v: CDF + Survival at %g is 1%+.2g", d, x, below+above-1)
		}
		if mirrored := (NoncentralT{DF: d.DF, Delta: -d.Delta}).CDF(-x); mirrored != above {
			t.Fatalf("%v: Survival(%g) = %g, mirrored CDF %g", d, x, above, mirrored)
		}
		if next := d.CDF(x + 0.01); !(next >= below*(1-1e-12)) {
			t.Fatalf("%v: CDF falls from %.15g to %.15g at %g", d, below, next, x)
		}
		p := rapid.Float64Range(1e-6, 1-1e-6).Draw(t, "p")
		// The quantile is good to 1e-12 of max(|t|, 1), and the density is below
		// 0.4 times the smallest unit of 1/√(1+δ²/2ν); 40·1e-12 covers both.
		if got := d.CDF(d.Quantile(p)); !(math.Abs(got-p) <= 5e-11) {
			t.Fatalf("%v: CDF(Quantile(%g)) = %.15g", d, p, got)
		}
	})
}

func TestConfidenceInvertsK(t *testing.T) {
	for _, n := range []int{2, 3, 10, 100, 5000} {
		for _, coverage := range []float64{0.05, 0.5, 0.95, 0.999} {
			for _, confidence := range []float64{0.01, 0.5, 0.75, 0.99} {
				k := K(n, coverage, confidence)
				// k is good to 1e-12, its slope at most 0.4 √n.
				if got := Confidence(k, n, coverage); !(math.Abs(got-confidence) <= 1e-10) {
					t.Errorf("Confidence(K(%d, %g, %g)) = %.13g", n, coverage, confidence, got)
				}
			}
		}
	}
}

// K rises with coverage and confidence, and for high confidence falls with n.
func TestMonotone(t *testing.T) {
	last := inf
	for n := 2; n < 300; n += 7 {
		k := K(n, 0.95, 0.75)
		if !(k < last) {
			t.Errorf("K rises to %g at n = %d", k, n)
		}
		last = k
		if !(K(n, 0.96, 0.75) > k && K(n, 0.95, 0.76) > k) {
			t.Errorf("K does not rise with coverage and confidence at n = %d", n)
		}
	}
}

// For many observations k tends to z_p + z_γ √(1/n + z_p²/(2n)), the normal
// approximation, with an error of the order 1/n.
func TestManyObservations(t *testing.T) {
	zp, zg := mathext.NormalQuantile(0.95), mathext.NormalQuantile(0.75)
	for _, n := range []float64{1e4, 1e6, 1e8} {
		got, want := K(int(n), 0.95, 0.75), zp+zg*math.Sqrt(1/n+zp*zp/(2*n))
		// The next term is (z_p/4)(…)/n; twice 1/n covers it for these quantiles.
		if !(math.Abs(got-want) <= 2/n) {
			t.Errorf("n = %g: K = %.10f, want about %.10f", n, got, want)
		}
	}
	// A known standard deviation makes the mean the only source of doubt.
	if got, want := KWithDF(16, inf, 0.95, 0.75), zp+zg/4; !(math.Abs(got-want) <= 1e-12) {
		t.Errorf("KWithDF(16, Inf) = %.14g, want %.14g", got, want)
	}
	if got, want := KWithDF(16, 1e14, 0.95, 0.75), zp+zg/4; !(math.Abs(got-want) <= 1e-10) {
		t.Errorf("KWithDF(16, 1e14) = %.14g, want %.14g", got, want)
	}
	if got, want := KWithDF(16, 15, 0.95, 0.75), K(16, 0.95, 0.75); got != want {
		t.Errorf("KWithDF(16, 15) = %g, K(16) = %g", got, want)
	}
}

func TestNatrellaWithoutValue(t *testing.T) {
	// z_0.99² / 2 = 2.706, so three observations are too few.
	if k, ok := Natrella(3, 0.9, 0.99); ok || k != 0 {
		t.Errorf("Natrella(3, 0.9, 0.99) = %g, %t", k, ok)
	}
	if _, ok := Natrella(4, 0.9, 0.99); !ok {
		t.Error("Natrella(4, 0.9, 0.99) has no value")
	}
}

func TestSpecialCases(t *testing.T) {
	d := NoncentralT{DF: 5, Delta: 1}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"CDF(-Inf)", d.CDF(-inf), 0},
		{"CDF(Inf)", d.CDF(inf), 1},
		{"Survival(-Inf)", d.Survival(-inf), 1},
		{"Survival(Inf)", d.Survival(inf), 0},
		{"Quantile(0)", d.Quantile(0), -inf},
		{"Quantile(1)", d.Quantile(1), inf},
		{"CDF(0)", d.CDF(0), 0.5 * math.Erfc(1/math.Sqrt2)},
		{"known scale", NoncentralT{DF: inf, Delta: 1}.CDF(3), 0.5 * math.Erfc(-2/math.Sqrt2)},
	} {
		// Equal, or as close as rounding in the argument of erfc leaves them.
		if c.got != c.want && !(relative(c.got, c.want) <= 1e-15) {
			t.Errorf("%s = %g, want %g", c.name, c.got, c.want)
		}
	}
	if !math.IsNaN(d.CDF(math.NaN())) || !math.IsNaN(d.Survival(math.NaN())) {
		t.Error("NaN in, number out")
	}
}

func TestPanics(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		want string
		call func()
	}{
		{badDF, func() { NoncentralT{}.CDF(1) }},
		{badDF, func() { NoncentralT{DF: nan}.Survival(1) }},
		{badDelta, func() { NoncentralT{DF: 1, Delta: inf}.CDF(1) }},
		{badDelta, func() { NoncentralT{DF: 1, Delta: nan}.Quantile(0.5) }},
		{badProbability, func() { NoncentralT{DF: 1}.Quantile(1.5) }},
		{badProbability, func() { NoncentralT{DF: 1}.Quantile(nan) }},
		{badSize, func() { K(1, 0.9, 0.9) }},
		{badSize, func() { KWithDF(0, 3, 0.9, 0.9) }},
		{badSize, func() { KWithDF(nan, 3, 0.9, 0.9) }},
		{badDF, func() { KWithDF(3, 0, 0.9, 0.9) }},
		{badShare, func() { K(5, 1, 0.9) }},
		{badShare, func() { K(5, 0.9, 0) }},
		{badShare, func() { K(5, nan, 0.9) }},
		{badSize, func() { Confidence(2, 1, 0.9) }},
		{badShare, func() { Confidence(2, 5, 0) }},
		{badSize, func() { Natrella(1, 0.9, 0.9) }},
		{badShare, func() { Natrella(5, 0.9, 1) }},
		{badSize, func() { EN14358(2) }},
		{badSize, func() { EN14358Table(2) }},
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

func BenchmarkK(b *testing.B) {
	for b.Loop() {
		K(10, 0.95, 0.75)
	}
}
