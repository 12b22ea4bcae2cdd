package rig

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bondtrial/internal/rig/budget"
)

var here = Gravity{Value: 9.81, U: 0.0005}

func reading(v, u float64) budget.Input {
	return budget.Input{Name: "reading", Value: v, U: u, Dist: budget.Normal}
}

// Expected: worked by hand beside each.
func TestLoad(t *testing.T) {
	lever := &Lever{LoadArm: Measured{Value: 600}, SpecimenArm: Measured{Value: 100}, Mass: Measured{Value: 2}, Centre: Measured{Value: 300}}
	counter := *lever
	counter.Centre.Value = -300
	for _, c := range []struct {
		name string
		p    Path
		at   float64
		want float64
		unit string
	}{
		{"direct cell", Path{Takes: ForceKind}, 1234, 1234, "N"},
		{"direct cell on a lever", Path{Takes: ForceKind, Lever: lever, Gravity: &here}, 500, (500*600 + 2*9.81*300) / 100.0, "N"},
		{"direct cell on a lever", Path{Takes: ForceKind, Lever: &counter, Gravity: &here}, 500, (500*600 - 2*9.81*300) / 100.0, "N"},
		{"direct cell on a lever", Path{Takes: ForceKind, Lever: &Lever{LoadArm: Measured{Value: 600}, SpecimenArm: Measured{Value: 100}}}, 500, 3000, "N"},
		{"hanging masses", Path{Takes: MassKind, Gravity: &here, Weights: &Weights{}}, 50, 50 * 9.81 * (1 - 0.00015), "N"},
		{"hanging masses on a lever", Path{Takes: MassKind, Gravity: &here, Weights: &Weights{}, Lever: lever}, 50, (50*9.81*(1-0.00015)*600 + 2*9.81*300) / 100, "N"},
		{"piston with gauge", Path{Takes: PressureKind, Piston: &Piston{Measured{Value: 500}}}, 12, 6000, "N"}, // MPa times mm²
		{"torque wrench", Path{Takes: TorqueKind}, 30_000, 30_000, "N·mm"},
		{"torque wrench", Path{Takes: TorqueKind, Wrench: &Wrench{Measured{Value: 150}}}, 30_000, 200, "N"},
	} {
		b := must[budget.Budget](t)(c.p.Load(reading(c.at, 0)))
		if !close12(b.Value, c.want) || b.Unit != c.unit || c.p.String() != c.name || c.p.Moment() != (c.unit == "N·mm") {
			t.Errorf("%s: %v %s, want %v %s", c.p, b.Value, b.Unit, c.want, c.unit)
		}
	}
}

// Expected: relative variances add up: a lever 600 ± 1 to 100 ± 0.5 mm with 500 N ± 1
// N, √(0.002² + (1/600)² + 0.005²) of 3000 N, by hand.
func TestLeverBudget(t *testing.T) {
	p := Path{Takes: ForceKind, Lever: &Lever{LoadArm: Measured{Value: 600, U: 1}, SpecimenArm: Measured{Value: 100, U: 0.5}}}
	b := must[budget.Budget](t)(p.Load(reading(500, 1)))
	if want := 3000 * math.Sqrt(0.002*0.002+1/360_000.0+0.005*0.005); !close12(b.U, want) {
		t.Errorf("u is %v N, want %v", b.U, want)
	}
	if b.Largest()[0].Name != "specimen arm of the lever" || !close12(b.OwnU, 6) {
		t.Errorf("got %s, own %v", b, b.OwnU)
	}
}

// Gravity pulls on masses and lever alike: it is one input, with one sensitivity.
// Expected: ∂F/∂g = (m₁ (1−b) a + m₂ c)/b₀, by hand.
func TestOneGravity(t *testing.T) {
	p := Path{Takes: MassKind, Gravity: &here, Weights: &Weights{}, Lever: &Lever{LoadArm: Measured{Value: 600}, SpecimenArm: Measured{Value: 100}, Mass: Measured{Value: 2}, Centre: Measured{Value: 300}}}
	b := must[budget.Budget](t)(p.Load(reading(50, 0)))
	found := 0
	for _, r := range b.Rows {
		if r.Name == "local gravity" {
			found++
			if want := (50*(1-0.00015)*600 + 2*300) / 100; !close12(r.Sensitivity, want) {
				t.Errorf("sensitivity %v, want %v", r.Sensitivity, want)
			}
		}
	}
	if found != 1 {
		t.Errorf("gravity stands in %d rows", found)
	}
}

