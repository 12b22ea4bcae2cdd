package publish

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// Words puts an answer into sentences, strengths in the given units.
type Words struct {
	a     *answer.Answer
	units bondtrial.Units
}

// NewWords returns the words for an answer.
func NewWords(a *answer.Answer, u bondtrial.Units) *Words { return &Words{a, u} }

// Headline is the answer in sentences: one string over all woods and factor
// levels, one for each of them, one for each factor.
func (w *Words) Headline() []string {
	var out []string
	if s := w.inShort(); s != "" {
		out = append(out, s)
	}
	for _, c := range w.a.Conditions() {
		out = append(out, w.conditionSentence(w.a.In(c)))
	}
	for k := range w.a.Effects {
		out = append(out, w.effectSentence(&w.a.Effects[k]))
	}
	return out
}

// on says where: "On ash, damp: ", "With damp: ", or nothing where nothing is named.
func on(c answer.Condition) string {
	switch {
	case c.Wood != "":
		return "On " + c.String() + ": "
	case len(c.Factors) > 0:
		return "With " + c.String() + ": "
	}
	return ""
}

func (w *Words) conditionSentence(cells []*answer.Cell) string {
	where := on(cells[0].Condition)
	var s []string
	switch {
	case w.a.Settings.Control != "":
		s = w.againstControl(cells)
	case len(cells) == 1:
		s = []string{w.strengthClause(cells[0]) + "."}
	default:
		if lead := w.leaders(cells); len(lead) == 1 {
			s = []string{w.winner(lead[0], cells)}
		} else {
			s = w.undecided(lead, cells)
		}
	}
	if len(cells) > 1 {
		s = append(s, w.atLeastSentence(cells)...)
	}
	return where + strings.Join(s, " ")
}

// leaders are the adhesives that none other is shown to be stronger than.
func (w *Words) leaders(cells []*answer.Cell) []*answer.Cell {
	var lead []*answer.Cell
	for _, c := range cells {
		beaten := slices.ContainsFunc(cells, func(d *answer.Cell) bool { return w.verdict(d, c) == answer.Stronger })
		if !beaten {
			lead = append(lead, c)
		}
	}
	return lead
}

// verdict is that of a over b, or empty where they are not compared.
func (w *Words) verdict(a, b *answer.Cell) answer.Verdict {
	p, _ := w.a.Pair(a, b)
	return p.Verdict
}

// winner is the sentence on the one adhesive that none is shown to be stronger
// than.
func (w *Words) winner(c *answer.Cell, cells []*answer.Cell) string {
	var next *answer.Cell
	beaten := 0
	for _, d := range cells {
		if d != c && next == nil {
			next = d
		}
		if w.verdict(c, d) == answer.Stronger {
			beaten++
		}
	}
	if beaten < len(cells)-1 {
		return w.strengthClause(c) + "; no other is shown to be stronger."
	}
	p, _ := w.a.Pair(c, next)
	s := fmt.Sprintf("%s is the strongest: %s, %s", c.Adhesive, w.strength(c), Over(p))
	switch n := len(cells) - 2; n {
	case 0:
	case 1:
		s += ", and stronger than " + cells[2].Adhesive
	default:
		s += fmt.Sprintf(", and stronger than the other %s", show.Count(n))
	}
	return s + "."
}

// undecided are the sentences where several may be the strongest.
func (w *Words) undecided(lead, cells []*answer.Cell) []string {
	first := fmt.Sprintf("%s may each be the strongest; which of them is, is not settled.", names(lead))
	switch {
	case len(lead) == len(cells) && len(lead) == 2:
		first = fmt.Sprintf("neither %s nor %s is shown to be the stronger.", lead[0].Adhesive, lead[1].Adhesive)
	case len(lead) == len(cells):
		first = fmt.Sprintf("none of %s is shown to be the strongest.", names(lead))
	}
	s := append([]string{first}, w.probably(lead)...)
	beaten, between := w.others(lead, cells)
	each := "Each of them"
	if len(lead) == 2 {
		each = "Both"
	}
	if len(beaten) > 0 {
		verb := " is stronger than "
		if len(lead) == 2 {
			verb = " are stronger than "
		}
		s = append(s, each+verb+names(beaten)+".")
	}
	if len(between) > 0 {
		verb := "lies"
		if len(between) > 1 {
			verb = "lie"
		}
		s = append(s, fmt.Sprintf("%s %s in between.", names(between), verb))
	}
	for i, a := range lead {
		for _, b := range lead[i+1:] {
			p, ok := w.a.Pair(a, b)
			switch {
			case ok && p.Verdict == answer.Same:
				s = append(s, fmt.Sprintf("%s and %s are the same within ±%s %%.", a.Adhesive, b.Adhesive, w.margin()))
			case ok && i == 0 && b == lead[1] && p.Verdict == answer.NotSettled && p.Ratio.Exists():
				s = append(s, fmt.Sprintf("%s over %s: ratio %s (%s); %s.", a.Adhesive, b.Adhesive, show.Ratio(p.Ratio), show.Ends(p.LowSim, p.HighSim), w.Settle(p)))
			}
		}
	}
	return s
}

