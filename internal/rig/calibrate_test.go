package rig

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func inNewton() Conditions {
	return Conditions{Sensor: "Bench cell", ShownUnit: "counts", Resolution: 1, Date: "2026-03-02", Weights: Weights{AccuracyPct: 0.1}}
}

// nist reads a data set as loads in N, twenty to a series where it is so divided.
func nist(t testing.TB, name string, perSeries int) []Point {
	var points []Point
	for i, r := range rows(t, "nist_"+name+".csv") {
		points = append(points, Point{Series: strconv.Itoa(1 + i/perSeries), Direction: Up, Load: number(t, r[1]), Unit: "N", Shown: number(t, r[0])})
	}
	return points
}

// Expected: NIST Statistical Reference Datasets, Norris and Pontius; F from R 4.2.2
// (fit/testdata/ftest.R). Tolerance: 9 digits, of what a calibration keeps after
// going through JSON.
func TestReferenceDataSets(t *testing.T) {
	for _, c := range []struct {
		name      string
		perSeries int
		quadratic bool
		f         float64
	}{{"norris", 36, false, 1.73048986688}, {"pontius", 20, true, 4218.52506257}} {
		cond := inNewton()
		cond.Resolution = 1e-5
		made := must[*Calibration](t)(Calibrate(nist(t, c.name, c.perSeries), cond))
		k := again(t, made)
		if k.Choice.Quadratic != c.quadratic || !k.Choice.Tested || math.Abs(k.Choice.F/c.f-1) > 1e-9 || k.FromZero {
			t.Errorf("%s: %+v", c.name, k.Choice)
		}
		b, sd := k.Curve.Coefficients()
		got := map[string]float64{"residual_sd": k.Curve.ResidualSD, "R2": k.Curve.R2}
		for i := range b {
			got["B"+strconv.Itoa(i)], got["sd_B"+strconv.Itoa(i)] = b[i], sd[i]
		}
		compared := 0
		for _, r := range rows(t, "nist_certified.csv") {
			if v, ok := got[r[1]]; r[0] == c.name && ok {
				compared++
				if want := number(t, r[2]); math.Abs(v/want-1) > 1e-9 {
					t.Errorf("%s %s is %.12g, certified %s", c.name, r[1], v, r[2])
				}
			}
		}
		if compared != len(got) {
			t.Errorf("%s: %d of %d compared", c.name, compared, len(got))
		}
	}
}

// again is a calibration that went through JSON, and is the same.
func again(t testing.TB, k *Calibration) *Calibration {
	t.Helper()
	raw, err := json.Marshal(k)
	if err != nil {
		t.Fatal(err)
	}
	var back Calibration
	if err := json.Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(k, &back); diff != "" {
		t.Errorf("written (-), read (+):\n%s", diff)
	}
	if back.Key() != k.Key() || len(k.Key()) != 12 {
		t.Errorf("the key %s became %s", k.Key(), back.Key())
	}
	return &back
}

// worked is a calibration whose figures are easy to work out by hand: the sensor
// shows 500 at nothing and 2 counts a newton; going up it reads 1 less, coming down
// 1 more (reversibility 2), the first series 3 more and the second 3 less, and the
// zero comes back 4 high and 1 low.
func worked() []Point {
	var points []Point
	for s, d := range []float64{3, -3} {
		name := strconv.Itoa(s + 1)
		points = append(points, Point{name, Up, 0, "N", 500, 0})
		for _, f := range []float64{1000, 2000, 3000, 4000, 5000} {
			points = append(points, Point{name, Up, f, "N", 500 + 2*f + d - 1, 0})
		}
		for _, f := range []float64{5000, 4000, 3000, 2000, 1000} {
			points = append(points, Point{name, Down, f, "N", 500 + 2*f + d + 1, 0})
		}
		points = append(points, Point{name, Down, 0, "N", 500 + []float64{4, -1}[s], 0})
	}
	return points
}

