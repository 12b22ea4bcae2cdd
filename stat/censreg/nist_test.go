package censreg

import (
	"fmt"
	"math"
	"math/big"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: ten times to failure
// and ten units removed at 500, fitted by Weibull and by lognormal.
func TestNISTWeibullCensored(t *testing.T) {
	var lo, hi, w []float64
	var jacobian float64
	for _, row := range readCSV(t, "nist_weibull_censored_8413.csv") {
		y := math.Log(number(t, row["time"]))
		lo, w = append(lo, y), append(w, number(t, row["frequency"]))
		if row["censored"] == "1" {
			hi = append(hi, math.Inf(1))
		} else {
			hi = append(hi, y)
			jacobian += y
		}
	}
	ones := mat.NewDense(len(lo), 1, nil)
	for i := range lo {
		ones.Set(i, 0, 1)
	}
	opt := &Options{Weights: w}
	weibull := fitOrFail(t, ones, lo, hi, SmallestExtreme, opt)
	lognormal := fitOrFail(t, ones, lo, hi, Normal, opt)
	eta, beta := math.Exp(weibull.Coef[0]), 1/weibull.Scale
	mean := eta * math.Gamma(1+1/beta)
	sd := math.Sqrt(eta*eta*math.Gamma(1+2/beta) - mean*mean)
	aic := func(f *Fit) float64 { return -2*(f.LogLik-jacobian) + 2*2 }

	for _, c := range []struct {
		what      string
		got, want float64
		tol       float64 // half a unit of the last digit given
	}{
		// Printed on the page itl.nist.gov/div898/handbook/apr/section4/apr413.htm.
		{"eta", eta, 606.528, 5e-4}, // printed 606.5280, but the maximum is at 606.52756: held to three decimals
		{"beta", beta, 1.7208, 5e-5},
		{"log-likelihood", weibull.LogLik - jacobian, -75.135, 5e-4},
		{"AIC Weibull", aic(weibull), 154.27, 5e-3},
		{"AIC lognormal", aic(lognormal), 154.39, 5e-3},
		{"mean life", mean, 540.737, 5e-4},
		{"sd of life", sd, 323.806, 5e-4},
		// Computed from the same data with scipy 1.10.1 (own likelihood,
		// maximised), to all digits given.
		{"eta", eta, 606.52756, 5e-6},
		{"beta", beta, 1.7207973, 5e-8},
		{"log-likelihood", weibull.LogLik - jacobian, -75.134618, 5e-7},
		{"AIC Weibull", aic(weibull), 154.26924, 5e-6},
		{"AIC lognormal", aic(lognormal), 154.39254, 5e-6},
		{"mean life", mean, 540.73703, 5e-6},
		{"sd of life", sd, 323.80582, 5e-6},
		{"lognormal mu", lognormal.Coef[0], 6.226015, 5e-7},
		{"lognormal sigma", lognormal.Scale, 0.908914, 5e-7},
	} {
		if !(math.Abs(c.got-c.want) <= c.tol) {
			t.Errorf("%s = %.9g, want %v", c.what, c.got, c.want)
		}
	}
}

// e-Handbook, 8.2.1.5: 20 units; 50, 100, 125 and 150 are removals, and ten units
// run to 200.
func TestNISTKaplanMeier(t *testing.T) {
	inf := math.Inf(1)
	lo := []float64{10, 32, 56, 98, 122, 181, 50, 100, 125, 150, 200}
	hi := []float64{10, 32, 56, 98, 122, 181, inf, inf, inf, inf, inf}
	w := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 10}
	c, err := KaplanMeier(lo, hi, w)
	if err != nil {
		t.Fatal(err)
	}
	rows := readCSV(t, "nist_km_8215.csv")
	if len(c.Steps) != len(rows) || len(rows) != 6 {
		t.Fatalf("%d steps, want %d", len(c.Steps), len(rows))
	}
	const tol = 5e-7 // half a unit of the last digit of the file
	for i, row := range rows {
		s := c.Steps[i]
		if s.Time != number(t, row["time"]) || s.AtRisk != number(t, row["at_risk"]) || s.Events != number(t, row["failed"]) {
			t.Errorf("step %d: %+v, want %v", i, s, row)
		}
		if math.Abs(s.Survival-number(t, row["R"])) > tol || math.Abs(s.StdErr-number(t, row["greenwood_se"])) > tol {
			t.Errorf("step %d: survival %.7f ± %.7f, want %v ± %v", i, s.Survival, s.StdErr, row["R"], row["greenwood_se"])
		}
	}
	if _, ok := c.Median(); ok {
		t.Error("a median, though two thirds of the units survive")
	}
}

