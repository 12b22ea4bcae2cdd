package logger

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bondtrial/internal/trace"
)

// What the files hold is written in them; conversions are those of NIST SP 811,
// appendix B.8: 1 lbf = 4.4482216152605 N, 1 kgf = 9.80665 N, 1 in = 25.4 mm, exact.
func TestRead(t *testing.T) {
	counts := func(c float64) float64 { return (c - 8000) / 4 }
	for _, c := range []struct {
		name, text string
		opt        Options
		want       trace.Record
		notes      string // part of them
	}{
		{"commas", "time_s,force_N,travel_mm\n0,1.5,0\n0.1,2.5,0.01\n", Options{}, trace.Record{Time: []float64{0, 0.1}, Force: []float64{1.5, 2.5}, Travel: []float64{0, 0.01}}, "columns separated by commas, decimal point"},
		{"decimal commas", "Zeit [ms];Kraft [kN];Weg [µm]\r\n0;1,5;0\r\n100;2,5;10\r\n", Options{}, trace.Record{Time: []float64{0, 0.1}, Force: []float64{1500, 2500}, Travel: []float64{0, 0.01}}, "columns separated by semicolons, decimal comma"},
		{"tabs and a row of units", "Time\tLoad\tCrosshead\n(s)\t(lbf)\t(in)\n0\t1\t0\n0.5\t2\t1\n", Options{}, trace.Record{Time: []float64{0, 0.5}, Force: []float64{4.4482216152605, 2 * 4.4482216152605}, Travel: []float64{0, 25.4}}, `force from column "Load", in lbf`},
		{"spaces", "  t(s)   F(kgf)\n  0.00   1.0\n  0.25   2.0\n", Options{}, trace.Record{Time: []float64{0, 0.25}, Force: []float64{9.80665, 2 * 9.80665}}, "no column of travel"},
		{"text above, comments, blanks, the header again", "Logger 7\nRate: 10 Hz\n\ntime (s),force (N)\n0,1\n# pause\n\ntime (s),force (N)\n0.1,2\n", Options{}, trace.Record{Time: []float64{0, 0.1}, Force: []float64{1, 2}}, "left out between the numbers: 1 repeated header"},
		{"header in a comment, mark of UTF-8", "\xef\xbb\xbf# time_ms, force_mN\n0,1000\n1,2000\n", Options{}, trace.Record{Time: []float64{0, 0.001}, Force: []float64{1, 2}}, ""},
		{"clock over midnight", "clock,load (N)\n23:59:59.5,1\n23:59:59.75,2\n00:00:00.25,3\n", Options{}, trace.Record{Time: []float64{0, 0.25, 0.75}, Force: []float64{1, 2, 3}}, "the clock passes midnight"},
		{"date and clock", "stamp;force N\n2026-02-28 23:59:59,5;1\n2026-03-01 00:00:00,5;2,5\n", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1, 2.5}}, ""},
		{"counts with a calibration", "millis,adc\n0,8000\n10,8400\n", Options{FromCounts: counts, Time: Column{Unit: "ms"}}, trace.Record{Time: []float64{0, 0.01}, Force: []float64{0, 100}}, ""},
		{"one column and a rate", "force_N\n1\n2\n3\n", Options{Rate: 50}, trace.Record{Time: []float64{0, 0.02, 0.04}, Force: []float64{1, 2, 3}}, "time from the samples' order, 50 a second"},
		{"no header, told", "0 1 5\n1 2 6\n", Options{Time: Column{Number: 1, Unit: "s"}, Force: Column{Number: 3, Unit: "kN"}}, trace.Record{Time: []float64{0, 1}, Force: []float64{5000, 6000}}, "in kN as given"},
		{"quoted", "\"time_s\",\"force_N\"\n\"0\",\"1.5\"\n\"1\",\"2.5\"\n", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1.5, 2.5}}, ""},
		{"further columns", "date,time_s,status,force_N,remark\n3/4/26,0,OK,1,\n3/4/26,1,OK,2,peak\n", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1, 2}}, ""},
		{"cut in a field", "time_s,force_N\n0,1.25\n1,2.25\n2,3", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1.25, 2.25}}, "the last line is cut off"},
		{"cut before a field", "time_s,force_N\n0,1\n1,2\n2", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1, 2}}, "the last line is cut off"},
		{"no line end, and whole", "time_s,force_N\n0,1.25\n1,2.25\n2,3.25", Options{}, trace.Record{Time: []float64{0, 1, 2}, Force: []float64{1.25, 2.25, 3.25}}, ""},
		{"CR alone", "time_s,force_N\r0,1\r1,2\r", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1, 2}}, ""},
		{"UTF-16", "\xff\xfet\x00_\x00s\x00;\x00N\x00\n\x000\x00;\x001\x00\n\x001\x00;\x002\x00\n\x00", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1, 2}}, "encoded in UTF-16"},
		{"Latin-1", "Temps (s);Effort (N);D\xe9placement (\xb5m)\n0;1;0\n1;2;3\n", Options{}, trace.Record{Time: []float64{0, 1}, Force: []float64{1, 2}, Travel: []float64{0, 0.003}}, ""},
		{"bad lines left out", "time_s,force_N\n0,1\n1,OL\n2,3\n", Options{SkipBad: true}, trace.Record{Time: []float64{0, 2}, Force: []float64{1, 3}}, "left out as unreadable: 1 line, the first on line 3"},
		{"thousands of columns left alone", "t_s|f_N|x_mm\n0|1|2\n1|2|3\n", Options{NoTravel: true}, trace.Record{Time: []float64{0, 1}, Force: []float64{1, 2}}, "separated by bars"},
	} {
		got, err := Read(strings.NewReader(c.text), "t.csv", c.opt)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if d := cmp.Diff(c.want, got.Record); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
		if notes := strings.Join(got.Notes, "\n"); !strings.Contains(notes, c.notes) {
			t.Errorf("%s: the notes do not say %q:\n%s", c.name, c.notes, notes)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	for _, c := range []struct {
		name, text string
		opt        Options
		want       []string // lines of the error, or parts of them
	}{
		{"no unit", "time,force\n0,1\n1,2\n", Options{}, []string{
			`t.csv:1: the unit of the time in "time" is not known: write it in the header, like time_s, or give it; s, ms, µs, min or hh:mm:ss`,
			`t.csv:1: the unit of the force in "force" is not known: write it in the header, like force_N, or give it`}},
		{"mass", "time_s,load_kg\n0,1\n1,2\n", Options{}, []string{"is in kg, a unit of mass: write kgf if that is meant"}},
		{"mega or milli", "time_s,load_mn\n0,1\n1,2\n", Options{}, []string{"write MN or mN"}},
		{"counts", "time_s,counts\n0,1\n1,2\n", Options{}, []string{`the force in "counts" is in counts: give the rig's calibration`}},
		{"no header", "0,1\n1,2\n", Options{}, []string{"no column of time: name it in the header", "no column of force: name it in the header, like force_N, or say which column it is and its unit; there are 2 columns without a header"}},
		{"two forces", "time_s,load1_N,load2_N\n0,1,2\n1,2,3\n", Options{}, []string{`2 columns could be the force, "load1_N" and "load2_N": say which, by name or number`}},
		{"no such column", "time_s,force_N\n0,1\n1,2\n", Options{Force: Column{Name: "F2"}}, []string{`there is no column "F2" for the force: there are "time_s", "force_N"`}},
		{"every bad line", "time_s,force_N\n0,1\n1,x\n2\n3,1,234\n4,OL\n5,1\n6,\n7,2\n8,3\n9,4\n", Options{}, []string{
			`t.csv:3: column "force_N": value "x": is not a number: delete the line or mend it`,
			`t.csv:4: value "2": has 1 field, where the lines of numbers have 2: delete the line or mend it`,
			`t.csv:5: value "3,1,234": has 3 fields, where the lines of numbers have 2: delete the line or mend it`,
			`t.csv:6: column "force_N": value "OL": says that the logger had no value`,
			`t.csv:8: column "force_N": is blank: delete the line, or write the number`}},
		{"thousands", "time_s;force_N\n0;999.5\n1;1,234.5\n2;999.5\n", Options{}, []string{`t.csv:3: column "force_N": value "1,234.5": has a separator of thousands`}},
		{"two decimal marks", "time_s;force_N\n0;999.5\n1;12,5\n2;999.5\n3;2.5\n", Options{}, []string{`value "12,5": has a decimal comma, where the first lines of the file have none`}},
		{"nothing", "", Options{}, []string{"holds no line of numbers"}},
		{"words", "hello\nthere\n", Options{}, []string{"holds no line of numbers"}},
		{"a workbook", "PK\x03\x04xxxx", Options{}, []string{"is a spreadsheet workbook or another zip archive, not text"}},
		{"a page", "<!doctype html><table>", Options{}, []string{"is a web page or XML"}},
		{"too many", "force_N\n1\n2\n3\n", Options{Rate: 1, MaxSamples: 2}, []string{"holds more than 2 samples"}},
		{"unknown separator", "force_N\n1\n", Options{Separator: "x"}, []string{`unknown separator "x"`}},
		{"unknown unit", "force_N\n1\n", Options{Rate: 1, Force: Column{Unit: "psi"}}, []string{`"psi" is no unit of force: write N, kN, mN, lbf, kgf, gf, ozf or counts`}},
	} {
		got, err := Read(strings.NewReader(c.text), "t.csv", c.opt)
		if err == nil || got != nil {
			t.Errorf("%s: no error", c.name)
			continue
		}
		lines := strings.Split(err.Error(), "\n")
		if len(lines) != len(c.want) {
			t.Errorf("%s: %d lines of error, want %d:\n%v", c.name, len(lines), len(c.want), err)
			continue
		}
		for i, want := range c.want {
			if !strings.Contains(lines[i], want) {
				t.Errorf("%s: %q does not say %q", c.name, lines[i], want)
			}
		}
	}
}

func TestProblemsAreBounded(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,force_N\n0,1\n0,1\n0,1\n")
	for range 60 {
		b.WriteString(strings.Repeat("0,1\n", 50))
		b.WriteString(strings.Repeat("0,x\n", 5))
	}
	_, err := Read(strings.NewReader(b.String()), "t.csv", Options{block: 512, Workers: 3})
	var e *Errors
	if !errors.As(err, &e) || len(e.Problems) != MaxProblems || e.More != 300-MaxProblems {
		t.Fatalf("%d problems and %d more: %v", len(e.Problems), e.More, err)
	}
	// The first bad line is 50 lines after the header and three others, then each fifth
	// ends a group of 55.
	for i, p := range e.Problems {
		if want := 4 + 55*(i/5) + 50 + i%5 + 1; p.Line != want {
			t.Fatalf("problem %d is on line %d, want %d", i, p.Line, want)
		}
	}
}

func TestReaderFails(t *testing.T) {
	broken := errors.New("pulled out")
	_, err := Read(&failing{text: "time_s,force_N\n" + strings.Repeat("0,1\n", 200_000), err: broken}, "t.csv", Options{})
	if !errors.Is(err, broken) || !strings.Contains(err.Error(), "reading t.csv") {
		t.Errorf("%v", err)
	}
	stop := errors.New("enough")
	_, err = Stream(strings.NewReader("time_s,force_N\n"+strings.Repeat("0,1\n", 200_000)), "t.csv", Options{block: 1000}, func(trace.Record) error { return stop })
	if !errors.Is(err, stop) {
		t.Errorf("%v", err)
	}
}

type failing struct {
	text string
	err  error
}

func (f *failing) Read(p []byte) (int, error) {
	if f.text == "" {
		return 0, f.err
	}
	n := copy(p, f.text)
	f.text = f.text[n:]
	return n, nil
}

// A number is the float64 nearest to what is written, as the standard library has it.
func TestNumber(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
		n    int
	}{
		{"1", 1, 1}, {"-1.5,", -1.5, 4}, {"+.5 ", 0.5, 3}, {"5.", 5, 2}, {"1e3x", 1000, 3}, {"1E-3", 0.001, 4}, {"0.1", 0.1, 3},
		{"123456789012345678901234567890", 123456789012345678901234567890, 30}, {"9007199254740993", 9007199254740992, 16},
		{"0.000000000000000000000000000001", 1e-30, 32}, {"1e-320", 1e-320, 6}, {"179769313486231570e291", 1.7976931348623157e308, 22},
		{"", 0, 0}, {"-", 0, 0}, {".", 0, 0}, {"e5", 0, 0}, {"1e", 0, 0}, {"1e+", 0, 0}, {"1e999", 0, 0}, {"nan", 0, 0},
	} {
		got, n := number([]byte(c.text), '.')
		if got != c.want || n != c.n {
			t.Errorf("%q: %v after %d bytes, want %v after %d", c.text, got, n, c.want, c.n)
		}
		for _, after := range []string{"", ",", ",123456789", "\n0.1234567"} {
			long := c.text + after
			want, wantN := number([]byte(long), '.')
			if got, n := quickNumber([]byte(long), '.'); got != want || n != wantN {
				t.Errorf("%q, quickly: %v after %d bytes, want %v after %d", long, got, n, want, wantN)
			}
		}
	}
	if got, n := number([]byte("-12,75;"), ','); got != -12.75 || n != 6 {
		t.Errorf("with a comma: %v, %d", got, n)
	}
}

