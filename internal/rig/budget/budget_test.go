package budget_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bondtrial/internal/rig/budget"
)

func rows(t testing.TB, file string) [][]string {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	all, err := csv.NewReader(strings.NewReader(string(raw))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// halfUnit is half a unit of the last digit of a printed number.
func halfUnit(t testing.TB, printed string) float64 {
	mantissa, exponent, _ := strings.Cut(printed, "e")
	e := 0.0
	if exponent != "" {
		e = number(t, exponent)
	}
	_, decimals, _ := strings.Cut(mantissa, ".")
	return 0.5 * math.Pow(10, e-float64(len(decimals)))
}

// endGauge is the model of example H.1: l = ls + d − ls(δα·θ + αs·δθ), in nm.
func endGauge(x []float64) float64 { return x[0] + x[1] - x[0]*(x[4]*x[3]+x[2]*x[5]) }

func endGaugeBudget(t testing.TB, level float64) (b budget.Budget, want [][]string) {
	var in []budget.Input
	for _, r := range rows(t, "gum_h1_end_gauge.csv")[1:] {
		if strings.HasPrefix(r[0], "RESULT") {
			continue
		}
		i := budget.Input{Name: r[0], Value: number(t, r[1]), U: number(t, r[2]), Unit: r[3], Dist: budget.Normal}
		if r[6] != "inf" {
			i.DF = number(t, r[6])
		}
		in, want = append(in, i), append(want, r)
	}
	ls, theta, alpha := in[0].Value, in[3].Value, in[2].Value
	c := []float64{1, 1, -ls * in[5].Value, -ls * in[4].Value, -ls * theta, -ls * alpha}
	x := make([]float64, len(in))
	for i := range in {
		x[i] = in[i].Value
	}
	return budget.Combine("l", "nm", endGauge(x), in, c, level), want
}

// Expected: JCGM 100:2008, example H.1: the contributions in table H.1 and
// l = 50.000838 mm, uc 32 nm, 16 degrees of freedom, t99 2.92, U99 93 nm; at 95 %
// t = 2.120 and U = 67.2 nm (computed from them: scipy 1.10.1). Tolerance: half a unit
// of the last printed digit, and what half a unit of the printed uncertainty makes:
// that of δθ, 0.05/√3, is printed as 0.029.
func TestEndGauge(t *testing.T) {
	b, want := endGaugeBudget(t, 0.99)
	for i, r := range b.Rows {
		printed := number(t, want[i][5])
		half := 0.05 // printed as 2.9, 9.7, 16.6
		if printed == math.Trunc(printed) {
			half = 0.5
		}
		if math.Abs(r.Contribution-printed) > half+math.Abs(r.Sensitivity)*halfUnit(t, want[i][2]) {
			t.Errorf("%s contributes %v nm, printed %s", r.Name, r.Contribution, want[i][5])
		}
	}
	if math.Round(b.Value) != 50000838 || math.Round(b.U) != 32 || math.Floor(b.DF) != 16 || math.Round(100*b.K) != 292 || math.Round(b.Expanded) != 93 {
		t.Errorf("got l %v, u %v, %v degrees of freedom, k %v, U %v", b.Value, b.U, b.DF, b.K, b.Expanded)
	}
	b, _ = endGaugeBudget(t, budget.Coverage)
	if math.Abs(b.K-2.120) > 0.0005 || math.Abs(b.Expanded-67.2) > 0.05 {
		t.Errorf("at 95 %% k is %v, U %v nm", b.K, b.Expanded)
	}
	if got, want := b.String(), "l 50000838 nm ± 67 nm (95 %, k = 2.12, 16 degrees of freedom); mostly ls (62 %), delta_theta (28 %), d (9 %)"; got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
}

// The first order misses ls·u(δα)·u(θ) there, and the check says so. Expected:
// √(31.71² + 11.89² + 1.74²) = 33.91 nm, the first-order uncertainty with the two
// second-order terms of JCGM 100, H.1.7, from which it gives 34 nm (from memory).
// The terms are exact for a product of independent inputs.
func TestEndGaugeIsNotStraight(t *testing.T) {
	b, _ := endGaugeBudget(t, budget.Coverage)
	m := b.Check(endGauge, 200_000, rand.New(rand.NewPCG(1, 1)))
	if math.Abs(m.U-33.91) > 4*m.UError {
		t.Errorf("u is %v nm with the error %v", m.U, m.UError)
	}
	if m.Agrees || !strings.Contains(m.Words, "not straight") {
		t.Errorf("agrees %v: %s", m.Agrees, m.Words)
	}
}

// Expected: testdata/coverage_factors_t.csv, scipy 1.10.1. Tolerance: half a unit of
// the last digit.
func TestFactor(t *testing.T) {
	table := rows(t, "coverage_factors_t.csv")
	for _, r := range table[1:] {
		df := 0.0
		if r[0] != "inf" {
			df = number(t, r[0])
		}
		for i, name := range table[0][1:] {
			level := number(t, strings.TrimPrefix(name, "p")) / 100
			want := number(t, r[1+i])
			if got := budget.Factor(df, level); math.Abs(got-want) > 0.00005*1.0001 {
				t.Errorf("%v degrees of freedom, %s: %v, want %v", df, name, got, want)
			}
		}
	}
}

// anyInputs draws inputs whose relative uncertainty is at most the given one.
func anyInputs(t *rapid.T, most float64) []budget.Input {
	var in []budget.Input
	for i := range rapid.IntRange(1, 5).Draw(t, "inputs") {
		v := rapid.Float64Range(1, 100).Draw(t, "value")
		in = append(in, budget.Input{
			Name: "x" + strconv.Itoa(i), Value: v, Unit: "mm", U: v * rapid.Float64Range(most/100, most).Draw(t, "u"),
			Dist:   rapid.SampledFrom([]budget.Distribution{budget.Normal, budget.Rectangular, budget.Triangular, budget.ArcSine}).Draw(t, "distribution"),
			DF:     rapid.SampledFrom([]float64{0, 1, 3, 12.5}).Draw(t, "df"),
			Shared: rapid.Bool().Draw(t, "shared"),
		})
	}
	return in
}

// product is Π xᵢ^pᵢ, with its sensitivities.
func product(in []budget.Input, p []float64) (model func(x []float64) float64, value float64, c []float64) {
	model = func(x []float64) float64 {
		v := 1.0
		for i := range x {
			v *= math.Pow(x[i], p[i])
		}
		return v
	}
	x := make([]float64, len(in))
	for i := range in {
		x[i] = in[i].Value
	}
	value = model(x)
	for i := range in {
		c = append(c, p[i]*value/in[i].Value)
	}
	return model, value, c
}

func anyPowers(t *rapid.T, n int) []float64 {
	var p []float64
	for range n {
		p = append(p, rapid.SampledFrom([]float64{1, -1, -2, 2}).Draw(t, "power"))
	}
	return p
}

// For products like a nominal stress, with relative uncertainties up to 1 %, first
// order and Monte Carlo agree. What the first order leaves out is of the order of
// the squared relative uncertainties: at most (Σ p⁴ r²) of u, added to 4.5 Monte
// Carlo standard errors (7 in a million).
func TestMonteCarloAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := anyInputs(t, 0.01)
		p := anyPowers(t, len(in))
		model, value, c := product(in, p)
		b := budget.Combine("y", "N", value, in, c, budget.Coverage)
		seed := rapid.Uint64().Draw(t, "seed")
		m := b.Check(model, 5000, rand.New(rand.NewPCG(seed, 1)))
		left := 0.0
		for i := range in {
			r := in[i].U / in[i].Value
			left += math.Pow(p[i], 4) * r * r
		}
		if math.Abs(m.U-b.U) > 4.5*m.UError+left*b.U {
			t.Fatalf("first order %v, Monte Carlo %v with the error %v", b.U, m.U, m.UError)
		}
		if !m.Agrees {
			t.Fatalf("said not to agree: %s", m.Words)
		}
		if again := b.Check(model, 5000, rand.New(rand.NewPCG(seed, 1))); again != m {
			t.Fatal("the same generator gave another answer")
		}
	})
}

