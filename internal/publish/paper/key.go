package paper

import (
	"fmt"
	"io"
)

// Key says which blind name is which adhesive.
type Key struct {
	Paper   Size
	Head    Head // its cautions are not printed: nothing is handled by this sheet
	Entries []KeyEntry
}

// KeyEntry is one adhesive.
type KeyEntry struct{ Blind, Adhesive string }

// Measures of the key, mm.
const (
	keyRow   = 7.0
	keyTitle = 8.0
	keyEdge  = 6.0 // from a fold to what is printed
)

// WriteKey writes the key as PDF, to be folded and stapled until the last break is
// written down. The sheet is in thirds, with dashed lines to fold at: the upper
// third ends up outside and says what this is and how to fold it, the middle
// holds the key, and the lower third is folded over it, printed with letters that
// keep it from shining through. More entries than a third holds take more pages.
//
// No entries, and an entry or blind name that is empty or there twice, are errors.
func WriteKey(w io.Writer, in Key) error {
	if err := checkSheet("key", in.Paper, len(in.Entries)); err != nil {
		return err
	}
	seen := make(map[string]bool)
	for i, e := range in.Entries {
		name := clean(e.Blind)
		switch {
		case name == "" || clean(e.Adhesive) == "":
			return fmt.Errorf("key: entry %d (%q is %q) lacks a name", i+1, e.Blind, e.Adhesive)
		case seen[name]:
			return fmt.Errorf("key: two adhesives have the blind name %s", name)
		}
		seen[name] = true
	}
	d := newDocument(in.Paper, "Key: "+in.Head.Trial, in.Head.Date)
	third := in.Paper.Height / 3
	perColumn := int((third - 2*keyEdge - keyTitle) / keyRow)
	columns := 1
	if len(in.Entries) > perColumn {
		columns = 2
	}
	perPage := perColumn * columns
	pages := (len(in.Entries) + perPage - 1) / perPage
	var names []string
	for _, e := range in.Entries {
		names = append(names, e.Adhesive)
	}
	width := (in.Paper.Width - 2*margin) / float64(columns)
	adhesives := d.unlike(names, func(s string) block {
		return d.fit(s, width-keyLetter-3*padding, keyRow-0.6, 11, leastSize, false)
	})
	for n := range pages {
		d.page()
		in.outside(d, third, fmt.Sprintf("page %d of %d", n+1, pages))
		d.fold(third, "2. Fold back here, so that the text above stays outside.")
		d.fold(2*third, "1. Fold up here, over the key.")
		d.line(typeface{12, true}, "Which blind name is which adhesive", margin, third+keyEdge, width, left)
		for i, e := range in.Entries[n*perPage : min((n+1)*perPage, len(in.Entries))] {
			x := margin + float64(i/perColumn)*width
			y := third + keyEdge + keyTitle + float64(i%perColumn)*keyRow
			d.middle(d.fit(e.Blind, keyLetter-padding, keyRow, 13, leastSize, true), x+padding, y, keyLetter, keyRow, left)
			d.middle(adhesives[e.Adhesive], x+keyLetter+padding, y, width, keyRow, left)
			d.rule(x, y+keyRow, x+width-padding, y+keyRow, thin)
		}
		d.line(typeface{7, false}, "These letters mean nothing: they keep the key from shining through.", margin, 2*third+0.6, width, left)
		d.cover(2*third+keyEdge+3, third-keyEdge-3-margin)
	}
	return d.write(w)
}

// keyLetter is the width of a blind name in the key, mm.
const keyLetter = 22.0

// outside prints what stays readable when the sheet is folded.
func (in Key) outside(d *document, height float64, page string) {
	width := in.Paper.Width - 2*margin
	y := margin
	d.line(titleType, "Sealed key to the blind adhesives", margin, y, width, left)
	number := typeface{10, false}
	d.line(number, page, margin, y+(titleType.height()-number.height())/2, width, right)
	y += 9
	trial := d.fit(in.Head.Trial, width, 11, 12, leastSize, true)
	d.block(trial, margin, y, width, left)
	y += max(trial.height(), 5) + 1
	t := typeface{10, false}
	for _, s := range []string{
		in.Head.Date.Format("2006-01-02"),
		"Do not open before the last break is written down.",
		"Fold twice at the dashed lines, the lower one first, and staple. Give it to somebody who does not break.",
		"The codes on the labels stay as they are: opening the key changes no reading.",
	} {
		lines, _ := d.wrap(t, s, width)
		d.block(block{t, lines, false}, margin, y, width, left)
		y += block{t, lines, false}.height() + 1
	}
	d.toFill([]string{"Sealed by", "Opened on", "Opened by"}, margin, height-keyEdge-fieldsHigh, width)
}

// fold draws a line to fold at and says what to do there.
func (d *document) fold(y float64, words string) {
	d.dashes(margin, y, d.size.Width-margin, y)
	d.line(typeface{7, false}, words, margin, y+0.6, d.size.Width-2*margin, right)
}

// cover fills a part of the page with letters that mean nothing, as dense as the
// key's own, twice over. They are the same every time.
func (d *document) cover(y, height float64) {
	const letters = "HEXKTMZAVWNLSRPGBDUCFJQY"
	t := typeface{11, true}
	width := d.size.Width - 2*margin
	pick := uint32(1)
	for layer := range 2 {
		step := 0.75 * t.height()
		for row := 0; float64(row)*step+t.height()+1 < height; row++ {
			s := ""
			for {
				// A linear congruential sequence, modulus 2³² (constants of Numerical
				// Recipes, from memory; any would do).
				pick = pick*1664525 + 1013904223
				next := s + letters[pick>>16%uint32(len(letters)):][:1]
				if d.width(t, next) > width-1 {
					break
				}
				s = next
			}
			d.line(t, s, margin+float64(layer)*0.9, y+float64(row)*step+float64(layer)*1, width, left)
		}
	}
}
