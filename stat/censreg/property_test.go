package censreg

import (
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// known reports whether err is one of the errors that the doc of Regress lists.
func known(err error) bool {
	var (
		data        *DataError
		rank        *RankError
		unbounded   *UnboundedError
		convergence *ConvergenceError
	)
	return errors.As(err, &data) || errors.As(err, &rank) || errors.As(err, &unbounded) ||
		errors.As(err, &convergence) || errors.Is(err, ErrNoExact) || errors.Is(err, ErrPerfectFit) ||
		errors.Is(err, ErrSingular) || errors.Is(err, ErrRange)
}

// checkFit fails the test when a returned fit breaks a promise of its doc.
func checkFit(t interface {
	Fatalf(string, ...any)
}, f *Fit) {
	for _, list := range [][]float64{f.Coef, f.StdErr, f.Score, f.Cov.RawSymmetric().Data, {f.LogLik, f.Scale}} {
		for _, v := range list {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("not a number in %+v", f)
			}
		}
	}
	if !(f.Scale > 0) {
		t.Fatalf("scale %v", f.Scale)
	}
	for _, v := range f.StdErr {
		if !(v > 0) {
			t.Fatalf("standard error %v", v)
		}
	}
	// The bound of the doc of Score, and a factor of 4 for the rounding of the
	// quadratic form.
	score := mat.NewVecDense(len(f.Score), f.Score)
	if far := mat.Inner(score, f.Cov, score); !(far <= 4*max(1e-14, 64*0x1p-104*math.Abs(f.LogLik))) {
		t.Fatalf("squared distance to the maximum %v", far)
	}
}

// observations draws bounds, on a scale anywhere between 10^-spread and
// 10^spread, with widths from far below to far above it and levels up to 1e12
// times as high.
func observations(t *rapid.T, n int, spread float64) (lo, hi []float64, scale float64) {
	lo, hi = make([]float64, n), make([]float64, n)
	scale = math.Pow(10, rapid.Float64Range(-spread, spread).Draw(t, "scale"))
	shift := rapid.SampledFrom([]float64{0, 0, 1, 1e6, 1e12}).Draw(t, "shift") * scale
	for i := range n {
		a := shift + scale*rapid.Float64Range(-3, 3).Draw(t, "a")
		if rapid.IntRange(0, 9).Draw(t, "round") == 0 {
			a = shift
		}
		b := a + scale*math.Pow(10, rapid.Float64Range(-14, 2).Draw(t, "width"))
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0, 1:
			b = a
		case 2, 3:
			b = math.Inf(1)
		case 4:
			a = math.Inf(-1)
		}
		lo[i], hi[i] = a, b
	}
	return lo, hi, scale
}

// matrix draws groups, with a covariate at times.
func matrix(t *rapid.T, n int) *mat.Dense {
	groups := rapid.IntRange(1, 4).Draw(t, "groups")
	p := groups + rapid.IntRange(0, 1).Draw(t, "covariate")
	treatment := rapid.Bool().Draw(t, "treatment")
	x := mat.NewDense(n, p, nil)
	for i := range n {
		x.Set(i, rapid.IntRange(0, groups-1).Draw(t, "group"), 1)
		if treatment {
			x.Set(i, 0, 1)
		}
		if p > groups {
			x.Set(i, groups, rapid.Float64Range(-1e3, 1e3).Draw(t, "x"))
		}
	}
	return x
}

func TestRegressNeverReturnsNaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 14).Draw(t, "n")
		x := matrix(t, n)
		lo, hi, scale := observations(t, n, rapid.SampledFrom([]float64{0, 6, 150}).Draw(t, "spread"))
		d := rapid.SampledFrom([]Distribution{Normal, SmallestExtreme}).Draw(t, "d")
		opt := &Options{}
		if rapid.IntRange(0, 3).Draw(t, "fix") == 0 {
			opt.FixedScale = scale * math.Pow(10, rapid.Float64Range(-3, 3).Draw(t, "fixed"))
		}
		f, err := Regress(x, lo, hi, d, opt)
		if err == nil {
			checkFit(t, f)
		} else if !known(err) {
			t.Fatalf("unlisted error %v", err)
		}
		var unbounded *UnboundedError
		if errors.As(err, &unbounded) {
			if len(unbounded.Columns) == 0 || len(unbounded.Rows) == 0 {
				t.Fatalf("nothing named in %+v", unbounded)
			}
			t.Logf("x %v lo %v hi %v", x.RawMatrix().Data, lo, hi)
			checkDirection(t, unbounded, x, lo, hi, d, opt)
		}
		_, p := x.Dims()
		b, err := LowerBound(x, lo, hi, d, opt, rapid.IntRange(0, p-1).Draw(t, "column"), 0.95)
		switch {
		case err != nil && (!known(err) || errors.As(err, &unbounded)):
			t.Fatalf("unlisted error %v of LowerBound", err)
		case err == nil && (math.IsNaN(b) || math.IsInf(b, 1)):
			t.Fatalf("bound %v", b)
		}
	})
}

// FuzzRegress reads observations and a matrix of two columns from bytes.
func FuzzRegress(f *testing.F) {
	add := func(values ...float64) {
		var b []byte
		for _, v := range values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		f.Add(b)
	}
	inf := math.Inf(1)
	add(1, 1, 1, 0, 2, inf, 1, 0, 1.5, 1.5, 1, 1, 3, 3, 1, 1)
	add(1, 1, 1, 0, 1, 1, 1, 0, 1, 1, 1, 0)
	add(1e300, 1e300, 1, 0, -1e300, -1e300, 1, 1, 0, inf, 1, 1e-300)
	add(math.NaN(), 1, 1, 0)
	f.Fuzz(func(t *testing.T, b []byte) {
		n := min(len(b)/32, 12)
		if n == 0 {
			return
		}
		at := func(i int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:])) }
		x := mat.NewDense(n, 2, nil)
		lo, hi := make([]float64, n), make([]float64, n)
		for i := range n {
			lo[i], hi[i] = at(4*i), at(4*i+1)
			x.Set(i, 0, at(4*i+2))
			x.Set(i, 1, at(4*i+3))
		}
		for _, d := range []Distribution{Normal, SmallestExtreme} {
			fit, err := Regress(x, lo, hi, d, nil)
			if err != nil {
				if !known(err) {
					t.Fatalf("unlisted error %v", err)
				}
				continue
			}
			checkFit(t, fit)
		}
	})
}
