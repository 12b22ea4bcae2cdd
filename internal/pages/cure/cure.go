package cure

import (
	"cmp"
	"embed"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var curePage = frame.Page(templates, "templates/cure.html", "templates/look.html", "templates/figure.html")

// page is what the station shows.
type page struct {
	Any     bool // the trial has adhesives to look at
	Planned bool // looks are planned
	Due     []check
	Today   []check
	Later   []check
	Waiting []check // of specimens that are not glued yet
	Done    []look  // the latest first
	Soft    []Warning
	Labels  []label
	Remarks []remark
	Panels  []panel // hardness against time; none: not two looks yet
	Free    lookForm
	Note    noteForm
	UndoKey string
}

// check is a planned look that is not taken yet.
type check struct {
	record.Check
	Of    string // adhesive and batch
	When  string
	Day   string // of the glue-up
	Late  string // how long it has been due; empty: it is not
	Glued int    // of its specimens
	Hint  string // that the glue-up was not when it was planned
	Early string // what is asked where the look is taken now, well before its time; empty: nothing
	Form  lookForm
}

// look is what was seen.
type look struct {
	record.Looked
	Of, Why  string
	Codes    []string
	Hardness string // in words
	Flexible string
	Photos   []picture
	Soft     string // do not break yet
	Form     lookForm
}

// remark is a note or a photo.
type remark struct {
	record.Remark
	About  string
	Photos []picture
}

// picture is a photo and its small copy.
type picture struct{ Photo, Thumb, Name string }

// label is an adhesive as its labels have it and as the page may call it.
type label struct{ Label, Shown string }

// lookForm is the form for a look.
type lookForm struct {
	ID                 string // of the form within the page
	About              string // what it is a look at: check 3, entry 12, free
	Key                string
	Open               bool
	Label              string // of a look that no plan asks for
	Hardness, Flexible int
	Note               string
	Early              string // what is asked where the look is well before its time
	Sure               bool   // it was asked
	Wrong              map[string]string
}

// noteForm is the form for a remark.
type noteForm struct {
	Key, About, Text string
	Wrong            map[string]string
}

// Show shows the station.
func Show(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	return d.Show(w, r, curePage, view(d, r, t, build(d, t)))
}

func view(d *frame.Desk, r *http.Request, t *record.Trial, p *page) *frame.View {
	v := d.View(r, t, "cure")
	v.Data, v.Styles, v.Scripts = p, []string{"cure.css"}, []string{"cure.js"}
	return v
}

func build(d *frame.Desk, t *record.Trial) *page {
	p := &page{Labels: labelsOf(t)}
	now := d.Clock()
	p.Any = len(p.Labels) > 0
	for _, c := range t.Checks() {
		p.Planned = true
		if c.Seen == nil {
			p.place(t, checkOf(d, t, c, now), now)
		}
	}
	if len(p.Due) > 0 {
		p.Due[0].Form.Open = true
	}
	for i := range t.Cures {
		p.Done = append(p.Done, lookOf(d, t, &t.Cures[i]))
	}
	slices.SortStableFunc(p.Done, func(a, b look) int { return cmp.Compare(b.First, a.First) })
	p.Soft = NotYet(t)
	for _, n := range t.Notes {
		if n.Station == "cure" {
			p.Remarks = append(p.Remarks, remark{n, shownAs(t, n.Subject), pictures(n.Files)})
		}
	}
	slices.Reverse(p.Remarks)
	p.Panels = panelsOf(t)
	p.Free = lookForm{ID: "free", About: "free", Key: d.NewKey(), Open: p.Any && !p.Planned}
	p.Note.Key, p.UndoKey = d.NewKey(), d.NewKey()
	return p
}

// place puts a look that is not taken yet where it belongs.
func (p *page) place(t *record.Trial, c check, now time.Time) {
	day := func(at time.Time) string { return at.In(t.Zone).Format(time.DateOnly) }
	switch {
	case c.Glued == 0 && t.CountGlued() < len(t.Specimens)-t.CountSpoiled():
		p.Waiting = append(p.Waiting, c)
	case !c.At.After(now):
		p.Due = append(p.Due, c)
	case day(c.At) == day(now):
		p.Today = append(p.Today, c)
	default:
		p.Later = append(p.Later, c)
	}
}

func checkOf(d *frame.Desk, t *record.Trial, c record.Check, now time.Time) check {
	k := check{Check: c, Of: c.Label, When: frame.When(c.At, t.Zone)}
	if c.Batch != "" {
		k.Of += ", batch " + c.Batch
	}
	if day, err := time.Parse(time.DateOnly, c.GluedOn); err == nil {
		k.Day = day.Format("Mon 2 Jan 2006")
	}
	if late := now.Sub(c.At); late >= 0 {
		k.Late = Span(late)
	}
	for _, code := range c.Codes {
		if s, ok := t.Specimen(code); ok && s.Glued != nil && s.Glued.Spoiled == "" {
			k.Glued++
		}
	}
	if moved := c.At.Sub(c.PlannedAt); moved.Abs() >= time.Hour {
		k.Hint = fmt.Sprintf("By the glue-up as it was recorded; the plan has it at %s.", frame.When(c.PlannedAt, t.Zone))
	}
	k.Early = early(t, c, now)
	k.Form = lookForm{ID: fmt.Sprintf("check-%d", c.Number), About: fmt.Sprintf("check %d", c.Number), Key: d.NewKey(), Early: k.Early}
	return k
}

// early says that a planned look is taken so long before its time that another one may
// be meant; empty: it is not. A look may come a quarter of the time early, or an hour.
func early(t *record.Trial, c record.Check, now time.Time) string {
	before := c.At.Sub(now)
	if before <= max(time.Hour, c.At.Sub(c.Glued)/4) {
		return ""
	}
	return fmt.Sprintf("This look is due at %s, in %s: is it the one you mean? If it is, write it down again. Else take “A look that is not planned” below, and this one stays due.", frame.When(c.At, t.Zone), Span(before))
}

func lookOf(d *frame.Desk, t *record.Trial, l *record.Looked) look {
	k := look{Looked: *l, Of: shownAs(t, l.Adhesive), Why: "not planned", Photos: pictures(l.Files), Hardness: hardness.words(l.Cured.Hardness), Flexible: flexible.words(l.Cured.Flexible)}
	if c, ok := checkAt(t, l.Subject); ok {
		k.Why, k.Codes = c.Why, c.Codes
		if c.Batch != "" {
			k.Of += ", batch " + c.Batch
		}
	}
	k.Soft = softAt(t, l)
	k.Form = lookForm{ID: fmt.Sprintf("entry-%d", l.Seq), About: fmt.Sprintf("entry %d", l.Seq), Key: d.NewKey(), Hardness: l.Cured.Hardness, Flexible: l.Cured.Flexible, Note: l.Cured.Note}
	return k
}

// checkAt returns the planned look of an entry's subject.
func checkAt(t *record.Trial, subject string) (record.Check, bool) {
	for _, c := range t.Checks() {
		if c.Subject == subject {
			return c, true
		}
	}
	return record.Check{}, false
}

// labelsOf lists the adhesives of a trial, in the order of what pages call them
// where letters are sealed.
func labelsOf(t *record.Trial) []label {
	var out []label
	for _, s := range t.Specimens {
		l := label{s.Label, t.Shown(s)}
		if l.Label != "" && !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b label) int { return strings.Compare(a.Shown, b.Shown) })
	return out
}

// shownAs is what the page may call an adhesive that entries name by its label.
func shownAs(t *record.Trial, name string) string {
	for _, l := range labelsOf(t) {
		if l.Label == name {
			return l.Shown
		}
	}
	return name
}

// pictures pairs photos with their small copies, which follow them.
func pictures(files []logbook.FileRef) []picture {
	var out []picture
	for i, f := range files {
		if f.Role != "photo" {
			continue
		}
		p := picture{Photo: f.Sum, Thumb: f.Sum, Name: f.Name}
		if i+1 < len(files) && files[i+1].Role == "thumb" {
			p.Thumb = files[i+1].Sum
		}
		out = append(out, p)
	}
	return out
}

// Span writes a duration in minutes, hours or days, whole ones.
func Span(d time.Duration) string {
	switch {
	case d < time.Hour:
		return fmt.Sprintf("%d min", d/time.Minute)
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", d/time.Hour)
	}
	return fmt.Sprintf("%d days", d/(24*time.Hour))
}
