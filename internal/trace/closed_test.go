package trace_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bondtrial/internal/trace"
)

// The curves below rise straight by 2000 N/mm to 2000 N at 1 mm, which takes 1 J. What
// follows has closed forms, worked out beside each.
const (
	rise  = 2000.0 // N/mm
	peak  = 2000.0 // N
	speed = 0.1    // mm/s
	rate  = 100.0  // Hz: a thousand samples to the peak
)

// curve is a shape with what it must give.
type curve struct {
	name      string
	force     func(x float64) float64 // N at mm
	until     float64                 // mm
	word      trace.Word
	toFailure float64 // J, to a fifth of the peak
	fall      float64 // travel at 80 % over travel at the peak
	kept      float64 // % at 1.5 mm
}

func upTo(after func(x float64) float64) func(float64) float64 {
	return func(x float64) float64 {
		if x <= 1 {
			return rise * x
		}
		return after(x)
	}
}

var curves = []curve{
	{"elastic and snap", upTo(func(float64) float64 { return 0 }), 2, trace.Snap, 1, 1, 0},
	// Falls straight to 0 at 3 mm: 400 N at 2.6 mm, 1.6 mm · 1200 N; 1600 N at 1.4 mm; 1500 N at 1.5 mm.
	{"bilinear", upTo(func(x float64) float64 { return max(0, peak*(3-x)/2) }), 4, trace.SlowYield, 1 + 1.92, 1.4, 75},
	// peak·e^(−(x−1)/0.8): the area to a fifth is peak·0.8·(1−0.2); 80 % at 1+0.8·ln 1.25; e^(−0.625).
	{"exponential tail", upTo(func(x float64) float64 { return peak * math.Exp(-(x-1)/0.8) }), 6, trace.SlowYield, 1 + 1.28, 1 + 0.8*math.Log(1.25), 100 * math.Exp(-0.625)},
	// Three drops of 700 N at 1, 1.3 and 1.6 mm with rises by 1000 N/mm between: 1300 to
	// 1600, 900 to 1200, 500 to 800, and nothing from 1.9 mm on. 0.3·(1450+1050+650) mJ.
	{"several drops", upTo(func(x float64) float64 {
		switch {
		case x <= 1.3:
			return 1300 + 1000*(x-1)
		case x <= 1.6:
			return 900 + 1000*(x-1.3)
		case x <= 1.9:
			return 500 + 1000*(x-1.6)
		}
		return 0
	}), 2.5, trace.Step, 1 + 0.945, 1, 55},
}

// trouble is what is added to a curve, and the accuracy that is left: shares of the
// value, of the peak's travel for travels, points for the load kept. The noise is 0.2 %
// of the peak, so that the largest of thousands of values is 4 deviations or 0.8 % too
// high near a flat top; a step of the clock is 0.1 % of the peak.
type trouble struct {
	name                         string
	noise, drift, toe, rig       float64
	spikes                       int
	peak, stiffness, energy, far float64
	kept                         float64
}

var troubles = []trouble{
	{name: "none", peak: 1e-9, stiffness: 1e-9, energy: 1.2e-3, far: 1.2e-3, kept: 0.1},
	{name: "noise", noise: 4, peak: 0.008, stiffness: 0.006, energy: 0.008, far: 0.012, kept: 0.5},
	{name: "spikes", spikes: 12, peak: 1e-3, stiffness: 1e-3, energy: 2e-3, far: 2e-3, kept: 0.5},
	{name: "drift", noise: 0.5, drift: 0.8, peak: 0.004, stiffness: 0.004, energy: 0.006, far: 0.006, kept: 1},
	{name: "toe", toe: 0.3, peak: 1.1e-3, stiffness: 1e-6, energy: 2.2e-3, far: 1.5e-3, kept: 0.1},
	{name: "compliance", rig: 1e-4, peak: 1e-9, stiffness: 1e-6, energy: 2e-3, far: 2e-3, kept: 0.2},
	{name: "all", noise: 4, drift: 0.5, toe: 0.3, rig: 1e-4, spikes: 8, peak: 0.012, stiffness: 0.015, energy: 0.02, far: 0.02, kept: 1.5},
}

// record makes the record of a curve with troubles: 4 s of quiet, then steady travel of
// the joint. A toe is a quadratic beginning that meets the straight rise toe/2 late.
// Behind a drop the rig gives back its own travel, and the joint gets it.
func record(c curve, d trouble, rng *rand.Rand) (r trace.Record, origin float64) {
	x0 := 0.05
	origin = x0 + d.toe/2
	force := func(x float64) float64 {
		s := x - origin
		if d.toe > 0 && x < x0+d.toe {
			return rise * max(0, x-x0) * max(0, x-x0) / (2 * d.toe)
		}
		return c.force(max(0, s))
	}
	const quiet = 4.0
	back := 0.0
	for i := 0; ; i++ {
		x := speed * (float64(i)/rate - quiet)
		if x > origin+c.until {
			break
		}
		x = max(x, 0)
		f := force(x)
		if n := len(r.Force); d.rig > 0 && n > 0 && i > 0 {
			before := force(max(0, speed*(float64(i-1)/rate-quiet)))
			if before-f > 0.2*peak {
				back = d.rig * (before - f)
			}
		}
		r.Time = append(r.Time, float64(i)/rate)
		r.Travel = append(r.Travel, 7+x+d.rig*f+back)
		r.Force = append(r.Force, 35+f+d.noise*rng.NormFloat64()+d.drift*float64(i)/rate)
	}
	for k := range d.spikes {
		i := 20 + k*(r.Len()-40)/d.spikes
		if math.Abs(r.Travel[i]-7-origin-1-d.rig*peak) > 0.05 { // at a drop nobody can tell
			r.Force[i] += []float64{900, -1500}[k%2]
		}
	}
	return r, origin
}