// Expected: by hand from the description of worked.
func TestWorkedFigures(t *testing.T) {
	k := again(t, must[*Calibration](t)(Calibrate(worked(), inNewton())))
	b, _ := k.Curve.Coefficients()
	if !k.FromZero || k.Choice.Quadratic || math.Abs(b[0]) > 1e-9 || math.Abs(b[1]-2) > 1e-12 || k.LowN != 1000 || k.HighN != 5000 {
		t.Errorf("curve %v, %+v, %v to %v", b, k.Choice, k.LowN, k.HighN)
	}
	f := k.Figures
	// ±3 in each pair: variance 2·9 with one degree of freedom, in ten pairs.
	if math.Abs(f.Repeatability-3*math.Sqrt2) > 1e-9 || f.RepeatabilityDF != 10 || !f.Repeated || f.Series != 2 {
		t.Errorf("repeatability %v with %d degrees of freedom", f.Repeatability, f.RepeatabilityDF)
	}
	if math.Abs(f.Departure) > 1e-9 || math.Abs(*f.Reversibility-2) > 1e-9 || *f.Zero != 4 || math.Abs(f.NewtonsPerUnit-0.5) > 1e-12 || math.Abs(f.ReferencePct-0.1/math.Sqrt(3)) > 1e-12 {
		t.Errorf("figures %+v", f)
	}
	if len(f.Residuals) != 20 || math.Abs(f.Residuals[0].ResidualN-1) > 1e-9 { // 3 − 1 counts
		t.Errorf("residuals %v", f.Residuals)
	}
	for i, s := range k.Steps {
		force := 1000 * float64(i+1)
		pct := func(counts float64) float64 { return 100 * counts / 2 / force }
		if s.ForceN != force || s.Readings != 4 || math.Abs(s.IndicatedN-(force-0.5)) > 1e-9 || math.Abs(s.ErrorPct-pct(-1)) > 1e-9 ||
			math.Abs(*s.RepeatabilityPct-pct(6)) > 1e-9 || math.Abs(*s.ReversibilityPct-pct(2)) > 1e-9 || math.Abs(s.ResolutionPct-pct(1)) > 1e-9 || s.Class != "0.5" {
			t.Errorf("step %+v", s)
		}
	}
	// Zero 4 counts of 10,000: 0.04 %, within 0.05.
	if z := *k.ZeroPct(); math.Abs(z-0.04) > 1e-9 || !slices.Equal(k.Classes, []ClassSpan{{"0.5", 1000, 5000, 5}}) {
		t.Errorf("zero %v, classes %v", z, k.Classes)
	}
}

// Expected: by hand: each uncertainty in counts over 2 counts a newton.
func TestForceBudget(t *testing.T) {
	k := must[*Calibration](t)(Calibrate(worked(), inNewton()))
	f := must[Force](t)(k.Force(6510, 510))
	if math.Abs(f.Newtons-3000) > 1e-9 || f.Span != Inside || f.Words != "" {
		t.Errorf("force %+v", f)
	}
	// Residuals ±2 and ±4 in equal numbers: SS = 10·4 + 10·16, on 18 degrees of
	// freedom; in the middle the band is s/√20.
	band := math.Sqrt(200.0/18) / math.Sqrt(20) / 2
	want := map[string]float64{
		"reading and zero, by the resolution": 1 / math.Sqrt(6) / 2,
		"repeatability":                       3 * math.Sqrt2 / 2,
		"calibration band":                    band,
		"departure from the curve":            0,
		"reversibility":                       1 / math.Sqrt(3) / 2,
		"return of the zero":                  4 / math.Sqrt(3) / 2,
		"known loads of the calibration":      3000 * 0.001 / math.Sqrt(3),
	}
	for _, r := range f.Budget.Rows {
		if math.Abs(r.Contribution-want[r.Name]) > 1e-9 {
			t.Errorf("%s contributes %v N, want %v", r.Name, r.Contribution, want[r.Name])
		}
		delete(want, r.Name)
	}
	if len(want) > 0 {
		t.Errorf("missing: %v", want)
	}
	// The other ends of the range, and beyond.
	for shown, span := range map[float64]Span{2500: Inside, 10500: Inside, 2498: Below, 10502: Above} {
		if f := must[Force](t)(k.Force(shown, 500)); f.Span != span || (f.Words == "") != (span == Inside) {
			t.Errorf("%v is %s: %s", shown, f.Span, f.Words)
		}
	}
	above := must[Force](t)(k.Force(11500, 500))
	if want := "5500 N is above the calibrated range of 1000 N to 5000 N by 10 %: the curve was not tested there, and the uncertainty covers the tested range only; calibrate with larger loads"; above.Words != want {
		t.Errorf("got %s\nwant %s", above.Words, want)
	}
	_, err := k.Force(math.NaN(), 0)
	checkFields(t, "no reading", err, "reading")
}

