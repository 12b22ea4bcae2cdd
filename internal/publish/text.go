package publish

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"text/tabwriter"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// Cautions are printed with every answer.
var Cautions = []string{
	"A comparison on the bench is no design value. Joints that carry people or loads go by the local building codes and by those licensed to design them.",
	"Breaking joints throws splinters and frees stored force: wear eye protection, keep a screen between the specimen and your face, keep others away.",
	"Polyurethane adhesives hold isocyanates and epoxy hardeners amines, which can make you allergic for life; solvents burn. Gloves, fresh air, no flame, and the label's safety sheet first.",
}

// Text writes the answer for a terminal: the sentences first, then the tables,
// then what to know before trusting it. Every part starts with a word that names
// it.
func Text(out io.Writer, a *answer.Answer, u bondtrial.Units) error {
	w := NewWords(a, u)
	var b strings.Builder
	for _, s := range w.Headline() {
		b.WriteString(Wrap(s, 96, "") + "\n")
	}
	fmt.Fprintf(&b, "\n%s\n", w.Counts())
	for _, s := range a.Warnings {
		b.WriteString(Wrap("Note: "+s, 96, "  ") + "\n")
	}
	w.strengthTable(&b)
	w.pairTable(&b)
	w.chanceTable(&b)
	w.woodTable(&b)
	w.checkLines(&b)
	for _, s := range Cautions {
		b.WriteString("\n" + Wrap("Caution: "+s, 96, "  "))
	}
	b.WriteString("\n")
	_, err := io.WriteString(out, b.String())
	return err
}

// Counts says how many readings there are in which state.
func (w *Words) Counts() string {
	n := w.a.Counts
	s := fmt.Sprintf("%d readings used", n.Used)
	for _, part := range []struct {
		n    int
		what string
	}{{n.WoodLimited, "ended in the wood"}, {n.RigLimited, "ended at the rig's limit"}, {n.SetAside, "set aside"}} {
		if part.n > 0 {
			s += fmt.Sprintf(", %d %s", part.n, part.what)
		}
	}
	return s + "."
}

// columns writes rows as a table, first row the heads.
func columns(b *strings.Builder, title string, rows [][]string) {
	fmt.Fprintf(b, "\n%s\n", title)
	tw := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	for _, r := range rows {
		fmt.Fprintln(tw, "  "+strings.Join(r, "\t"))
	}
	tw.Flush()
}

func (w *Words) strengthTable(b *strings.Builder) {
	unit := w.units.StressUnit()
	rows := [][]string{{"where", "adhesive", "n", "in the wood", "typical " + unit, "95 % from", "to", "scatter", "5th pct"}}
	exceed := w.a.Settings.Required > 0
	if exceed {
		rows[0] = append(rows[0], "typical > "+show.WithUnit(w.units, answer.Value(w.a.Settings.Required)))
	}
	for _, cond := range w.a.Conditions() {
		for _, c := range w.a.In(cond) {
			r := []string{c.Condition.String(), c.Adhesive, fmt.Sprint(c.N), inWood(c), w.number(c.Typical), w.number(c.Low), w.number(c.High), scatter(c.SDLog), w.number(c.Char5)}
			if c.OnlyAtLeast {
				r[4], r[5], r[6] = "at least "+w.number(c.AtLeast), "", ""
			}
			if exceed {
				r = append(r, show.Chance(c.PExceed))
			}
			rows = append(rows, r)
		}
	}
	columns(b, "How strong (typical: half of such joints are stronger; 5th percentile at 75 % confidence)", rows)
	if w.a.Counts.WoodLimited+w.a.Counts.RigLimited > 0 {
		b.WriteString("  " + Wrap(overReadings, 94, "  ") + "\n")
	}
}

// overReadings explains what puzzles in the table of strengths.
const overReadings = "Where the wood failed first the bond held more than its reading, so what is typical can lie above most of the readings."

// number is a strength without its unit.
func (w *Words) number(v answer.Value) string { return show.Strength(w.units, v) }

func inWood(c *answer.Cell) string {
	s := fmt.Sprint(c.WoodLimited)
	if c.RigLimited > 0 {
		s += fmt.Sprintf(" +%d rig", c.RigLimited)
	}
	return s
}

func scatter(v answer.Value) string {
	if !v.Exists() {
		return show.None
	}
	return show.Percent(float64(v))
}

// mostPairs is the number of comparisons up to which a terminal gets all of them;
// of more it gets those that a reader cannot infer from the order of the
// strengths.
const mostPairs = 20

