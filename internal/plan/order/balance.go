package order

import (
	"fmt"
	"math"
)

// Figure says how well an order is balanced for one adhesive.
type Figure struct {
	Adhesive  string
	Specimens int
	Mean      float64 // mean place, from 1
	Off       float64 // the mean place less the middle (N+1)/2, in percent of N
	R         float64 // correlation of place and being of this adhesive, -1 to 1; 0 when all specimens are
}

// Balance returns the figures of an order, one for each adhesive in the order of
// first mention. order names the specimens by their index, adhesive is by
// specimen. Accurate to a few units of the last digit of a float64.
//
// It panics when order does not name each specimen once.
func Balance(order []int, adhesive []string) []Figure {
	n := len(adhesive)
	if len(order) != n {
		panic("order: not as many places as specimens")
	}
	var figures []Figure
	of := make([]int, n)
	at := make(map[string]int)
	for i, name := range adhesive {
		k, ok := at[name]
		if !ok {
			k = len(figures)
			at[name] = k
			figures = append(figures, Figure{Adhesive: name})
		}
		of[i] = k
		figures[k].Specimens++
	}
	deviation := make([]int, len(figures))
	seen := make([]bool, n)
	for k, i := range order {
		if i < 0 || i >= n || seen[i] {
			panic("order: a specimen is missing or named twice")
		}
		seen[i] = true
		deviation[of[i]] += 2*(k+1) - n - 1
	}
	for k := range figures {
		f := &figures[k]
		off := float64(deviation[k]) / float64(2*f.Specimens)
		f.Mean = float64(n+1)/2 + off
		f.Off = 100 * off / float64(n)
		if f.Specimens < n {
			f.R = float64(deviation[k]) * math.Sqrt(3/(float64(f.Specimens)*float64(n-f.Specimens)*(float64(n)*float64(n)-1)))
		}
	}
	return figures
}

// Within reports whether the adhesive keeps the limits: a mean place within 2 %
// of N of the middle and |r| of at most 0.05.
func (f Figure) Within() bool { return math.Abs(f.Off) <= 2 && math.Abs(f.R) <= 0.05 }

// String returns the figures as they are printed, such as
// "Tarn: 14 specimens, mean place 42.6, 0.2 % late, r 0.00".
func (f Figure) String() string {
	side := "late"
	switch {
	case math.Abs(f.Off) < 0.05:
		side = "off" // which side does not show
	case f.Off < 0:
		side = "early"
	}
	things := "specimens"
	if f.Specimens == 1 {
		things = "specimen"
	}
	r := f.R
	if math.Abs(r) < 0.005 {
		r = 0 // no minus before 0.00
	}
	return fmt.Sprintf("%s: %d %s, mean place %.1f, %.1f %% %s, r %.2f", f.Adhesive, f.Specimens, things, f.Mean, math.Abs(f.Off), side, r)
}
