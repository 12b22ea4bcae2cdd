package beside

import (
	"errors"
	"math"
	"net/http"
	"net/url"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

var rigPage = frame.Page(templates, "templates/rig.html", "templates/field.html")

// rig is the page of the rig.
type rig struct {
	Rig    *record.RigAt
	Checks []checked
	Units  []string // of force and of stress
	Forces []string // of force only
	Form   page
	Check  page
}

type checked struct {
	record.Checked
	Percent float64 // how much the display read high
	Far     bool    // further off than farOff
}

// farOff is the share from which a check says that the rig should be calibrated
// anew: what the coarsest class of testing machines allows, 3 %, from memory,
// unconfirmed.
const farOff = 0.03

// Rig shows the rig and the masses that were hung on it.
func Rig(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	return showRig(d, w, r, nil, nil)
}

func showRig(d *frame.Desk, w http.ResponseWriter, r *http.Request, wrongRig, wrongCheck error) error {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return err
	}
	data := rig{Rig: things.Rig, Units: record.Units(), Form: page{Values: url.Values{"unit": {"N"}}}}
	for _, u := range data.Units {
		if _, err := record.Force(1, u); err == nil {
			data.Forces = append(data.Forces, u)
		}
	}
	data.Check.Values = url.Values{"unit": {"N"}}
	if g := things.Rig; g != nil {
		data.Form = page{Values: url.Values{"name": {g.Name}, "force": {g.Force}, "unit": {g.Unit}, "resolution": {number(g.Resolution)}, "limit": {number(g.Limit)},
			"calibrated": {g.Calibrated}, "how": {g.How}, "note": {g.Note}}}
		data.Check.Values.Set("unit", g.Unit)
	}
	for _, c := range things.Checks {
		off := c.Off()
		data.Checks = append(data.Checks, checked{c, 100 * off, math.Abs(off) > farOff})
	}
	v := d.View(r, nil, "rig")
	v.Title, v.Data = "Rig", data
	if wrong := errors.Join(wrongRig, wrongCheck); wrong != nil {
		if wrongRig != nil {
			data.Form = sent(r, wrongRig)
		} else {
			data.Check = sent(r, wrongCheck)
		}
		v.Data, v.Key = data, r.PostFormValue("key")
		return d.ShowAgain(w, r, rigPage, v, wrong)
	}
	return d.Show(w, r, rigPage, v)
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

// PutRigCheck writes what the display showed under a known mass.
func PutRigCheck(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	c := record.RigCheck{Unit: value(r, "unit"), Note: value(r, "note")}
	var errs [2]error
	c.MassKG, errs[0] = quantity(r, "masskg", "mass")
	c.Shown, errs[1] = quantity(r, "shown", "shown")
	err := errors.Join(errs[:]...)
	if err == nil {
		_, err = d.Book.Add(r.Context(), d.Who(r), "", "", c)
	}
	if err != nil {
		return showRig(d, w, r, nil, err)
	}
	return frame.Back(w, r, "/rig")
}