// NIST Statistical Reference Datasets, one-way analysis of variance, fitted as
// cell means without bounds: σ² is SS within/N. The certified SS within belong
// to the decimal data.
func TestNISTOneWay(t *testing.T) {
	certified := make(map[string]string)
	for _, row := range readCSV(t, "nist_certified.csv") {
		if row["quantity"] == "SS_within" {
			certified[row["dataset"]] = row["certified"]
		}
	}
	for _, c := range []struct {
		set string
		// tol is the relative tolerance on σ against the certified value. It is
		// set by what float64 makes of the decimal data: nothing for the first
		// two sets, a tenth digit for SmLs04 and AtmWtAg, and for SmLs07, whose
		// data 1000000000000.4 are off by 2e-5 beside a scatter of 0.1, all but
		// four digits.
		tol float64
	}{
		{"sirstv", 1e-13},
		{"smls01", 1e-13},
		{"smls04", 1e-10},
		{"smls07", 1e-4},
		{"atmwtag", 1e-10},
	} {
		t.Run(c.set, func(t *testing.T) {
			var y []float64
			var group []int
			for _, row := range readCSV(t, "nist_"+c.set+".csv") {
				y = append(y, number(t, row["y"]))
				group = append(group, int(number(t, row["group"]))-1)
			}
			groups := group[len(group)-1] + 1
			x := mat.NewDense(len(y), groups, nil)
			for i, g := range group {
				x.Set(i, g, 1)
			}
			f := fitOrFail(t, x, y, y, Normal, nil)

			want := math.Sqrt(number(t, certified[c.set]) / float64(len(y)))
			if !within(f.Scale, want, c.tol, 0) {
				t.Errorf("σ = %.15g, certified SS give %.15g", f.Scale, want)
			}
			// Against exact rational arithmetic on the float64 data the fit keeps
			// all but the last digits, whatever the level of the data.
			if want := math.Sqrt(exactWithin(y, group, groups) / float64(len(y))); !within(f.Scale, want, 1e-14, 0) {
				t.Errorf("σ = %.17g, exact arithmetic on the float64 data gives %.17g", f.Scale, want)
			}
		})
	}
}

// NIST Statistical Reference Datasets, linear regression: a straight line and a
// quadratic in numbers up to 3e6 whose coefficients span nine powers of ten. The
// certified standard deviations divide the residual sum of squares by n - p, the
// maximum-likelihood ones by n.
func TestNISTLinear(t *testing.T) {
	// The certified values have 15 digits. The columns of the quadratic lose two
	// or three to their correlation; 1e-12 is what is left, and more.
	const tol = 1e-12
	for _, c := range []struct {
		set string
		p   int
	}{{"norris", 2}, {"pontius", 3}} {
		certified := make(map[string]float64)
		for _, row := range readCSV(t, "nist_certified.csv") {
			if row["dataset"] == c.set {
				certified[row["quantity"]] = number(t, row["certified"])
			}
		}
		rows := readCSV(t, "nist_"+c.set+".csv")
		x := mat.NewDense(len(rows), c.p, nil)
		y := make([]float64, len(rows))
		for i, row := range rows {
			y[i] = number(t, row["y"])
			for j, power := 0, 1.0; j < c.p; j++ {
				x.Set(i, j, power)
				power *= number(t, row["x"])
			}
		}
		f := fitOrFail(t, x, y, y, Normal, nil)
		n := float64(len(rows))
		unbiased := math.Sqrt(n / (n - float64(c.p)))
		got := map[string]float64{"residual_sd": f.Scale * unbiased, "SS_residual": n * f.Scale * f.Scale}
		for j, v := range f.Coef {
			got[fmt.Sprint("B", j)], got[fmt.Sprint("sd_B", j)] = v, f.StdErr[j]*unbiased
		}
		if len(got) != 2*c.p+2 {
			t.Fatalf("%d quantities", len(got))
		}
		for q, v := range got {
			if want := certified[q]; !within(v, want, tol, 0) {
				t.Errorf("%s %s = %.15g, certified %.15g", c.set, q, v, want)
			}
		}
	}
}

// exactWithin returns the sum of squares within groups of the float64 data,
// computed with rational numbers and rounded once.
func exactWithin(y []float64, group []int, groups int) float64 {
	sum, squares, n := make([]*big.Rat, groups), new(big.Rat), make([]int64, groups)
	for g := range sum {
		sum[g] = new(big.Rat)
	}
	for i, v := range y {
		r := new(big.Rat).SetFloat64(v)
		sum[group[i]].Add(sum[group[i]], r)
		squares.Add(squares, new(big.Rat).Mul(r, r))
		n[group[i]]++
	}
	for g, s := range sum {
		s.Mul(s, s).Quo(s, new(big.Rat).SetInt64(n[g]))
		squares.Sub(squares, s)
	}
	v, _ := squares.Float64()
	return v
}
