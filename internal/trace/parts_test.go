package trace_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"bondtrial"
	"bondtrial/internal/trace"
)

// testdata/savgol_coefficients.csv: scipy 1.10.1, and exact integer forms.
func TestSavitzkyGolay(t *testing.T) {
	file, err := os.Open("testdata/savgol_coefficients.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		var n [4]int
		for i := range n {
			if n[i], err = strconv.Atoi(row[i]); err != nil {
				t.Fatal(err)
			}
		}
		got := trace.SavitzkyGolay(n[0], n[1], n[2])
		whole := strings.Fields(row[4])
		if len(whole) != len(got) {
			t.Fatalf("%v: %d weights", row, len(got))
		}
		for i, s := range whole {
			k, err := strconv.Atoi(s)
			if err != nil {
				t.Fatal(err)
			}
			if want := float64(k) / float64(n[3]); math.Abs(got[i]-want) > 1e-13 {
				t.Errorf("%v: weight %d is %.16g, want %.16g", row[:3], i, got[i], want)
			}
			printed, err := strconv.ParseFloat(strings.Fields(row[5])[i], 64)
			if err != nil || math.Abs(got[i]-printed) > 6e-11 { // ten decimals are printed
				t.Errorf("%v: weight %d is %.12g, scipy has %g, %v", row[:3], i, got[i], printed, err)
			}
		}
	}
	if len(rows) != 14 {
		t.Errorf("%d rows", len(rows)-1)
	}
	// The derivative of a polynomial of its order is exact, whatever the window.
	for _, window := range []int{5, 21, 2001} {
		c := trace.SavitzkyGolay(window, 3, 1)
		sum := 0.0
		for i, w := range c {
			x := float64(i-window/2) / float64(window)
			sum += w * (7 + 2*x - 5*x*x + 3*x*x*x)
		}
		if want := 2 / float64(window); math.Abs(sum-want) > 1e-11*want+1e-15 {
			t.Errorf("window %d: slope %.15g, want %.15g", window, sum, want)
		}
	}
	for _, bad := range [][3]int{{4, 2, 0}, {3, 3, 0}, {5, 2, 3}, {0, 0, 0}, {9, 7, 0}} {
		func() {
			defer func() {
				if s, _ := recover().(string); !strings.HasPrefix(s, "trace: ") {
					t.Errorf("%v: %q", bad, s)
				}
			}()
			trace.SavitzkyGolay(bad[0], bad[1], bad[2])
		}()
	}
}

func TestSampling(t *testing.T) {
	even := make([]float64, 101)
	for i := range even {
		even[i] = 5 + float64(i)*0.01
	}
	if s := trace.CheckSampling(even); !s.Even() || math.Abs(s.Step-0.01) > 1e-12 || math.Abs(s.Seconds-1) > 1e-12 || s.Notes() != nil {
		t.Errorf("%+v", s)
	}
	gap := append([]float64(nil), even...)
	for i := 60; i < len(gap); i++ {
		gap[i] += 0.5
	}
	if s := trace.CheckSampling(gap); s.Even() || s.Gaps != 1 || s.GapAt != 59 || math.Abs(s.LongestGap-0.51) > 1e-9 || math.Abs(s.Seconds-1.5) > 1e-9 || len(s.Notes()) != 2 {
		t.Errorf("%+v %q", s, s.Notes())
	}
	back := append([]float64(nil), even...)
	for i := 30; i < len(back); i++ {
		back[i] -= 3
	}
	if s := trace.CheckSampling(back); s.Even() || s.Back != 1 || s.BackAt != 30 || math.Abs(s.Seconds-1) > 1e-9 {
		t.Errorf("%+v", s)
	}
	coarse := make([]float64, 100) // a clock of tenths at 50 Hz
	for i := range coarse {
		coarse[i] = math.Floor(float64(i)/5) / 10
	}
	if s := trace.CheckSampling(coarse); s.Repeated != 80 || math.Abs(s.Step-1.9/99) > 1e-12 {
		t.Errorf("%+v", s)
	}
	for _, n := range []int{0, 1} {
		if s := trace.CheckSampling(even[:n]); s.Samples != n || s.Step != 0 {
			t.Errorf("%+v", s)
		}
	}
}

