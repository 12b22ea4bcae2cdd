package rig

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"bondtrial/internal/rig/budget"
)

// Sensor is what shows a number.
type Sensor struct {
	Name             string  `json:"name"`
	Unit             string  `json:"unit"`                         // that it shows: one of UnitNames; counts, or any other, only with a calibration
	Resolution       float64 `json:"resolution"`                   // its smallest step, in Unit
	Range            float64 `json:"range,omitempty"`              // the largest that it shows, in Unit; 0: not known
	AccuracyPct      float64 `json:"accuracy_pct,omitempty"`       // stated by its maker, half-width, per cent of the reading
	AccuracyRangePct float64 `json:"accuracy_range_pct,omitempty"` // the same, per cent of Range; both are used without a calibration only
}

// Rig is a rig: the form of its specimens, the way of the force, its sensor.
type Rig struct {
	Name     string   `json:"name"`
	Geometry Geometry `json:"geometry"`
	Path     Path     `json:"path"`
	Sensor   Sensor   `json:"sensor"`
	Rated    float64  `json:"rated"` // the largest load on the specimen that the weakest part is made for: N, or N·mm for torque
}

// Reading is what one number of the display means.
type Reading struct {
	Shown       float64       `json:"shown"`
	Zero        float64       `json:"zero"`
	Unit        string        `json:"unit"` // of both
	Load        budget.Budget `json:"load"`
	Stress      budget.Budget `json:"stress"`
	Span        Span          `json:"span"`
	Level       Level         `json:"level"`
	Warnings    []string      `json:"warnings,omitempty"`
	Calibration string        `json:"calibration,omitempty"` // the Key of the calibration it was made with; empty: without one
}

// Check returns nil where readings can be made, else all that is in the way as
// joined errors. cal may be nil.
func (r Rig) Check(cal *Calibration) error {
	errs := []error{r.Geometry.Check(), r.Path.Check()}
	if _, err := NewLimits(r.Rated, r.loadUnit()); err != nil {
		errs = append(errs, err)
	}
	if _, known := r.Geometry.Form.formula(); known && r.Path.Takes != "" {
		switch {
		case r.Path.Moment() && !r.Geometry.Form.TakesMoment():
			errs = append(errs, fault("arm of the torque wrench", "is missing: %s takes a force, and a torque wrench gives one only at its arm", r.Geometry.Form))
		case !r.Path.Moment() && r.Geometry.Form.TakesMoment():
			errs = append(errs, fault("form", "torque takes a moment, and a %s gives a force: take a bending form, or a torque wrench without an arm", r.Path))
		}
	}
	if cal != nil {
		if r.Path.Takes != ForceKind {
			errs = append(errs, fault("quantity", "the calibration gives a force, and the path takes %s: choose force, or read without a calibration", r.Path.Takes))
		}
		if r.Sensor.Unit != "" && r.Sensor.Unit != cal.ShownUnit {
			errs = append(errs, fault("unit", "the sensor shows %s, and the calibration was made with it showing %s: set the display to %s, or calibrate again", r.Sensor.Unit, cal.ShownUnit, cal.ShownUnit))
		}
		return errors.Join(errs...)
	}
	return errors.Join(append(errs, r.Sensor.check(r.Path.Takes))...)
}

func (r Rig) loadUnit() string {
	_, unit := r.Path.load()
	return unit
}

// check looks at a sensor that is read without a calibration.
func (s Sensor) check(k Kind) error {
	if k.inside() == "" {
		return nil // the path has said so
	}
	var errs []error
	if _, err := unitOf(s.Unit, k); err != nil {
		if s.Unit == "" || s.Unit == "counts" {
			err = fault("unit", "without a calibration %q has no meaning as a %s: calibrate the sensor, or write the unit that it shows", s.Unit, k)
		}
		errs = append(errs, err)
	}
	number := func(field string, v, most float64, advice string) {
		if !(v >= 0 && v <= most) {
			errs = append(errs, fault(field, "%v: %s", v, advice))
		}
	}
	if !(s.Resolution > 0) || math.IsInf(s.Resolution, 0) {
		errs = append(errs, fault("resolution", "%v %s: write the smallest step of the display, above 0", s.Resolution, s.Unit))
	}
	number("range", s.Range, math.MaxFloat64, "write the largest that it shows, or 0 where that is not known")
	number("accuracy", s.AccuracyPct, 100, "write per cent of the reading, 0 to 100")
	number("accuracy", s.AccuracyRangePct, 100, "write per cent of the range, 0 to 100")
	if s.AccuracyRangePct > 0 && s.Range == 0 {
		errs = append(errs, fault("range", "is missing: an accuracy in per cent of the range needs it"))
	}
	return errors.Join(errs...)
}

