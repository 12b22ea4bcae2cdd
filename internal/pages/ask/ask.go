// Package ask is the station at which a trial is written: the question, the
// adhesives, woods and boards, and what else a plan needs. The trial file of the
// trial is what counts; the page is a form for it, and keeps it however little of
// it is filled in.
package ask

import (
	"embed"
	"errors"
	"mime"
	"net/http"
	"strconv"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var (
	askPage   = frame.Page(templates, "templates/ask.html", "templates/fields.html")
	takenPage = frame.Page(templates, "templates/taken.html", "templates/fields.html")
)

// mostSent is the size of a form above which it is not read, bytes.
const mostSent = 4 << 20

// Show shows the form with what the trial file says so far, and what it still lacks
// for a plan.
func Show(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	if t.Asked.Table != "" {
		v := takenView(d, r, t, takenFrom(t))
		return d.Show(w, r, takenPage, v)
	}
	v, err := view(d, r, t, from(d, t))
	if err != nil {
		return err
	}
	return d.Show(w, r, askPage, v)
}

// from is what is shown of a trial that nobody has typed in.
func from(d *frame.Desk, t *record.Trial) shown {
	if f, text := kept(t); f != nil {
		s := shown{form: f, text: text}
		_, s.problems = f.Check()
		return s
	}
	if t.Asked.File == "" {
		f := form.Blank(d.Clock())
		f.Name, f.Question = t.Asked.Name, t.Asked.Question
		return shown{form: f, text: string(f.TOML())}
	}
	s := shown{text: t.Asked.File}
	f, err := form.Parse([]byte(t.Asked.File))
	if err != nil { // only a file that another program wrote
		f = form.Blank(d.Clock())
		f.Name, f.Question = t.Asked.Name, t.Asked.Question
		s.textError = frame.Sentence(err.Error())
	}
	s.form = f
	atLeast(f, "adhesive", 2)
	atLeast(f, "wood", 1)
	_, s.problems = f.Check()
	return s
}

// Save writes down what was typed, complete or not. A button of the form may ask for
// a row more or less instead: then nothing is written, and the form comes again.
func Save(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, mostSent)
	if err := r.ParseForm(); err != nil {
		return unread(err)
	}
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	if t.Asked.Table != "" {
		return saveTaken(d, w, r, t)
	}
	if base, text := kept(t); base != nil {
		return saveKept(d, w, r, t, base, text)
	}
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return err
	}
	s, write := typed(r.PostForm, things)
	s.text = t.Asked.File
	if !write {
		s.unwritten = true
		v, err := view(d, r, t, s)
		if err != nil {
			return err
		}
		return d.Show(w, r, askPage, v)
	}
	a := record.Asked{Name: oneLine(s.form.Name), Question: s.form.Question, File: string(s.form.TOML())}
	if a.Name == "" {
		a.Name = t.Asked.Name
	}
	return writeDown(d, w, r, t, a, s)
}

// writeDown writes an entry, or shows the page again with what was typed.
func writeDown(d *frame.Desk, w http.ResponseWriter, r *http.Request, t *record.Trial, a record.Asked, s shown) error {
	back := "/trials/" + t.ID + "/ask"
	if same(t.Asked, a) {
		return frame.Back(w, r, back+"?unchanged")
	}
	e, err := add(d, r, t, a)
	if err == nil {
		return frame.Back(w, r, back+"?written="+strconv.FormatInt(e.Seq, 10))
	}
	_, s.problems = s.form.Check()
	s.problems = append(refused(err), s.problems...)
	v, verr := view(d, r, t, s)
	if verr != nil {
		return verr
	}
	return d.ShowAgain(w, r, askPage, v, err)
}

// add writes an entry that differs from what is asked so far. The error says so where
// somebody else has written since the form was fetched.
func add(d *frame.Desk, r *http.Request, t *record.Trial, a record.Asked) (record.Entry, error) {
	who := d.Who(r)
	for _, e := range t.Entries {
		if who.Key != "" && e.Key == who.Key {
			who.Key = d.NewKey() // somebody went back to the form and changed it
		} else if seen, err := strconv.ParseInt(r.PostForm.Get("seen"), 10, 64); err == nil && seen != t.AskedAt.Seq && e.Seq == t.AskedAt.Seq {
			return record.Entry{}, &frame.Problem{Status: http.StatusConflict,
				Words: "changed meanwhile, " + record.ByWords(t, e) + "; below is what you typed: writing it now takes the place of what was changed"}
		}
	}
	return d.Book.Add(r.Context(), who, t.ID, "", a)
}

