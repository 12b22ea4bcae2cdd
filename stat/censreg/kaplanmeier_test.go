package censreg

import (
	"errors"
	"math"
	"testing"
)

func TestKaplanMeierSurvfit(t *testing.T) {
	// Expected values: R survfit (testdata/survreg.R, versions in survfit.csv).
	// Both sides multiply at most 40 fractions, so that they differ by rounding
	// only, of the order of 1e-15; 1e-12 leaves room for another order of sums.
	const tol = 1e-12
	type key struct{ set, group string }
	want := make(map[key][]map[string]string)
	for _, row := range readCSV(t, "survfit.csv") {
		k := key{row["set"], row["group"]}
		want[k] = append(want[k], row)
	}
	if len(want) < 25 {
		t.Fatalf("only %d curves in survfit.csv", len(want))
	}
	middles := 0
	for k, rows := range want {
		s := load(t, k.set)
		var lo, hi, w []float64
		for i, g := range s.group {
			if k.group == "all" || k.group == g {
				lo, hi, w = append(lo, s.lo[i]), append(hi, s.hi[i]), append(w, s.wgt[i])
			}
		}
		c, err := KaplanMeier(lo, hi, w)
		if err != nil {
			t.Fatal(err)
		}
		if len(c.Steps) != len(rows) {
			t.Errorf("%v: %d steps, want %d", k, len(c.Steps), len(rows))
			continue
		}
		for i, row := range rows {
			got := c.Steps[i]
			if got.Time != number(t, row["time"]) || got.AtRisk != number(t, row["risk"]) || got.Events != number(t, row["events"]) {
				t.Errorf("%v step %d: %+v, want %v", k, i, got, row)
			}
			if v := number(t, row["survival"]); math.Abs(got.Survival-v) > tol {
				t.Errorf("%v step %d: survival %.15g, want %.15g", k, i, got.Survival, v)
			}
			v := number(t, row["stderr"])
			if math.IsNaN(v) {
				v = 0 // R has no standard error where the curve reaches 0
			}
			if math.Abs(got.StdErr-v) > tol {
				t.Errorf("%v step %d: standard error %.15g, want %.15g", k, i, got.StdErr, v)
			}
		}
		middles += checkMedian(t, c, rows[0]["median"])
	}
	if middles == 0 {
		t.Error("no curve ran along 1/2: the rule for that was not tested")
	}
}

// checkMedian compares the median with R's, which is the middle of the stretch
// where a curve is exactly 1/2. It returns 1 when the curve has such a stretch.
func checkMedian(t *testing.T, c *Curve, r string) int {
	t.Helper()
	got, ok := c.Median()
	if r == "NA" {
		if ok || !math.IsInf(got, 1) {
			t.Errorf("median %v, %v; R has none", got, ok)
		}
		return 0
	}
	want, along := number(t, r), 0
	for i, step := range c.Steps {
		if math.Abs(step.Survival-0.5) < 1e-9 && i+1 < len(c.Steps) {
			along = 1
			got = (got + c.Steps[i+1].Time) / 2
		}
	}
	// The mean of two of R's numbers may round differently in the last place.
	if !ok || math.Abs(got-want) > 4e-16*want {
		t.Errorf("median %v, %v; R has %v", got, ok, want)
	}
	return along
}

