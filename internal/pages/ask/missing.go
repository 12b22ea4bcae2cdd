package ask

import (
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
)

// Missing is something that cannot be planned as it is.
type Missing struct {
	ID      string // of the field on the page, empty where it belongs to none
	Label   string // of the field, with the part of the form that it stands in
	Message string // continues the label, or is a sentence where there is no field
}

// MissingOf says what a trial lacks for a plan, in the order of the form; nothing
// where it is complete, or was taken in from a table.
func MissingOf(t *record.Trial) []Missing {
	if t.Asked.Table != "" || t.File != nil {
		return nil
	}
	f, err := form.Parse([]byte(t.Asked.File))
	if err != nil {
		f = &form.Form{Name: t.Asked.Name}
	}
	atLeast(f, "adhesive", 2)
	atLeast(f, "wood", 1)
	_, problems := f.Check()
	return missing(f, problems)
}

// SamePlan reports whether two trial files give the same plan: they differ at most in
// the question, in remarks and in how they are laid out.
func SamePlan(one, other string) bool {
	if one == other {
		return true
	}
	f, err := form.Parse([]byte(one))
	g, gerr := form.Parse([]byte(other))
	if err != nil || gerr != nil {
		return false
	}
	f.Question, g.Question = "", ""
	return string(f.TOML()) == string(g.TOML())
}

// missing names the fields that problems belong to.
func missing(f *form.Form, problems []form.Problem) []Missing {
	labels := make(map[string]string)
	for _, p := range f.Fields() {
		for _, x := range p.Fields {
			if p.Name == "" || p.Title == "Work" {
				labels[x.Name] = x.Label
				continue
			}
			labels[x.Name] = p.Title + ": " + strings.ToLower(x.Label[:1]) + x.Label[1:]
		}
	}
	out := make([]Missing, 0, len(problems))
	for _, p := range problems {
		label, ok := labels[p.Field]
		if !ok {
			out = append(out, Missing{Message: frame.Sentence(p.Message)})
			continue
		}
		out = append(out, Missing{fieldID(p.Field), label, p.Message})
	}
	return out
}

// fieldID is the id on the page of a field of a form.
func fieldID(name string) string { return "f-" + strings.ReplaceAll(name, ".", "-") }
