package maxt

import (
	"math"
	"slices"

	"bondtrial/stat/internal/quad"
)

const (
	// maxShare is the largest b² taken: closer to 1 the integrand in z is too
	// steep for a rule of even steps.
	maxShare = 1 - 1e-4

	// negligible is the share of the sum so far below which a term ends it.
	negligible = 1e-17

	// tiny is where a sum counts as settled in any case: its terms come near the
	// smallest float64 and lose digits.
	tiny = 1e-290

	// settled is the relative difference of two sums, the second with steps shorter
	// by √2, at which the second is accepted. The error of the trapezoidal rule is
	// of the order exp(−c/h) at worst, so it falls from 1e-9 to below 1e-12.
	settled = 1e-9

	maxRefinements = 14
)

// oneFactor is the law for correlations b_i b_j: T_i = (b_i Z + σ_i Y_i)/s with
// σ_i² = 1 − b_i² and Z, Y_1, …, Y_m independent standard normal. Given z and s
// the T_i are independent, which leaves a double integral,
//
//	P(max ≤ c) = ∫∫ φ(z) f(s) Π_i P(T_i ≤ c | z, s) dz ds
//
// (Dunnett 1955). Both are trapezoidal sums, in z and log s.
type oneFactor struct {
	loads []load
	df    float64
	sides Sides
}

// load stands for count variables with the same b.
type load struct {
	b, sigma float64
	count    float64
}

func newOneFactor(b []float64, df float64, sides Sides) oneFactor {
	b = slices.Clone(b)
	if sides == TwoSided {
		// |T_i| does not depend on the sign of b_i.
		for i := range b {
			b[i] = math.Abs(b[i])
		}
	}
	slices.Sort(b)
	o := oneFactor{df: df, sides: sides}
	for i, v := range b {
		if i > 0 && v-o.loads[len(o.loads)-1].b < 1e-14 {
			o.loads[len(o.loads)-1].count++
			continue
		}
		o.loads = append(o.loads, load{b: v, sigma: math.Sqrt((1 - v) * (1 + v)), count: 1})
	}
	return o
}

func (o oneFactor) cdf(c float64) float64      { return o.prob(c, lower) }
func (o oneFactor) survival(c float64) float64 { return o.prob(c, upper) }
func (o oneFactor) stdErr(float64) float64     { return 0 }

type tail bool

const (
	lower tail = false
	upper tail = true
)

// prob returns the probability of the tail at c, NaN if the sums do not settle.
func (o oneFactor) prob(c float64, t tail) float64 {
	last := o.sum(c, t, 0)
	for n := 1; n <= maxRefinements; n++ {
		next := o.sum(c, t, n)
		if math.Abs(next-last) <= settled*next || next < tiny {
			return min(next, 1)
		}
		last = next
	}
	return math.NaN()
}

// steps returns the steps in z and log s of the first sum.
func (o oneFactor) steps() (inner, outer float64) {
	m := o.number()
	steep := 1.0
	for _, l := range o.loads {
		if l.b != 0 {
			steep = min(steep, l.sigma/math.Abs(l.b))
		}
	}
	return 0.5 * steep / (1 + 0.35*math.Log(m)), 1 / math.Sqrt(4*o.df+18+11*math.Log(m))
}

// sum returns the trapezoidal sum after n refinements.
func (o oneFactor) sum(c float64, t tail, n int) float64 {
	inner, h := o.steps()
	shrink := math.Pow(2, -0.5*float64(n))
	inner *= shrink
	h *= shrink
	if math.IsInf(o.df, 1) || c == 0 {
		return o.inner(c, t, inner)
	}
	chi := quad.NewLogChi(o.df)
	x0 := o.start(c, t)
	term := func(i int) float64 {
		x := x0 + float64(i)*h
		return chi.Density(x) * o.inner(c*math.Exp(x), t, inner)
	}
	total := term(0)
	for i := 1; ; i++ {
		v := term(i)
		total += v
		if v <= negligible*total {
			break
		}
	}
	// As s goes to 0 the inner integral goes to its value at c = 0. Where that is
	// not 0 the terms end as a geometric series.
	levels := t == upper || o.sides == OneSided
	for i := -1; ; i-- {
		v := term(i)
		total += v
		if v <= negligible*total {
			break
		}
		x := x0 + float64(i)*h
		if levels && x < -45 && x < -45-math.Log(math.Abs(c)) {
			total += v / math.Expm1(o.df*h)
			break
		}
	}
	return h * total
}

// start returns a value of log s near the mode of the outer integrand.
func (o oneFactor) start(c float64, t tail) float64 {
	if (c > 0) == (t == upper) {
		// The inner integral falls about as exp(−(c s)²/2).
		return min(0, 0.5*math.Log(o.df)-math.Log(math.Abs(c)))
	}
	if t == upper || o.sides == OneSided {
		return 0
	}
	// It rises as (c s)^m until c s is no longer small.
	return max(0, min(0.5*math.Log1p(o.number()/o.df), math.Log(2/c)))
}

// number returns m.
func (o oneFactor) number() float64 {
	var m float64
	for _, l := range o.loads {
		m += l.count
	}
	return m
}

// inner returns the probability of the tail at w for a known scale, by a
// trapezoidal sum over z. What is left out beyond the ends is below 1e-17 of the
// result for the upper tail, below 1e-17 for the lower.
func (o oneFactor) inner(w float64, t tail, step float64) float64 {
	end := 9.0
	switch {
	case t == upper:
		end = math.Sqrt(w*w + 80)
	case w < 0:
		end = math.Sqrt(o.number()*w*w + 80)
	}
	n := int(end / step)
	var total float64
	for i := 0; i <= n; i++ {
		z := float64(i) * step
		v := o.given(z, w, t)
		switch {
		case i == 0:
		case o.sides == TwoSided:
			v *= 2
		default:
			v += o.given(-z, w, t)
		}
		total += v * math.Exp(-0.5*z*z)
	}
	return total * step / math.Sqrt(2*math.Pi)
}

// given returns the probability of the tail at w for a known scale and given z.
func (o oneFactor) given(z, w float64, t tail) float64 {
	var logAll float64 // of the probability that none exceeds w
	for _, l := range o.loads {
		over := quad.NormalBelow((l.b*z - w) / l.sigma)
		if o.sides == TwoSided {
			over += quad.NormalBelow((-l.b*z - w) / l.sigma)
		}
		switch {
		case over < 0.5:
			logAll += l.count * math.Log1p(-over)
		case o.sides == OneSided:
			logAll += l.count * math.Log(quad.NormalBelow((w-l.b*z)/l.sigma))
		default:
			logAll += l.count * math.Log(quad.NormalBetween(l.b*z/l.sigma, w/l.sigma))
		}
	}
	if t == upper {
		return -math.Expm1(logAll)
	}
	return math.Exp(logAll)
}
