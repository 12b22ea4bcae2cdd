package censreg

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	badLength  = "censreg: slice length mismatch"
	badColumns = "censreg: no columns"
	badColumn  = "censreg: column out of range"
	badScale   = "censreg: scale not positive and finite"
	badLevel   = "censreg: level outside (0.5, 1)"
	badDist    = "censreg: unknown distribution"

	badProbability = "censreg: probability outside (0, 1)"
	badNaN         = "censreg: NaN argument"
)

// Distribution is the distribution of the standardised error W.
type Distribution int

const (
	// Normal is the standard normal distribution. With y the logarithm of a
	// positive quantity, that quantity is lognormal.
	Normal Distribution = iota
	// SmallestExtreme is the standard smallest-extreme-value distribution,
	// F(w) = 1 - exp(-exp(w)), with mean -0.5772 and variance π²/6. With y the
	// logarithm of a positive quantity, that quantity is Weibull with shape 1/σ
	// and scale exp(xβ).
	SmallestExtreme
)

// String returns the name of the distribution.
func (d Distribution) String() string {
	switch d {
	case Normal:
		return "normal"
	case SmallestExtreme:
		return "smallest extreme value"
	}
	return "unknown distribution"
}

// check panics when d is none of the distributions.
func (d Distribution) check() {
	if d != Normal && d != SmallestExtreme {
		panic(badDist)
	}
}

// Options are the less usual settings of a fit. A nil *Options, and the zero
// value, stand for the usual ones.
type Options struct {
	// Weights are frequencies: a weight of 3 counts an observation three times,
	// a weight of 0 leaves it out. They need not be integers. Nil is 1 for all.
	Weights []float64

	// FixedScale, when not 0, is the value at which σ is held.
	FixedScale float64

	// MaxIterations limits the Newton steps of one maximisation. 0 is 200;
	// ordinary data need 5 to 10.
	MaxIterations int
}

func (o *Options) weights() []float64 {
	if o == nil {
		return nil
	}
	return o.Weights
}

func (o *Options) maxIterations() int {
	if o == nil || o.MaxIterations <= 0 {
		return 200
	}
	return o.MaxIterations
}

// Fit is a maximum-likelihood fit of y = xβ + σW.
type Fit struct {
	Coef  []float64 // β, length p
	Scale float64   // σ

	// LogLik is the log-likelihood at the maximum on the scale of y: the sum of
	// log densities of exact observations and log probabilities of the others.
	LogLik float64

	// Cov is the covariance matrix of (β, log σ), in this order, of size p+1, or
	// of β, of size p, when the scale was fixed. It is the inverse of the
	// observed information.
	Cov *mat.SymDense

	// StdErr holds the square roots of Cov's diagonal: the standard errors of β
	// and, unless the scale was fixed, of log σ.
	StdErr []float64

	// Score is the gradient of the log-likelihood in (β, log σ), or in β, at the
	// solution before it was rounded to Coef and Scale. Scoreᵀ·Cov·Score, the
	// squared distance to the maximum in standard errors, is below 1e-14, or
	// below 64·ε²·|LogLik| with ε = 2⁻⁵² where that is larger.
	Score []float64

	Iterations int     // Newton steps taken
	Weight     float64 // sum of the weights of the observations used
	Exact      float64 // of which exact

	Warnings []Warning // those that apply
}

