package publish

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"runtime/debug"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/figure"
)

// Source names the table of readings an answer came from.
type Source struct {
	Name   string
	SHA256 string
}

//go:embed report.html
var reportHTML string

//go:embed report.css
var reportCSS string

var reportTemplate = template.Must(template.New("report").Parse(reportHTML))

// report is what the template shows. Every string is ready to print.
type report struct {
	Title    string
	CSS      template.CSS
	Headline []string
	Counts   string
	Strength []picture
	Pairs    []pairSection
	Chance   []picture
	Drift    []picture
	Sections []sheet
	Checks   []string
	Warnings []string
	Cautions []string
	Readings sheet
	Made     []string
}

// picture is a figure drawn for a wide and a narrow screen.
type picture struct{ Wide, Narrow template.HTML }

type pairSection struct {
	Title  string
	Figure picture
	Table  sheet
}

// sheet is a table: cells of columns named in Numbers are set as numbers.
type sheet struct {
	ID, Title, Note string
	Head            []string
	Rows            [][]string
	Numbers         []bool
}

// HTML writes a report that is one file: styles and figures inside, nothing
// fetched from anywhere.
func HTML(out io.Writer, a *answer.Answer, src Source, u bondtrial.Units) error {
	w := NewWords(a, u)
	r := report{
		Title: "Answer from " + src.Name, CSS: template.CSS(reportCSS + figure.ThemeCSS()),
		Headline: allGlued(w.Headline()), Counts: w.counts(),
		Checks: allGlued(w.checkSentences()), Warnings: allGlued(a.Warnings), Cautions: Cautions,
		Sections: []sheet{w.strengthSheet(), w.woodSheet(), w.spreadSheet()},
		Readings: w.readingSheet(), Made: w.made(src),
	}
	r.Strength = w.pictures(figure.Strength)
	r.Chance = w.pictures(figure.Chance)
	for _, d := range a.Drifts {
		r.Drift = append(r.Drift, w.pictures(func(a *answer.Answer, s figure.Style) *figure.Figure { return figure.Drift(a, d.Order, s) })...)
	}
	for _, cells := range w.conditions() {
		c := cells[0].Condition
		s := pairSection{Title: sectionTitle(c), Table: w.pairSheet(c)}
		p := w.pictures(func(a *answer.Answer, st figure.Style) *figure.Figure { return figure.Pairs(a, c, st) })
		if len(p) == 0 || len(s.Table.Rows) == 0 {
			continue
		}
		s.Figure = p[0]
		r.Pairs = append(r.Pairs, s)
	}
	return reportTemplate.Execute(out, r)
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

func (w *Words) strengthSheet() sheet {
	unit := w.units.StressUnit()
	s := sheet{
		ID: "strengths", Title: "How strong",
		Note: "Typical: the median strength of such joints, with its 95 % interval. Scatter: standard deviation within boards. " +
			"5th percentile: of single joints, at 75 % confidence. Median: by Kaplan and Meier, for checking; it does not exist where the wood ended half of them or more.",
		Head: []string{"Where", "Adhesive", "n", "In the wood", "Typical, " + unit, "95 % interval", "Scatter", "5th percentile, " + unit, "Median, " + unit},
	}
	exceed := w.a.Settings.Required > 0
	if exceed {
		s.Head = append(s.Head, "Chance above "+w.Stress(answer.Value(w.a.Settings.Required)))
	}
	for _, cells := range w.conditions() {
		for _, c := range cells {
			interval := w.Number(c.Low) + "–" + w.Number(c.High)
			typical := w.Number(c.Typical)
			if c.OnlyAtLeast {
				typical, interval = "at least "+w.Number(c.AtLeast), "–"
			}
			row := []string{c.Condition.String(), c.Adhesive, fmt.Sprint(c.N), inWood(c), typical, interval, scatter(c.SDLog), w.Number(c.Char5), w.Number(c.Median)}
			if exceed {
				row = append(row, chance(c.PExceed))
			}
			s.Rows = append(s.Rows, row)
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

func (w *Words) pairSheet(c answer.Condition) sheet {
	s := sheet{Head: []string{"Comparison", "Ratio", "95 % alone", "95 % together", "Chance first is stronger", "Verdict", "What would settle it"},
		Numbers: []bool{false, true, true, true, true, false, false}}
	for _, p := range w.a.Pairs {
		if p.Condition.String() != c.String() {
			continue
		}
		s.Rows = append(s.Rows, []string{p.A + " / " + p.B, ratio(p.Ratio), ends(p.Low, p.High), ends(p.LowSim, p.HighSim), chance(p.PAStronger),
			w.VerdictWords(p.Verdict), w.Settle(p)})
	}
	return s
}

func (w *Words) woodSheet() sheet {
	unit := w.units.StressUnit()
	s := sheet{
		ID: "wood", Title: "The wood's own strength in this joint",
		Note: "Where the wood failed first the reading is its strength, where the bond broke the wood was at least that strong. Handbook: shear along the grain, Wood Handbook (FPL-GTR-282), table 5-3.",
		Head: []string{"Wood", "n", "In the wood", "Typical, " + unit, "95 % interval", "Handbook, " + unit, "Handbook's wood"},
	}
	for _, l := range w.a.WoodLimits {
		interval := "–"
		if l.Low.Exists() {
			interval = w.Number(l.Low) + "–" + w.Number(l.High)
		}
		s.Rows = append(s.Rows, []string{woodName(l.Wood), fmt.Sprint(l.N), fmt.Sprint(l.Broke), w.Number(l.Typical), interval, w.Number(l.Handbook), l.HandbookNote})
	}
	s.Numbers = []bool{false, true, true, true, true, true, false}
	return s
}

func (w *Words) spreadSheet() sheet {
	s := sheet{ID: "scatter", Title: "Where the scatter comes from", Head: []string{"Between", "Standard deviation of log strength"}, Numbers: []bool{false, true},
		Note: "What the readings cannot tell apart is not listed."}
	for _, v := range []struct {
		name string
		v    answer.Value
	}{{"specimens of one board", w.a.Spread.Residual}, {"boards", w.a.Spread.Board}, {"sessions", w.a.Spread.Session}, {"trials", w.a.Spread.Trial}} {
		if v.v.Exists() {
			s.Rows = append(s.Rows, []string{v.name, fmt.Sprintf("%.3f", float64(v.v))})
		}
	}
	return s
}

// mostRows is the number of readings up to which a report lists every one: a
// browser shows no more with ease, and nobody reads them.
const mostRows = 2000

func (w *Words) readingSheet() sheet {
	s := sheet{Head: []string{"Specimen", "Adhesive", "Where", "Board", "Strength, " + w.units.StressUnit(), "Wood on the faces", "State", "Remark"},
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
			faces = Trim(float64(r.WoodFailure)) + " %"
		case r.Failure != "":
			faces = string(r.Failure)
		}
		strength := "–"
		if r.Strength > 0 {
			strength = w.Number(answer.Value(r.Strength))
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

// made says how the answer was made, so that it can be made again.
func (w *Words) made(src Source) []string {
	set := w.a.Settings
	s := []string{
		fmt.Sprintf("Readings: %s, SHA-256 %s.", src.Name, src.SHA256),
		fmt.Sprintf("Made by bondtrial %s with seed %d and %d draws (R-hat at most %.3f, effective size at least %.0f).", Version(), set.Seed, w.a.Draws, w.a.Fit.MaxRHat, w.a.Fit.MinESS),
		fmt.Sprintf("Wood failure counts from %s %%. Two count as the same within ±%s %%.", Trim(float64(set.Threshold)), w.margin()),
	}
	together := "Intervals \"together\" hold at once, at 95 %, for all comparisons of one wood and condition."
	if set.Family == answer.AllWoods {
		together = "Intervals \"together\" hold at once, at 95 %, for all comparisons of the trial."
	}
	s = append(s, together)
	if set.PooledScatter {
		s = append(s, "The scatter is taken to be the same for all adhesives.")
	}
	return s
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
