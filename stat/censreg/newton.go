package censreg

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// point is where the maximisation ended: z = γ·y - q·δ in the coordinates of a
// standard, δ in the first p elements of v and γ in the last.
type point struct {
	v          []float64
	iterations int
}

// sums returns the log-likelihood at v = (δ, γ), on the scale of the
// standardised bounds, and fills the gradient (p+1) and the upper triangle of
// the Hessian ((p+1)×(p+1)) when they are not nil.
//
// The derivatives are with respect to (δ, γ) or, with logScale, with respect to
// (b, log σ), where b = δ/γ and σ = 1/γ.
func (z *standard) sums(d Distribution, v, grad, hess []float64, logScale bool) float64 {
	p := z.p
	delta, gamma := v[:p], v[p]
	clear(grad)
	clear(hess)
	var total, carry float64
	for i := range z.n() {
		q := z.features(i)
		e := dot(q, delta)
		bounds := z.y[i].scaled(gamma, e)
		move := z.y[i]
		if logScale {
			move = bounds
		}
		o := d.observe(z.kind[i], bounds, move)
		w := z.w[i]
		total, carry = addCompensated(total, carry, w*o.logp)
		if grad == nil {
			continue
		}
		g0, g1, h00, h01, h11 := -w*o.g0, w*o.g1, w*o.h00, -w*o.h01, w*o.h11
		if logScale {
			g0, g1 = g0*gamma, -g1
			h00, h01, h11 = h00*gamma*gamma, w*gamma*(o.h01+o.g0), h11+w*o.g1
		}
		grad[p] += g1
		hess[p*(p+1)+p] += h11
		for j, qj := range q {
			grad[j] += g0 * qj
			row := hess[j*(p+1):]
			c := h00 * qj
			for k := j; k < p; k++ {
				row[k] += c * q[k]
			}
			row[p] += h01 * qj
		}
	}
	total += carry + z.exacts*math.Log(gamma)
	if grad != nil && logScale {
		grad[p] -= z.exacts
	} else if grad != nil {
		grad[p] += z.exacts / gamma
		hess[p*(p+1)+p] -= z.exacts / (gamma * gamma)
	}
	return total
}

// addCompensated adds v to total and keeps what rounding drops in carry
// (Neumaier 1974).
func addCompensated(total, carry, v float64) (float64, float64) {
	t := total + v
	if math.IsInf(t, 0) {
		return t, 0
	}
	if math.Abs(total) >= math.Abs(v) {
		return t, carry + ((total - t) + v)
	}
	return t, carry + ((v - t) + total)
}

// tolerance returns the Newton decrement (the square of the distance to the
// maximum in standard errors) that counts as arrived. One more step is taken
// from there: convergence is quadratic, so that it leaves about the square. Where the scale is
// fixed far below the scatter, the gradient is a sum of large numbers and its
// rounding sets the limit.
func tolerance(value float64) float64 {
	return max(1e-14, 64*epsilon*epsilon*math.Abs(value))
}

// maximise finds the maximum of the log-likelihood by Newton's method in (δ, γ),
// in which it is concave (Olsen 1978 for the normal distribution, Burridge 1981
// for every log-concave density), so that step halving leads to the maximum from
// any start. With fixed, γ stays 1.
func (z *standard) maximise(d Distribution, fixed bool, limit int) (point, error) {
	v := make([]float64, z.p+1)
	v[z.p] = 1
	at := point{v: v}
	err := z.ascend(d, &at, fixed, limit)
	if err != nil {
		grad, hess := make([]float64, z.p+1), make([]float64, (z.p+1)*(z.p+1))
		z.sums(d, v, grad, hess, true)
		if z.flat(hess, v[z.p]) {
			err = ErrSingular
		}
	}
	return at, err
}

