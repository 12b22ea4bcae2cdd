package figure

import (
	"strconv"

	"bondtrial/internal/answer"
)

// mostSquare is the number of adhesives up to which comparisons are drawn as a
// square.
const mostSquare = 12

// Pairs draws the comparisons in one condition: a square of ratios, row over
// column, or a list with a bar for each interval where there is a control, where
// there are too many adhesives for a square, or where the figure is narrow. It
// returns nil where the condition has nothing to compare.
func Pairs(a *answer.Answer, cond answer.Condition, s Style) *Figure {
	t, ok := pairsIn(a, cond)
	if !ok {
		return nil
	}
	title := pairTitle(cond, t.control)
	b := newSheet(s, title)
	square, isSquare := newPairSquare(b, &t)
	var items []keyItem
	if isSquare {
		square.put()
	} else {
		l := newPairList(b, &t, a.Settings.Margin)
		l.put()
		items = l.barKey()
	}
	b.y += 0.6 * b.unit
	b.key(append(items, b.verdictKey(&t, a.Settings.Margin, isSquare)...))
	b.note(t.note(a, cond, isSquare))
	return b.finish(title, t.alt(cond))
}

func (b *sheet) verdictKey(t *pairTable, margin float64, isSquare bool) []keyItem {
	var items []keyItem
	for _, r := range grounds(t.pairs, isSquare) {
		items = append(items, b.swatch(r, verdictMeaning(r, margin)))
	}
	return items
}

func (b *sheet) swatch(r role, text string) keyItem {
	u := b.unit
	return keyItem{1.4 * u, func(p *pen, x, y float64) { p.rect(r, 1, x, y-0.5*u, x+1.4*u, y+0.5*u) }, text}
}

// pairSquare is a square of ratios.
type pairSquare struct {
	*sheet
	t              *pairTable
	cell, strong   typeface
	side           map[string][]string // names beside the rows
	above          map[string][]string // names above the columns; nil: numbers
	label, w, high float64             // widths of the names and of a column, height of a cell
}

// newPairSquare returns ok false where a square is not wanted or does not fit.
func newPairSquare(b *sheet, t *pairTable) (q *pairSquare, ok bool) {
	n := len(t.adhesives)
	if t.control != "" || n > mostSquare || b.narrow() && n > 4 {
		return nil, false
	}
	q = &pairSquare{sheet: b, t: t}
	most := 0.24 * b.width
	if n > 8 {
		most = 0.13 * b.width
	}
	q.side = b.bold.labels(t.adhesives, most, 2)
	for _, lines := range q.side {
		q.label = max(q.label, b.bold.widest(lines))
	}
	q.label += 0.8 * b.unit
	q.w = min((b.right()-b.left()-q.label)/float64(n), 9.5*b.unit)
	q.aboveNames()
	if q.above == nil {
		number := b.bold.width(strconv.Itoa(n)) + 0.5*b.unit
		q.label += number
		q.w = min((b.right()-b.left()-q.label)/float64(n), 9.5*b.unit)
	}
	return q, q.fit()
}

// aboveNames puts names above the columns if they fit there in full.
func (q *pairSquare) aboveNames() {
	above := make(map[string][]string)
	for _, name := range q.t.adhesives {
		lines := q.bold.wrap(clean(name), q.w-6)
		for _, word := range lines {
			if len(lines) > 2 || q.bold.width(word) > q.w-6 {
				return
			}
		}
		if len(lines) == 2 && q.bold.width(clean(name)) > 1.9*q.w {
			return
		}
		above[name] = lines
	}
	q.above = above
}

// fit finds the largest text with which every cell has room for its lines.
func (q *pairSquare) fit() bool {
	least := 10.5
	if q.narrow() {
		least = 11
	}
	for size := q.unit; size >= least; size -= 0.25 {
		q.cell, q.strong = typeface{size: size}, typeface{size: size, bold: true}
		widest := q.cell.width("not settled")
		for _, p := range q.t.pairs {
			for _, w := range []pairWords{words(p), words(p.Reversed())} {
				widest = max(widest, q.cell.width(w.interval), q.strong.width(w.ratio))
			}
		}
		if widest <= q.w-3.5 {
			q.high = 3*q.cell.leading() + 0.9*q.unit
			return true
		}
	}
	return false
}

func (q *pairSquare) x(column int) float64 { return q.left() + q.label + float64(column)*q.w }

func (q *pairSquare) put() {
	names := q.t.adhesives
	top := q.y
	lines := 1
	for _, l := range q.above {
		lines = max(lines, len(l))
	}
	q.y += float64(lines)*q.bold.leading() + 0.5*q.unit
	first := q.y
	q.draw(func(p *pen) {
		foot := first - 0.5*q.unit - q.bold.leading()/2 + q.bold.middle()
		if q.label >= q.small.width("row over column") {
			p.text(muted, q.small, q.left(), foot, left, "row over column")
		}
		for c, name := range names {
			head := []string{strconv.Itoa(c + 1)}
			if q.above != nil {
				head = q.above[name]
			}
			p.lines(ink, q.bold, q.x(c)+q.w/2, (top+first-0.5*q.unit)/2, centre, head)
		}
		for r, name := range names {
			y := first + (float64(r)+0.5)*q.high
			x := q.left()
			if q.above == nil {
				p.lines(ink, q.bold, x, y, left, []string{strconv.Itoa(r + 1)})
				x += q.bold.width(strconv.Itoa(len(names))) + 0.5*q.unit
			}
			p.lines(ink, q.bold, x, y, left, q.side[name])
		}
		q.cells(p, first)
	})
	q.y = first + float64(len(names))*q.high
}

// cells draws the square from y on: the grounds, then what stands on them.
func (q *pairSquare) cells(p *pen, y float64) {
	type cell struct {
		pairWords
		x, y float64
	}
	var cells []cell
	for r, name := range q.t.adhesives {
		for c, other := range q.t.adhesives {
			if pair, ok := q.t.find(name, other); ok {
				cells = append(cells, cell{words(pair), q.x(c), y + float64(r)*q.high})
			}
		}
	}
	const gap = 1
	for _, c := range cells {
		p.rect(c.ground, 1, c.x+gap, c.y+gap, c.x+q.w-gap, c.y+q.high-gap)
	}
	write := func(t typeface, c cell, line float64, s string) {
		p.lines(ink, t, c.x+q.w/2, c.y+q.high/2+line*q.cell.leading(), centre, []string{s})
	}
	for _, c := range cells {
		if c.interval == "" {
			write(q.strong, c, -0.5, c.ratio)
		} else {
			write(q.strong, c, -1, c.ratio)
		}
	}
	for _, c := range cells {
		if c.interval == "" {
			write(q.cell, c, 0.5, c.verdict)
		} else {
			write(q.cell, c, 0, c.interval)
			write(q.cell, c, 1, c.verdict)
		}
	}
}
