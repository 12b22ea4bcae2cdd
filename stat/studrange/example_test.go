package studrange_test

import (
	"fmt"
	"math"

	"bondtrial/stat/studrange"
)

// Simultaneous 95 % intervals for all differences of four means of five
// observations each, with an error mean square of 1.33075 on 16 degrees of
// freedom.
func ExampleDist_Quantile() {
	q := studrange.Dist{K: 4, DF: 16}.Quantile(0.95)
	fmt.Printf("q = %.4f\n", q)
	fmt.Printf("half-width = %.3f\n", q*math.Sqrt(1.33075/5))
	// Output:
	// q = 4.0461
	// half-width = 2.087
}

// The p-value of the largest of all differences, here 6.3 standard errors of a
// mean, among four groups.
func ExampleDist_Survival() {
	p := studrange.Dist{K: 4, DF: 16}.Survival(6.3)
	fmt.Printf("p = %.4f\n", p)
	// Output:
	// p = 0.0020
}

// With a known scale the degrees of freedom are infinite.
func ExampleDist_CDF() {
	d := studrange.Dist{K: 3, DF: math.Inf(1)}
	fmt.Printf("%.4f\n", d.CDF(3.3145))
	// Output:
	// 0.9500
}
