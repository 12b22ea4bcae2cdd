package figure

import (
	"math"

	"gonum.org/v1/plot/vg"

	"bondtrial"
)

// sheet is a figure being laid out, block by block from the top. Everything is
// in px.
type sheet struct {
	style         Style
	width, margin float64
	y             float64 // where the next block begins
	ops           []func(*pen)

	body, bold, small, smallBold, title typeface
	unit                                float64 // size of ordinary text: what proportions go by
}

func newSheet(s Style, title string) *sheet {
	if !(s.Width > 0) || !(s.Text > 0) {
		panic("figure: a style must have a width and a size of text")
	}
	text := float64(s.Text / px)
	b := &sheet{style: s, width: float64(s.Width / px), margin: math.Round(1.15 * text), unit: text}
	small := max(text-1, math.Min(11, text))
	b.body, b.bold = typeface{size: text}, typeface{size: text, bold: true}
	b.small, b.smallBold = typeface{size: small}, typeface{size: small, bold: true}
	b.title = typeface{size: 1.2 * text, bold: true}
	b.y = b.margin
	if !s.Untitled {
		b.heading(b.title, title)
		b.y += 0.5 * text
	}
	return b
}

// narrow reports whether there is no room for labels beside the data.
func (b *sheet) narrow() bool { return b.width < 36*b.unit }

func (b *sheet) left() float64  { return b.margin }
func (b *sheet) right() float64 { return b.width - b.margin }

func (b *sheet) draw(op func(*pen)) { b.ops = append(b.ops, op) }

// heading puts a line of text, or more where it is long, over the whole width.
func (b *sheet) heading(t typeface, s string) { b.paragraph(ink, t, s) }

// note puts a paragraph of small text.
func (b *sheet) note(s string) {
	b.paragraph(muted, b.small, s)
	b.y += 0.3 * b.unit
}

func (b *sheet) paragraph(r role, t typeface, s string) {
	for _, line := range t.wrap(s, b.right()-b.left()) {
		y := b.y + t.leading()/2 + t.middle()
		b.draw(func(p *pen) { p.text(r, t, b.left(), y, left, line) })
		b.y += t.leading()
	}
}

// finish closes the sheet.
func (b *sheet) finish(title, alt string) *Figure {
	return &Figure{Title: title, Alt: alt, Width: b.style.Width, Height: vg.Length(math.Ceil(b.y+0.7*b.margin)) * px,
		dark: b.style.Dark, ops: b.ops}
}

// keyItem explains a mark: a sample of it, drawn around y from x on, and what it
// means.
type keyItem struct {
	width  float64
	sample func(p *pen, x, y float64)
	text   string
}

// key puts the explanations of marks, as many on a line as fit.
func (b *sheet) key(items []keyItem) {
	const gap = 8
	t := b.small
	x := b.left()
	line := t.leading() * 1.22
	for _, it := range items {
		room := b.right() - b.left() - it.width - gap
		lines := t.wrap(it.text, room)
		w := it.width + gap + t.widest(lines)
		if x > b.left() && x+w > b.right() {
			x = b.left()
			b.y += line
		}
		at, y := x, b.y+line/2
		b.draw(func(p *pen) {
			it.sample(p, at, y)
			for k, s := range lines {
				p.text(muted, t, at+it.width+gap, y+float64(k)*t.leading()+t.middle(), left, s)
			}
		})
		x += w + 1.7*b.unit
		if len(lines) > 1 {
			b.y += float64(len(lines)-1) * t.leading()
			x = b.right()
		}
	}
	if len(items) > 0 {
		b.y += line + 0.2*b.unit
	}
}

// placed is a specimen with its place.
type placed struct {
	specimen
	point
}

// marks draws specimens: a disc where the bond broke, an open circle or square
// with an arrow where the wood or the rig gave way first. The arrow points along
// (dx, dy). Like is drawn with like, which keeps an SVG small.
func (b *sheet) marks(p *pen, all []placed, dx, dy float64) {
	r := b.radius()
	open := r - 0.5
	half := 0.92 * open
	var free []placed
	for _, s := range all {
		if s.open() {
			free = append(free, s)
		}
	}
	for _, s := range free {
		tip, back, wing := open+b.arrow(), open+b.arrow()-0.2*b.unit, 0.19*b.unit
		p.line(mark, 1.2, point{s.x + open*dx, s.y + open*dy}, point{s.x + tip*dx, s.y + tip*dy})
		p.line(mark, 1.2, point{s.x + back*dx + wing*dy, s.y + back*dy + wing*dx},
			point{s.x + tip*dx, s.y + tip*dy}, point{s.x + back*dx - wing*dy, s.y + back*dy - wing*dx})
	}
	for _, s := range free {
		if s.square() {
			p.area(paper, 1, around(s.point, half)...)
		} else {
			p.disc(paper, s.x, s.y, open)
		}
	}
	for _, s := range free {
		if s.square() {
			p.outline(mark, 1.4, around(s.point, half)...)
		} else {
			p.ring(mark, 1.4, s.x, s.y, open)
		}
	}
	for _, s := range all {
		if !s.open() {
			p.disc(mark, s.x, s.y, r)
		}
	}
}

// around is a square about a point.
func around(c point, half float64) []point {
	return []point{{c.x - half, c.y - half}, {c.x + half, c.y - half}, {c.x + half, c.y + half}, {c.x - half, c.y + half}}
}

func (b *sheet) radius() float64 { return 0.27 * b.unit }
func (b *sheet) arrow() float64  { return 0.5 * b.unit }

// fade draws a bar from x on that fades into an arrow over the given length; a
// negative one runs to the left.
func (b *sheet) fade(p *pen, x, y, length float64) {
	const steps = 8
	h, dir := b.barHalf(), math.Copysign(1, length)
	for k := range steps {
		p.rect(bar, 1-(float64(k)+0.5)/steps, x+length*float64(k)/steps, y-h, x+length*float64(k+1)/steps, y+h)
	}
	tip, wing := x+length, 0.26*b.unit
	p.line(bar, 1.3, point{x, y}, point{tip, y})
	p.line(bar, 1.6, point{tip - dir*wing, y - wing}, point{tip, y}, point{tip - dir*wing, y + wing})
}

func (b *sheet) barHalf() float64  { return 0.22 * b.unit }
func (b *sheet) tickHalf() float64 { return 0.46 * b.unit }

// upright draws a tick across a bar.
func (b *sheet) upright(p *pen, width, x, y float64) {
	p.line(ink, width, point{x, y - b.tickHalf()}, point{x, y + b.tickHalf()})
}

// markKey explains the marks of specimens in the states that occur.
func (b *sheet) markKey(has [3]bool, dx, dy float64) []keyItem {
	var items []keyItem
	for k, text := range [3]string{"bond broke", "wood failed first: at least this", "rig's limit: at least this"} {
		if has[k] {
			s := specimen{state: bondtrial.State(k)}
			width := 2 * b.radius()
			if s.open() {
				width += b.arrow() * dx
			}
			items = append(items, keyItem{width, func(p *pen, x, y float64) {
				if s.open() {
					y -= dy * b.arrow() / 2
				}
				b.marks(p, []placed{{s, point{x + b.radius(), y}}}, dx, dy)
			}, text})
		}
	}
	return items
}
