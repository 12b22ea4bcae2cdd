package figure

import (
	"fmt"
	"math"
	"strings"

	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// pairTable is what is shown of the comparisons in one condition.
type pairTable struct {
	adhesives []string // strongest first
	pairs     []answer.Pair
	control   string // compare with this adhesive only; empty: all pairs
}

// pairsIn returns the comparisons in a condition; ok is false where there are
// none.
func pairsIn(a *answer.Answer, cond answer.Condition) (t pairTable, ok bool) {
	t.control = a.Settings.Control
	for _, c := range a.In(cond) {
		t.adhesives = append(t.adhesives, c.Adhesive)
	}
	t.pairs = a.PairsIn(cond)
	return t, len(t.pairs) > 0
}

// find returns the comparison of a row's adhesive over a column's.
func (t *pairTable) find(row, column string) (answer.Pair, bool) {
	for _, p := range t.pairs {
		switch {
		case p.A == row && p.B == column:
			return p, true
		case p.A == column && p.B == row:
			return p.Reversed(), true
		}
	}
	return answer.Pair{}, false
}

// pairWords is how a comparison is written.
type pairWords struct {
	ratio    string // "1.31", or "≥ 1.12" where one side is only at least
	interval string // the interval behind the verdict, "1.04–1.65"; empty where an end does not exist
	verdict  string
	ground   role
}

func words(p answer.Pair) pairWords {
	w := pairWords{ratio: show.None}
	l, h := deciding(p)
	low, high := l.Exists(), h.Exists()
	switch {
	case p.Ratio.Exists():
		w.ratio = show.Ratio(p.Ratio)
	case low:
		w.ratio = "≥ " + show.Ratio(p.LowSim)
	case high:
		w.ratio = "≤ " + show.Ratio(p.HighSim)
	}
	if low && high {
		w.interval = show.Ends(l, h)
	}
	switch p.Verdict {
	case answer.Stronger:
		w.verdict, w.ground = "stronger", stronger
	case answer.Weaker:
		w.verdict, w.ground = "weaker", weaker
	case answer.Same:
		w.verdict, w.ground = "same", same
	case answer.AtLeast:
		w.verdict, w.ground = "at least", oneSided
		if !low {
			w.verdict = "at most"
		}
	default:
		w.verdict, w.ground = "not settled", unsettled
	}
	return w
}

// deciding returns the interval that the verdict rests on: the simultaneous one, or
// for "same" the single 90 % interval.
func deciding(p answer.Pair) (low, high answer.Value) {
	if p.Verdict == answer.Same {
		return p.Low90, p.High90
	}
	return p.LowSim, p.HighSim
}

// sense says in words what a comparison comes to.
func sense(p answer.Pair) string {
	w := words(p)
	between := ""
	switch {
	case p.LowSim.Exists() && p.HighSim.Exists():
		low, high := deciding(p)
		between = fmt.Sprintf("%s times (%s to %s)", w.ratio, show.Ratio(low), show.Ratio(high))
	case p.LowSim.Exists():
		between = fmt.Sprintf("at least %s times", show.Ratio(p.LowSim))
	case p.HighSim.Exists():
		between = fmt.Sprintf("at most %s times", show.Ratio(p.HighSim))
	default:
		between = "both are only at least"
	}
	a, b := clean(p.A), clean(p.B)
	switch p.Verdict {
	case answer.Stronger, answer.Weaker:
		return fmt.Sprintf("%s is %s than %s: %s", a, w.verdict, b, between)
	case answer.Same:
		return fmt.Sprintf("%s is the same as %s by the 90 %% interval: %s", a, b, between)
	case answer.AtLeast:
		return fmt.Sprintf("%s over %s: %s", a, b, between)
	}
	return fmt.Sprintf("%s over %s is not settled: %s", a, b, between)
}

func (t *pairTable) alt(cond answer.Condition) string {
	var parts []string
	for _, p := range t.pairs {
		parts = append(parts, sense(p))
	}
	return fmt.Sprintf("Ratios of typical strength on %s, with simultaneous 95 %% intervals. %s", heading(cond), sentence(parts))
}

// note says what the numbers are.
func (t *pairTable) note(a *answer.Answer, cond answer.Condition, square bool) string {
	number := fmt.Sprintf("the %d comparisons on %s", len(t.pairs), heading(cond))
	switch {
	case a.Settings.Family == answer.AllWoods:
		number = fmt.Sprintf("all %d comparisons of the trial", len(a.Pairs))
	case len(t.pairs) == 1:
		number = ""
	}
	interval := "the interval holds for " + number + " at once, at 95 %."
	if number == "" {
		interval = "the interval is at 95 %."
	}
	which := "Ratio of typical strengths; "
	if square {
		which = "Strength of the row's adhesive over the column's; "
	}
	return which + interval
}

// verdictMeaning explains the verdicts for the key.
func verdictMeaning(r role, margin float64) string {
	switch r {
	case stronger:
		return "stronger: interval above 1"
	case weaker:
		return "weaker: interval below 1"
	case same:
		return fmt.Sprintf("same: the pair's own 90 %% interval, shown here, lies within ±%.0f %%", 100*margin)
	case oneSided:
		return "at least, at most: one side has no upper end"
	}
	return "not settled: the readings do not decide it"
}

// ratioRange returns the ends of a logarithmic axis of ratios: around all middles
// and one-sided bounds and 1, and around the ends of intervals unless they lie far
// out.
func ratioRange(pairs []answer.Pair, margin float64) (low, high float64) {
	low, high = 1/(1+margin), 1+margin
	endLow, endHigh := low, high
	for _, p := range pairs {
		for _, v := range []answer.Value{p.Ratio, p.LowSim, p.HighSim} {
			if v.Exists() && (v == p.Ratio || !p.Ratio.Exists()) {
				low, high = min(low, float64(v)), max(high, float64(v))
			}
			if v.Exists() {
				endLow, endHigh = min(endLow, float64(v)), max(endHigh, float64(v))
			}
		}
	}
	const far = 1.8
	low, high = max(endLow, low/far), min(endHigh, high*far)
	around := math.Exp(0.04 * math.Log(high/low))
	return low / around, high * around
}

// grounds returns the verdicts that occur, each once, in the order of the roles.
func grounds(pairs []answer.Pair, both bool) []role {
	var has [roles]bool
	for _, p := range pairs {
		has[words(p).ground] = true
		if both {
			has[words(p.Reversed()).ground] = true
		}
	}
	var out []role
	for r, h := range has {
		if h {
			out = append(out, role(r))
		}
	}
	return out
}

// pairTitle is the title of the figure of a condition.
func pairTitle(cond answer.Condition, control string) string {
	s := "Ratios of strength"
	if control != "" {
		s = "Strength over " + clean(control)
	}
	if name := heading(cond); name != heading(answer.Condition{}) {
		s += " on " + name
	}
	return strings.TrimSpace(s)
}
