package rig

import (
	"errors"
	"math"
	"slices"
	"strings"

	"bondtrial"
	"bondtrial/internal/rig/budget"
)

// Form is the form of a specimen and the way it is loaded.
type Form string

const (
	BlockShear Form = "block shear"
	Lap        Form = "lap"
	Butt       Form = "butt"
	CrossLap   Form = "cross-lap"
	ThreePoint Form = "three-point bending"
	FourPoint  Form = "four-point bending"
	Cantilever Form = "cantilever bending"
	Torque     Form = "torque"
)

// Dimension describes one dimension that a form needs.
type Dimension struct {
	Name  string  // as "width"; the key in Geometry.Dimensions
	What  string  // what to measure
	Power float64 // the stress goes with this power of it
}

// formula is a nominal stress as a product: factor · load · Π dimension^power.
type formula struct {
	form       Form
	stress     string // the kind of stress
	moment     bool   // the load is a moment in N·mm, else a force in N
	factor     float64
	dimensions []Dimension
}

const (
	whatWidth     = "measure it across the bonded strip, at right angles to the load"
	whatLength    = "measure the bonded length along the load"
	whatBarWidth  = "measure the bar at the bond line, at right angles to the load"
	whatBarHeight = "measure the bar at the bond line, along the load"
)

var bar = []Dimension{{"width", whatBarWidth, -1}, {"height", whatBarHeight, -2}}

// formulas gives the stresses: force over the bonded area, or 6 M/(b h²) with the
// bending moment M of the set-up.
var formulas = []formula{
	{BlockShear, "shear", false, 1, []Dimension{{"length", whatLength, -1}, {"width", whatWidth, -1}}},
	{Lap, "shear", false, 1, []Dimension{{"length", "measure the overlap along the load", -1}, {"width", whatWidth, -1}}},
	{Butt, "tension", false, 1, []Dimension{{"width", "measure one side of the bonded face", -1}, {"height", "measure the other side of the bonded face", -1}}},
	{CrossLap, "tension", false, 1, []Dimension{{"width of the upper piece", "measure it at the crossing", -1}, {"width of the lower piece", "measure it at the crossing", -1}}},
	{ThreePoint, "bending", false, 6.0 / 4, append([]Dimension{{"span", "measure from support to support", 1}}, bar...)},
	{FourPoint, "bending", false, 6.0 / 2, append([]Dimension{{"arm", "measure from a support to the nearer loading point", 1}}, bar...)},
	{Cantilever, "bending", false, 6, append([]Dimension{{"arm", "measure from the load to the bond line", 1}}, bar...)},
	{Torque, "bending", true, 6, bar},
}

func (f Form) formula() (formula, bool) {
	i := slices.IndexFunc(formulas, func(x formula) bool { return x.form == f })
	if i < 0 {
		return formula{}, false
	}
	return formulas[i], true
}

// Forms lists the forms that are known.
func Forms() []Form {
	var all []Form
	for _, f := range formulas {
		all = append(all, f.form)
	}
	return all
}

// Dimensions lists the dimensions that a form needs, nil for an unknown one.
func (f Form) Dimensions() []Dimension {
	x, _ := f.formula()
	return slices.Clone(x.dimensions)
}

// Stress names the kind of stress of a form, as "shear"; empty for an unknown one.
func (f Form) Stress() string {
	x, _ := f.formula()
	return x.stress
}

// TakesMoment reports whether the load of a form is a moment in N·mm; of all others
// it is a force in N.
func (f Form) TakesMoment() bool {
	x, _ := f.formula()
	return x.moment
}

// Geometry is a specimen's form and its dimensions in mm, by their names.
type Geometry struct {
	Form       Form                `json:"form"`
	Dimensions map[string]Measured `json:"dimensions_mm"`
}

// longestDimension is the largest dimension that is believed, mm.
const longestDimension = 10_000

// Check returns nil where a stress can be computed, else all that is in the way as
// joined errors, each a *FieldError that names a dimension.
func (g Geometry) Check() error {
	f, ok := g.Form.formula()
	if !ok {
		names := make([]string, len(formulas))
		for i, f := range formulas {
			names[i] = string(f.form)
		}
		return fault("form", "%q is not known: take one of %s", g.Form, strings.Join(names, ", "))
	}
	var errs []error
	known := map[string]bool{}
	for _, d := range f.dimensions {
		known[d.Name] = true
		errs = append(errs, g.Dimensions[d.Name].check(d.Name, "mm", d.What, 0, longestDimension))
	}
	var strange []string
	for name := range g.Dimensions {
		if !known[name] {
			strange = append(strange, name)
		}
	}
	slices.Sort(strange)
	for _, name := range strange {
		errs = append(errs, fault(name, "is no dimension of %s: leave it out", g.Form))
	}
	return errors.Join(errs...)
}

// Partials are the derivatives of a nominal stress, exact.
type Partials struct {
	Load       float64            // MPa per N, or per N·mm
	Dimensions map[string]float64 // MPa per mm
}

// Stress returns the nominal stress in MPa at a load: a force in N, or a moment in
// N·mm where the form takes one. The error names the dimension that is missing or
// cannot be right, or says that the load is not finite.
func (g Geometry) Stress(load float64) (bondtrial.Megapascal, error) {
	if err := g.checkLoad(load); err != nil {
		return 0, err
	}
	f, _ := g.Form.formula()
	return bondtrial.Megapascal(f.stressAt(load, g.values(f))), nil
}

// Partials returns the exact derivatives of Stress at a load, with the same errors.
func (g Geometry) Partials(load float64) (Partials, error) {
	if err := g.checkLoad(load); err != nil {
		return Partials{}, err
	}
	f, _ := g.Form.formula()
	d := g.values(f)
	p := Partials{Load: f.stressAt(1, d), Dimensions: map[string]float64{}}
	for i, x := range f.dimensions {
		p.Dimensions[x.Name] = x.Power * load * p.Load / d[i]
	}
	return p, nil
}

func (g Geometry) checkLoad(load float64) error {
	if err := g.Check(); err != nil {
		return err
	}
	if math.IsNaN(load) || math.IsInf(load, 0) {
		return fault("load", "%v is not a load", load)
	}
	return nil
}

func (g Geometry) values(f formula) []float64 {
	v := make([]float64, len(f.dimensions))
	for i, d := range f.dimensions {
		v[i] = g.Dimensions[d.Name].Value
	}
	return v
}

func (f formula) stressAt(load float64, dimensions []float64) float64 {
	s := f.factor * load
	for i, d := range f.dimensions {
		s *= math.Pow(dimensions[i], d.Power)
	}
	return s
}

// then leads a chain on from the load to the stress. The geometry has been checked.
func (g Geometry) then(c chain) chain {
	f, _ := g.Form.formula()
	p, err := g.Partials(c.value)
	if err != nil {
		panic("rig: a stress from a geometry that was not checked")
	}
	var in []budget.Input
	var by []float64
	for _, d := range f.dimensions {
		in = append(in, g.Dimensions[d.Name].input(d.Name, "mm", false))
		by = append(by, p.Dimensions[d.Name])
	}
	return c.then(f.stressAt, p.Load, in, by)
}
