package rig

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"bondtrial/internal/rig/fit"
)

// Direction says whether a load was reached by hanging up or by taking down.
type Direction string

const (
	Up   Direction = "up"
	Down Direction = "down"
)

// Point is one known load and what was shown at it.
type Point struct {
	Series    string    `json:"series"`
	Direction Direction `json:"direction"`
	Load      float64   `json:"load"` // all that hangs, in Unit; 0: nothing
	Unit      string    `json:"unit"` // kg or N
	Shown     float64   `json:"shown"`
	Line      int       `json:"line,omitempty"` // in the file it was read from
}

// Conditions are what a calibration needs beside its points.
type Conditions struct {
	Sensor     string   `json:"sensor"`     // its name
	ShownUnit  string   `json:"shown_unit"` // counts, or what the display shows, as N
	Resolution float64  `json:"resolution"` // the smallest step of what is shown, in ShownUnit
	Date       string   `json:"date"`       // of the calibration, year-month-day
	Expires    string   `json:"expires,omitempty"`
	Gravity    *Gravity `json:"gravity,omitempty"` // of the place; needed where a load is in kg
	Weights    Weights  `json:"weights"`           // how well the known loads are known; for loads in N the accuracy alone
	Note       string   `json:"note,omitempty"`
}

// Calibration is the curve from a known force to what is shown, everything it was
// made of, and how good it is. All fields are exported and go through JSON and back
// without loss: a reading that keeps its calibration keeps its meaning.
type Calibration struct {
	Conditions
	Points   []Point     `json:"points"`
	Program  string      `json:"program"`   // the method and its version, Method
	FromZero bool        `json:"from_zero"` // what is shown counts from what is shown at no load, else as it stands
	Curve    fit.Poly    `json:"curve"`     // from N to what is shown, in ShownUnit
	Choice   Choice      `json:"choice"`
	LowN     float64     `json:"low_n"` // the calibrated range: the smallest
	HighN    float64     `json:"high_n"`
	Steps    []Step      `json:"steps"`
	Figures  Figures     `json:"figures"`
	Classes  []ClassSpan `json:"classes,omitempty"` // that the figures would meet, best first
	NoClass  string      `json:"no_class,omitempty"`
	Limits   string      `json:"class_limits_source"` // ClassSource
	Warnings []string    `json:"warnings,omitempty"`
}

// Method names the method of this package and its version, for calibrations that
// are kept.
const Method = "dead weights, least squares on the shown value, version 1"

// Choice is why the curve is straight or not.
type Choice struct {
	Quadratic bool    `json:"quadratic"`
	Tested    bool    `json:"tested"` // F and P hold
	F         float64 `json:"f,omitempty"`
	DF        int     `json:"df,omitempty"` // F has 1 and DF degrees of freedom
	P         float64 `json:"p,omitempty"`
	BendN     float64 `json:"bend_n"` // the largest distance between the two curves in the range, N; 0 where only one was fitted
	Why       string  `json:"why"`
}

// QuadraticLevel is the chance below which an F counts against the straight line.
// Common practice, no source.
const QuadraticLevel = 0.01

// looseR2 is the share of explained variance under which what is shown does not
// follow the load. Common practice, no source.
const looseR2 = 0.99

// Calibrate makes a calibration from known loads.
//
// Where every series has a reading at no load (Load 0, Up, before its first load)
// what is shown counts from there, as a break counts from its quiet start; those
// readings set the zero, later ones at no load show how it returns, and neither is
// a point of the curve. Where no series has one, what is shown counts as it stands.
// Readings up and down are all points of one curve. A straight line and, from four
// different loads, a quadratic are fitted; the quadratic is taken where the F test
// of its term has a p below QuadraticLevel. Readings of one series are not quite
// independent, so that p is a guide and not a proof.
//
// The error holds everything that is in the way, joined.
func Calibrate(points []Point, c Conditions) (*Calibration, error) {
	k := &Calibration{Conditions: c, Points: slices.Clone(points), Program: Method, Limits: ClassSource}
	if err := errors.Join(c.check(points), k.checkPoints()); err != nil {
		return nil, err
	}
	loads := k.loads()
	var x, y []float64
	for _, p := range loads {
		x, y = append(x, p.force), append(y, p.y)
	}
	if n := len(different(x)); n < 3 {
		return nil, fmt.Errorf("%d different loads do not show whether the sensor is straight: hang at least 3, better 5 or more, up to what the breaks will reach", n)
	}
	if err := k.choose(x, y); err != nil {
		return nil, err
	}
	k.LowN, k.HighN = slices.Min(x), slices.Max(x)
	if err := k.usable(); err != nil {
		return nil, err
	}
	k.figure(loads)
	k.steps(loads)
	k.classify()
	k.warn(loads)
	return k, nil
}