func near(t *testing.T, what string, got trace.Number, want, tolerance float64) {
	t.Helper()
	if !got.Exists() {
		t.Errorf("%s: none, because %s", what, got.Reason)
	} else if !(math.Abs(got.Value-want) <= tolerance) {
		t.Errorf("%s: %.6g, want %.6g ± %.2g", what, got.Value, want, tolerance)
	}
}

func TestClosedForms(t *testing.T) {
	for _, c := range curves {
		for _, d := range troubles {
			if d.rig > 0 && c.word == trace.Step {
				continue // with a soft rig the joint jumps on: another curve
			}
			t.Run(c.name+", "+d.name, func(t *testing.T) {
				rec, origin := record(c, d, rand.New(rand.NewPCG(3, 1)))
				opt := trace.Options{}
				if d.rig > 0 {
					opt.Rig = trace.ConstantCompliance(d.rig)
				}
				g, err := trace.Analyse(rec, opt)
				if err != nil {
					t.Fatal(err)
				}
				near(t, "peak", trace.Number{Value: g.Peak}, peak, d.peak*peak)
				near(t, "stiffness", g.Stiffness, rise, d.stiffness*rise)
				near(t, "travel at the peak", g.TravelAtPeak, 1, d.far)
				near(t, "energy to the peak", g.EnergyToPeak, 1, d.energy)
				near(t, "energy to failure", g.ToFailure, c.toFailure, d.energy*c.toFailure)
				near(t, "fall ratio", g.FallRatio, c.fall, 2*d.far*c.fall)
				near(t, "load kept", g.LoadKept, c.kept, d.kept+0.5*c.fall*d.far*100)
				if g.Failing.Word != c.word {
					t.Errorf("%s, want %s: %s", g.Failing.Word, c.word, g.Failing.Reason)
				}
				if d.toe > 0 {
					// From the end of the quiet start, which lies in the toe.
					begin := rec.Travel[g.Zero.Onset] - 7
					near(t, "toe", g.Toe, origin-begin, 0.02)
				}
				spikes := 0
				for i := range rec.Force {
					if clean, _ := record(c, trouble{noise: d.noise, drift: d.drift, toe: d.toe, rig: d.rig}, rand.New(rand.NewPCG(3, 1))); i == 0 {
						for k := range clean.Force {
							if math.Abs(clean.Force[k]-rec.Force[k]) > 1 {
								spikes++
							}
						}
					} else {
						break
					}
				}
				if g.Spikes != spikes {
					t.Errorf("%d spikes taken out, want %d", g.Spikes, spikes)
				}
			})
		}
	}
}

