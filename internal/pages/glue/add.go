package glue

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

// addForm is the form for a specimen that is in no plan.
type addForm struct {
	Key       string
	Open      bool
	Sealed    bool
	Adhesives []string
	Woods     []string
	Asked     []addFactor

	Code, Adhesive, Wood, Board, Batch string
	Wrong                              map[string]string
}

// addFactor is a factor of the trial, the levels in use, and what was typed.
type addFactor struct {
	Name, Field, Level string
	Levels             []string
}

func addFormOf(t *record.Trial, key string) addForm {
	a := addForm{Key: key, Sealed: t.Sealed(), Adhesives: t.Adhesives(), Code: freeCode(t)}
	if t.Plan == nil && t.File != nil {
		for _, x := range t.File.Adhesives {
			a.Adhesives = addNew(a.Adhesives, x.Name)
		}
		for _, x := range t.File.Woods {
			a.Woods = addNew(a.Woods, x.Name)
		}
	}
	for _, s := range t.Specimens {
		a.Woods = addNew(a.Woods, s.Wood)
	}
	for i, name := range t.Factors() {
		f := addFactor{Name: name, Field: fmt.Sprintf("factor%d", i)}
		for _, s := range t.Specimens {
			f.Levels = addNew(f.Levels, s.Factors[name])
		}
		a.Asked = append(a.Asked, f)
	}
	return a
}

func addNew(all []string, s string) []string {
	if s == "" || slices.Contains(all, s) {
		return all
	}
	return append(all, s)
}

// freeCode proposes a code for a specimen that is in no plan: codes of plans hold no
// letter T, so that no two can be mixed up.
func freeCode(t *record.Trial) string {
	for n := 1; ; n++ {
		code := fmt.Sprintf("T%d", n)
		if find(t, code) == nil {
			return code
		}
	}
}

// Add adds a specimen that is in no plan, to be glued next or glued already.
func Add(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	code := clean(r.FormValue("code"))
	j := record.Joint{Adhesive: clean(r.FormValue("adhesive")), Wood: clean(r.FormValue("wood")), Board: clean(r.FormValue("board")), Batch: clean(r.FormValue("batch"))}
	form := addFormOf(t, d.NewKey())
	for i, f := range form.Asked {
		if level := clean(r.FormValue(f.Field)); level != "" {
			if j.Factors == nil {
				j.Factors = make(map[string]string)
			}
			j.Factors[f.Name], form.Asked[i].Level = level, level
		}
	}
	already := r.FormValue("glued") != ""
	if err := addSpecimen(d, r, t, code, j, already); err != nil {
		p := build(d, r, t, "")
		form.Open, form.Code, form.Adhesive, form.Wood, form.Board, form.Batch, form.Wrong = true, code, j.Adhesive, j.Wood, j.Board, j.Batch, wrongs(err)
		p.Add = form
		return again(d, w, r, t, p, err)
	}
	to := "/trials/" + t.ID + "/glue"
	if !already {
		to += "?code=" + url.QueryEscape(code)
	}
	return frame.Back(w, r, to)
}

func addSpecimen(d *frame.Desk, r *http.Request, t *record.Trial, code string, j record.Joint, already bool) error {
	who := d.Who(r)
	if s := find(t, code); s != nil && !sent(t, who.Key) {
		return &record.Refused{Field: "code", Message: fmt.Sprintf("code: this trial has a specimen %s: choose another code", s.Code)}
	}
	if t.Sealed() && !slices.Contains(t.Adhesives(), j.Adhesive) {
		return &record.Refused{Field: "adhesive", Message: "adhesive: choose its letter; names stay sealed until the key is opened"}
	}
	if _, err := d.Book.Add(r.Context(), who, t.ID, code, record.Added{Joint: j}); err != nil || !already {
		return err
	}
	if who.Key != "" {
		who.Key += " glued"
	}
	_, err := d.Book.Add(r.Context(), who, t.ID, code, record.Glued{})
	return err
}