// check looks at everything but the points.
func (c Conditions) check(points []Point) error {
	var errs []error
	if c.ShownUnit == "" {
		errs = append(errs, fault("unit", "what is shown has no unit: write counts, or what stands on the display, as N"))
	}
	if !(c.Resolution >= 1e-15 && c.Resolution <= mostShown) {
		errs = append(errs, fault("resolution", "%v %s: write the smallest step of what is shown, above 0", c.Resolution, c.ShownUnit))
	}
	made, err := day("date", c.Date)
	errs = append(errs, err, c.Weights.check())
	if c.Expires != "" {
		ends, eerr := day("expiry", c.Expires)
		errs = append(errs, eerr)
		if err == nil && eerr == nil && ends.Before(made) {
			errs = append(errs, fault("expiry", "%s is before the calibration of %s", c.Expires, c.Date))
		}
	}
	inKG := slices.ContainsFunc(points, func(p Point) bool { return p.Unit == "kg" })
	switch {
	case inKG && c.Gravity == nil:
		errs = append(errs, fault("gravity", "is missing, and loads are given in kg: give the place's latitude and height"))
	case c.Gravity != nil:
		errs = append(errs, c.Gravity.check())
	}
	return errors.Join(errs...)
}

// What no rig on a bench goes beyond; it keeps the arithmetic far from its ends.
const (
	leastLoad = 1e-6 // kg or N
	mostLoad  = 1e9
	mostShown = 1e15
)

// dateForm is how dates are written.
const dateForm = "2006-01-02"

func day(field, s string) (time.Time, error) {
	t, err := time.Parse(dateForm, s)
	if err != nil {
		return t, fault(field, "%q is no date: write year-month-day, as 2026-03-14", s)
	}
	return t, nil
}

// where names a point in a message.
func (p Point) where() string {
	if p.Line > 0 {
		return fmt.Sprintf("line %d", p.Line)
	}
	return fmt.Sprintf("series %s, %v %s %s", p.Series, p.Load, p.Unit, p.Direction)
}

// checkPoints looks at each point, and at the zeros of each series.
func (k *Calibration) checkPoints() error {
	var errs []error
	with, without := "", ""
	seen := map[string]bool{}
	for _, p := range k.Points {
		switch {
		case p.Load != 0 && !(p.Load >= leastLoad && p.Load <= mostLoad):
			errs = append(errs, fault(p.where(), "a load of %v %s: write 0, or %v to %v", p.Load, p.Unit, leastLoad, mostLoad))
		case !(math.Abs(p.Shown) <= mostShown):
			errs = append(errs, fault(p.where(), "shown %v: write at most %v", p.Shown, mostShown))
		case p.Unit != "kg" && p.Unit != "N":
			errs = append(errs, fault(p.where(), "a load in %q: write kg or N", p.Unit))
		case p.Direction != Up && p.Direction != Down:
			errs = append(errs, fault(p.where(), "direction %q: write up or down", string(p.Direction)))
		}
		if seen[p.Series] {
			continue
		}
		seen[p.Series] = true
		if k.hasZero(p.Series) {
			with = p.Series
		} else {
			without = p.Series
			if slices.ContainsFunc(k.Points, func(q Point) bool { return q.Series == p.Series && q.Load == 0 }) {
				errs = append(errs, fault("series "+p.Series, "has a reading at no load after its loads and none before: read it before the first load as well, direction up"))
				with, without = "", ""
			}
		}
	}
	if with != "" && without != "" {
		errs = append(errs, fault("series "+without, "has no reading at no load, and series %s has: read one before the first load of every series", with))
	}
	k.FromZero = with != ""
	return errors.Join(errs...)
}

func (k *Calibration) hasZero(series string) bool {
	return slices.ContainsFunc(k.Points, func(q Point) bool { return q.Series == series && q.Load == 0 && q.Direction == Up })
}

// loaded is a point of the curve.
type loaded struct {
	Point
	force float64 // N
	y     float64 // what is shown, from zero where the calibration is
}

