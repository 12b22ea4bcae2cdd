package form

import (
	"strconv"
	"strings"
	"time"

	"bondtrial/internal/plan/trialfile"
)

// Form is a trial as a person types it. Every string is as it was typed, blank
// where nothing was; docs/trial-file.md says what each means and what is taken
// where it is left out.
type Form struct {
	Name, Question, Units, Seed, Blind, Control string
	SmallestDifference, Scatter, Chance         string // %
	PerCell, Pairs                              string

	Adhesives []Adhesive
	Woods     []Wood
	Boards    []Board
	Reused    []Reused
	Factors   []Factor
	Specimen  Specimen
	Cutting   Cutting
	Work      Work
	Labels    Labels

	// Unknown holds what a trial file said under keys that no trial file has. A
	// form with any is refused by [Form.Check] until a person has emptied them.
	Unknown []Unknown

	surplus map[string]int // by kind of row: how many more there were than are kept
}

// Measure is a length or an area, typed either in mm (mm²) or in inches (square
// inches). One of both is blank, unless a trial file wrongly gave two.
type Measure struct{ MM, In string }

// Adhesive is a row of the adhesives.
type Adhesive struct {
	Name, Family              string
	Open, Closed, Clamp, Cure string // times with their units
	Lowest                    string // °C
	Price, Content, Strength  string // with their units
	PerBatch, Retested        string
}

// Wood is a row of the woods, with the boards of it that are alike.
type Wood struct {
	Name, Strength, Boards   string
	Length, Width, Thickness Measure
	PiecesPerBoard           string
}

// Board is a row of the boards that differ.
type Board struct {
	Wood, Name               string
	Length, Width, Thickness Measure
	Pieces                   string
}

// Reused is a row of the pieces that are used again.
type Reused struct {
	Wood, Board, Pieces string
	Thickness           Measure
	Uses                string
}

// Factor is a row of the further conditions.
type Factor struct {
	Name   string
	Levels [2]string
	Ratio  string
}

// Specimen is the shape of the specimens.
type Specimen struct {
	Joint                             string
	Length, Width, Thickness, Overlap Measure
	Area                              Measure
}

// Cutting is what sawing and planing take away.
type Cutting struct{ Kerf, Planing, LeastThickness Measure }

// Work is when and how fast the work is done.
type Work struct {
	Start, TimeZone string
	DaysOff         string // a day or a stretch of days a line
	Clamps          string
	GlueUp, Break   string // times with their units
	Temperature     string // °C
	OneCartridge    string
	Hours           Hours
}

// Hours are the working hours, such as "9:00-17:00"; Weekdays are those of Monday
// to Friday where the day itself is blank.
type Hours struct {
	Weekdays                                                       string
	Monday, Tuesday, Wednesday, Thursday, Friday, Saturday, Sunday string
}

// Labels is the sheet that labels are printed on.
type Labels struct {
	Page, Rows, Columns      string
	Top, Bottom, Left, Right Measure
	GapAcross, GapDown       Measure
}

// Unknown is a value of a trial file under a key that no trial file has.
type Unknown struct {
	Part  string // the part of the form that it stood in: "", "adhesive.0", "work"
	Key   string // as it stood there
	Value string
}

// Blank returns a form to begin with: two adhesives and a wood to fill in, and the
// first Monday to Friday after today as the day to start. The time zone is that of
// today, blank where its location has no name that another computer knows.
func Blank(today time.Time) *Form {
	start := today.AddDate(0, 0, 1)
	for start.Weekday() == time.Saturday || start.Weekday() == time.Sunday {
		start = start.AddDate(0, 0, 1)
	}
	zone := today.Location().String()
	if zone != "UTC" && !strings.Contains(zone, "/") {
		zone = ""
	}
	return &Form{
		Adhesives: make([]Adhesive, 2),
		Woods:     make([]Wood, 1),
		Work:      Work{Start: start.Format(time.DateOnly), TimeZone: zone},
	}
}

// slot is a field of a form: its key in the trial file, and where it is kept.
type slot struct {
	key string
	to  *string
}

