package answer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bondtrial"
	"bondtrial/stat/tolerance"
)

// quick settings for tests that do not look at third digits.
func quick() Settings {
	s := DefaultSettings()
	s.Draws = 4000
	return s
}

func compute(t testing.TB, rs []bondtrial.Reading, set Settings) *Answer {
	t.Helper()
	a, err := Compute(context.Background(), rs, set)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func cellOf(t *testing.T, a *Answer, adhesive string) Cell {
	t.Helper()
	for _, c := range a.Cells {
		if c.Adhesive == adhesive {
			return c
		}
	}
	t.Fatalf("no cell of %s", adhesive)
	return Cell{}
}

func warned(a *Answer, about string) bool {
	return slices.ContainsFunc(a.Warnings, func(s string) bool { return strings.Contains(s, about) })
}

func readings(adhesive string, strengths ...float64) []bondtrial.Reading {
	var rs []bondtrial.Reading
	for _, s := range strengths {
		rs = append(rs, broke(adhesive, s))
	}
	return rs
}

// EN 14358:2016, formula for the characteristic value of a lognormal property,
// exp(ȳ − k_s·s): with one cell, no bounds and no boards the 5th percentile is
// that, with the exact factor in place of the table's (they agree to 0.005; see
// package tolerance). The values are the heights of the worked Grubbs example of
// the NIST e-Handbook (section 1.3.5.17.1) without its outlier, over 30.
func TestFifthPercentileIsThatOfEN14358(t *testing.T) {
	values := []float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18}
	var rs []bondtrial.Reading
	mean, ss := 0.0, 0.0
	for _, v := range values {
		rs = append(rs, broke("Tarn", v/30))
		mean += math.Log(v/30) / 7
	}
	for _, v := range values {
		ss += math.Pow(math.Log(v/30)-mean, 2)
	}
	s := math.Sqrt(ss / 6)
	want := math.Exp(mean - tolerance.K(7, 0.95, 0.75)*s)
	for _, drawn := range []bool{false, true} {
		set := DefaultSettings()
		set.drawsOnly = drawn
		limit := 1e-9
		if drawn {
			limit = 0.02 * s // of the 25 % quantile of 40,000 draws, whose error is about 0.006 s
		}
		got := float64(cellOf(t, compare(t, rs, set), "Tarn").Char5)
		if math.Abs(math.Log(got/want)) > limit {
			t.Errorf("draws only %v: %.5f, want %.5f", drawn, got, want)
		}
	}
}

// Expected: lm and survival::survreg by testdata/classical.R.
func TestChecksAgainstR(t *testing.T) {
	want := make(map[string]float64)
	for _, r := range rowsOf(t, "classical-checks.csv") {
		want[r["what"]] = number(t, r["value"])
	}
	var bounded, ordered []bondtrial.Reading
	for _, r := range rowsOf(t, "classical-checks-data.csv") {
		x := broke(r["group"], math.Exp(number(t, r["y"])))
		x.GlueOrder = int(number(t, r["order"]))
		ordered = append(ordered, x)
		if r["bound"] == "TRUE" {
			x.WoodFailure = 100
		}
		bounded = append(bounded, x)
	}
	a := compute(t, bounded, quick())
	for what, got := range map[string]Value{"lognormal": a.Fit.LognormalLogLik, "weibull": a.Fit.WeibullLogLik} {
		if math.Abs(float64(got)-want[what]) > 1e-6*math.Abs(want[what]) {
			t.Errorf("%s log-likelihood %.8f, want %.8f", what, float64(got), want[what])
		}
	}
	a = compute(t, ordered, quick())
	if len(a.Drifts) != 1 || a.Drifts[0].Order != "glueing" || a.Drifts[0].Flag {
		t.Fatalf("drifts %+v", a.Drifts)
	}
	for what, got := range map[string]Value{"drift": a.Drifts[0].Ratio, "drift_low": a.Drifts[0].Low, "drift_high": a.Drifts[0].High} {
		if math.Abs(math.Log(float64(got))-want[what]) > 1e-6 {
			t.Errorf("%s %.8f, want %.8f", what, math.Log(float64(got)), want[what])
		}
	}
}

