package publish

import (
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
		return "On " + c.Spoken() + ": "
	case len(c.Factors) > 0:
		return "With " + c.Spoken() + ": "
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
	s = append(s, w.beatenBySome(between, lead, cells)...)
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

// beatenBySome are the sentences on the adhesives that one is stronger than, though
// not every leader is: by which, and against which leaders that is not shown.
func (w *Words) beatenBySome(between, lead, cells []*answer.Cell) []string {
	var order []string // of what is said
	who := make(map[string][]*answer.Cell)
	for _, d := range between {
		var by, open []*answer.Cell
		for _, c := range cells {
			switch {
			case w.verdict(c, d) == answer.Stronger:
				by = append(by, c)
			case slices.Contains(lead, c):
				open = append(open, c)
			}
		}
		said := "weaker than " + names(by)
		if len(open) > 0 {
			said += ", which is not shown against " + names(open)
		}
		if who[said] == nil {
			order = append(order, said)
		}
		who[said] = append(who[said], d)
	}
	var s []string
	for _, said := range order {
		verb := "is"
		if len(who[said]) > 1 {
			verb = "are"
		}
		s = append(s, fmt.Sprintf("%s %s %s.", names(who[said]), verb, said))
	}
	return s
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

func (w *Words) effectSentence(e *answer.Effect) string {
	head := upperFirst(e.Factor) + ": "
	if !e.Ratio.Exists() {
		return fmt.Sprintf("%s%s and %s cannot be compared, no adhesive has bond breaks at both.", head, e.A, e.B)
	}
	over := ""
	if e.Cells > 1 {
		over = fmt.Sprintf(", averaged over %d comparisons of like with like", e.Cells)
	}
	joints, ones := e.A+" joints", e.B+" ones"
	if !answer.SpeaksAlone(e.A) || !answer.SpeaksAlone(e.B) {
		joints, ones = fmt.Sprintf("joints with %s %s", e.Factor, e.A), "those with "+e.B
	}
	times := fmt.Sprintf("%s are %s times as strong as %s (%s)%s.", joints, show.Ratio(e.Ratio), ones, show.Ends(e.LowSim, e.HighSim), over)
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
