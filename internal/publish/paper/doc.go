// Package paper prints what a trial needs beside the bench, as PDF: labels for
// specimens, the sheet that is glued up by, the sheet that is broken by, and the
// sealed key to blind names.
//
// It knows nothing of how a trial is planned: what to print is handed in as plain
// structs, in the order in which it is to stand. Lengths are mm, times are shown
// on the clock of the time.Time handed in. Text may be any Unicode that the
// embedded Liberation Sans has (Latin, Greek, Cyrillic and Hebrew, the last not
// set from right to left); for another character an empty box is printed. Text is
// shrunk and wrapped to fit its place; what still does not fit is left out in its
// middle, with … in its place.
//
// The same input gives the same bytes. Bytes may differ between versions of Go,
// which compresses, and of the PDF library, never between machines.
package paper

import (
	"time"
)

// Size is a size of paper, upright, mm.
type Size struct{ Width, Height float64 }

// A4 (ISO 216) and US letter (8½ × 11 in).
var (
	A4       = Size{210, 297}
	USLetter = Size{215.9, 279.4}
)

// across is the paper turned to lie.
func (s Size) across() Size { return Size{s.Height, s.Width} }

// Head is what stands on every page of a sheet.
type Head struct {
	Trial string
	// Date of the plan. It is printed, and is the date of the PDF as well: no clock
	// is read. The zero time is a caller's mistake and panics.
	Date time.Time
	// Cautions are printed in full on every page.
	Cautions []string
}

const zeroDate = "paper: the date is zero"
