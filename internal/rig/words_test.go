package rig

import (
	"slices"
	"strings"
	"testing"
)

// Expected: testdata/iso7500_1_limits.csv, from memory, unconfirmed.
func TestClassLimits(t *testing.T) {
	table := rows(t, "iso7500_1_limits.csv")
	if len(table) != len(classLimits) {
		t.Fatalf("%d classes, want %d", len(classLimits), len(table))
	}
	for i, r := range table {
		c := classLimits[i]
		for j, v := range []float64{c.accuracy, c.repeatability, c.reversibility, c.zero, c.smallest} {
			if c.name != r[0] || v != number(t, r[j+1]) {
				t.Errorf("class %s column %d is %v, want class %s %s", c.name, j+1, v, r[0], r[j+1])
			}
		}
	}
	if !slices.Equal(Classes(), []string{"0.5", "1", "2", "3"}) {
		t.Errorf("classes %q", Classes())
	}
}

// A step just within every limit of a class meets it, and just beyond any one does
// not. A figure that is not known is not held against it, but for the repeatability.
func TestClassEdges(t *testing.T) {
	for _, c := range classLimits {
		b, v, z := c.repeatability, -c.reversibility, c.zero
		s := Step{ErrorPct: -c.accuracy, RepeatabilityPct: &b, ReversibilityPct: &v, ResolutionPct: c.smallest}
		if !c.meets(s, &z) {
			t.Errorf("class %s is not met at its limits", c.name)
		}
		more := func(x float64) *float64 { x *= 1.001; return &x }
		for name, step := range map[string]Step{
			"error":         {ErrorPct: *more(s.ErrorPct), RepeatabilityPct: &b, ReversibilityPct: &v, ResolutionPct: s.ResolutionPct},
			"repeatability": {ErrorPct: s.ErrorPct, RepeatabilityPct: more(b), ReversibilityPct: &v, ResolutionPct: s.ResolutionPct},
			"reversibility": {ErrorPct: s.ErrorPct, RepeatabilityPct: &b, ReversibilityPct: more(v), ResolutionPct: s.ResolutionPct},
			"resolution":    {ErrorPct: s.ErrorPct, RepeatabilityPct: &b, ReversibilityPct: &v, ResolutionPct: *more(s.ResolutionPct)},
			"unknown":       {ErrorPct: s.ErrorPct, ReversibilityPct: &v, ResolutionPct: s.ResolutionPct},
		} {
			if c.meets(step, &z) {
				t.Errorf("class %s is met with too large a %s", c.name, name)
			}
		}
		if c.meets(s, more(z)) || !c.meets(s, nil) {
			t.Errorf("class %s: zero", c.name)
		}
		if s.ReversibilityPct = nil; !c.meets(s, &z) {
			t.Errorf("class %s is not met without reversibility", c.name)
		}
	}
}

// Classes are counted from the highest load downwards, without a gap.
func TestClassSpans(t *testing.T) {
	for _, c := range []struct {
		errors []float64 // of the loads 10, 20, … N
		want   []ClassSpan
		words  string
	}{
		{[]float64{0.4, 0.4, 0.4}, []ClassSpan{{"0.5", 10, 30, 3}}, "These figures would meet class 0.5 from 10 N to 30 N (ISO 7500-1; reversibility and zero not tested; "},
		{[]float64{4, 1.8, 0.9, 0.2}, []ClassSpan{{"0.5", 40, 40, 1}, {"1", 30, 40, 2}, {"2", 20, 40, 3}}, "These figures would meet class 0.5 at 40 N alone, class 1 from 30 N to 40 N and class 2 from 20 N to 40 N (ISO 7500-1; none below that; reversibility"},
		{[]float64{0.1, 0.1, -2.5, 0.2}, []ClassSpan{{"0.5", 40, 40, 1}, {"3", 10, 40, 4}}, "These figures would meet class 0.5 at 40 N alone and class 3 from 10 N to 40 N (ISO 7500-1; rev"},
		{[]float64{0.1, 3.5}, nil, "These figures would meet no class of ISO 7500-1 (at the highest load: error 3.5 % (limit of class 3: 3 %); "},
	} {
		k := &Calibration{}
		for i, e := range c.errors {
			b := 0.1
			k.Steps = append(k.Steps, Step{ForceN: 10 * float64(i+1), ErrorPct: e, RepeatabilityPct: &b})
		}
		if k.classify(); !slices.Equal(k.Classes, c.want) {
			t.Errorf("errors %v: %v, want %v", c.errors, k.Classes, c.want)
		}
		got := k.ClassWords()
		if !strings.HasPrefix(got, c.words) || !strings.HasSuffix(got, "; limits of ISO 7500-1 from memory, unconfirmed; a self-check, no accredited certificate).") {
			t.Errorf("got %s\nwant %s…", got, c.words)
		}
	}
}

