package answers

import (
	"bytes"
	"embed"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var (
	answerPage   = frame.Page(templates, "templates/answer.html", "templates/parts.html")
	readingsPage = frame.Page(templates, "templates/readings.html")
)

// request reads what every handler needs: the trial, and the settings of the
// address.
func request(d *frame.Desk, r *http.Request) (*record.Trial, asked, typed, error) {
	t, err := d.Trial(r)
	if err != nil {
		return nil, asked{}, typed{}, err
	}
	a, in := settings(r.URL.Query(), t, d.Units(r, t))
	return t, a, in, nil
}

// address is the address of a page of the trial with the settings.
func address(t *record.Trial, page string, a asked) string {
	return "/trials/" + url.PathEscape(t.ID) + "/" + page + a.Query()
}

// wrongSettings is the error of settings that cannot be used, nil where there is
// none.
func (in typed) wrongSettings() error {
	if len(in.Wrong) == 0 {
		return nil
	}
	var parts []string
	for _, field := range []string{"control", "margin", "threshold", "family", "required", "seed", "draws", "units"} {
		if w := in.Wrong[field]; w != "" {
			parts = append(parts, field+" "+w)
		}
	}
	return frame.BadRequest("the settings in the address cannot be used: " + strings.Join(parts, "; "))
}

// Show shows the answer with the settings of the address, or what would be
// computed.
func (k *Keeper) Show(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, a, in, err := request(d, r)
	if err != nil {
		return err
	}
	data := page{Form: in, Query: a.Query(), Changed: a.Changed()}
	if len(in.Wrong) == 0 && t.CountBroken() > 0 {
		o, err := newOrder(d, t, a)
		if err != nil {
			return err
		}
		if err := data.fill(k, o); err != nil {
			return err
		}
	}
	v := d.View(r, t, "answer")
	v.Units, v.Data = a.Units, data
	v.Styles, v.Scripts = []string{"answer.css"}, []string{"answer.js"}
	if len(in.Wrong) > 0 {
		w = &withStatus{w, http.StatusUnprocessableEntity}
	}
	return d.Show(w, r, answerPage, v)
}

// withStatus gives a page that is shown another status than 200.
type withStatus struct {
	http.ResponseWriter
	status int
}

func (w *withStatus) WriteHeader(int) { w.ResponseWriter.WriteHeader(w.status) }

// Run begins to compute the answer with the settings of the address.
func (k *Keeper) Run(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, a, in, err := request(d, r)
	if err != nil {
		return err
	}
	if err := in.wrongSettings(); err != nil {
		return err
	}
	o, err := newOrder(d, t, a)
	if err != nil {
		return err
	}
	if o.enough() == nil { // else the page says what is missing
		k.run(o)
	}
	if frame.WantsJSON(r) {
		return frame.JSON(w, http.StatusOK, k.how(o.key))
	}
	back := "answer"
	if r.PostFormValue("back") == "publish" {
		back = "publish"
	}
	return frame.Back(w, r, address(t, back, a))
}

// patience is how long Stop waits for a computation to end.
const patience = 3 * time.Second

// Stop stops the computation of an answer.
func (k *Keeper) Stop(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, a, key, err := k.job(d, r)
	if err != nil {
		return err
	}
	if ended := k.stop(key); ended != nil {
		late := time.NewTimer(patience)
		defer late.Stop()
		select {
		case <-ended:
		case <-late.C:
		case <-r.Context().Done():
		}
	}
	if frame.WantsJSON(r) {
		return frame.JSON(w, http.StatusOK, k.how(key))
	}
	return frame.Back(w, r, address(t, "answer", a))
}

// Progress says how far the answer is, as JSON.
func (k *Keeper) Progress(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	_, _, key, err := k.job(d, r)
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "no-store")
	return frame.JSON(w, http.StatusOK, k.how(key))
}

