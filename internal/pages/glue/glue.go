package glue

import (
	"embed"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/shortcode"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var gluePage = frame.Page(templates, "templates/glue.html", "templates/card.html", "templates/around.html", "templates/forms.html")

// page is what the station shows.
type page struct {
	trial *record.Trial
	now   time.Time
	left  []*record.Specimen // to be glued, in their order

	Stands  bool // the trial has specimens
	Total   int
	Glued   int
	Spoiled int

	Card   *card            // the specimen in hand; nil: all are glued
	Ready  *record.Specimen // what ?code= asked for and is recorded already
	Lost   string           // what ?code= asked for and is not there
	Nearby string           // what may have been meant
	Queue  []card           // all that is left, the one in hand first
	Next   []card           // the five after the one in hand
	Last   []done           // what was recorded last, the latest first
	Clamps clamps
	After  after

	Done    doneForm
	Marks   marks
	Air     air
	Add     addForm
	UndoKey string
	// KeyThere is set where adhesives go by letters and nobody has the key yet.
	KeyThere bool
	Careful  []string // of the adhesives of the trial as a whole
}

// card is a specimen with what it needs. It also goes to the module of the page,
// which moves on by it.
type card struct {
	Code     string `json:"code"`
	Adhesive string `json:"adhesive"`
	Also     string `json:"also"` // what its labels say, where that is another word
	Wood     string `json:"wood"`
	Board    string `json:"board"`
	Pieces   string `json:"pieces"`
	Levels   string `json:"levels"`
	Batch    string `json:"batch"`
	Fresh    string `json:"fresh"` // what is to be opened or mixed before it
	Open     int    `json:"open"`  // seconds; 0: not known
	Limits   string `json:"limits"`
	Planned  string `json:"planned"`
	At       int64  `json:"at"` // planned, milliseconds since 1970; 0: in no plan
	Lag      string `json:"-"`
	Long     bool   `json:"long"` // the code is longer than those of plans
}

// done is a glue-up as it was recorded.
type done struct {
	Seq   int64
	Code  string
	Words string
	Stamp record.Stamp
}

// after says what comes when all is glued.
type after struct {
	Check     string // when the first look at the cure is due; empty: none is planned
	CheckOf   string
	Breaks    string // when breaking begins
	AnyBroken bool
}

// doneForm is what was typed about the specimen in hand.
type doneForm struct {
	Note, Batch, Why, Other string
	Over, Spoiling          bool
	Spread, Clamped         string
	Wrong                   map[string]string
}

// shownNext is how many specimens are listed after the one in hand.
const shownNext = 5

// Show shows the station. The query's code names a specimen to go to.
func Show(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	p := build(d, r, t, strings.TrimSpace(r.FormValue("code")))
	p.Marks.choose(r.FormValue("label"), r.FormValue("batch"))
	return d.Show(w, r, gluePage, view(d, r, t, p))
}

func view(d *frame.Desk, r *http.Request, t *record.Trial, p *page) *frame.View {
	v := d.View(r, t, "glue")
	v.Data, v.Styles, v.Scripts = p, []string{"glue.css"}, []string{"glue.js"}
	return v
}

// again shows the station again with what was typed.
func again(d *frame.Desk, w http.ResponseWriter, r *http.Request, t *record.Trial, p *page, err error) error {
	if frame.WantsJSON(r) {
		return err
	}
	return d.ShowAgain(w, r, gluePage, view(d, r, t, p), err)
}

func build(d *frame.Desk, r *http.Request, t *record.Trial, code string) *page {
	now := d.Clock()
	p := &page{trial: t, now: now, left: toGlue(t), Stands: len(t.Specimens) > 0, Total: len(t.Specimens),
		Glued: t.CountGlued(), Spoiled: t.CountSpoiled(), UndoKey: d.NewKey(), Careful: careful(t)}
	p.goTo(code)
	f := planFile(t)
	p.Queue = cardsOf(t, p.left, f)
	if len(p.Queue) > 0 {
		p.Card = &p.Queue[0]
		p.Card.Lag = lag(p.Card.At, now)
		p.Next = p.Queue[1:min(len(p.Queue), 1+shownNext)]
	}
	p.Last = lastDone(t)
	p.Clamps = clampsOf(t, f, now)
	p.After = afterOf(t)
	p.Marks = marksOf(t, d.NewKey())
	p.Air = airOf(d, r, t, f, now)
	p.Add = addFormOf(t, d.NewKey())
	p.KeyThere = t.Sealed() && !keyTaken(t)
	return p
}

// keyTaken reports whether somebody took the key to the letters on paper, which the
// station Plan notes.
func keyTaken(t *record.Trial) bool {
	return slices.ContainsFunc(t.Notes, func(n record.Remark) bool { return n.Station == "key" && n.Seq > t.PlanAt.Seq })
}

// toGlue returns what is left to glue: by the plan, then what was added by hand.
func toGlue(t *record.Trial) []*record.Specimen {
	left := t.ToGlue()
	for _, s := range t.Specimens {
		if s.GlueTurn == 0 && s.Glued == nil && s.Broken == nil {
			left = append(left, s)
		}
	}
	return left
}

// goTo takes the specimen of a code first, where it is left to glue.
func (p *page) goTo(code string) {
	if code == "" {
		return
	}
	s := find(p.trial, code)
	if s == nil {
		p.Lost, p.Nearby = code, nearby(p.trial, code)
		return
	}
	i := slices.Index(p.left, s)
	if i < 0 {
		p.Ready = s
		return
	}
	p.left = slices.Insert(slices.Delete(p.left, i, i+1), 0, s)
}

// find returns the specimen of a code however it is written; nil: there is none.
func find(t *record.Trial, code string) *record.Specimen {
	if s, ok := t.Specimen(code); ok {
		return s
	}
	if s, ok := t.Specimen(shortcode.Fold(code)); ok {
		return s
	}
	for _, s := range t.Specimens {
		if strings.EqualFold(s.Code, code) {
			return s
		}
	}
	return nil
}

func nearby(t *record.Trial, code string) string {
	var known []string
	for _, s := range t.Specimens {
		known = append(known, s.Code)
	}
	near, _ := shortcode.Nearest(code, known)
	return near
}

// lastDone returns the three glue-ups recorded last, the latest first.
func lastDone(t *record.Trial) []done {
	var out []done
	for _, s := range t.Specimens {
		if g := s.Glued; g != nil {
			out = append(out, done{Seq: g.Seq, Code: s.Code, Words: gluedWords(g), Stamp: g.Stamp})
		}
	}
	slices.SortFunc(out, func(a, b done) int { return int(b.Seq - a.Seq) })
	return out[:min(len(out), 3)]
}

// gluedWords says in a few words what was recorded of a glue-up.
func gluedWords(g *record.Glue) string {
	words := "under the clamp"
	if g.Glued.Spoiled != "" {
		words = "spoiled: " + g.Glued.Spoiled
	}
	if !g.Spread.IsZero() && !g.Clamped.IsZero() {
		words += fmt.Sprintf(", %s after the adhesive went on", span(g.Clamped.Sub(g.Spread).Round(time.Second)))
	}
	if g.OverOpen {
		words += ", open time was over"
	}
	return words
}

func afterOf(t *record.Trial) (a after) {
	for _, c := range t.Checks() {
		if c.Seen == nil {
			a.Check, a.CheckOf = frame.When(c.At, t.Zone), c.Label
			break
		}
	}
	for _, s := range t.ToBreak() {
		if !s.BreakAt.IsZero() {
			a.Breaks = frame.When(s.BreakAt, t.Zone)
			break
		}
	}
	a.AnyBroken = t.CountBroken() > 0
	return a
}
