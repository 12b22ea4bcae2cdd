package figure

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
)

// strength writes a strength in the unit that is shown, without the unit.
func strength(u bondtrial.Units, v answer.Value) string {
	x := u.Stress(float64(v))
	switch a := math.Abs(x); {
	case a >= 99.95:
		return strconv.FormatFloat(x, 'f', 0, 64)
	case a >= 0.995:
		return strconv.FormatFloat(x, 'f', 1, 64)
	}
	return strconv.FormatFloat(x, 'f', 2, 64)
}

// ratio writes a ratio: two decimals, fewer where it is large, more where it is
// small.
func ratio(v answer.Value) string {
	switch x := float64(v); {
	case x >= 99.95:
		return strconv.FormatFloat(x, 'f', 0, 64)
	case x >= 9.995:
		return strconv.FormatFloat(x, 'f', 1, 64)
	case x >= 0.0995:
		return strconv.FormatFloat(x, 'f', 2, 64)
	default:
		return strconv.FormatFloat(x, 'g', 2, 64)
	}
}

// chance writes a probability. Nothing that readings say is impossible or
// certain, so it is never 0 or 100 %.
func chance(p float64) string {
	switch {
	case p < 0.01:
		return "<1 %"
	case p > 0.99:
		return ">99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// count says how many specimens a cell has, and how many of them are only lower
// bounds.
func count(c *answer.Cell) string {
	n := fmt.Sprintf("n %d", c.N)
	for _, l := range []struct {
		n    int
		what string
	}{{c.WoodLimited, "wood-limited"}, {c.RigLimited, "rig-limited"}} {
		switch l.n {
		case 0:
		case c.N:
			n += ", all " + l.what
		default:
			n += fmt.Sprintf(", %d %s", l.n, l.what)
		}
	}
	return n
}

// Conditions returns the conditions of an answer in the order of its cells.
func Conditions(a *answer.Answer) []answer.Condition {
	var out []answer.Condition
	for k := range a.Cells {
		c := a.Cells[k].Condition
		if !slices.ContainsFunc(out, func(d answer.Condition) bool { return sameCondition(c, d) }) {
			out = append(out, c)
		}
	}
	return out
}

func sameCondition(a, b answer.Condition) bool {
	return a.Wood == b.Wood && maps.Equal(a.Factors, b.Factors)
}

// heading names a condition in one line.
func heading(c answer.Condition) string { return clean(c.String()) }

// ranked returns the cells of a condition, strongest first; one that is only at
// least goes by its bound.
func ranked(a *answer.Answer, cond answer.Condition) []*answer.Cell {
	var cells []*answer.Cell
	for k := range a.Cells {
		if sameCondition(a.Cells[k].Condition, cond) {
			cells = append(cells, &a.Cells[k])
		}
	}
	slices.SortStableFunc(cells, func(c, d *answer.Cell) int {
		return cmp.Or(cmp.Compare(rank(d), rank(c)), strings.Compare(c.Adhesive, d.Adhesive))
	})
	return cells
}

// rank is what cells are ordered by; a cell with no number at all goes last.
func rank(c *answer.Cell) float64 {
	v := c.Typical
	if c.OnlyAtLeast {
		v = c.AtLeast
	}
	if !v.Exists() {
		return math.Inf(-1)
	}
	return float64(v)
}

// sentence joins parts to "a; b; c.".
func sentence(parts []string) string { return strings.Join(parts, "; ") + "." }
