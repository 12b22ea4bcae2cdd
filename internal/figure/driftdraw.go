package figure

import (
	"fmt"
	"math"
	"strconv"

	"bondtrial/internal/answer"
)

// Drift draws each specimen's strength, over the typical one of its cell, against
// its place in an order of work, "glueing" or "breaking", with the fitted change.
// It returns nil where the answer has none for this order.
func Drift(a *answer.Answer, order string, s Style) *Figure {
	d, ok := driftIn(a, order)
	if !ok {
		return nil
	}
	title := "Strength along the order of " + order
	b := newSheet(s, title)
	b.heading(b.body, d.statement())
	b.y += 0.6 * b.unit
	l := newDriftLayout(b, &d)
	l.put()
	b.y += 0.8 * b.unit
	var has [3]bool
	for _, p := range d.points {
		has[p.state] = true
	}
	items := b.markKey(has, 0, -1)
	u := b.unit
	if d.bounded() {
		items = append(items, keyItem{2.6 * u, func(p *pen, x, y float64) {
			p.area(band, 1, point{x, y - 0.5*u}, point{x + 1.3*u, y}, point{x + 2.6*u, y - 0.5*u},
				point{x + 2.6*u, y + 0.5*u}, point{x + 1.3*u, y}, point{x, y + 0.5*u})
			p.line(bandLine, 1.6, point{x, y}, point{x + 2.6*u, y})
		}, "fitted change, 95 % range of its slope about the middle of the order"})
	}
	b.key(items)
	note := "Ratio: the specimen's strength over the typical strength of its adhesive and condition. Adhesives that are only “at least” are left out."
	if len(d.points) < d.of {
		note += fmt.Sprintf(" %d of %d specimens have marks, evenly along the order.", len(d.points), d.of)
	}
	b.note(note)
	return b.finish(title, d.alt())
}

type driftLayout struct {
	*sheet
	d              *driftPlot
	x0, x1, y0, y1 float64
	low, high      float64
	ticks          []tick
}

func newDriftLayout(b *sheet, d *driftPlot) *driftLayout {
	l := &driftLayout{sheet: b, d: d}
	l.low, l.high = d.limits()
	b.y += b.small.leading() + 0.4*b.unit // the name of the axis
	l.y0 = b.y
	l.y1 = b.y + min(0.42*b.width, 21*b.unit)
	if b.narrow() {
		l.y1 = b.y + 0.62*b.width
	}
	l.ticks = ratioTicks(l.low, l.high, l.y1-l.y0, 2*b.unit)
	widest := 0.0
	for _, t := range l.ticks {
		widest = max(widest, b.small.width(t.label))
	}
	l.x0 = b.left() + widest + 0.6*b.unit
	l.x1 = b.right()
	return l
}

func (l *driftLayout) x(order float64) float64 {
	pad := 0.8 * l.unit
	return l.x0 + pad + (l.x1-l.x0-2*pad)*(order-float64(l.d.drift.First))/float64(l.d.drift.Last-l.d.drift.First)
}

func (l *driftLayout) y(ratio float64) float64 {
	at := (math.Log(ratio) - math.Log(l.low)) / (math.Log(l.high) - math.Log(l.low))
	return l.y1 - (l.y1-l.y0)*min(max(at, 0), 1)
}

func (l *driftLayout) put() {
	t := l.small
	places := l.places()
	var marks []placed
	for _, s := range l.d.points {
		marks = append(marks, placed{specimen{state: s.state}, point{l.x(float64(s.order)), l.y(s.ratio)}})
	}
	l.draw(func(p *pen) {
		p.text(muted, t, l.left(), l.y0-0.4*l.unit-t.leading()/2+t.middle()-1, left, "ratio to the typical strength")
		l.band(p)
		for _, k := range l.ticks {
			p.line(grid, 1, point{l.x0, l.y(k.at)}, point{l.x1, l.y(k.at)})
			p.text(muted, t, l.x0-0.5*l.unit, l.y(k.at)+t.middle(), right, k.label)
		}
		p.line(edge, 1.2, point{l.x0, l.y(1)}, point{l.x1, l.y(1)})
		p.line(edge, 1, point{l.x0, l.y0}, point{l.x0, l.y1}, point{l.x1, l.y1})
		first, last := float64(l.d.drift.First), float64(l.d.drift.Last)
		p.line(bandLine, 2, point{l.x(first), l.y(l.d.along(l.d.drift.Ratio, first))}, point{l.x(last), l.y(l.d.along(l.d.drift.Ratio, last))})
		l.marks(p, marks, 0, -1)
		foot := l.y1 + 0.35*l.unit + t.leading()/2 + t.middle()
		for _, k := range places {
			x := l.x(k.at)
			p.line(edge, 1, point{x, l.y1}, point{x, l.y1 + 4})
			p.text(muted, t, min(x, l.width-4-t.width(k.label)/2), foot, centre, k.label)
		}
		p.text(muted, t, (l.x0+l.x1)/2, foot+t.leading(), centre, "place in the order of "+l.d.drift.Order)
	})
	l.sheet.y = l.y1 + 0.35*l.unit + 2*t.leading()
}

// places are the ticks of the order: the first, then round numbers.
func (l *driftLayout) places() []tick {
	first, last := float64(l.d.drift.First), float64(l.d.drift.Last)
	out := []tick{{first, strconv.Itoa(l.d.drift.First)}}
	apart := 1.6*l.unit + l.small.width(strconv.Itoa(l.d.drift.Last)) - l.small.width("1")
	most := int((l.x1 - l.x0) / (3*l.unit + l.small.width(strconv.Itoa(l.d.drift.Last))) * last / (last - first))
	for _, t := range linearTicks(last, min(most, 10_000)) {
		if t.at == math.Trunc(t.at) && t.at > first && l.x(t.at)-l.x(first) > apart {
			out = append(out, tick{t.at, strconv.Itoa(int(t.at))})
		}
	}
	return out
}

// band draws the range of the fitted change.
func (l *driftLayout) band(p *pen) {
	if !l.d.bounded() {
		return
	}
	var lower, upper []point
	const steps = 24
	for k := range steps + 1 {
		at := float64(l.d.drift.First) + float64(l.d.drift.Last-l.d.drift.First)*float64(k)/steps
		a, b := l.d.along(l.d.drift.Low, at), l.d.along(l.d.drift.High, at)
		lower = append(lower, point{l.x(at), l.y(min(a, b))})
		upper = append([]point{{l.x(at), l.y(max(a, b))}}, upper...)
	}
	p.area(band, 1, append(lower, upper...)...)
}