// The description of the worked calibration, whole. Expected: its figures by hand in
// TestWorkedFigures and TestForceBudget; at 1000 N and 5000 N the band is 0.645 N, u² in
// N² is 4.5 + 0.417 + 0.042 + 0.083 + 1.333 and 0.333 or 8.333 for the known loads, with
// 22 and 106 effective degrees of freedom, k 2.074 and 1.983 (Student's t, tables).
func TestWords(t *testing.T) {
	c := inNewton()
	c.Expires = "2027-03-02"
	k := must[*Calibration](t)(Calibrate(worked(), c))
	// F: residuals alike at every load, so that a quadratic takes nothing away.
	want := `Bench cell was calibrated on 2026-03-02 with 5 known loads from 1000 N to 5000 N, going up and down, 20 readings in 2 series.
A straight line was taken: a quadratic would follow the readings no better than chance explains (F = 0 on 1 and 17 degrees of freedom, p = 1); the two are at most 0 N apart.
In the middle of the range 1 count is 0.5 N.
The same load read again differs by a standard deviation of 2.12 N.
The mean of a load lies at most 0 N from the curve.
Reached from above and from below, a load reads at most 1 N apart.
At no load it comes back to within 2 N of where it began.
A force of 1000 N is known to ± 5.37 N (0.54 %, at 95 %), mostly for repeatability.
A force of 5000 N is known to ± 7.6 N (0.15 %, at 95 %), mostly for known loads of the calibration.
These figures would meet class 0.5 from 1000 N to 5000 N (ISO 7500-1; limits of ISO 7500-1 from memory, unconfirmed; a self-check, no accredited certificate).
It holds from 1000 N to 5000 N and nowhere else.
Calibrate again by 2027-03-02.`
	if got := strings.Join(k.Words(), "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if k.String() != strings.ReplaceAll(want, "\n", " ") {
		t.Errorf("as a string: %s", k)
	}
}

func TestCertificate(t *testing.T) {
	c := inNewton()
	c.Gravity = &Gravity{Value: 9.81, U: 0.0005, How: "normal gravity 1980 at latitude 50° and 100 m"}
	k := must[*Calibration](t)(Calibrate(worked(), c))
	got := k.Certificate()
	for _, want := range []string{
		"Calibration of Bench cell, 2026-03-02\nA self-check, no accredited certificate\nKey " + k.Key() + "\n",
		"    load  force N  readings  indicated N   error  repeatability  reversibility  resolution  class\n",
		"  1000 N  1000.00         4      999.500  -0.050          0.300          0.100       0.050    0.5\n",
		"\nThe zero changed by at most 0.040 % of the largest load.\n",
		"\nGravity 9.81000 m/s² (standard uncertainty 0.00050), normal gravity 1980 at latitude 50° and 100 m.\n",
		"Note: 2 series: three show the repeatability better.\n",
		"this is a self-check, no accredited certificate.\nClass: limits of ISO 7500-1 from memory, unconfirmed.\n",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("without %q:\n%s", want, got)
		}
	}
}

func TestStanding(t *testing.T) {
	c := inNewton()
	c.Expires = "2027-03-02"
	k := must[*Calibration](t)(Calibrate(worked(), c))
	for _, x := range []struct {
		on    string
		holds bool
		words string
	}{
		{"2026-03-02", true, ""},
		{"2027-01-30", true, ""},
		{"2027-01-31", true, "the calibration of 2026-03-02 ends on 2027-03-02, in 30 days"},
		{"2027-03-01", true, "the calibration of 2026-03-02 ends on 2027-03-02, in 1 day"},
		{"2027-03-02", true, "the calibration of 2026-03-02 ends on 2027-03-02, in 0 days"},
		{"2027-03-03", false, "the calibration of 2026-03-02 ended on 2027-03-02, 1 day ago: calibrate again, or check it with a mass and say so"},
		{"2026-03-01", false, "2026-03-01 is before the calibration of 2026-03-02: check the clock, or the date of the calibration"},
	} {
		if holds, words, err := k.Standing(x.on); holds != x.holds || words != x.words || err != nil {
			t.Errorf("on %s: %v, %q, %v", x.on, holds, words, err)
		}
	}
	_, _, err := k.Standing("today")
	checkFields(t, "day", err, "date")
	k.Expires = ""
	if holds, words, err := k.Standing("2040-01-01"); !holds || words != "" || err != nil {
		t.Errorf("without an end: %v, %q, %v", holds, words, err)
	}
}

