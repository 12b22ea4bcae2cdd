package rig

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bondtrial"
	"bondtrial/internal/rig/budget"
)

func geometry(f Form, mm ...float64) Geometry {
	g := Geometry{Form: f, Dimensions: map[string]Measured{}}
	for i, d := range f.Dimensions() {
		g.Dimensions[d.Name] = Measured{Value: mm[i]}
	}
	return g
}

// Expected: the formulas of nominal stress worked by hand: force over area, or
// 6 M/(b h²) with M = F L/4, F a/2, F a, or the moment itself.
func TestStress(t *testing.T) {
	for _, c := range []struct {
		g    Geometry
		load float64
		want float64
	}{
		{geometry(BlockShear, 40, 50), 16_000, 8},
		{geometry(Lap, 10, 20), 4000, 20},
		{geometry(Butt, 25, 20), 2500, 5},
		{geometry(CrossLap, 25, 30), 1500, 2},
		{geometry(ThreePoint, 300, 20, 20), 800, 45},                   // M = 800·300/4 = 60,000; 6·60,000/8000
		{geometry(FourPoint, 100, 20, 20), 800, 30},                    // M = 800·100/2 = 40,000
		{geometry(Cantilever, 100, 20, 20), 200, 15},                   // M = 20,000
		{geometry(Torque, 20, 20), 40_000, 30},                         // N·mm
		{geometry(ThreePoint, 300, 20, 20), -800, -45},                 // the other way round
		{geometry(ThreePoint, 254, 25.4, 25.4), 1000, 23.250046500093}, // 6·63,500/16,387.064
	} {
		got := must[bondtrial.Megapascal](t)(c.g.Stress(c.load))
		if !close12(float64(got), c.want) {
			t.Errorf("%s at %v: %v MPa, want %v", c.g.Form, c.load, got, c.want)
		}
	}
}

// The partial derivatives are those that differences of Stress show. Tolerance: a
// central difference with a relative step h errs by a share of h² p³ and ε/h:
// 1e-8 with h = 1e-5.
func TestPartials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.SampledFrom(Forms()).Draw(t, "form")
		var mm []float64
		for range f.Dimensions() {
			mm = append(mm, rapid.Float64Range(1, 500).Draw(t, "mm"))
		}
		g, load := geometry(f, mm...), rapid.Float64Range(1, 1e5).Draw(t, "load")
		p, err := g.Partials(load)
		if err != nil {
			t.Fatal(err)
		}
		const h = 1e-5
		check := func(name string, got, at float64, stress func(v float64) float64) {
			want := (stress(at*(1+h)) - stress(at*(1-h))) / (2 * h * at)
			if math.Abs(got-want) > 1e-8*math.Abs(want) {
				t.Fatalf("%s by %s: %v, differences give %v", f, name, got, want)
			}
		}
		at := func(g Geometry, load float64) float64 {
			s, err := g.Stress(load)
			if err != nil {
				t.Fatal(err)
			}
			return float64(s)
		}
		check("load", p.Load, load, func(v float64) float64 { return at(g, v) })
		for i, d := range f.Dimensions() {
			check(d.Name, p.Dimensions[d.Name], mm[i], func(v float64) float64 {
				other := append([]float64(nil), mm...)
				other[i] = v
				return at(geometry(f, other...), load)
			})
		}
	})
}

func TestGeometryRefused(t *testing.T) {
	g := geometry(Lap, 10, 20)
	g.Dimensions["length"] = Measured{Value: -10}
	g.Dimensions["width"] = Measured{Value: 20, U: math.NaN()}
	g.Dimensions["span"] = Measured{Value: 5}
	g.Dimensions["arm"] = Measured{Value: 5}
	checkFields(t, "all wrong", g.Check(), "length", "width", "arm", "span")
	_, err := g.Stress(5)
	checkFields(t, "stress", err, "length", "width", "arm", "span")
	checkFields(t, "nothing", Geometry{Form: ThreePoint}.Check(), "span", "width", "height")
	checkFields(t, "no form", Geometry{}.Check(), "form")
	checkFields(t, "large", geometry(Lap, 10, 1e5).Check(), "width")
	checkFields(t, "as uncertain as large", Geometry{Form: Lap, Dimensions: map[string]Measured{"length": {Value: 10, U: 10}, "width": {Value: 2, DF: 0.5}}}.Check(), "length", "width")
	_, err = geometry(Lap, 10, 20).Stress(math.Inf(1))
	checkFields(t, "load", err, "load")
	err = Geometry{Form: Lap, Dimensions: map[string]Measured{"length": {Value: 10}}}.Check()
	if want := "width: is missing: measure it across the bonded strip, at right angles to the load"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	if err := (Geometry{Form: "glued"}).Check(); !strings.Contains(err.Error(), `"glued" is not known: take one of block shear, lap,`) {
		t.Error(err)
	}
}

// Expected: relative variances add up (JCGM 100, 5.1.6): F 4000 N u 20, b 20.0 u
// 0.05, l 10.0 u 0.1 mm give 20.0 MPa, relative u 0.011456, u 0.2291 MPa, computed by
// hand. Tolerance: half a unit of the last digit.
func TestStressBudget(t *testing.T) {
	g := Geometry{Form: Lap, Dimensions: map[string]Measured{"length": {Value: 10, U: 0.1}, "width": {Value: 20, U: 0.05}}}
	f := chain{value: 4000, inputs: []budget.Input{{Name: "force", Value: 4000, Unit: "N", U: 20, Dist: budget.Normal}}, by: []float64{1}, eval: func(x []float64) float64 { return x[0] }}
	b := g.then(f).budget("stress", "MPa")
	if b.Value != 20 || math.Abs(b.U-0.2291) > 0.00005 || math.Abs(b.U/b.Value-0.011456) > 0.0000005 {
		t.Errorf("got %v MPa, u %v", b.Value, b.U)
	}
}
