package publish

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

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
		s += " " + upperFirst(show.List(never)) + " nowhere: wherever broken, another is shown to be stronger."
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
	them := "them"
	if t.unbeaten == conditions {
		them = fmt.Sprintf("the %s %s", show.Count(conditions), w.kinds())
	}
	switch {
	case t.won == 0:
	case t.won == t.unbeaten && t.won > 1:
		s += " (shown to be the strongest on each)"
	case t.won == t.unbeaten:
		s += " (shown to be the strongest there)"
	default:
		s += fmt.Sprintf(" (shown to be the strongest on %s of %s)", show.Count(t.won), them)
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
