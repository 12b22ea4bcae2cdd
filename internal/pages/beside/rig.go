package beside

import (
	"errors"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
	"bondtrial/internal/rig"
)

var rigPage = frame.Page(templates, "templates/rig.html", "templates/calibration.html", "templates/field.html")

// rigData is the page of the rig.
type rigData struct {
	Rig          *record.RigAt
	Latest       *shownCalibration // made last; nil: none
	Calibrations []calibration     // all, the latest written first
	InForce      *rig.Calibration  // nil: none
	Checks       []checked
	Units        []string // of force and of stress
	Forces       []string // of force only, and what a calibration in force reads
	Form         page
	Check        page
	Calibrate    calibrationForm
}

// Readings is the largest number of readings of a calibration.
func (rigData) Readings() int { return record.MostReadings }

// ClassSource and SelfCheck go with what is said of classes.
func (rigData) ClassSource() string { return rig.ClassSource }
func (rigData) SelfCheck() string   { return rig.SelfCheck }

// Percent writes a figure of a calibration that may not be known.
func (rigData) Percent(v *float64) string {
	if v == nil {
		return "not known"
	}
	return strconv.FormatFloat(*v, 'f', 2, 64)
}

// checked is a known mass that was hung on the rig.
type checked struct {
	record.Checked
	Percent float64 // how much the display read high
	Far     bool    // further off than is allowed
	Words   string  // what the calibration of the day says; empty: there was none
	Known   bool    // Percent holds
}

// farOff is the share from which a check without a calibration says that the rig
// should be calibrated: what the coarsest class of testing machines allows, 3 %, from
// memory, unconfirmed.
const farOff = 0.03

// Rig shows the rig, its calibrations and the masses that were hung on it.
func Rig(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	return showRig(d, w, r, nil, nil)
}

// rigView is the page as it is before anything is typed.
func rigView(d *frame.Desk, r *http.Request) (*frame.View, *rigData, error) {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return nil, nil, err
	}
	data := &rigData{Rig: things.Rig, Units: record.Units(), Form: page{Values: url.Values{"unit": {"N"}}}}
	v := d.View(r, nil, "rig")
	v.Title, v.Data, v.Styles = "Rig", data, []string{"rig.css"}
	day := v.Now.In(v.Zone).Format(time.DateOnly)
	data.calibrationsOn(things, day)
	for _, u := range data.Units {
		if _, err := record.Force(1, u); err == nil {
			data.Forces = append(data.Forces, u)
		}
	}
	data.Check.Values = url.Values{"unit": {"N"}}
	data.Calibrate.Values = map[string]string{"shows": "counts", "made": day}
	if g := things.Rig; g != nil {
		data.Form = page{Values: url.Values{"name": {g.Name}, "force": {g.Force}, "unit": {g.Unit}, "resolution": {number(g.Resolution)}, "limit": {number(g.Limit)},
			"calibrated": {g.Calibrated}, "how": {g.How}, "note": {g.Note}}}
		data.Check.Values.Set("unit", g.Unit)
	}
	if c := things.InForce(day); c != nil {
		data.InForce = c.Calibration
		if u := c.Calibration.ShownUnit; !slices.Contains(data.Forces, u) {
			data.Forces = append(data.Forces, u)
		}
		data.Check.Values.Set("unit", c.Calibration.ShownUnit)
	}
	data.Checks = checksOf(things, v.Zone)
	return v, data, nil
}

func showRig(d *frame.Desk, w http.ResponseWriter, r *http.Request, wrongRig, wrongCheck error) error {
	v, data, err := rigView(d, r)
	if err != nil {
		return err
	}
	if wrong := errors.Join(wrongRig, wrongCheck); wrong != nil {
		if wrongRig != nil {
			data.Form = sent(r, wrongRig)
		} else {
			data.Check = sent(r, wrongCheck)
		}
		v.Key = r.PostFormValue("key")
		return d.ShowAgain(w, r, rigPage, v, wrong)
	}
	return d.Show(w, r, rigPage, v)
}

// checksOf holds each check against the calibration that was in force on its day; the
// latest check comes first. Nothing of that is stored.
func checksOf(things *record.Things, zone *time.Location) []checked {
	var out []checked
	before := make(map[*rig.Calibration][]rig.Check) // the latest first
	for _, c := range slices.Backward(things.Checks) {
		one := checked{Checked: c}
		date := c.When().In(zone).Format(time.DateOnly)
		k := things.Calibration(c.Calibration)
		if at := things.InForce(date); k == nil && at != nil && at.Calibration.ShownUnit == c.Unit {
			k = at.Calibration
		}
		if k == nil {
			off := c.Off()
			one.Percent, one.Far, one.Known = 100*off, math.Abs(off) > farOff, true
			out = append(out, one)
			continue
		}
		check := rig.Check{Date: date, Load: c.MassKG, Unit: "kg", Shown: c.Shown, Zero: c.Zero}
		if !k.FromZero {
			check.Zero = 0
		}
		if held, err := k.QuickCheck(check, before[k]); err != nil {
			one.Words = frame.Sentence("not held against the calibration: " + err.Error())
		} else {
			one.Percent, one.Far, one.Known, one.Words = held.OffPct, !held.Holds, true, frame.Sentence(held.Words)
			before[k] = slices.Insert(before[k], 0, check)
		}
		out = append(out, one)
	}
	slices.Reverse(out)
	return out
}

// PutRig describes the rig. Readings keep what they were made with.
func PutRig(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	g := record.Rig{Name: value(r, "name"), Force: value(r, "force"), Unit: value(r, "unit"), Calibrated: value(r, "calibrated"), How: value(r, "how"), Note: value(r, "note")}
	var errs [2]error
	g.Resolution, errs[0] = quantity(r, "resolution", "smallest step")
	g.Limit, errs[1] = quantity(r, "limit", "rated maximum")
	err := errors.Join(errs[:]...)
	if err == nil {
		_, err = d.Book.Add(r.Context(), d.Who(r), "", "", g)
	}
	if err != nil {
		return showRig(d, w, r, err, nil)
	}
	return frame.Back(w, r, "/rig")
}

// PutRigCheck writes what the display showed under a known mass. It is held against
// the calibration that the form names, where that reads the unit.
func PutRigCheck(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return err
	}
	c := record.RigCheck{Unit: value(r, "unit"), Note: value(r, "note")}
	var errs [3]error
	c.MassKG, errs[0] = quantity(r, "masskg", "mass")
	c.Shown, errs[1] = quantity(r, "shown", "shown")
	if k := things.Calibration(value(r, "calibration")); k != nil && k.ShownUnit == c.Unit {
		c.Calibration = k.Key()
		if k.FromZero {
			c.Zero, errs[2] = quantity(r, "zero", "shown at no load")
		}
	}
	err = errors.Join(errs[:]...)
	if err == nil {
		_, err = d.Book.Add(r.Context(), d.Who(r), "", "", c)
	}
	if err != nil {
		return showRig(d, w, r, nil, err)
	}
	return frame.Back(w, r, "/rig")
}
