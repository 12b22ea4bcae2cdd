// Package home shows the trials of a logbook, takes tables in, and shows the history
// of a trial: every entry with who wrote it, those taken back included.
package home

import (
	"embed"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var (
	trialsPage   = frame.Page(templates, "templates/trials.html")
	firstPage    = frame.Page(templates, "templates/first.html", "templates/begin.html")
	newPage      = frame.Page(templates, "templates/new.html", "templates/begin.html")
	overviewPage = frame.Page(templates, "templates/overview.html")
)

// trials is the page of all trials.
type trials struct {
	Trials []trial
	Away   []trial // put away
}

type trial struct {
	*record.Trial
	Path []frame.Station
	Next *frame.Station // nil: nothing is left to do
	Last record.Entry
}

// begin is what a new trial was given.
type begin struct {
	Name, Question string
	Writer         string // who writes, where the device does not know yet
}

// Trials shows all trials, or in an empty logbook what it is for.
func Trials(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	all, err := d.Book.Trials(r.Context(), true)
	if err != nil {
		return err
	}
	v := d.View(r, nil, "trials")
	if len(all) == 0 {
		v.Title, v.Data = "An empty logbook", begin{}
		return d.Show(w, r, firstPage, v)
	}
	var data trials
	for _, t := range all {
		row := trial{Trial: t, Path: frame.Path(t, d.Clock()), Last: t.Entries[len(t.Entries)-1]}
		for i := range row.Path {
			if row.Path[i].Next {
				row.Next = &row.Path[i]
			}
		}
		if t.PutAway != nil {
			data.Away = append(data.Away, row)
		} else {
			data.Trials = append(data.Trials, row)
		}
	}
	v.Title, v.Data = "Trials", data
	return d.Show(w, r, trialsPage, v)
}

// New shows the form for a trial.
func New(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	v := d.View(r, nil, "trials")
	v.Title, v.Data = "A new trial", begin{}
	return d.Show(w, r, newPage, v)
}

// Begin writes the first entry of a trial and goes on to its question.
func Begin(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	in := begin{strings.TrimSpace(r.PostFormValue("name")), strings.TrimSpace(r.PostFormValue("question")), frame.CleanName(r.PostFormValue("writer"))}
	who := d.Who(r)
	if who.By == "" {
		who.By = in.Writer
	}
	id, err := d.Book.New(r.Context(), who, record.Asked{Name: in.Name, Question: in.Question})
	if err != nil {
		v := d.View(r, nil, "trials")
		v.Title, v.Data, v.Key = "A new trial", in, r.PostFormValue("key")
		return d.ShowAgain(w, r, newPage, v, err)
	}
	if in.Writer != "" && d.Name(r) == "" {
		frame.SetName(w, in.Writer)
	}
	return frame.Back(w, r, "/trials/"+id+"/ask")
}

// Overview shows a trial as a whole: what is asked, what is done, what is next.
func Overview(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	v := d.View(r, t, "")
	v.Data = trial{Trial: t, Path: v.Path, Last: t.Entries[len(t.Entries)-1]}
	return d.Show(w, r, overviewPage, v)
}

// PutAway takes a trial off the list.
func PutAway(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	if _, err := d.Trial(r); err != nil {
		return err
	}
	_, err := d.Book.Add(r.Context(), d.Who(r), r.PathValue("trial"), "", record.PutAway{Why: strings.TrimSpace(r.PostFormValue("why"))})
	var already *record.Conflict
	if err != nil && !errors.As(err, &already) {
		return err
	}
	return frame.Back(w, r, "/")
}

// Undo takes an entry of a trial back, or brings back what was taken back.
func Undo(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	seq, err := strconv.ParseInt(r.PostFormValue("seq"), 10, 64)
	if err != nil {
		return frame.BadRequest("which entry is to be taken back was not said; go back and try again")
	}
	id := r.PathValue("trial")
	e, err := d.Book.Undo(r.Context(), d.Who(r), id, seq, strings.TrimSpace(r.PostFormValue("why")))
	if err != nil {
		return err
	}
	if frame.WantsJSON(r) {
		return frame.JSON(w, http.StatusOK, map[string]int64{"seq": e.Seq})
	}
	return frame.Back(w, r, backTo(r, "/trials/"+id+"/history"))
}

// backTo is the page of this machine that a form wants to go on to.
func backTo(r *http.Request, fallback string) string {
	back := r.PostFormValue("back")
	if !strings.HasPrefix(back, "/") || strings.HasPrefix(back, "//") || strings.ContainsAny(back, "\\\r\n") {
		return fallback
	}
	return back
}

// File serves a picture that came with an entry. Other files go out through the
// stations, which know whether they may: the papers of a blind trial tell its letters.
func File(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	content, ref, err := d.Book.Logbook().File(r.Context(), r.PathValue("sum"))
	if err != nil {
		return err
	}
	switch ref.MediaType {
	case "image/jpeg", "image/png", "image/webp":
	default:
		return frame.NotFound("there is no such picture in the logbook")
	}
	h := w.Header()
	h.Set("Content-Type", ref.MediaType)
	h.Set("Content-Length", strconv.Itoa(len(content)))
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	_, err = w.Write(content)
	return err
}