// With the roles of bond and wood exchanged in the readings, the wood's strength
// is the bond's.
func TestWoodLimitIsTheBondWithRolesExchanged(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var rs, exchanged []bondtrial.Reading
	for i := range 40 {
		r := broke("Tarn", math.Exp(2+0.15*rng.NormFloat64()))
		r.Wood, r.Board = "ash", fmt.Sprint(i%4)
		x := r
		if i%3 == 0 {
			r.WoodFailure = 100
		} else {
			x.WoodFailure = 100
		}
		rs, exchanged = append(rs, r), append(exchanged, x)
	}
	set := DefaultSettings()
	bond := cellOf(t, compute(t, rs, set), "Tarn")
	wood := compute(t, exchanged, set).WoodLimits[0]
	// The wood is sampled a quarter as often: ends of intervals agree to 2 %.
	for what, pair := range map[string][2]Value{"typical": {bond.Typical, wood.Typical}, "low": {bond.Low, wood.Low}, "high": {bond.High, wood.High}} {
		if math.Abs(math.Log(float64(pair[0]/pair[1]))) > 0.02 {
			t.Errorf("%s: bond %.3f, wood %.3f", what, pair[0], pair[1])
		}
	}
	if wood.Broke != 26 || wood.N != 40 {
		t.Errorf("%d of %d ended in the wood, want 26 of 40", wood.Broke, wood.N)
	}
}

func TestCellOfLowerBounds(t *testing.T) {
	rs := append(readings("Tarn", 5, 5.5, 6, 6.5, 5.8), readings("Beck", 7, 7.5, 8, 8.2, 6.9)...)
	for _, s := range []float64{9, 9.5, 10, 9.2} {
		rs = append(rs, limited("Fell", s))
	}
	a := compute(t, rs, quick())
	c := cellOf(t, a, "Fell")
	if !c.OnlyAtLeast || c.Typical.Exists() || c.High.Exists() || c.Char5.Exists() || c.SDLog.Exists() {
		t.Errorf("a cell of lower bounds has %+v", c)
	}
	if !(c.AtLeast > 5 && c.AtLeast < 10) || c.Low > c.AtLeast {
		t.Errorf("at least %.2f (low %.2f) from four readings of 9 to 10", c.AtLeast, c.Low)
	}
	p, _ := findPair(a, "Fell", "Tarn")
	if p.Ratio.Exists() || p.High.Exists() || p.HighSim.Exists() || !p.LowSim.Exists() || p.LowSim > p.Low || p.Verdict != Stronger {
		t.Errorf("Fell over Tarn: %+v", p)
	}
	q := p.Reversed()
	if q.Low.Exists() || !q.HighSim.Exists() || q.Verdict != Weaker || math.Abs(float64(q.HighSim*p.LowSim)-1) > 1e-12 {
		t.Errorf("Tarn over Fell: %+v", q)
	}
	if !warned(a, "leans on what is assumed") {
		t.Errorf("warnings %q", a.Warnings)
	}
	for _, b := range a.Best {
		if !b.Leans {
			t.Errorf("chance of %s does not say that it leans on an assumption", b.Adhesive)
		}
	}
}

func TestTwoCellsOfLowerBounds(t *testing.T) {
	rs := readings("Tarn", 5, 5.5, 6, 6.5, 5.8)
	for _, s := range []float64{9, 9.5, 10, 9.2} {
		rs = append(rs, limited("Fell", s), limited("Beck", s+0.1))
	}
	a := compute(t, rs, quick())
	p, ok := findPair(a, "Fell", "Beck")
	if !ok || p.Low.Exists() || p.High.Exists() || p.LowSim.Exists() || p.PAStronger.Exists() || p.Verdict != NotSettled || p.Settle.Reason == "" {
		t.Errorf("two cells of lower bounds: %+v", p)
	}
}

