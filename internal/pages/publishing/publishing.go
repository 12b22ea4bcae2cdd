// Package publishing is the station Publish: the answer of a trial as files to pass
// on, and how it can be worked out again by whoever gets them.
//
// Everything comes from the answer that package answers keeps for the readings as
// they are. Where there is none the page says to answer first.
package publishing

import (
	"bytes"
	"embed"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/figure"
	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/answers"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var publishPage = frame.Page(templates, "templates/publish.html")

// Pages are the handlers of the station.
type Pages struct {
	keeper  *answers.Keeper
	drawing chan struct{} // one picture in points is drawn at a time
}

// New returns the handlers, which publish what a Keeper keeps.
func New(k *answers.Keeper) *Pages { return &Pages{keeper: k, drawing: make(chan struct{}, 1)} }

// page is the page of the station.
type page struct {
	*answers.Current
	Headline []string
	Base     string // address of the trial
	Report   string // address of the report, shown in place
	Save     string // the same, to be saved
	Figures  []drawing
	Command  string
	TableAs  string // what readings.csv is saved as
	Table    *file  // that was taken in
	Sealed   bool
	Plan     []file
	Photos   []photo
}

// file is a file that is offered; Words say what it is where its name misleads.
type file struct{ Name, Path, Size, Words string }

// drawing is a figure with the addresses of its files.
type drawing struct {
	Title string
	Files []file
}

type photo struct{ Code, What, Thumb, Full string }

// Show shows what there is to pass on.
func (p *Pages) Show(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	c, err := p.keeper.Current(d, r)
	if err != nil {
		return err
	}
	t := c.Trial
	data := page{Current: c, Base: "/trials/" + url.PathEscape(t.ID), Sealed: t.Sealed(), Table: tableOf(t), Photos: photosOf(t)}
	data.TableAs = answers.FileName(t, "readings", "csv")
	data.Command = c.Command(data.TableAs)
	data.Report = data.Base + "/report.html" + c.Query
	data.Save = data.Base + "/report.html" + with(c.Query, "download", "1")
	if !data.Sealed {
		data.Plan = planOf(t)
	}
	if c.Kept != nil {
		data.Headline = c.Headline()
		for _, f := range c.Kept.Figures() {
			data.Figures = append(data.Figures, drawingOf(data.Base, c.Query, f))
		}
	}
	v := d.View(r, t, "publish")
	v.Data = data
	v.Styles = []string{"answer.css", "publish.css"}
	return d.Show(w, r, publishPage, v)
}

// with adds a name and a value to the query of an address.
func with(query, name, value string) string {
	one := url.QueryEscape(name) + "=" + url.QueryEscape(value)
	if query == "" {
		return "?" + one
	}
	return query + "&" + one
}

// sizes are those that a figure is offered in as a picture in points.
var sizes = []struct {
	name       string
	width, dpi int
	dark       bool
}{
	{"PNG for a page", 720, 300, false},
	{"PNG for a slide", 640, 288, false},
	{"PNG for video, dark", 480, 384, true},
}

func drawingOf(base, query string, f answers.Figure) drawing {
	path := base + "/figures/" + f.Name
	d := drawing{Title: f.Title, Files: []file{
		{"SVG", path + ".svg" + query, "", ""},
		{"SVG, dark", path + ".svg" + with(query, "dark", "1"), "", ""},
	}}
	for _, s := range sizes {
		q := with(with(query, "width", strconv.Itoa(s.width)), "dpi", strconv.Itoa(s.dpi))
		if s.dark {
			q = with(q, "dark", "1")
		}
		d.Files = append(d.Files, file{s.name, path + ".png" + q, "", ""})
	}
	return d
}

// tableOf is the table that a trial was taken in from, nil where there is none.
func tableOf(t *record.Trial) *file {
	for _, e := range t.Entries {
		for _, f := range e.Files {
			if f.Role == "table" {
				return &file{f.Name, "/trials/" + url.PathEscape(t.ID) + "/publish/table", size(f.Size), ""}
			}
		}
	}
	return nil
}

// TakenIn sends the table that a trial was taken in from, as it came.
func (p *Pages) TakenIn(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	for _, e := range t.Entries {
		for _, f := range e.Files {
			if f.Role == "table" {
				return send(d, w, r, f)
			}
		}
	}
	return frame.NotFound("this trial was not taken in from a table")
}

// PlanFile sends a file of the plan as it was made. While the key is sealed it sends
// none: several of them tell by their times which letter may be which.
func (p *Pages) PlanFile(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	switch {
	case err != nil:
		return err
	case t.Plan == nil:
		return frame.NotFound("this trial has no plan")
	case t.Sealed():
		return &frame.Problem{Status: http.StatusForbidden, Words: "the key is sealed, and the plan would tell what is under it: open the key at Plan, after the last break"}
	}
	name := r.PathValue("name")
	if name == trialFile {
		return answers.Send(w, "application/toml", answers.FileName(t, "trial", "toml"), []byte(t.Plan.File))
	}
	for _, f := range t.PlanAt.Files {
		if f.Role == "plan" && f.Name == name {
			return send(d, w, r, f)
		}
	}
	return frame.NotFound("the plan has no such file")
}

// trialFile names the trial file that a plan was made from.
const trialFile = "trial.toml"

func planOf(t *record.Trial) []file {
	if t.Plan == nil {
		return nil
	}
	path := "/trials/" + url.PathEscape(t.ID) + "/publish/plan/"
	out := []file{{trialFile, path + trialFile, size(int64(len(t.Plan.File))), ""}}
	for _, f := range t.PlanAt.Files {
		if f.Role == "plan" {
			words := ""
			if f.Name == "readings.csv" {
				words = "Empty table for the bench"
			}
			out = append(out, file{f.Name, path + url.PathEscape(f.Name), size(f.Size), words})
		}
	}
	return out
}

// send sends a file of the logbook, to be saved under its own name.
func send(d *frame.Desk, w http.ResponseWriter, r *http.Request, f logbook.FileRef) error {
	content, _, err := d.Book.Logbook().File(r.Context(), f.Sum)
	if err != nil {
		return err
	}
	return answers.Send(w, "application/octet-stream", f.Name, content)
}

// size writes a number of bytes as a person says it.
func size(n int64) string {
	switch {
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%d bytes", n)
}

// photosOf lists the photos of a trial: of the breaks, then of remarks.
func photosOf(t *record.Trial) []photo {
	var out []photo
	add := func(code, what string, files []logbook.FileRef) {
		for _, f := range files {
			path := "/files/" + f.Sum
			switch {
			case f.Role == "photo":
				out = append(out, photo{code, what, path, path})
			case f.Role == "thumb" && len(out) > 0:
				out[len(out)-1].Thumb = path
			}
		}
	}
	for _, s := range t.Specimens {
		if s.Broken != nil {
			add(s.Code, "broken faces", s.Broken.Files)
		}
	}
	for _, n := range t.Notes {
		add(n.Subject, "with a remark", n.Files)
	}
	return out
}

// Bounds of a figure that is asked for.
const (
	leastWidth, mostWidth = 240, 1600 // CSS pixels
	leastDPI, mostDPI     = 48, 600
	mostPoints            = 16_000_000 // of a PNG: 64 MB while it is drawn; a taller figure gets fewer dots an inch
)

// Figure sends a figure of the answer, strength.svg or strength.png, as wide, dark
// and fine as the address says.
func (p *Pages) Figure(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	name, ext, _ := strings.Cut(r.PathValue("file"), ".")
	if ext != "svg" && ext != "png" {
		return frame.NotFound("figures are there as .svg and .png")
	}
	q := r.URL.Query()
	width, err := within(q, "width", 720, leastWidth, mostWidth)
	if err != nil {
		return err
	}
	dpi, err := within(q, "dpi", 192, leastDPI, mostDPI)
	if err != nil {
		return err
	}
	c, err := p.keeper.Current(d, r)
	if err != nil {
		return err
	}
	if c.Kept == nil {
		return &frame.Problem{Status: http.StatusConflict, Words: "the readings have not been answered with these settings yet: open Answer first"}
	}
	style := figure.Column().WithWidth(float64(width))
	style.Dark = q.Get("dark") == "1"
	if c.Units == bondtrial.US.StressUnit() {
		style.Units = bondtrial.US
	}
	for _, f := range c.Kept.Figures() {
		if f.Name == name {
			return p.sendFigure(w, r, answers.FileName(c.Trial, name, ext), f.Draw(style), ext, dpi)
		}
	}
	return frame.NotFound("this answer has no figure of that name")
}

func (p *Pages) sendFigure(w http.ResponseWriter, r *http.Request, name string, f *figure.Figure, ext string, dpi int) error {
	if f == nil {
		return frame.NotFound("there is nothing to draw")
	}
	if ext == "svg" {
		return answers.Send(w, "image/svg+xml", name, f.FileSVG())
	}
	select {
	case p.drawing <- struct{}{}:
		defer func() { <-p.drawing }()
	case <-r.Context().Done():
		return r.Context().Err()
	}
	var b bytes.Buffer
	if err := f.WritePNG(&b, fitting(f, dpi)); err != nil {
		return fmt.Errorf("drawing %s: %w", name, err)
	}
	return answers.Send(w, "image/png", name, b.Bytes())
}

// fitting lowers dots an inch until a figure has no more points than are drawn.
func fitting(f *figure.Figure, dpi int) int {
	for {
		across, down := f.Pixels(dpi)
		if across*down <= mostPoints || dpi <= leastDPI {
			return dpi
		}
		dpi = max(leastDPI, min(dpi-1, int(float64(dpi)*math.Sqrt(mostPoints/float64(across*down)))))
	}
}

// within reads a whole number of an address that has bounds.
func within(q url.Values, name string, usual, least, most int) (int, error) {
	s := q.Get(name)
	if s == "" {
		return usual, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < least || n > most {
		return 0, frame.BadRequest(fmt.Sprintf("%s: give a whole number from %d to %d", name, least, most))
	}
	return n, nil
}
