package record

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"bondtrial/internal/logbook"
	"bondtrial/internal/rig"
	"bondtrial/internal/table"
)

// MostReadings is the largest number of readings of a calibration that is kept.
const MostReadings = 2000

// Calibrated is a calibration of the rig. The table it was made from comes as a file
// with the role "calibration". What was read with a calibration keeps it: a later one
// changes nothing that is recorded.
type Calibrated struct {
	Key         string // of the calibration, which readings name
	Calibration *rig.Calibration
}

// CalibratedAt is a calibration with its entry.
type CalibratedAt struct {
	Stamp
	Calibrated
}

func (Calibrated) kind() string          { return "calibrated" }
func (c Calibrated) claim(string) string { return "calibration/" + c.Key }

// check returns nil where the calibration is what its own readings give.
func (c Calibrated) check() error {
	k := c.Calibration
	if k == nil {
		return refuse("table", "a calibration without its readings")
	}
	if n := len(k.Points); n > MostReadings {
		return refuse("table", "%d readings: at most %d are kept; give the mean of each load in each series", n, MostReadings)
	}
	err := errors.Join(unitName("unit", k.ShownUnit), text("sensor", k.Sensor, longestName), text("note", k.Note, longestText))
	if table.Name(k.Sensor) != k.Sensor {
		err = errors.Join(err, refuse("sensor", "sensor: write it in one line"))
	}
	for _, p := range k.Points {
		if err == nil {
			err = text("table", p.Series, longestName)
		}
	}
	if err != nil {
		return err
	}
	again, err := rig.Calibrate(k.Points, k.Conditions)
	if err != nil {
		return refuse("table", "%v", err)
	}
	if again.Key() != c.Key {
		return refuse("table", "the calibration is not what its readings give: make it again")
	}
	raw, err := json.Marshal(c)
	if err == nil && len(raw) > logbook.MaxContent {
		err = refuse("table", "the table has more than one entry of the logbook holds: give the mean of each load in each series")
	}
	return err
}

// unitName checks the name of a unit that a sensor shows.
func unitName(field, s string) error {
	if err := name(field, s); err != nil {
		return err
	}
	if len([]rune(s)) > 20 || table.Name(s) != s {
		return refuse(field, "%s: write the unit in at most 20 letters, such as counts or N", field)
	}
	return nil
}

// readCalibrated reads a calibration; one without a curve is an error, as everything
// after relies on it.
func readCalibrated(raw json.RawMessage) (Content, error) {
	var c Calibrated
	if err := json.Unmarshal(raw, &c); err != nil {
		return nil, err
	}
	if c.Calibration == nil || len(c.Calibration.Curve.C) < 2 || len(c.Calibration.Steps) == 0 {
		return nil, errors.New("a calibration without a curve")
	}
	return c, nil
}

// Latest returns the calibration that was made last, on a day (year-month-day) or
// before it; of several of one date the one written last. nil: there is none.
func (t *Things) Latest(on string) *CalibratedAt {
	var last *CalibratedAt
	for i := range t.Calibrations { // the latest written first
		c := &t.Calibrations[i]
		if c.Calibration.Date <= on && (last == nil || cmp.Compare(c.Calibration.Date, last.Calibration.Date) > 0) {
			last = c
		}
	}
	return last
}

// InForce returns the calibration that holds on a day (year-month-day): the latest,
// unless it has run out. nil: there is none.
func (t *Things) InForce(on string) *CalibratedAt {
	last := t.Latest(on)
	if last == nil {
		return nil
	}
	if holds, _, err := last.Calibration.Standing(on); err != nil || !holds {
		return nil
	}
	return last
}

// Calibration returns the calibration of a key, also one that was taken back since:
// readings keep what they were made with. nil: the logbook has none of that key.
func (t *Things) Calibration(key string) *rig.Calibration { return calibrationIn(t.Entries, key) }

