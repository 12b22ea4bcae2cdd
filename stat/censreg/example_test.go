package censreg_test

// The numbers printed by these examples were checked with R 4.2.2, survival
// 3.5.3: survreg (its var for the standard errors), survreg with an offset and
// uniroot for the bound, survfit.

import (
	"errors"
	"fmt"
	"math"

	"bondtrial/stat/censreg"
	"gonum.org/v1/gonum/mat"
)

// Weibull regression with one mean: ten times to failure, and ten units still
// whole when the test was stopped at 500 (NIST/SEMATECH e-Handbook, 8.4.1.3).
func ExampleRegress() {
	times := []float64{54, 187, 216, 240, 244, 335, 361, 373, 375, 386, 500}
	weights := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 10}

	x := mat.NewDense(len(times), 1, nil)
	lo, hi := make([]float64, len(times)), make([]float64, len(times))
	var jacobian float64
	for i, t := range times {
		x.Set(i, 0, 1)
		lo[i], hi[i] = math.Log(t), math.Log(t)
		if t == 500 {
			hi[i] = math.Inf(1)
			continue
		}
		jacobian += weights[i] * math.Log(t)
	}
	fit, err := censreg.Regress(x, lo, hi, censreg.SmallestExtreme, &censreg.Options{Weights: weights})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("scale %.2f, shape %.4f\n", math.Exp(fit.Coef[0]), 1/fit.Scale)
	fmt.Printf("standard errors of the logarithms %.4f and %.4f\n", fit.StdErr[0], fit.StdErr[1])
	fmt.Printf("log-likelihood of the times %.3f\n", fit.LogLik-jacobian)
	// Output:
	// scale 606.53, shape 1.7208
	// standard errors of the logarithms 0.2059 and 0.2918
	// log-likelihood of the times -75.135
}

// Three groups, of which the last holds lower bounds only. It has no estimate,
// and still a bound.
func ExampleLowerBound() {
	inf := math.Inf(1)
	x := mat.NewDense(9, 3, []float64{
		1, 0, 0, 1, 0, 0, 1, 0, 0,
		0, 1, 0, 0, 1, 0, 0, 1, 0,
		0, 0, 1, 0, 0, 1, 0, 0, 1,
	})
	lo := []float64{2.1, 2.3, 2.2, 1.9, 2.0, 1.8, 2.2, 2.4, 2.1}
	hi := []float64{2.1, 2.3, inf, 1.9, 2.0, inf, inf, inf, inf}

	_, err := censreg.Regress(x, lo, hi, censreg.Normal, nil)
	var unbounded *censreg.UnboundedError
	if errors.As(err, &unbounded) {
		fmt.Println("no estimate: columns", unbounded.Columns, "observations", unbounded.Rows)
	}
	bound, err := censreg.LowerBound(x, lo, hi, censreg.Normal, nil, 2, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("at least %.3f\n", bound)
	// Output:
	// no estimate: columns [2] observations [6 7 8]
	// at least 2.350
}

func ExampleKaplanMeier() {
	inf := math.Inf(1)
	lo := []float64{10, 32, 50, 56, 98, 100, 122, 125, 150, 181}
	hi := []float64{10, 32, inf, 56, 98, inf, 122, inf, inf, 181}
	curve, err := censreg.KaplanMeier(lo, hi, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range curve.Steps {
		fmt.Printf("%4v  %2v at risk  %.4f ± %.4f\n", s.Time, s.AtRisk, s.Survival, s.StdErr)
	}
	if median, ok := curve.Median(); ok {
		fmt.Println("median", median)
	}
	// Output:
	//   10  10 at risk  0.9000 ± 0.0949
	//   32   9 at risk  0.8000 ± 0.1265
	//   56   7 at risk  0.6857 ± 0.1515
	//   98   6 at risk  0.5714 ± 0.1638
	//  122   4 at risk  0.4286 ± 0.1743
	//  181   1 at risk  0.0000 ± 0.0000
	// median 122
}
