package maxt

import "math"

// latticeLevels are the numbers of points at which the lattice is meant to be good.
var latticeLevels = []int{512, 1024, 2048, 4096, 8192}

// searchLattice builds the first dims components of the generating vector one
// after the other. The measure of a vector at n points is the squared worst-case
// error of shifted lattice rules in the Korobov space of smoothness 1 with equal
// product weights 0.1 (Sloan and Joe 1994, Dick, Kuo and Sloan 2013),
//
//	e² = −1 + (1/n) Σ_i Π_j (1 + 0.1·2π² B₂({i z_j / n}))
//
// A component is the odd number that makes the largest ratio, over the levels,
// of e² to the best e² of any candidate at that level smallest (Cools, Kuo and
// Nuyens 2006).
func searchLattice(dims int) []int {
	const weight = 0.1
	type level struct {
		n       int
		factor  []float64 // 1 + weight·2π² B₂(i/n)
		product []float64
	}
	var levels []level
	for _, n := range latticeLevels {
		l := level{n, make([]float64, n), make([]float64, n)}
		for i := range n {
			x := float64(i) / float64(n)
			l.factor[i] = 1 + weight*2*math.Pi*math.Pi*(x*x-x+1.0/6)
			l.product[i] = l.factor[i]
		}
		levels = append(levels, l)
	}
	top := latticeLevels[len(latticeLevels)-1]
	z := []int{1}
	for len(z) < dims {
		measure := make([][]float64, len(levels))
		best := make([]float64, len(levels))
		for k, l := range levels {
			best[k] = math.Inf(1)
			for c := 1; c < top/2; c += 2 {
				var sum float64
				for i, at := 0, 0; i < l.n; i, at = i+1, (at+c)&(l.n-1) {
					sum += l.product[i] * l.factor[at]
				}
				e := sum/float64(l.n) - 1
				measure[k] = append(measure[k], e)
				best[k] = min(best[k], e)
			}
		}
		choice, worst := 0, math.Inf(1)
		for c := range measure[0] {
			var ratio float64
			for k := range levels {
				ratio = max(ratio, measure[k][c]/best[k])
			}
			// A near tie goes to the first, so that rounding cannot decide.
			if ratio < worst*(1-1e-9) {
				choice, worst = c, ratio
			}
		}
		next := 2*choice + 1
		z = append(z, next)
		for _, l := range levels {
			for i := range l.product {
				l.product[i] *= l.factor[i*next&(l.n-1)]
			}
		}
	}
	return z
}