// The bound that allows for luck, against its closed form: with the scatter known
// and no boards, n readings of w all ended in the wood with probability
// Φ((μ−w)/σ)ⁿ.
func TestLuckBound(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	var rs []bondtrial.Reading
	for a := range 4 {
		for range 1500 {
			rs = append(rs, broke(fmt.Sprint(a), math.Exp(1.5+0.1*float64(a)+0.2*rng.NormFloat64())))
		}
	}
	for range 5 {
		rs = append(rs, limited("strong", 9))
	}
	set := quick()
	set.PooledScatter = true
	b := arrange(rs, set)
	f, _, err := b.fit(context.Background(), set, "")
	if err != nil {
		t.Fatal(err)
	}
	strong := slices.IndexFunc(b.cells, func(c Cell) bool { return c.OnlyAtLeast })
	if got, want := f.luck(strong), 0.05*1/5; math.Abs(got-want) > 1e-15 {
		t.Errorf("luck %.4f, want %.4f: one cell of five", got, want)
	}
	got := f.luckBound(strong, 0.01)
	// 0.01^(1/5) = 0.39811, Φ⁻¹ of it −0.25822 (by erf's inverse), σ 0.2. The
	// scatter of 6,000 readings is known to 1 %, and of this 0.05 is moved.
	want := math.Log(9) + 0.2*math.Sqrt2*math.Erfinv(2*math.Pow(0.01, 0.2)-1)
	if math.Abs(got-want) > 0.002 {
		t.Errorf("bound %.4f, want %.4f", got, want)
	}
}

func TestSmallTrials(t *testing.T) {
	one := compute(t, readings("Tarn", 5, 6, 5.5), quick())
	if len(one.Pairs) != 0 || len(one.Best) != 1 || one.Best[0].PBest != 1 || !warned(one, "one adhesive only") || !warned(one, "No wood") || !warned(one, "No boards") {
		t.Errorf("one adhesive: %d pairs, best %+v, warnings %q", len(one.Pairs), one.Best, one.Warnings)
	}
	single := compute(t, append(readings("Tarn", 5, 6, 5.5, 5.2), readings("Fell", 9)...), quick())
	c := cellOf(t, single, "Fell")
	if c.N != 1 || !(c.Low < 9 && c.High > 9 && c.High < 40) {
		t.Errorf("one reading in a cell: %+v", c)
	}
	noFaces := readings("Tarn", 5, 6, 5.5)
	for i := range noFaces {
		noFaces[i].WoodFailure = bondtrial.Percent(math.NaN())
	}
	if a := compute(t, noFaces, quick()); !warned(a, "Nothing says how the specimens failed") {
		t.Errorf("warnings %q", a.Warnings)
	}
}

func TestTooLittle(t *testing.T) {
	aside := readings("Tarn", 5, 6)
	for i := range aside {
		aside[i].SetAside = "spoiled"
	}
	for _, c := range []struct {
		name string
		rs   []bondtrial.Reading
		say  string
	}{
		{"none", nil, "no reading that is not set aside"},
		{"all set aside", aside, "no reading that is not set aside"},
		{"all in the wood", []bondtrial.Reading{limited("Tarn", 5), limited("Tarn", 6), limited("Fell", 7)}, "all 3 readings"},
		{"one each", append(readings("Tarn", 5), readings("Fell", 6)...), "two breaks of the bond"},
		{"equal", readings("Tarn", 5, 5, 5), "unrounded"},
	} {
		_, err := Compute(context.Background(), c.rs, quick())
		var little *TooLittle
		if !errors.As(err, &little) || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: %v, want an error that says %q", c.name, err, c.say)
		}
	}
	set := quick()
	set.Control = "Beck"
	var unknown *UnknownControl
	if _, err := Compute(context.Background(), readings("Tarn", 5, 6, 7), set); !errors.As(err, &unknown) {
		t.Errorf("unknown control: %v", err)
	}
}