// likely is the chance from which an adhesive is named as probably the strongest.
const likely = 0.9

// probably names the likeliest of the leaders where it is likely to be the
// strongest though that is not shown.
func (w *Words) probably(lead []*answer.Cell) []string {
	best := w.a.Chances(lead[0].Condition)
	if len(best) == 0 || best[0].Leans || best[0].PBest < likely {
		return nil
	}
	return []string{fmt.Sprintf("%s probably is (%s), which is not enough to be shown.",
		best[0].Adhesive, show.Chance(answer.Value(best[0].PBest)))}
}

// others are the adhesives that every leader is stronger than, and the rest.
func (w *Words) others(lead, cells []*answer.Cell) (beaten, between []*answer.Cell) {
	for _, d := range cells {
		if slices.Contains(lead, d) {
			continue
		}
		all := !slices.ContainsFunc(lead, func(c *answer.Cell) bool { return w.verdict(c, d) != answer.Stronger })
		if all {
			beaten = append(beaten, d)
		} else {
			between = append(between, d)
		}
	}
	return beaten, between
}

// atLeastSentence is about the adhesives with which something else than the bond
// gave way every time.
func (w *Words) atLeastSentence(cells []*answer.Cell) []string {
	var of, holds []string
	var limited []*answer.Cell
	for _, c := range cells {
		if c.OnlyAtLeast {
			limited = append(limited, c)
			of = append(of, fmt.Sprintf("%s (%d of %d)", c.Adhesive, c.N, c.N))
			holds = append(holds, show.Strength(w.units, c.AtLeast))
		}
	}
	if len(limited) == 0 {
		return nil
	}
	hold, order := "it holds", ""
	if len(of) > 1 {
		hold, order = "they hold", ", in this order"
	}
	what, stronger := answer.Limited(limited...)
	return []string{fmt.Sprintf("With %s %s every time: %s at least %s %s%s, and only %s or a smaller bonded area can tell how much more.",
		show.List(of), what, hold, show.List(holds), w.units.StressUnit(), order, stronger)}
}

// againstControl are the sentences on the comparisons with the control, and which
// adhesive is likeliest to be the strongest of all.
func (w *Words) againstControl(cells []*answer.Cell) []string {
	control := w.a.Settings.Control
	at := slices.IndexFunc(cells, func(c *answer.Cell) bool { return c.Adhesive == control })
	switch {
	case at < 0:
		return []string{fmt.Sprintf("the control %s was not broken here, so nothing is compared with it.", control)}
	case len(cells) == 1:
		return []string{w.strengthClause(cells[0]) + "; there is nothing to compare with it."}
	}
	lines := make(map[answer.Verdict][]string)
	for _, c := range cells {
		p, ok := w.a.Pair(c, cells[at])
		if !ok {
			continue
		}
		text := c.Adhesive
		switch p.Verdict {
		case answer.Stronger, answer.Weaker:
			text += " " + by(p)
		case answer.NotSettled:
			text += " (" + w.Settle(p) + ")"
		case answer.AtLeast:
			text += " (" + oneSided(p) + ")"
		}
		lines[p.Verdict] = append(lines[p.Verdict], text)
	}
	var parts []string
	for _, part := range []struct {
		v     answer.Verdict
		words string
	}{
		{answer.Stronger, "stronger than " + control},
		{answer.Weaker, "weaker than " + control},
		{answer.Same, "the same as " + control + " within ±" + w.margin() + " %"},
		{answer.NotSettled, "not settled against " + control},
		{answer.AtLeast, "only bounded against " + control},
	} {
		if l := lines[part.v]; len(l) > 0 {
			parts = append(parts, part.words+": "+show.List(l))
		}
	}
	s := []string{strings.Join(parts, "; ") + "."}
	if best := w.a.Chances(cells[at].Condition); len(best) > 2 && !best[0].Leans {
		s = append(s, fmt.Sprintf("The likeliest to be the strongest of all is %s (%s).", best[0].Adhesive, show.Chance(answer.Value(best[0].PBest))))
	}
	return s
}

