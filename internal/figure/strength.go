package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// strengthPanel is what is shown of one condition. Strengths are in the unit
// that is shown.
type strengthPanel struct {
	heading string
	wood    woodBar
	rows    []strengthRow
}

// woodBar is the wood's own strength; what does not exist is NaN.
type woodBar struct{ low, typical, high, handbook float64 }

// strengthRow is what is shown of one adhesive. Low, typical and high are NaN
// where the strength is only at least, and atLeast is elsewhere.
type strengthRow struct {
	adhesive           string
	count              string
	low, typical, high float64
	atLeast            float64
	specimens          []specimen
}

// specimen is one mark.
type specimen struct {
	at    float64
	state bondtrial.State
}

func strengthPanels(a *answer.Answer, u bondtrial.Units) []strengthPanel {
	scale := func(v answer.Value) float64 {
		if !v.Exists() {
			return math.NaN()
		}
		return u.Stress(float64(v))
	}
	var panels []strengthPanel
	for _, cond := range a.Conditions() {
		none := math.NaN()
		p := strengthPanel{heading: heading(cond), wood: woodBar{none, none, none, none}}
		if w := woodLimit(a, cond.Wood); w != nil {
			p.wood = woodBar{scale(w.Low), scale(w.Typical), scale(w.High), scale(w.Handbook)}
		}
		for _, c := range a.In(cond) {
			row := strengthRow{adhesive: c.Adhesive, count: count(c),
				low: scale(c.Low), typical: scale(c.Typical), high: scale(c.High), atLeast: scale(c.AtLeast)}
			if c.OnlyAtLeast {
				row.low, row.typical, row.high = none, none, none
			} else {
				row.atLeast = none
			}
			for _, i := range c.Readings {
				r := &a.Readings[i]
				row.specimens = append(row.specimens, specimen{u.Stress(float64(r.Strength)), r.State(a.Settings.Threshold)})
			}
			slices.SortStableFunc(row.specimens, func(s, t specimen) int {
				return cmp.Or(cmp.Compare(s.at, t.at), cmp.Compare(s.state, t.state))
			})
			row.specimens = thinned(row.specimens, mostMarks)
			p.rows = append(p.rows, row)
		}
		panels = append(panels, p)
	}
	return panels
}

// mostMarks is the number of specimens up to which every one has a mark; more
// would lie on each other and tell nothing.
const mostMarks = 120

// thinned returns at most n of the values, evenly from the first to the last.
func thinned[T any](x []T, n int) []T {
	if len(x) <= n {
		return x
	}
	t := make([]T, n)
	for i := range t {
		t[i] = x[i*(len(x)-1)/(n-1)]
	}
	return t
}

func woodLimit(a *answer.Answer, wood string) *answer.WoodLimit {
	for k := range a.WoodLimits {
		if a.WoodLimits[k].Wood == wood {
			return &a.WoodLimits[k]
		}
	}
	return nil
}

// strengthAlt says in words what the strengths are.
func strengthAlt(a *answer.Answer, u bondtrial.Units) string {
	var out []string
	for _, cond := range a.Conditions() {
		var parts []string
		for _, c := range a.In(cond) {
			parts = append(parts, fmt.Sprintf("%s %s (%s)", clean(c.Adhesive), strengthWords(c, u), count(c)))
		}
		if w := woodLimit(a, cond.Wood); w != nil {
			if w.Typical.Exists() {
				parts = append(parts, fmt.Sprintf("the wood's own strength %s, %s to %s", show.Strength(u, w.Typical), show.Strength(u, w.Low), show.Strength(u, w.High)))
			}
			if w.Handbook.Exists() {
				parts = append(parts, "handbook "+show.Strength(u, w.Handbook))
			}
		}
		out = append(out, fmt.Sprintf("On %s: %s", heading(cond), sentence(parts)))
	}
	return fmt.Sprintf("Nominal strength in %s, strongest adhesive first, typical value with its 95 %% range. %s", u.StressUnit(), strings.Join(out, " "))
}

func strengthWords(c *answer.Cell, u bondtrial.Units) string {
	switch {
	case c.OnlyAtLeast && c.AtLeast.Exists():
		return "at least " + show.Strength(u, c.AtLeast)
	case c.Typical.Exists():
		return fmt.Sprintf("%s, %s to %s", show.Strength(u, c.Typical), show.Strength(u, c.Low), show.Strength(u, c.High))
	}
	return "cannot be told"
}

// strengthScale returns where the axis of all panels ends: beyond every specimen
// and every middle, and beyond the ends of ranges unless one is so long that it
// would press the rest together; the wood's own range may go on beyond it. Length is that of the axis in px, tail what a
// range without an upper end needs, arrow what a lower bound needs.
func strengthScale(panels []strengthPanel, length, tail, arrow float64) float64 {
	core, ends, wood := 0.0, 0.0, 0.0
	reach := func(v, extra float64) {
		if !math.IsNaN(v) {
			core = max(core, v*length/(length-extra))
		}
	}
	for _, p := range panels {
		reach(p.wood.typical, 0)
		reach(p.wood.handbook, 2)
		wood = nanMax(wood, p.wood.high)
		for _, r := range p.rows {
			reach(r.typical, 2)
			reach(r.atLeast, tail)
			ends = nanMax(ends, r.high)
			for _, s := range r.specimens {
				reach(s.at, arrow)
			}
		}
	}
	if core == 0 {
		return 1
	}
	return max(core, min(1.02*ends, 1.4*core), min(1.02*wood, 1.15*core))
}

func nanMax(a, b float64) float64 {
	if math.IsNaN(b) {
		return a
	}
	return max(a, b)
}

// open reports whether the specimen is a lower bound.
func (s specimen) open() bool { return s.state != bondtrial.BondBroke }

// square reports whether it is one because of the rig.
func (s specimen) square() bool { return s.state == bondtrial.RigLimited }
