// Package fit fits straight lines and quadratics by least squares, and says
// whether the quadratic term is needed.
//
// # Model
//
//	y[i] = B0 + B1 x[i] (+ B2 x[i]²) + e[i],   e independent, of one standard deviation
//
// # Method and accuracy
//
// x is centred and scaled to [−1, 1], the design is factored by Householder QR,
// and one step of refinement is made. On the NIST Statistical Reference Datasets
// Norris and Pontius every certified figure is met to 11 digits or more, which the
// tests demand.
package fit

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Poly is a fitted polynomial. It is kept in t = (x − Centre)/Scale, where its
// coefficients do not cancel; every field is needed to use it again, so a Poly can
// be stored as JSON and read back.
type Poly struct {
	Centre     float64     `json:"centre"`      // middle of the range of x
	Scale      float64     `json:"scale"`       // half the range of x, above 0
	C          []float64   `json:"c"`           // coefficients of t⁰, t¹, …
	Cov        [][]float64 `json:"cov"`         // covariances of C
	N          int         `json:"n"`           // points
	DF         int         `json:"df"`          // N less the number of coefficients, at least 1
	SS         float64     `json:"ss"`          // sum of the squared residuals
	ResidualSD float64     `json:"residual_sd"` // √(SS/DF)
	R2         float64     `json:"r2"`          // 1 − SS/(sum of squares about the mean of y)
}

// New fits a polynomial of degree 1 or 2. The error says what the data lack:
// points, different values of x or of y, or finite values.
//
// It panics where x and y differ in length or the degree is another.
func New(x, y []float64, degree int) (Poly, error) {
	if len(x) != len(y) {
		panic("fit: x and y differ in length")
	}
	if degree != 1 && degree != 2 {
		panic("fit: the degree is neither 1 nor 2")
	}
	p := degree + 1
	if err := enough(x, y, p); err != nil {
		return Poly{}, err
	}
	lo, hi := slices.Min(x), slices.Max(x)
	f := Poly{Centre: lo + (hi-lo)/2, Scale: (hi - lo) / 2, N: len(x), DF: len(x) - p}

	design := mat.NewDense(len(x), p, nil)
	for i, v := range x {
		t := (v - f.Centre) / f.Scale
		for j, power := 0, 1.0; j < p; j, power = j+1, power*t {
			design.Set(i, j, power)
		}
	}
	var qr mat.QR
	qr.Factorize(design)
	c := mat.NewVecDense(p, nil)
	left := mat.NewVecDense(len(y), slices.Clone(y))
	for range 2 { // the second time on what the first left over
		var step, fitted mat.VecDense
		if err := qr.SolveVecTo(&step, false, left); err != nil {
			return Poly{}, errors.New("the points do not determine the curve: take loads that are further apart")
		}
		c.AddVec(c, &step)
		fitted.MulVec(design, c)
		left.SubVec(mat.NewVecDense(len(y), y), &fitted)
	}
	f.C = slices.Clone(c.RawVector().Data)
	f.SS = mat.Dot(left, left)
	f.ResidualSD = math.Sqrt(f.SS / float64(f.DF))
	about := 0.0
	mean := middle(y)
	for _, v := range y {
		about += (v - mean) * (v - mean)
	}
	f.R2 = 1 - f.SS/about
	f.Cov = covariance(&qr, p, f.SS/float64(f.DF))
	return f, nil
}

// middle is the mean of y, computed about its first value.
func middle(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v - y[0]
	}
	return y[0] + sum/float64(len(y))
}

// enough says what the data lack for p coefficients.
func enough(x, y []float64, p int) error {
	if len(x) < p+1 {
		return fmt.Errorf("%d points do not show how well a curve with %d coefficients fits: take at least %d", len(x), p, p+1)
	}
	for i := range x {
		if v := x[i] + y[i]; math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("point %d is not finite: x %v, y %v", i+1, x[i], y[i])
		}
	}
	s := slices.Clone(x)
	slices.Sort(s)
	if n := len(slices.Compact(s)); n < p {
		return fmt.Errorf("%d different values of x do not determine a curve with %d coefficients: take at least %d", n, p, p)
	}
	if slices.Min(y) == slices.Max(y) {
		return errors.New("y is the same at every point")
	}
	return nil
}

