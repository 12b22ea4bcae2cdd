package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// Strength draws the strength of every adhesive in every condition: each specimen
// as a mark, the typical strength with its 95 % range, the wood's own strength and
// the handbook's behind. It returns nil where the answer has no cells.
func Strength(a *answer.Answer, s Style) *Figure {
	panels := strengthPanels(a, s.Units)
	if len(panels) == 0 {
		return nil
	}
	const title = "Strength of the adhesives"
	b := newSheet(s, title)
	l := newStrengthLayout(b, panels)
	for k := range panels {
		if k > 0 {
			b.y += 1.1 * b.unit
		}
		l.panel(&panels[k], len(panels) > 1 || a.Cells[0].String() != (answer.Condition{}).String())
	}
	b.y += 0.9 * b.unit
	b.key(l.key(panels))
	b.note(strengthNote(a, s.Units))
	return b.finish(title, strengthAlt(a, s.Units))
}

func strengthNote(a *answer.Answer, u bondtrial.Units) string {
	s := "Nominal strength in " + u.StressUnit() + "; n: specimens."
	switch a.Counts.SetAside {
	case 0:
	case 1:
		s += " One specimen was set aside and is not shown."
	default:
		s += " " + strconv.Itoa(a.Counts.SetAside) + " specimens were set aside and are not shown."
	}
	for k := range a.Cells {
		if a.Cells[k].N > mostMarks {
			s += fmt.Sprintf(" Of more than %d specimens in a row %d have marks, evenly from the weakest to the strongest.", mostMarks, mostMarks)
			break
		}
	}
	return s
}

// strengthLayout is what the panels share.
type strengthLayout struct {
	*sheet
	labels map[string][]string // of adhesives
	x0, x1 float64             // ends of the axis
	high   float64             // strength at its right end
	ticks  []tick
	rightW float64 // width of the counts, where they stand beside the data
	tail   float64
}

func newStrengthLayout(b *sheet, panels []strengthPanel) *strengthLayout {
	l := &strengthLayout{sheet: b, x0: b.left() + 2, x1: b.right() - 2, tail: 4.6 * b.unit}
	var names, counts []string
	for _, p := range panels {
		for _, r := range p.rows {
			names = append(names, r.adhesive)
			counts = append(counts, r.count, l.rangeTo(&r)) // should the range have to be cut
		}
	}
	if b.narrow() {
		l.tail = 3.4 * b.unit
		l.labels = b.bold.labels(names, b.right()-b.left()-min(b.small.widest(counts), 0.45*b.width)-b.unit, 2)
	} else {
		l.labels = b.bold.labels(names, 0.25*b.width, 2)
		widest := 0.0
		for _, lines := range l.labels {
			widest = max(widest, b.bold.widest(lines))
		}
		for _, c := range counts {
			l.rightW = max(l.rightW, min(b.small.width(c), 0.17*b.width))
		}
		l.x0 = b.left() + widest + 1.1*b.unit
		l.x1 = b.right() - l.rightW - 1.1*b.unit
	}
	length := l.x1 - l.x0
	l.high = strengthScale(panels, length, l.tail+4, b.radius()+b.arrow()+3)
	l.ticks = linearTicks(l.high, int(length/(4.4*b.unit)))
	return l
}

func (l *strengthLayout) x(v float64) float64 { return l.x0 + (l.x1-l.x0)*min(v/l.high, 1) }

// panel puts one condition.
func (l *strengthLayout) panel(p *strengthPanel, named bool) {
	if named {
		l.heading(typeface{size: 1.08 * l.unit, bold: true}, p.heading)
		l.y += 0.25 * l.unit
	}
	l.woodLabels(p.wood)
	top := l.y
	var rows []placedRow
	for k := range p.rows {
		r := l.row(&p.rows[k], l.y)
		rows = append(rows, r)
		l.y = r.bottom
	}
	l.draw(func(pen *pen) {
		l.ground(pen, p.wood, rows)
		l.ticksAbove(pen, p.wood, top)
		l.bars(pen, rows)
		var marks []placed
		for _, r := range rows {
			marks = append(marks, r.marks...)
		}
		l.marks(pen, marks, 1, 0)
		l.rowTexts(pen, rows)
	})
	l.axis(l.y)
}

// placedRow is a row with its place: from top to bottom, the data from data on.
type placedRow struct {
	*strengthRow
	top, data, bottom float64
	marks             []placed
	bar               float64
}