func calibrationIn(entries []Entry, key string) *rig.Calibration {
	if key == "" {
		return nil
	}
	for _, e := range slices.Backward(entries) {
		if c, ok := e.Content.(Calibrated); ok && c.Key == key {
			return c.Calibration
		}
	}
	return nil
}

// ReadBy returns the nominal stress, MPa, of what was shown at a break by a
// calibration: its force over the bonded area in mm². zero is what was shown at no
// load. The error, a *Refused, says what cannot be right. That a force lies outside
// the calibrated range is none; see rig.Force.
func ReadBy(k *rig.Calibration, shown, zero, areaMM2 float64) (mpa float64, f rig.Force, err error) {
	if !(areaMM2 > 0) {
		return 0, f, refuse("areamm2", "a force needs the bonded area to become a strength: give it in mm²")
	}
	if f, err = k.Force(shown, zero); err != nil {
		field, words := "peak", err.Error()
		var at *rig.FieldError
		if errors.As(err, &at) {
			words = at.Message
			if at.Field == "zero" {
				field = "zero"
			}
		}
		return 0, f, refuse(field, "by the calibration of %s: %s", k.Date, words)
	}
	return f.Newtons / areaMM2, f, nil
}

// agrees returns an error where a content names a calibration and does not go with it.
func (b *Book) agrees(ctx context.Context, c Content) error {
	var key, unit string
	broken, isBreak := c.(Broken)
	switch c := c.(type) {
	case Broken:
		key, unit = c.Calibration, c.Unit
	case RigCheck:
		key, unit = c.Calibration, c.Unit
	}
	if key == "" {
		return nil
	}
	at, err := b.refresh(ctx, "", b.mark(""))
	if err != nil {
		return err
	}
	k := calibrationIn(at.Entries, key)
	switch {
	case k == nil:
		return refuse("unit", "the logbook does not have the calibration that this was read with: load the page again")
	case k.ShownUnit != unit:
		return refuse("unit", "unit: the calibration of %s reads %s and not %s", k.Date, k.ShownUnit, unit)
	case !isBreak:
		return nil
	}
	mpa, _, err := ReadBy(k, broken.Peak, broken.Zero, broken.AreaMM2)
	if err != nil {
		return err
	}
	if math.Abs(mpa-broken.Strength) > agreeing*math.Abs(mpa) && !(broken.Strength == 0 && broken.SetAside != "" && mpa <= 0) {
		return refuse("peak", "%s over %s mm² are %.6g MPa by the calibration and not %.6g: send it again", broken.read(), number(broken.AreaMM2), mpa, broken.Strength)
	}
	return nil
}

// checkRead checks a break that was read by a calibration, as far as that goes
// without the calibration.
func (b Broken) checkRead() error {
	for _, x := range []float64{b.Peak, b.Zero} {
		if math.IsNaN(x) || math.Abs(x) > mostShown {
			return refuse("peak", "what was shown is a number up to %g", mostShown)
		}
	}
	if !(b.AreaMM2 > 0) || math.IsInf(b.AreaMM2, 0) {
		return refuse("areamm2", "a force needs the bonded area to become a strength: give it in mm²")
	}
	return unitName("unit", b.Unit)
}

// mostShown is the largest number that a sensor shows, as in package rig.
const mostShown = 1e15

// read is what was read off with its unit, and the zero where there was one.
func (b Broken) read() string {
	s := number(b.Peak) + " " + b.Unit
	if b.Zero != 0 {
		s += " (" + number(b.Zero) + " at no load)"
	}
	return s
}

func (c Calibrated) words() string {
	k := c.Calibration
	s := fmt.Sprintf("a calibration of the rig made on %s", k.Date)
	if k.Sensor != "" {
		s += ", " + k.Sensor
	}
	return fmt.Sprintf("%s, reads %s from %.3g to %.3g N", s, k.ShownUnit, k.LowN, k.HighN)
}
