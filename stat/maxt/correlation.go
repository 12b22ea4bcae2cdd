package maxt

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	// tolerance is how far a given matrix may be from a correlation matrix: a
	// thousand times what forming contrasts costs in rounding, and too little to
	// move a probability in its eighth digit.
	tolerance = 1e-8

	// dependent is the variance left, of 1, at which a row counts as a combination
	// of the rows before it.
	dependent = 1e-10
)

// contrastCorrelation returns the correlation matrix of the contrasts in the rows
// of c, of estimates with covariance cov.
func contrastCorrelation(c mat.Matrix, cov mat.Symmetric) (*mat.SymDense, error) {
	m, k := c.Dims()
	var size float64 // of the entries of cov
	for i := range k {
		size = max(size, math.Abs(cov.At(i, i)))
	}
	var half, full mat.Dense
	half.Mul(c, cov)
	full.Mul(&half, c.T())
	sd := make([]float64, m)
	for i := range m {
		v := full.At(i, i)
		var length float64
		for j := range k {
			length += c.At(i, j) * c.At(i, j)
		}
		if !(v >= -tolerance*size*length) {
			return nil, ErrNotPositive // or not a number
		}
		if !(v > 1e-12*size*length) {
			return nil, ErrZeroVariance
		}
		sd[i] = math.Sqrt(v)
	}
	corr := mat.NewSymDense(m, nil)
	for i := range m {
		corr.SetSym(i, i, 1)
		for j := range i {
			r := full.At(i, j) / (sd[i] * sd[j])
			corr.SetSym(i, j, min(max(r, -1), 1))
		}
	}
	return corr, nil
}

// factorise returns rows a_i, as many long as the rank of corr, with a_i·a_j =
// corr_ij, by Cholesky factorisation with pivoting. Among pivots that differ by
// rounding alone the first is taken, so that the factor, and what a given seed
// yields, is the same on every machine.
func factorise(corr mat.Symmetric) ([][]float64, error) {
	m := corr.SymmetricDim()
	rows := make([][]float64, m)
	left := make([]float64, m)
	for i := range left {
		left[i] = corr.At(i, i)
	}
	for len(rows[0]) < m {
		pivot, most := -1, dependent
		for i, v := range left {
			if v > most*(1+1e-6) {
				pivot, most = i, v
			}
		}
		if pivot < 0 {
			break
		}
		root := math.Sqrt(most)
		column := make([]float64, m)
		for i := range column {
			column[i] = (corr.At(i, pivot) - dot(rows[i], rows[pivot])) / root
		}
		for i := range rows {
			rows[i] = append(rows[i], column[i])
			left[i] -= column[i] * column[i]
		}
		left[pivot] = 0
	}
	for i := range m {
		for j := range i + 1 {
			if !(math.Abs(dot(rows[i], rows[j])-corr.At(i, j)) <= tolerance) {
				return nil, ErrNotPositive
			}
		}
	}
	return rows, nil
}

// distinctRows leaves out rows equal to one before, or for TwoSided opposite to
// one: they never change the maximum.
func distinctRows(rows [][]float64, sides Sides) [][]float64 {
	var kept [][]float64
	for _, row := range rows {
		seen := false
		for _, k := range kept {
			r := dot(row, k)
			if sides == TwoSided {
				r = math.Abs(r)
			}
			seen = seen || r > 1-dependent
		}
		if !seen {
			kept = append(kept, row)
		}
	}
	return kept
}

// correlations returns the matrix of a_i·a_j with a diagonal of exactly 1.
func correlations(rows [][]float64) [][]float64 {
	rho := make([][]float64, len(rows))
	for i := range rho {
		rho[i] = make([]float64, len(rows))
		for j := range rho[i] {
			rho[i][j] = dot(rows[i], rows[j])
		}
		rho[i][i] = 1
	}
	return rho
}

// oneFactorLoads returns b with rho_ij = b_i b_j for all i ≠ j, if there is such a
// b with every |b_i| < 1.
func oneFactorLoads(rho [][]float64) (b []float64, ok bool) {
	m := len(rho)
	b = make([]float64, m)
	// Rows p and q with the largest correlation; all is 0 if that is.
	p, q := 0, 0
	var most float64
	for i := range m {
		for j := range i {
			if math.Abs(rho[i][j]) > most*(1+1e-6) {
				p, q, most = j, i, math.Abs(rho[i][j])
			}
		}
	}
	if most > dependent {
		// b_p² = rho_pq rho_pr / rho_qr for any third row r correlated with q; with
		// no such row the two may share their correlation evenly.
		square, best := most, dependent
		for r := range m {
			if r != p && r != q && math.Abs(rho[q][r]) > best*(1+1e-6) {
				best = math.Abs(rho[q][r])
				square = rho[p][q] * rho[p][r] / rho[q][r]
			}
		}
		if !(square > 0) {
			return nil, false
		}
		b[p] = math.Sqrt(square)
		for i := range m {
			if i != p {
				b[i] = rho[p][i] / b[p]
			}
		}
	}
	for i := range m {
		if b[i]*b[i] > maxShare {
			return nil, false
		}
		for j := range i {
			if math.Abs(rho[i][j]-b[i]*b[j]) > dependent {
				return nil, false
			}
		}
	}
	return b, true
}

func dot(a, b []float64) float64 {
	var sum float64
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}
