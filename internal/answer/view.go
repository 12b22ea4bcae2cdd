package answer

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// Conditions returns the conditions of the trial in the order of its cells.
func (a *Answer) Conditions() []Condition {
	var out []Condition
	for k := range a.Cells {
		if c := a.Cells[k].Condition; !slices.ContainsFunc(out, c.Same) {
			out = append(out, c)
		}
	}
	return out
}

// In returns the cells of a condition, the strongest first; one that is only at
// least goes by its bound.
func (a *Answer) In(c Condition) []*Cell {
	var cells []*Cell
	for k := range a.Cells {
		if a.Cells[k].Same(c) {
			cells = append(cells, &a.Cells[k])
		}
	}
	slices.SortStableFunc(cells, func(c, d *Cell) int {
		return cmp.Or(cmp.Compare(d.standing(), c.standing()), strings.Compare(c.Adhesive, d.Adhesive))
	})
	return cells
}

// standing is what cells are ordered by; a cell with no number at all goes last.
func (c *Cell) standing() float64 {
	v := c.Typical
	if c.OnlyAtLeast {
		v = c.AtLeast
	}
	if !v.Exists() {
		return math.Inf(-1)
	}
	return float64(v)
}

// PairsIn returns the comparisons made in a condition, by the standing of the
// first adhesive and then of the second. Without a control the first is the one
// that stands higher; with one the second is the control.
func (a *Answer) PairsIn(c Condition) []Pair {
	place := make(map[string]int)
	for k, cell := range a.In(c) {
		place[cell.Adhesive] = k
	}
	var out []Pair
	for _, p := range a.Pairs {
		if !p.Same(c) {
			continue
		}
		if a.Settings.Control == "" && place[p.A] > place[p.B] {
			p = p.Reversed()
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(p, q Pair) int {
		return cmp.Or(cmp.Compare(place[p.A], place[q.A]), cmp.Compare(place[p.B], place[q.B]))
	})
	return out
}

// Pair returns the comparison of two cells, x over y; ok is false where it was not
// made.
func (a *Answer) Pair(x, y *Cell) (p Pair, ok bool) {
	for _, p := range a.Pairs {
		switch {
		case !p.Same(x.Condition):
		case p.A == x.Adhesive && p.B == y.Adhesive:
			return p, true
		case p.A == y.Adhesive && p.B == x.Adhesive:
			return p.Reversed(), true
		}
	}
	return Pair{}, false
}

// Chances returns the chances of being the strongest in a condition, the likeliest
// first.
func (a *Answer) Chances(c Condition) []Chance {
	var out []Chance
	for _, cell := range a.In(c) {
		for _, b := range a.Best {
			if b.Adhesive == cell.Adhesive && b.Same(c) {
				out = append(out, b)
			}
		}
	}
	slices.SortStableFunc(out, func(x, y Chance) int { return cmp.Compare(y.PBest, x.PBest) })
	return out
}
