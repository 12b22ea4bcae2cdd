package publish

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"runtime/debug"
	"slices"
	"time"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/figure"
	"bondtrial/internal/show"
)

// Source names the table of readings an answer came from.
type Source struct {
	Name   string // without folders
	SHA256 string
	Date   time.Time // of the answer; zero: not said
	// Remarks are sentences on where the readings come from that a reader must know.
	Remarks []string
}

//go:embed report.html
var reportHTML string

//go:embed report.css
var reportCSS string

var reportTemplate = template.Must(template.New("report").Parse(reportHTML))

// report is what the template shows. Every string is ready to print.
type report struct {
	Title    string
	Origin   string
	CSS      template.CSS
	Headline []string
	Counts   string
	Strength []picture
	Pairs    []pairSection
	Chance   []picture
	Drift    []picture
	Sections []Sheet
	Checks   []string
	Warnings []string
	Design   string // the caution that stands on top
	Cautions []string
	Readings Sheet
	Made     []string
}

// picture is a figure drawn for a wide and a narrow screen.
type picture struct{ Wide, Narrow template.HTML }

type pairSection struct {
	Title  string
	Figure picture
	Table  Sheet
}

// Sheet is a table of an answer, ready to print. Cells of columns marked in Numbers
// are set as numbers.
type Sheet struct {
	ID, Title, Note string
	Head            []string
	Rows            [][]string
	Numbers         []bool
	About           []About // of each row; nil where rows are not about readings
}

// About says which readings are behind a row of a sheet.
type About struct {
	Wood      string
	Factors   map[string]string // nil: whatever they are
	Adhesives []string          // nil: all
}

// HTML writes a report that is one file: styles and figures inside, nothing
// fetched from anywhere.
func HTML(out io.Writer, a *answer.Answer, src Source, u bondtrial.Units) error {
	w := NewWords(a, u)
	r := report{
		Title: w.Title(), Origin: src.origin(), CSS: template.CSS(reportCSS + figure.ThemeCSS()),
		Headline: AllGlued(w.Headline()), Counts: w.Counts(),
		Checks: AllGlued(w.Checks()), Warnings: AllGlued(a.Warnings), Design: Cautions[0], Cautions: Cautions[1:],
		Sections: []Sheet{w.StrengthSheet(), w.WoodSheet(), w.SpreadSheet()},
		Readings: w.readingSheet(), Made: w.Made(src),
	}
	r.Strength = w.pictures(figure.Strength)
	r.Chance = w.pictures(figure.Chance)
	for _, d := range a.Drifts {
		r.Drift = append(r.Drift, w.pictures(func(a *answer.Answer, s figure.Style) *figure.Figure { return figure.Drift(a, d.Order, s) })...)
	}
	for _, c := range a.Conditions() {
		s := pairSection{Title: sectionTitle(c), Table: w.PairSheet(c)}
		p := w.pictures(func(a *answer.Answer, st figure.Style) *figure.Figure { return figure.Pairs(a, c, st) })
		if len(p) == 0 || len(s.Table.Rows) == 0 {
			continue
		}
		s.Figure = p[0]
		r.Pairs = append(r.Pairs, s)
	}
	return reportTemplate.Execute(out, r)
}

// Title says what was compared.
func (w *Words) Title() string {
	var adhesives, woods []string
	for _, c := range w.a.Cells {
		if !slices.Contains(adhesives, c.Adhesive) {
			adhesives = append(adhesives, c.Adhesive)
		}
		if c.Wood != "" && !slices.Contains(woods, c.Wood) {
			woods = append(woods, c.Wood)
		}
	}
	s := show.List(adhesives)
	if n := len(adhesives); n > 3 {
		s = upperFirst(show.Count(n)) + " adhesives"
	}
	if len(woods) > 0 {
		s += " on " + show.List(woods)
	}
	return s
}

// origin says where and when an answer comes from.
func (src Source) origin() string {
	s := "Answered from " + src.Name
	if !src.Date.IsZero() {
		s += " on " + src.Date.Format("2 January 2006")
	}
	return s + "."
}

