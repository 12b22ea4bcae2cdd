package ask

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

// taken is the page of a trial that was taken in from a table.
type takenIn struct {
	Seen               int64
	Table              string
	Name, Question     string
	NameError          string
	Factors            []tick
	Control            string
	Controls           []string
	Readings           int
	Written, Unchanged bool
}

// tick is a column of the table that may tell readings apart.
type tick struct {
	Name, ID string
	Levels   string
	On       bool
}

func takenFrom(t *record.Trial) takenIn {
	p := takenIn{Seen: t.AskedAt.Seq, Table: t.Asked.Table, Name: t.Asked.Name, Question: t.Asked.Question, Control: t.Asked.Control, Readings: t.CountBroken()}
	for i, f := range columns(t) {
		p.Factors = append(p.Factors, tick{f, "factor-" + strconv.Itoa(i), levels(t, f), slices.Contains(t.Asked.Factors, f)})
	}
	return p
}

// columns names the factors that readings have, those that are asked for first.
func columns(t *record.Trial) []string {
	out := slices.Clone(t.Asked.Factors)
	var more []string
	for _, s := range t.Specimens {
		for f := range s.Factors {
			if !slices.Contains(out, f) && !slices.Contains(more, f) {
				more = append(more, f)
			}
		}
	}
	slices.Sort(more)
	return append(out, more...)
}

// levels lists the levels of a factor in a few words.
func levels(t *record.Trial, factor string) string {
	var out []string
	for _, s := range t.Specimens {
		if l := s.Factors[factor]; l != "" && !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	slices.Sort(out)
	if len(out) > 6 {
		out = append(out[:6:6], "…")
	}
	return strings.Join(out, ", ")
}

func takenView(d *frame.Desk, r *http.Request, t *record.Trial, p takenIn) *frame.View {
	v := d.View(r, t, "ask")
	v.Styles = []string{"ask.css"}
	p.Controls = t.Adhesives()
	if p.Control != "" && !slices.Contains(p.Controls, p.Control) {
		p.Controls = append(p.Controls, p.Control)
	}
	p.Written = r.URL.Query().Get("written") == strconv.FormatInt(t.AskedAt.Seq, 10)
	p.Unchanged = r.URL.Query().Has("unchanged")
	v.Data = p
	return v
}

// saveTaken writes the name, the question, the factors and the control of a trial that
// was taken in from a table.
func saveTaken(d *frame.Desk, w http.ResponseWriter, r *http.Request, t *record.Trial) error {
	p := takenFrom(t)
	p.Name, p.Question, p.Control = oneLine(r.PostForm.Get("name")), strings.TrimSpace(strings.ReplaceAll(r.PostForm.Get("question"), "\r\n", "\n")), r.PostForm.Get("control")
	a := record.Asked{Name: p.Name, Question: p.Question, Table: t.Asked.Table, Control: p.Control}
	for i := range p.Factors {
		p.Factors[i].On = slices.Contains(r.PostForm["factor"], p.Factors[i].Name)
		if p.Factors[i].On {
			a.Factors = append(a.Factors, p.Factors[i].Name)
		}
	}
	back := "/trials/" + t.ID + "/ask"
	if old := t.Asked; old.Name == a.Name && old.Question == a.Question && old.Control == a.Control && slices.Equal(old.Factors, a.Factors) {
		return frame.Back(w, r, back+"?unchanged")
	}
	var err error
	if a.Control != "" && !slices.Contains(t.Adhesives(), a.Control) {
		err = &frame.Problem{Status: http.StatusUnprocessableEntity, Words: "no reading is of the adhesive that all others are to be compared with: choose one of those there are"}
	}
	if err == nil {
		var e record.Entry
		if e, err = add(d, r, t, a); err == nil {
			return frame.Back(w, r, back+"?written="+strconv.FormatInt(e.Seq, 10))
		}
	}
	if p.Name == "" {
		p.NameError = "is missing: write what the trial is called"
	}
	return d.ShowAgain(w, r, takenPage, takenView(d, r, t, p), err)
}
