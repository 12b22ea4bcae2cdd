package maxt

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"bondtrial/stat/internal/quad"
)

// bins holds weights at the values (i/numBins)², i = 0, …, numBins, that stand for
// weights at any values in [0, 1]: each is shared among four neighbours so that
// the sum of weight times f is exact for f cubic in the square root of the value.
// For the tails of R the error is below 1e-8 of the sum for c up to 5. The spacing
// is finest near 0, where the tails are steep for c near 0.
type bins []float64

const numBins = 1024

func newBins() bins { return make(bins, numBins+1) }

// binAt returns the value of the i-th bin.
func binAt(i int) float64 {
	x := float64(i) / numBins
	return x * x
}

// add puts in a weight at a value in [0, 1].
func (b bins) add(value, weight float64) {
	x := math.Sqrt(value) * numBins
	i := min(max(int(x)-1, 0), numBins-3)
	t := x - float64(i)
	// Lagrange polynomials for the nodes 0, 1, 2, 3.
	t1, t2, t3 := t-1, t-2, t-3
	b[i] -= weight * t1 * t2 * t3 / 6
	b[i+1] += weight * t * t2 * t3 / 2
	b[i+2] -= weight * t * t1 * t3 / 2
	b[i+3] += weight * t * t1 * t2 / 6
}

// chiTable holds quantiles of the chi distribution on chiDF degrees of freedom at
// even steps of the normal deviate that stands for the probability.
type chiTable []float64

const (
	chiTableEnd  = 8.5
	chiTableStep = 1.0 / 16
)

func newChiTable() chiTable {
	n := int(2 * chiTableEnd / chiTableStep)
	table := make(chiTable, n+1)
	for i := range table {
		z := -chiTableEnd + float64(i)*chiTableStep
		var half float64
		if z < 0 {
			half = mathext.GammaIncRegInv(chiDF/2.0, quad.NormalBelow(z))
		} else {
			half = mathext.GammaIncRegCompInv(chiDF/2.0, quad.NormalBelow(-z))
		}
		table[i] = math.Sqrt(2 * half)
	}
	return table
}

// quantile returns the chi quantile at the probability Φ(z), by cubic
// interpolation with an error below 1e-7.
func (c chiTable) quantile(z float64) float64 {
	x := (z + chiTableEnd) / chiTableStep
	i := min(max(int(x)-1, 0), len(c)-4)
	t := x - float64(i)
	t1, t2, t3 := t-1, t-2, t-3
	return -c[i]*t1*t2*t3/6 + c[i+1]*t*t2*t3/2 - c[i+2]*t*t1*t3/2 + c[i+3]*t*t1*t2/6
}
