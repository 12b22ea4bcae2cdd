package answer

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"bondtrial"
)

// rowsOf returns the rows of a file in testdata, each by column name. Lines that
// begin with # are remarks.
func rowsOf(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, line := range all[1:] {
		row := make(map[string]string)
		for j, h := range all[0] {
			row[h] = line[j]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// broke is a reading of a bond that broke.
func broke(adhesive string, strength float64) bondtrial.Reading {
	nan := bondtrial.Percent(math.NaN())
	return bondtrial.Reading{Specimen: bondtrial.Specimen{Adhesive: adhesive}, Strength: bondtrial.Megapascal(strength), WoodFailure: 0, MoisturePct: nan}
}

// limited is a reading whose wood failed first.
func limited(adhesive string, strength float64) bondtrial.Reading {
	r := broke(adhesive, strength)
	r.WoodFailure = 100
	return r
}

func pooled() Settings {
	s := DefaultSettings()
	s.PooledScatter = true
	return s
}

func compare(t testing.TB, rs []bondtrial.Reading, set Settings) *Answer {
	t.Helper()
	a, err := Compare(context.Background(), rs, set)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func findPair(a *Answer, x, y string) (Pair, bool) {
	for _, p := range a.Pairs {
		if p.A == x && p.B == y {
			return p, true
		}
		if p.A == y && p.B == x {
			return p.Reversed(), true
		}
	}
	return Pair{}, false
}

// off is how far an end lies from where it should, as a share of the width of the
// interval, both on the log scale.
func off(got Value, want, low, high float64) float64 {
	return math.Abs(math.Log(float64(got))-want) / (high - low)
}

// The limits of every comparison with a classical interval, as shares of its width.
// By draws, at their default number, 1.5 %; by the closed form 1e-4, for the
// standard error of the quantile of the largest |t| (docs of package maxt) and
// that of mvtnorm (asked for 1e-6).
const (
	drawnLimit  = 0.015
	closedLimit = 1e-4
)

// Expected: R multcomp by testdata/classical.R (versions in
// testdata/classical-versions.txt): pooled-t, Tukey's and Dunnett's intervals for
// R's data sets warpbreaks and recovery and two simulated ones. The same intervals
// for the first two are printed in multcomp's own documentation to fewer digits.
func TestClassicalIntervals(t *testing.T) {
	data := make(map[string][]bondtrial.Reading)
	for _, r := range rowsOf(t, "classical-data.csv") {
		data[r["set"]] = append(data[r["set"]], broke(r["group"], math.Exp(number(t, r["y"]))))
	}
	controls := map[string]string{"warpbreaks": "L", "recovery": "b0", "unequal": "b", "few": "c"}
	for name, limit := range map[string]float64{"draws": drawnLimit, "closed form": closedLimit} {
		set := pooled()
		set.drawsOnly = name == "draws"
		answers := make(map[string]*Answer)
		for name, rs := range data {
			answers[name+"Tukey"] = compare(t, rs, set)
			with := set
			with.Control = controls[name]
			answers[name+"Dunnett"] = compare(t, rs, with)
		}
		checkClassical(t, name, answers, limit)
	}
}

func checkClassical(t *testing.T, how string, answers map[string]*Answer, limit float64) {
	expected := rowsOf(t, "classical-expected.csv")
	if len(expected) != 33 {
		t.Fatalf("%d expected intervals, want 33", len(expected))
	}
	worst := 0.0
	for _, e := range expected {
		p, ok := findPair(answers[e["set"]+e["how"]], e["a"], e["b"])
		if !ok {
			t.Errorf("%s %s: no comparison of %s and %s", e["set"], e["how"], e["a"], e["b"])
			continue
		}
		want := func(column string) float64 { return number(t, e[column]) }
		for _, c := range []struct {
			what      string
			low, high Value
			from, to  float64
		}{
			{"alone", p.Low, p.High, want("low"), want("high")},
			{"alone at 90 %", p.Low90, p.High90, want("low90"), want("high90")},
			{"together", p.LowSim, p.HighSim, want("low_sim"), want("high_sim")},
		} {
			d := max(off(c.low, c.from, c.from, c.to), off(c.high, c.to, c.from, c.to))
			worst = max(worst, d)
			if d > limit {
				t.Errorf("%s, %s %s %s−%s %s: %.4f to %.4f, want %.4f to %.4f (off by %.3f %% of the width)", how, e["set"], e["how"], e["a"], e["b"], c.what,
					math.Log(float64(c.low)), math.Log(float64(c.high)), c.from, c.to, 100*d)
			}
		}
		if m := off(p.Ratio, want("estimate"), want("low"), want("high")); m > limit {
			t.Errorf("%s, %s %s−%s: ratio off by %.3f %% of the width", how, e["set"], e["a"], e["b"], 100*m)
		}
	}
	t.Logf("%s: the worst of %d ends is off by %.4f %% of its interval's width", how, 6*len(expected), 100*worst)
}

// Expected: NIST/SEMATECH e-Handbook, section 7.4.7.1, Tukey's intervals as
// printed there to two decimals.
func TestTukeyExampleOfNIST(t *testing.T) {
	var rs []bondtrial.Reading
	for _, r := range rowsOf(t, "nist_tukey_7471.csv") {
		rs = append(rs, broke(r["group"], math.Exp(number(t, r["y"]))))
	}
	a := compare(t, rs, pooled())
	for _, e := range []struct {
		a, b      string
		low, high float64
	}{
		{"2", "1", 0.29, 4.47}, {"3", "1", 1.13, 5.31}, {"1", "4", -2.25, 1.93},
		{"2", "3", -2.93, 1.25}, {"2", "4", 0.13, 4.31}, {"3", "4", 0.97, 5.15},
	} {
		p, ok := findPair(a, e.a, e.b)
		if !ok {
			t.Fatalf("no comparison of %s and %s", e.a, e.b)
		}
		// 0.005 for the rounding of the printed ends.
		limit := closedLimit + 0.005/(e.high-e.low)
		if d := max(off(p.LowSim, e.low, e.low, e.high), off(p.HighSim, e.high, e.low, e.high)); d > limit {
			t.Errorf("μ%s − μ%s: %.3f to %.3f, the handbook has %.2f to %.2f", e.a, e.b, math.Log(float64(p.LowSim)), math.Log(float64(p.HighSim)), e.low, e.high)
		}
		want := NotSettled
		if e.low > 0 {
			want = Stronger
		}
		if p.Verdict != want {
			t.Errorf("μ%s − μ%s: verdict %s, want %s", e.a, e.b, p.Verdict, want)
		}
	}
}

func TestRowOrderIsIrrelevant(t *testing.T) {
	var rs []bondtrial.Reading
	for i, y := range []float64{4, 5, 6, 7, 5.5, 6.5, 8, 9, 8.5, 7.5} {
		r := broke(fmt.Sprint(i/5), y)
		r.Board = fmt.Sprint(i % 3)
		r.Code = fmt.Sprint(i)
		rs = append(rs, r)
	}
	set := DefaultSettings()
	set.Draws = 4000
	a := compare(t, rs, set)
	for i, j := 0, len(rs)-1; i < j; i, j = i+1, j-1 {
		rs[i], rs[j] = rs[j], rs[i]
	}
	b := compare(t, rs, set)
	if a.Cells[0].Typical != b.Cells[0].Typical || a.Pairs[0].LowSim != b.Pairs[0].LowSim {
		t.Errorf("turned round: %v and %v, %v and %v", a.Cells[0].Typical, b.Cells[0].Typical, a.Pairs[0].LowSim, b.Pairs[0].LowSim)
	}
}
