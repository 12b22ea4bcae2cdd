package rig

import (
	"errors"

	"bondtrial/internal/rig/budget"
)

// Path is the way from what the sensor measures to the load on the specimen:
//
//	direct cell         Takes force
//	hanging masses      Takes mass, with Gravity and Weights
//	piston with gauge   Takes pressure, with Piston
//	torque wrench       Takes torque; with Wrench the force at its arm, without it the moment
//	lever               any of these, and Lever
//
// Where the calibration's known loads took the place of the specimen, lever and
// all are inside the calibration and the path is a direct one.
type Path struct {
	Takes   Kind     `json:"takes"`
	Piston  *Piston  `json:"piston,omitempty"`
	Wrench  *Wrench  `json:"wrench,omitempty"`
	Lever   *Lever   `json:"lever,omitempty"`
	Gravity *Gravity `json:"gravity,omitempty"` // for masses and for the lever's own weight
	Weights *Weights `json:"weights,omitempty"` // for masses
}

// Piston is a hydraulic or pneumatic piston: F = p A.
type Piston struct {
	Area Measured `json:"area_mm2"`
}

// Wrench is a torque wrench that presses or pulls at the end of an arm: F = M/r.
type Wrench struct {
	Arm Measured `json:"arm_mm"` // from the axis to where the specimen is loaded
}

// Lever is a straight lever that lies level at the break, with its pivot, the
// specimen and the load at distances measured along it:
//
//	F = (L a + m g c)/b
//
// with the load L at the distance a, the specimen at b, and the lever's own mass m
// with its centre at c. The centre is positive where the lever's weight adds to the
// load, negative where it takes from it. A display that was set to zero with the
// lever in place does not show the lever's weight; the specimen bears it all the
// same.
type Lever struct {
	LoadArm     Measured `json:"load_arm_mm"`     // a
	SpecimenArm Measured `json:"specimen_arm_mm"` // b
	Mass        Measured `json:"mass_kg"`         // m; all 0: the lever is balanced
	Centre      Measured `json:"centre_mm"`       // c
}

// String names the path in the words of the trade.
func (p Path) String() string {
	s := map[Kind]string{ForceKind: "direct cell", MassKind: "hanging masses", PressureKind: "piston with gauge", TorqueKind: "torque wrench"}[p.Takes]
	if s == "" {
		return "unknown force path"
	}
	if p.Lever != nil {
		return s + " on a lever"
	}
	return s
}

// Moment reports whether the path gives a moment in N·mm and no force.
func (p Path) Moment() bool { return p.Takes == TorqueKind && p.Wrench == nil }

// Check returns nil where a load can be computed, else all that is in the way as
// joined errors, each a *FieldError that names what is missing or cannot be right.
func (p Path) Check() error {
	errs := []error{p.checkTakes()}
	if w := p.Wrench; w != nil {
		errs = append(errs, w.Arm.check("arm of the torque wrench", "mm", "measure from the axis to where the specimen is loaded", 0, longestDimension))
	}
	if l := p.Lever; l != nil {
		errs = append(errs, l.check())
		if p.Moment() {
			errs = append(errs, fault("lever", "a lever takes a force, and a torque wrench without an arm gives a moment: give the arm of the wrench, or leave the lever out"))
		}
	}
	if p.Takes == MassKind || p.Lever != nil && p.Lever.Mass.Value != 0 {
		if p.Gravity == nil {
			errs = append(errs, fault("gravity", "is missing: give the place's latitude and height"))
		} else {
			errs = append(errs, p.Gravity.check())
		}
	}
	return errors.Join(errs...)
}

// checkTakes looks at what goes with the kind of reading.
func (p Path) checkTakes() error {
	errs := []error{}
	switch p.Takes {
	case ForceKind, TorqueKind:
	case MassKind:
		if p.Weights == nil {
			errs = append(errs, fault("masses", "how well they are known is missing: give their accuracy in per cent"))
		} else {
			errs = append(errs, p.Weights.check())
		}
	case PressureKind:
		if p.Piston == nil {
			errs = append(errs, fault("piston", "its area is missing: measure its diameter, π d²/4"))
		} else {
			errs = append(errs, p.Piston.Area.check("area of the piston", "mm²", "compute it from the measured diameter, π d²/4", 0, 1e7))
		}
	default:
		return fault("quantity", "%q is not one that a sensor shows: write force, mass, pressure or torque", string(p.Takes))
	}
	if p.Wrench != nil && p.Takes != TorqueKind {
		errs = append(errs, fault("torque wrench", "goes with torque, and the sensor shows %s", p.Takes))
	}
	if p.Piston != nil && p.Takes != PressureKind {
		errs = append(errs, fault("piston", "goes with pressure, and the sensor shows %s", p.Takes))
	}
	return errors.Join(errs...)
}

