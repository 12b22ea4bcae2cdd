// Package beside shows what stands beside the trials: the shelf of adhesives, the
// rack of boards, the rig, and the logbook itself.
package beside

import (
	"embed"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

// page is what a page shows in its form: what was typed, or what is recorded.
type page struct {
	Seq    int64 // of the entry that is corrected; 0: a new one
	Values url.Values
	Wrong  string // the field that is wrong, as in the content's struct
	Words  string // what is wrong with it
}

// Get returns what a field holds.
func (f page) Get(name string) string { return f.Values.Get(name) }

// On reports whether a box is ticked.
func (f page) On(name string) bool { return f.Values.Get(name) != "" }

// IsWrong reports whether a field is the one that is wrong.
func (f page) IsWrong(name string) bool { return f.Wrong != "" && f.Wrong == name }

// field makes what a template's field needs.
func (f page) Field(name, label, help, mode string) map[string]any {
	return map[string]any{"Name": name, "Label": label, "Help": help, "Mode": mode, "Value": f.Get(name), "Wrong": f.IsWrong(name), "Words": f.Words}
}

// sent returns a page as it was sent, with what is wrong with it.
func sent(r *http.Request, err error) page {
	f := page{Values: r.PostForm}
	f.Seq, _ = strconv.ParseInt(r.PostFormValue("seq"), 10, 64)
	if wrong, ok := firstRefused(err); ok {
		f.Wrong, f.Words = wrong.Field, frame.Sentence(wrong.Message)
	}
	return f
}

func firstRefused(err error) (*record.Refused, bool) {
	switch e := err.(type) {
	case *record.Refused:
		return e, true
	case interface{ Unwrap() []error }:
		for _, part := range e.Unwrap() {
			if r, ok := firstRefused(part); ok {
				return r, true
			}
		}
	case interface{ Unwrap() error }:
		return firstRefused(e.Unwrap())
	}
	return nil, false
}

// put writes content as a new entry, or in the place of the one that the form names.
func put(d *frame.Desk, r *http.Request, subject string, c record.Content) error {
	seq, _ := strconv.ParseInt(r.PostFormValue("seq"), 10, 64)
	var err error
	if seq > 0 {
		_, err = d.Book.Correct(r.Context(), d.Who(r), "", seq, c)
	} else {
		_, err = d.Book.Add(r.Context(), d.Who(r), "", subject, c)
	}
	return err
}

// edited is the number of the entry that a page is to show in its form.
func edited(r *http.Request) int64 {
	n, _ := strconv.ParseInt(r.URL.Query().Get("edit"), 10, 64)
	return n
}

// value is a field of a form without the space around it.
func value(r *http.Request, name string) string { return strings.TrimSpace(r.PostFormValue(name)) }

// quantity reads a field that holds a number, 0 where it is blank.
func quantity(r *http.Request, name, what string) (float64, error) {
	s := value(r, name)
	if s == "" {
		return 0, nil
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		hint := "write a number"
		if strings.Contains(s, ",") {
			hint = "write a decimal point, and no separators of thousands"
		}
		return 0, &record.Refused{Field: name, Message: what + ": " + strconv.Quote(s) + " is no number: " + hint}
	}
	return x, nil
}

// number writes a number for a field, empty for 0.
func number(x float64) string {
	if x == 0 {
		return ""
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// Undo takes back an entry of the logbook at large.
func Undo(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	seq, err := strconv.ParseInt(r.PostFormValue("seq"), 10, 64)
	if err != nil {
		return frame.BadRequest("which entry is to be taken back was not said; go back and try again")
	}
	if _, err := d.Book.Undo(r.Context(), d.Who(r), "", seq, ""); err != nil {
		return err
	}
	back := r.PostFormValue("back")
	switch back {
	case "/shelf", "/rack", "/rig":
	default:
		back = "/logbook"
	}
	return frame.Back(w, r, back)
}
