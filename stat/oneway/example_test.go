package oneway_test

import (
	"fmt"

	"bondtrial/stat/oneway"
)

// Three groups of five (NIST/SEMATECH e-Handbook, 7.4.3.3).
func ExampleOneWay() {
	label := []int{1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3}
	y := []float64{6.9, 5.4, 5.8, 4.6, 4.0, 8.3, 6.8, 7.8, 9.2, 6.5, 8.0, 10.5, 8.1, 6.9, 9.3}
	table, err := oneway.OneWay(label, y)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("between %.3f on %d, within %.3f on %d\n", table.SSBetween, table.DFBetween, table.SSWithin, table.DFWithin)
	fmt.Printf("F = %.2f, p = %.4f\n", table.F, table.P)
	// Output:
	// between 27.897 on 2, within 17.452 on 12
	// F = 9.59, p = 0.0032
}
