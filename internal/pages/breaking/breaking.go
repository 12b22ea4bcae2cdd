// Package breaking is the station Break: one specimen at a time on the rig, what the
// display showed, and what the broken faces look like.
//
// Without scripts each break is a form that is sent. With them the page goes on to
// the next specimen at once, and what is entered while the connection is gone is kept
// on the device (static/queue.js) and written once when it is back.
package breaking

import (
	"embed"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/shortcode"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var (
	benchPage = frame.Page(templates, "templates/bench.html", "templates/form.html", "templates/faces.html", "templates/lists.html")
	entryPage = frame.Page(templates, "templates/entry.html", "templates/form.html", "templates/faces.html")
)

// page is what the bench shows.
type page struct {
	Now      *card  // on the rig; nil: nothing is left to break
	Next     string // code of the one after it; empty: none
	Left     []card // in breaking order, Now included
	Form     form
	Stop     *stop // a code was asked for that cannot be put on the rig
	Conflict *row  // a break that stands in the way of the one in the form
	Last     *row
	Caution  string // about the last break
	Outside  string // that the last break lies outside the range of its calibration
	Recent   []row
	All      []row
	Broken   int
	Unglued  int // specimens without a glue-up, where glueing is recorded
	Empty    bool
	Labels   []string // adhesives that a specimen in no plan may have
	Added    joint    // what was typed of such a specimen
	Inert    inert    // for the module
	Keys     [3]string

	now  time.Time
	mid  map[string]middle
	soft map[string]bool // codes of specimens that were soft
}

// card is what the page says of a specimen.
func (p *page) card(t *record.Trial, s *record.Specimen) card {
	c := cardOf(t, s, p.mid)
	if e := earlyOf(t, s, p.soft, p.now); e.Words != "" {
		c.Early = e.Words
		if !e.Until.IsZero() {
			c.Until = e.Until.UnixMilli()
		}
	}
	return c
}

// stop is a code that was asked for and whose specimen cannot be put on the rig: that
// is settled first.
type stop struct {
	Typed   string
	Wrong   string           // what is wrong with the code
	Nearest string           // what it may have been meant to be
	Seen    *row             // what is recorded of it, where it is broken already
	Spoiled *record.Specimen // it was spoiled at the glue-up
	Reason  string           // that it is set aside for
	Next    string           // the specimen whose turn it is; empty: none
}

// card is a specimen as the breaker may know it.
type card struct {
	Code  string   `json:"code"`
	Lines []string `json:"lines"`
	// Strengths outside of these are asked about, MPa; 0: nothing to go by.
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Middle float64 `json:"middle"`
	Others string  `json:"others"` // what the middle is of
	// What speaks against breaking it yet, and until when, in milliseconds since 1970; 0:
	// that is not known.
	Early string `json:"early"`
	Until int64  `json:"until"`
}

// row is a break in a list.
type row struct {
	Code     string
	Lines    []string
	Break    *record.Break
	Strength float64 // MPa
	Photos   []photos
}

// photos is a photo and its small copy.
type photos struct{ Full, Small string }

// Show shows the bench. The query's code puts a specimen on the rig.
func Show(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	v, p, err := bench(d, r, t)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	p.put(t, q.Get("code"))
	if u := q.Get("unit"); slices.Contains(p.Form.Units(), u) {
		p.Form.Unit = u
	}
	return d.Show(w, r, benchPage, v)
}