// tally is on how many conditions an adhesive was broken, was not shown to be
// weaker than another, and was shown to be the strongest.
type tally struct {
	name                  string
	broken, unbeaten, won int
}

// inShort looks over all conditions: which adhesives nothing is shown to be
// stronger than, on how many of them.
func (w *Words) inShort() string {
	conditions := w.a.Conditions()
	if len(conditions) < 2 || w.a.Settings.Control != "" {
		return ""
	}
	var all []*tally
	of := make(map[string]*tally)
	for _, c := range conditions {
		cells := w.a.In(c)
		if len(cells) < 2 {
			return ""
		}
		lead := w.leaders(cells)
		for _, cell := range cells {
			t := of[cell.Adhesive]
			if t == nil {
				t = &tally{name: cell.Adhesive}
				of[cell.Adhesive] = t
				all = append(all, t)
			}
			t.broken++
			if slices.Contains(lead, cell) {
				t.unbeaten++
				if len(lead) == 1 {
					t.won++
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b *tally) int {
		return cmp.Or(cmp.Compare(b.unbeaten, a.unbeaten), cmp.Compare(b.won, a.won))
	})
	var never, where []string
	on := make(map[string][]string) // where → adhesives
	for _, t := range all {
		if t.unbeaten == 0 {
			never = append(never, t.name)
			continue
		}
		at := w.outOf(t, len(conditions))
		if on[at] == nil {
			where = append(where, at)
		}
		on[at] = append(on[at], t.name)
	}
	var some []string
	for _, at := range where {
		some = append(some, show.List(on[at])+" may be the strongest "+at)
	}
	s := "In short: " + strings.Join(some, "; ") + "."
	if len(never) > 0 {
		s += " " + upperFirst(show.List(never)) + " nowhere: there another is always stronger."
	}
	return s
}

// outOf says on how many of the conditions an adhesive was not shown to be weaker
// than another, and was shown to be the strongest.
func (w *Words) outOf(t *tally, conditions int) string {
	var s string
	switch {
	case t.unbeaten == conditions:
		s = "everywhere"
	case t.unbeaten == t.broken:
		s = fmt.Sprintf("wherever broken (%s of the %s %s)", show.Count(t.broken), show.Count(conditions), w.kinds())
	default:
		s = fmt.Sprintf("on %s of the %s %s", show.Count(t.unbeaten), show.Count(t.broken), w.kinds())
	}
	switch {
	case t.won == 0:
	case t.won == t.unbeaten && t.won > 1:
		s += " (and is shown to be on all of them)"
	case t.won == t.unbeaten:
		s += " (and is shown to be)"
	default:
		s += fmt.Sprintf(" (and is shown to be on %s)", show.Count(t.won))
	}
	return s
}

// kinds names what the conditions are.
func (w *Words) kinds() string {
	switch {
	case len(w.a.Settings.Factors) == 0:
		return "woods"
	case !slices.ContainsFunc(w.a.Cells, func(c answer.Cell) bool { return c.Wood != "" }):
		return "conditions"
	}
	return "pairs of wood and condition"
}

func (w *Words) effectSentence(e *answer.Effect) string {
	head := upperFirst(e.Factor) + ": "
	if !e.Ratio.Exists() {
		return fmt.Sprintf("%s%s and %s cannot be compared, no adhesive has bond breaks at both.", head, e.A, e.B)
	}
	over := ""
	if e.Cells > 1 {
		over = fmt.Sprintf(", averaged over %d comparisons of like with like", e.Cells)
	}
	times := fmt.Sprintf("%s joints are %s times as strong as %s ones (%s)%s.", e.A, show.Ratio(e.Ratio), e.B, show.Ends(e.LowSim, e.HighSim), over)
	switch e.Verdict {
	case answer.Stronger, answer.Weaker:
		return head + times
	case answer.Same:
		return fmt.Sprintf("%s%s or %s makes no difference beyond ±%s %%: %s", head, e.A, e.B, w.margin(), times)
	}
	return fmt.Sprintf("%swhether %s or %s matters is not settled: %s", head, e.A, e.B, times)
}

// strengthClause is "Tarn holds 8.1 MPa (7.2–9.4)".
func (w *Words) strengthClause(c *answer.Cell) string {
	return fmt.Sprintf("%s holds %s", c.Adhesive, w.strength(c))
}

func (w *Words) strength(c *answer.Cell) string {
	if c.OnlyAtLeast {
		return "at least " + show.WithUnit(w.units, c.AtLeast)
	}
	return fmt.Sprintf("%s (%s–%s)", show.WithUnit(w.units, c.Typical), show.Strength(w.units, c.Low), show.Strength(w.units, c.High))
}

// Settle says what would settle a pair.
func (w *Words) Settle(p answer.Pair) string {
	s := p.Settle
	switch {
	case s.More > 0 && s.Toward == answer.Same:
		return fmt.Sprintf("about %d more of each would be expected to show them the same", s.More)
	case s.More > 0:
		return fmt.Sprintf("about %d more of each would be expected to settle it", s.More)
	}
	return s.Reason
}

func (w *Words) margin() string { return show.Trim(w.a.Settings.Margin * 100) }

// VerdictWords is the verdict of a comparison in words; "same" comes with the
// interval it rests on.
func (w *Words) VerdictWords(p answer.Pair) string {
	switch p.Verdict {
	case answer.Same:
		return "same within ±" + w.margin() + " % (90 %: " + show.Ends(p.Low90, p.High90) + ")"
	case answer.NotSettled:
		return "not settled"
	case answer.AtLeast:
		return "one-sided only"
	}
	return string(p.Verdict)
}

// Over says how A stands to B, with the simultaneous interval: "stronger than
// Fell by 31 % (4–65 %)", or from twice on "2.41 times as strong as Fell
// (1.90–3.00)".
func Over(p answer.Pair) string {
	if twice(p) {
		return fmt.Sprintf("%s as strong as %s%s", times(p), p.B, interval(p))
	}
	return fmt.Sprintf("%s than %s %s", p.Verdict, p.B, by(p))
}

// by is the part of Over that does not name B: "by 31 % (4–65 %)", "2.41 times as
// strong (1.90–3.00)".
func by(p answer.Pair) string {
	if twice(p) {
		return times(p) + " as strong" + interval(p)
	}
	if !p.Ratio.Exists() {
		if p.LowSim.Exists() {
			return "by at least " + show.Percent(float64(p.LowSim)-1)
		}
		return "by at least " + show.Percent(1-float64(p.HighSim))
	}
	r, lo, hi := float64(p.Ratio), float64(p.LowSim), float64(p.HighSim)
	if r < 1 {
		r, lo, hi = 2-r, 2-hi, 2-lo
	}
	return fmt.Sprintf("by %s (%.0f–%s)", show.Percent(r-1), 100*(lo-1), show.Percent(hi-1))
}

// twice reports whether A is said to be so many times as strong, and not stronger
// by so many per cent.
func twice(p answer.Pair) bool {
	return p.Ratio >= 2 || !p.Ratio.Exists() && p.LowSim >= 2
}

func times(p answer.Pair) string {
	if !p.Ratio.Exists() {
		return "at least " + show.Ratio(p.LowSim) + " times"
	}
	return show.Ratio(p.Ratio) + " times"
}

func interval(p answer.Pair) string {
	if !p.Ratio.Exists() {
		return ""
	}
	return " (" + show.Ends(p.LowSim, p.HighSim) + ")"
}

func oneSided(p answer.Pair) string {
	switch {
	case p.LowSim.Exists():
		return "at least " + show.Ratio(p.LowSim) + " times as strong, perhaps much more"
	case p.HighSim.Exists():
		return "at most " + show.Ratio(p.HighSim) + " times as strong, perhaps much less"
	}
	return "nothing can be said"
}

func names(cells []*answer.Cell) string {
	n := make([]string, len(cells))
	for k, c := range cells {
		n[k] = c.Adhesive
	}
	return show.List(n)
}

func upperFirst(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}