func sectionTitle(c answer.Condition) string { return upperFirst(c.String()) }

// pictures draws a figure for both screens, or nothing where there is nothing to
// draw.
func (w *Words) pictures(draw func(*answer.Answer, figure.Style) *figure.Figure) []picture {
	column, phone := figure.Column(), figure.Phone()
	column.Units, phone.Units = w.units, w.units
	wide, narrow := draw(w.a, column), draw(w.a, phone)
	if wide == nil || narrow == nil {
		return nil
	}
	return []picture{{template.HTML(wide.SVG()), template.HTML(narrow.SVG())}}
}

// StrengthSheet lists the strengths, condition by condition, the strongest first.
func (w *Words) StrengthSheet() Sheet {
	unit := w.units.StressUnit()
	s := Sheet{
		ID: "strengths", Title: "How strong",
		Note: "Typical: half of such joints are stronger, with its 95 % interval. " + overReadings + " Scatter: standard deviation within boards. " +
			"5th percentile: of single joints, at 75 % confidence. Kaplan–Meier median: for checking; it does not exist where too few broke to reach half.",
		Head: []string{"Where", "Adhesive", "n", "In the wood", "Typical, " + unit, "95 % interval", "Scatter", "5th percentile, " + unit, "Kaplan–Meier median, " + unit},
	}
	exceed := w.a.Settings.Required > 0
	if exceed {
		s.Head = append(s.Head, "Chance that typical exceeds "+show.WithUnit(w.units, answer.Value(w.a.Settings.Required)))
	}
	for _, cond := range w.a.Conditions() {
		for _, c := range w.a.In(cond) {
			interval := w.number(c.Low) + "–" + w.number(c.High)
			typical := w.number(c.Typical)
			if c.OnlyAtLeast {
				typical, interval = "at least "+w.number(c.AtLeast), "–"
			}
			row := []string{c.Condition.String(), c.Adhesive, fmt.Sprint(c.N), inWood(c), typical, interval, scatter(c.SDLog), w.number(c.Char5), w.number(c.Median)}
			if exceed {
				row = append(row, show.Chance(c.PExceed))
			}
			s.Rows = append(s.Rows, row)
			s.About = append(s.About, About{c.Wood, c.Factors, []string{c.Adhesive}})
		}
	}
	s.Numbers = numbersAfter(2, len(s.Head))
	return s
}

// numbersAfter marks the columns from k on as numbers.
func numbersAfter(k, n int) []bool {
	b := make([]bool, n)
	for i := k; i < n; i++ {
		b[i] = true
	}
	return b
}

// PairSheet lists the comparisons made in a condition.
func (w *Words) PairSheet(c answer.Condition) Sheet {
	s := Sheet{Head: []string{"Comparison", "Ratio", "95 % alone", "95 % together", "Chance first is stronger", "Verdict", "What would settle it"},
		Numbers: []bool{false, true, true, true, true, false, false}}
	for _, p := range w.a.PairsIn(c) {
		s.Rows = append(s.Rows, []string{p.A + " / " + p.B, show.Ratio(p.Ratio), show.Ends(p.Low, p.High), show.Ends(p.LowSim, p.HighSim), show.Chance(p.PAStronger),
			w.VerdictWords(p), w.Settle(p)})
		s.About = append(s.About, About{p.Wood, p.Factors, []string{p.A, p.B}})
	}
	return s
}

