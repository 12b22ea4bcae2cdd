package figure

import (
	"strconv"

	"bondtrial/internal/answer"
)

// Chance draws the chance of being the strongest as bars, for every condition. A
// bar is hatched where the strength is only at least. It returns nil where no
// condition has two adhesives.
func Chance(a *answer.Answer, s Style) *Figure {
	groups := chanceGroups(a)
	if len(groups) == 0 {
		return nil
	}
	const title = "Chance of being the strongest"
	b := newSheet(s, title)
	var names []string
	leans := false
	for _, g := range groups {
		leans = leans || g.leans
		for _, c := range g.bars {
			names = append(names, c.adhesive)
		}
	}
	l := &chanceLayout{sheet: b, labels: b.bold.labels(names, 0.36*b.width, 2)}
	widest := 0.0
	for _, lines := range l.labels {
		widest = max(widest, b.bold.widest(lines))
	}
	l.x0 = b.left() + widest + 0.9*b.unit
	l.x1 = b.right() - b.bold.width(">99 %") - 0.6*b.unit
	for k := range groups {
		if k > 0 {
			b.y += 0.9 * b.unit
		}
		l.group(&groups[k], len(groups) > 1 || a.Cells[0].String() != (answer.Condition{}).String())
	}
	b.y += 0.8 * b.unit
	if leans {
		l.key()
		b.note("Beside a hatched bar, all chances of that condition lean on what is assumed of the strength that is only “at least”, not on breaks.")
	}
	b.note("Each figure: in how many of 100 cases that fit the readings the adhesive is the strongest.")
	return b.finish(title, chanceAlt(groups))
}

type chanceLayout struct {
	*sheet
	labels map[string][]string
	x0, x1 float64
}

func (l *chanceLayout) x(p float64) float64 { return l.x0 + (l.x1-l.x0)*p }

func (l *chanceLayout) group(g *chanceGroup, named bool) {
	if named {
		l.heading(typeface{size: 1.08 * l.unit, bold: true}, g.heading)
		l.y += 0.3 * l.unit
	}
	top := l.y
	var middles []float64
	for _, c := range g.bars {
		h := max(1.9*l.unit, float64(len(l.labels[c.adhesive]))*l.bold.leading()+0.5*l.unit)
		middles = append(middles, l.y+h/2)
		l.y += h
	}
	bottom := l.y
	l.draw(func(p *pen) {
		for k := range 4 {
			x := l.x(0.25 * float64(k+1))
			p.line(grid, 1, point{x, top}, point{x, bottom})
		}
		for k, c := range g.bars {
			l.bar(p, &c, middles[k])
		}
		p.line(edge, 1, point{l.x0, top}, point{l.x0, bottom})
	})
	l.axis()
}

func (l *chanceLayout) bar(p *pen, c *chanceBar, y float64) {
	h, end := 0.58*l.unit, l.x(c.p)
	p.lines(ink, l.bold, l.left(), y, left, l.labels[c.adhesive])
	if c.assumed {
		hatched(p, l.x0, y-h, end, y+h, 0.42*l.unit)
	} else {
		p.rect(mark, 1, l.x0, y-h, end, y+h)
	}
	// The figure stands on paper, so that no line of the axis runs through it.
	x, w := end+0.45*l.unit, l.bold.width(c.figure)
	p.rect(paper, 1, x-2, y-0.6*l.bold.size, x+w+2, y+0.6*l.bold.size)
	p.lines(ink, l.bold, x, y, left, []string{c.figure})
}

// hatched draws a rectangle as an outline filled with slanting lines.
func hatched(p *pen, x0, y0, x1, y1, pitch float64) {
	if x1-x0 < 3 {
		p.rect(mark, 1, x0, y0, max(x1, x0+1), y1)
		return
	}
	x0, y0, x1, y1 = x0+0.7, y0+0.7, x1-0.7, y1-0.7
	h := y1 - y0
	for x := x0 - h + pitch; x < x1; x += pitch {
		// From (x, y1) up to (x+h, y0), as far as it lies inside.
		from, to := max(x, x0), min(x+h, x1)
		p.line(mark, 1, point{from, y1 - (from - x)}, point{to, y1 - (to - x)})
	}
	p.outline(mark, 1.4, point{x0, y0}, point{x1, y0}, point{x1, y1}, point{x0, y1})
}

func (l *chanceLayout) axis() {
	t := l.small
	y := l.y
	foot := y + 0.35*l.unit + t.leading()/2 + t.middle()
	l.draw(func(p *pen) {
		p.line(edge, 1, point{l.x0, y}, point{l.x1, y})
		for k := range 5 {
			x := l.x(0.25 * float64(k))
			p.line(edge, 1, point{x, y}, point{x, y + 4})
			if k%2 == 0 || !l.narrow() {
				p.text(muted, t, x, foot, centre, strconv.Itoa(25*k)+" %")
			}
		}
	})
	l.y = y + 0.35*l.unit + t.leading()
}

func (l *chanceLayout) key() {
	u := l.unit
	l.sheet.key([]keyItem{
		{2 * u, func(p *pen, x, y float64) { p.rect(mark, 1, x, y-0.4*u, x+2*u, y+0.4*u) }, "the bond broke at least once"},
		{2 * u, func(p *pen, x, y float64) { hatched(p, x, y-0.4*u, x+2*u, y+0.4*u, 0.42*u) }, "wood or rig gave way every time: strength only “at least”"},
	})
}
