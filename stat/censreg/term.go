package censreg

import "math"

// kind is what an observation [lo, hi] says.
type kind uint8

const (
	exact    kind = iota // lo == hi
	lower                // hi is +Inf: at least lo
	upper                // lo is -Inf: at most hi
	interval             // between lo and hi, both finite
)

// span is a pair of bounds. Its width is carried along, because in a narrow
// interval far from zero the difference of the bounds has lost its digits.
type span struct{ lo, hi, width float64 }

// scaled returns the span of c·y - e.
func (y span) scaled(c, e float64) span {
	return span{c*y.lo - e, c*y.hi - e, c * y.width}
}

// term is the contribution ℓ of one observation and its derivatives along two
// directions. Along direction 0 both standardised bounds move by 1, along
// direction 1 they move by the bounds of a second span m. With m the bounds
// themselves the two directions are those of -xβ/σ and of 1/σ; with m the
// standardised bounds they are those of -xβ/σ at fixed σ and, to first order,
// of -log σ. Every likelihood of this package is assembled from them.
type term struct {
	logp          float64
	g0, g1        float64 // first derivatives
	h00, h01, h11 float64 // second derivatives
}

// observe returns the contribution of an observation with standardised bounds z.
// For an exact observation it is the log density, otherwise the log probability
// of the interval.
func (d Distribution) observe(k kind, z, m span) term {
	switch k {
	case exact:
		logf, d1, d2 := d.logDensity(z.lo)
		return term{logf, d1, d1 * m.lo, d2, d2 * m.lo, d2 * m.lo * m.lo}
	case lower:
		logS, h, dlogh := d.logUpper(z.lo)
		d2 := product(-h, dlogh)
		return term{logS, -h, -h * m.lo, d2, d2 * m.lo, d2 * m.lo * m.lo}
	case upper:
		logF, r, dlogr := d.logLower(z.hi)
		d2 := product(r, dlogr)
		return term{logF, r, r * m.hi, d2, d2 * m.hi, d2 * m.hi * m.hi}
	}
	_, sl, _ := d.logDensity(z.lo)
	_, sh, _ := d.logDensity(z.hi)
	if z.width*(1+max(math.Abs(sl), math.Abs(sh))) < narrow {
		return d.narrowInterval(z, m)
	}
	return d.wideInterval(z, m)
}

// product is a·b, and 0 where a vanishes faster than b grows.
func product(a, b float64) float64 {
	if a == 0 {
		return 0
	}
	return a * b
}

// An interval over which the log density changes by less than narrow is
// integrated by the five-point Gauss–Legendre rule, whose relative error is then
// below 2e-16; the difference of two distribution functions would lose digits
// there, and its second derivative twice as many.
const narrow = 0.2

// Nodes and weights of the five-point Gauss–Legendre rule on [0, 1], from the
// closed form (Abramowitz and Stegun 1964, 25.4.29): nodes
// (1 ± sqrt(5 ± 2·sqrt(10/7))/3)/2 and 1/2, weights (322 ± 13·sqrt(70))/1800 and 64/225.
var (
	gaussNode = [5]float64{
		0.046910077030668004, 0.23076534494715846, 0.5, 0.76923465505284154, 0.953089922969332,
	}
	gaussLogWeight = [5]float64{
		math.Log(0.11846344252809454), math.Log(0.23931433524968324), math.Log(64. / 225),
		math.Log(0.23931433524968324), math.Log(0.11846344252809454),
	}
)

// narrowInterval treats the probability of a narrow interval as its width times
// a mixture of densities at the nodes of the rule. The derivatives of the log
// of a mixture are means and covariances over its parts.
func (d Distribution) narrowInterval(z, m span) term {
	var logf, d1, d2, move [5]float64
	top := math.Inf(-1)
	for i, t := range gaussNode {
		logf[i], d1[i], d2[i] = d.logDensity(z.lo + t*z.width)
		logf[i] += gaussLogWeight[i]
		move[i] = m.lo + t*m.width
		top = max(top, logf[i])
	}
	var sum float64
	var part [5]float64
	for i := range part {
		part[i] = math.Exp(logf[i] - top)
		sum += part[i]
	}
	var o term
	o.logp = math.Log(z.width) + top + math.Log(sum)
	for i := range part {
		part[i] /= sum
		o.g0 += part[i] * d1[i]
		o.g1 += part[i] * d1[i] * move[i]
	}
	for i := range part {
		c0, c1 := d1[i]-o.g0, d1[i]*move[i]-o.g1
		o.h00 += part[i] * (d2[i] + c0*c0)
		o.h01 += part[i] * (d2[i]*move[i] + c0*c1)
		o.h11 += part[i] * (d2[i]*move[i]*move[i] + c1*c1)
	}
	grow := m.width / z.width
	o.g1 += grow
	o.h11 -= grow * grow
	return o
}

// wideInterval differences two survival functions or two distribution
// functions, whichever are smaller.
//
// With ρ = S(zh)/S(zl) and κ = 1/(1-ρ) the probability is S(zl)/κ, and the
// densities at the ends over that probability are a = h(zl)·κ and
// b = h(zh)·ρ·κ. The second derivatives are
//
//	-a·((log h)'(zl) + h(zl)·ρ·κ),   a·b,   b·((log h)'(zh) - h(zh)·κ),
//
// and the mirror image of this with F and r. Far out log S(zh) - log S(zl) has
// nothing left of log ρ; there it is formed from the width.
func (d Distribution) wideInterval(z, m span) term {
	var logp, a, b, hll, hlh, hhh float64
	if d == SmallestExtreme && z.hi > 0 || d == Normal && z.lo+z.hi > 0 {
		logSl, hl, el := d.logUpper(z.lo)
		logSh, hh, eh := d.logUpper(z.hi)
		logRho := logSh - logSl
		switch {
		case d == SmallestExtreme && z.width < 1:
			logRho = -hl * math.Expm1(z.width)
		case d == Normal && z.lo > 0:
			logRho = -0.5*z.width*(z.hi+z.lo) + math.Log(hl/hh)
		}
		rho, kappa := math.Exp(logRho), -1/math.Expm1(logRho)
		logp = logSl - math.Log(kappa)
		a, b = product(hl, kappa), product(rho*kappa, hh)
		hll = -product(a, el+product(rho*kappa, hl))
		hhh = product(b, eh-hh*kappa)
	} else {
		logFl, rl, el := d.logLower(z.lo)
		logFh, rh, eh := d.logLower(z.hi)
		logRho := logFl - logFh
		if d == Normal && z.hi < 0 {
			logRho = 0.5*z.width*(z.hi+z.lo) + math.Log(rh/rl)
		}
		rho, kappa := math.Exp(logRho), -1/math.Expm1(logRho)
		logp = logFh - math.Log(kappa)
		a, b = product(rho*kappa, rl), product(rh, kappa)
		hll = -product(a, el+rl*kappa)
		hhh = product(b, eh-product(rho*kappa, rh))
	}
	hlh = a * b
	return term{
		logp: logp,
		g0:   b - a,
		g1:   b*m.hi - a*m.lo,
		h00:  hll + 2*hlh + hhh,
		h01:  hll*m.lo + hlh*(m.lo+m.hi) + hhh*m.hi,
		h11:  hll*m.lo*m.lo + 2*hlh*m.lo*m.hi + hhh*m.hi*m.hi,
	}
}
