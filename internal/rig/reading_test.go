package rig

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bondtrial/internal/rig/budget"
)

// bench is a rig with a cell that presses on a lap specimen of 10 by 20 mm.
func bench() Rig {
	return Rig{Name: "Bench", Rated: 6000, Path: Path{Takes: ForceKind}, Sensor: Sensor{Name: "Bench cell", Unit: "counts", Resolution: 1},
		Geometry: Geometry{Form: Lap, Dimensions: map[string]Measured{"length": {Value: 10, U: 0.1}, "width": {Value: 20, U: 0.05}}}}
}

// Expected: by hand: 3000 N on 200 mm² are 15 MPa; the force's uncertainty is that of
// TestForceBudget, the dimensions add (1 %)² and (0.25 %)².
func TestRead(t *testing.T) {
	k := must[*Calibration](t)(Calibrate(worked(), inNewton()))
	r := must[Reading](t)(bench().Read(6510, 510, k))
	force := must[Force](t)(k.Force(6510, 510)).Budget.U
	if math.Abs(r.Load.Value-3000) > 1e-9 || math.Abs(r.Stress.Value-15) > 1e-12 || math.Abs(r.Load.U/force-1) > 1e-12 {
		t.Errorf("load %v, stress %v", r.Load.Value, r.Stress.Value)
	}
	want := 15 * math.Sqrt(force*force/9e6+0.01*0.01+0.0025*0.0025)
	if math.Abs(r.Stress.U/want-1) > 1e-12 || r.Stress.Largest()[0].Name != "length" || r.Stress.Name != "nominal shear stress" {
		t.Errorf("u %v MPa, want %v: %s", r.Stress.U, want, r.Stress)
	}
	if r.Span != Inside || r.Level != Clear || len(r.Warnings) != 0 || r.Calibration != k.Key() || r.Unit != "counts" {
		t.Errorf("reading %+v", r)
	}
	raw, err := json.Marshal(r)
	var back Reading
	if err == nil {
		err = json.Unmarshal(raw, &back)
	}
	if diff := cmp.Diff(r, back); err != nil || diff != "" {
		t.Errorf("%v: written (-), read (+):\n%s", err, diff)
	}
}

func TestReadWarnings(t *testing.T) {
	k := must[*Calibration](t)(Calibrate(worked(), inNewton()))
	for _, c := range []struct {
		shown float64
		span  Span
		level Level
		want  []string
	}{
		{10200, Inside, Near, []string{"81 % of the rated maximum of 6000 N"}},
		{11960, Above, Stop, []string{"above the calibrated range", "96 % of the rated maximum"}},
		{12600, Above, Over, []string{"above the calibrated range", "end of the sensor's range", "101 % of the rated maximum"}},
		{400, Below, Clear, []string{"below the calibrated range", "check the zero"}},
	} {
		rig := bench()
		rig.Sensor.Range = 12_500
		r := must[Reading](t)(rig.Read(c.shown, 500, k))
		if r.Span != c.span || r.Level != c.level || len(r.Warnings) != len(c.want) {
			t.Errorf("%v: %s, %s, %q", c.shown, r.Span, r.Level, r.Warnings)
			continue
		}
		for i := range c.want {
			if !strings.Contains(r.Warnings[i], c.want[i]) {
				t.Errorf("%v: %q, want %q", c.shown, r.Warnings[i], c.want[i])
			}
		}
	}
}

// Expected: by hand beside each: readings taken by what the maker states.
func TestReadUncalibrated(t *testing.T) {
	lap := bench()
	piston := lap
	piston.Path = Path{Takes: PressureKind, Piston: &Piston{Measured{Value: 500}}}
	piston.Sensor = Sensor{Unit: "bar", Resolution: 2, Range: 250, AccuracyRangePct: 1}
	wrench := Rig{Rated: 60_000, Path: Path{Takes: TorqueKind}, Sensor: Sensor{Unit: "N·m", Resolution: 0.5, AccuracyPct: 4}, Geometry: geometry(Torque, 20, 20)}
	for _, c := range []struct {
		r               Rig
		shown           float64
		load, stress, u float64
	}{
		// 80 bar are 8 MPa on 500 mm²; 2 bar of resolution, u 2/√6, and 2.5 bar of
		// accuracy, u 2.5/√3; 50 N a bar.
		{piston, 80, 4000, 20, 50 * math.Sqrt(4.0/6+2.5*2.5/3)},
		// 40 N·m in a bar of 20 mm: 6·40,000/8000; 0.5/√6 and 1.6/√3 N·m.
		{wrench, 40, 40_000, 30, 1000 * math.Sqrt(0.25/6+1.6*1.6/3)},
	} {
		r := must[Reading](t)(c.r.Read(c.shown, 0, nil))
		if !close12(r.Load.Value, c.load) || !close12(r.Stress.Value, c.stress) || !close12(r.Load.U, c.u) || r.Span != Uncalibrated || r.Calibration != "" || len(r.Warnings) != 0 {
			t.Errorf("%s: %+v", c.r.Path, r)
		}
	}
	piston.Sensor.AccuracyRangePct = 0
	if r := must[Reading](t)(piston.Read(80, 0, nil)); len(r.Warnings) != 1 || !strings.Contains(r.Warnings[0], "covers its resolution only") {
		t.Errorf("warnings %q", r.Warnings)
	}
}

