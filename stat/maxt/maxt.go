package maxt

import (
	"errors"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"bondtrial/stat/internal/quad"
)

const (
	badDF          = "maxt: degrees of freedom not positive"
	badSides       = "maxt: unknown sides"
	badProbability = "maxt: probability outside [0,1]"
	badShape       = "maxt: contrasts and covariance of different size"
	noContrast     = "maxt: no contrast"
)

// Errors returned by New and FromContrasts. They describe the data, not the call.
var (
	ErrNotCorrelation = errors.New("maxt: diagonal of the correlation matrix is not 1")
	ErrNotPositive    = errors.New("maxt: matrix is not positive semidefinite")
	ErrZeroVariance   = errors.New("maxt: a contrast has no variance")
)

// Sides says which contrasts count as large.
type Sides int

const (
	TwoSided Sides = iota // the largest |T_j|
	OneSided              // the largest T_j
)

// Dist is the distribution of the largest of m correlated t variables, |T_j| or
// T_j. It is made by New or FromContrasts, does not change afterwards, and may be
// used by several goroutines at once.
type Dist struct {
	law   law
	sides Sides
}

// law is the distribution of the largest T_j or |T_j| by one of the methods.
type law interface {
	cdf(c float64) float64
	survival(c float64) float64
	// stdErr is the standard error of cdf and survival; 0 for quadrature.
	stdErr(c float64) float64
}

// New returns the distribution for a correlation matrix of any rank and df
// degrees of freedom, +Inf for a known scale. src is read only where the method
// is quasi-Monte Carlo, for the random shifts; nil stands for
// rand.NewPCG(1, 1). The same input and the same state of src give the same Dist.
//
// A correlation matrix is taken as it is up to 1e-8: an error is returned if its
// diagonal is further from 1, or the matrix further from a positive semidefinite
// one. New panics if df is not positive, sides is unknown or corr is empty.
func New(corr mat.Symmetric, df float64, sides Sides, src rand.Source) (*Dist, error) {
	if !(df > 0) {
		panic(badDF)
	}
	if sides != TwoSided && sides != OneSided {
		panic(badSides)
	}
	m := corr.SymmetricDim()
	if m == 0 {
		panic(noContrast)
	}
	for i := range m {
		if !(math.Abs(corr.At(i, i)-1) <= tolerance) {
			return nil, ErrNotCorrelation
		}
	}
	factor, err := factorise(corr)
	if err != nil {
		return nil, err
	}
	rows := distinctRows(factor, sides)
	rho := correlations(rows)
	rank := len(rows[0])

	if sides == OneSided && rank == 1 && len(rows) == 2 {
		// The larger of T and −T is |T|.
		one := oneFactor{loads: []load{{b: 0, sigma: 1, count: 1}}, df: df, sides: TwoSided}
		return &Dist{law: one, sides: TwoSided}, nil
	}
	if b, ok := oneFactorLoads(rho); ok {
		return &Dist{law: newOneFactor(b, df, sides), sides: sides}, nil
	}
	if rank == 2 {
		return &Dist{law: newCircle(rows, df, sides), sides: sides}, nil
	}
	if src == nil {
		src = rand.NewPCG(1, 1)
	}
	return &Dist{law: newSphere(rows, rho, df, sides, rand.New(src)), sides: sides}, nil
}

// FromContrasts returns the distribution for the contrasts that are the rows of
// the m×k matrix c, of k estimates with a covariance matrix proportional to cov,
// k×k. For independent group means cov is diagonal with 1/n_i. Everything else is
// as in New.
//
// FromContrasts returns an error if a contrast has no variance or cov is not
// positive semidefinite. It panics if c is not m×k with m ≥ 1.
func FromContrasts(c mat.Matrix, cov mat.Symmetric, df float64, sides Sides, src rand.Source) (*Dist, error) {
	m, k := c.Dims()
	if m == 0 {
		panic(noContrast)
	}
	if k != cov.SymmetricDim() {
		panic(badShape)
	}
	corr, err := contrastCorrelation(c, cov)
	if err != nil {
		return nil, err
	}
	return New(corr, df, sides, src)
}

