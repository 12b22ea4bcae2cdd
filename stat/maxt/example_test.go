package maxt_test

import (
	"fmt"
	"math"

	"bondtrial/stat/maxt"

	"gonum.org/v1/gonum/mat"
)

// Three groups compared with a control, the first of four groups of unequal size:
// the critical value of simultaneous 95 % intervals, and an adjusted p-value. R's
// multcomp gives 2.4886 and 0.18198 (data set recovery).
func ExampleFromContrasts_control() {
	contrasts := mat.NewDense(3, 4, []float64{
		-1, 1, 0, 0,
		-1, 0, 1, 0,
		-1, 0, 0, 1,
	})
	sizes := mat.NewDiagDense(4, []float64{1.0 / 20, 1.0 / 3, 1.0 / 3, 1.0 / 15})
	d, err := maxt.FromContrasts(contrasts, sizes, 37, maxt.TwoSided, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("critical value %.4f\n", d.Quantile(0.95))
	fmt.Printf("p of t = -1.8837: %.4f\n", d.Survival(1.8837))
	// Output:
	// critical value 2.4886
	// p of t = -1.8837: 0.1820
}

// All pairs of four groups of unequal size, with the standard error reached.
func ExampleFromContrasts_pairs() {
	contrasts := mat.NewDense(6, 4, []float64{
		-1, 1, 0, 0,
		-1, 0, 1, 0,
		-1, 0, 0, 1,
		0, -1, 1, 0,
		0, -1, 0, 1,
		0, 0, -1, 1,
	})
	sizes := mat.NewDiagDense(4, []float64{1.0 / 20, 1.0 / 3, 1.0 / 3, 1.0 / 15})
	d, err := maxt.FromContrasts(contrasts, sizes, 37, maxt.TwoSided, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("critical value %.3f\n", d.Quantile(0.95))
	fmt.Println("exact:", d.Exact())
	fmt.Println("standard error below 0.0001:", d.QuantileStdErr(0.95) < 1e-4)
	// Output:
	// critical value 2.654
	// exact: false
	// standard error below 0.0001: true
}

// The largest of five t variables with all correlations 1/2, one-sided, with a
// known scale. The table published in 1955 has 2.23.
func ExampleNew() {
	corr := mat.NewSymDense(5, nil)
	for i := range 5 {
		for j := range 5 {
			corr.SetSym(i, j, 0.5)
		}
		corr.SetSym(i, i, 1)
	}
	d, err := maxt.New(corr, math.Inf(1), maxt.OneSided, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.4f\n", d.Quantile(0.95))
	// Output:
	// 2.2338
}
