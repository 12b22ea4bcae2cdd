package censreg

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const epsilon = 0x1p-52

// standard is a sample in coordinates in which the maximisation is well
// conditioned whatever the data: the rows q of x are whitened (the sum of q·qᵀ
// is n times the identity) and the bounds are residuals from a least-squares fit
// over their root mean square s0.
//
// With R the triangular factor of x, coefficients b of q stand for
// β = β0 + s0·√n·R⁻¹·b. The residuals are formed with a compensated dot product,
// so that a large common level of the data costs no digits.
type standard struct {
	*sample
	q      []float64  // n×p, by rows
	y      []span     // (bounds - x·β0)/s0
	r      *mat.Dense // (p+1)×(p+1), R in the leading p×p block
	beta0  []float64
	s0     float64
	noise  float64 // what rounding of the data can amount to in y
	exacts float64 // weight of the exact observations
}

// features returns the whitened row of observation i.
func (z *standard) features(i int) []float64 { return z.q[i*z.p : (i+1)*z.p] }

// standardise builds the coordinates. A positive fixed is the scale that is
// kept, and s0 is set to it. It returns a *RankError when x has not full column
// rank, ErrPerfectFit when there is no scatter to measure a scale by, and
// ErrRange when the fixed scale is finer than the rounding of the data.
func (s *sample) standardise(fixed float64) (*standard, error) {
	n, p := s.n(), s.p
	z := &standard{sample: s, beta0: make([]float64, p), s0: fixed}
	z.r = triangle(n, p+1, func(i int, dst []float64) {
		copy(dst, s.features(i))
		dst[p] = s.middle(i)
	})
	if columns := dependent(z.r, p); len(columns) > 0 {
		return nil, &RankError{columns}
	}
	start := make([]float64, p)
	for j := range start {
		start[j] = z.r.At(j, p)
	}
	backSolve(z.r, start)
	copy(z.beta0, start)

	var sum, size float64
	for i := range n {
		res := residual(s.middle(i), s.features(i), z.beta0)
		sum += res * res
		magnitude := math.Abs(s.middle(i))
		for j, v := range s.features(i) {
			magnitude += math.Abs(v * z.beta0[j])
		}
		size = max(size, magnitude)
	}
	rms := math.Sqrt(sum / float64(n))
	z.noise = 4 * epsilon * size
	switch {
	case fixed > 0 && !(fixed > z.noise):
		return nil, ErrRange
	case fixed == 0 && !(rms > z.noise):
		return nil, ErrPerfectFit
	case fixed == 0:
		z.s0 = rms
	}
	z.noise /= z.s0
	z.whiten()
	return z, nil
}

// middle returns the value that stands for observation i in the least-squares
// fit: its only finite bound or the middle of its interval.
func (s *sample) middle(i int) float64 {
	switch s.kind[i] {
	case upper:
		return s.hi[i]
	case interval:
		return s.lo[i] + s.width[i]/2
	}
	return s.lo[i]
}

// whiten fills q and y.
func (z *standard) whiten() {
	n, p := z.n(), z.p
	z.q = make([]float64, n*p)
	z.y = make([]span, n)
	root := math.Sqrt(float64(n))
	for i := range n {
		q := z.features(i)
		for j, v := range z.sample.features(i) {
			q[j] = v * root
		}
		forwardSolve(z.r, q)
		if z.kind[i] == exact {
			z.exacts += z.w[i]
		}
	}
	z.centre()
}

// centre fills y from beta0 and s0.
func (z *standard) centre() {
	for i := range z.y {
		features := z.sample.features(i)
		z.y[i] = span{
			lo:    residual(z.lo[i], features, z.beta0) / z.s0,
			hi:    residual(z.hi[i], features, z.beta0) / z.s0,
			width: z.width[i] / z.s0,
		}
	}
}