// Regress fits y = xβ + σW, W distributed as d, by maximum likelihood. Row i of x
// (n×p) belongs to an observation that lies in the closed interval
// [lo[i], hi[i]]: an exact one where the two are equal, a lower bound where hi[i]
// is +Inf, an upper bound where lo[i] is -Inf. An observation between -Inf and
// +Inf says nothing and is passed over. A constant term, if wanted, is a column
// of ones.
//
// A fit is returned only if the maximum exists and was reached; no element of it
// is NaN or infinite. Otherwise the error is one of
//
//   - *DataError: a NaN, an infinite value in x, lo[i] > hi[i], or a weight that
//     is negative or not finite;
//   - ErrNoExact: neither an exact observation nor a finite interval, and the
//     scale not fixed;
//   - *RankError: x has not full column rank;
//   - *UnboundedError: coefficients go to infinity;
//   - ErrPerfectFit: the scale goes to zero;
//   - ErrSingular: the likelihood is flat around its maximum;
//   - *ConvergenceError: the maximum was not reached;
//   - ErrRange: a number is outside what float64 can resolve.
//
// Regress panics if lengths do not match, x has no columns, the fixed scale is
// negative or not finite, or d is unknown.
//
// Memory grows as n·p. With moderately conditioned x the coefficients, standard
// errors and log-likelihood hold to about ten digits or more.
func Regress(x mat.Matrix, lo, hi []float64, d Distribution, opt *Options) (*Fit, error) {
	d.check()
	s, err := newSample(x, lo, hi, opt)
	if err != nil {
		return nil, err
	}
	fixed, err := s.fixedScale(opt)
	if err != nil {
		return nil, err
	}
	z, err := s.standardise(fixed)
	if err != nil {
		return nil, err
	}
	if direction, moved := z.unbounded(); direction != nil {
		return nil, z.failure(direction, moved)
	}
	if fixed == 0 && z.perfect() {
		return nil, ErrPerfectFit
	}
	at, err := z.maximise(d, fixed != 0, opt.maxIterations())
	if err != nil {
		return nil, err
	}
	return z.fit(d, at, fixed != 0)
}

// fit turns the end point of a maximisation into a Fit on the caller's scales.
func (z *standard) fit(d Distribution, at point, fixed bool) (*Fit, error) {
	p := z.p
	m := p + 1
	if fixed {
		m = p
	}
	grad, hess := make([]float64, p+1), make([]float64, (p+1)*(p+1))
	value := z.sums(d, at.v, grad, hess, true)
	if z.flat(hess, at.v[p]) {
		return nil, ErrSingular
	}
	decrement, ok := newtonStep(m, p+1, grad, hess, make([]float64, p+1))
	if !ok || !(decrement <= tolerance(value)) {
		return nil, &ConvergenceError{at.iterations, decrement}
	}
	gamma := at.v[p]
	b := make([]float64, p)
	for j := range b {
		b[j] = at.v[j] / gamma
	}
	f := &Fit{
		Coef:       z.coefficients(b),
		Scale:      math.Ldexp(z.s0/gamma, z.yexp),
		LogLik:     value - z.exacts*(math.Log(z.s0)+float64(z.yexp)*math.Ln2),
		Score:      z.callersGradient(grad, m),
		Iterations: at.iterations,
		Exact:      z.exacts,
	}
	informed := 0.0
	for i, w := range z.w {
		f.Weight += w
		if z.kind[i] == exact || z.kind[i] == interval {
			informed += w
		}
	}
	f.Cov, ok = z.covariance(hess, m)
	if !ok {
		return nil, ErrSingular
	}
	for j := range m {
		f.StdErr = append(f.StdErr, math.Sqrt(f.Cov.At(j, j)))
	}
	if informed <= float64(m) {
		f.Warnings = append(f.Warnings, FewExact)
	}
	if illConditioned(f.Cov, f.StdErr) {
		f.Warnings = append(f.Warnings, IllConditioned)
	}
	if !f.finite() {
		return nil, ErrRange
	}
	return f, nil
}

// flat reports whether the curvature in some direction of b is less than 1e-7 of
// that of exact normal observations.
func (z *standard) flat(hess []float64, gamma float64) bool {
	if z.p == 0 {
		return false
	}
	least := z.w[0]
	for _, w := range z.w {
		least = min(least, w)
	}
	// The smallest eigenvalue is above the limit where the matrix less the limit
	// is positive definite.
	limit := 1e-7 * least * float64(z.n())
	info := mat.NewSymDense(z.p, nil)
	for j := range z.p {
		for k := j; k < z.p; k++ {
			info.SetSym(j, k, -hess[j*(z.p+1)+k]/gamma/gamma)
		}
		info.SetSym(j, j, info.At(j, j)-limit)
	}
	var chol mat.Cholesky
	return !chol.Factorize(info)
}

// callersGradient turns the gradient in (b, log σ) into that in (β, log σ).
func (z *standard) callersGradient(grad []float64, m int) []float64 {
	score := append([]float64(nil), grad[:m]...)
	for j := range z.p {
		score[j] = 0
		for k := 0; k <= j; k++ {
			score[j] += z.r.At(k, j) * grad[k]
		}
		score[j] = math.Ldexp(score[j]/z.unscale(), z.xexp[j]-z.yexp)
	}
	return score
}

