package breaking

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"bondtrial"
	"bondtrial/internal/record"
)

// question is what a person is asked about a break, once, before it is written. The
// module of the page asks the same (static/break-form.js).
type question struct {
	Field string // beside which it is asked
	Name  string // what the form says once it was asked; with what it is about in it, so that another value is asked about anew
	Words string
}

// questions are those about a break that is set down now. f is the form it came in.
func questions(t *record.Trial, s *record.Specimen, b record.Broken, f *form, rig *record.RigAt, now time.Time) []question {
	if b.SetAside != "" || b.Strength > record.MostStrength {
		return nil
	}
	out := questionsAnew(t, s, b, f, rig)
	if e := earlyOf(t, s, softOnes(t), now); e.Words != "" {
		out = append(out, question{"early", "early " + s.Code, "It was " + lowered(e.Words) + ". Is it the right specimen? If it is, save it again; it is kept then"})
	}
	if share, ok := shareOfLimit(b, rig); ok && share >= nearMaximum && !f.Unloaded {
		out = append(out, question{"unloaded", "unloaded " + f.value(), fmt.Sprintf("That is %.0f %% of the rig's rated maximum. Unload it before you go near, tick that it is, and save", 100*share)})
	}
	return out
}

// questionsAnew are those about a break that is corrected.
func questionsAnew(t *record.Trial, s *record.Specimen, b record.Broken, f *form, rig *record.RigAt) []question {
	if b.SetAside != "" || b.Strength > record.MostStrength {
		return nil
	}
	var out []question
	if q := asks(t, s, b, rig); q != "" {
		out = append(out, question{"peak", f.value(), q + " If it is, save it again; it is kept then"})
	}
	way := bondtrial.Failure(b.Failure)
	inBond := way == bondtrial.CohesionFailure || way == bondtrial.AdhesionFailure
	name := "share " + f.Failure + " " + strings.TrimSpace(f.Wood)
	switch {
	case b.WoodShare == nil && b.Failure == "" && !b.RigLimited:
		out = append(out, question{"failure", "faces", "Nothing is said of the faces. Look at them and say it, or save all the same: the answer will then take it that the bond broke"})
	case b.WoodShare != nil && *b.WoodShare == 0 && way.InWood():
		out = append(out, question{"woodshare", name, "The way of failing says the wood failed, the share says none did. Put one of them right, or save all the same"})
	case b.WoodShare != nil && *b.WoodShare == 100 && inBond:
		out = append(out, question{"woodshare", name, "The way of failing says the bond failed, the share says all is wood. Put one of them right, or save all the same"})
	}
	return out
}

// nearMaximum is the part of the rig's rated maximum from which on it is asked whether
// the rig is unloaded.
const nearMaximum = 0.95

// betweenNames stands between the names of what was asked.
const betweenNames = "; "

// ask returns an error with the questions that were not asked yet, and notes in the form
// that they are asked now; nil where there are none.
func (f *form) ask(all []question) error {
	asked := strings.Split(f.Sure, betweenNames)
	var wrong []error
	for _, q := range all {
		if !slices.Contains(asked, q.Name) {
			wrong = append(wrong, &record.Refused{Field: q.Field, Message: q.Words})
		}
	}
	if len(wrong) == 0 {
		return nil
	}
	names := make([]string, len(all))
	for i, q := range all {
		names[i] = q.Name
	}
	f.Sure, f.Asked = strings.Join(names, betweenNames), true
	return errors.Join(wrong...)
}
