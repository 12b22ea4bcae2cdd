package feed

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

var start = time.Date(2026, 3, 1, 9, 30, 0, 0, time.UTC)

// arriving makes whole lines that arrive evenly, so many a second.
func arriving(rate float64, texts ...string) []Line {
	var out []Line
	for i, s := range texts {
		out = append(out, Line{Number: int64(i + 1), At: start.Add(time.Duration(float64(i) / rate * 1e9)), Text: []byte(s)})
	}
	return out
}

// series writes n lines with a format and what it is given for each.
func series(n int, line func(i int) string) []string {
	var out []string
	for i := range n {
		out = append(out, line(i))
	}
	return out
}

func wobble(i int) int { return []int{3, -1, 4, 1, -5, 9, -2, 6}[i%8] }

func TestDetect(t *testing.T) {
	for name, c := range map[string]struct {
		rate  float64
		lines []string
		want  string // the pattern
		doubt string // part of one; empty: there is none
	}{
		"a number":                    {10, series(8, func(i int) string { return fmt.Sprint(84210 + wobble(i)) }), "{counts}", ""},
		"with a point":                {10, series(8, func(i int) string { return fmt.Sprintf("%.2f", float64(wobble(i))/8) }), "{counts}", ""},
		"with a unit":                 {10, series(8, func(i int) string { return fmt.Sprintf("%.1f N", float64(wobble(i))) }), "{force_n} N", ""},
		"a mass":                      {10, series(8, func(i int) string { return fmt.Sprintf("%.3fkg", 20+float64(wobble(i))/1e3) }), "{force_kgf}kg", "standard gravity"},
		"milliseconds":                {10, series(8, func(i int) string { return fmt.Sprintf("%d,%d", 5000+100*i, 84210+wobble(i)) }), "{time_ms},{counts}", ""},
		"milliseconds, 1000 a second": {1000, series(600, func(i int) string { return fmt.Sprintf("%d,%d", 5000+i, 84210+wobble(i)) }), "{time_ms},{counts}", ""},
		"microseconds":                {80, series(80, func(i int) string { return fmt.Sprintf("%d\t%d", 12500*i, 84210+wobble(i)) }), "{time_us} {counts}", ""},
		"seconds":                     {10, series(8, func(i int) string { return fmt.Sprintf("%.3f %d", 0.1*float64(i), wobble(i)) }), "{time_s} {counts}", ""},
		"a counter":                   {80, series(200, func(i int) string { return fmt.Sprintf("%d,%d", i, 84210+wobble(i)) }), "{skip},{counts}", ""},
		"three":                       {10, series(30, func(i int) string { return fmt.Sprintf("%d;%d;%.2f", 100*i, 84210+wobble(i), 0.013*float64(i)) }), "{time_ms};{counts};{travel}", "travel"},
		"no clock":                    {10, series(30, func(i int) string { return fmt.Sprintf("%d;%d", 84210+wobble(i), wobble(i+3)) }), "{counts};{travel}", "comes first"},
		"keys":                        {10, series(8, func(i int) string { return fmt.Sprintf("t=%d F=%d x=%.2f mm", 100*i, 400+wobble(i), 0.01*float64(i)) }), "t={time_ms} F={counts} x={travel_mm} mm", ""},
		"keys with units in them":     {0, series(8, func(i int) string { return fmt.Sprintf("force_n: %d, time_ms: %d", wobble(i), 100*i) }), "force_n:{force_n}, time_ms:{time_ms}", ""},
		"an unknown key":              {10, series(8, func(i int) string { return fmt.Sprintf("temp=%d F=%d", 20, wobble(i)) }), "temp={skip} F={counts}", ""},
		"held up at the start":        {1000, series(1600, func(i int) string { return fmt.Sprintf("%d,%d", 5000+i, wobble(i)) }), "{time_ms},{counts}", ""},
		"rising, and no clock":        {10, series(40, func(i int) string { return fmt.Sprintf("%d,%d", 37*i, wobble(i)) }), "{skip},{counts}", "not at the pace of a clock"},
		"JSON":                        {10, series(8, func(i int) string { return fmt.Sprintf(`{"time_ms": %d, "force": %d}`, 100*i, wobble(i)) }), `{{"time_ms":{time_ms}, "force":{counts}}}`, ""},
		"a header": {0, append([]string{"Time (s);Force (kN);Travel (mm)"}, series(8, func(i int) string {
			return fmt.Sprintf("%.1f;%.3f;%.2f", 0.1*float64(i), 0.001*float64(wobble(i)), 0.02*float64(i))
		})...), "{time_s};{force_kn};{travel_mm}", ""},
		"a header in another order": {0, append([]string{"load_n,elapsed_ms"}, series(8, func(i int) string { return fmt.Sprintf("%d,%d", wobble(i), i*10) })...), "{force_n},{time_ms}", ""},
		"decimal comma, semicolon": {10, series(8, func(i int) string {
			return strings.ReplaceAll(fmt.Sprintf("%.1f;%.2f", 0.1*float64(i), 5+float64(wobble(i))/8), ".", ",")
		}), "{time_s:comma};{counts:comma}", ""},
		"decimal comma, one number":    {10, series(8, func(i int) string { return strings.ReplaceAll(fmt.Sprintf("%.2f", 5+float64(wobble(i))/80), ".", ",") }), "{counts:comma}", ""},
		"decimal comma or two numbers": {10, series(8, func(i int) string { return fmt.Sprintf("%d,%d", 40+wobble(i), 50+2*wobble(i)) }), "{counts:comma}", "decimal comma"},
		"comma and a sign":             {10, series(30, func(i int) string { return fmt.Sprintf("%d,%d", 40+wobble(i), wobble(i+2)) }), "{counts},{travel}", "comes first"},
		"a time of day":                {10, series(8, func(i int) string { return fmt.Sprintf("09:30:0%d.25 -> %d", i, wobble(i)) }), "{skip}->{counts}", ""},
		"a date":                       {10, series(8, func(i int) string { return fmt.Sprintf("2026-03-01T09:30:0%d, %d", i, wobble(i)) }), "{skip},{counts}", ""},
		"no times of arrival":          {0, series(30, func(i int) string { return fmt.Sprintf("%d,%d", 100*i, wobble(i)) }), "{skip},{counts}", "unit cannot be told"},
		"a boot message first":         {10, append([]string{"amplifier ready", "zero 84210"}, series(10, func(i int) string { return fmt.Sprintf("%d,%d", 5000+100*i, wobble(i)) })...), "{time_ms},{counts}", ""},
	} {
		lines := arriving(c.rate, c.lines...)
		if name == "held up at the start" {
			for i := range 400 {
				lines[i].At = lines[400].At
			}
		}
		if c.rate == 0 {
			for i := range lines {
				lines[i].At = start
			}
		}
		d, ok := Detect(lines, 3)
		if !ok {
			t.Errorf("%s: nothing found", name)
			continue
		}
		if d.Pattern.String() != c.want {
			t.Errorf("%s: pattern %s, want %s", name, d.Pattern, c.want)
		}
		doubts := strings.Join(d.Doubts, "; ")
		if (doubts == "") != (c.doubt == "") || !strings.Contains(doubts, c.doubt) {
			t.Errorf("%s: doubts %q, want %q", name, doubts, c.doubt)
		}
		for _, l := range lines[len(lines)-3:] {
			if _, ok := d.Pattern.Match(l.Text); !ok {
				t.Errorf("%s: %s does not fit %q", name, d.Pattern, l.Text)
			}
		}
	}
}

