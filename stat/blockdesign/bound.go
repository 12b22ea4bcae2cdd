package blockdesign

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Bound returns a number that the efficiency of no design for p exceeds (by more
// than rounding, 1e-12), or the error of p.Check. It need not be reached. It is the
// least of:
//
//   - 1; and 0 if every design is unconnected and all weights are positive;
//   - for equal replication, equal blocks, no free place and equal weights, the bound
//     from the first two moments of the canonical efficiency factors (Jarrett 1977;
//     John and Williams 1995, section 2.8), of the design and, if there are fewer
//     blocks than treatments, of its dual. A balanced design reaches it;
//   - in general, from the most information C that the treatments can have,
//     tr(C⁺L)·Σ y_i C_ii ≥ (tr (Y^{1/2} L Y^{1/2})^{1/2})² for every y ≥ 0, where L
//     is the Laplacian of the weights; the best of some y is taken. It is good to a
//     few percent as long as replications are alike, and loose else.
func Bound(p Problem) (float64, error) {
	fewest, err := p.FewestComponents()
	if err != nil {
		return 0, err
	}
	if len(p.Replications) == 1 {
		return 1, nil
	}
	even, least := evenWeights(p.Weights)
	if fewest > 1 && least > 0 {
		return 0, nil
	}
	bound := math.Min(1, informationBound(p))
	if t, r, b, k, ok := p.regular(); ok && even {
		bound = math.Min(bound, momentBound(t, b, k))
		if b < t {
			// The dual has the same canonical factors apart from ones.
			dual := momentBound(b, t, r)
			bound = math.Min(bound, float64(t-1)/(float64(t-b)+float64(b-1)/dual))
		}
	}
	return bound, nil
}

// evenWeights reports whether all pairs count alike, and the least weight.
func evenWeights(weights mat.Symmetric) (even bool, least float64) {
	if weights == nil {
		return true, 1
	}
	weight := weigher(weights)
	least, most := math.Inf(1), 0.0
	for i := range weights.SymmetricDim() {
		for j := range i {
			least = math.Min(least, weight(i, j))
			most = math.Max(most, weight(i, j))
		}
	}
	return least == most, least
}

// regular reports whether p asks for t treatments of r units each in b full blocks
// of k.
func (p Problem) regular() (t, r, b, k int, ok bool) {
	if len(p.Blocks) == 0 {
		return 0, 0, 0, 0, false
	}
	t, r = len(p.Replications), p.Replications[0]
	b, k = len(p.Blocks), p.Blocks[0]
	ok = t*r == b*k && !slices.ContainsFunc(p.Replications, func(v int) bool { return v != r }) &&
		!slices.ContainsFunc(p.Blocks, func(v int) bool { return v != k })
	return t, r, b, k, ok
}

// momentBound bounds the harmonic mean of the canonical factors of t equally
// replicated treatments in b blocks of k.
//
// In a design whose counts are ⌊k/t⌋ or ⌈k/t⌉ the t−1 factors have mean u0, and the
// sum of their squared deviations is least, s2, if the concurrences differ by at
// most one. Given both, the harmonic mean is largest when one factor is high and the
// others are equal. The sum of squared counts of any other design is larger by at
// least 2, which lowers the mean.
func momentBound(t, b, k int) float64 {
	if t == 1 {
		return 1
	}
	rest := float64(k % t)
	ft, fk := float64(t), float64(k)
	rk := float64(b) * fk * fk / ft
	u0 := 1 - rest*(ft-rest)/(fk*fk*(ft-1))
	concurrence := float64(b) * rest * (rest - 1) / (ft * (ft - 1))
	alpha := concurrence - math.Floor(concurrence+1e-9)
	s2 := ft * (ft - 1) * math.Max(0, alpha*(1-alpha)) / (rk * rk)
	if t == 2 {
		return u0
	}
	s := math.Sqrt(s2 / ((ft - 1) * (ft - 2)))
	binary := 0.0
	if s < u0 {
		binary = u0 - (ft-2)*s*s/(u0+(ft-3)*s)
	}
	return math.Max(binary, u0-2/(rk*(ft-1)))
}

// informationBound is the general bound: see Bound. Minimising the Lagrangian of
// tr(C⁺L) under Σ y_i C_ii ≤ c over C gives it.
func informationBound(p Problem) float64 {
	t := len(p.Replications)
	lap := laplacian(p)
	best := math.Inf(1)
	for step := range 9 {
		// Without the constraint that the rows of C add to zero, y = r^{-2} would be
		// best for unequal replication.
		power := -float64(step) / 4
		y := make([]float64, t)
		for i, r := range p.Replications {
			y[i] = math.Pow(float64(r), power)
		}
		m := mat.NewSymDense(t, nil)
		for i := range t {
			for j := range i + 1 {
				m.SetSym(i, j, lap[i*t+j]*math.Sqrt(y[i]*y[j]))
			}
		}
		root := 0.0
		values := eigenvalues(m)
		for _, e := range values {
			// Rounding makes the root of what should be zero large; leaving it out errs
			// on the safe side.
			if e > 1e-12*values[t-1] {
				root += math.Sqrt(e)
			}
		}
		best = math.Min(best, mostInformation(p, y)/(root*root))
	}
	return best
}

// mostInformation returns an upper bound of Σ y_i C_ii = Σ y_i (r_i − Σ_b n_bi²/k_b)
// over all designs. As n² ≥ (2m+1)n − m(m+1) for whole n and m, the loss is at least
// a sum over units of products y_i (2m_b+1)/k_b less a constant, and that is least
// when the largest y meets the smallest factor.
func mostInformation(p Problem, y []float64) float64 {
	total := 0.0
	var units, places []float64
	for i, r := range p.Replications {
		total += y[i] * float64(r)
		for range r {
			units = append(units, y[i])
		}
	}
	t := len(y)
	for _, k := range p.Blocks {
		m := k / t
		if len(units) < p.places() {
			m = 0 // any m holds; this one is closer where blocks stay part empty
		}
		for range k {
			places = append(places, float64(2*m+1)/float64(k))
		}
		for _, v := range y {
			if k > 0 {
				total += v * float64(m*(m+1)) / float64(k)
			}
		}
	}
	slices.SortFunc(units, func(a, b float64) int { return cmp.Compare(b, a) })
	slices.Sort(places)
	for u, v := range units {
		total -= v * places[u]
	}
	return total
}

func (p Problem) places() int { return sum(p.Blocks) }

// laplacian returns the t×t matrix L for which tr(C⁺L) is the reciprocal of the
// efficiency: tr(GL) is the sum of w_ij Var(τ̂_i − τ̂_j) over what it is without blocks.
func laplacian(p Problem) []float64 {
	t := len(p.Replications)
	weight := weigher(p.Weights)
	lap := make([]float64, t*t)
	free := 0.0
	for i := range t {
		for j := range i {
			w := weight(i, j)
			lap[i*t+j] -= w
			lap[j*t+i] -= w
			lap[i*t+i] += w
			lap[j*t+j] += w
			free += w * (1/float64(p.Replications[i]) + 1/float64(p.Replications[j]))
		}
	}
	for i := range lap {
		lap[i] /= free
	}
	return lap
}
