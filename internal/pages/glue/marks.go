package glue

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

// Scale is a scale of marks from 1 to 5 with what each point looks like.
type scale struct {
	Field, Ask string
	Points     [5]string // of 1 to 5; 5 is the best
}

// scales are those of handling, in our own words; common sense of the trade, no
// source.
var scales = []scale{
	{"spreads", "Spreads", [5]string{"drags, beads up or will not wet the wood", "hard work to get it even", "even with some care", "easily even", "lies down by itself into an even film"}},
	{"squeezes", "Squeezes out", [5]string{"no bead at all, or it floods out and drips", "a bead with gaps, or far more than is needed", "a bead nearly all round, uneven", "an even bead all round", "a small even bead all round that comes off cleanly"}},
	{"holdsgap", "Holds a gap", [5]string{"runs out of the thinnest gap", "stays in a gap as wide as a sheet of paper", "stays in a gap as wide as a playing card", "stays in a gap of half a millimetre", "stays where it is put and bridges a millimetre"}},
}

// askAfter is how many specimens of a cartridge or mixing are glued before the page
// asks how it handles.
const askAfter = 3

// marks is what the page shows of handling.
type marks struct {
	Groups []group
	Ask    *group // the one that the page asks about; nil: none
	Open   bool   // the form is to be open
	Key    string

	Chosen string // the group that the form is about, see group.Value
	Seq    int64  // the entry that the form corrects; 0: none
	Points map[string]int
	Note   string
	Wrong  map[string]string
}

// group is an adhesive and a cartridge or mixing of it.
type group struct {
	Label  string
	Shown  string // what the page may call the adhesive
	Batch  string
	Glued  int
	Opened int64          // entry of its first glue-up, spoiled or not; 0: none
	Marks  *record.Marked // nil: none yet
}

// Name writes the group as a person would.
func (g group) Name() string {
	if g.Batch == "" {
		return g.Shown
	}
	return g.Shown + ", batch " + g.Batch
}

// Value is the group as a form sends it.
func (g group) Value() string {
	return url.Values{"label": {g.Label}, "batch": {g.Batch}}.Encode()
}

// Scales lists the scales for the page.
func (marks) Scales() []scale { return scales }

// Given returns a mark of a group in figures, a dash where none was given.
func (g group) Given(field string) string {
	n := 0
	if g.Marks != nil {
		n = pointsOf(g.Marks.Marks)[field]
	}
	if n == 0 {
		return "–"
	}
	return strconv.Itoa(n)
}

func pointsOf(m record.Marks) map[string]int {
	return map[string]int{"spreads": m.Spreads, "squeezes": m.Squeezes, "holdsgap": m.HoldsGap}
}

func marksOf(t *record.Trial, key string) marks {
	m := marks{Key: key, Points: make(map[string]int)}
	for _, s := range t.Specimens {
		i := slices.IndexFunc(m.Groups, func(g group) bool { return g.Label == s.Label && g.Batch == s.Batch })
		if i < 0 {
			i = len(m.Groups)
			m.Groups = append(m.Groups, group{Label: s.Label, Shown: t.Shown(s), Batch: s.Batch})
		}
		if s.Glued == nil {
			continue
		}
		g := &m.Groups[i]
		if s.Glued.Spoiled == "" {
			g.Glued++
		}
		if g.Opened == 0 || s.Glued.First < g.Opened {
			g.Opened = s.Glued.First
		}
	}
	for i := range t.Marks {
		k := &t.Marks[i]
		for j := range m.Groups {
			if g := &m.Groups[j]; g.Label == k.Adhesive && g.Batch == k.Marks.Batch {
				g.Marks = k
			}
		}
	}
	for i := range m.Groups {
		if g := &m.Groups[i]; g.Marks == nil && g.Glued >= askAfter && m.Ask == nil {
			m.Ask = g
		}
	}
	return m
}

// Used lists what was opened or has marks, what was opened last first.
func (m marks) Used() []group {
	var out []group
	for _, g := range m.Groups {
		if g.used() {
			out = append(out, g)
		}
	}
	slices.SortStableFunc(out, func(a, b group) int { return cmp.Compare(b.Opened, a.Opened) })
	return out
}

// Unused lists what was not opened yet, in the order of the plan.
func (m marks) Unused() []group {
	return slices.DeleteFunc(slices.Clone(m.Groups), group.used)
}

func (g group) used() bool { return g.Opened > 0 || g.Marks != nil }

// choose opens the form on a group, with the marks that it has.
func (m *marks) choose(label, batch string) {
	for _, g := range m.Groups {
		if label == "" || g.Label != label || g.Batch != batch {
			continue
		}
		m.Open, m.Chosen = true, g.Value()
		if g.Marks != nil {
			m.Seq, m.Note, m.Points = g.Marks.Seq, g.Marks.Note, pointsOf(g.Marks.Marks)
		}
	}
}

// Marks takes down how an adhesive handles, or corrects what was taken down.
func Marks(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	about, err := url.ParseQuery(r.FormValue("group"))
	label := about.Get("label")
	m := record.Marks{Batch: about.Get("batch"), Note: strings.TrimSpace(r.FormValue("note"))}
	known := slices.ContainsFunc(t.Specimens, func(s *record.Specimen) bool { return s.Label == label && s.Batch == m.Batch })
	if err != nil || !known {
		err = &record.Refused{Field: "group", Message: "choose which adhesive and batch the marks are of"}
	}
	points := make(map[string]int)
	for _, s := range scales {
		points[s.Field] = point(r.FormValue(s.Field))
	}
	m.Spreads, m.Squeezes, m.HoldsGap = points["spreads"], points["squeezes"], points["holdsgap"]
	seq, _ := strconv.ParseInt(r.FormValue("seq"), 10, 64)
	var e record.Entry
	switch {
	case err != nil:
	case seq > 0:
		e, err = d.Book.Correct(r.Context(), d.Who(r), t.ID, seq, m)
	default:
		e, err = d.Book.Add(r.Context(), d.Who(r), t.ID, label, m)
	}
	if err != nil {
		p := build(d, r, t, "")
		p.Marks.choose(label, m.Batch) // what is recorded now is what another try corrects
		p.Marks.Open, p.Marks.Points, p.Marks.Note, p.Marks.Wrong = true, points, m.Note, wrongs(err)
		return again(d, w, r, t, p, err)
	}
	if frame.WantsJSON(r) {
		return frame.JSON(w, http.StatusOK, map[string]any{"seq": e.Seq})
	}
	return frame.Back(w, r, "/trials/"+t.ID+"/glue")
}

// point reads a mark; 0 where none is given. What is no mark is −1, which the record
// refuses.
func point(s string) int {
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		return -1
	}
	return n
}