func TestDetectSaysItInWords(t *testing.T) {
	lines := arriving(10, series(8, func(i int) string { return fmt.Sprintf("%d,%d", 5000+100*i, 84210+wobble(i)) })...)
	d, _ := Detect(lines, 3)
	if want := "time in milliseconds, then force as counts"; d.Words != want {
		t.Errorf("words %q, want %q", d.Words, want)
	}
	if !d.Sure || d.Fit != 8 || d.Looked != 8 {
		t.Errorf("sure %v, %d of %d lines fit; want all 8", d.Sure, d.Fit, d.Looked)
	}
}

func TestDetectNothing(t *testing.T) {
	for name, lines := range map[string][]string{
		"none":           nil,
		"words":          {"amplifier ready", "hello", "calibrating", "done"},
		"too few":        {"1,2", "2,3"},
		"no common form": {"1", "2,3", "4;5", "6 7", "8=9", "x1y"},
		"no text":        {"\x80\x90", "\x00\x01", "\xff1\xfe"},
	} {
		if d, ok := Detect(arriving(10, lines...), 3); ok {
			t.Errorf("%s: found %s", name, d.Pattern)
		}
	}
}

func FuzzDetect(f *testing.F) {
	f.Add("1,2\n2,3\n3,4\n", 1000)
	f.Add("t=1 F=2 N\nt=2 F=3 N\nt=3 F=4 N\n", 100)
	f.Add("Time (s);Force (kN)\n0,1;2,5\n0,2;2,6\n0,3;2,7\n", 0)
	f.Add("{\"a\":1}\n{\"a\":2}\n{\"a\":3}\n", 10)
	f.Fuzz(func(t *testing.T, text string, millis int) {
		lines := linesOf([]byte(text+"\n"), 100)
		for i := range lines {
			lines[i].At = start.Add(time.Duration(i) * time.Duration(millis%1e6) * time.Millisecond)
		}
		d, ok := Detect(lines, 1)
		if !ok {
			return
		}
		fit := 0
		for _, l := range lines {
			if _, ok := d.Pattern.Match(trimmed(l.Text)); ok && l.Kind == Whole {
				fit++
			}
		}
		// A number of the form may lie beyond a float64 in its unit, so all but that fit.
		if fit == 0 && !strings.ContainsAny(text, "eE") {
			t.Fatalf("%q: found %s, and no line fits it", text, d.Pattern)
		}
		if d.Words == "" || d.Fit < 1 || d.Looked < d.Fit {
			t.Fatalf("%q: words %q, fit %d of %d", text, d.Words, d.Fit, d.Looked)
		}
	})
}
