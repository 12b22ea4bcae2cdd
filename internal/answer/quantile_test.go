package answer

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"testing"
)

// Expected: R 4.2.2, quantile(c(7, 1, 3, 9, 4), c(0.1, 0.5, 0.6, 1)), type 7.
func TestQuantilesAgainstR(t *testing.T) {
	x := []float64{7, 1, 3, 9, 4}
	got := quantiles(x, 0, 0.1, 0.5, 0.6, 1)
	for i, want := range []float64{1, 1.8, 4, 5.2, 9} {
		if math.Abs(got[i]-want) > 1e-12 {
			t.Errorf("quantile %d = %v, want %v", i, got[i], want)
		}
	}
	if !slices.Equal(x, []float64{7, 1, 3, 9, 4}) {
		t.Error("the values were moved")
	}
}

func TestQuantilesAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{1, 2, 3, 10, 1000, 4001} {
		for kind := range 4 {
			x := make([]float64, n)
			for i := range x {
				switch kind {
				case 0:
					x[i] = rng.NormFloat64()
				case 1:
					x[i] = math.Round(2 * rng.NormFloat64())
				case 2:
					x[i] = float64(i)
				case 3:
					x[i] = float64(n - i)
				}
			}
			sorted := slices.Clone(x)
			slices.Sort(sorted)
			ps := []float64{0.025, 0.05, 0.05, 0.5, 0.95, 0.975}
			for k, got := range quantiles(x, ps...) {
				h := ps[k] * float64(n-1)
				i := int(h)
				want := sorted[i]
				if i+1 < n {
					want += (h - float64(i)) * (sorted[i+1] - sorted[i])
				}
				if got != want {
					t.Fatalf("n %d, kind %d: quantile %g = %v, want %v", n, kind, ps[k], got, want)
				}
			}
		}
	}
}

func TestInParallel(t *testing.T) {
	for _, n := range []int{0, 1, 100} {
		var sum atomic.Int64
		inParallel(n, func(i int) { sum.Add(int64(i) + 1) })
		if want := int64(n * (n + 1) / 2); sum.Load() != want {
			t.Errorf("%d calls sum to %d, want %d", n, sum.Load(), want)
		}
	}
}
