package censreg

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The projection r of a target on the cone {u: M·u ≥ 0} is the point with
// M·r ≥ 0, r·(target - r) = 0 and (target - r)·v ≤ 0 for every v in the cone.
func TestProjectOnCone(t *testing.T) {
	rnd := rand.New(rand.NewPCG(11, 12))
	inside, zero := 0, 0
	for range 3000 {
		k := 2 + rnd.IntN(4)
		m := make([][]float64, 1+rnd.IntN(4*k))
		for i := range m {
			m[i] = unit(rnd, k)
			m[i][0] += rnd.Float64() // so that the cone is more than zero more often
			scale(m[i], 1/norm(m[i]))
		}
		if len(m) > 2 {
			m[1] = m[0] // rows repeat in practice
		}
		target := unit(rnd, k)
		r := nonNegativeResidual(m, target)
		left := make([]float64, k)
		for j := range left {
			left[j] = target[j] - r[j]
		}
		// Least squares with at most five columns of length one, which may be
		// nearly dependent: rounding of 1e-16 times their condition.
		const tol = 1e-10
		for _, a := range m {
			if dot(a, r) < -tol {
				t.Fatalf("k = %d: M·r has %v", k, dot(a, r))
			}
		}
		if math.Abs(dot(r, left)) > tol {
			t.Fatalf("k = %d: r·(target - r) = %v", k, dot(r, left))
		}
		for range 50 {
			v := unit(rnd, k)
			v[0] += 2 * rnd.Float64()
			feasible := true
			for _, a := range m {
				feasible = feasible && dot(a, v) >= 0
			}
			if feasible && dot(left, v) > tol*norm(v) {
				t.Fatalf("k = %d: (target - r)·v = %v for a v in the cone", k, dot(left, v))
			}
		}
		u := projectOnCone(m, target)
		switch {
		case norm(r) < 1e-9:
			zero++
			if u != nil {
				t.Fatalf("a direction %v where the projection is %v", u, r)
			}
		case norm(r) > 1e-6:
			inside++
			if u == nil || math.Abs(norm(u)-1) > 1e-12 || math.Abs(dot(u, r)-norm(r)) > 1e-12 {
				t.Fatalf("direction %v, projection %v", u, r)
			}
		}
	}
	if inside < 500 || zero < 500 {
		t.Errorf("%d projections inside a cone, %d on its tip: not much was tested", inside, zero)
	}
}

// unit returns a random direction.
func unit(rnd *rand.Rand, k int) []float64 {
	v := make([]float64, k)
	for j := range v {
		v[j] = rnd.NormFloat64()
	}
	scale(v, 1/norm(v))
	return v
}

func scale(v []float64, c float64) {
	for j := range v {
		v[j] *= c
	}
}