func TestStates(t *testing.T) {
	rs := append(readings("Tarn", 5, 6, 5.5, 5.2), limited("Tarn", 7))
	rig := broke("Tarn", 8)
	rig.RigLimited = true
	aside := broke("Tarn", 50)
	aside.SetAside = "slipped in the grips"
	a := compute(t, append(rs, rig, aside), quick())
	if a.Counts != (Counts{Used: 6, WoodLimited: 1, RigLimited: 1, SetAside: 1}) {
		t.Errorf("counts %+v", a.Counts)
	}
	if c := cellOf(t, a, "Tarn"); c.N != 6 || c.WoodLimited != 1 || c.RigLimited != 1 || c.Typical > 8 {
		t.Errorf("cell %+v", c)
	}
	if len(a.Readings) != 7 {
		t.Errorf("%d readings kept, want 7", len(a.Readings))
	}
}

func TestSensitivity(t *testing.T) {
	rs := append(readings("Tarn", 5, 6, 5.5, 5.2), readings("Fell", 7, 8, 7.5, 7.2)...)
	a := compute(t, rs, quick())
	for _, s := range a.Sensitivity {
		if len(s.Changes) != 0 || s.Failed != "" {
			t.Errorf("no share of wood, and yet at %v: %+v", s.Threshold, s)
		}
	}
	for i := range rs {
		if rs[i].Adhesive == "Tarn" {
			rs[i].WoodFailure = 60
		}
	}
	a = compute(t, rs, quick())
	if a.Pairs[0].Verdict != Stronger {
		t.Fatalf("Fell over Tarn: %s", a.Pairs[0].Verdict)
	}
	if s := a.Sensitivity; s[0].Threshold != 50 || len(s[0].Changes) != 1 || s[1].Threshold != 90 || len(s[1].Changes) != 0 {
		t.Errorf("sensitivity %+v: at 50 %% all readings of one adhesive are bounds", s)
	} else if c := s[0].Changes[0]; c.A != "Fell" || c.B != "Tarn" || c.Was != Stronger || c.Is == Stronger {
		t.Errorf("the change is %+v", c)
	}
	for i := range rs {
		rs[i].WoodFailure = 60
	}
	if s := compute(t, rs, quick()).Sensitivity; s[0].Failed == "" || s[1].Failed != "" {
		t.Errorf("sensitivity %+v: at 50 %% there is no answer", s)
	}
}

func TestTermsThatCannotBeTold(t *testing.T) {
	rs := append(readings("Tarn", 5, 6, 5.5, 5.2), readings("Fell", 7, 8, 7.5, 7.2)...)
	with := func(f func(i int, r *bondtrial.Reading)) *Answer {
		x := slices.Clone(rs)
		for i := range x {
			f(i, &x[i])
		}
		return compute(t, x, quick())
	}
	for _, c := range []struct {
		name  string
		f     func(i int, r *bondtrial.Reading)
		board bool
		warn  string
	}{
		{"boards crossed with adhesives", func(i int, r *bondtrial.Reading) { r.Board = fmt.Sprint(i % 2) }, true, ""},
		{"a board for each adhesive", func(i int, r *bondtrial.Reading) { r.Board = r.Adhesive }, false, "one board only"},
		{"a board for each specimen", func(i int, r *bondtrial.Reading) { r.Board = fmt.Sprint(i) }, false, "its own board"},
		{"one board", func(i int, r *bondtrial.Reading) { r.Board = "7" }, false, ""},
		{"sessions that are the boards", func(i int, r *bondtrial.Reading) { r.Board, r.Session = fmt.Sprint(i%2), fmt.Sprint(i%2) }, false, "cannot be told apart; the session is used"},
	} {
		a := with(c.f)
		if a.Spread.Board.Exists() != c.board {
			t.Errorf("%s: board term %v, want %v", c.name, a.Spread.Board.Exists(), c.board)
		}
		if c.warn != "" && !warned(a, c.warn) {
			t.Errorf("%s: warnings %q, want one with %q", c.name, a.Warnings, c.warn)
		}
	}
	// Board 1 of ash is not board 1 of larch.
	a := with(func(i int, r *bondtrial.Reading) {
		r.Wood = []string{"ash", "larch"}[i%2]
		r.Board = "1"
	})
	if a.Spread.Board.Exists() || !warned(a, "on two boards of the same wood") {
		t.Errorf("one board of each wood: term %v, warnings %q", a.Spread.Board, a.Warnings)
	}
}

