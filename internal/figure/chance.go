package figure

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// chanceGroup is what is shown of one condition.
type chanceGroup struct {
	heading string
	leans   bool
	bars    []chanceBar
}

// chanceBar is one adhesive, the likeliest first, the stronger first of equals. Assumed says that its strength
// is only at least, so that its chance rests on what is assumed of it.
type chanceBar struct {
	adhesive string
	p        float64
	figure   string
	assumed  bool
}

// chanceGroups leaves out conditions with one adhesive only.
func chanceGroups(a *answer.Answer) []chanceGroup {
	var groups []chanceGroup
	for _, cond := range a.Conditions() {
		g := chanceGroup{heading: heading(cond)}
		for _, cell := range a.In(cond) {
			for _, c := range a.Best {
				if c.Adhesive == cell.Adhesive && c.Same(cond) {
					g.leans = g.leans || c.Leans
					g.bars = append(g.bars, chanceBar{c.Adhesive, c.PBest, show.Chance(answer.Value(c.PBest)), c.Leans && cell.OnlyAtLeast})
				}
			}
		}
		if len(g.bars) < 2 {
			continue
		}
		slices.SortStableFunc(g.bars, func(x, y chanceBar) int {
			return cmp.Compare(y.p, x.p)
		})
		groups = append(groups, g)
	}
	return groups
}

func chanceAlt(groups []chanceGroup) string {
	out := []string{"Chance that an adhesive is the strongest of those broken."}
	for _, g := range groups {
		var parts []string
		for _, b := range g.bars {
			s := clean(b.adhesive) + " " + b.figure
			if b.assumed {
				s += " (its strength is only at least)"
			}
			parts = append(parts, s)
		}
		out = append(out, fmt.Sprintf("On %s: %s", g.heading, sentence(parts)))
	}
	return strings.Join(out, " ")
}