// chain starts from what an uncalibrated sensor shows and gives N, kg, MPa or N·mm.
// The sensor has been checked.
func (s Sensor) chain(shown, zero float64, k Kind) (chain, error) {
	if v := shown - zero; math.IsNaN(v) || math.IsInf(v, 0) {
		return chain{}, fault("reading", "shown %v, zero %v: both have to be finite", shown, zero)
	}
	u, err := unitOf(s.Unit, k)
	if err != nil {
		return chain{}, err
	}
	v := shown - zero
	stated := budget.Within("accuracy stated by the maker", 0, s.Unit, math.Abs(v)*s.AccuracyPct/100+s.Range*s.AccuracyRangePct/100, budget.Rectangular)
	stated.Shared = true
	c := chain{value: v, by: []float64{1, 1}, eval: func(x []float64) float64 { return x[0] + x[1] },
		inputs: []budget.Input{budget.Within("reading and zero, by the resolution", v, s.Unit, s.Resolution, budget.Triangular), stated}}
	return c.times(u.factor), nil
}

// chain is the whole way from what is shown to the load.
func (r Rig) chain(shown, zero float64, cal *Calibration) (atSensor float64, load chain, err error) {
	if err := r.Check(cal); err != nil {
		return 0, chain{}, err
	}
	var c chain
	if cal != nil {
		c, err = cal.chain(shown, zero)
	} else {
		c, err = r.Sensor.chain(shown, zero, r.Path.Takes)
	}
	if err != nil {
		return 0, chain{}, err
	}
	return c.value, r.Path.then(c), nil
}

// Read returns what a number of the display means: the load on the specimen and its
// nominal stress in MPa, each with its budget, and what to know about them. zero is
// what was shown at no load just before, 0 where the display was set to zero. cal is
// the calibration of the sensor, or nil where it is taken by what its maker states.
//
// The errors are those of Check, and that no force gives this reading. A reading
// outside the calibrated range is no error: Span and Warnings say so.
func (r Rig) Read(shown, zero float64, cal *Calibration) (Reading, error) {
	atSensor, load, err := r.chain(shown, zero, cal)
	if err != nil {
		return Reading{}, err
	}
	name, unit := r.Path.load()
	out := Reading{Shown: shown, Zero: zero, Unit: r.Sensor.Unit, Span: Uncalibrated, Load: load.budget(name, unit)}
	out.Stress = r.Geometry.then(load).budget("nominal "+r.Geometry.Form.Stress()+" stress", "MPa")
	say := func(s string) {
		if s != "" {
			out.Warnings = append(out.Warnings, s)
		}
	}
	if cal != nil {
		var words string
		out.Unit, out.Calibration = cal.ShownUnit, cal.Key()
		out.Span, words = cal.span(atSensor)
		say(words)
	} else if r.Sensor.AccuracyPct == 0 && r.Sensor.AccuracyRangePct == 0 {
		say("the sensor is not calibrated and its accuracy is not stated: the uncertainty covers its resolution only")
	}
	if r.Sensor.Range > 0 && math.Abs(shown) >= r.Sensor.Range {
		say(fmt.Sprintf("%v %s is the end of the sensor's range: the load may have been more", shown, r.Sensor.Unit))
	}
	if out.Load.Value <= 0 {
		say(fmt.Sprintf("the load comes out as %s %s: check the zero, and the direction of the sensor", round(out.Load.Value, 3), unit))
	}
	limits, err := NewLimits(r.Rated, unit)
	if err != nil {
		return Reading{}, err
	}
	level, words := limits.At(out.Load.Value)
	out.Level = level
	say(words)
	return out, nil
}

// MonteCarlo checks the budget of a reading's stress by drawing all its inputs n
// times; see budget.Budget.Check. The errors are those of Read. It panics on fewer
// draws than budget.MinDraws.
func (r Rig) MonteCarlo(shown, zero float64, cal *Calibration, n int, rng *rand.Rand) (budget.MonteCarlo, error) {
	_, load, err := r.chain(shown, zero, cal)
	if err != nil {
		return budget.MonteCarlo{}, err
	}
	stress := r.Geometry.then(load)
	return stress.budget("nominal "+r.Geometry.Form.Stress()+" stress", "MPa").Check(stress.eval, n, rng), nil
}