// covariance returns s² (R'R)⁻¹.
func covariance(qr *mat.QR, p int, s2 float64) [][]float64 {
	var r, inverse mat.Dense
	qr.RTo(&r)
	if err := inverse.Inverse(r.Slice(0, p, 0, p)); err != nil {
		panic("fit: a factor that solved the points has no inverse")
	}
	var cov mat.Dense
	cov.Mul(&inverse, inverse.T())
	rows := make([][]float64, p)
	for i := range rows {
		rows[i] = make([]float64, p)
		for j := range rows[i] {
			rows[i][j] = s2 * cov.At(i, j)
		}
	}
	return rows
}

// Degree is 1 or 2.
func (f Poly) Degree() int { return len(f.C) - 1 }

// At returns the curve at x.
func (f Poly) At(x float64) float64 {
	t, v := (x-f.Centre)/f.Scale, 0.0
	for i := len(f.C) - 1; i >= 0; i-- {
		v = v*t + f.C[i]
	}
	return v
}

// Slope returns the derivative of the curve at x.
func (f Poly) Slope(x float64) float64 {
	s := f.C[1]
	if len(f.C) == 3 {
		s += 2 * f.C[2] * (x - f.Centre) / f.Scale
	}
	return s / f.Scale
}

// BandSD returns the standard uncertainty of the curve at x, from the scatter of
// the points about it, with DF degrees of freedom. The scatter of a further point
// is not in it.
func (f Poly) BandSD(x float64) float64 {
	t, v := (x-f.Centre)/f.Scale, 0.0
	power := [3]float64{1, t, t * t}
	for i := range f.C {
		for j := range f.C {
			v += power[i] * power[j] * f.Cov[i][j]
		}
	}
	return math.Sqrt(max(0, v))
}

// Inverse returns the x at which the curve is y: of a quadratic the one on the
// side of its turning point where the middle of the fitted range lies. ok is
// false where no x gives y.
func (f Poly) Inverse(y float64) (x float64, ok bool) {
	d := y - f.C[0]
	if len(f.C) == 2 {
		return f.Centre + f.Scale*d/f.C[1], f.C[1] != 0
	}
	under := f.C[1]*f.C[1] + 4*f.C[2]*d
	root := f.C[1] + math.Copysign(math.Sqrt(under), f.C[1])
	if !(under >= 0) || root == 0 {
		return 0, false
	}
	return f.Centre + f.Scale*2*d/root, true
}

// Coefficients returns B0, B1 (and B2) in powers of x itself, and their standard
// deviations.
func (f Poly) Coefficients() (b, sd []float64) {
	p := len(f.C)
	to := make([][]float64, p) // of x^j from t^k
	for j := range to {
		to[j] = make([]float64, p)
		for k := j; k < p; k++ {
			choose := 1.0
			if k == 2 && j == 1 {
				choose = 2
			}
			to[j][k] = choose * math.Pow(-f.Centre, float64(k-j)) / math.Pow(f.Scale, float64(k))
		}
	}
	b, sd = make([]float64, p), make([]float64, p)
	for j := range to {
		v := 0.0
		for k := range p {
			b[j] += to[j][k] * f.C[k]
			for l := range p {
				v += to[j][k] * to[j][l] * f.Cov[k][l]
			}
		}
		sd[j] = math.Sqrt(max(0, v))
	}
	return b, sd
}

// FTest compares a straight line with a quadratic through the same points:
// F = (SS₁ − SS₂)/(SS₂/DF₂) on 1 and DF₂ degrees of freedom, and the chance p of an
// F as large where the straight line is right. ok is false where the quadratic
// leaves nothing over, so that F has no scatter to be held against.
//
// It panics unless the degrees are 1 and 2 and the numbers of points agree.
func FTest(straight, quadratic Poly) (f, p float64, ok bool) {
	if straight.Degree() != 1 || quadratic.Degree() != 2 || straight.N != quadratic.N {
		panic("fit: the F test compares a straight line with a quadratic through the same points")
	}
	if quadratic.SS == 0 {
		return 0, 0, false
	}
	f = max(0, straight.SS-quadratic.SS) / (quadratic.SS / float64(quadratic.DF))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(quadratic.DF)}
	return f, min(1, 2*t.CDF(-math.Sqrt(f))), true
}