// job is the computation that a request means: the one it names, else the one of the
// settings and the readings as they are.
func (k *Keeper) job(d *frame.Desk, r *http.Request) (*record.Trial, asked, Key, error) {
	t, a, in, err := request(d, r)
	if err != nil {
		return nil, asked{}, "", err
	}
	if key := r.FormValue("job"); key != "" {
		return t, a, Key(key), nil
	}
	if err := in.wrongSettings(); err != nil {
		return nil, asked{}, "", err
	}
	o, err := newOrder(d, t, a)
	if err != nil {
		return nil, asked{}, "", err
	}
	return t, a, o.key, nil
}

// Current is the answer that is kept for the settings of a request and the readings
// as they are.
type Current struct {
	Trial   *record.Trial
	Kept    *Kept    // nil: none is kept
	How     How      // how far it is
	Missing []string // why there can be none
	Since   string   // what changed since an earlier one; empty: none is kept
	Query   string   // the settings as they stand in an address
	Command func(table string) string
	Units   string // "" or "MPa" or "psi"
	asked   asked
}

// Current returns the answer for a request. Settings that cannot be used are an
// error.
func (k *Keeper) Current(d *frame.Desk, r *http.Request) (*Current, error) {
	t, a, in, err := request(d, r)
	if err != nil {
		return nil, err
	}
	if err := in.wrongSettings(); err != nil {
		return nil, err
	}
	c := &Current{Trial: t, Query: a.Query(), Command: a.Command, Units: a.Units.StressUnit(), asked: a, How: How{State: Unknown}}
	if t.CountBroken() == 0 {
		c.Missing = []string{"Nothing has been broken yet."}
		return c, nil
	}
	var data page
	o, err := newOrder(d, t, a)
	if err != nil {
		return nil, err
	}
	if err := data.fill(k, o); err != nil {
		return nil, err
	}
	c.How, c.Missing, c.Since = data.How, data.Missing, data.Since
	if data.Since == "" {
		c.Kept = data.kept
	}
	return c, nil
}

// Headline is the kept answer in sentences; there must be one.
func (c *Current) Headline() []string {
	return publish.AllGlued(publish.NewWords(c.Kept.Answer, c.asked.Units).Headline())
}

// keptFor returns the answer of a request, or the error that it is to be answered first.
func (k *Keeper) keptFor(d *frame.Desk, r *http.Request) (*Current, error) {
	c, err := k.Current(d, r)
	if err == nil && c.Kept == nil {
		err = &frame.Problem{Status: http.StatusConflict, Words: "the readings have not been answered with these settings yet: open Answer first"}
	}
	return c, err
}

// Table writes the readings as they are, as a table that "bondtrial answer" takes.
func (k *Keeper) Table(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, a, _, err := request(d, r)
	if err != nil {
		return err
	}
	o, err := newOrder(d, t, a)
	if err != nil {
		return err
	}
	return Send(w, "text/csv; charset=utf-8", FileName(t, "readings", "csv"), o.table)
}

// JSON writes the answer for programs.
func (k *Keeper) JSON(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	c, err := k.keptFor(d, r)
	if err != nil {
		return err
	}
	return write(w, "application/json", FileName(c.Trial, "answer", "json"), func(out io.Writer) error { return publish.JSON(out, c.Kept.Answer) })
}

// Report writes the report. It is shown in place unless the address says download=1.
func (k *Keeper) Report(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	c, err := k.keptFor(d, r)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := publish.HTML(&b, c.Kept.Answer, c.Kept.Source(FileName(c.Trial, "readings", "csv")), c.asked.Units); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	// The report is one file: its styles are inside. Nothing else may load or run.
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; frame-ancestors 'none'; base-uri 'none'")
	if slices.Contains(r.URL.Query()["download"], "1") {
		return Send(w, "text/html; charset=utf-8", FileName(c.Trial, "report", "html"), b.Bytes())
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = b.WriteTo(w)
	return nil
}

func write(w http.ResponseWriter, mediaType, name string, to func(io.Writer) error) error {
	var b bytes.Buffer
	if err := to(&b); err != nil {
		return fmt.Errorf("writing %s: %w", name, err)
	}
	return Send(w, mediaType, name, b.Bytes())
}