func TestRigRefused(t *testing.T) {
	k := must[*Calibration](t)(Calibrate(worked(), inNewton()))
	checkFields(t, "nothing", Rig{}.Check(nil), "form", "quantity", "rated maximum")
	checkFields(t, "counts", bench().Check(nil), "unit")
	checkFields(t, "in order", bench().Check(k))
	r := bench()
	r.Path = Path{Takes: TorqueKind}
	checkFields(t, "torque on a lap", r.Check(k), "arm of the torque wrench", "quantity")
	r = bench()
	r.Sensor.Unit = "kN"
	checkFields(t, "another unit", r.Check(k), "unit")
	r = bench()
	r.Geometry = geometry(Torque, 20, 20)
	checkFields(t, "force on a torque form", r.Check(k), "form")
	r = bench()
	r.Sensor = Sensor{Unit: "bar", AccuracyPct: -1, AccuracyRangePct: 1}
	checkFields(t, "sensor", r.Check(nil), "unit", "resolution", "accuracy", "range")
	_, err := r.Read(1, 0, nil)
	checkFields(t, "read", err, "unit", "resolution", "accuracy", "range")
	_, err = bench().Read(math.NaN(), 0, k)
	checkFields(t, "no reading", err, "reading")
	r.Sensor = Sensor{Unit: "N", Resolution: 1}
	_, err = r.Read(math.Inf(1), 0, nil)
	checkFields(t, "no reading", err, "reading")
}

// For rigs as they are met, first order and Monte Carlo agree on the stress, and all
// sensitivities from the counts to the stress are what differences show.
// Tolerance: 4.5 Monte Carlo standard errors (7 in a million) and 0.5 % for what the
// first order leaves out: dimensions up to 1 % uncertain, a height to the power 2.
func TestReadingMonteCarlo(t *testing.T) {
	k := sensor{slope: 20, bend: -0.001, sd: 8}.calibrate(t, rand.New(rand.NewPCG(10, 10)))
	rapid.Check(t, func(t *rapid.T) {
		r := Rig{Name: "any", Rated: 1e9, Sensor: Sensor{Resolution: 0.01, AccuracyPct: 0.5}}
		r.Path = anyPath(t)
		cal, shown, zero := (*Calibration)(nil), rapid.Float64Range(20, 1000).Draw(t, "shown"), 0.0
		r.Sensor.Unit = rapid.SampledFrom(UnitNames(r.Path.Takes)).Draw(t, "unit")
		if r.Path.Takes == ForceKind && rapid.Bool().Draw(t, "calibrated") {
			cal, zero = k, 1000
			r.Sensor.Unit = k.ShownUnit
			shown = 1000 + 20*shown*0.9
		}
		var forms []Form
		for _, f := range Forms() {
			if f.TakesMoment() == r.Path.Moment() {
				forms = append(forms, f)
			}
		}
		r.Geometry = Geometry{Form: rapid.SampledFrom(forms).Draw(t, "form"), Dimensions: map[string]Measured{}}
		for _, d := range r.Geometry.Form.Dimensions() {
			v := rapid.Float64Range(5, 300).Draw(t, d.Name)
			r.Geometry.Dimensions[d.Name] = Measured{Value: v, U: v * rapid.Float64Range(0.0001, 0.01).Draw(t, "u")}
		}
		_, load, err := r.chain(shown, zero, cal)
		if err != nil {
			t.Fatal(err)
		}
		checkChain(t, r.Geometry.then(load))
		got, err := r.Read(shown, zero, cal)
		if err != nil {
			t.Fatal(err)
		}
		seed := rapid.Uint64().Draw(t, "seed")
		m, err := r.MonteCarlo(shown, zero, cal, 4000, rand.New(rand.NewPCG(seed, 2)))
		if err != nil || !m.Agrees || math.Abs(m.U-got.Stress.U) > 4.5*m.UError+0.005*got.Stress.U {
			t.Fatalf("first order %v, %+v, %v", got.Stress.U, m, err)
		}
	})
}

// A height known to 30 % bends the stress within its uncertainty: the check says so.
// Expected: E(1/h²) for a normal h has no end, so that the spread is far above the
// first order's; with draws at or below 0 the stress is still a number.
func TestReadingNotStraight(t *testing.T) {
	r := Rig{Rated: 1e4, Path: Path{Takes: ForceKind}, Sensor: Sensor{Unit: "N", Resolution: 1, AccuracyPct: 1}, Geometry: geometry(ThreePoint, 300, 20, 20)}
	r.Geometry.Dimensions["height"] = Measured{Value: 20, U: 6}
	got := must[Reading](t)(r.Read(800, 0, nil))
	m := must[budget.MonteCarlo](t)(r.MonteCarlo(800, 0, nil, 20_000, rand.New(rand.NewPCG(11, 11))))
	if m.Agrees || m.U < 1.5*got.Stress.U || !strings.Contains(m.Words, "not straight within the uncertainties, so use the interval") {
		t.Errorf("first order %v, %+v", got.Stress.U, m)
	}
}