// WoodSheet lists the woods' own strengths.
func (w *Words) WoodSheet() Sheet {
	unit := w.units.StressUnit()
	s := Sheet{
		ID: "wood", Title: "The wood's own strength in this joint",
		Note: "Where the wood failed first the reading is its strength, where the bond broke the wood was at least that strong. Handbook: shear along the grain, Wood Handbook (FPL-GTR-282), table 5-3. –: " + tooSeldom,
		Head: []string{"Wood", "n", "In the wood", "Typical, " + unit, "95 % interval", "Handbook, " + unit, "Handbook's wood"},
	}
	for _, l := range w.a.WoodLimits {
		interval := "–"
		if l.Low.Exists() {
			interval = w.number(l.Low) + "–" + w.number(l.High)
		}
		s.Rows = append(s.Rows, []string{woodName(l.Wood), fmt.Sprint(l.N), fmt.Sprint(l.Broke), w.number(l.Typical), interval, w.number(l.Handbook), l.HandbookNote})
		s.About = append(s.About, About{Wood: l.Wood})
	}
	s.Numbers = []bool{false, true, true, true, true, true, false}
	return s
}

// SpreadSheet lists where the scatter comes from.
func (w *Words) SpreadSheet() Sheet {
	s := Sheet{ID: "scatter", Title: "Where the scatter comes from", Head: []string{"Between", "Standard deviation of log strength"}, Numbers: []bool{false, true},
		Note: "What the readings cannot tell apart is not listed."}
	for _, v := range []struct {
		name string
		v    answer.Value
	}{{"specimens of one board", w.a.Spread.Residual}, {"boards", w.a.Spread.Board}, {"batches of an adhesive", w.a.Spread.Batch}, {"sessions", w.a.Spread.Session}, {"trials", w.a.Spread.Trial}} {
		if v.v.Exists() {
			s.Rows = append(s.Rows, []string{v.name, fmt.Sprintf("%.3f", float64(v.v))})
		}
	}
	return s
}

// mostRows is the number of readings up to which a report lists every one: a
// browser shows no more with ease, and nobody reads them.
const mostRows = 2000

func (w *Words) readingSheet() Sheet {
	s := Sheet{Head: []string{"Specimen", "Adhesive", "Where", "Board", "Strength, " + w.units.StressUnit(), "Wood on the faces", "State", "Remark"},
		Numbers: []bool{false, false, false, false, true, true, false, false}}
	for i := range w.a.Readings {
		if i == mostRows {
			s.Note = fmt.Sprintf("The first %d of %d readings.", mostRows, len(w.a.Readings))
			break
		}
		r := &w.a.Readings[i]
		faces := "–"
		switch {
		case !math.IsNaN(float64(r.WoodFailure)):
			faces = show.Trim(float64(r.WoodFailure)) + " %"
		case r.Failure != "":
			faces = string(r.Failure)
		}
		strength := "–"
		if r.Strength > 0 {
			strength = w.number(answer.Value(r.Strength))
		}
		remark := r.Note
		if r.SetAside != "" {
			remark = r.SetAside
			if r.Note != "" {
				remark += "; " + r.Note
			}
		}
		where := answer.Condition{Wood: r.Wood, Factors: r.Factors}
		s.Rows = append(s.Rows, []string{r.Code, r.Adhesive, where.String(), r.Board, strength, faces, r.State(w.a.Settings.Threshold).String(), remark})
	}
	return s
}

// Made says how the answer was made, so that it can be made again.
func (w *Words) Made(src Source) []string {
	set := w.a.Settings
	s := []string{
		fmt.Sprintf("Readings: %s, SHA-256 %s.", src.Name, src.SHA256),
		fmt.Sprintf("Made by bondtrial %s with seed %d and %d draws (R-hat at most %.3f, effective size at least %.0f).", Version(), set.Seed, w.a.Draws, w.a.Fit.MaxRHat, w.a.Fit.MinESS),
		fmt.Sprintf("Wood failure counts from %s %%. Two count as the same within ±%s %%.", show.Trim(float64(set.Threshold)), w.margin()),
	}
	s = append(s, "Intervals \"together\" hold at once, at 95 %, for "+w.together()+".")
	if set.PooledScatter {
		s = append(s, "The scatter is taken to be the same for all adhesives.")
	}
	return append(s, src.Remarks...)
}

// Version is the version of the build, or its revision, or "(devel)".
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown version)"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && info.Main.Version == "(devel)" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return info.Main.Version
}
