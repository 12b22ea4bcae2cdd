package feed

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var nan = math.NaN()

// near allows for the rounding of one multiplication, 2⁻⁵³ of the value.
var near = cmp.Options{cmpopts.EquateNaNs(), cmpopts.EquateApprox(3e-16, 0)}

// Expected by hand; kgf and lbf by their definitions (see the root package).
func TestMatch(t *testing.T) {
	for _, c := range []struct {
		pattern, line string
		want          Values
		ok            bool
	}{
		{"{time_ms},{counts}", "1500,8388607", Values{1.5, 8388607, nan}, true},
		{"{time_ms},{counts}", "  1500 ,\t-12  ", Values{1.5, -12, nan}, true},
		{"{time_ms},{counts}", "1500;12", Values{}, false},
		{"{time_ms},{counts}", "1500,12,9", Values{}, false},
		{"{time_ms},{counts}", "1500,", Values{}, false},
		{"{time_ms},{counts}", "", Values{}, false},
		{"{counts}", "12", Values{nan, 12, nan}, true},
		{"{counts}", "12 N", Values{}, false},
		{"{force_n} N", "12 N", Values{nan, 12, nan}, true},
		{"{force_n} N", "12N", Values{}, false}, // a blank in the pattern asks for one
		{"{force_n}N", "12 N", Values{nan, 12, nan}, true},
		{"{time_s} {force_kn} {travel_um}", "0.5 1.25   2500", Values{0.5, 1250, 2.5}, true},
		{"{skip} F={force_n} N; x={travel_mm} mm", "ch 1 F=12.5 N; x=0.25 mm", Values{nan, 12.5, 0.25}, true},
		{"{skip} F={force_n} N", "ch F=12.5 N", Values{nan, 12.5, nan}, true},
		{"{time_s:comma};{force_kn:comma}", "0,5;1,25", Values{0.5, 1250, nan}, true},
		{"{counts},{skip}", "7,anything, 8", Values{nan, 7, nan}, true},
		{`{{"f":{force_n}}}`, `{"f": 3}`, Values{nan, 3, nan}, true},
		{"{time_min} {force_kgf} {travel_in}", "2 10 1", Values{120, 98.0665, 25.4}, true},
		{"{time_us} {force_lbf} {travel_cm}", "2 1 1", Values{2e-6, 4.4482216152605, 10}, true},
		{"{force_gf} {travel_m}", "1000 0.001", Values{nan, 9.80665, 1}, true},
		{"{force_kn}", "1e308", Values{}, false}, // beyond float64 in newton
		{"{counts} {travel}", "1 2", Values{nan, 1, 2}, true},
	} {
		p, err := ParsePattern(c.pattern)
		if err != nil {
			t.Fatal(err)
		}
		got, ok := p.Match([]byte(c.line))
		if ok != c.ok {
			t.Errorf("%s on %q: fits %v, want %v", c.pattern, c.line, ok, c.ok)
		} else if ok && !cmp.Equal(got, c.want, near) {
			t.Errorf("%s on %q: %v, want %v", c.pattern, c.line, got, c.want)
		}
	}
}

func TestPatternMistakes(t *testing.T) {
	for pattern, want := range map[string]string{
		"":                              "has no force",
		"{time_ms}":                     "has no force",
		"{counts},{force_n}":            "more than one force",
		"{time_s},{time_ms},{force}":    "no reading is called {force}",
		"{time_s},{time_ms},{counts}":   "more than one time",
		"{travel} {travel_mm} {counts}": "more than one travel",
		"{time_ms}{counts}":             "nothing separates {time_ms} from {counts}",
		"{skip}{counts}":                "nothing separates {skip} from {counts}",
		"a {counts":                     "character 3: the brace is not closed",
		"a } {counts}":                  "character 3: a closing brace",
		strings.Repeat("a", 600):        "600 characters",
	} {
		if _, err := ParsePattern(pattern); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("pattern %q: error %v, want one with %q", pattern, err, want)
		}
	}
}

func TestMatchAllocatesNothing(t *testing.T) {
	p, err := ParsePattern("{time_ms},{counts},{travel_mm}")
	if err != nil {
		t.Fatal(err)
	}
	line := []byte("123456,8388607,0.123")
	if n := testing.AllocsPerRun(100, func() { p.Match(line) }); n != 0 {
		t.Errorf("reading a line allocates %v times", n)
	}
}

func FuzzPattern(f *testing.F) {
	f.Add("{time_ms},{counts}", "1,2")
	f.Add("{skip} F={force_n:comma} N{{", "x F=1,5 N{")
	f.Add("{counts} {skip} b", "1 a b")
	f.Fuzz(func(t *testing.T, pattern, line string) {
		p, err := ParsePattern(pattern)
		if err != nil {
			return
		}
		again, err := ParsePattern(p.String())
		if err != nil || again.String() != p.String() {
			t.Fatalf("pattern %q is written as %q, which is read as %v, %v", pattern, p, again, err)
		}
		v, ok := p.Match([]byte(line))
		v2, ok2 := again.Match([]byte(line))
		if ok != ok2 || ok && !cmp.Equal(v, v2, cmpopts.EquateNaNs()) {
			t.Fatalf("pattern %q reads %q as %v %v and, written, %v %v", pattern, line, v, ok, v2, ok2)
		}
		if ok && (math.IsNaN(v.Force) || math.IsInf(v.Force, 0)) {
			t.Fatalf("pattern %q on %q gives a force of %v", pattern, line, v.Force)
		}
	})
}

func BenchmarkMatch(b *testing.B) {
	p, err := ParsePattern("{time_ms},{counts},{travel_mm}")
	if err != nil {
		b.Fatal(err)
	}
	line := []byte("123456,8388607,0.123")
	for b.Loop() {
		p.Match(line)
	}
}
