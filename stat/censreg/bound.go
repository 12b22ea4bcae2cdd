package censreg

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// LowerBound returns the one-sided likelihood-ratio lower bound for coefficient
// column of the model that Regress fits: the smallest b for which
//
//	2·(sup ℓ - sup ℓ with β[column] = b) ≤ z²,
//
// where z is the standard normal quantile of level, 0.5 < level < 1. It needs no
// estimate to exist: when the coefficient or others go to infinity, as for a
// group in which every observation is a lower bound, the suprema are limits and
// the bound is still a number. It is -Inf when the data set the coefficient no
// lower limit, as for a group in which every observation is an upper bound.
//
// The level is that of the asymptotic distribution of the likelihood ratio.
// Small samples fall short of it: over σ unknown and n observations without
// bounds the actual level is P(t(n-1) ≤ sqrt((n-1)·(exp(z²/n)-1))), 0.917 for a
// nominal 0.95 and n = 5.
//
// For an upper bound, change the sign of the column and of the result.
//
// The errors are those of Regress except *UnboundedError. LowerBound panics as
// Regress does, and if column or level is out of range. The result holds to
// about 1e-9 of a standard error; one call costs about ten fits.
func LowerBound(x mat.Matrix, lo, hi []float64, d Distribution, opt *Options, column int, level float64) (float64, error) {
	d.check()
	if !(level > 0.5 && level < 1) {
		panic(badLevel)
	}
	if _, p := x.Dims(); column < 0 || column >= p {
		panic(badColumn)
	}
	s, err := newSample(x, lo, hi, opt)
	if err != nil {
		return math.NaN(), err
	}
	fixed, err := s.fixedScale(opt)
	if err != nil {
		return math.NaN(), err
	}
	free, err := s.standardise(fixed)
	if err != nil {
		return math.NaN(), err
	}
	direction, _ := free.unbounded()
	if direction != nil && free.shifts(column, -1) {
		return math.Inf(-1), nil
	}
	p := profile{s: s, d: d, fixed: fixed, limit: opt.maxIterations(), column: column,
		z: distuv.UnitNormal.Quantile(level)}
	p.only = make([]bool, s.p)
	p.only[column] = true
	b, err := p.bound(direction != nil && free.shifts(column, 1))
	if err != nil {
		return math.NaN(), err
	}
	if b = math.Ldexp(b, s.yexp-s.xexp[column]); math.IsInf(b, 0) || math.IsNaN(b) {
		return math.NaN(), ErrRange
	}
	return b, nil
}

// profile holds one coefficient of a sample at a time. Coefficients are those of
// the sample's scaled columns and bounds.
type profile struct {
	s      *sample
	d      Distribution
	fixed  float64
	limit  int
	column int
	only   []bool // marks column
	z      float64
	top    float64 // supremum of the log-likelihood
}

// bound finds the lower bound; rises says that the coefficient itself goes to
// +Inf.
func (p *profile) bound(rises bool) (float64, error) {
	// The column goes last, so that columns which turn out to depend on each
	// other once observations have been set aside are dropped before it.
	last := p.s.moveLast(p.column)
	end, err := supremum(last, p.d, p.fixed, p.limit)
	if err != nil {
		return 0, err
	}
	p.top = end.value
	// The bracket starts at the estimate, or, where there is none, at a value
	// that costs less than z²/2.
	from, step, above := end.coef, p.z*end.stderr, -p.z
	if rises || !(end.stderr > 0) {
		from, step = end.middle, end.scale
		if above, err = p.excess(from); err != nil {
			return 0, err
		}
	}
	start := step
	for tries := 0; above > 0; tries++ {
		from += step
		step *= 2
		if above, err = p.excess(from); err != nil {
			return 0, err
		}
		if tries == maxTries {
			return 0, &ConvergenceError{Iterations: tries, Decrement: above}
		}
	}
	to, below := from, above
	step = start
	for tries := 0; below <= 0; tries++ {
		from, above = to, below
		to -= step
		step *= 2
		if below, err = p.excess(to); err != nil {
			return 0, err
		}
		if tries == maxTries {
			return 0, &ConvergenceError{Iterations: tries, Decrement: below}
		}
	}
	return p.root(to, from, below, above, 1e-11*end.scale)
}

