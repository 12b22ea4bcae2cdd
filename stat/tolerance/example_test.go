package tolerance_test

import (
	"fmt"

	"bondtrial/stat/tolerance"
)

// The 5th percentile with 75 % confidence from ten observations.
func ExampleK() {
	mean, sd := 9.2, 1.1
	k := tolerance.K(10, 0.95, 0.75)
	fmt.Printf("k = %.3f, bound %.2f\n", k, mean-k*sd)
	// Output:
	// k = 2.104, bound 6.89
}

// Four groups of five share a standard deviation on 16 degrees of freedom, which
// asks for less than a group's own on 4. R's qt(0.75, df, ncp)/sqrt(5), with ncp =
// qnorm(0.95)*sqrt(5), gives 2.46338 for 4 and 2.06768 for 16 degrees of freedom.
func ExampleKWithDF() {
	fmt.Printf("own %.3f, pooled %.3f\n", tolerance.K(5, 0.95, 0.75), tolerance.KWithDF(5, 16, 0.95, 0.75))
	// Output:
	// own 2.463, pooled 2.068
}

// The closed formula of the standard beside its table and the exact factor.
func ExampleEN14358() {
	for _, n := range []int{5, 10, 30} {
		fmt.Printf("%2d: formula %.2f, table %.2f, exact %.2f\n",
			n, tolerance.EN14358(n), tolerance.EN14358Table(n), tolerance.K(n, 0.95, 0.75))
	}
	// Output:
	//  5: formula 2.48, table 2.46, exact 2.46
	// 10: formula 2.09, table 2.10, exact 2.10
	// 30: formula 1.86, table 1.87, exact 1.87
}

// The power of a one-sided t test at 5 % with ten observations and a true mean of
// one standard deviation; R's power.t.test gives 0.89752.
func ExampleNoncentralT() {
	critical := tolerance.NoncentralT{DF: 9}.Quantile(0.95)
	power := tolerance.NoncentralT{DF: 9, Delta: 3.1622776601683795}.Survival(critical)
	fmt.Printf("%.4f\n", power)
	// Output:
	// 0.8975
}