// ascend runs Newton's method from a start of its own choice.
func (z *standard) ascend(d Distribution, at *point, fixed bool, limit int) error {
	v := at.v
	if !fixed {
		z.startScale(d, v)
		return z.climb(d, at, false, limit)
	}
	// A fixed scale far below the scatter would start where the likelihood
	// underflows: come down to it by halves, each maximum the next start.
	var reach float64
	for i := range z.n() {
		m := z.y[i].lo
		if z.kind[i] == upper {
			m = z.y[i].hi
		}
		reach = max(reach, math.Abs(m))
	}
	for reach*v[z.p] > 4 {
		v[z.p] /= 2
	}
	for {
		if err := z.climb(d, at, true, limit); err != nil || v[z.p] == 1 {
			return err
		}
		for j := range v {
			v[j] *= 2
		}
	}
}

// startScale halves γ while that raises the likelihood.
func (z *standard) startScale(d Distribution, v []float64) {
	best := z.sums(d, v, nil, nil, false)
	for {
		v[z.p] /= 2
		next := z.sums(d, v, nil, nil, false)
		if !(next > best || math.IsInf(best, -1) || math.IsNaN(best)) || v[z.p] < 1e-300 {
			v[z.p] *= 2
			return
		}
		best = next
	}
}

// climb runs Newton's method from at.
func (z *standard) climb(d Distribution, at *point, fixed bool, limit int) error {
	m := z.p + 1
	if fixed {
		m = z.p
	}
	grad, hess := make([]float64, z.p+1), make([]float64, (z.p+1)*(z.p+1))
	trial, step := make([]float64, z.p+1), make([]float64, z.p+1)
	value := z.sums(d, at.v, grad, hess, false)
	decrement, arrived := math.Inf(1), false
	for range limit {
		var ok bool
		decrement, ok = newtonStep(m, z.p+1, grad, hess, step)
		if !ok || math.IsNaN(value) || math.IsInf(value, 0) {
			return &ConvergenceError{at.iterations, decrement}
		}
		if arrived && decrement <= tolerance(value) {
			return nil
		}
		arrived = decrement <= tolerance(value)
		at.iterations++
		t := 1.0
		if gamma := at.v[z.p]; !fixed && step[z.p] < -0.9*gamma {
			t = -0.9 * gamma / step[z.p]
		}
		slack := 1e-13 * (1 + math.Abs(value))
		for halvings := 0; ; halvings++ {
			for j := range trial {
				trial[j] = at.v[j] + t*step[j]
			}
			next := z.sums(d, trial, nil, nil, false)
			if next >= value+1e-4*t*decrement-slack {
				break
			}
			if halvings == 60 {
				return &ConvergenceError{at.iterations, decrement}
			}
			t /= 2
		}
		copy(at.v, trial)
		if norm(at.v[:z.p]) > 8 {
			z.recentre(at.v, fixed)
		}
		value = z.sums(d, at.v, grad, hess, false)
	}
	return &ConvergenceError{at.iterations, decrement}
}

// newtonStep solves -H·step = grad in the leading m×m block of a stride-wide
// Hessian and returns grad·step. Where rounding or underflow has left -H not
// positive definite, a growing multiple of the identity is added, which keeps
// the step uphill.
func newtonStep(m, stride int, grad, hess, step []float64) (decrement float64, ok bool) {
	clear(step)
	if m == 0 {
		return 0, true
	}
	info := mat.NewSymDense(m, nil)
	var trace float64
	for j := range m {
		trace -= hess[j*stride+j]
		for k := j; k < m; k++ {
			info.SetSym(j, k, -hess[j*stride+k])
		}
	}
	if !(trace > 0) || math.IsInf(trace, 1) {
		return math.Inf(1), false
	}
	var chol mat.Cholesky
	for ridge := 1e-14 * trace; !chol.Factorize(info); ridge *= 100 {
		if !(ridge > 0 && ridge < 1e6*trace) {
			return math.Inf(1), false
		}
		for j := range m {
			info.SetSym(j, j, info.At(j, j)+ridge)
		}
	}
	solution := mat.NewVecDense(m, step[:m])
	if err := chol.SolveVecTo(solution, mat.NewVecDense(m, grad[:m])); err != nil {
		if _, poor := err.(mat.Condition); !poor {
			return math.Inf(1), false
		}
	}
	return dot(grad[:m], step[:m]), true
}