// CDF returns the probability that no contrast exceeds c: that every |T_j| ≤ c
// for TwoSided, every T_j ≤ c for OneSided.
//
// Special cases are: 0 for c = −Inf, and for c ≤ 0 if TwoSided; 1 for c = +Inf;
// NaN for c = NaN.
func (d *Dist) CDF(c float64) float64 {
	switch {
	case math.IsNaN(c):
		return math.NaN()
	case math.IsInf(c, -1), d.sides == TwoSided && c <= 0:
		return 0
	case math.IsInf(c, 1):
		return 1
	}
	return d.law.cdf(c)
}

// Survival returns the probability that some contrast exceeds c, the p-value
// adjusted for all of them. It keeps its relative accuracy in the upper tail, to
// its standard error where that is not zero.
//
// Special cases are: 1 for c = −Inf, and for c ≤ 0 if TwoSided; 0 for c = +Inf;
// NaN for c = NaN.
func (d *Dist) Survival(c float64) float64 {
	switch {
	case math.IsNaN(c):
		return math.NaN()
	case math.IsInf(c, -1), d.sides == TwoSided && c <= 0:
		return 1
	case math.IsInf(c, 1):
		return 0
	}
	return d.law.survival(c)
}

// StdErr returns the standard error of CDF(c) and Survival(c), from the spread
// between the random shifts of the lattice; with ten shifts it is itself known to
// about a quarter. It is 0 where the method is quadrature.
func (d *Dist) StdErr(c float64) float64 {
	if math.IsNaN(c) || math.IsInf(c, 0) || d.sides == TwoSided && c <= 0 {
		return 0
	}
	return d.law.stdErr(c)
}

// Exact reports whether the probabilities come from quadrature and have no
// standard error.
func (d *Dist) Exact() bool {
	_, random := d.law.(*sphere)
	return !random
}

// Quantile returns the c at which CDF(c) is p, the critical value of simultaneous
// tests and intervals at level p. Above p = 1/2 it solves Survival(c) = 1−p.
//
// Special cases are: 0 (TwoSided) or −Inf (OneSided) for p = 0, +Inf for p = 1.
// Quantile panics if p is not in [0,1].
func (d *Dist) Quantile(p float64) float64 {
	switch {
	case !(p >= 0 && p <= 1):
		panic(badProbability)
	case p == 0 && d.sides == TwoSided:
		return 0
	case p == 0:
		return math.Inf(-1)
	case p == 1:
		return math.Inf(1)
	}
	// Heavy tails are straightened by a logarithm, or by asinh where c has a sign.
	scale, from := math.Exp, math.Log(2.5)
	if d.sides == OneSided {
		scale, from = math.Sinh, math.Asinh(2.5)
	}
	f := func(u float64) float64 { return logFloor(d.CDF(scale(u))) - math.Log(p) }
	if p > 0.5 {
		f = func(u float64) float64 { return math.Log1p(-p) - logFloor(d.Survival(scale(u))) }
	}
	return scale(quad.IncreasingRoot(f, from, 0.25))
}

// QuantileStdErr returns the standard error of Quantile(p): the standard error of
// CDF there over its slope, +Inf where the slope is too small to be seen. It is 0
// where the method is quadrature, and for p = 0 and p = 1. QuantileStdErr panics if
// p is not in [0,1].
func (d *Dist) QuantileStdErr(p float64) float64 {
	c := d.Quantile(p)
	if d.Exact() || math.IsInf(c, 0) || c == 0 && d.sides == TwoSided {
		return 0
	}
	h := 1e-3 * math.Hypot(c, 0.1)
	slope := (d.Survival(c-h) - d.Survival(c+h)) / (2 * h)
	if !(slope > 0) {
		return math.Inf(1)
	}
	return d.StdErr(c) / slope
}

// logFloor is log x, with 0 taken for a number too small to be written.
func logFloor(x float64) float64 {
	if x <= 0 {
		return -750
	}
	return math.Log(x)
}
