package frame

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"strings"
	"time"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
)

//go:embed templates
var templates embed.FS

var errorPage = Page(templates, "templates/error.html")

// View is what the layout shows around a page.
type View struct {
	Title    string
	Nav      string        // "trials", "shelf", "rack", "rig", "logbook"
	Trial    *record.Trial // nil beside the trials
	Path     []Station     // of the trial
	Here     string        // the station that is shown, such as "glue"
	Units    bondtrial.Units
	Name     string // of who writes
	Device   string
	Itself   bool // the machine itself, not a device that was let in
	Stranger bool // a device that is not let in: no way leads on from the page
	Demo     bool
	Notices  []string
	Cautions []string // shown at the foot
	Scripts  []string // modules of the page, in static
	Styles   []string // style sheets of the page, in static
	Version  string
	Key      string // for one entry
	Seq      int64  // the last entry that the page can know of
	Now      time.Time
	Zone     *time.Location
	Error    string // shown at the top of a page that is shown again with what was typed
	Data     any    // the page's own struct
}

// View returns the view of a page: of a trial's station where t is not nil, else of
// the part of the logbook that here names.
func (d *Desk) View(r *http.Request, t *record.Trial, here string) *View {
	v := &View{Trial: t, Here: here, Nav: here, Units: d.Units(r, t), Name: d.Name(r), Demo: d.Demo, Version: d.Version,
		Key: d.NewKey(), Now: d.Clock(), Zone: time.Local, Cautions: publish.Cautions}
	v.Device, v.Itself = d.Device(r)
	if d.Notices != nil {
		v.Notices = d.Notices()
	}
	v.Seq, _ = r.Context().Value(asOf{}).(int64)
	if t != nil {
		v.Seq = 0
		if n := len(t.Entries); n > 0 {
			v.Seq = t.Entries[n-1].Seq
		}
		v.Nav, v.Title, v.Zone = "trials", t.Asked.Name, t.Zone
		v.Path = Path(t, d.Clock())
	}
	return v
}

// Page makes the template of a page from a file that defines "main", and may define
// "head". Further files hold parts.
func Page(files fs.FS, names ...string) *template.Template {
	t := template.Must(template.New("layout.html").Funcs(funcs).ParseFS(templates, "templates/layout.html", "templates/parts.html"))
	return template.Must(t.ParseFS(files, names...))
}

// Show writes a page.
func (d *Desk) Show(w http.ResponseWriter, r *http.Request, page *template.Template, v *View) error {
	return d.show(w, r, http.StatusOK, page, v)
}

// ShowAgain writes a page again with what was typed and what is wrong with it.
func (d *Desk) ShowAgain(w http.ResponseWriter, r *http.Request, page *template.Template, v *View, err error) error {
	status, words := Status(err)
	if status == http.StatusInternalServerError {
		return err
	}
	v.Error = Sentence(words)
	return d.show(w, r, status, page, v)
}

func (d *Desk) show(w http.ResponseWriter, _ *http.Request, status int, page *template.Template, v *View) error {
	var b bytes.Buffer
	if err := page.Execute(&b, v); err != nil {
		return fmt.Errorf("showing a page: %w", err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = b.WriteTo(w) // whoever went away does not read it
	return nil
}

// funcs are what templates may call.
var funcs = template.FuncMap{
	"clock":    func(t time.Time, z *time.Location) string { return t.In(z).Format("15:04") },
	"day":      func(t time.Time, z *time.Location) string { return t.In(z).Format("Mon 2 Jan 2006") },
	"when":     When,
	"zone":     Zone,
	"iso":      func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
	"number":   show.Trim,
	"strength": func(u bondtrial.Units, mpa float64) string { return show.WithUnit(u, answer.Value(mpa)) },
	"list":     show.List,
	"join":     strings.Join,
	"lower":    strings.ToLower,
	"add":      func(a, b int) int { return a + b },
	"static":   StaticPath,
	"dict":     dict,
}

// When writes a moment so that its date cannot be misread.
func When(t time.Time, z *time.Location) string {
	if t.IsZero() {
		return ""
	}
	return t.In(z).Format("15:04, Mon 2 Jan 2006")
}

// Zone says in which zone times are shown, and how far from UTC it is at a moment.
func Zone(now time.Time, z *time.Location) string {
	switch offset := "UTC" + now.In(z).Format("-07:00"); z.String() {
	case "UTC":
		return "UTC"
	case "Local":
		return "the zone of the machine (now " + offset + ")"
	default:
		return z.String() + " (now " + offset + ")"
	}
}

// dict makes a map for a part of a template: names and values in turn.
func dict(kv ...any) (map[string]any, error) {
	m := make(map[string]any, len(kv)/2)
	for i := 0; i+1 < len(kv); i += 2 {
		k, ok := kv[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict: %v is no name", kv[i])
		}
		m[k] = kv[i+1]
	}
	return m, nil
}
