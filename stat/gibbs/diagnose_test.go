package gibbs

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// readCSV returns the columns of a file in testdata by name.
func readCSV(t *testing.T, name string) map[string][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	cols := make(map[string][]string)
	for j, h := range rows[0] {
		for _, r := range rows[1:] {
			cols[h] = append(cols[h], r[j])
		}
	}
	return cols
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// Expected: R package posterior, version in testdata/diagnose-versions.txt,
// rhat(), ess_bulk(), ess_tail(), ess_mean() by testdata/diagnose.R; twelve digits
// are printed, the draws are the same ten-digit numbers. The tolerance leaves room
// for the inverse normal, which is not the same code.
func TestDiagnosticsAgainstR(t *testing.T) {
	draws, want := readCSV(t, "diagnose-draws.csv"), readCSV(t, "diagnose-expected.csv")
	if len(want["set"]) != 7 {
		t.Fatalf("%d sets, want 7", len(want["set"]))
	}
	for k, name := range want["set"] {
		x := make([]float64, len(draws[name]))
		for i, s := range draws[name] {
			x[i] = number(t, s)
		}
		d := Diagnose(x, 4)
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"rhat", RHat(x, 4), number(t, want["rhat"][k])},
			{"bulk", ESSBulk(x, 4), number(t, want["bulk"][k])},
			{"tail", ESSTail(x, 4), number(t, want["tail"][k])},
			{"mean", ESSMean(x, 4), number(t, want["mean"][k])},
			{"rhat in one", d.RHat, number(t, want["rhat"][k])},
			{"bulk in one", d.Bulk, number(t, want["bulk"][k])},
			{"tail in one", d.Tail, number(t, want["tail"][k])},
		} {
			if math.Abs(c.got-c.want) > 1e-8*c.want {
				t.Errorf("%s: %s = %.12g, want %.12g", name, c.what, c.got, c.want)
			}
		}
	}
}

func TestDiagnosePanicsOnShape(t *testing.T) {
	for _, f := range []func(){
		func() { RHat(make([]float64, 10), 4) },
		func() { ESSBulk(make([]float64, 12), 4) },
		func() { ESSTail(nil, 0) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			f()
		}()
	}
}