// Expected: by hand: 3000 N show 6000 counts over zero; 36 counts more are 18 N, 0.6
// %. Allowed is U at 3000 N: u² = 4.5 + 0.139 + 0.042 + 0.083 + 1.333 + 3 N², 40 effective
// degrees of freedom, k 2.021: 6.10 N, 0.20 %. 10 March 2026 is a Tuesday (day of the week by the calendar).
func TestQuickCheck(t *testing.T) {
	k := must[*Calibration](t)(Calibrate(worked(), inNewton()))
	at := func(date string, more float64) Check {
		return Check{Date: date, Load: 3000, Unit: "N", Shown: 6500 + more, Zero: 500}
	}
	const find = ": find what changed, such as a load that touches, a worn pivot or another zero, or calibrate again before you break"
	for _, c := range []struct {
		now     Check
		earlier []Check
		holds   bool
		since   string
		words   string
	}{
		{at("2026-03-12", 4), nil, true, "", "reads right: 0.067 % high, and the calibration of 2026-03-02 allows 0.2 %"},
		{at("2026-03-12", 36), []Check{at("2026-03-11", 33), at("2026-03-09", 1), at("2026-03-10", 34)}, false, "2026-03-10",
			"reads 0.6 % high since Tuesday, 10 March 2026; the calibration of 2026-03-02 allows 0.2 %; on 2026-03-09 it still read right" + find},
		{at("2026-03-10", 36), nil, false, "2026-03-10", "reads 0.6 % high on Tuesday, 10 March 2026; the calibration of 2026-03-02 allows 0.2 %" + find},
		{at("2026-03-10", -36), []Check{at("2026-03-09", 36)}, false, "2026-03-10", "reads 0.6 % low on Tuesday, 10 March 2026; the calibration of 2026-03-02 allows 0.2 %" + find},
		// Checks after this one, and before the calibration, do not count.
		{at("2026-03-10", 36), []Check{at("2026-03-11", 36), at("2026-03-01", 36)}, false, "2026-03-10", "reads 0.6 % high on Tuesday, 10 March 2026; the calibration of 2026-03-02 allows 0.2 %" + find},
	} {
		got := must[Checked](t)(k.QuickCheck(c.now, c.earlier))
		if got.Holds != c.holds || got.Since != c.since || got.Words != c.words {
			t.Errorf("got %v %s %s\nwant %v %s %s", got.Holds, got.Since, got.Words, c.holds, c.since, c.words)
		}
	}
	small := Check{Date: "2026-03-12", Load: 500, Unit: "N", Shown: 1500, Zero: 500}
	if got := must[Checked](t)(k.QuickCheck(small, nil)); got.Span != Below || !strings.HasSuffix(got.Words, "; but 500 N lies outside the calibrated range") {
		t.Errorf("got %s %s", got.Span, got.Words)
	}
	for field, c := range map[string]Check{
		"date": {Date: "Tuesday", Load: 1, Unit: "N"}, "load": {Date: "2026-03-10", Unit: "N"}, "unit": {Date: "2026-03-10", Load: 1, Unit: "kg"},
	} {
		_, err := k.QuickCheck(c, nil)
		checkFields(t, field, err, field)
	}
	if _, err := k.QuickCheck(at("2026-03-10", 36), []Check{{Date: "2026-03-09", Load: -1, Unit: "N"}}); err == nil || !strings.HasPrefix(err.Error(), "the check of 2026-03-09: load: ") {
		t.Errorf("an earlier check: %v", err)
	}
}

// Expected: rounding by hand.
func TestRound(t *testing.T) {
	for _, c := range []struct {
		v    float64
		n    int
		want string
	}{{9.96, 2, "10"}, {0.0996, 2, "0.10"}, {1234.5, 3, "1230"}, {0.012345, 3, "0.0123"}, {-2.5, 2, "-2.5"}, {0, 3, "0"}, {1000, 2, "1000"}, {999.7, 3, "1000"}} {
		if got := round(c.v, c.n); got != c.want || brief(0.6, 2) != "0.6" || brief(100, 2) != "100" {
			t.Errorf("%v with %d digits is %s, want %s", c.v, c.n, got, c.want)
		}
	}
}
