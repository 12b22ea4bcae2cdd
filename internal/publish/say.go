package publish

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
)

// Words puts an answer into sentences, strengths in the given units.
type Words struct {
	a     *answer.Answer
	units bondtrial.Units
}

// NewWords returns the words for an answer.
func NewWords(a *answer.Answer, u bondtrial.Units) *Words { return &Words{a, u} }

// Headline is the answer in sentences, one string for each wood and factor
// level, then one for each factor.
func (w *Words) Headline() []string {
	var out []string
	for _, cells := range w.conditions() {
		out = append(out, w.conditionSentence(cells))
	}
	for k := range w.a.Effects {
		out = append(out, w.effectSentence(&w.a.Effects[k]))
	}
	return out
}

// conditions returns the cells of each condition, the strongest first.
func (w *Words) conditions() [][]*answer.Cell {
	var groups [][]*answer.Cell
	for k := range w.a.Cells {
		c := &w.a.Cells[k]
		if n := len(groups); n > 0 && groups[n-1][0].Condition.String() == c.Condition.String() {
			groups[n-1] = append(groups[n-1], c)
			continue
		}
		groups = append(groups, []*answer.Cell{c})
	}
	for _, g := range groups {
		sort.SliceStable(g, func(i, j int) bool { return standing(g[i]) > standing(g[j]) })
	}
	return groups
}

// standing orders cells by strength; one that is only at least goes by its bound.
func standing(c *answer.Cell) float64 {
	if c.OnlyAtLeast {
		return float64(c.AtLeast)
	}
	return float64(c.Typical)
}

// on says where: "On ash, damp, " or nothing where nothing is named.
func on(c answer.Condition) string {
	if c.Wood == "" && len(c.Factors) == 0 {
		return ""
	}
	return "On " + c.String() + ": "
}

func (w *Words) conditionSentence(cells []*answer.Cell) string {
	where := on(cells[0].Condition)
	if w.a.Settings.Control != "" {
		return where + w.controlSentence(cells)
	}
	if len(cells) == 1 {
		return where + w.strengthClause(cells[0]) + "."
	}
	leaders := w.leaders(cells)
	var s []string
	if len(leaders) == 1 {
		s = append(s, w.winner(leaders[0], cells))
	} else {
		s = append(s, w.undecided(leaders, cells)...)
	}
	for _, c := range cells {
		if c.OnlyAtLeast {
			s = append(s, w.atLeastSentence(c))
		}
	}
	return where + strings.Join(s, " ")
}

// pair finds the comparison of two cells, A over B; the fields are turned round
// where it was made the other way.
func (w *Words) pair(a, b *answer.Cell) (p answer.Pair, ok bool) {
	for _, p := range w.a.Pairs {
		if p.Condition.String() != a.Condition.String() {
			continue
		}
		if p.A == a.Adhesive && p.B == b.Adhesive {
			return p, true
		}
		if p.A == b.Adhesive && p.B == a.Adhesive {
			return p.Reversed(), true
		}
	}
	return answer.Pair{}, false
}

// leaders are the adhesives that none other is shown to be stronger than.
func (w *Words) leaders(cells []*answer.Cell) []*answer.Cell {
	var lead []*answer.Cell
	for _, c := range cells {
		beaten := false
		for _, d := range cells {
			if p, ok := w.pair(c, d); ok && p.Verdict == answer.Weaker {
				beaten = true
			}
		}
		if !beaten {
			lead = append(lead, c)
		}
	}
	return lead
}

func (w *Words) winner(c *answer.Cell, cells []*answer.Cell) string {
	var next *answer.Cell
	for _, d := range cells {
		if d != c {
			next = d
			break
		}
	}
	p, _ := w.pair(c, next)
	others := ""
	if n := len(cells) - 2; n > 0 && w.beatsAll(c, cells) {
		others = fmt.Sprintf(", and stronger than the other %s", countWord(n))
	}
	if p.Verdict != answer.Stronger {
		return fmt.Sprintf("%s; no other is shown to be stronger.", w.strengthClause(c))
	}
	return fmt.Sprintf("%s is the strongest: %s, stronger than %s by %s%s.", c.Adhesive, w.strength(c), next.Adhesive, Margin(p), others)
}

func (w *Words) beatsAll(c *answer.Cell, cells []*answer.Cell) bool {
	for _, d := range cells {
		if d == c {
			continue
		}
		if p, ok := w.pair(c, d); !ok || p.Verdict != answer.Stronger {
			return false
		}
	}
	return true
}