func TestEffects(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var rs []bondtrial.Reading
	for _, adhesive := range []string{"Tarn", "Fell"} {
		for _, prep := range []string{"damp", "dry"} {
			for range 12 {
				m := 2.0
				if prep == "damp" {
					m -= 0.4
				}
				r := broke(adhesive, math.Exp(m+0.1*rng.NormFloat64()))
				r.Factors = map[string]string{"prep": prep, "batch": "one"}
				rs = append(rs, r)
			}
		}
	}
	for _, drawn := range []bool{false, true} {
		set := quick()
		set.PooledScatter = true
		set.Factors = []string{"prep", "batch"}
		set.drawsOnly = drawn
		a := compute(t, rs, set)
		if len(a.Effects) != 1 {
			t.Fatalf("effects %+v, want one: a factor with one level has none", a.Effects)
		}
		e := a.Effects[0]
		if e.A != "damp" || e.B != "dry" || e.Cells != 2 || e.Verdict != Weaker || !(e.Low < 0.67 && e.High > 0.67) {
			t.Errorf("damp over dry, simulated with 0.67: %+v", e)
		}
		if !warned(a, `"batch" has one level only`) {
			t.Errorf("warnings %q", a.Warnings)
		}
		if len(a.Pairs) != 2 {
			t.Errorf("%d pairs, want one at each level", len(a.Pairs))
		}
	}
}

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		lowSim, highSim, low90, high90 Value
		want                           Verdict
	}{
		{1.01, 2, 1.1, 1.8, Stronger},
		{0.5, 0.99, 0.6, 0.9, Weaker},
		{0.85, 1.2, 0.9, 1.14, Same},
		{0.85, 1.2, 0.9, 1.16, NotSettled},
		{0.85, 1.2, 0.86, 1.1, NotSettled}, // 1/1.15 is 0.8696
		{0.8, None, 0.9, None, AtLeast},
		{1.1, None, 1.2, None, Stronger},
		{None, 0.9, None, 0.8, Weaker},
		{None, 1.3, None, 1.2, AtLeast},
		{None, None, None, None, NotSettled},
	} {
		p := Pair{LowSim: c.lowSim, HighSim: c.highSim, Low90: c.low90, High90: c.high90}
		if got := p.verdict(0.15); got != c.want {
			t.Errorf("%+v: %s, want %s", c, got, c.want)
		}
		r := p.Reversed()
		if got := r.verdict(0.15); got != c.want.reversed() {
			t.Errorf("%+v reversed: %s, want %s", c, got, c.want.reversed())
		}
	}
}

// A pair that is not settled, with the specimens that are said to settle it added
// by repeating what was seen, is settled; with a few less it is not.
func TestSettleIsAboutRight(t *testing.T) {
	rs := append(readings("Tarn", 5, 6, 5.5, 7, 6.4, 5.2), readings("Fell", 6.5, 5.5, 7.1, 6.9, 5.9, 6.4)...)
	set := pooled()
	a := compare(t, rs, set)
	p := a.Pairs[0]
	if p.Verdict != NotSettled || p.Settle.More == 0 || p.Settle.Toward != Stronger {
		t.Fatalf("verdict %s, settle %+v", p.Verdict, p.Settle)
	}
	repeated := func(n int) Verdict {
		var more []bondtrial.Reading
		for k := range n * 2 {
			more = append(more, rs[k%12/2+6*(k%2)])
		}
		return compare(t, append(more, rs...), set).Pairs[0].Verdict
	}
	if v := repeated(2 * p.Settle.More); v != Stronger {
		t.Errorf("with twice the %d said to settle it, the verdict is %s", p.Settle.More, v)
	}
	if v := repeated(p.Settle.More / 3); v != NotSettled {
		t.Errorf("with a third of the %d said to settle it, the verdict is %s already", p.Settle.More, v)
	}
}
