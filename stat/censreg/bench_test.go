package censreg

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// BenchmarkRegress fits 100 000 observations, a third of them lower bounds, with
// 24 columns: groups and four covariates.
func BenchmarkRegress(b *testing.B) {
	const n, groups, p = 100_000, 20, 24
	rnd := rand.New(rand.NewPCG(1, 1))
	x := mat.NewDense(n, p, nil)
	lo, hi := make([]float64, n), make([]float64, n)
	for i := range n {
		g := rnd.IntN(groups)
		x.Set(i, g, 1)
		y := 2 + 0.02*float64(g)
		for j := groups; j < p; j++ {
			x.Set(i, j, rnd.NormFloat64())
			y += 0.1 * x.At(i, j)
		}
		y += 0.2 * rnd.NormFloat64()
		limit := 2.3 + 0.2*rnd.NormFloat64()
		lo[i], hi[i] = y, y
		if y > limit {
			lo[i], hi[i] = limit, math.Inf(1)
		}
	}
	for _, d := range []Distribution{Normal, SmallestExtreme} {
		b.Run(d.String(), func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				if _, err := Regress(x, lo, hi, d, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
