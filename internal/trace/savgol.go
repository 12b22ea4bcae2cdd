package trace

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// SavitzkyGolay returns the weights that give, from window neighbouring samples, the
// derivative (0: the value itself) in the middle of the polynomial of an order that
// fits them best: Σ c[i]·y[i], for samples one apart. The weights solve the normal
// equations on abscissas from −1 to 1, and agree with exact ones to 1e-12 of the
// largest up to order 4 (Savitzky and Golay 1964, with least squares as they define).
//
// It panics where window is not odd, order is not below window or above 6, or
// derivative is above order.
func SavitzkyGolay(window, order, derivative int) []float64 {
	if window < 1 || window%2 == 0 || order < 0 || order >= window || order > 6 || derivative < 0 || derivative > order {
		panic("trace: no such Savitzky-Golay filter")
	}
	half := window / 2
	scale := float64(max(half, 1))
	moments := make([]float64, 2*order+1)
	for j := -half; j <= half; j++ {
		u, p := float64(j)/scale, 1.0
		for k := range moments {
			moments[k] += p
			p *= u
		}
	}
	normal := mat.NewSymDense(order+1, nil)
	for i := 0; i <= order; i++ {
		for j := i; j <= order; j++ {
			normal.SetSym(i, j, moments[i+j])
		}
	}
	rhs := mat.NewVecDense(order+1, nil)
	factor := 1.0
	for k := 2; k <= derivative; k++ {
		factor *= float64(k)
	}
	rhs.SetVec(derivative, factor/math.Pow(scale, float64(derivative)))
	var chol mat.Cholesky
	var z mat.VecDense
	if !chol.Factorize(normal) || chol.SolveVecTo(&z, rhs) != nil {
		panic("trace: no such Savitzky-Golay filter")
	}
	c := make([]float64, window)
	for j := -half; j <= half; j++ {
		u, p := float64(j)/scale, 1.0
		for k := 0; k <= order; k++ {
			c[j+half] += z.AtVec(k) * p
			p *= u
		}
	}
	return c
}

// weigh returns Σ c[i]·y[at−len(c)/2+i]; the whole window must lie within y.
func weigh(c, y []float64, at int) float64 {
	y = y[at-len(c)/2:]
	sum := 0.0
	for i, w := range c {
		sum += w * y[i]
	}
	return sum
}