func (w *Words) pairTable(b *strings.Builder) {
	if len(w.a.Pairs) == 0 {
		return
	}
	rows := [][]string{{"where", "comparison", "ratio", "95 % alone", "95 % together", "verdict", "to settle it"}}
	left := 0
	for _, cond := range w.a.Conditions() {
		for _, p := range w.a.PairsIn(cond) {
			if len(w.a.Pairs) > mostPairs && w.a.Settings.Control == "" && p.Verdict == answer.Stronger {
				left++
				continue
			}
			rows = append(rows, []string{p.Condition.String(), p.A + " / " + p.B, show.Ratio(p.Ratio), show.Ends(p.Low, p.High), show.Ends(p.LowSim, p.HighSim),
				w.VerdictWords(p), settleShort(p)})
		}
	}
	if len(rows) > 1 {
		columns(b, "Which is stronger (ratio of typical strengths; \"together\": "+w.together()+" hold at once)", rows)
	} else {
		b.WriteString("\nWhich is stronger\n")
	}
	if left > 0 {
		rest := "In the other %d comparisons the one higher up in the table of strengths is stronger; the report (--html) and --json have them all."
		b.WriteString("  " + Wrap(fmt.Sprintf(rest, left), 94, "  ") + "\n")
	}
}

// together says which comparisons an interval "together" holds for.
func (w *Words) together() string {
	what := "all comparisons"
	if w.a.Settings.Control != "" {
		what = "the comparisons with " + w.a.Settings.Control
	}
	switch {
	case w.a.Settings.Family == answer.AllWoods:
		return what + " of the trial"
	case len(w.a.Settings.Factors) > 0:
		return what + " on one wood and condition"
	}
	return what + " on one wood"
}

// settleShort is Settle for a narrow column.
func settleShort(p answer.Pair) string {
	s := p.Settle
	switch {
	case s.More > 0 && s.Toward == answer.Same:
		return fmt.Sprintf("%d more of each (to be the same)", s.More)
	case s.More > 0:
		return fmt.Sprintf("%d more of each", s.More)
	case p.Verdict == answer.AtLeast || !p.Ratio.Exists() && p.Verdict == answer.NotSettled:
		if strings.Contains(s.Reason, "rig") {
			return "a stronger rig"
		}
		return "a stronger wood"
	case s.Reason != "":
		return "more than 200"
	}
	return ""
}

func (w *Words) chanceTable(b *strings.Builder) {
	rows := [][]string{{"where", "chance of being the strongest"}}
	for _, cond := range w.a.Conditions() {
		var parts []string
		for _, c := range w.a.Chances(cond) {
			if c.PBest >= 0.005 {
				parts = append(parts, c.Adhesive+" "+show.Chance(answer.Value(c.PBest)))
			}
		}
		if len(w.a.In(cond)) > 1 {
			rows = append(rows, []string{cond.String(), strings.Join(parts, ", ")})
		}
	}
	if len(rows) > 1 {
		columns(b, "Which is the strongest (the likeliest first; above, the highest typical strength first)", rows)
	}
}

func (w *Words) woodTable(b *strings.Builder) {
	unit := w.units.StressUnit()
	rows := [][]string{{"wood", "n", "in the wood", "typical " + unit, "95 % from", "to", "handbook", ""}}
	for _, l := range w.a.WoodLimits {
		if l.Broke == 0 {
			continue
		}
		rows = append(rows, []string{woodName(l.Wood), fmt.Sprint(l.N), fmt.Sprint(l.Broke), w.number(l.Typical), w.number(l.Low), w.number(l.High),
			w.number(l.Handbook), l.HandbookNote})
	}
	if len(rows) > 1 {
		columns(b, "The wood's own strength in this joint (handbook: shear along the grain)", rows)
		if few := slices.ContainsFunc(w.a.WoodLimits, func(l answer.WoodLimit) bool { return l.Broke > 0 && !l.Typical.Exists() }); few {
			b.WriteString("  –: " + tooSeldom + "\n")
		}
	}
}

// tooSeldom says why a wood's own strength is missing.
const tooSeldom = "the wood failed too seldom, or too unevenly, to tell."

func woodName(s string) string {
	if s == "" {
		return "(not named)"
	}
	return s
}

