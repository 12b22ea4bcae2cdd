package blockdesign

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Efficiency returns the A-efficiency factor of a design: the average variance of
// the pairwise differences of treatments without blocks, at the same replications
// and the same error variance, over that with blocks,
//
//	Σ w_ij (1/r_i + 1/r_j) / Σ w_ij Var(τ̂_i − τ̂_j)
//
// with sums over pairs i < j. counts[b][i] is the number of units of treatment i
// in block b; weights is as in Problem, nil for w_ij = 1. For equal replication and
// equal weights it is the harmonic mean of the factors that CanonicalFactors
// returns.
//
// The value is in [0,1]: 1 if blocks cost nothing, as when all blocks are alike;
// 0 if a pair of positive weight cannot be compared within blocks; 1 if there is
// only one treatment. The relative error is below 1e-10 for up to some hundred
// treatments. Efficiency panics if counts is empty, ragged or has a negative entry,
// and as Problem.Check does about weights.
func Efficiency(counts [][]int, weights mat.Symmetric) float64 {
	t := width(counts)
	checkWeights(weights, t)
	if t == 1 {
		return 1
	}
	weight := weigher(weights)
	variance := PairVariances(counts)
	r := replications(counts)
	free, blocked := 0.0, 0.0
	for i := range t {
		for j := range i {
			w := weight(i, j)
			if w == 0 {
				continue
			}
			if r[i] == 0 || r[j] == 0 {
				return 0
			}
			free += w * (1/r[i] + 1/r[j])
			blocked += w * variance.At(i, j)
		}
	}
	return math.Min(1, free/blocked)
}

// PairVariances returns the t×t matrix of the variances of the least-squares
// estimates of τ_i − τ_j with blocks fixed, in units of the error variance: zero on
// the diagonal, +Inf for treatments of different components. It panics as
// Efficiency does about counts.
func PairVariances(counts [][]int) *mat.SymDense {
	t := width(counts)
	variance := mat.NewSymDense(t, nil)
	for i := range t {
		for j := range i {
			variance.SetSym(i, j, math.Inf(1))
		}
	}
	for _, member := range Components(counts) {
		if len(member) == 1 {
			continue
		}
		g := inverseWithin(counts, member)
		for a, i := range member {
			for b, j := range member[:a] {
				variance.SetSym(i, j, math.Max(0, g.At(a, a)+g.At(b, b)-2*g.At(a, b)))
			}
		}
	}
	return variance
}

// inverseWithin returns a generalised inverse of the information matrix of the
// treatments of one component: the inverse of it plus r rᵀ/n, which on the
// contrasts is the same.
func inverseWithin(counts [][]int, member []int) *mat.SymDense {
	m := len(member)
	info := mat.NewSymDense(m, nil)
	all := replications(counts)
	n := 0.0
	for _, i := range member {
		n += all[i]
	}
	for a, i := range member {
		for c, j := range member[:a+1] {
			v := all[i] * all[j] / n
			if a == c {
				v += all[i]
			}
			for _, row := range counts {
				if row[i] > 0 && row[j] > 0 {
					v -= float64(row[i]) * float64(row[j]) / float64(sum(row))
				}
			}
			info.SetSym(a, c, v)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		// Not reached: the matrix of a component is positive definite.
		panic(notDefinite)
	}
	inv := mat.NewSymDense(m, nil)
	if err := chol.InverseTo(inv); err != nil {
		var condition mat.Condition
		if !errors.As(err, &condition) {
			panic(notDefinite)
		}
	}
	return inv
}

// CanonicalFactors returns the t−1 canonical efficiency factors of a design, the
// smallest first: the eigenvalues of
//
//	I − R^{-1/2} N K^{-1} Nᵀ R^{-1/2}
//
// less the zero that belongs to the overall mean, where N is the matrix of counts,
// treatments by blocks, R the diagonal of replications and K that of block sizes.
// Each is in [0,1]: the share of information on a contrast that is left within
// blocks. A design of c components has c−1 factors of zero. The absolute error is
// below 1e-13. It panics as Efficiency does about counts, and if a treatment has no
// unit.
func CanonicalFactors(counts [][]int) []float64 {
	t := width(counts)
	r := replications(counts)
	m := mat.NewSymDense(t, nil)
	for i := range t {
		if r[i] == 0 {
			panic(noUnit)
		}
		for j := range i + 1 {
			v := 0.0
			if i == j {
				v = 1
			}
			for _, row := range counts {
				if row[i] > 0 && row[j] > 0 {
					v -= float64(row[i]) * float64(row[j]) / (float64(sum(row)) * math.Sqrt(r[i]*r[j]))
				}
			}
			m.SetSym(i, j, v)
		}
	}
	factor := eigenvalues(m)[1:]
	for i, e := range factor {
		factor[i] = math.Max(0, math.Min(1, e))
	}
	return factor
}

// Components returns the sets of treatments that can be compared within blocks,
// directly or through other treatments: each set in rising order, the sets in order
// of their first members. One set means a connected design. A treatment without a
// unit is a set by itself. It panics as Efficiency does about counts.
func Components(counts [][]int) [][]int {
	t := width(counts)
	union := newSets(t)
	for _, row := range counts {
		first := -1
		for i, n := range row {
			if n == 0 {
				continue
			}
			if first >= 0 {
				union.join(first, i)
			}
			first = i
		}
	}
	index := make(map[int]int)
	var components [][]int
	for i := range t {
		root := union.find(i)
		at, ok := index[root]
		if !ok {
			at = len(components)
			index[root] = at
			components = append(components, nil)
		}
		components[at] = append(components[at], i)
	}
	return components
}

// width returns the number of treatments of counts.
func width(counts [][]int) int {
	if len(counts) == 0 || len(counts[0]) == 0 {
		panic(badCounts)
	}
	t := len(counts[0])
	for _, row := range counts {
		if len(row) != t {
			panic(badCounts)
		}
		for _, n := range row {
			if n < 0 {
				panic(badCounts)
			}
		}
	}
	return t
}

func replications(counts [][]int) []float64 {
	r := make([]float64, len(counts[0]))
	for _, row := range counts {
		for i, n := range row {
			r[i] += float64(n)
		}
	}
	return r
}

func sum(row []int) int {
	s := 0
	for _, n := range row {
		s += n
	}
	return s
}

// eigenvalues returns those of m, the smallest first.
func eigenvalues(m *mat.SymDense) []float64 {
	var eigen mat.EigenSym
	if !eigen.Factorize(m, false) {
		// Not reached: the iteration converges for every finite matrix.
		panic(noEigenvalues)
	}
	return eigen.Values(nil)
}

// sets is a partition of 0 … n−1 that only grows coarser.
type sets []int

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func (s sets) find(i int) int {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// join makes the sets of i and j one and reports whether they were two.
func (s sets) join(i, j int) bool {
	i, j = s.find(i), s.find(j)
	s[max(i, j)] = min(i, j)
	return i != j
}