// Models that bend within the uncertainties are told. Expected in closed form: x²
// at x = 0 has no first order at all and the standard deviation √2·u²; 1/x with a
// rectangular x in 0.5 to 1.5 has the mean ln 3 and the variance 4/3 − ln² 3.
func TestMonteCarloDisagrees(t *testing.T) {
	square := budget.Combine("y", "", 0, []budget.Input{{Name: "x", U: 3, Dist: budget.Normal}}, []float64{0}, budget.Coverage)
	m := square.Check(func(x []float64) float64 { return x[0] * x[0] }, 100_000, rand.New(rand.NewPCG(2, 2)))
	if m.Agrees || math.Abs(m.U-9*math.Sqrt2) > 4*m.UError || math.Abs(m.Mean-9) > 4*m.MeanError {
		t.Errorf("square: %+v", m)
	}
	inverse := budget.Combine("y", "", 1, []budget.Input{budget.Within("x", 1, "", 0.5, budget.Rectangular)}, []float64{-1}, budget.Coverage)
	m = inverse.Check(func(x []float64) float64 { return 1 / x[0] }, 100_000, rand.New(rand.NewPCG(3, 3)))
	ln3 := math.Log(3)
	if m.Agrees || math.Abs(m.U-math.Sqrt(4.0/3-ln3*ln3)) > 4*m.UError || math.Abs(m.Mean-ln3) > 4*m.MeanError {
		t.Errorf("inverse: %+v", m)
	}
	root := budget.Combine("y", "", 1, []budget.Input{{Name: "x", Value: 1, U: 0.5, Dist: budget.Normal}}, []float64{0.5}, budget.Coverage)
	m = root.Check(func(x []float64) float64 { return math.Sqrt(x[0]) }, 10_000, rand.New(rand.NewPCG(4, 4)))
	if m.Agrees || m.Undefined == 0 || m.U != 0 || !strings.Contains(m.Words, "have no result at all") {
		t.Errorf("root: %+v", m)
	}
}

