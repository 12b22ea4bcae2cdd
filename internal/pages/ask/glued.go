package ask

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
)

// kept returns what a trial of which specimens are glued or broken goes by, and its
// text; nil where everything may still change. Where what stands at Ask is no trial
// any more, it is what the plan was made from.
func kept(t *record.Trial) (*form.Form, string) {
	if t.Plan == nil || t.CountGlued()+t.CountSpoiled()+t.CountBroken() == 0 {
		return nil, ""
	}
	files := []string{t.Asked.File, t.Plan.File}
	if t.File == nil {
		slices.Reverse(files)
	}
	for _, file := range files {
		if f, err := form.Parse([]byte(file)); err == nil {
			return f, file
		}
	}
	return nil, ""
}

// keeps reports whether two forms differ at most in what may change once specimens
// are glued: name, question and unit. All else belongs to the specimens.
func keeps(one, other *form.Form) bool {
	f, g := *one, *other
	f.Name, f.Question, f.Units = "", "", ""
	g.Name, g.Question, g.Units = "", "", ""
	return string(f.TOML()) == string(g.TOML())
}

// tooLate is the error of a change that specimens of the trial stand against.
var tooLate = &frame.Problem{Status: http.StatusConflict, Words: "specimens of this trial are glued: only its name, its question and the unit that strengths are shown in may still change; for other adhesives, woods or conditions begin another trial"}

// notFields are what a form of the page sends beside fields.
var notFields = []string{"key", "said", "seen", "do"}

// saveKept writes down what may still change of a trial of which specimens are glued.
func saveKept(d *frame.Desk, w http.ResponseWriter, r *http.Request, t *record.Trial, base *form.Form, text string) error {
	sent := url.Values{}
	more := false // a page that was fetched before sends all
	for name, values := range r.PostForm {
		if !slices.Contains(notFields, name) {
			sent[name] = values
			more = more || !slices.Contains([]string{"name", "question", "units"}, name)
		}
	}
	said := form.FromValues(sent)
	next := *base
	for name, field := range map[string][2]*string{"name": {&next.Name, &said.Name}, "question": {&next.Question, &said.Question}, "units": {&next.Units, &said.Units}} {
		if sent.Has(name) {
			*field[0] = *field[1]
		}
	}
	s := shown{form: &next, text: text}
	verb := r.PostForm.Get("do")
	var err error
	if more && !keeps(base, said) || verb != "" && verb != "save" {
		err = tooLate
	} else if _, s.problems = next.Check(); len(s.problems) > 0 {
		if _, before := base.Check(); len(before) == 0 {
			err = frame.Unusable("what is marked below has to be mended first")
		}
	}
	if err != nil {
		v, verr := view(d, r, t, s)
		if verr != nil {
			return verr
		}
		return d.ShowAgain(w, r, askPage, v, err)
	}
	a := record.Asked{Name: oneLine(next.Name), Question: next.Question, File: string(next.TOML())}
	if a.Name == "" {
		a.Name = t.Asked.Name
	}
	return writeDown(d, w, r, t, a, s)
}

// fact is a field that is shown and cannot be changed.
type fact struct{ Label, Value string }

// factsPart is a part of a form, to read.
type factsPart struct {
	Title string
	Facts []fact
}

// factsToRead lists what is filled in of a form, without what may still change.
func factsToRead(f *form.Form) []factsPart {
	var out []factsPart
	for _, p := range f.Fields() {
		part := factsPart{Title: p.Title}
		for _, x := range p.Fields {
			if x.Value == "" || x.Kind == form.Hidden || p.Name == "" && slices.Contains([]string{"name", "question", "units"}, x.Name) {
				continue
			}
			value := x.Value
			for _, c := range x.Choices {
				if c.Value == value {
					value, _, _ = strings.Cut(c.Text, ":")
				}
			}
			if x.Unit != "" && strings.ContainsAny(value[len(value)-1:], "0123456789") {
				value += " " + x.Unit
			}
			part.Facts = append(part.Facts, fact{x.Label, value})
		}
		if len(part.Facts) > 0 {
			out = append(out, part)
		}
	}
	return out
}
