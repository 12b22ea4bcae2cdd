package censreg

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

func TestDataErrors(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		what      string
		lo, hi, x float64
		w         float64
	}{
		{"lo NaN", nan, 1, 1, 1},
		{"hi NaN", 1, nan, 1, 1},
		{"crossed", 2, 1, 1, 1},
		{"both +Inf", inf, inf, 1, 1},
		{"both -Inf", -inf, -inf, 1, 1},
		{"x NaN", 1, 1, nan, 1},
		{"x infinite", 1, 1, inf, 1},
		{"weight negative", 1, 1, 1, -1},
		{"weight NaN", 1, 1, 1, nan},
		{"weight infinite", 1, 1, 1, inf},
	} {
		x := mat.NewDense(3, 1, []float64{1, 1, c.x})
		lo, hi := []float64{1, 2, c.lo}, []float64{1, 2, c.hi}
		opt := &Options{Weights: []float64{1, 1, c.w}}
		var e *DataError
		if f, err := Regress(x, lo, hi, Normal, opt); f != nil || !errors.As(err, &e) || e.Row != 2 {
			t.Errorf("%s: %v, want observation 2 named", c.what, err)
		}
		if _, err := LowerBound(x, lo, hi, Normal, opt, 0, 0.9); !errors.As(err, &e) {
			t.Errorf("%s: %v from LowerBound", c.what, err)
		}
	}
}

// One step is too few for data with bounds.
func TestNoConvergence(t *testing.T) {
	s := load(t, "s60")
	lo, hi, _ := s.logs()
	f, err := Regress(s.design("cell"), lo, hi, Normal, &Options{MaxIterations: 1})
	var e *ConvergenceError
	if f != nil || !errors.As(err, &e) || e.Iterations != 1 || !(e.Decrement > 0) {
		t.Errorf("%v, %v", f, err)
	}
}

func TestFewRows(t *testing.T) {
	inf := math.Inf(1)
	// More columns than observations.
	x := mat.NewDense(2, 3, []float64{1, 0, 1, 0, 1, 1})
	var rank *RankError
	if _, err := Regress(x, []float64{1, 2}, []float64{1, 2}, Normal, nil); !errors.As(err, &rank) || !slices.Equal(rank.Columns, []int{2}) {
		t.Errorf("%v, want column 2 named", err)
	}
	// A column that is zero in every row that carries information.
	x = mat.NewDense(4, 2, []float64{1, 0, 1, 0, 1, 0, 1, 1})
	lo, hi := []float64{1, 2, 4, -inf}, []float64{1, 2, 4, inf}
	if _, err := Regress(x, lo, hi, Normal, nil); !errors.As(err, &rank) || !slices.Equal(rank.Columns, []int{1}) {
		t.Errorf("%v, want column 1 named", err)
	}
	// Nothing at all.
	none := &Options{Weights: []float64{0, 0, 0, 0}}
	if _, err := Regress(x, lo, hi, Normal, none); !errors.Is(err, ErrNoExact) {
		t.Errorf("%v, want ErrNoExact", err)
	}
	none.FixedScale = 1
	if _, err := Regress(x, lo, hi, Normal, none); !errors.As(err, &rank) || !slices.Equal(rank.Columns, []int{0, 1}) {
		t.Errorf("%v, want both columns named", err)
	}
}

func TestWarnings(t *testing.T) {
	inf := math.Inf(1)
	x := mat.NewDense(4, 1, []float64{1, 1, 1, 1})
	f := fitOrFail(t, x, []float64{1, 2, 1.5, 1.2}, []float64{1, 2, inf, inf}, Normal, nil)
	if !slices.Contains(f.Warnings, FewExact) {
		t.Errorf("two exact observations, two parameters: warnings %v", f.Warnings)
	}
	f = fitOrFail(t, x, []float64{1, 2, 1.5, 1.2}, []float64{1, 2, 1.5, inf}, Normal, nil)
	if len(f.Warnings) != 0 {
		t.Errorf("warnings %v", f.Warnings)
	}
	// Two columns that differ by 1e-7 of themselves.
	x = mat.NewDense(6, 2, nil)
	y := []float64{1, 3, 2, 5, 4, 4.5}
	for i := range y {
		x.Set(i, 0, 1)
		x.Set(i, 1, 1+1e-7*float64(i))
	}
	f = fitOrFail(t, x, y, y, Normal, nil)
	if !slices.Contains(f.Warnings, IllConditioned) {
		t.Errorf("warnings %v of nearly equal columns", f.Warnings)
	}
}