// A clock that goes back, stands still or jumps does not change what travel says.
func TestPoorClock(t *testing.T) {
	for _, c := range curves {
		rec, _ := record(c, trouble{noise: 2}, rand.New(rand.NewPCG(6, 1)))
		want, err := trace.Analyse(rec, trace.Options{})
		if err != nil {
			t.Fatal(err)
		}
		poor := trace.Record{Force: rec.Force, Travel: rec.Travel}
		for i, v := range rec.Time {
			v = math.Floor(v*20) / 20 // repeated five times
			if i > 900 {
				v -= 7 // the clock was set back
			}
			poor.Time = append(poor.Time, v)
		}
		got, err := trace.Analyse(poor, trace.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got.Failing.Word != want.Failing.Word || got.Sampling.Back != 1 || got.Sampling.Repeated == 0 || len(got.Notes) < 2 {
			t.Errorf("%s: %s, %+v", c.name, got.Failing.Word, got.Sampling)
		}
		near(t, c.name+": energy", got.ToFailure, want.ToFailure.Value, 1e-3*want.ToFailure.Value)
	}
}

// A sensor at its limit, a record without a break, one that begins under load, one
// with a gap in its fall: each is said and none gets a word it does not deserve.
func TestUnclearRecords(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	rec, _ := record(curves[1], trouble{noise: 2}, rng)
	clipped := trace.Record{Time: rec.Time, Travel: rec.Travel}
	for _, f := range rec.Force {
		clipped.Force = append(clipped.Force, min(f, 1700))
	}
	g, _ := trace.Analyse(clipped, trace.Options{})
	if !g.Clipped || g.Failing.Word != trace.Unclear {
		t.Errorf("clipped: %v, %s", g.Clipped, g.Failing.Word)
	}
	if b, _, ok := g.Response(trace.EnergyToFailure, bondtrial.BondBroke); !ok || !b.AtLeast() {
		t.Errorf("clipped: %+v", b)
	}
	noise := trace.Record{Time: rec.Time, Travel: rec.Travel}
	for range rec.Force {
		noise.Force = append(noise.Force, 100+rng.NormFloat64())
	}
	g, _ = trace.Analyse(noise, trace.Options{})
	if g.Failing.Word != trace.Unclear || g.ToFailure.Exists() || g.Stiffness.Exists() || g.ToFailure.Reason != "no load rises out of the noise" {
		t.Errorf("noise: %+v", g.Failing)
	}
	snap, _ := record(curves[0], trouble{noise: 2}, rng)
	loaded := snap.Slice(900, snap.Len())
	g, _ = trace.Analyse(loaded, trace.Options{})
	if g.Zero.Found || math.Abs(g.Peak-2035) > 20 { // zero was at 35 N
		t.Errorf("under load: zero %+v, peak %v", g.Zero, g.Peak)
	}
	zero := 35.0
	g, _ = trace.Analyse(loaded, trace.Options{Zero: &zero})
	if !g.Zero.Given || math.Abs(g.Peak-2000) > 20 {
		t.Errorf("with the zero given: %+v, peak %v", g.Zero, g.Peak)
	}
	holed := trace.Record{}
	for i := range rec.Force {
		if x := rec.Travel[i] - 7.05; x < 1.05 || x > 2.7 {
			holed.Time, holed.Force, holed.Travel = append(holed.Time, rec.Time[i]), append(holed.Force, rec.Force[i]), append(holed.Travel, rec.Travel[i])
		}
	}
	g, _ = trace.Analyse(holed, trace.Options{})
	if g.Sampling.Gaps != 1 || g.Failing.Word != trace.Unclear || g.Failing.Reason != "the record has a gap while the load falls" {
		t.Errorf("a gap: %+v", g.Failing)
	}
}

func TestResponses(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	whole, _ := record(curves[1], trouble{noise: 2}, rng)
	g, err := trace.Analyse(whole, trace.Options{})
	if err != nil {
		t.Fatal(err)
	}
	value := func(r trace.Response) float64 {
		return map[trace.Response]float64{trace.EnergyToFailure: 2.92, trace.TravelAtPeak: 1, trace.LoadKept: 75}[r]
	}
	for _, r := range trace.Responses() {
		b, _, ok := g.Response(r, bondtrial.BondBroke)
		if !ok || !b.Exact() || math.Abs(b.Lo-value(r)) > 0.02*value(r) {
			t.Errorf("%s: %+v, want %g %s", r, b, value(r), r.Unit())
		}
		for _, s := range []bondtrial.State{bondtrial.WoodLimited, bondtrial.RigLimited} {
			b, reason, ok := g.Response(r, s)
			if r == trace.LoadKept {
				if ok || reason == "" {
					t.Errorf("%s, %s: %+v", r, s, b)
				}
			} else if !ok || !b.AtLeast() || math.Abs(b.Lo-value(r)) > 0.02*value(r) {
				t.Errorf("%s, %s: %+v", r, s, b)
			}
		}
		if _, reason, ok := g.Response(r, bondtrial.SetAside); ok || reason == "" {
			t.Errorf("%s of a reading set aside", r)
		}
	}
	// Ended on the rise: at least that energy and travel; nothing of what would be kept.
	on, _ := trace.Analyse(whole.Slice(0, 1200), trace.Options{})
	if b, _, ok := on.Response(trace.EnergyToFailure, bondtrial.BondBroke); !ok || !b.AtLeast() || !(b.Lo > 0.4) || b.Lo > 1 {
		t.Errorf("ended on the rise: %+v", b)
	}
	if b, _, ok := on.Response(trace.TravelAtPeak, bondtrial.BondBroke); !ok || !b.AtLeast() {
		t.Errorf("ended on the rise: %+v", b)
	}
	if _, reason, ok := on.Response(trace.LoadKept, bondtrial.BondBroke); ok || reason != "the record ends before the load falls" {
		t.Errorf("ended on the rise: %q", reason)
	}
	// Ended while it fell, past 1.5 times: energy at least, travel and load kept exact.
	falling, _ := trace.Analyse(whole.Slice(0, 2100), trace.Options{})
	if b, _, ok := falling.Response(trace.EnergyToFailure, bondtrial.BondBroke); !ok || !b.AtLeast() {
		t.Errorf("ended falling: %+v", b)
	}
	for _, r := range []trace.Response{trace.TravelAtPeak, trace.LoadKept} {
		if b, _, ok := falling.Response(r, bondtrial.BondBroke); !ok || !b.Exact() {
			t.Errorf("ended falling: %s %+v", r, b)
		}
	}
	// A snap keeps at most what the noise hides.
	snap, _ := record(curves[0], trouble{noise: 2}, rng)
	g, _ = trace.Analyse(snap, trace.Options{})
	if b, _, ok := g.Response(trace.LoadKept, bondtrial.BondBroke); !ok || b.Lo != 0 || b.Hi < 1 || b.Hi > 2 {
		t.Errorf("snap: %+v", b)
	}
}

func TestDecimate(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 1))
	rec, _ := record(curves[3], trouble{noise: 4, spikes: 9}, rng)
	for _, over := range []trace.Axis{trace.OverTime, trace.OverTravel} {
		axis := rec.Time
		if over == trace.OverTravel {
			axis = rec.Travel
		}
		for _, width := range []int{1, 2, 300, 100_000} {
			columns, from, to := trace.Decimate(rec, over, width)
			n, last := 0, -1
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, c := range columns {
				if c.At <= last || c.At >= width || c.Lo > c.Hi || c.First < c.Lo || c.Last > c.Hi {
					t.Fatalf("%+v after column %d", c, last)
				}
				n, last, lo, hi = n+c.Samples, c.At, min(lo, c.Lo), max(hi, c.Hi)
			}
			wantLo, wantHi, wantFrom, wantTo := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
			for i, f := range rec.Force {
				wantLo, wantHi, wantFrom, wantTo = min(wantLo, f), max(wantHi, f), min(wantFrom, axis[i]), max(wantTo, axis[i])
			}
			if n != rec.Len() || lo != wantLo || hi != wantHi || from != wantFrom || to != wantTo {
				t.Errorf("over %s, width %d: %d samples, %v to %v, axis %v to %v", over, width, n, lo, hi, from, to)
			}
		}
	}
	if c, _, _ := trace.Decimate(trace.Record{}, trace.OverTime, 10); c != nil {
		t.Error("columns of an empty record")
	}
}

