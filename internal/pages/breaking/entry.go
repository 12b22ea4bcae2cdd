package breaking

import (
	"net/http"
	"strconv"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

// entryView is one specimen's break with all that was recorded about it.
type entryView struct {
	Row    *row // nil: taken back
	Code   string
	Lines  []string
	Steps  []step // the latest first
	Known  *known // how well its force is known; nil: it was read without a calibration
	Form   form
	Keys   [2]string
	Inert  inert
	Action string
}

// step is an entry about the specimen's break.
type step struct {
	record.Stamp
	Words string
	What  string // "recorded", "corrected", "taken back", "brought back"
	Live  bool
}

// Entry shows what was recorded about a specimen's break, and the form that corrects
// it.
func Entry(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, s, _, err := entryOf(d, r)
	if err != nil {
		return err
	}
	v, _, err := entry(d, r, t, s)
	if err != nil {
		return err
	}
	return d.Show(w, r, entryPage, v)
}

// entryOf finds the specimen that an entry of the path is about.
func entryOf(d *frame.Desk, r *http.Request) (*record.Trial, *record.Specimen, int64, error) {
	t, err := d.Trial(r)
	if err != nil {
		return nil, nil, 0, err
	}
	seq, _ := strconv.ParseInt(r.PathValue("seq"), 10, 64)
	for _, e := range t.Entries {
		if _, isBreak := e.Content.(record.Broken); isBreak && e.Seq == seq {
			if s, ok := t.Specimen(e.Subject); ok {
				return t, s, seq, nil
			}
			// A specimen that came with its reading, and went with it.
			return t, &record.Specimen{Code: e.Subject}, seq, nil
		}
	}
	return nil, nil, 0, frame.NotFound("this trial has no such break")
}

func entry(d *frame.Desk, r *http.Request, t *record.Trial, s *record.Specimen) (*frame.View, *entryView, error) {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return nil, nil, err
	}
	v := d.View(r, t, "break")
	v.Scripts, v.Styles = []string{"break.js"}, []string{"break.css"}
	e := &entryView{Code: s.Code, Steps: steps(t, s.Code), Keys: [2]string{v.Key, d.NewKey()}}
	if s.Broken != nil {
		seen := rowOf(t, s)
		e.Row, e.Lines = &seen, lines(t, s, true)
		e.Form = formOf(s.Code, s.Broken.Broken)
		if err := e.Form.takeBroken(t, s.Broken.Broken, things, today(t, v.Now)); err != nil {
			return nil, nil, err
		}
		e.Known = knownOf(s.Broken.Broken, things, today(t, v.Now))
		e.Form.Areas = t.AreaMM2() == 0
		e.Action = "/trials/" + t.ID + "/break/" + strconv.FormatInt(s.Broken.Seq, 10)
	}
	e.Inert = inertOf(t, v.Units, things.Rig, nil)
	e.Inert.Cal = curveOf(e.Form.Cal)
	v.Data = e
	return v, e, nil
}

// steps lists the entries about a specimen's break, the latest first.
func steps(t *record.Trial, code string) []step {
	var out []step
	breaks := make(map[int64]bool) // breaks and what took them back
	for _, e := range t.Entries {
		st := step{Stamp: record.Stamp{Seq: e.Seq, At: e.At, Said: e.Said, By: e.By, Device: e.Device, Files: e.Files}, Live: e.Live, Words: record.Words(t, e)}
		switch e.Content.(type) {
		case record.Broken:
			if e.Subject != code {
				continue
			}
			st.What = "recorded"
			if e.Replaces != 0 {
				st.What = "corrected"
			}
		case record.TookBack:
			if !breaks[e.Undoes] {
				continue
			}
			st.What, st.Words, st.Live = "taken back", "", false
			if record.Words(t, e) == "brought back" {
				st.What = "brought back"
			}
		default:
			continue
		}
		breaks[e.Seq] = true
		out = append([]step{st}, out...)
	}
	return out
}

// Correct writes a break in the place of the one that the path names, or takes that
// one back where the form says undo.
func Correct(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, s, seq, err := entryOf(d, r)
	if err != nil {
		return err
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostBytes)
	if err := parse(r); err != nil {
		return err
	}
	f := readForm(r.FormValue)
	f.Code, f.Areas = s.Code, t.AreaMM2() == 0
	if err := f.find(d, r); err != nil {
		return err
	}
	var e record.Entry
	if r.FormValue("undo") != "" {
		e, err = d.Book.Undo(r.Context(), d.Who(r), t.ID, seq, "")
	} else {
		e, err = correct(d, r, t, s, seq, &f)
	}
	switch {
	case err != nil && frame.WantsJSON(r):
		if status, _ := frame.Status(err); status == http.StatusInternalServerError {
			return err
		}
		return refusal(w, t, err, f)
	case err != nil:
		return entryAgain(d, w, r, f, err)
	case frame.WantsJSON(r):
		return written(w, t, e)
	case e.Undoes != 0:
		return frame.Back(w, r, "/trials/"+t.ID+"/break")
	}
	return frame.Back(w, r, "/trials/"+t.ID+"/break/"+strconv.FormatInt(e.Seq, 10))
}

func correct(d *frame.Desk, r *http.Request, t *record.Trial, s *record.Specimen, seq int64, f *form) (record.Entry, error) {
	var old *record.Broken
	for _, e := range t.Entries {
		if b, ok := e.Content.(record.Broken); ok && e.Seq == seq {
			old = &b
		}
	}
	b, err := f.broken(t.AreaMM2(), old)
	if err != nil {
		return record.Entry{}, err
	}
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return record.Entry{}, err
	}
	if err := f.ask(questionsAnew(t, s, b, f, things.Rig)); err != nil {
		return record.Entry{}, err
	}
	files, err := photosOf(r)
	if err != nil {
		return record.Entry{}, err
	}
	return d.Book.Correct(r.Context(), d.Who(r), t.ID, seq, b, files...)
}

// entryAgain shows the form again with what was typed. Where the break was corrected
// by somebody else meanwhile, the form corrects what is recorded now.
func entryAgain(d *frame.Desk, w http.ResponseWriter, r *http.Request, f form, wrong error) error {
	t, s, _, err := entryOf(d, r)
	if err != nil {
		return err
	}
	v, e, err := entry(d, r, t, s)
	if err != nil {
		return err
	}
	f.Wrong = fieldErrors(wrong)
	if e.Row != nil {
		if f.Cal == nil {
			f.Cal = e.Form.Cal
		}
		e.Form = f
	}
	return d.ShowAgain(w, r, entryPage, v, wrong)
}
