package paper

import "strings"

// pageHead is what stands above the table on every page, set and measured.
type pageHead struct {
	title, date string
	trial       block
	cautions    []block
	notes       []block
	fields      []string
	height      float64
}

// Widths and distances of the head, mm.
const (
	pageWidth  = 34.0 // page x of y
	dateWidth  = 26.0
	titleHigh  = 8.0
	fieldsHigh = 10.0
	bullet     = 3.5 // indent of cautions
)

// prepare sets the head.
func (t table) prepare(d *document, width float64) pageHead {
	h := pageHead{title: t.title, date: t.head.Date.Format("2006-01-02"), fields: t.fields}
	room := width - d.width(titleType, t.title) - 5 - dateWidth - pageWidth
	h.trial = d.fit(t.head.Trial, room, titleHigh, trialType.size, leastSize, true)
	h.height = titleHigh + 1
	set := func(texts []string) (blocks []block) {
		for _, s := range texts {
			if s = clean(s); s == "" {
				continue
			}
			if runes := []rune(s); len(runes) > longestNote {
				s = string(runes[:longestNote]) + "…"
			}
			lines, _ := d.wrap(cautionType, s, width-2*padding-bullet)
			blocks = append(blocks, block{cautionType, lines, false})
		}
		return blocks
	}
	h.cautions, h.notes = set(t.head.Cautions), set(t.notes)
	if len(h.cautions) > 0 {
		h.height += heights(h.cautions) + 2*padding + 1
	}
	h.height += heights(h.notes)
	if len(h.fields) > 0 {
		h.height += fieldsHigh
	}
	h.height += 1.5
	return h
}

func heights(blocks []block) float64 {
	sum := 0.0
	for _, b := range blocks {
		sum += b.height()
	}
	return sum
}

// drawHead draws the head of a page.
func (t table) drawHead(d *document, h pageHead, page string) {
	width := d.size.Width - 2*margin
	y := margin
	d.line(titleType, h.title, margin, y, width, left)
	x := margin + d.width(titleType, h.title) + 5
	d.middle(h.trial, x, y, width, titleType.height(), left)
	number := typeface{10, false}
	shift := (titleType.height() - number.height()) / 2
	d.line(number, h.date, margin, y+shift, width-pageWidth, right)
	d.line(number, page, margin, y+shift, width, right)
	y += titleHigh + 1
	if len(h.cautions) > 0 {
		high := heights(h.cautions) + 2*padding
		d.box(margin, y, width, high, thick)
		y = d.bullets(h.cautions, margin+padding, y+padding) + padding + 1
	}
	y = d.bullets(h.notes, margin+padding, y)
	if len(h.fields) > 0 {
		d.toFill(h.fields, margin, y, width)
	}
}

// bullets writes cautions or notes and returns where they end.
func (d *document) bullets(blocks []block, x, y float64) float64 {
	for _, b := range blocks {
		d.line(b.typeface, "•", x, y, bullet, left)
		d.block(b, x+bullet, y, 0, left)
		y += b.height()
	}
	return y
}

// toFill writes words with lines behind them to be filled in by hand, all of one
// length.
func (d *document) toFill(fields []string, x, y, width float64) {
	words := 0.0
	for _, f := range fields {
		words += d.width(smallType, f) + 1
	}
	const gap = 4
	each := (width - words - gap*float64(len(fields)-1)) / float64(len(fields))
	foot := y + fieldsHigh - 1.5
	for _, f := range fields {
		f = strings.TrimSpace(f)
		w := d.width(smallType, f) + 1
		d.line(smallType, f, x, foot-smallType.height()+0.6, w, left)
		d.rule(x+w, foot, x+w+each, foot, thin)
		x += w + each + gap
	}
}
