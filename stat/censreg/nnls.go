package censreg

import "gonum.org/v1/gonum/mat"

// projectOnCone returns the projection of target on the cone {u: M·u ≥ 0}, scaled
// to length one, or nil when it is zero to rounding. The rows of m have length
// one.
//
// By Moreau's decomposition the projection is what is left of target after its
// best approximation by -Mᵀ·λ with λ ≥ 0 is taken off.
func projectOnCone(m [][]float64, target []float64) []float64 {
	size := norm(target)
	if size <= coneTolerance {
		return nil
	}
	u := nonNegativeResidual(m, target)
	length := norm(u)
	if length <= coneTolerance*max(1, 1e-4*size) {
		return nil
	}
	for j := range u {
		u[j] /= length
	}
	for _, a := range m {
		if dot(a, u) < -coneTolerance {
			return nil
		}
	}
	return u
}

// nonNegativeResidual returns target + Mᵀ·λ for the λ ≥ 0 that makes it shortest,
// by the active-set method of Lawson and Hanson (1974, chapter 23). M has many
// rows and few columns, so that the passive set stays small.
func nonNegativeResidual(m [][]float64, target []float64) []float64 {
	k := len(target)
	tolerance := 1e-12 * norm(target)
	residual := append([]float64(nil), target...)
	var passive []int
	var lambda []float64
	// Each round adds the row that the residual violates most. The limit is far
	// above what the method needs; a residual that still violates a row is
	// refused by projectOnCone.
	for range 50 * (k + 1) {
		worst, at := -tolerance, -1
		for i, a := range m {
			if v := dot(a, residual); v < worst && !contains(passive, i) {
				worst, at = v, i
			}
		}
		if at < 0 || len(passive) == k {
			break
		}
		passive, lambda = append(passive, at), append(lambda, 0)
		passive, lambda = solvePassive(m, target, passive, lambda)
		copy(residual, target)
		for i, row := range passive {
			for j, v := range m[row] {
				residual[j] += lambda[i] * v
			}
		}
	}
	return residual
}

// solvePassive solves the least-squares problem over the passive rows, dropping
// rows whose multiplier would turn negative.
func solvePassive(m [][]float64, target []float64, passive []int, lambda []float64) ([]int, []float64) {
	for len(passive) > 0 {
		k := len(target)
		a := mat.NewDense(k, len(passive), nil)
		b := mat.NewVecDense(k, nil)
		for j := range k {
			b.SetVec(j, -target[j])
			for i, row := range passive {
				a.Set(j, i, m[row][j])
			}
		}
		var qr mat.QR
		qr.Factorize(a)
		var next mat.VecDense
		if err := qr.SolveVecTo(&next, false, b); err != nil {
			if _, poor := err.(mat.Condition); !poor || next.Len() == 0 {
				return passive[:len(passive)-1], lambda[:len(passive)-1]
			}
		}
		// Go from lambda towards next until the first multiplier reaches zero.
		step, first := 1.0, -1
		for i := range passive {
			if v := next.AtVec(i); v <= 0 {
				t := 0.0
				if lambda[i] > 0 {
					t = lambda[i] / (lambda[i] - v)
				}
				if first < 0 || t < step {
					step, first = t, i
				}
			}
		}
		for i := range passive {
			lambda[i] += step * (next.AtVec(i) - lambda[i])
		}
		if first < 0 {
			return passive, lambda
		}
		passive = append(passive[:first], passive[first+1:]...)
		lambda = append(lambda[:first], lambda[first+1:]...)
	}
	return passive, lambda
}

func contains(list []int, i int) bool {
	for _, v := range list {
		if v == i {
			return true
		}
	}
	return false
}