// anyPath draws a path that is in order.
func anyPath(t *rapid.T) Path {
	m := func(lo, hi float64) Measured {
		v := rapid.Float64Range(lo, hi).Draw(t, "value")
		return Measured{Value: v, U: 0.003 * v * rapid.Float64Range(0, 1).Draw(t, "u")}
	}
	p := Path{Takes: rapid.SampledFrom([]Kind{ForceKind, MassKind, PressureKind, TorqueKind}).Draw(t, "kind"), Gravity: &here}
	switch p.Takes {
	case MassKind:
		p.Weights = &Weights{AccuracyPct: 0.1}
	case PressureKind:
		p.Piston = &Piston{m(50, 5000)}
	case TorqueKind:
		if rapid.Bool().Draw(t, "arm") {
			p.Wrench = &Wrench{m(50, 500)}
		}
	}
	if !p.Moment() && rapid.Bool().Draw(t, "lever") {
		p.Lever = &Lever{LoadArm: m(100, 1000), SpecimenArm: m(20, 200)}
		if rapid.Bool().Draw(t, "heavy") {
			p.Lever.Mass, p.Lever.Centre = m(0.5, 10), m(-200, 400)
			p.Lever.Centre.U = 2
			if p.Lever.Centre.Value == 0 {
				p.Lever.Centre.Value = 1
			}
		}
	}
	return p
}

// Every sensitivity of a load is what differences of the model itself show.
// Tolerance: as in TestPartials, and rounding.
func TestPathSensitivities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPath(t)
		if err := p.Check(); err != nil {
			t.Fatal(err)
		}
		r := reading(rapid.Float64Range(1, 1e4).Draw(t, "reading"), 0)
		c := p.then(chain{value: r.Value, inputs: []budget.Input{r}, by: []float64{1}, eval: func(x []float64) float64 { return x[0] }})
		checkChain(t, c)
	})
}

// checkChain holds a chain's value and derivatives against its model.
func checkChain(t *rapid.T, c chain) {
	x := make([]float64, len(c.inputs))
	for i, in := range c.inputs {
		x[i] = in.Value
	}
	if v := c.eval(x); math.Abs(v-c.value) > 1e-12*math.Abs(c.value) {
		t.Fatalf("the model gives %v, the chain %v", v, c.value)
	}
	rounding := 0.0 // 4 ε times the size of the terms, which may cancel in the value
	for i, in := range c.inputs {
		rounding += 1e-15 * math.Abs(c.by[i]*in.Value)
	}
	for i, in := range c.inputs {
		h := max(1e-5*math.Abs(in.Value), 1e-6)
		if in.Value == 0 { // a deviation, in counts or what else is shown
			h = 0.01
		}
		at := func(v float64) float64 {
			y := append([]float64(nil), x...)
			y[i] = v
			return c.eval(y)
		}
		want := (at(in.Value+h) - at(in.Value-h)) / (2 * h)
		if d := math.Abs(c.by[i] - want); d > 1e-8*math.Abs(want)+rounding/h {
			t.Fatalf("%s: sensitivity %v, differences give %v", in.Name, c.by[i], want)
		}
	}
}

func TestPathRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		p    Path
		want []string
	}{
		{"nothing", Path{}, []string{"quantity"}},
		{"masses", Path{Takes: MassKind}, []string{"masses", "gravity"}},
		{"bad masses", Path{Takes: MassKind, Weights: &Weights{AccuracyPct: -1}, Gravity: &Gravity{Value: 981}}, []string{"accuracy of the masses", "gravity"}},
		{"bad density", Path{Takes: MassKind, Weights: &Weights{Density: 7.8}, Gravity: &Gravity{Value: 9.8, U: math.NaN()}}, []string{"density of the masses", "gravity"}},
		{"piston", Path{Takes: PressureKind, Wrench: &Wrench{}}, []string{"piston", "torque wrench", "arm of the torque wrench"}},
		{"area", Path{Takes: PressureKind, Piston: &Piston{}}, []string{"area of the piston"}},
		{"piston on a cell", Path{Takes: ForceKind, Piston: &Piston{}}, []string{"piston"}},
		{"lever", Path{Takes: ForceKind, Lever: &Lever{LoadArm: Measured{Value: 5, U: 9}, Mass: Measured{Value: 3}}}, []string{"load arm of the lever", "specimen arm of the lever", "gravity"}},
		{"centre alone", Path{Takes: ForceKind, Gravity: &here, Lever: &Lever{LoadArm: Measured{Value: 5}, SpecimenArm: Measured{Value: 5}, Centre: Measured{Value: 9}}}, []string{"mass of the lever"}},
		{"moment", Path{Takes: TorqueKind, Lever: &Lever{LoadArm: Measured{Value: 5}, SpecimenArm: Measured{Value: 5}}}, []string{"lever"}},
	} {
		checkFields(t, c.name, c.p.Check(), c.want...)
		if _, err := c.p.Load(reading(1, 0)); err == nil {
			t.Errorf("%s: gives a load", c.name)
		}
	}
}

// A path goes through JSON and back.
func TestPathKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPath(t)
		raw, err := json.Marshal(p)
		var back Path
		if err == nil {
			err = json.Unmarshal(raw, &back)
		}
		if diff := cmp.Diff(p, back); err != nil || diff != "" {
			t.Fatalf("%v: written (-), read (+):\n%s", err, diff)
		}
	})
}

func TestLimits(t *testing.T) {
	l := must[Limits](t)(NewLimits(5000, "N"))
	for load, want := range map[float64]Level{0: Clear, 3999: Clear, 4000: Near, -4000: Near, 4749: Near, 4750: Stop, 5000: Stop, 5001: Over, math.Inf(1): Over} {
		level, words := l.At(load)
		if level != want || (words == "") != (want == Clear) {
			t.Errorf("%v N is %s (%s), want %s", load, level, words, want)
		}
	}
	if level, words := l.At(math.NaN()); level != Over || words == "" {
		t.Errorf("no number is %s: %s", level, words)
	}
	if _, words := l.At(4100); words != "82 % of the rated maximum of 5000 N: load slowly, and know where the parts would fly" {
		t.Error(words)
	}
	_, err := NewLimits(0, "N")
	checkFields(t, "no limit", err, "rated maximum")
}

// Expected: the definitions of the units: bar 0.1 MPa, pound 0.45359237 kg, inch
// 25.4 mm, standard gravity 9.80665 m/s².
func TestUnits(t *testing.T) {
	for _, c := range []struct {
		name string
		kind Kind
		want float64
	}{
		{"kN", ForceKind, 1000}, {"kgf", ForceKind, 9.80665}, {"lbf", ForceKind, 0.45359237 * 9.80665},
		{"bar", PressureKind, 0.1}, {"psi", PressureKind, 0.45359237 * 9.80665 / (25.4 * 25.4)}, {"kPa", PressureKind, 0.001},
		{"N·m", TorqueKind, 1000}, {"N m", TorqueKind, 1000}, {"Nm", TorqueKind, 1000}, {"lbf·ft", TorqueKind, 0.45359237 * 9.80665 * 12 * 25.4}, {"lb", MassKind, 0.45359237},
	} {
		u, err := unitOf(c.name, c.kind)
		if err != nil || !close12(u.factor, c.want) {
			t.Errorf("%s is %v, want %v: %v", c.name, u.factor, c.want, err)
		}
	}
	_, err := unitOf("bar", ForceKind)
	if err == nil || err.Error() != `unit: "bar" is no unit of force: write one of N, kN, lbf, kgf` {
		t.Error(err)
	}
}
