package home

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path"
	"strconv"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

var takePage = frame.Page(templates, "templates/take.html")

// mostTable is the largest table that is taken in through a page, bytes.
const mostTable = 64 << 20

// taking is the page that takes a table in.
type taking struct {
	Name, Question, Factors, Control, Area string
	Problems                               []string      // of the table, with their lines
	Same                                   *record.Trial // of this name, from the same file; nil: none, or it was said so
	Sum                                    string        // of that file: sent again, it is taken in once more
}

// TakeInForm shows the form that takes a table of readings in.
func TakeInForm(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	v := d.View(r, nil, "trials")
	v.Title, v.Data = "Take in a table", taking{}
	return d.Show(w, r, takePage, v)
}

// TakeIn takes a table of readings in as a finished trial.
func TakeIn(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseMultipartForm(8 << 20); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return frame.BadRequest("the form could not be read: send it again")
	}
	defer r.MultipartForm.RemoveAll()
	in := taking{Name: strings.TrimSpace(r.PostFormValue("name")), Question: strings.TrimSpace(r.PostFormValue("question")),
		Factors: r.PostFormValue("factors"), Control: strings.TrimSpace(r.PostFormValue("control")), Area: strings.TrimSpace(r.PostFormValue("area"))}
	id, err := in.take(d, r)
	if err == nil && in.Same == nil {
		return frame.Back(w, r, "/trials/"+id+"/answer")
	}
	v := d.View(r, nil, "trials")
	v.Title = "Take in a table"
	var problems *table.Errors
	if errors.As(err, &problems) {
		in.Problems = strings.Split(problems.Error(), "\n")
		err = frame.Unusable("the table cannot be used as it is: nothing was taken in. Mend what is listed and choose the file again")
	}
	if in.Same != nil {
		err = &frame.Problem{Status: http.StatusConflict, Words: "a trial of this name from the same file is there already. Look at it, or choose the file again to take it in once more"}
	}
	v.Data = in
	return d.ShowAgain(w, r, takePage, v, err)
}

func (in *taking) take(d *frame.Desk, r *http.Request) (id string, err error) {
	file, head, err := r.FormFile("table")
	if err != nil {
		return "", &record.Refused{Field: "table", Message: "no file was chosen: choose a table, as a spreadsheet saves it as CSV"}
	}
	defer file.Close()
	content, err := io.ReadAll(io.LimitReader(file, mostTable+1))
	if err != nil {
		return "", err
	}
	fileName := path.Base(strings.ReplaceAll(head.Filename, "\\", "/"))
	if in.Name == "" {
		in.Name = strings.TrimSuffix(fileName, path.Ext(fileName))
	}
	opt := table.Options{OnPage: true}
	if in.Area != "" {
		opt.AreaMM2, err = strconv.ParseFloat(in.Area, 64)
		if err != nil || !(opt.AreaMM2 > 0) {
			return "", &record.Refused{Field: "area", Message: "the bonded area is a number above 0, in mm², such as 250"}
		}
	}
	a := record.Asked{Name: in.Name, Question: in.Question, Control: table.Name(in.Control)}
	for f := range strings.SplitSeq(in.Factors, ",") {
		if f = strings.TrimSpace(f); f != "" {
			a.Factors = append(a.Factors, f)
		}
	}
	who := d.Who(r)
	in.Sum = fmt.Sprintf("%x", sha256.Sum256(content))
	if r.PostFormValue("again") != in.Sum {
		if in.Same, err = twin(d, r, a.Name, in.Sum, who.Key); err != nil || in.Same != nil {
			return "", err
		}
	}
	id, _, err = d.Book.TakeIn(r.Context(), who, a, fileName, content, opt)
	return id, err
}

// twin returns a trial of a name that was taken in from a file of the sum; nil where
// there is none, or it is this very form, sent again.
func twin(d *frame.Desk, r *http.Request, name, sum, key string) (*record.Trial, error) {
	all, err := d.Book.Trials(r.Context(), true)
	if err != nil {
		return nil, err
	}
	var found *record.Trial
	for _, t := range all {
		if t.Asked.Table == "" || table.Spelling(t.Asked.Name) != table.Spelling(name) {
			continue
		}
		for _, e := range t.Entries {
			if key != "" && e.Key == key {
				return nil, nil
			}
			for _, f := range e.Files {
				if f.Role == "table" && f.Sum == sum {
					found = t
				}
			}
		}
	}
	return found, nil
}