// covariance inverts the negative Hessian in (b, log σ) and carries the inverse
// over to (β, log σ).
func (z *standard) covariance(hess []float64, m int) (cov *mat.SymDense, ok bool) {
	p := z.p
	size := make([]float64, m)
	for j := range size {
		size[j] = math.Sqrt(-hess[j*(p+1)+j])
	}
	info := mat.NewSymDense(m, nil)
	for j := range m {
		for k := j; k < m; k++ {
			info.SetSym(j, k, -hess[j*(p+1)+k]/size[j]/size[k])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return nil, false
	}
	// Row j of back holds the derivatives of caller's parameter j with respect to
	// the scaled internal ones.
	back := mat.NewDense(m, m, nil)
	column := make([]float64, p)
	for k := range p {
		clear(column)
		column[k] = z.unscale()
		backSolve(z.r, column)
		for j, v := range column {
			back.Set(j, k, math.Ldexp(v, z.yexp-z.xexp[j])/size[k])
		}
	}
	if m > p {
		back.Set(p, p, 1/size[p])
	}
	// cov = back·info⁻¹·backᵀ, as the square of L⁻¹·backᵀ.
	var l mat.TriDense
	chol.LTo(&l)
	var half mat.Dense
	if err := half.Solve(&l, back.T()); err != nil {
		if _, condition := err.(mat.Condition); !condition {
			return nil, false
		}
	}
	cov = mat.NewSymDense(m, nil)
	cov.SymOuterK(1, half.T())
	return cov, true
}

// illConditioned reports whether the correlation matrix of the estimates has a
// condition number above 1e10.
func illConditioned(cov *mat.SymDense, stderr []float64) bool {
	m := len(stderr)
	correlation := mat.NewSymDense(m, nil)
	for j := range m {
		for k := j; k < m; k++ {
			correlation.SetSym(j, k, cov.At(j, k)/stderr[j]/stderr[k])
		}
	}
	var chol mat.Cholesky
	return !chol.Factorize(correlation) || chol.Cond() > 1e10
}

// finite reports whether every number of the fit is one that float64 can hold.
func (f *Fit) finite() bool {
	all := [][]float64{f.Coef, f.StdErr, f.Score, f.Cov.RawSymmetric().Data, {f.LogLik}}
	for _, list := range all {
		for _, v := range list {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return false
			}
		}
	}
	for _, v := range f.StdErr {
		if v == 0 {
			return false // its square is below the smallest float64
		}
	}
	return f.Scale > 0 && !math.IsInf(f.Scale, 1)
}

// LogLik returns the log-likelihood of coefficients coef (length p) and scale for
// the data, on the scale of y and in the terms of Regress, with the weights of
// opt. It is -Inf where an observation is impossible to the precision of
// float64, and NaN when the data hold a NaN or an interval with lo > hi.
//
// It panics if lengths do not match or scale is not positive and finite.
func LogLik(x mat.Matrix, lo, hi []float64, d Distribution, opt *Options, coef []float64, scale float64) float64 {
	d.check()
	n, p := checkShape(x, lo, hi, opt)
	if len(coef) != p {
		panic(badLength)
	}
	if !(scale > 0) || math.IsInf(scale, 1) {
		panic(badScale)
	}
	weights := opt.weights()
	view, byRow := x.(mat.RawRowViewer)
	features := make([]float64, p)
	var total, carry float64
	for i := range n {
		k, reason := classify(lo[i], hi[i])
		if reason != "" {
			return math.NaN()
		}
		if byRow {
			features = view.RawRowView(i)
		} else {
			mat.Row(features, i, x)
		}
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		if k == vacuous || w == 0 {
			continue
		}
		o := d.observe(k, span{
			lo:    residual(lo[i], features, coef) / scale,
			hi:    residual(hi[i], features, coef) / scale,
			width: (hi[i] - lo[i]) / scale,
		}, span{})
		if k == exact {
			o.logp -= math.Log(scale)
		}
		total, carry = addCompensated(total, carry, w*o.logp)
	}
	return total + carry
}