func TestClock(t *testing.T) {
	day := func(s string) int { _, d, _ := clock([]byte(s+" 00:00:00"), '.'); return d }
	for _, c := range []struct {
		text    string
		seconds float64
		ok      bool
	}{
		{"00:00:00", 0, true}, {"1:02:03.25", 3723.25, true}, {"12:00:00 AM", 0, true}, {"12:30:00 PM", 45000, true}, {"01:00:00 pm", 46800, true},
		{"2026-03-04T12:00:00Z", 43200, true}, {"04.03.2026 12:00:01", 43201, true}, {"24:00:00", 86400, true},
		{"12:00", 0, false}, {"12:60:00", 0, false}, {"12:00:61", 0, false}, {"hello 12:00:00", 0, false}, {"", 0, false}, {"12:00:00x", 0, false},
	} {
		got, _, ok := clock([]byte(c.text), '.')
		if ok != c.ok || math.Abs(got-c.seconds) > 1e-9 {
			t.Errorf("%q: %v, %v", c.text, got, ok)
		}
	}
	// The Gregorian calendar: 2000 is a leap year, 1900 is none.
	for _, c := range []struct {
		from, to string
		days     int
	}{{"2000-02-28", "2000-03-01", 2}, {"1900-02-28", "1900-03-01", 1}, {"2025-12-31", "2026-01-01", 1}, {"2024-01-01", "2025-01-01", 366}} {
		if got := day(c.to) - day(c.from); got != c.days {
			t.Errorf("%s to %s: %d days, want %d", c.from, c.to, got, c.days)
		}
	}
}