func (w *Words) undecided(leaders, cells []*answer.Cell) []string {
	var names []string
	for _, c := range leaders {
		names = append(names, c.Adhesive)
	}
	var s []string
	first := fmt.Sprintf("%s lead; which of them is the strongest is not settled.", list(names))
	if len(leaders) == len(cells) {
		first = fmt.Sprintf("none of %s is shown to be the strongest.", list(names))
	}
	s = append(s, first)
	if beaten := w.beatenByAll(leaders, cells); len(beaten) > 0 {
		s = append(s, fmt.Sprintf("Each of them is stronger than %s.", list(beaten)))
	}
	for i, a := range leaders {
		for _, b := range leaders[i+1:] {
			p, ok := w.pair(a, b)
			if !ok {
				continue
			}
			switch {
			case p.Verdict == answer.Same:
				s = append(s, fmt.Sprintf("%s and %s are the same within ±%s %%.", a.Adhesive, b.Adhesive, w.margin()))
			case i == 0 && b == leaders[1] && p.Verdict == answer.NotSettled && !a.OnlyAtLeast && !b.OnlyAtLeast:
				s = append(s, fmt.Sprintf("Between %s and %s it is not settled (ratio %s, %s); %s.", a.Adhesive, b.Adhesive, ratio(p.Ratio), ends(p.LowSim, p.HighSim), w.Settle(p)))
			}
		}
	}
	return s
}

// beatenByAll names the adhesives that every leader is stronger than.
func (w *Words) beatenByAll(leaders, cells []*answer.Cell) []string {
	var out []string
	for _, d := range cells {
		if slices.Contains(leaders, d) {
			continue
		}
		all := true
		for _, c := range leaders {
			if p, ok := w.pair(c, d); !ok || p.Verdict != answer.Stronger {
				all = false
			}
		}
		if all {
			out = append(out, d.Adhesive)
		}
	}
	return out
}

func (w *Words) atLeastSentence(c *answer.Cell) string {
	what := "the wood failed first"
	if c.RigLimited > 0 {
		what = "the wood or the rig gave way first"
	}
	return fmt.Sprintf("With %s %s every time (%d of %d): it holds at least %s, and how much more cannot be told here.",
		c.Adhesive, what, c.N, c.N, w.Stress(c.AtLeast))
}

func (w *Words) controlSentence(cells []*answer.Cell) string {
	control := w.a.Settings.Control
	var lines = map[answer.Verdict][]string{}
	var here bool
	for _, c := range cells {
		if c.Adhesive == control {
			here = true
		}
		for _, d := range cells {
			if d.Adhesive != control || c == d {
				continue
			}
			p, ok := w.pair(c, d)
			if !ok {
				continue
			}
			text := c.Adhesive
			switch p.Verdict {
			case answer.Stronger, answer.Weaker:
				text += " by " + Margin(p)
			case answer.NotSettled:
				text += " (" + w.Settle(p) + ")"
			case answer.AtLeast:
				text += " (" + oneSided(p) + ")"
			}
			lines[p.Verdict] = append(lines[p.Verdict], text)
		}
	}
	if !here {
		return fmt.Sprintf("the control %s was not broken here, so nothing is compared with it.", control)
	}
	if len(cells) == 1 {
		return w.strengthClause(cells[0]) + "; there is nothing to compare with it."
	}
	var s []string
	for _, part := range []struct {
		v     answer.Verdict
		words string
	}{
		{answer.Stronger, "stronger than %s: "},
		{answer.Weaker, "weaker than %s: "},
		{answer.Same, "the same as %s within ±" + w.margin() + " %%: "},
		{answer.NotSettled, "not settled against %s: "},
		{answer.AtLeast, "only one-sided against %s: "},
	} {
		if l := lines[part.v]; len(l) > 0 {
			s = append(s, fmt.Sprintf(part.words, control)+list(l))
		}
	}
	return strings.Join(s, "; ") + "."
}

