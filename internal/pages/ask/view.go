package ask

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
	"bondtrial/internal/wood"
)

// shown is what the page is to show.
type shown struct {
	form      *form.Form
	problems  []form.Problem
	text      string // the trial file as text
	textError string // empty: the text was not refused
	textLines []string
	unwritten bool   // what is shown was typed and not written
	focus     string // id of what is to have the keyboard
	open      string // kind of row whose part is to be open
}

// page is the form.
type page struct {
	Seen      int64
	Asked     group
	Adhesives group
	Woods     group
	Groups    []group // what may be left alone, and the specimen and the work
	Unknown   []row
	Missing   []Missing
	Complete  bool
	Written   bool // just now
	Unchanged bool
	Unwritten bool

	Shelf []form.Adhesive // for what a name is taken from
	Rack  []onRack
	Kinds []string // names of woods

	Glued, Broken int
	Kept          []factsPart // what cannot be changed any more, to read; nil: all may be
	PutBack       bool        // and that is not what stands here
	PlanOld       bool        // the plan was made from another text
	Assumed       []trialfile.Assumption

	Text      string
	TextError string
	TextLines []string
	Remarks   bool // the text has remarks, which a form cannot hold
	Focus     string
}

// onRack is a board that is offered.
type onRack struct {
	Seq        int64
	Wood, Name string
	Words      string
}

// group is a part of the form.
type group struct {
	Kind   string // of its rows
	Title  string
	Words  string
	Said   string // what is filled in, in short
	Open   bool
	Fields []field
	Rows   []row
	Blank  *row // what another row is made from
	More   bool // another row may be added
	Add    string
	Inner  []group
}

// row is a row of adhesives, woods and the like.
type row struct {
	Kind, Number, Title string
	Main, More          []field
	Said                string // what is filled in of More
	Open                bool   // More is
	Remove              string // what its button says
}

// field is a field with how it is shown.
type field struct {
	form.Field
	ID      string
	As      string // "input", "select", "area", "hidden"
	Type    string // of an input
	Mode    string // which keyboard a phone shows
	List    string // id of what is offered
	Help    string
	Key     string // of the trial file
	Options []option
	Long    bool // it takes more room than a number
	Focus   bool
}

type option struct {
	Value, Text string
	Selected    bool
	Family      *form.FamilyInfo
}

// view builds the page.
func view(d *frame.Desk, r *http.Request, t *record.Trial, s shown) (*frame.View, error) {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return nil, err
	}
	v := d.View(r, t, "ask")
	v.Scripts, v.Styles = []string{"ask.js"}, []string{"ask.css"}
	b := newBuilder(s)
	p := &page{Seen: t.AskedAt.Seq, Asked: b.asked(), Adhesives: b.adhesives(), Woods: b.woods(), Groups: b.rest(), Unknown: b.unknown(),
		Missing: missing(s.form, s.problems), Complete: t.File != nil && !s.unwritten && len(s.problems) == 0,
		Unchanged: r.URL.Query().Has("unchanged"), Unwritten: s.unwritten,
		Glued: t.CountGlued() + t.CountSpoiled(), Broken: t.CountBroken(), PlanOld: t.Plan != nil && !SamePlan(t.Plan.File, t.Asked.File),
		Text: s.text, TextError: s.textError, TextLines: s.textLines, Remarks: hasRemarks(t.Asked.File), Focus: s.focus}
	if base, text := kept(t); base != nil {
		p.Kept, p.PutBack = factsToRead(base), text != t.Asked.File
		p.Asked.Fields = append(p.Asked.Fields, b.fields("", "units")...)
	}
	p.Written = r.URL.Query().Get("written") == strconv.FormatInt(t.AskedAt.Seq, 10)
	if t.File != nil && !s.unwritten {
		p.Assumed = t.File.Assumed
	}
	for _, a := range things.Shelf {
		if !a.Finished {
			p.Shelf = append(p.Shelf, factsOf(a))
		}
	}
	for _, x := range things.Rack {
		if !x.Finished && !taken(s.form, x) {
			p.Rack = append(p.Rack, onRack{x.Seq, x.Wood, x.Name, rackWords(x)})
		}
		p.Kinds = append(p.Kinds, x.Wood)
	}
	for _, x := range wood.All() {
		p.Kinds = append(p.Kinds, x.Name())
	}
	slices.Sort(p.Kinds)
	p.Kinds = slices.Compact(p.Kinds)
	v.Data = p
	return v, nil
}

