package form

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"bondtrial/internal/plan/trialfile"
)

// Problem is one thing in a form that cannot be right.
type Problem struct {
	Field string // its name; empty where the problem belongs to no field
	// Message says what is wrong and how to mend it. It continues the label of the
	// field ("must be a whole number from 1 to 10000"), and is a whole sentence
	// where there is no field.
	Message string
}

// Check reads the form as a trial. Either the trial is returned, as
// trialfile.Read returns it from [Form.TOML], or every problem of the form: first
// those of no field, then in the order of [Form.Fields].
func (f *Form) Check() (*trialfile.Trial, []Problem) {
	var list []Problem
	for _, k := range rowKinds {
		if more := f.surplus[k.kind]; more > 0 {
			list = append(list, Problem{"", fmt.Sprintf("there are %d %s, and a trial has at most %d: the last %d were not kept; divide the trial", k.most+more, k.many, k.most, more)})
		}
	}
	w := f.write()
	trial, err := trialfile.Read(bytes.NewReader(w.out.Bytes()), "form")
	var bad *trialfile.Errors
	switch {
	case errors.As(err, &bad):
		for _, p := range bad.Problems {
			list = append(list, w.problem(p))
		}
	case err != nil: // only a reader that fails
		list = append(list, Problem{"", err.Error()})
	}
	list = append(list, f.unknownLeft(list)...)
	if bad != nil && bad.More > 0 {
		list = append(list, Problem{"", fmt.Sprintf("there are %d more problems: mend these first", bad.More)})
	}
	if len(list) > 0 {
		f.sort(list)
		return nil, list
	}
	return trial, nil
}

// sort puts problems in the order of their fields.
func (f *Form) sort(list []Problem) {
	rank := map[string]int{}
	for _, part := range f.Fields() {
		for _, field := range part.Fields {
			rank[field.Name] = len(rank) + 1
		}
	}
	slices.SortStableFunc(list, func(a, b Problem) int { return rank[a.Field] - rank[b.Field] })
}

// unknownLeft reports the unknown keys that no problem is about yet.
func (f *Form) unknownLeft(list []Problem) (more []Problem) {
	said := map[string]bool{}
	for _, p := range list {
		said[p.Field] = true
	}
	for i, u := range f.Unknown {
		name := rowName(unknownKind, i) + ".value"
		if !said[name] && strings.TrimSpace(u.Value) != "" {
			more = append(more, Problem{name, u.message("")})
		}
	}
	return more
}

// message says that a key is unknown; meant is the label of the field that it
// probably is, empty where none is near.
func (u Unknown) message(meant string) string {
	said := "stood in the file under " + printable(u.Key)
	if strings.HasPrefix(u.Key, "levels.") && strings.HasPrefix(u.Part, "factor.") {
		return said + ", and a factor has two levels: empty this field"
	}
	if meant != "" {
		return said + ", which no trial file has: is " + meant + " meant? Put it there, and empty this field"
	}
	return said + ", which no trial file has: put it where it belongs, and empty this field"
}

// problem tells a problem of the file as one of the form.
func (w *writer) problem(p trialfile.Problem) Problem {
	at := w.at(p.Line)
	if strings.HasPrefix(at.field, unknownKind+".") {
		return w.unknownProblem(at.field, p)
	}
	s, ok := w.sectionOf(p)
	switch {
	case !ok || strings.HasPrefix(p.Message, "there are "):
		return Problem{"", w.plain("", wholeFile(p.Message))}
	case p.Key == "adhesive" && s.name == "", strings.HasPrefix(p.Message, "there is only one [[adhesive]]"):
		return w.form.fewAdhesives()
	case p.Key == "wood" && s.name == "" && len(w.form.Woods) > 0:
		return Problem{"wood.0.name", "is missing: a trial needs a wood"}
	case p.Key == "wood" && s.name == "":
		return Problem{"", "there is no wood: add one"}
	}
	field := w.fieldOf(s, p)
	if field == "" {
		return Problem{"", w.plain(s.kind, strings.TrimSpace(p.Where+" "+p.Key+" "+p.Message))}
	}
	return Problem{field, w.message(s, field, p)}
}