// A curve worked by hand: at 3 an event and a bound fall together, and the bound
// is still at risk.
func TestKaplanMeierByHand(t *testing.T) {
	inf := math.Inf(1)
	lo := []float64{5, 3, 1, 3, 4, 2}
	hi := []float64{5, 3, 1, inf, inf, 2}
	c, err := KaplanMeier(lo, hi, nil)
	if err != nil {
		t.Fatal(err)
	}
	// Ŝ is 5/6, 4/6, 4/6·3/4 = 1/2, 0; the Greenwood sums are 1/30,
	// 1/30 + 1/20 = 1/12 and 1/12 + 1/12 = 1/6.
	want := []Step{
		{1, 6, 1, 5. / 6, 5. / 6 * math.Sqrt(1./30)},
		{2, 5, 1, 4. / 6, 4. / 6 * math.Sqrt(1./12)},
		{3, 4, 1, 1. / 2, 1. / 2 * math.Sqrt(1./6)},
		{5, 1, 1, 0, 0},
	}
	if len(c.Steps) != len(want) {
		t.Fatalf("%d steps, want %d", len(c.Steps), len(want))
	}
	for i, w := range want {
		g := c.Steps[i]
		if g.Time != w.Time || g.AtRisk != w.AtRisk || g.Events != w.Events ||
			math.Abs(g.Survival-w.Survival) > 1e-15 || math.Abs(g.StdErr-w.StdErr) > 1e-15 { // a few roundings
			t.Errorf("step %d: %+v, want %+v", i, g, w)
		}
	}
	for _, q := range []struct{ at, s float64 }{{0, 1}, {0.99, 1}, {1, 5. / 6}, {2.5, 4. / 6}, {3, 0.5}, {4.9, 0.5}, {5, 0}, {9, 0}} {
		if s, ok := c.Survival(q.at); !ok || math.Abs(s-q.s) > 1e-15 {
			t.Errorf("Survival(%v) = %v, %v, want %v", q.at, s, ok, q.s)
		}
	}
	// The curve is 1/2 from 3 on: the median is 3, the left end.
	if m, ok := c.Median(); m != 3 || !ok {
		t.Errorf("median %v, %v, want 3", m, ok)
	}
	if q, ok := c.Quantile(0.51); q != 5 || !ok {
		t.Errorf("Quantile(0.51) = %v, %v, want 5", q, ok)
	}
}

func TestKaplanMeierDoesNotExist(t *testing.T) {
	inf := math.Inf(1)
	c, err := KaplanMeier([]float64{1, 2, 3}, []float64{1, inf, inf}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if m, ok := c.Median(); ok || !math.IsInf(m, 1) {
		t.Errorf("median %v, %v", m, ok)
	}
	if s, ok := c.Survival(3); !ok || s != 2./3 {
		t.Errorf("Survival(3) = %v, %v", s, ok)
	}
	if s, ok := c.Survival(3.1); ok || s != 2./3 {
		t.Errorf("Survival(3.1) = %v, %v: nothing is known there", s, ok)
	}
	// Bounds only: no step, and 1 up to the last of them.
	c, err = KaplanMeier([]float64{1, 2}, []float64{inf, inf}, nil)
	if err != nil || len(c.Steps) != 0 || c.Last != 2 {
		t.Errorf("%+v, %v", c, err)
	}
	if s, ok := c.Survival(2); s != 1 || !ok {
		t.Errorf("Survival(2) = %v, %v", s, ok)
	}
}

func TestKaplanMeierErrors(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		lo, hi, w []float64
		row       int
	}{
		{[]float64{1, -inf}, []float64{1, 2}, nil, 1},
		{[]float64{1, 1}, []float64{1, 2}, nil, 1},
		{[]float64{nan}, []float64{1}, nil, 0},
		{[]float64{2}, []float64{1}, nil, 0},
		{[]float64{inf}, []float64{inf}, nil, 0},
		{[]float64{-inf}, []float64{inf}, nil, 0},
		{[]float64{1, 1}, []float64{1, 1}, []float64{1, -1}, 1},
		{[]float64{1, 1}, []float64{1, 1}, []float64{1, nan}, 1},
	} {
		_, err := KaplanMeier(c.lo, c.hi, c.w)
		var e *DataError
		if !errors.As(err, &e) || e.Row != c.row {
			t.Errorf("%v %v %v: %v, want row %d named", c.lo, c.hi, c.w, err, c.row)
		}
	}
	for _, w := range [][]float64{nil, {0, 0}} {
		if _, err := KaplanMeier(make([]float64, len(w)), make([]float64, len(w)), w); !errors.Is(err, ErrEmpty) {
			t.Errorf("%v: %v, want ErrEmpty", w, err)
		}
	}
	if _, err := KaplanMeier([]float64{1, 1}, []float64{1, 1}, []float64{1e308, 1e308}); !errors.Is(err, ErrRange) {
		t.Errorf("%v, want ErrRange", err)
	}
}