// rackWords says what there is of a board.
func rackWords(b record.Board) string {
	var parts []string
	if b.Pieces > 0 {
		parts = append(parts, strconv.Itoa(b.Pieces)+" pieces")
	} else if b.LengthMM > 0 && b.WidthMM > 0 && b.ThickMM > 0 {
		parts = append(parts, show.Trim(b.LengthMM)+" × "+show.Trim(b.WidthMM)+" × "+show.Trim(b.ThickMM)+" mm")
	}
	switch {
	case b.Uses == 1:
		parts = append(parts, "glued once before")
	case b.Uses > 1:
		parts = append(parts, "glued "+strconv.Itoa(b.Uses)+" times before")
	}
	return strings.Join(parts, ", ")
}

// hasRemarks reports whether a trial file has a line that begins with a remark.
func hasRemarks(file string) bool {
	for line := range strings.Lines(file) {
		if strings.HasPrefix(strings.TrimSpace(line), "#") {
			return true
		}
	}
	return false
}

// builder turns the fields of a form into what the page shows.
type builder struct {
	shown
	parts    map[string]form.Part
	families map[string]form.FamilyInfo
}

func newBuilder(s shown) *builder {
	b := &builder{shown: s, parts: make(map[string]form.Part), families: make(map[string]form.FamilyInfo)}
	for _, p := range s.form.Fields(s.problems...) {
		b.parts[p.Name] = p
	}
	for _, f := range form.Families() {
		b.families[f.Key] = f
	}
	return b
}

// fields returns those fields of a part that the keys name, in that order. A
// measure is named without its unit.
func (b *builder) fields(part string, keys ...string) []field {
	var out []field
	for _, key := range keys {
		for _, f := range b.parts[part].Fields {
			k := strings.TrimPrefix(strings.TrimPrefix(f.Name, part), ".")
			if f.Spare || k != key && k != key+"_mm" && k != key+"_in" && k != key+"_mm2" && k != key+"_in2" {
				continue
			}
			out = append(out, b.field(part, k, f))
		}
	}
	return out
}

// field says how a field is shown.
func (b *builder) field(part, key string, f form.Field) field {
	x := field{Field: f, ID: fieldID(f.Name), As: "input", Type: "text", Key: key}
	x.Focus = x.ID == b.focus
	switch f.Kind {
	case form.Hidden:
		x.As = "hidden"
	case form.LongText, form.Lines:
		x.As = "area"
	case form.YesNo, form.Chosen:
		x.As = "select"
		x.Options = b.options(f)
	case form.Number:
		x.Mode = "decimal"
	case form.Whole:
		x.Mode = "numeric"
	case form.Day:
		if _, err := time.Parse(time.DateOnly, f.Value); f.Value == "" || err == nil {
			x.Type = "date"
		}
	}
	kind, _, _ := strings.Cut(part, ".")
	switch {
	case kind == "adhesive" && key == "name":
		x.List = "shelf-names"
	case kind == "wood" && key == "name":
		x.List = "wood-names"
	case key == "time_zone":
		x.List = "zones"
	}
	x.Long = x.As == "select" || f.Kind == form.Text && key != "price" && key != "content" && key != "strength"
	x.Help = b.help(part, key, f)
	if key == "joint" { // what each is goes below, as a list is narrow
		var what []string
		for i, o := range x.Options {
			if short, _, ok := strings.Cut(o.Text, ":"); ok && i > 0 && i <= len(f.Choices) {
				what = append(what, o.Text)
				x.Options[i].Text = short
			}
		}
		x.Help = strings.Join(what, "; ") + "."
	}
	return x
}

