package logger

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// FuzzRead checks that no bytes make Read panic, that problems point into the file,
// and that the result is the same whatever the size of blocks and the number of
// goroutines.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"time_s,force_N,travel_mm\n0,1.5,0\n0.1,2.5,0.01\n",
		"Zeit [ms];Kraft [kN]\r\n0;1,5\r\n100;2,5\r\n",
		"Time\tLoad\n(s)\t(lbf)\n0\t1\n0.5\t2\n",
		"  t(s)   F(kgf)\n  0.00   1.0\n  0.25   2.0\n",
		"# time_ms, force_mN\n0,1000\n#x\n\n1,2000\n2,300",
		"clock,load (N)\n23:59:59.5,1\n00:00:00.25,3\n",
		"2026-03-04 12:00:00,5;1\n2026-03-04 12:00:01,5;2,5\n",
		"time_s,force_N\n0,1.25\n1,2.25\n2,3",
		"time_s,force_N\n0,1\n1,x\n2\n3,1,234\n\"4\",OL\n",
		"\xff\xfet\x00_\x00s\x00;\x00N\x00\n\x000\x00;\x001\x00\n\x00", "", "\r\r", "\"", "1", ",,,\n1,,\n", "0 1\n\t 2  3 \n4\t5\n",
		"time_s,force_N\n0,1.25\n1,2.25\n# note\n\n2,3", "0,0.00\n0,0\n0,0",
	} {
		f.Add([]byte(s))
	}
	counts := func(c float64) float64 { return c }
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, opt := range []Options{
			{}, {Time: Column{Number: 1, Unit: "s"}, Force: Column{Number: 2, Unit: "kN"}}, {Rate: 10, Force: Column{Number: 1, Unit: "counts"}, FromCounts: counts, SkipBad: true},
		} {
			opt.Workers = 1
			want, wantErr := Read(strings.NewReader(string(data)), "t", opt)
			opt.Workers, opt.block = 3, 7
			got, err := Read(strings.NewReader(string(data)), "t", opt)
			if (err == nil) != (wantErr == nil) || err != nil && err.Error() != wantErr.Error() {
				t.Fatalf("in small blocks: %v; whole: %v", err, wantErr)
			}
			if err == nil {
				if d := cmp.Diff(want, got, cmpopts.EquateNaNs()); d != "" {
					t.Fatal(d)
				}
				if len(got.Time) != len(got.Force) || got.Travel != nil && len(got.Travel) != len(got.Force) {
					t.Fatal("columns of unlike length")
				}
				continue
			}
			var e *Errors
			if !errors.As(err, &e) || len(e.Problems) == 0 {
				t.Fatalf("an error of another kind: %v", err)
			}
			for _, p := range e.Problems {
				if p.Message == "" || p.Line < 0 || p.Line > 1+strings.Count(string(data), "\n")+strings.Count(string(data), "\r") {
					t.Fatalf("%+v", p)
				}
			}
		}
	})
}

// FuzzNumber checks numbers against the standard library's.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"1", "-0.5", "1e22", "9007199254740993", "0.1e-7", "1e-400", "123456789.123456789"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, n := number([]byte(s), '.')
		if quick, k := quickNumber([]byte(s), '.'); k != n || math.Float64bits(quick) != math.Float64bits(got) {
			t.Fatalf("%q: quickly %v after %d bytes, else %v after %d", s, quick, k, got, n)
		}
		if n == 0 {
			return
		}
		want, err := strconv.ParseFloat(s[:n], 64)
		if err != nil || math.Float64bits(want) != math.Float64bits(got) {
			t.Fatalf("%q: %v, want %v, %v", s[:n], got, want, err)
		}
	})
}