// row places a row that begins at y. Where the sheet is narrow the label stands
// above the data.
func (l *strengthLayout) row(r *strengthRow, y float64) placedRow {
	out := placedRow{strengthRow: r, top: y, data: y}
	pad := 0.5 * l.unit
	text := max(float64(len(l.labels[r.adhesive]))*l.bold.leading(), float64(len(l.countLines(r)))*l.small.leading())
	if l.narrow() {
		pad = 0.35 * l.unit
		out.data += text + 0.3*l.unit
	}
	radius := l.radius()
	spots := make([]spot, len(r.specimens))
	for k, s := range r.specimens {
		at := l.x(s.at)
		spots[k] = spot{at - radius, at + radius + 0.5}
		if s.open() {
			spots[k].to += l.arrow()
		}
	}
	lane, used := lanes(spots)
	pitch := 2*radius + 1
	if most := 8 * pitch; float64(used-1)*pitch > most {
		pitch = most / float64(used-1) // so many equal specimens lie over each other
	}
	up, down := float64(used/2)*pitch, float64(max(used-1, 0)/2)*pitch
	middle := out.data + pad + up + radius
	out.bar = middle + down + radius + 0.36*l.unit + l.tickHalf()
	out.bottom = out.bar + l.tickHalf() + pad
	if lack := text + pad - (out.bottom - out.data); lack > 0 && !l.narrow() {
		middle, out.bar, out.bottom = middle+lack/2, out.bar+lack/2, out.bottom+lack
	}
	for k := range spots {
		s := r.specimens[k]
		out.marks = append(out.marks, placed{s, point{l.x(s.at), middle + aside(lane[k])*pitch}})
	}
	return out
}

// countLines is what stands at the end of a row.
func (l *strengthLayout) countLines(r *strengthRow) []string {
	s := r.count
	if r.high > l.high {
		s += ", " + l.rangeTo(r)
	}
	s = strings.ReplaceAll(s, " wood-", "\u00a0wood-")
	s = strings.ReplaceAll(s, " rig-", "\u00a0rig-")
	if l.narrow() {
		return l.small.wrap(s, 0.45*l.width)
	}
	return l.small.wrap(s, l.rightW+1)
}

// rangeTo says where a range ends that is cut.
func (l *strengthLayout) rangeTo(r *strengthRow) string {
	if math.IsNaN(r.high) {
		return ""
	}
	return "range\u00a0to\u00a0" + show.InUnit(l.style.Units, r.high)
}

// rowTexts writes the names and the counts.
func (l *strengthLayout) rowTexts(p *pen, rows []placedRow) {
	for _, r := range rows {
		y, label := (r.top+r.bottom)/2, l.labels[r.adhesive]
		if l.narrow() {
			y = r.top + 0.25*l.unit + float64(len(label))*l.bold.leading()/2
		}
		p.lines(ink, l.bold, l.left(), y, left, label)
	}
	for _, r := range rows {
		counts := l.countLines(r.strengthRow)
		if l.narrow() {
			// The first line stands level with the first of the name.
			y := r.top + 0.25*l.unit + l.bold.leading()/2 + float64(len(counts)-1)*l.small.leading()/2
			p.lines(muted, l.small, l.right(), y, right, counts)
		} else {
			p.lines(muted, l.small, l.x1+1.1*l.unit, (r.top+r.bottom)/2, left, counts)
		}
	}
}

// bars draws the ranges, then the ticks on them.
func (l *strengthLayout) bars(p *pen, rows []placedRow) {
	for _, r := range rows {
		if !math.IsNaN(r.typical) {
			l.span(p, r.low, r.high, r.bar)
		}
	}
	for _, r := range rows {
		if !math.IsNaN(r.atLeast) {
			l.fade(p, l.x(r.atLeast), r.bar, l.tail)
		}
	}
	for _, r := range rows {
		if !math.IsNaN(r.typical) {
			l.upright(p, 2.6, l.x(r.typical), r.bar)
		}
	}
	for _, r := range rows {
		if !math.IsNaN(r.atLeast) {
			l.upright(p, 1.4, l.x(r.atLeast), r.bar)
		}
	}
}

// span draws the bar of a range. One that goes on beyond the axis is cut.
func (l *strengthLayout) span(p *pen, low, high, y float64) {
	h := l.barHalf()
	p.rect(bar, 1, l.x(low), y-h, l.x(high), y+h)
	if high <= l.high {
		return
	}
	for _, back := range []float64{5, 9} {
		x := l.x1 - back
		p.line(paper, 1.6, point{x - 2, y + h + 2}, point{x + 2, y - h - 2})
	}
}

// ground draws what lies behind the data of the rows: the wood's own strength and
// the lines of the axis.
func (l *strengthLayout) ground(p *pen, w woodBar, rows []placedRow) {
	for _, r := range rows {
		if !math.IsNaN(w.low) && !math.IsNaN(w.high) {
			p.rect(band, 1, l.x(w.low), r.data, l.x(w.high), r.bottom)
		}
	}
	for k, r := range rows {
		for _, t := range l.ticks {
			p.line(grid, 1, point{l.x(t.at), r.data}, point{l.x(t.at), r.bottom})
		}
		if k > 0 {
			p.line(grid, 1, point{l.left(), r.top}, point{l.right(), r.top})
		}
	}
	for _, r := range rows {
		if !math.IsNaN(w.typical) {
			p.line(bandLine, 1.4, point{l.x(w.typical), r.data}, point{l.x(w.typical), r.bottom})
		}
	}
	for _, r := range rows {
		p.line(edge, 1, point{l.x0, r.data}, point{l.x0, r.bottom})
	}
}