// recentre moves beta0 to the coefficients of v = (δ, γ) and, unless the scale
// is fixed, s0 to its scale, and sets v to the same point in the new
// coordinates. A scale that turns out to be a small part of s0 would otherwise
// leave z = γ·y - q·δ a small difference of large numbers.
func (z *standard) recentre(v []float64, fixed bool) {
	p := z.p
	move := make([]float64, p)
	for j := range move {
		move[j] = v[j] / v[p] * z.unscale()
		v[j] = 0
	}
	backSolve(z.r, move)
	for j, c := range move {
		z.beta0[j] += c
	}
	if !fixed {
		z.s0 /= v[p]
		v[p] = 1
	}
	z.centre()
}

// unscale returns s0·√n, the factor between b and R·(β - β0).
func (z *standard) unscale() float64 { return z.s0 * math.Sqrt(float64(z.n())) }

// coefficients returns β of the caller's x and y for coefficients b of q.
func (z *standard) coefficients(b []float64) []float64 {
	beta := make([]float64, z.p)
	for j, v := range b {
		beta[j] = v * z.unscale()
	}
	backSolve(z.r, beta)
	for j := range beta {
		beta[j] = math.Ldexp(beta[j]+z.beta0[j], z.yexp-z.xexp[j])
	}
	return beta
}

// residual returns y - x·b, as if computed in twice the precision and rounded
// once (Ogita, Rump and Oishi 2005, algorithm Dot2). An infinite y is returned.
func residual(y float64, x, b []float64) float64 {
	if math.IsInf(y, 0) {
		return y
	}
	sum, tail := y, 0.0
	for j, v := range x {
		prod := float64(-v * b[j]) // rounded here: the conversion forbids fusing it with the sum
		tail += math.FMA(-v, b[j], -prod)
		next := sum + prod
		part := next - sum
		tail += (sum - (next - part)) + (prod - part)
		sum = next
	}
	return sum + tail
}

// triangle returns the c×c triangular factor of the n×c matrix whose rows are
// written by row, taking the rows in blocks so that no second matrix of its size
// is needed.
func triangle(n, c int, row func(i int, dst []float64)) *mat.Dense {
	const block = 512
	r := mat.NewDense(c, c, nil)
	var qr mat.QR
	for from := 0; from < n; from += block {
		rows := min(block, n-from)
		stack := mat.NewDense(c+rows, c, nil)
		stack.Slice(0, c, 0, c).(*mat.Dense).Copy(r)
		for i := range rows {
			row(from+i, stack.RawRowView(c+i))
		}
		qr.Factorize(stack)
		var full mat.Dense
		qr.RTo(&full)
		r.Copy(full.Slice(0, c, 0, c))
	}
	return r
}

// rankTolerance is the share of a column's length that must be left over after
// the columns before it are projected out.
const rankTolerance = 1e-11

// dependent returns the columns among the first p of a triangular factor that
// are combinations of the columns to their left. The Gram–Schmidt process is run
// twice on each column (Giraud, Langou and Rozložník 2005: twice is enough).
func dependent(r *mat.Dense, p int) []int {
	var basis [][]float64
	var columns []int
	for j := range p {
		v := mat.Col(nil, j, r)
		length := norm(v)
		for range 2 {
			for _, u := range basis {
				c := dot(u, v)
				for i := range v {
					v[i] -= c * u[i]
				}
			}
		}
		left := norm(v)
		if !(left > rankTolerance*length) {
			columns = append(columns, j)
			continue
		}
		for i := range v {
			v[i] /= left
		}
		basis = append(basis, v)
	}
	return columns
}

// backSolve replaces v by R⁻¹·v, with R the leading block of r.
func backSolve(r *mat.Dense, v []float64) {
	for j := len(v) - 1; j >= 0; j-- {
		row := r.RawRowView(j)
		for k := j + 1; k < len(v); k++ {
			v[j] -= row[k] * v[k]
		}
		v[j] /= row[j]
	}
}

// forwardSolve replaces v by R⁻ᵀ·v.
func forwardSolve(r *mat.Dense, v []float64) {
	for j := range v {
		row := r.RawRowView(j)
		v[j] /= row[j]
		for k := j + 1; k < len(v); k++ {
			v[k] -= row[k] * v[j]
		}
	}
}

func dot(a, b []float64) float64 {
	var s float64
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

func norm(a []float64) float64 { return math.Sqrt(dot(a, a)) }
