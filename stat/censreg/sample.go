package censreg

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// sample is the data of a fit: the observations that carry information, with
// the bounds and every column of x multiplied by a power of two that brings the
// largest magnitude into [1/2, 1). The scaling is free of rounding and keeps
// everything after it away from overflow.
type sample struct {
	p      int
	x      []float64 // n×p, by rows
	lo, hi []float64
	width  []float64 // hi - lo, kept apart because a shift of both would round it
	w      []float64
	kind   []kind
	row    []int // index of the observation in the caller's data
	xexp   []int // column j was divided by 2^xexp[j]
	yexp   int   // bounds were divided by 2^yexp
}

// n returns the number of observations kept.
func (s *sample) n() int { return len(s.lo) }

// features returns the row of x of observation i.
func (s *sample) features(i int) []float64 { return s.x[i*s.p : (i+1)*s.p] }

// newSample checks the data and copies what carries information: observations
// with a positive weight and at least one finite bound.
func newSample(x mat.Matrix, lo, hi []float64, opt *Options) (*sample, error) {
	n, p := checkShape(x, lo, hi, opt)
	weights := opt.weights()
	s := &sample{p: p, xexp: make([]int, p), x: make([]float64, 0, n*p)}
	view, byRow := x.(mat.RawRowViewer)
	buf := make([]float64, p)
	for i := range n {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		if !(w >= 0) || math.IsInf(w, 1) {
			return nil, &DataError{i, "weight is negative or not finite"}
		}
		k, reason := classify(lo[i], hi[i])
		if reason != "" {
			return nil, &DataError{i, reason}
		}
		features := buf
		if byRow {
			features = view.RawRowView(i)
		} else {
			mat.Row(buf, i, x)
		}
		for _, v := range features {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, &DataError{i, "x is not finite"}
			}
		}
		if w == 0 || k == vacuous {
			continue
		}
		s.x = append(s.x, features...)
		s.lo, s.hi = append(s.lo, lo[i]), append(s.hi, hi[i])
		s.w, s.kind, s.row = append(s.w, w), append(s.kind, k), append(s.row, i)
	}
	return s, s.rescale()
}

// checkShape panics when the caller's arguments do not belong together.
func checkShape(x mat.Matrix, lo, hi []float64, opt *Options) (n, p int) {
	n, p = x.Dims()
	if p == 0 {
		panic(badColumns)
	}
	if len(lo) != n || len(hi) != n {
		panic(badLength)
	}
	if w := opt.weights(); w != nil && len(w) != n {
		panic(badLength)
	}
	if opt != nil && (!(opt.FixedScale >= 0) || math.IsInf(opt.FixedScale, 1)) {
		panic(badScale)
	}
	return n, p
}

// vacuous marks an observation between -Inf and +Inf.
const vacuous kind = 255

// classify returns what the interval says, or why it is none.
func classify(lo, hi float64) (k kind, reason string) {
	switch {
	case math.IsNaN(lo) || math.IsNaN(hi):
		return 0, "a bound is NaN"
	case lo > hi:
		return 0, "the lower bound is above the upper"
	case math.IsInf(lo, 1) || math.IsInf(hi, -1):
		return 0, "both bounds are at the same infinity"
	case lo == hi:
		return exact, ""
	case math.IsInf(lo, -1) && math.IsInf(hi, 1):
		return vacuous, ""
	case math.IsInf(hi, 1):
		return lower, ""
	case math.IsInf(lo, -1):
		return upper, ""
	}
	return interval, ""
}

// rescale applies the powers of two.
func (s *sample) rescale() error {
	var top float64
	for i := range s.lo {
		for _, v := range [2]float64{s.lo[i], s.hi[i]} {
			if !math.IsInf(v, 0) {
				top = max(top, math.Abs(v))
			}
		}
	}
	_, s.yexp = math.Frexp(top)
	for i := range s.lo {
		s.lo[i] = math.Ldexp(s.lo[i], -s.yexp)
		s.hi[i] = math.Ldexp(s.hi[i], -s.yexp)
		if s.kind[i] == interval && s.lo[i] == s.hi[i] {
			return ErrRange // an interval that vanishes beside the largest bound
		}
	}
	s.width = make([]float64, s.n())
	for i := range s.width {
		s.width[i] = s.hi[i] - s.lo[i]
	}
	for j := range s.p {
		top = 0
		for i := j; i < len(s.x); i += s.p {
			top = max(top, math.Abs(s.x[i]))
		}
		_, s.xexp[j] = math.Frexp(top)
		for i := j; i < len(s.x); i += s.p {
			s.x[i] = math.Ldexp(s.x[i], -s.xexp[j])
		}
	}
	return nil
}

// informative reports whether anything in the sample holds the scale up.
func (s *sample) informative() bool {
	for _, k := range s.kind {
		if k == exact || k == interval {
			return true
		}
	}
	return false
}

// without returns the sample without the rows and columns marked.
func (s *sample) without(rows, columns []bool) *sample {
	t := &sample{yexp: s.yexp}
	for j, drop := range columns {
		if !drop {
			t.xexp = append(t.xexp, s.xexp[j])
			t.p++
		}
	}
	for i := range s.lo {
		if rows != nil && rows[i] {
			continue
		}
		for j, v := range s.features(i) {
			if !columns[j] {
				t.x = append(t.x, v)
			}
		}
		t.lo, t.hi = append(t.lo, s.lo[i]), append(t.hi, s.hi[i])
		t.width = append(t.width, s.width[i])
		t.w, t.kind, t.row = append(t.w, s.w[i]), append(t.kind, s.kind[i]), append(t.row, s.row[i])
	}
	return t
}

// moveLast returns the sample with column j moved to the end.
func (s *sample) moveLast(j int) *sample {
	t := *s
	order := make([]int, 0, s.p)
	for k := range s.p {
		if k != j {
			order = append(order, k)
		}
	}
	order = append(order, j)
	t.x = make([]float64, 0, len(s.x))
	for i := range s.n() {
		features := s.features(i)
		for _, k := range order {
			t.x = append(t.x, features[k])
		}
	}
	t.xexp = make([]int, 0, s.p)
	for _, k := range order {
		t.xexp = append(t.xexp, s.xexp[k])
	}
	return &t
}

// fixedScale returns the fixed scale of opt in the sample's units, or 0 when the
// scale is to be estimated and something in the sample allows it.
func (s *sample) fixedScale(opt *Options) (float64, error) {
	if opt == nil || opt.FixedScale == 0 {
		if !s.informative() {
			return 0, ErrNoExact
		}
		return 0, nil
	}
	fixed := math.Ldexp(opt.FixedScale, -s.yexp)
	if fixed == 0 || math.IsInf(fixed, 1) {
		return 0, ErrRange
	}
	return fixed, nil
}