// wholeFile says what concerns the file as a whole in the words of a form.
func wholeFile(message string) string {
	if strings.HasPrefix(message, "is larger than") {
		return fmt.Sprintf("the texts of the form are longer together than the %d KiB that a trial may have: shorten them", trialfile.MaxBytes>>10)
	}
	return message
}

// fewAdhesives says that there are not two adhesives yet, where possible beside
// the row that waits to be filled in.
func (f *Form) fewAdhesives() Problem {
	r := f.rows("adhesive")
	for i := range r.count() {
		if s := (section{slots: r.at(i)}); s.blank() {
			return Problem{rowName("adhesive", i) + ".name", "is missing: a trial compares two adhesives or more"}
		}
	}
	if r.count() > 0 {
		return Problem{"adhesive.0.name", "is alone: a trial compares two adhesives or more, add another"}
	}
	return Problem{"", "there is no adhesive: add two or more, which the trial is to compare"}
}

const meantKey = "is not known here: "

func (w *writer) unknownProblem(field string, p trialfile.Problem) Problem {
	_, i, _ := rowNumber(strings.TrimSuffix(field, ".value"))
	u := w.form.Unknown[i]
	meant := ""
	if rest, ok := strings.CutPrefix(p.Message, meantKey); ok {
		for _, before := range []string{"is ", "write "} {
			key, ok := strings.CutPrefix(rest, before)
			if !ok {
				continue
			}
			key, _, _ = strings.Cut(strings.TrimRight(key, "?"), " ")
			key = strings.TrimRight(key, ",")
			kind, _, isRow := rowNumber(u.Part)
			if !isRow {
				kind = strings.TrimPrefix(u.Part, "work.")
			}
			if found, ok := lookUp(kind, key); ok {
				meant = found.label
			}
		}
	}
	return Problem{field, u.message(meant)}
}

// sectionOf returns the part that a problem is in.
func (w *writer) sectionOf(p trialfile.Problem) (section, bool) {
	name := w.at(p.Line).part
	switch p.Where {
	case "[specimen]", "[cutting]", "[work]", "[work.hours]", "[labels]":
		name = strings.Trim(p.Where, "[]")
	case "":
		if p.Line == 0 && p.Key == "" {
			return section{}, false
		}
	}
	for _, s := range w.all {
		if s.name == name {
			return s, true
		}
	}
	return section{}, false
}

// mainKey is the field that speaks for a part as a whole.
var mainKey = map[string]string{
	"adhesive": "name", "wood": "name", "board": "name", "reused": "pieces", "factor": "name",
	"specimen": "joint", "cutting": "kerf_mm", "work": "start", "hours": "weekdays", "labels": "page",
}

// fieldOf returns the name of the field that a problem belongs to.
func (w *writer) fieldOf(s section, p trialfile.Problem) string {
	key := p.Key
	switch {
	case key == "levels":
		key = levelOf(s, p)
	case key == "":
		key = mainKey[s.kind]
		for short, dimension := range map[string]string{"too short for one piece": "length_mm", "too narrow for one piece": "width_mm", "too thin for one piece": "thickness_mm"} {
			if strings.Contains(p.Message, short) {
				key = dimension
			}
		}
		if s.kind == "wood" && s.text("boards") != "" && key == mainKey[s.kind] {
			key = "boards"
		}
	}
	if s.find(key) == nil {
		return ""
	}
	if w.form.spare(s, key) {
		key = twin(key)
	}
	return fieldName(s.name, key)
}

// levelOf finds which of the two levels of a factor is meant.
func levelOf(s section, p trialfile.Problem) string {
	first, second := s.text("levels.0"), s.text("levels.1")
	switch {
	case first == "", p.Value != "" && first == p.Value:
		return "levels.0"
	case second == "", p.Value != "" && second == p.Value:
		return "levels.1"
	case strings.HasPrefix(p.Message, "has the same level twice"):
		return "levels.1"
	}
	return "levels.0"
}