// Without readings at no load what is shown stands as it is, and a zero is refused.
func TestNotFromZero(t *testing.T) {
	points := slices.DeleteFunc(worked(), func(p Point) bool { return p.Load == 0 })
	k := must[*Calibration](t)(Calibrate(points, inNewton()))
	if f := must[Force](t)(k.Force(6500, 0)); k.FromZero || math.Abs(f.Newtons-3000) > 1e-9 || f.Budget.Rows[0].Name != "reading, by the resolution" {
		t.Errorf("force %+v", f)
	}
	_, err := k.Force(6500, 500)
	checkFields(t, "zero", err, "zero")
	if k.Figures.Zero != nil || k.ZeroPct() != nil || !strings.Contains(k.ClassWords(), "zero not tested") {
		t.Errorf("zero is known: %s", k.ClassWords())
	}
}

// sensor simulates what a sensor shows: slope and bend, and scatter.
type sensor struct{ slope, bend, sd, loop float64 }

func (s sensor) shows(force float64, d Direction, rng *rand.Rand) float64 {
	v := 1000 + s.slope*force + s.bend*force*force + s.sd*rng.NormFloat64()
	if d == Down {
		v += s.loop * (1 - force/1000)
	}
	return math.Round(v)
}

func (s sensor) calibrate(t testing.TB, rng *rand.Rand) *Calibration {
	var points []Point
	for series := range 3 {
		name := strconv.Itoa(series + 1)
		add := func(f float64, d Direction) { points = append(points, Point{name, d, f, "N", s.shows(f, d, rng), 0}) }
		add(0, Up)
		for f := 100.0; f <= 1000; f += 100 {
			add(f, Up)
		}
		for f := 900.0; f >= 100; f -= 100 {
			add(f, Down)
		}
		add(0, Down)
	}
	return must[*Calibration](t)(Calibrate(points, inNewton()))
}

// On simulated sensors, straight ones are called bent at most as often as the level
// of the F test says, bent ones nearly always, and the force with its expanded
// uncertainty covers the true one at least 95 times in 100. Readings of a series
// share the error of its zero, which is why the chance of a wrong bend is not exactly
// 1 %. Tolerance: 4 standard errors of 300 simulations below 95 %, and 3 % for the
// bend.
func TestSimulatedSensors(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for _, c := range []struct {
		name string
		s    sensor
		bent bool
	}{
		{"straight", sensor{slope: 20, sd: 8}, false},
		{"bent", sensor{slope: 20, bend: -0.001, sd: 8}, true},
		{"with a loop", sensor{slope: 20, sd: 4, loop: 20}, false},
		{"backwards", sensor{slope: -20, sd: 8}, false},
	} {
		const n = 300
		quadratic, covered := 0, 0
		for range n {
			k := c.s.calibrate(t, rng)
			if k.Choice.Quadratic {
				quadratic++
			}
			force := 100 + 900*rng.Float64()
			f := must[Force](t)(k.Force(c.s.shows(force, Up, rng), c.s.shows(0, Up, rng)))
			if math.Abs(f.Newtons-force) <= f.Budget.Expanded {
				covered++
			}
		}
		t.Logf("%s: quadratic %d of %d, covered %d", c.name, quadratic, n, covered)
		if c.bent && quadratic < n*99/100 || !c.bent && quadratic > n*3/100 {
			t.Errorf("%s: a quadratic in %d of %d", c.name, quadratic, n)
		}
		if float64(covered) < n*0.95-4*math.Sqrt(n*0.95*0.05) {
			t.Errorf("%s: %d of %d covered", c.name, covered, n)
		}
	}
}