// maxTries limits the doublings of a step; steps of a standard deviation reach
// everything with far fewer.
const maxTries = 100

// excess returns the signed root of the likelihood ratio at b, less z.
func (p *profile) excess(b float64) (float64, error) {
	if math.IsInf(b, 0) || math.IsNaN(b) {
		return 0, ErrRange
	}
	held := p.s.without(nil, p.only)
	for i := range held.lo {
		shift := p.s.features(i)[p.column] * b
		held.lo[i] -= shift
		held.hi[i] -= shift
	}
	end, err := supremum(held, p.d, p.fixed, p.limit)
	if err != nil {
		return 0, err
	}
	return math.Sqrt(2*max(0, p.top-end.value)) - p.z, nil
}

// root finds the zero of excess between low, where it is positive, and high,
// where it is not, by the false position method with the Illinois weights
// (Dowell and Jarratt 1971).
func (p *profile) root(low, high, atLow, atHigh, tolerance float64) (float64, error) {
	side := 0
	for range 100 {
		b := high - atHigh*(high-low)/(atHigh-atLow)
		if !(b > low && b < high) {
			b = low + (high-low)/2
		}
		v, err := p.excess(b)
		if err != nil {
			return 0, err
		}
		switch {
		case math.Abs(v) < 1e-11 || high-low < tolerance:
			return b, nil
		case v > 0:
			low, atLow = b, v
			if side > 0 {
				atHigh /= 2
			}
			side = 1
		default:
			high, atHigh = b, v
			if side < 0 {
				atLow /= 2
			}
			side = -1
		}
	}
	return 0, &ConvergenceError{Iterations: 100, Decrement: high - low}
}

// summit is the supremum of a log-likelihood, in the scaled units of its sample.
type summit struct {
	value        float64
	scale        float64 // σ there
	middle       float64 // least-squares coefficient of the last column, bounds taken as values
	coef, stderr float64 // of the last column, where it has an estimate
}

// supremum returns the supremum of the log-likelihood. Observations that a
// direction without bound makes certain contribute log 1 = 0 to it and are left
// out, as are columns that then depend on others.
func supremum(s *sample, d Distribution, fixed float64, limit int) (summit, error) {
	var end summit
	first := true
	for {
		if s.n() == 0 {
			return end, nil
		}
		z, err := s.standardise(fixed)
		var rank *RankError
		if errors.As(err, &rank) {
			drop := make([]bool, s.p)
			for _, j := range rank.Columns {
				drop[j] = true
			}
			s = s.without(nil, drop)
			continue
		}
		if err != nil {
			return end, err
		}
		if first && z.p > 0 {
			end.middle = z.beta0[z.p-1]
		}
		first = false
		if direction, moved := z.unbounded(); direction != nil {
			end.scale = z.s0
			s = s.without(moved, make([]bool, s.p))
			continue
		}
		if fixed == 0 && z.perfect() {
			return end, ErrPerfectFit
		}
		at, err := z.maximise(d, fixed != 0, limit)
		if err != nil {
			return end, err
		}
		gamma := at.v[z.p]
		end.scale = z.s0 / gamma
		end.value = z.sums(d, at.v, nil, nil, false) - z.exacts*math.Log(z.s0)
		if z.p > 0 {
			f, err := z.fit(d, at, fixed != 0)
			if err != nil {
				return end, err
			}
			j := z.p - 1
			end.coef = math.Ldexp(f.Coef[j], z.xexp[j]-z.yexp)
			end.stderr = math.Ldexp(f.StdErr[j], z.xexp[j]-z.yexp)
		}
		return end, nil
	}
}