// FuzzAnalyse checks that no record makes Analyse panic, that there is always a word
// with a reason, and that a figure is a number or has a reason.
func FuzzAnalyse(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz"), byte(0))
	f.Add([]byte{0, 0, 0, 0, 0, 0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 0, 0, 0, 0, 0, 0, 0}, byte(1))
	f.Add([]byte{100, 100, 100, 100, 100, 100, 100, 100, 100, 100, 100, 100}, byte(2))
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0, 0, 50, 100, 150, 200, 250, 250, 250, 250, 250, 250, 250, 250, 250, 0}, byte(7))
	f.Fuzz(func(t *testing.T, data []byte, how byte) {
		var rec trace.Record
		now, x := 0.0, 0.0
		for i, b := range data {
			if how&1 != 0 && b%7 == 0 {
				now -= 3 // a poor clock
			}
			if how&2 == 0 || i%3 > 0 {
				now += 0.1
			}
			if b%11 != 0 {
				x += 0.01
			}
			scale := 1.0
			if how&4 != 0 {
				scale = -1e150
			}
			rec.Time, rec.Force = append(rec.Time, now), append(rec.Force, scale*float64(b))
			if how&8 == 0 {
				rec.Travel = append(rec.Travel, x)
			}
		}
		opt := trace.Options{}
		if how&16 != 0 {
			opt.Rig = trace.ConstantCompliance(1e-4)
		}
		g, err := trace.Analyse(rec, opt)
		if err != nil {
			if len(data) >= 10 {
				t.Fatal(err)
			}
			return
		}
		if g.Failing.Word == "" || g.Failing.Reason == "" {
			t.Fatalf("%+v", g.Failing)
		}
		for i, n := range []trace.Number{g.TimeToPeak, g.TravelAtPeak, g.Stiffness, g.LoadingRate, g.Toe, g.YieldLoad, g.YieldRatio, g.EnergyToPeak, g.EnergyTaken, g.ToFailure, g.FallRatio, g.Spread, g.LoadKept} {
			if math.IsNaN(n.Value) || math.IsInf(n.Value, 0) || n.Reason != "" && n.Value != 0 {
				t.Fatalf("figure %d: %+v", i, n)
			}
		}
		for _, r := range trace.Responses() {
			if b, reason, ok := g.Response(r, bondtrial.BondBroke); ok && !(b.Lo <= b.Hi) || !ok && reason == "" {
				t.Fatalf("%s: %+v %q", r, b, reason)
			}
		}
	})
}