func (w *Words) effectSentence(e *answer.Effect) string {
	if !e.Ratio.Exists() {
		return fmt.Sprintf("%s, %s against %s: cannot be compared, no adhesive has bond breaks at both.", upperFirst(e.Factor), e.A, e.B)
	}
	interval := ratioInterval(e.Ratio, e.Low, e.High)
	over := fmt.Sprintf("over %d pairs of cells", e.Cells)
	if e.Cells == 1 {
		over = "from one pair of cells"
	}
	head := fmt.Sprintf("%s, %s against %s (%s): ", upperFirst(e.Factor), e.A, e.B, over)
	switch e.Verdict {
	case answer.Stronger:
		return head + "bonds are stronger, " + interval + " times."
	case answer.Weaker:
		return head + "bonds are weaker, " + interval + " times."
	case answer.Same:
		return head + "the same within ±" + w.margin() + " %, " + interval + " times."
	}
	return head + "not settled, " + interval + " times."
}

// strengthClause is "Tarn holds 8.1 MPa (7.2–9.4)".
func (w *Words) strengthClause(c *answer.Cell) string {
	if c.OnlyAtLeast {
		return strings.TrimSuffix(w.atLeastSentence(c), ".")
	}
	return fmt.Sprintf("%s holds %s", c.Adhesive, w.strength(c))
}

func (w *Words) strength(c *answer.Cell) string {
	if c.OnlyAtLeast {
		return "at least " + w.Stress(c.AtLeast)
	}
	return fmt.Sprintf("%s (%s–%s)", w.Stress(c.Typical), w.Number(c.Low), w.Number(c.High))
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

// Stress is a strength with its unit.
func (w *Words) Stress(v answer.Value) string {
	if !v.Exists() {
		return "–"
	}
	return w.Number(v) + " " + w.units.StressUnit()
}

// Number is a strength in the words' units without the unit: three significant
// digits of megapascal, whole tens of psi.
func (w *Words) Number(v answer.Value) string {
	if !v.Exists() {
		return "–"
	}
	x := w.units.Stress(float64(v))
	switch {
	case w.units == bondtrial.US && x >= 100:
		return fmt.Sprintf("%.0f", math.Round(x/10)*10)
	case x >= 100:
		return fmt.Sprintf("%.0f", x)
	case x >= 1:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.2f", x)
}

func (w *Words) margin() string { return Trim(w.a.Settings.Margin * 100) }

// Trim writes a number without needless zeros.
func Trim(x float64) string { return strconv.FormatFloat(math.Round(x*1e6)/1e6, 'f', -1, 64) }

// Margin says by how much A is stronger or weaker than B, with the simultaneous
// interval: "31 % (4–65 %)", or from twice on "2.1 times (1.7–2.6)".
func Margin(p answer.Pair) string {
	if !p.Ratio.Exists() {
		if p.LowSim.Exists() {
			return "at least " + percent(float64(p.LowSim)-1)
		}
		return "at least " + percent(1-float64(p.HighSim))
	}
	r, lo, hi := float64(p.Ratio), float64(p.LowSim), float64(p.HighSim)
	if r >= 2 {
		return fmt.Sprintf("%s times (%s–%s)", ratio(p.Ratio), ratio(p.LowSim), ratio(p.HighSim))
	}
	if r < 1 {
		r, lo, hi = 2-r, 2-hi, 2-lo
	}
	return fmt.Sprintf("%s (%.0f–%s)", percent(r-1), 100*(lo-1), percent(hi-1))
}

func oneSided(p answer.Pair) string {
	switch {
	case p.LowSim.Exists():
		return "at least " + ratio(p.LowSim) + " times it"
	case p.HighSim.Exists():
		return "at most " + ratio(p.HighSim) + " times it"
	}
	return "nothing can be said"
}

func percent(share float64) string { return fmt.Sprintf("%.0f %%", 100*share) }

func ratio(v answer.Value) string {
	if !v.Exists() {
		return "–"
	}
	if v >= 10 {
		return fmt.Sprintf("%.0f", float64(v))
	}
	return fmt.Sprintf("%.2f", float64(v))
}

// ratioInterval is "1.31 (1.04–1.65)"; an end that does not exist is left open.
func ratioInterval(r, lo, hi answer.Value) string {
	switch {
	case !lo.Exists() && !hi.Exists():
		return "–"
	case !hi.Exists():
		return "at least " + ratio(lo)
	case !lo.Exists():
		return "at most " + ratio(hi)
	}
	return fmt.Sprintf("%s (%s–%s)", ratio(r), ratio(lo), ratio(hi))
}

// list joins names as one says them.
func list(names []string) string {
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

func countWord(n int) string {
	words := []string{"none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
	if n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
}

func upperFirst(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}