// bench fills the page with the trial as it stands, the next specimen on the rig.
func bench(d *frame.Desk, r *http.Request, t *record.Trial) (*frame.View, *page, error) {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return nil, nil, err
	}
	v := d.View(r, t, "break")
	v.Scripts, v.Styles = []string{"break.js"}, []string{"break.css"}
	p := &page{Broken: t.CountBroken(), Empty: len(t.Specimens) == 0, Labels: t.Adhesives(), Keys: [3]string{v.Key, d.NewKey(), d.NewKey()}}
	p.now, p.mid, p.soft = v.Now, middles(t), softOnes(t)
	for _, s := range t.ToBreak() {
		p.Left = append(p.Left, p.card(t, s))
	}
	if t.CountGlued() > 0 {
		p.Unglued = len(t.ToGlue())
	}
	p.Form = emptyForm(t, things, today(t, v.Now))
	p.Form.Areas = t.AreaMM2() == 0
	p.rows(t)
	if p.Last != nil {
		p.Caution = nearLimit(p.Last.Break.Broken, things.Rig)
		p.Outside = outside(p.Last.Break.Broken, things)
	}
	p.Inert = inertOf(t, v.Units, things.Rig, p.Left)
	p.Inert.Cal = curveOf(p.Form.Cal)
	p.Inert.Now = v.Now.UnixMilli()
	if len(p.Left) > 0 {
		p.set(&p.Left[0])
	}
	v.Data = p
	return v, p, nil
}

// set puts a specimen on the rig.
func (p *page) set(c *card) {
	p.Now, p.Next = c, ""
	p.Form.Code = c.Code
	for i := range p.Left {
		if p.Left[i].Code != c.Code {
			p.Next = p.Left[i].Code
			return
		}
	}
}

// put puts the specimen of a typed code on the rig, or says why it cannot be.
func (p *page) put(t *record.Trial, typed string) {
	if strings.TrimSpace(typed) == "" {
		return
	}
	s, nearest, err := find(t, typed)
	halt := &stop{}
	if p.Now != nil {
		halt.Next = p.Now.Code
	}
	switch {
	case err != nil:
		halt.Typed, halt.Wrong, halt.Nearest = shortened(strings.TrimSpace(typed)), frame.Sentence(err.Error()), nearest
	case s.Broken != nil:
		seen := rowOf(t, s)
		halt.Typed, halt.Seen = s.Code, &seen
	case s.Glued != nil && s.Glued.Spoiled != "":
		halt.Typed, halt.Spoiled, halt.Reason = s.Code, s, "spoiled at the glue-up: "+s.Glued.Spoiled
	default:
		c := p.card(t, s)
		p.set(&c)
		return
	}
	p.Stop, p.Now, p.Next, p.Form.Code = halt, nil, "", ""
}

// find returns the specimen of a code as somebody typed it. Where there is none it
// returns what is wrong with the code, and the nearest of those that are not broken.
func find(t *record.Trial, typed string) (s *record.Specimen, nearest string, err error) {
	typed = shortened(strings.TrimSpace(typed))
	if s, ok := t.Specimen(typed); ok {
		return s, "", nil
	}
	folded := shortcode.Fold(typed)
	var open []string
	for _, s := range t.Specimens {
		if shortcode.Fold(s.Code) == folded {
			return s, "", nil
		}
		if s.Broken == nil {
			open = append(open, s.Code)
		}
	}
	nearest, _ = shortcode.Nearest(typed, open)
	if t.Plan == nil {
		return nil, nearest, fmt.Errorf("no specimen of this trial is called %q", typed)
	}
	if err := shortcode.Check(folded); err != nil {
		return nil, nearest, err
	}
	return nil, nearest, fmt.Errorf("code %s is right in itself, and no specimen of this trial has it: look whether the label is of another trial", folded)
}

// cardOf is what the breaker may know of a specimen: in a sealed trial no more than
// its code and its wood.
func cardOf(t *record.Trial, s *record.Specimen, mid map[string]middle) card {
	c := card{Code: s.Code, Lines: lines(t, s, true)}
	if m, ok := mid[groupOf(t, s)]; ok {
		c.Low, c.High, c.Middle = m.value/timesApart, m.value*timesApart, m.value
		c.Others = fmt.Sprintf("the middle of the other %d", m.n)
	}
	return c
}

