package answer

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"bondtrial"
)

// bench is the readings in use, in an order that does not depend on the order of
// the file, with the cell of each.
type bench struct {
	readings []bondtrial.Reading
	used     []int // indices into readings
	cell     []int // of each used reading
	cells    []Cell
}

func arrange(readings []bondtrial.Reading, set Settings) *bench {
	b := &bench{readings: readings}
	for i, r := range readings {
		if r.SetAside == "" {
			b.used = append(b.used, i)
		}
	}
	slices.SortStableFunc(b.used, func(i, j int) int { return compareReadings(&readings[i], &readings[j], set.Factors) })
	for _, i := range b.used {
		r := &readings[i]
		n := len(b.cells)
		if n == 0 || !inCell(r, &b.cells[n-1], set.Factors) {
			b.cells = append(b.cells, newCell(r, set.Factors))
			n++
		}
		c := &b.cells[n-1]
		c.Readings = append(c.Readings, i)
		c.N++
		switch r.State(set.Threshold) {
		case bondtrial.WoodLimited:
			c.WoodLimited++
		case bondtrial.RigLimited:
			c.RigLimited++
		}
		b.cell = append(b.cell, n-1)
	}
	for k := range b.cells {
		c := &b.cells[k]
		c.OnlyAtLeast = c.WoodLimited+c.RigLimited == c.N
	}
	return b
}

// compareReadings orders by wood, factor levels and adhesive, so that a cell is a
// run of readings, then by everything else the model sees.
func compareReadings(a, b *bondtrial.Reading, factors []string) int {
	if c := strings.Compare(a.Wood, b.Wood); c != 0 {
		return c
	}
	for _, f := range factors {
		if c := strings.Compare(a.Factors[f], b.Factors[f]); c != 0 {
			return c
		}
	}
	return cmp.Or(
		strings.Compare(a.Adhesive, b.Adhesive),
		strings.Compare(a.Trial, b.Trial),
		strings.Compare(a.Session, b.Session),
		strings.Compare(a.Batch, b.Batch),
		strings.Compare(a.Board, b.Board),
		cmp.Compare(a.Strength, b.Strength),
		strings.Compare(a.Code, b.Code),
	)
}

func newCell(r *bondtrial.Reading, factors []string) Cell {
	c := Cell{Condition: Condition{Wood: r.Wood, Factors: map[string]string{}}, Adhesive: r.Adhesive}
	for _, f := range factors {
		c.Factors[f] = r.Factors[f]
	}
	return c
}

func inCell(r *bondtrial.Reading, c *Cell, factors []string) bool {
	for _, f := range factors {
		if r.Factors[f] != c.Factors[f] {
			return false
		}
	}
	return r.Wood == c.Wood && r.Adhesive == c.Adhesive
}

// broke is the number of readings in which the bond broke.
func (c *Cell) broke() int { return c.N - c.WoodLimited - c.RigLimited }

// Same reports whether two conditions are one.
func (c Condition) Same(d Condition) bool {
	return c.Wood == d.Wood && maps.Equal(c.Factors, d.Factors)
}

// counts of all readings.
func count(readings []bondtrial.Reading, threshold bondtrial.Percent) Counts {
	var n Counts
	for _, r := range readings {
		switch r.State(threshold) {
		case bondtrial.SetAside:
			n.SetAside++
			continue
		case bondtrial.WoodLimited:
			n.WoodLimited++
		case bondtrial.RigLimited:
			n.RigLimited++
		}
		n.Used++
	}
	return n
}

// TooLittle is the error of data that do not allow an answer. It says what is
// missing.
type TooLittle struct{ Missing string }

func (e *TooLittle) Error() string { return "the readings do not allow an answer: " + e.Missing }

// UnknownControl is the error of a control that was not broken.
type UnknownControl struct {
	Name      string
	Adhesives []string // that were
}

func (e *UnknownControl) Error() string {
	return fmt.Sprintf("the control %q is not among the adhesives that were broken: %s", e.Name, strings.Join(e.Adhesives, ", "))
}

// Enough returns the *TooLittle or *UnknownControl that Compute would return before
// it begins to work, or nil.
func Enough(readings []bondtrial.Reading, set Settings) error {
	return arrange(readings, set).checkEnough(set)
}

// checkEnough returns an error that says what is missing, or nil. With no cell
// that has two bond breaks of different strength nothing is known of the
// scatter, and no interval has an end.
func (b *bench) checkEnough(set Settings) error {
	if len(b.used) == 0 {
		return &TooLittle{"there is no reading that is not set aside"}
	}
	if err := b.checkControl(set); err != nil {
		return err
	}
	broke, most := 0, 0
	scatter := false
	for k := range b.cells {
		c := &b.cells[k]
		n := 0
		var first bondtrial.Megapascal
		for _, i := range c.Readings {
			if r := &b.readings[i]; r.State(set.Threshold) == bondtrial.BondBroke {
				if n == 0 {
					first = r.Strength
				} else if r.Strength != first {
					scatter = true
				}
				n++
			}
		}
		broke += n
		most = max(most, n)
	}
	switch {
	case broke == 0:
		return &TooLittle{fmt.Sprintf("in all %d readings the wood or the rig gave way first, so every bond is only at least as strong as its reading; "+
			"break specimens of a stronger wood or with a smaller bonded area", len(b.used))}
	case most < 2:
		return &TooLittle{fmt.Sprintf("no adhesive has two breaks of the bond on the same wood%s, so the scatter cannot be told; "+
			"break at least two more specimens of one of them", underFactors(set.Factors))}
	case !scatter:
		return &TooLittle{"all bond breaks of an adhesive have the same strength, so the scatter cannot be told; record the readings unrounded"}
	}
	return nil
}

func (b *bench) checkControl(set Settings) error {
	if set.Control == "" {
		return nil
	}
	var names []string
	for k := range b.cells {
		if b.cells[k].Adhesive == set.Control {
			return nil
		}
		if !slices.Contains(names, b.cells[k].Adhesive) {
			names = append(names, b.cells[k].Adhesive)
		}
	}
	slices.Sort(names)
	return &UnknownControl{set.Control, names}
}

func underFactors(factors []string) string {
	if len(factors) == 0 {
		return ""
	}
	return " at the same " + strings.Join(factors, ", ")
}

// logBounds are the bounds of each used reading on the log scale, by a rule that
// says what a reading tells.
func (b *bench) logBounds(of func(bondtrial.Reading) (bondtrial.Bound, bool)) (lo, hi []float64) {
	for _, i := range b.used {
		bd, _ := of(b.readings[i])
		lo = append(lo, math.Log(float64(bd.Lo)))
		hi = append(hi, math.Log(float64(bd.Hi)))
	}
	return lo, hi
}