func (l Lever) check() error {
	errs := []error{
		l.LoadArm.check("load arm of the lever", "mm", "measure from the pivot to the load", 0, longestDimension),
		l.SpecimenArm.check("specimen arm of the lever", "mm", "measure from the pivot to the specimen", 0, longestDimension),
	}
	if l.Mass != (Measured{}) || l.Centre != (Measured{}) {
		errs = append(errs, l.Mass.check("mass of the lever", "kg", "weigh it", 0, 1000),
			l.Centre.check("centre of the lever", "mm", "find where it balances, and measure from the pivot", -longestDimension, longestDimension))
	}
	return errors.Join(errs...)
}

// Load returns the load on the specimen, N or N·mm, from a reading in N, kg, MPa or
// N·mm as Takes says, with the budget of its uncertainty. The error is that of
// Check.
func (p Path) Load(reading budget.Input) (budget.Budget, error) {
	if err := p.Check(); err != nil {
		return budget.Budget{}, err
	}
	start := chain{value: reading.Value, inputs: []budget.Input{reading}, by: []float64{1}, eval: func(x []float64) float64 { return x[0] }}
	return p.then(start).budget(p.load()), nil
}

// load is the name and unit of what the path gives.
func (p Path) load() (name, unit string) {
	if p.Moment() {
		return "moment on the specimen", "N·mm"
	}
	return "force on the specimen", "N"
}

// then leads a chain on from the reading to the load. The path has been checked.
func (p Path) then(c chain) chain {
	switch p.Takes {
	case MassKind:
		c = p.hang(c)
	case PressureKind:
		area := p.Piston.Area
		c = c.then(func(v float64, x []float64) float64 { return v * x[0] }, area.Value,
			[]budget.Input{area.input("area of the piston", "mm²", true)}, []float64{c.value})
	case TorqueKind:
		if p.Wrench != nil {
			r := p.Wrench.Arm
			c = c.then(func(v float64, x []float64) float64 { return v / x[0] }, 1/r.Value,
				[]budget.Input{r.input("arm of the torque wrench", "mm", true)}, []float64{-c.value / (r.Value * r.Value)})
		}
	}
	if p.Lever != nil {
		c = p.lever(c)
	}
	return c
}

// hang makes a mass a force: m (1 + e) g (1 − b).
func (p Path) hang(c chain) chain {
	known := budget.Within("masses as written on them", 1, "1", p.Weights.AccuracyPct/100, budget.Rectangular)
	known.Shared = true
	air, m, g := p.Weights.buoyancy(), c.value, p.Gravity.Value
	return c.then(func(v float64, x []float64) float64 { return v * x[0] * x[1] * (1 - x[2]) }, g*(1-air.Value),
		[]budget.Input{known, p.Gravity.input(), air}, []float64{m * g * (1 - air.Value), m * (1 - air.Value), -m * g})
}

func (p Path) lever(c chain) chain {
	l := p.Lever
	a, b := l.LoadArm.Value, l.SpecimenArm.Value
	arms := []budget.Input{l.LoadArm.input("load arm of the lever", "mm", true), l.SpecimenArm.input("specimen arm of the lever", "mm", true)}
	if l.Mass.Value == 0 {
		return c.then(func(v float64, x []float64) float64 { return v * x[0] / x[1] }, a/b, arms,
			[]float64{c.value / b, -c.value * a / (b * b)})
	}
	m, at, g := l.Mass.Value, l.Centre.Value, p.Gravity.Value
	f := (c.value*a + m*g*at) / b
	return c.then(func(v float64, x []float64) float64 { return (v*x[0] + x[2]*x[4]*x[3]) / x[1] }, a/b,
		append(arms, l.Mass.input("mass of the lever", "kg", true), l.Centre.input("centre of the lever", "mm", true), p.Gravity.input()),
		[]float64{c.value / b, -f / b, g * at / b, m * g / b, m * at / b})
}