func measure(key string, m *Measure) []slot {
	return []slot{{key + "_mm", &m.MM}, {key + "_in", &m.In}}
}

func joined(lists ...[]slot) (all []slot) {
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

func (f *Form) slots() []slot {
	return []slot{
		{"name", &f.Name}, {"question", &f.Question}, {"units", &f.Units}, {"seed", &f.Seed}, {"blind", &f.Blind},
		{"control", &f.Control}, {"smallest_difference_pct", &f.SmallestDifference}, {"scatter_pct", &f.Scatter},
		{"chance_pct", &f.Chance}, {"specimens_per_cell", &f.PerCell}, {"pairs", &f.Pairs},
	}
}

func (a *Adhesive) slots() []slot {
	return []slot{
		{"name", &a.Name}, {"family", &a.Family}, {"open", &a.Open}, {"closed", &a.Closed}, {"clamp", &a.Clamp}, {"cure", &a.Cure},
		{"lowest_temperature_c", &a.Lowest}, {"price", &a.Price}, {"content", &a.Content}, {"strength", &a.Strength},
		{"specimens_per_batch", &a.PerBatch}, {"retested", &a.Retested},
	}
}

func (w *Wood) slots() []slot {
	return joined([]slot{{"name", &w.Name}, {"strength", &w.Strength}, {"boards", &w.Boards}},
		measure("length", &w.Length), measure("width", &w.Width), measure("thickness", &w.Thickness),
		[]slot{{"pieces_per_board", &w.PiecesPerBoard}})
}

func (b *Board) slots() []slot {
	return joined([]slot{{"wood", &b.Wood}, {"name", &b.Name}},
		measure("length", &b.Length), measure("width", &b.Width), measure("thickness", &b.Thickness), []slot{{"pieces", &b.Pieces}})
}

func (r *Reused) slots() []slot {
	return joined([]slot{{"wood", &r.Wood}, {"board", &r.Board}, {"pieces", &r.Pieces}},
		measure("thickness", &r.Thickness), []slot{{"uses", &r.Uses}})
}

func (c *Factor) slots() []slot {
	return []slot{{"name", &c.Name}, {"levels.0", &c.Levels[0]}, {"levels.1", &c.Levels[1]}, {"ratio", &c.Ratio}}
}

func (s *Specimen) slots() []slot {
	return joined([]slot{{"joint", &s.Joint}},
		measure("length", &s.Length), measure("width", &s.Width), measure("thickness", &s.Thickness), measure("overlap", &s.Overlap),
		[]slot{{"area_mm2", &s.Area.MM}, {"area_in2", &s.Area.In}})
}

func (c *Cutting) slots() []slot {
	return joined(measure("kerf", &c.Kerf), measure("planing", &c.Planing), measure("least_thickness", &c.LeastThickness))
}

func (w *Work) slots() []slot {
	return []slot{
		{"start", &w.Start}, {"time_zone", &w.TimeZone}, {"days_off", &w.DaysOff}, {"clamps", &w.Clamps}, {"glue_up", &w.GlueUp},
		{"break", &w.Break}, {"temperature_c", &w.Temperature}, {"one_cartridge", &w.OneCartridge},
	}
}

func (h *Hours) slots() []slot {
	return []slot{
		{"weekdays", &h.Weekdays}, {"monday", &h.Monday}, {"tuesday", &h.Tuesday}, {"wednesday", &h.Wednesday},
		{"thursday", &h.Thursday}, {"friday", &h.Friday}, {"saturday", &h.Saturday}, {"sunday", &h.Sunday},
	}
}

func (l *Labels) slots() []slot {
	return joined([]slot{{"page", &l.Page}, {"rows", &l.Rows}, {"columns", &l.Columns}},
		measure("top", &l.Top), measure("bottom", &l.Bottom), measure("left", &l.Left), measure("right", &l.Right),
		measure("gap_across", &l.GapAcross), measure("gap_down", &l.GapDown))
}

func (u *Unknown) slots() []slot {
	return []slot{{"part", &u.Part}, {"key", &u.Key}, {"value", &u.Value}}
}

// rows are the rows of one kind.
type rows interface {
	count() int
	add()
	at(i int) []slot
}

type rowsOf[T any, P interface {
	*T
	slots() []slot
}] struct{ list *[]T }

func (r rowsOf[T, P]) count() int      { return len(*r.list) }
func (r rowsOf[T, P]) add()            { var blank T; *r.list = append(*r.list, blank) }
func (r rowsOf[T, P]) at(i int) []slot { return P(&(*r.list)[i]).slots() }

// mostUnknown is how many values under unknown keys are kept.
const mostUnknown = 100

const unknownKind = "unknown"

// rowKinds lists the kinds of rows in the order of the trial file, with how many
// there may be.
var rowKinds = []struct {
	kind, many string
	most       int
}{
	{"adhesive", "adhesives", trialfile.MaxAdhesives},
	{"wood", "woods", trialfile.MaxWoods},
	{"board", "boards", trialfile.MaxBoards},
	{"reused", "lots of reused pieces", trialfile.MaxBoards},
	{"factor", "factors", trialfile.MaxFactors},
	{unknownKind, "unknown keys", mostUnknown},
}

func mostOf(kind string) int {
	for _, k := range rowKinds {
		if k.kind == kind {
			return k.most
		}
	}
	return 0
}

// rows returns the rows of a kind, nil where it is no kind of rows.
func (f *Form) rows(kind string) rows {
	switch kind {
	case "adhesive":
		return rowsOf[Adhesive, *Adhesive]{&f.Adhesives}
	case "wood":
		return rowsOf[Wood, *Wood]{&f.Woods}
	case "board":
		return rowsOf[Board, *Board]{&f.Boards}
	case "reused":
		return rowsOf[Reused, *Reused]{&f.Reused}
	case "factor":
		return rowsOf[Factor, *Factor]{&f.Factors}
	case unknownKind:
		return rowsOf[Unknown, *Unknown]{&f.Unknown}
	}
	return nil
}

// grow adds a row where there is room for one, and counts it as surplus otherwise.
func (f *Form) grow(kind string) bool {
	r := f.rows(kind)
	if r.count() < mostOf(kind) {
		r.add()
		return true
	}
	if f.surplus == nil {
		f.surplus = map[string]int{}
	}
	f.surplus[kind]++
	return false
}

// section is a part of a form: a row, or what there is once.
type section struct {
	name  string // "", "adhesive.0", "work.hours"
	kind  string // "", "adhesive", "hours"
	slots []slot
}

// sections returns the parts of the form in the order of the trial file, the
// unknown keys excepted.
func (f *Form) sections() []section {
	all := []section{{"", "", f.slots()}}
	for _, k := range rowKinds {
		if k.kind == unknownKind {
			continue
		}
		r := f.rows(k.kind)
		for i := range r.count() {
			all = append(all, section{rowName(k.kind, i), k.kind, r.at(i)})
		}
	}
	return append(all,
		section{"specimen", "specimen", f.Specimen.slots()},
		section{"cutting", "cutting", f.Cutting.slots()},
		section{"work", "work", f.Work.slots()},
		section{"work.hours", "hours", f.Work.Hours.slots()},
		section{"labels", "labels", f.Labels.slots()})
}

func rowName(kind string, i int) string { return kind + "." + strconv.Itoa(i) }

// fieldName is the name of a field of a part.
func fieldName(part, key string) string {
	if part == "" {
		return key
	}
	return part + "." + key
}

// find returns where the value of a key is kept, nil where the part has no such
// key.
func (s section) find(key string) *string {
	for _, c := range s.slots {
		if c.key == key {
			return c.to
		}
	}
	return nil
}

// text returns the value of a key without space around it, "" where the part has
// none.
func (s section) text(key string) string {
	if to := s.find(key); to != nil {
		return strings.TrimSpace(*to)
	}
	return ""
}

func (s section) blank() bool {
	for _, c := range s.slots {
		if strings.TrimSpace(*c.to) != "" {
			return false
		}
	}
	return true
}