// Every distribution is drawn with the standard deviation it is given. Tolerance: 4
// Monte Carlo standard errors.
func TestDrawn(t *testing.T) {
	for i, d := range []budget.Distribution{budget.Normal, budget.Rectangular, budget.Triangular, budget.ArcSine} {
		b := budget.Combine("y", "", 5, []budget.Input{{Name: "x", Value: 5, U: 2, Dist: d}}, []float64{1}, budget.Coverage)
		m := b.Check(func(x []float64) float64 { return x[0] }, 100_000, rand.New(rand.NewPCG(5, uint64(i))))
		if !m.Agrees || math.Abs(m.U-2) > 4*m.UError || math.Abs(m.Mean-5) > 4*m.MeanError {
			t.Errorf("%s: %+v", d, m)
		}
	}
}

// Shares add up to 1; shared and own parts make the whole; the effective degrees of
// freedom lie between the least of the inputs and their sum.
func TestBudgetAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := anyInputs(t, 0.2)
		_, value, c := product(in, anyPowers(t, len(in)))
		b := budget.Combine("y", "N", value, in, c, budget.Coverage)
		share, least, sum, limited := 0.0, math.Inf(1), 0.0, true
		for _, r := range b.Rows {
			share += r.Share
			if r.DF > 0 {
				least, sum = min(least, r.DF), sum+r.DF
			} else {
				limited = false
			}
		}
		if math.Abs(share-1) > 1e-12 || math.Abs(math.Hypot(b.SharedU, b.OwnU)/b.U-1) > 1e-12 {
			t.Fatalf("shares add up to %v, parts %v and %v to %v", share, b.SharedU, b.OwnU, b.U)
		}
		if b.DF != 0 && b.DF < least*(1-1e-9) || limited && b.DF > sum*(1+1e-9) {
			t.Fatalf("%v effective degrees of freedom of %v to %v", b.DF, least, sum)
		}
		if b.K < 1.9599 || math.Abs(b.Expanded-b.K*b.U) > 0 {
			t.Fatalf("k %v, U %v of u %v", b.K, b.Expanded, b.U)
		}
	})
}

func TestNothingUncertain(t *testing.T) {
	b := budget.Combine("y", "N", 3, []budget.Input{{Name: "x", Value: 3, Dist: budget.Normal}}, []float64{1}, budget.Coverage)
	if b.U != 0 || b.Expanded != 0 || b.DF != 0 || b.Rows[0].Share != 0 || b.String() != "y 3.000 N ± 0.000 N (95 %, k = 1.96)" {
		t.Errorf("got %+v %s", b, b)
	}
}

func TestCallersMistakes(t *testing.T) {
	x := []budget.Input{{Name: "x", U: 1, Dist: budget.Normal}}
	for name, f := range map[string]func(){
		"lengths":  func() { budget.Combine("y", "", 0, x, nil, 0.95) },
		"level":    func() { budget.Combine("y", "", 0, x, []float64{1}, 95) },
		"negative": func() { budget.Combine("y", "", 0, []budget.Input{{U: -1}}, []float64{1}, 0.95) },
		"infinite": func() { budget.Combine("y", "", math.Inf(1), nil, nil, 0.95) },
		"df":       func() { budget.Factor(0.5, 0.95) },
		"draws":    func() { budget.Combine("y", "", 0, x, []float64{1}, 0.95).Check(nil, 10, nil) },
		"width":    func() { budget.Within("x", 0, "", -1, budget.Rectangular) },
		"no width": func() { budget.Within("x", 0, "", 1, budget.Normal) },
	} {
		func() {
			defer func() {
				if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "budget: ") {
					t.Errorf("%s: panicked with %q", name, s)
				}
			}()
			f()
			t.Errorf("%s: no panic", name)
		}()
	}
}