// ASTM D638's toe compensation: y = E·(x − x0) beyond the toe returns x0.
func TestToeIsExact(t *testing.T) {
	c := curves[0]
	rec, origin := record(c, trouble{toe: 0.2}, rand.New(rand.NewPCG(1, 1)))
	g, err := trace.Analyse(rec, trace.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got := rec.Travel[g.PeakAt] - g.TravelAtPeak.Value - 7
	if math.Abs(got-origin) > 1e-9 {
		t.Errorf("the origin is %.12g mm, want %.12g", got, origin)
	}
	kept, err := trace.Analyse(rec, trace.Options{KeepToe: true})
	if err != nil || !(kept.TravelAtPeak.Value > g.TravelAtPeak.Value+0.05) {
		t.Errorf("with its toe kept the travel at the peak is %v, without %v", kept.TravelAtPeak, g.TravelAtPeak)
	}
}

// Without travel: the same over time, and no energy.
func TestWithoutTravel(t *testing.T) {
	for _, c := range curves {
		rec, _ := record(c, trouble{noise: 2}, rand.New(rand.NewPCG(4, 1)))
		rec.Travel = nil
		g, err := trace.Analyse(rec, trace.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if g.Over != trace.OverTime || g.Failing.Word != c.word {
			t.Errorf("%s: %s over %s", c.name, g.Failing.Word, g.Over)
		}
		for what, n := range map[string]trace.Number{"energy": g.ToFailure, "energy to the peak": g.EnergyToPeak, "travel": g.TravelAtPeak, "stiffness": g.Stiffness} {
			if n.Reason != "travel was not recorded" || n.Value != 0 {
				t.Errorf("%s: %s is %+v", c.name, what, n)
			}
		}
		near(t, c.name+": loading rate", g.LoadingRate, rise*speed, 0.01*rise*speed)
		near(t, c.name+": fall ratio", g.FallRatio, c.fall, 0.02*c.fall)
		near(t, c.name+": time to the peak", g.TimeToPeak, 10, 0.1)
	}
}

// The record stays as it came; turning it round or moving it changes nothing; the
// units of what is given scale what comes out.
func TestInvariance(t *testing.T) {
	for _, c := range curves {
		rec, _ := record(c, trouble{noise: 3, spikes: 5}, rand.New(rand.NewPCG(5, 1)))
		before := trace.Record{Time: slices.Clone(rec.Time), Force: slices.Clone(rec.Force), Travel: slices.Clone(rec.Travel)}
		g, err := trace.Analyse(rec, trace.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(before.Time, rec.Time) || !slices.Equal(before.Force, rec.Force) || !slices.Equal(before.Travel, rec.Travel) {
			t.Fatalf("%s: the record was changed", c.name)
		}
		for _, m := range []struct {
			name                   string
			sf, sx, of, ox, ot     float64
			peak, travel, energies float64
		}{
			{"turned round", -1, -1, 0, 0, 0, 1, 1, 1},
			{"moved", 1, 1, 500, -3, 1000, 1, 1, 1},
			{"twice the force", 2, 1, 0, 0, 0, 2, 1, 2},
			{"a tenth of the travel", 1, 0.1, 0, 0, 0, 1, 0.1, 0.1},
		} {
			other := trace.Record{}
			for i := range rec.Force {
				other.Time = append(other.Time, rec.Time[i]+m.ot)
				other.Force = append(other.Force, m.sf*rec.Force[i]+m.of)
				other.Travel = append(other.Travel, m.sx*rec.Travel[i]+m.ox)
			}
			o, err := trace.Analyse(other, trace.Options{})
			if err != nil {
				t.Fatal(err)
			}
			what := c.name + ", " + m.name
			if o.Failing.Word != g.Failing.Word || o.Spikes != g.Spikes || o.PeakAt != g.PeakAt {
				t.Errorf("%s: %s, %d spikes, peak at %d; before %s, %d, %d", what, o.Failing.Word, o.Spikes, o.PeakAt, g.Failing.Word, g.Spikes, g.PeakAt)
			}
			near(t, what+": peak", trace.Number{Value: o.Peak}, m.peak*g.Peak, 1e-6*g.Peak)
			near(t, what+": travel", o.TravelAtPeak, m.travel*g.TravelAtPeak.Value, 1e-6)
			near(t, what+": energy", o.ToFailure, m.energies*g.ToFailure.Value, 1e-6)
		}
	}
}

// A compliance measured on a stiff block is subtracted from a record of the same rig.
func TestCompliance(t *testing.T) {
	const c0 = 1e-4 // mm/N
	var run trace.Record
	for i := range 2000 {
		f := max(0, float64(i-400)*2)
		run.Time = append(run.Time, float64(i)/100)
		run.Force = append(run.Force, f)
		run.Travel = append(run.Travel, 1+c0*f+1e-9*f*f) // bends a little
	}
	rig, err := trace.ComplianceOf(run)
	if err != nil {
		t.Fatal(err)
	}
	// Its toe is taken off: the steepest line, which for a curve that softens is near
	// its beginning, moves the zero by less than 1e-9·(600 N)².
	for _, f := range []float64{0, 500, 1500, 3000} {
		if got, want := rig.Travel(f), c0*f+1e-9*f*f; math.Abs(got-want) > 5e-4 {
			t.Errorf("at %g N the rig travels %.6f mm, want %.6f", f, got, want)
		}
	}
	if rig.Travel(-10) != 0 || !(rig.Travel(5000) > rig.Travel(3000)) {
		t.Error("below zero, or beyond the last point")
	}
	for _, bad := range [][2][]float64{{{}, {}}, {{2, 1}, {1, 2}}, {{1, 2}, {2, 1}}, {{-1}, {0}}} {
		if _, err := trace.MeasuredCompliance(bad[0], bad[1]); err == nil || !strings.Contains(err.Error(), "rig") {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func TestAnalyseRefuses(t *testing.T) {
	short := trace.Record{Time: make([]float64, 9), Force: make([]float64, 9)}
	if _, err := trace.Analyse(short, trace.Options{}); err == nil || err.Error() != "9 samples are no record of a break: it takes 10 at least" {
		t.Error(err)
	}
	holed := trace.Record{Time: make([]float64, 20), Force: make([]float64, 20)}
	holed.Force[11] = math.NaN()
	if _, err := trace.Analyse(holed, trace.Options{}); err == nil || !strings.Contains(err.Error(), "sample 12 has no force") {
		t.Error(err)
	}
	func() {
		defer func() {
			if p, _ := recover().(string); !strings.HasPrefix(p, "trace: ") {
				t.Errorf("columns of unlike length: %q", p)
			}
		}()
		_, _ = trace.Analyse(trace.Record{Time: make([]float64, 9), Force: make([]float64, 10)}, trace.Options{})
	}()
}