// ticksAbove draws the ticks below the labels of woodLabels.
func (l *strengthLayout) ticksAbove(p *pen, w woodBar, top float64) {
	if !math.IsNaN(w.typical) {
		p.line(bandLine, 1.4, point{l.x(w.typical), top - 0.4*l.unit}, point{l.x(w.typical), top})
	}
	if !math.IsNaN(w.handbook) {
		l.handbook(p, l.x(w.handbook), top)
	}
}

// handbook draws the handbook's tick, its tip on y.
func (l *strengthLayout) handbook(p *pen, x, y float64) {
	w, h := 0.3*l.unit, 0.5*l.unit
	p.area(ink, 1, point{x - w, y - h}, point{x + w, y - h}, point{x, y})
}

// woodLabels puts the labels of the wood's typical strength and of the handbook's
// on one line above the rows.
func (l *strengthLayout) woodLabels(w woodBar) {
	type label struct {
		at, x, width float64
		text         string
	}
	var ls []label
	for _, c := range []struct {
		v    float64
		what string
	}{{w.typical, "wood "}, {w.handbook, "handbook "}} {
		if math.IsNaN(c.v) {
			continue
		}
		s := c.what + show.InUnit(l.style.Units, c.v)
		width := l.small.width(s)
		x := min(max(l.x(c.v)-width/2, l.x0), l.right()-width)
		ls = append(ls, label{l.x(c.v), x, width, s})
	}
	if len(ls) == 0 {
		l.y += 0.2 * l.unit
		return
	}
	slices.SortStableFunc(ls, func(a, b label) int { return cmp.Compare(a.at, b.at) })
	if len(ls) == 2 {
		if lack := ls[0].x + ls[0].width + 0.8*l.unit - ls[1].x; lack > 0 {
			ls[0].x = max(ls[0].x-lack/2, l.left())
			ls[1].x = ls[0].x + ls[0].width + 0.8*l.unit
			if over := ls[1].x + ls[1].width - l.right(); over > 0 {
				ls[0].x, ls[1].x = ls[0].x-over, ls[1].x-over
			}
		}
	}
	y := l.y + l.small.leading()/2 + l.small.middle()
	l.draw(func(p *pen) {
		for _, s := range ls {
			p.text(muted, l.small, s.x, y, left, s.text)
		}
	})
	l.y += l.small.leading() + 0.55*l.unit
}

// axis puts the labels of the axis below y. The unit stands at the zero.
func (l *strengthLayout) axis(y float64) {
	t := l.small
	foot := y + 0.35*l.unit + t.leading()/2 + t.middle()
	unit := l.style.Units.StressUnit()
	l.draw(func(p *pen) {
		p.line(edge, 1, point{l.x0, y}, point{l.x1, y})
		for k, tick := range l.ticks {
			x := l.x(tick.at)
			p.line(edge, 1, point{x, y}, point{x, y + 4})
			if k == 0 {
				p.text(muted, t, x-t.width(tick.label)/2, foot, left, tick.label+" "+unit)
				continue
			}
			p.text(muted, t, min(x, l.width-4-t.width(tick.label)/2), foot, centre, tick.label)
		}
	})
	l.y = y + 0.35*l.unit + t.leading()
}

// key explains what is in the panels, and nothing else.
func (l *strengthLayout) key(panels []strengthPanel) []keyItem {
	var has [3]bool
	var typical, bound, wood, handbook bool
	for _, p := range panels {
		wood = wood || !math.IsNaN(p.wood.typical)
		handbook = handbook || !math.IsNaN(p.wood.handbook)
		for _, r := range p.rows {
			typical = typical || !math.IsNaN(r.typical)
			bound = bound || !math.IsNaN(r.atLeast)
			for _, s := range r.specimens {
				has[s.state] = true
			}
		}
	}
	items := l.markKey(has, 1, 0)
	add := func(present bool, width float64, text string, sample func(p *pen, x, y float64)) {
		if present {
			items = append(items, keyItem{width, sample, text})
		}
	}
	u := l.unit
	add(typical, 3*u, "typical strength, 95 % range", func(p *pen, x, y float64) {
		p.rect(bar, 1, x, y-l.barHalf(), x+3*u, y+l.barHalf())
		l.upright(p, 2.6, x+1.4*u, y)
	})
	add(bound, 3.4*u, "only “at least” (95 %), no upper end", func(p *pen, x, y float64) {
		l.fade(p, x+1, y, 3.2*u)
		l.upright(p, 1.4, x+1, y)
	})
	add(wood, 2.4*u, "the wood's own strength: typical, 95 % range", func(p *pen, x, y float64) {
		p.rect(band, 1, x, y-0.6*u, x+2.4*u, y+0.6*u)
		p.line(bandLine, 1.4, point{x + 1.2*u, y - 0.6*u}, point{x + 1.2*u, y + 0.6*u})
	})
	add(handbook, 0.8*u, "the handbook's shear strength of the wood", func(p *pen, x, y float64) {
		l.handbook(p, x+0.4*u, y+0.25*u)
	})
	return items
}