// The message of every error names the package and what is at fault.
func TestErrorText(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{&DataError{3, "a bound is NaN"}, "censreg: observation 3: a bound is NaN"},
		{&RankError{[]int{1, 4}}, "censreg: columns [1 4] depend on the columns before them"},
		{&UnboundedError{Columns: []int{2}}, "censreg: the likelihood has no maximum: the coefficients of columns [2] go to infinity"},
		{&ConvergenceError{7, 0.25}, "censreg: no convergence after 7 iterations (Newton decrement 0.25)"},
	} {
		if got := c.err.Error(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if fmt.Sprint(Normal, SmallestExtreme, Distribution(7)) != "normal smallest extreme value unknown distribution" {
		t.Error(Normal, SmallestExtreme, Distribution(7))
	}
}

func TestPanics(t *testing.T) {
	x := mat.NewDense(2, 1, []float64{1, 1})
	y := []float64{1, 2}
	c := &Curve{Last: 1}
	for _, p := range []struct {
		want string
		f    func()
	}{
		{badLength, func() { Regress(x, y[:1], y, Normal, nil) }},
		{badLength, func() { Regress(x, y, y[:1], Normal, nil) }},
		{badLength, func() { Regress(x, y, y, Normal, &Options{Weights: y[:1]}) }},
		{badScale, func() { Regress(x, y, y, Normal, &Options{FixedScale: -1}) }},
		{badScale, func() { Regress(x, y, y, Normal, &Options{FixedScale: math.NaN()}) }},
		{badColumns, func() { Regress(&mat.Dense{}, nil, nil, Normal, nil) }},
		{badDist, func() { Regress(x, y, y, Distribution(2), nil) }},
		{badLength, func() { LogLik(x, y, y, Normal, nil, y, 1) }},
		{badScale, func() { LogLik(x, y, y, Normal, nil, y[:1], 0) }},
		{badDist, func() { LogLik(x, y, y, Distribution(-1), nil, y[:1], 1) }},
		{badColumn, func() { LowerBound(x, y, y, Normal, nil, 1, 0.9) }},
		{badColumn, func() { LowerBound(x, y, y, Normal, nil, -1, 0.9) }},
		{badLevel, func() { LowerBound(x, y, y, Normal, nil, 0, 0.5) }},
		{badLevel, func() { LowerBound(x, y, y, Normal, nil, 0, 1) }},
		{badLevel, func() { LowerBound(x, y, y, Normal, nil, 0, math.NaN()) }},
		{badLength, func() { KaplanMeier(y, y[:1], nil) }},
		{badLength, func() { KaplanMeier(y, y, y[:1]) }},
		{badProbability, func() { c.Quantile(0) }},
		{badProbability, func() { c.Quantile(1) }},
		{badProbability, func() { c.Quantile(math.NaN()) }},
		{badNaN, func() { c.Survival(math.NaN()) }},
	} {
		func() {
			defer func() {
				if got := recover(); got != p.want {
					t.Errorf("panic %v, want %q", got, p.want)
				}
			}()
			p.f()
		}()
	}
}

func TestLogLikSpecialValues(t *testing.T) {
	inf := math.Inf(1)
	x := mat.NewDense(2, 1, []float64{1, 1})
	one := []float64{0}
	if v := LogLik(x, []float64{1, math.NaN()}, []float64{1, 2}, Normal, nil, one, 1); !math.IsNaN(v) {
		t.Errorf("%v, want NaN", v)
	}
	if v := LogLik(x, []float64{1, 3}, []float64{1, 2}, Normal, nil, one, 1); !math.IsNaN(v) {
		t.Errorf("%v, want NaN", v)
	}
	if v := LogLik(x, []float64{-inf, -inf}, []float64{inf, inf}, Normal, nil, one, 1); v != 0 {
		t.Errorf("%v, want 0", v)
	}
	if v := LogLik(x, []float64{800, 1}, []float64{inf, 1}, SmallestExtreme, nil, one, 1); !math.IsInf(v, -1) {
		t.Errorf("%v, want -Inf", v)
	}
	// The normal log-likelihood far out is -z²/2, not -Inf.
	if v := LogLik(x.Slice(0, 1, 0, 1), []float64{1e6}, []float64{inf}, Normal, nil, one, 1); math.Abs(v+5e11) > 20 {
		t.Errorf("%v, want about -5e11", v) // log(z·sqrt(2π)) = 14.7
	}
}