// same reports whether writing would change nothing. What a form cannot hold, such
// as remarks in the file, does not count.
func same(old, a record.Asked) bool {
	if old.File == "" || old.Name != a.Name || old.Question != a.Question {
		return false
	}
	if old.File == a.File {
		return true
	}
	f, err := form.Parse([]byte(old.File))
	return err == nil && string(f.TOML()) == a.File
}

// File sends the trial file as it is written so far.
func File(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	if t.Asked.Table != "" {
		return frame.NotFound("this trial was taken in from a table: it has no trial file")
	}
	h := w.Header()
	h.Set("Content-Type", "application/toml; charset=utf-8")
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": t.ID + ".toml"}))
	h.Set("Cache-Control", "no-cache")
	_, err = w.Write([]byte(from(d, t).text))
	return err
}

// Take takes a trial file that was pasted in place of what the form holds, with the
// remarks in it.
func Take(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, mostSent)
	if err := r.ParseForm(); err != nil {
		return unread(err)
	}
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	if t.Asked.Table != "" {
		return &frame.Problem{Status: http.StatusConflict, Words: "this trial was taken in from a table and has no trial file: begin another trial for it"}
	}
	text := strings.ReplaceAll(strings.ReplaceAll(r.PostForm.Get("file"), "\r\n", "\n"), "\r", "\n")
	text = strings.ToValidUTF8(text, "\ufffd")
	f, err := form.Parse([]byte(text))
	if err != nil {
		s := from(d, t)
		s.text, s.textError = text, "that is no trial file yet"
		s.textLines = problemLines(err)
		v, verr := view(d, r, t, s)
		if verr != nil {
			return verr
		}
		return d.ShowAgain(w, r, askPage, v, &frame.Problem{Status: http.StatusUnprocessableEntity,
			Words: "the text at the foot of the page cannot be read as a trial file: see there"})
	}
	a := record.Asked{Name: oneLine(f.Name), Question: f.Question, File: text}
	if a.Name == "" {
		a.Name = t.Asked.Name
	}
	if old := t.Asked; old.File == a.File && old.Name == a.Name && old.Question == a.Question {
		return frame.Back(w, r, "/trials/"+t.ID+"/ask?unchanged")
	}
	s := from(d, t)
	s.text, s.textError = text, "that was not taken"
	var e record.Entry
	if base, _ := kept(t); base != nil && !keeps(base, f) {
		err = tooLate
	} else {
		e, err = add(d, r, t, a)
	}
	if err == nil {
		return frame.Back(w, r, "/trials/"+t.ID+"/ask?written="+strconv.FormatInt(e.Seq, 10))
	}
	v, verr := view(d, r, t, s)
	if verr != nil {
		return verr
	}
	return d.ShowAgain(w, r, askPage, v, err)
}

// problemLines says where a text is no trial file.
func problemLines(err error) (lines []string) {
	var bad *trialfile.Errors
	if !errors.As(err, &bad) {
		return []string{frame.Sentence(err.Error())}
	}
	for _, p := range bad.Problems {
		line := p.Message
		if p.Line > 0 {
			line = "line " + strconv.Itoa(p.Line) + ": " + line
		}
		lines = append(lines, frame.Sentence(line))
	}
	return lines
}

func unread(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return err
	}
	return frame.BadRequest("the form could not be read: go back and send it again")
}

// oneLine is a name as a trial file has it: without line breaks, single spaces.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// refused says which fields an entry was refused for.
func refused(err error) []form.Problem {
	var out []form.Problem
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range many.Unwrap() {
			out = append(out, refused(e)...)
		}
		return out
	}
	var one *record.Refused
	if errors.As(err, &one) && (one.Field == "name" || one.Field == "question") {
		out = append(out, form.Problem{Field: one.Field, Message: "is refused: " + strings.TrimPrefix(one.Message, one.Field+": ")})
	}
	return out
}