// A curved calibration's budget agrees with Monte Carlo, through the curve's inverse.
func TestCurvedForceMonteCarlo(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	k := sensor{slope: 20, bend: -0.003, sd: 8}.calibrate(t, rng)
	c, err := k.chain(1000+20*700-0.003*700*700, 1000)
	if err != nil {
		t.Fatal(err)
	}
	b := c.budget("force", "N")
	if m := b.Check(c.eval, 50_000, rng); !m.Agrees || math.Abs(m.U-b.U) > 4*m.UError {
		t.Errorf("%+v beside %v", m, b.U)
	}
	if _, err := k.Force(1e6, 0); err == nil || !strings.Contains(err.Error(), "its curve turns before") {
		t.Errorf("beyond the turning point: %v", err)
	}
}

func TestCalibrateRefused(t *testing.T) {
	good := worked()
	change := func(f func(p *Point)) []Point {
		points := slices.Clone(good)
		for i := range points {
			f(&points[i])
		}
		return points
	}
	_, err := Calibrate(change(func(p *Point) { p.Unit = "kg" }), Conditions{Date: "2 March", Expires: "soon"})
	checkFields(t, "conditions", err, "unit", "resolution", "date", "expiry", "gravity")
	c := inNewton()
	c.Expires, c.Gravity = "2026-03-01", &Gravity{Value: 1.62}
	_, err = Calibrate(good, c)
	checkFields(t, "expiry", err, "expiry", "gravity")
	bad := slices.Clone(good)
	bad[1].Load, bad[2].Unit, bad[3].Direction, bad[4].Shown = -1, "lb", "left", math.Inf(1)
	_, err = Calibrate(bad, inNewton())
	if n := len(fields(err)); n != 4 {
		t.Errorf("%d of 4 bad points: %v", n, err)
	}
	_, err = Calibrate(slices.DeleteFunc(slices.Clone(good), func(p Point) bool { return p.Series == "2" && p.Load == 0 }), inNewton())
	checkFields(t, "one zero", err, "series 2")
	_, err = Calibrate(slices.DeleteFunc(slices.Clone(good), func(p Point) bool { return p.Series == "2" && p.Load == 0 && p.Direction == Up }), inNewton())
	checkFields(t, "late zero", err, "series 2")
	for _, c := range []struct {
		points []Point
		want   string
	}{
		{nil, "0 different loads do not show"},
		{slices.DeleteFunc(slices.Clone(good), func(p Point) bool { return p.Load > 2000 }), "2 different loads do not show"},
		{change(func(p *Point) { p.Shown = 5 }), "y is the same at every point"},
		{change(func(p *Point) { p.Shown = math.Mod(p.Load*7.77, 1000) }), "follows the load only loosely"},
		{change(func(p *Point) { p.Shown = p.Load * (11000 - p.Load) }), "hardly changes with the load at 5000 N, or turns back"},
	} {
		if k, err := Calibrate(c.points, inNewton()); k != nil || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
}

// What a calibration lacks is pointed out.
func TestCalibrationWarnings(t *testing.T) {
	c := inNewton()
	c.Weights = Weights{}
	var points []Point
	for i, f := range []float64{10, 20, 30, 40} {
		points = append(points, Point{"1", Up, f, "N", 10*f + []float64{0, 2, -2, 1}[i], i + 2})
	}
	k := must[*Calibration](t)(Calibrate(points, c))
	want := []string{"no load was read twice", "4 different loads", "reversibility is not known", "nothing was read at no load", "was not said"}
	if len(k.Warnings) != len(want) {
		t.Errorf("warnings %q", k.Warnings)
	}
	for i := range want {
		if i < len(k.Warnings) && !strings.Contains(k.Warnings[i], want[i]) {
			t.Errorf("warning %q, want %q", k.Warnings[i], want[i])
		}
	}
	if len(k.Classes) != 0 || !strings.HasPrefix(k.NoClass, "the repeatability is not known") {
		t.Errorf("classes %v, %s", k.Classes, k.NoClass)
	}
	if f := k.Figures; f.Repeated || f.Repeatability != k.Curve.ResidualSD || f.RepeatabilityDF != k.Curve.DF {
		t.Errorf("figures %+v", f)
	}
	// A slip of the pen is pointed out with its line.
	rng := rand.New(rand.NewPCG(9, 9))
	k = sensor{slope: 20, sd: 3}.calibrate(t, rng)
	slip := slices.Clone(k.Points)
	for i := range slip {
		slip[i].Line = i + 2
	}
	slip[5].Shown += 900
	k = must[*Calibration](t)(Calibrate(slip, inNewton()))
	if len(k.Warnings) == 0 || !strings.HasPrefix(k.Warnings[0], "line 7: ") || !strings.Contains(k.Warnings[0], "far more than the others") {
		t.Errorf("warnings %q", k.Warnings)
	}
}

// The order of series does not matter, and masses are weighed with local gravity.
func TestMassesAndOrder(t *testing.T) {
	c := inNewton()
	c.Gravity = &here
	inKG := worked()
	for i := range inKG {
		inKG[i].Load, inKG[i].Unit = inKG[i].Load/(9.81*(1-0.00015)), "kg"
	}
	a := must[*Calibration](t)(Calibrate(inKG, c))
	slices.SortStableFunc(inKG, func(a, b Point) int { return strings.Compare(b.Series, a.Series) })
	b := must[*Calibration](t)(Calibrate(inKG, c))
	for _, k := range []*Calibration{a, b} {
		if f := must[Force](t)(k.Force(6500, 500)); math.Abs(f.Newtons-3000) > 1e-8 || len(k.Steps) != 5 {
			t.Errorf("%v N, %d steps", f.Newtons, len(k.Steps))
		}
		want := math.Hypot(math.Hypot(0.1/math.Sqrt(3), 100*0.0005/9.81), 0.015*0.15/math.Sqrt(3))
		if math.Abs(k.Figures.ReferencePct-want) > 1e-12 {
			t.Errorf("the loads are known to %v %%, want %v", k.Figures.ReferencePct, want)
		}
	}
}

// Whatever the points, a calibration is refused or can be read, kept and described.
func TestAnyCalibration(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		size := func(name string) float64 {
			return math.Pow(10, rapid.Float64Range(-6, 9).Draw(rt, name))
		}
		slope, load, scatter := size("slope"), size("load"), rapid.SampledFrom([]float64{0, 1e-9, 1e-4, 0.02}).Draw(rt, "scatter")
		zeros := rapid.Bool().Draw(rt, "zeros")
		var points []Point
		for s := range rapid.IntRange(1, 3).Draw(rt, "series") {
			name := strconv.Itoa(s)
			if zeros {
				points = append(points, Point{name, Up, 0, "N", slope * load * rapid.Float64Range(-1, 1).Draw(rt, "zero"), 0})
			}
			for range rapid.IntRange(1, 6).Draw(rt, "loads") {
				f := load * rapid.SampledFrom([]float64{0.01, 0.2, 0.5, 0.8, 1}).Draw(rt, "share")
				d := rapid.SampledFrom([]Direction{Up, Down}).Draw(rt, "direction")
				points = append(points, Point{name, d, f, "N", slope * (f + load*scatter*rapid.Float64Range(-1, 1).Draw(rt, "off")), 0})
			}
		}
		c := inNewton()
		c.Resolution = slope * load * 1e-4
		k, err := Calibrate(points, c)
		if err != nil {
			return
		}
		again(t, k)
		f, err := k.Force(k.Curve.At(k.HighN), 0)
		if err != nil || math.Abs(f.Newtons/k.HighN-1) > 1e-6 || f.Span != Inside || !(f.Budget.Expanded > 0) {
			rt.Fatalf("the highest load, %v N, is read as %+v: %v", k.HighN, f, err)
		}
		if k.Certificate() == "" || (len(k.Classes) == 0) != (k.NoClass != "") {
			rt.Fatalf("classes %v, %q", k.Classes, k.NoClass)
		}
	})
}
