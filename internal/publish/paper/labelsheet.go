package paper

import (
	"fmt"
)

// LabelSheet is paper with labels in rows and columns, all of one size, mm. The
// label's own size is what margins and gaps leave.
type LabelSheet struct {
	Paper                    Size
	Rows, Columns            int
	Left, Right, Top, Bottom float64 // from the edge of the paper to the first and last label
	GapX, GapY               float64 // between labels side by side, and one above the other
}

// Common layouts, named by their measures (common practice, no source). Measure
// the sheet at hand before printing on it.
var (
	// A4, 3 × 8 of 70 × 37 mm: no side margins, no gaps.
	A4Labels3x8 = LabelSheet{Paper: A4, Columns: 3, Rows: 8, Top: 0.5, Bottom: 0.5}
	// A4, 4 × 10 of 52.5 × 29.7 mm: no margins, no gaps.
	A4Labels4x10 = LabelSheet{Paper: A4, Columns: 4, Rows: 10}
	// A4, 5 × 13 of 38.1 × 21.2 mm, 2.5 mm between columns.
	A4Labels5x13 = LabelSheet{Paper: A4, Columns: 5, Rows: 13, Left: 4.75, Right: 4.75, Top: 10.7, Bottom: 10.7, GapX: 2.5}
	// US letter, 3 × 10 of 2⅝ × 1 in (66.7 × 25.4 mm), ⅛ in between columns.
	LetterLabels3x10 = LabelSheet{Paper: USLetter, Columns: 3, Rows: 10, Left: 4.7625, Right: 4.7625, Top: 12.7, Bottom: 12.7, GapX: 3.175}
)

// PerSheet is the number of labels on a sheet.
func (s LabelSheet) PerSheet() int { return s.Rows * s.Columns }

// label is the size of a label.
func (s LabelSheet) label() (width, height float64) {
	width = (s.Paper.Width - s.Left - s.Right - float64(s.Columns-1)*s.GapX) / float64(s.Columns)
	height = (s.Paper.Height - s.Top - s.Bottom - float64(s.Rows-1)*s.GapY) / float64(s.Rows)
	return width, height
}

// rect is a place on the page, mm.
type rect struct{ x, y, width, height float64 }

// place is where the label at position i of a sheet lies, from 0, row by row.
func (s LabelSheet) place(i int) rect {
	w, h := s.label()
	return rect{s.Left + float64(i%s.Columns)*(w+s.GapX), s.Top + float64(i/s.Columns)*(h+s.GapY), w, h}
}

const (
	// inset keeps print off the edge of a label: sheets are fed a little askew
	// (common practice, no source).
	inset = 2.0
	// unprintable is the border of the paper that many printers leave white
	// (common practice, no source).
	unprintable = 5.0
)

// content is what of a label at position i may be printed on. It is the same part
// of every label, so that all look alike.
func (s LabelSheet) content(i int) rect {
	r := s.place(i)
	l, t := max(inset, unprintable-s.Left), max(inset, unprintable-s.Top)
	return rect{r.x + l, r.y + t, r.width - l - max(inset, unprintable-s.Right), r.height - t - max(inset, unprintable-s.Bottom)}
}

// The least that a label must have room for inside its border, mm: a QR code of
// 29 modules of 0.35 mm, and beside it text of some width.
const (
	leastModule    = 0.35
	leastTextWidth = 14.0
)

// check returns an error when the measures cannot be those of a sheet of labels.
func (s LabelSheet) check() error {
	for _, m := range []struct {
		name string
		v    float64
	}{{"left margin", s.Left}, {"right margin", s.Right}, {"top margin", s.Top}, {"bottom margin", s.Bottom}, {"gap between columns", s.GapX}, {"gap between rows", s.GapY}} {
		if !(m.v >= 0 && m.v < 1000) {
			return fmt.Errorf("sheet of labels: the %s is %g mm, and must be 0 or more", m.name, m.v)
		}
	}
	if !(s.Paper.Width >= 50 && s.Paper.Width <= 1000 && s.Paper.Height >= 50 && s.Paper.Height <= 1000) {
		return fmt.Errorf("sheet of labels: paper of %g × %g mm; its sides must be from 50 to 1000 mm", s.Paper.Width, s.Paper.Height)
	}
	if s.Rows < 1 || s.Columns < 1 || s.Rows > 100 || s.Columns > 100 {
		return fmt.Errorf("sheet of labels: %d rows and %d columns; there must be from 1 to 100 of each", s.Rows, s.Columns)
	}
	return nil
}