// loads returns the points with a load, and notes how the zero returns.
func (k *Calibration) loads() []loaded {
	zero, had := map[string]float64{}, map[string]bool{}
	for _, p := range k.Points {
		if p.Load == 0 && p.Direction == Up && !had[p.Series] {
			zero[p.Series], had[p.Series] = p.Shown, true
		}
	}
	var all []loaded
	first := map[string]bool{}
	for _, p := range k.Points {
		if p.Load > 0 {
			force := p.Load
			if p.Unit == "kg" {
				force = k.Gravity.DeadWeight(p.Load, k.Weights)
			}
			all = append(all, loaded{p, force, p.Shown - zero[p.Series]})
			continue
		}
		if p.Direction == Up && !first[p.Series] {
			first[p.Series] = true
			continue
		}
		k.Figures.Zero = most(k.Figures.Zero, math.Abs(p.Shown-zero[p.Series]))
	}
	return all
}

// most is the larger of a figure that may not be known and another.
func most(a *float64, b float64) *float64 {
	if a != nil && *a >= b {
		return a
	}
	return &b
}

func different(x []float64) []float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return slices.CompactFunc(s, sameLoad)
}

// sameLoad reports whether two forces are one load: equal but for rounding.
func sameLoad(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(math.Abs(a), math.Abs(b)) }

// choose fits the curves and takes one.
func (k *Calibration) choose(x, y []float64) error {
	straight, err := fit.New(x, y, 1)
	if err != nil {
		return fmt.Errorf("fitting what is shown against the load: %w", err)
	}
	k.Curve = straight
	span := slices.Max(y) - slices.Min(y)
	exact := func(p fit.Poly) bool { return math.Sqrt(p.SS/float64(p.N)) <= 1e-12*span }
	quadratic, err := fit.New(x, y, 2)
	switch {
	case len(different(x)) < 4 || err != nil:
		k.Choice.Why = "a straight line was taken: a bend shows only with four or more different loads"
	case exact(straight):
		k.Choice.Why = "a straight line was taken: every reading lies on it"
	case exact(quadratic):
		k.Curve = quadratic
		k.Choice.Quadratic = true
		k.Choice.Why = "a quadratic was taken: every reading lies on it, and not on a straight line"
	default:
		k.test(straight, quadratic)
	}
	if k.Choice.Quadratic || k.Choice.Tested {
		k.Choice.BendN = apart(straight, quadratic, slices.Min(x), slices.Max(x))
	}
	if k.Choice.Tested {
		k.Choice.Why += fmt.Sprintf("; the two are at most %s apart", newtons(k.Choice.BendN))
	}
	return nil
}

// test takes the quadratic where its term is more than chance.
func (k *Calibration) test(straight, quadratic fit.Poly) {
	f, p, _ := fit.FTest(straight, quadratic)
	k.Choice.Tested, k.Choice.F, k.Choice.DF, k.Choice.P = true, f, quadratic.DF, p
	figures := fmt.Sprintf("F = %.3g on 1 and %d degrees of freedom, %s", f, quadratic.DF, chance(p))
	if p < QuadraticLevel {
		k.Curve, k.Choice.Quadratic = quadratic, true
		k.Choice.Why = "a quadratic was taken: the readings bend away from a straight line by more than their scatter explains (" + figures + ")"
		return
	}
	k.Choice.Why = "a straight line was taken: a quadratic would follow the readings no better than chance explains (" + figures + ")"
}

// apart is the largest distance of two curves in N, at 101 loads of the range.
func apart(straight, quadratic fit.Poly, low, high float64) float64 {
	d := 0.0
	for i := range 101 {
		at := low + (high-low)*float64(i)/100
		d = max(d, math.Abs((quadratic.At(at)-straight.At(at))/straight.Slope(at)))
	}
	return dust(d, high-low)
}

// usable reports whether the curve can be read backwards.
func (k *Calibration) usable() error {
	if k.Curve.R2 < looseR2 {
		return fmt.Errorf("what is shown follows the load only loosely (R² = %.3f): check the wiring, the unit of the loads and that each value stands beside its own load", k.Curve.R2)
	}
	mean := (k.Curve.At(k.HighN) - k.Curve.At(k.LowN)) / (k.HighN - k.LowN)
	for _, at := range []float64{k.LowN, k.HighN} {
		if k.Curve.Slope(at)/mean < 0.2 { // a fifth of the mean slope; common practice, no source
			return fmt.Errorf("what is shown hardly changes with the load at %s, or turns back: the sensor cannot be read there; leave out the loads beyond, or mend what stops it", newtons(at))
		}
	}
	return nil
}
