package rig

import (
	"fmt"
	"math"

	"bondtrial/internal/rig/budget"
)

// Span says where a reading lies against the calibrated range.
type Span string

const (
	Inside       Span = "inside"       // the calibrated range
	Below        Span = "below"        // it
	Above        Span = "above"        // it
	Uncalibrated Span = "uncalibrated" // there is none
)

// Force is what a calibration makes of a reading.
type Force struct {
	Newtons float64       `json:"newtons"`
	Budget  budget.Budget `json:"budget"`
	Span    Span          `json:"span"`
	Words   string        `json:"words,omitempty"` // what to know about the Span; empty inside
}

// Force returns the force that a reading stands for, with its budget, and says
// where it lies outside the calibrated range: the curve was never tested there, and
// the uncertainty does not cover what it does.
//
// zero is what was shown at no load just before, in the same unit; where the
// calibration does not count from zero it has to be 0. The error says that no force
// gives this reading.
func (k *Calibration) Force(shown, zero float64) (Force, error) {
	c, err := k.chain(shown, zero)
	if err != nil {
		return Force{}, err
	}
	f := Force{Newtons: c.value, Budget: c.budget("force at the sensor", "N")}
	f.Span, f.Words = k.span(c.value)
	return f, nil
}

// span says where a force lies against the calibrated range.
func (k *Calibration) span(force float64) (Span, string) {
	switch {
	case force < k.LowN*(1-1e-9):
		return Below, fmt.Sprintf("%s is below the calibrated range of %s to %s: the curve was not tested there, and the uncertainty covers the tested range only; calibrate with smaller loads",
			newtons(force), newtons(k.LowN), newtons(k.HighN))
	case force > k.HighN*(1+1e-9):
		return Above, fmt.Sprintf("%s is above the calibrated range of %s to %s by %s %%: the curve was not tested there, and the uncertainty covers the tested range only; calibrate with larger loads",
			newtons(force), newtons(k.LowN), newtons(k.HighN), brief(100*(force/k.HighN-1), 2))
	}
	return Inside, ""
}

// chain starts from what is shown and gives the force at the sensor.
func (k *Calibration) chain(shown, zero float64) (chain, error) {
	if math.IsNaN(shown-zero) || math.IsInf(shown-zero, 0) {
		return chain{}, fault("reading", "shown %v, zero %v: both have to be finite", shown, zero)
	}
	if !k.FromZero && zero != 0 {
		return chain{}, fault("zero", "%v %s, and the calibration does not count from zero, because nothing was read at no load: give what is shown alone, or calibrate again with readings at no load", zero, k.ShownUnit)
	}
	y := shown - zero
	force, ok := k.Curve.Inverse(y)
	if !ok {
		return chain{}, fault("reading", "no force shows %v %s by this calibration: its curve turns before", y, k.ShownUnit)
	}
	per := 1 / k.Curve.Slope(force) // N for a unit of what is shown
	inputs := []budget.Input{k.readingInput(y)}
	for _, in := range k.deviations(force) {
		in.Unit = k.ShownUnit
		inputs = append(inputs, in)
	}
	c := chain{value: force, inputs: inputs}
	for range inputs {
		c.by = append(c.by, per)
	}
	c.inputs = append(c.inputs, budget.Input{Name: "known loads of the calibration", Value: 1, Unit: "1", U: k.Figures.ReferencePct / 100, Dist: budget.Normal, Shared: true})
	c.by = append(c.by, force)
	c.eval = func(x []float64) float64 {
		sum := 0.0
		for _, v := range x[:len(inputs)] {
			sum += v
		}
		f, ok := k.Curve.Inverse(sum)
		if !ok {
			return math.NaN()
		}
		return f * x[len(inputs)]
	}
	return c, nil
}

// readingInput is the reading with its resolution: that of the zero as well where
// one is taken off.
func (k *Calibration) readingInput(y float64) budget.Input {
	if k.FromZero {
		return budget.Within("reading and zero, by the resolution", y, k.ShownUnit, k.Resolution, budget.Triangular)
	}
	return budget.Within("reading, by the resolution", y, k.ShownUnit, k.Resolution/2, budget.Rectangular)
}

// deviations are what may have been added to what is shown: all have the value 0.
func (k *Calibration) deviations(force float64) []budget.Input {
	f := k.Figures
	in := []budget.Input{
		{Name: "repeatability", U: f.Repeatability, Dist: budget.Normal, DF: float64(f.RepeatabilityDF)},
		{Name: "calibration band", U: k.Curve.BandSD(force), Dist: budget.Normal, DF: float64(k.Curve.DF), Shared: true},
		budget.Within("departure from the curve", 0, "", f.Departure, budget.Rectangular),
	}
	in[2].Shared = true
	if f.Reversibility != nil {
		r := budget.Within("reversibility", 0, "", *f.Reversibility/2, budget.Rectangular)
		r.Shared = true
		in = append(in, r)
	}
	if f.Zero != nil {
		in = append(in, budget.Within("return of the zero", 0, "", *f.Zero, budget.Rectangular))
	}
	return in
}