func lines(t *record.Trial, s *record.Specimen, pieces bool) []string {
	var out []string
	if s.Wood != "" {
		out = append(out, s.Wood)
	}
	if t.Sealed() {
		return out
	}
	if s.Board != "" {
		line := "board " + s.Board
		if pieces && s.Pieces != [2]int{} {
			line += fmt.Sprintf(", pieces %d and %d", s.Pieces[0], s.Pieces[1])
		}
		out = append(out, line)
	}
	for _, f := range t.Factors() {
		if level := s.Factors[f]; level != "" {
			out = append(out, f+": "+level)
		}
	}
	return append(out, t.Shown(s))
}

// recent is how many breaks are listed beside the rig.
const recent = 10

// rows lists what is broken, the latest first.
func (p *page) rows(t *record.Trial) {
	for _, s := range t.Specimens {
		if s.Broken != nil {
			p.All = append(p.All, rowOf(t, s))
		}
	}
	slices.SortStableFunc(p.All, func(a, b row) int { return int(b.Break.First - a.Break.First) })
	p.Recent = p.All[:min(recent, len(p.All))]
	for i := range p.All {
		if p.Last == nil || p.All[i].Break.Seq > p.Last.Break.Seq {
			p.Last = &p.All[i]
		}
	}
}

func rowOf(t *record.Trial, s *record.Specimen) row {
	r := row{Code: s.Code, Lines: lines(t, s, false), Break: s.Broken, Strength: s.Broken.Strength}
	var small []string
	for _, f := range s.Broken.Files {
		if f.Role == "thumb" {
			small = append(small, f.Sum)
		}
	}
	for i, f := range s.Broken.Photos() {
		p := photos{Full: f.Sum, Small: f.Sum}
		if i < len(small) {
			p.Small = small[i]
		}
		r.Photos = append(r.Photos, p)
	}
	return r
}

// Add adds a specimen that is in no plan and puts it on the rig.
func Add(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	j := joint{Code: shortcode.Fold(r.FormValue("code")), Adhesive: r.FormValue("adhesive"), Wood: r.FormValue("wood"), Board: r.FormValue("board"), Batch: r.FormValue("batch"),
		Factors: make(map[string]string)}
	for i, f := range t.Factors() {
		if level := strings.TrimSpace(r.FormValue(fmt.Sprintf("factor%d", i))); level != "" {
			j.Factors[f] = level
		}
	}
	add := func() error {
		who := d.Who(r)
		sent := func(e record.Entry) bool { return who.Key != "" && e.Key == who.Key }
		if s, nearest, err := find(t, j.Code); err == nil && !slices.ContainsFunc(t.Entries, sent) {
			return &record.Refused{Field: "code", Message: fmt.Sprintf("code: %s is in this trial already", s.Code)}
		} else if nearest != "" && r.FormValue("new") != j.Code {
			j.Sure = true
			return &record.Refused{Field: "code", Message: fmt.Sprintf("code: %s is one slip away from %s, which is not broken yet; if it is another specimen, add it again", j.Code, nearest)}
		}
		_, err := d.Book.Add(r.Context(), who, t.ID, j.Code, record.Added{Joint: record.Joint{Adhesive: strings.TrimSpace(j.Adhesive), Wood: strings.TrimSpace(j.Wood),
			Board: strings.TrimSpace(j.Board), Batch: strings.TrimSpace(j.Batch), Factors: j.Factors}})
		return err
	}
	if err := add(); err != nil {
		v, p, berr := bench(d, r, t)
		if berr != nil {
			return berr
		}
		j.Wrong = fieldErrors(err)
		p.Added = j
		return d.ShowAgain(w, r, benchPage, v, err)
	}
	return frame.Back(w, r, "/trials/"+t.ID+"/break?code="+url.QueryEscape(j.Code))
}

// joint is what was typed of a specimen in no plan.
type joint struct {
	Code, Adhesive, Wood, Board, Batch string
	Factors                            map[string]string
	Sure                               bool // it was asked whether the code is right
	Wrong                              map[string]string
}