// help says how a field is written and what is taken where it is left alone.
func (b *builder) help(part, key string, f form.Field) string {
	left := f.Without
	kind, _, _ := strings.Cut(part, ".")
	if kind == "adhesive" {
		left = b.usual(part, key, left)
	}
	as := ""
	switch f.Kind {
	case form.Chosen, form.YesNo, form.Day, form.LongText, form.Hidden:
	default:
		if f.Example != "" && f.Value == "" {
			as = "As in " + f.Example + "."
		}
	}
	switch {
	case left == needed:
		return strings.TrimSpace(as + " Nothing is usual for this family: it is needed.")
	case left != "" && left != "none" && f.Kind != form.Chosen && f.Kind != form.YesNo: // a list of choices says it itself
		return strings.TrimSpace(as + " Left alone: " + left + ".")
	}
	return as
}

const needed = "needed"

// usual says what is taken for an adhesive of a family that was chosen.
func (b *builder) usual(part, key, left string) string {
	fam, ok := b.families[b.parts[part].Field("family").Value]
	if !ok {
		return left
	}
	value := map[string]string{"open": fam.Open, "clamp": fam.Clamp, "cure": fam.Cure}
	v, timed := value[key]
	switch {
	case key == "lowest_temperature_c" && fam.Lowest != "":
		return fam.Lowest + ", usual for " + fam.Name
	case key == "lowest_temperature_c":
		return "not checked"
	case timed && v != "":
		return v + ", usual for " + fam.Name
	case timed:
		return needed
	}
	return left
}

// options are the choices of a select, the blank one first, and what was typed where
// it is none of them.
func (b *builder) options(f form.Field) []option {
	blank := "choose"
	if f.Without != "" {
		blank = "left alone: " + f.Without
	} else if !f.Must {
		blank = "left alone"
	}
	out := []option{{Value: "", Text: blank, Selected: f.Value == ""}}
	found := f.Value == ""
	for _, c := range f.Choices {
		o := option{Value: c.Value, Text: c.Text, Selected: c.Value == f.Value && !found}
		found = found || o.Selected
		if strings.HasPrefix(f.Name, "adhesive.") && strings.HasSuffix(f.Name, ".family") {
			fam := b.families[c.Value]
			o.Family = &fam
		}
		out = append(out, o)
	}
	if !found {
		out = append(out, option{Value: f.Value, Text: f.Value + " (none of the choices)", Selected: true})
	}
	return out
}

// said puts in a few words what is filled in of fields, and whether they are to be
// looked at.
func said(fields []field) (words string, open bool) {
	var parts []string
	lacks := false
	for _, f := range fields {
		open = open || len(f.Problems) > 0 || f.Focus
		lacks = lacks || f.Must && f.Value == ""
		if f.Value == "" {
			continue
		}
		value := f.Value
		for _, o := range f.Options {
			if o.Selected {
				value, _, _ = strings.Cut(o.Text, ":")
			}
		}
		if f.Unit != "" {
			value += " " + f.Unit
		}
		if len([]rune(value)) > 40 {
			value = string([]rune(value)[:39]) + "…"
		}
		parts = append(parts, lowerFirst(f.Label)+": "+value)
	}
	words = strings.Join(parts[:min(len(parts), 3)], "; ")
	if more := len(parts) - 3; more > 0 {
		words += "; and " + strconv.Itoa(more) + " more"
	}
	switch {
	case lacks && words == "":
		words = "needed"
	case words == "":
		words = "left alone"
	}
	return words, open || lacks
}

func lowerFirst(s string) string {
	if len(s) > 1 && s[1] >= 'a' && s[1] <= 'z' {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}