func (w *Words) checkLines(b *strings.Builder) {
	a := w.a
	fmt.Fprintf(b, "\nChecks\n")
	line := func(format string, args ...any) {
		b.WriteString("  " + Wrap(fmt.Sprintf(format, args...), 94, "  ") + "\n")
	}
	var parts []string
	for _, s := range []struct {
		name string
		v    answer.Value
	}{{"within boards", a.Spread.Residual}, {"between boards", a.Spread.Board}, {"between batches", a.Spread.Batch}, {"between sessions", a.Spread.Session}, {"between trials", a.Spread.Trial}} {
		if s.v.Exists() {
			parts = append(parts, fmt.Sprintf("%s %s", s.name, show.Percent(float64(s.v))))
		}
	}
	line("Scatter: %s.", strings.Join(parts, ", "))
	for _, s := range w.Checks() {
		line("%s", s)
	}
	line("Sampled %d times from seed %d; R-hat at most %.3f, effective size at least %.0f.", a.Draws, a.Settings.Seed, a.Fit.MaxRHat, a.Fit.MinESS)
}

// plainly is the difference of log-likelihoods from which one of two models with
// as many parameters is plainly better: a factor of e² (common practice, no
// source).
const plainly = 2

// Checks are the checks that read as sentences, for terminal and report.
func (w *Words) Checks() []string {
	a := w.a
	var s []string
	for _, t := range a.Sensitivity {
		head := fmt.Sprintf("With wood failure counted from %.0f %%: ", float64(t.Threshold))
		switch n := len(t.Changes); {
		case t.Failed != "":
			s = append(s, head+"no answer ("+t.Failed+").")
		case n == 0:
			s = append(s, head+"no verdict changes.")
		case n == 1:
			s = append(s, head+"one verdict changes: "+w.changes(t.Changes)+".")
		default:
			s = append(s, fmt.Sprintf("%s%d verdicts change: %s.", head, n, w.changes(t.Changes)))
		}
	}
	for _, d := range a.Drifts {
		verb := "no change shown"
		if d.Flag {
			verb = "a change"
		}
		s = append(s, fmt.Sprintf("Along the order of %s: %s, the last is %s times the first (%s).", d.Order, verb, show.Ratio(d.Ratio), show.Ends(d.Low, d.High)))
	}
	if a.Fit.LognormalLogLik.Exists() && a.Fit.WeibullLogLik.Exists() {
		lognormal, weibull := float64(a.Fit.LognormalLogLik), float64(a.Fit.WeibullLogLik)
		words := "the two describe the readings about equally well"
		switch {
		case lognormal > weibull+plainly:
			words = "the lognormal, which is used, describes the readings better"
		case weibull > lognormal+plainly:
			words = "a Weibull would describe the readings better than the lognormal that is used, which changes typical strengths and comparisons little; the weakest joints may be weaker than the 5th percentiles say"
		}
		s = append(s, fmt.Sprintf("Log-likelihood lognormal %.2f, Weibull %.2f: %s.", lognormal, weibull, words))
	}
	return s
}

// mostNamed is how many changed verdicts are named.
const mostNamed = 5

func (w *Words) changes(cs []answer.Change) string {
	var parts []string
	for k, c := range cs {
		if k == mostNamed {
			parts = append(parts, fmt.Sprintf("%d more", len(cs)-k))
			break
		}
		where := c.Factor
		if c.Factor == "" {
			where = c.Condition.String()
		}
		parts = append(parts, fmt.Sprintf("%s / %s (%s) from %s to %s", c.A, c.B, where, plain(c.Was), plain(c.Is)))
	}
	return strings.Join(parts, "; ")
}

// plain is a verdict as words.
func plain(v answer.Verdict) string {
	switch v {
	case answer.NotSettled:
		return "not settled"
	case answer.AtLeast:
		return "one-sided"
	}
	return string(v)
}

// Wrap breaks a text into lines of at most width runes, further lines indented. A
// number stays on the line of its unit.
func Wrap(s string, width int, indent string) string {
	var b strings.Builder
	n := 0
	for i, word := range strings.Split(Glued(s), " ") {
		l := len([]rune(word))
		switch {
		case i == 0:
		case n+1+l > width:
			b.WriteString("\n" + indent)
			n = len(indent)
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(word)
		n += l
	}
	return strings.ReplaceAll(b.String(), noBreak, " ")
}

const noBreak = "\u00a0"

var beforeUnit = regexp.MustCompile(`(\d) (%|MPa|psi)`)

// Glued puts a space that does not break between a number and its unit.
func Glued(s string) string { return beforeUnit.ReplaceAllString(s, "${1}"+noBreak+"${2}") }

// AllGlued is Glued for each text.
func AllGlued(s []string) []string {
	g := make([]string, len(s))
	for i := range s {
		g[i] = Glued(s[i])
	}
	return g
}
