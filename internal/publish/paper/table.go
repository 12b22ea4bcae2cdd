package paper

import (
	"fmt"
	"strings"
)

// column is a column of a table: text, a box to tick, or room to write.
type column struct {
	head string
	// least and most are the limits of the width, mm. Text columns are as wide as
	// their text between the two; others begin at least.
	least, most float64
	grow        float64 // share of the width that is left over
	kind        columnKind
	bold        bool
	align       align
	unlike      bool // texts that differ must not look the same
}

type columnKind int

const (
	text columnKind = iota
	tick
	blank
)

// row is a row of a table: texts of the columns that show text, in their order,
// and the group it is in, which is named above the first row of the group and at
// the top of each page.
type row struct {
	group string
	cells []string
}

// table is a sheet to work by: a head on every page, and rows in pencil height.
type table struct {
	title  string
	head   Head
	notes  []string // below the cautions
	fields []string // to be filled in by hand, a line for each page
	cols   []column
	rows   []row
}

// Measures of a sheet, mm and points.
const (
	margin    = 12.0
	rowHeight = 8.5 // a pencil needs 7
	bandHigh  = 6.0
	headHigh  = 10.5
	padding   = 1.2
	cellSize  = 9.5
	leastSize = 5.5
	tickSide  = 4.5
)

var (
	titleType   = typeface{15, true}
	trialType   = typeface{11, true}
	smallType   = typeface{8, false}
	cautionType = typeface{8.5, false}
	columnType  = typeface{7.5, true}
	bandType    = typeface{9, true}
)

// longestNote is where a caution or note ends: no text of a reasonable length is
// cut, and no sheet is filled by one.
const longestNote = 1500

// widestHead is how wide a column may get for the sake of a long word in its head.
const widestHead = 40.0

// leastWidth is what a column needs for the words of its head.
func (c column) leastWidth(d *document) float64 {
	w := c.least
	for _, word := range strings.Fields(c.head) {
		w = max(w, min(widestHead, d.width(columnType, word)+2*padding+0.1))
	}
	return w
}

// layout returns the widths of the columns, which fill the width given.
func (t table) layout(d *document, width float64) []float64 {
	widths := make([]float64, len(t.cols))
	sum, grow, slack, cell := 0.0, 0.0, 0.0, 0
	for i, c := range t.cols {
		w := c.leastWidth(d)
		if c.kind == text {
			least := w
			for _, r := range t.rows {
				w = max(w, d.width(typeface{cellSize, c.bold}, clean(r.cells[cell]))+2*padding)
			}
			cell++
			w = min(w, max(least, c.most))
			slack += w - least
		}
		widths[i] = w
		sum += w
		grow += c.grow
	}
	switch over := sum - width; {
	case over > slack+1e-9:
		panic("paper: the columns do not fit the page")
	case over > 0:
		t.squeeze(d, widths, over/slack)
	default:
		for i, c := range t.cols {
			widths[i] -= over * c.grow / grow
		}
	}
	return widths
}

// squeeze takes a share of what the text columns have over their least width.
func (t table) squeeze(d *document, widths []float64, share float64) {
	for i, c := range t.cols {
		if c.kind != text {
			continue
		}
		widths[i] -= share * (widths[i] - c.leastWidth(d))
	}
}

// item is what stands at a height of a page: a row or the name of a group.
type item struct {
	row  int // -1: the name of a group
	band string
}

// paginate spreads rows over pages of the height given. A group's name never
// stands last on a page, and is repeated on the next page with "continued".
func (t table) paginate(height float64) [][]item {
	var pages [][]item
	var page []item
	used := 0.0
	for i, r := range t.rows {
		opens := r.group != "" && (i == 0 || r.group != t.rows[i-1].group)
		need := rowHeight
		if opens {
			need += bandHigh
		}
		if used+need > height+1e-9 && page != nil {
			pages, page, used = append(pages, page), nil, 0
		}
		switch {
		case opens:
			page = append(page, item{-1, r.group})
			used += bandHigh
		case page == nil && r.group != "":
			page = append(page, item{-1, r.group + " (continued)"})
			used += bandHigh
		}
		page = append(page, item{i, ""})
		used += rowHeight
	}
	return append(pages, page)
}

// draw makes the pages. An error says when cautions and notes leave no room.
func (t table) draw(d *document) error {
	width := d.size.Width - 2*margin
	widths := t.layout(d, width)
	cells := t.fitCells(d, widths)
	head := t.prepare(d, width)
	top := margin + head.height
	room := d.size.Height - margin - top - headHigh
	if room < bandHigh+rowHeight {
		return fmt.Errorf("%s: cautions and notes leave no room for rows; shorten them by %.0f mm", t.title, bandHigh+rowHeight-room)
	}
	pages := t.paginate(room)
	for n, page := range pages {
		d.page()
		t.drawHead(d, head, fmt.Sprintf("page %d of %d", n+1, len(pages)))
		t.drawColumns(d, widths, top)
		y := top + headHigh
		for _, it := range page {
			if it.row < 0 {
				d.box(margin, y, width, bandHigh, thin)
				d.middle(d.fit(it.band, width-2*padding, bandHigh, bandType.size, leastSize, true), margin+padding, y, width, bandHigh, left)
				y += bandHigh
				continue
			}
			t.drawRow(d, widths, cells[it.row], y)
			y += rowHeight
		}
		d.box(margin, top, width, y-top, thick)
	}
	return nil
}

// fitCells fits the texts of all rows into their columns.
func (t table) fitCells(d *document, widths []float64) [][]block {
	blocks := make([][]block, len(t.rows))
	cell := 0
	for i, c := range t.cols {
		if c.kind != text {
			continue
		}
		fit := func(s string) block {
			return d.fit(s, widths[i]-2*padding, rowHeight-0.6, cellSize, leastSize, c.bold)
		}
		var all map[string]block
		if c.unlike {
			var texts []string
			for _, r := range t.rows {
				texts = append(texts, r.cells[cell])
			}
			all = d.unlike(texts, fit)
		}
		for j, r := range t.rows {
			b, done := all[r.cells[cell]]
			if !done {
				b = fit(r.cells[cell])
			}
			blocks[j] = append(blocks[j], b)
		}
		cell++
	}
	return blocks
}

func (t table) drawRow(d *document, widths []float64, cells []block, y float64) {
	x := margin
	for i, c := range t.cols {
		switch c.kind {
		case text:
			d.middle(cells[0], x+padding, y, widths[i]-2*padding, rowHeight, c.align)
			cells = cells[1:]
		case tick:
			d.box(x+(widths[i]-tickSide)/2, y+(rowHeight-tickSide)/2, tickSide, tickSide, 0.25)
		}
		if i > 0 {
			d.rule(x, y, x, y+rowHeight, thin)
		}
		x += widths[i]
	}
	d.rule(margin, y+rowHeight, x, y+rowHeight, thin)
}

// drawColumns writes the heads of the columns.
func (t table) drawColumns(d *document, widths []float64, y float64) {
	x := margin
	for i, c := range t.cols {
		a := c.align
		if c.kind == tick {
			a = centre
		}
		b := d.fit(c.head, widths[i]-2*padding, headHigh-0.8, columnType.size, leastSize, true)
		d.middle(b, x+padding, y, widths[i]-2*padding, headHigh, a)
		if i > 0 {
			d.rule(x, y, x, y+headHigh, thin)
		}
		x += widths[i]
	}
	d.rule(margin, y+headHigh, x, y+headHigh, thick)
}
