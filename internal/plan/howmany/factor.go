package howmany

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"bondtrial/stat/maxt"
	"bondtrial/stat/studrange"
)

// factor is the quantile of the largest |t| of a family of comparisons between
// equally many specimens, as a function of the degrees of freedom: a table in 1/df
// with cubic interpolation of the logarithm. Against direct computation the
// relative error is below 1e-4.
type factor struct{ log []float64 }

const (
	leastDF   = 1.0
	factorNum = 25                              // from 0 to 1/leastDF
	factorBy  = 1 / (leastDF * (factorNum - 1)) // step of the table in 1/df
)

// at returns the quantile. Degrees of freedom below leastDF count as leastDF.
func (f *factor) at(df float64) float64 {
	x := min(1/df, 1/leastDF) / factorBy
	i := min(max(int(x)-1, 0), factorNum-4)
	t, y := x-float64(i), f.log[i:i+4]
	// Lagrange's polynomial through four points.
	return math.Exp(-y[0]*(t-1)*(t-2)*(t-3)/6 + y[1]*t*(t-2)*(t-3)/2 - y[2]*t*(t-1)*(t-3)/2 + y[3]*t*(t-1)*(t-2)/6)
}

// shape is what a factor depends on.
type shape struct {
	adhesives int
	control   bool
	families  int // taken together
	level     float64
}

var factors sync.Map // shape → func() *factor

// factorOf returns the factor of a shape, made once.
func factorOf(s shape) *factor {
	if s.adhesives == 2 {
		s.control = false // one comparison either way
	}
	made, _ := factors.LoadOrStore(s, sync.OnceValue(func() *factor { return newFactor(s) }))
	return made.(func() *factor)()
}

func newFactor(s shape) *factor {
	f := &factor{log: make([]float64, factorNum)}
	quantile := s.quantile
	if s.families > 1 {
		quantile = s.quantileTogether()
	}
	for i := range f.log {
		f.log[i] = math.Log(quantile(1 / (float64(i) * factorBy)))
	}
	return f
}

// law is the distribution of the largest |t| of one family.
func (s shape) law(df float64) (cdf func(float64) float64, quantile func(float64) float64) {
	if !s.control {
		d := studrange.Dist{K: s.adhesives, DF: df}
		return func(c float64) float64 { return d.CDF(c * math.Sqrt2) }, func(p float64) float64 { return d.Quantile(p) / math.Sqrt2 }
	}
	// Comparisons with a control, equal numbers: correlation 1/2 (Dunnett 1955).
	m := s.adhesives - 1
	corr := mat.NewSymDense(m, nil)
	for i := range m {
		for j := range i {
			corr.SetSym(i, j, 0.5)
		}
		corr.SetSym(i, i, 1)
	}
	d, err := maxt.New(corr, df, maxt.TwoSided, nil)
	if err != nil {
		panic("howmany: " + err.Error()) // the matrix is a correlation matrix
	}
	return d.CDF, d.Quantile
}

func (s shape) quantile(df float64) float64 {
	_, q := s.law(df)
	return q(s.level)
}

// quantileTogether is for families that share nothing but the scale s: the c at
// which E[F(c·s)^families] is the level, F the law of one family with a known
// scale.
func (s shape) quantileTogether() func(df float64) float64 {
	const step, most = 0.05, 14.0
	cdf, _ := s.law(math.Inf(1))
	var table []float64
	for c := 0.0; c <= most; c += step {
		table = append(table, math.Pow(cdf(c), float64(s.families)))
	}
	known := func(c float64) float64 {
		x := c / step
		i := int(x)
		if i >= len(table)-2 {
			return 1
		}
		if i < 1 {
			return table[0] + (table[1]-table[0])*x
		}
		t, y := x-float64(i-1), table[i-1:]
		return -y[0]*(t-1)*(t-2)*(t-3)/6 + y[1]*t*(t-2)*(t-3)/2 - y[2]*t*(t-1)*(t-3)/2 + y[3]*t*(t-1)*(t-2)/6
	}
	return func(df float64) float64 {
		at := known
		if !math.IsInf(df, 1) {
			at = func(c float64) float64 { return overScale(df, func(x float64) float64 { return known(c * x) }) }
		}
		lo, hi := 0.0, 1e3
		for hi-lo > 1e-7*hi {
			mid := 0.5 * (lo + hi)
			if at(mid) < s.level {
				lo = mid
			} else {
				hi = mid
			}
		}
		return 0.5 * (lo + hi)
	}
}

// overScale is E[f(s)], df·s² ~ χ² with df degrees of freedom, by the trapezoidal
// rule in log s.
func overScale(df float64, f func(s float64) float64) float64 {
	chi := distuv.ChiSquared{K: df}
	var terms, weights []float64
	for u := -9.0; u <= 3; u += 0.02 {
		z := u / math.Sqrt(df) * 1.5
		s := math.Exp(z)
		w := chi.Prob(df*s*s) * s * s
		if w > 0 {
			terms = append(terms, w*f(s))
			weights = append(weights, w)
		}
	}
	return floats.Sum(terms) / floats.Sum(weights)
}

// meanAbs is E|t| of Student's t with df > 1 degrees of freedom.
func meanAbs(df float64) float64 {
	a, _ := math.Lgamma(0.5 * (df + 1))
	b, _ := math.Lgamma(0.5 * df)
	return 2 * math.Sqrt(df/math.Pi) / (df - 1) * math.Exp(a-b)
}
