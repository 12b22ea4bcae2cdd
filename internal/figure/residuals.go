package figure

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"bondtrial/internal/rig"
	"bondtrial/internal/show"
)

// Residuals draws how far each reading of a calibration lies from its curve, in per
// cent of its load, against the load, with the limits of error of the classes of ISO
// 7500-1 that come into the picture (rig.ClassSource). It returns nil where the
// calibration keeps no residuals.
func Residuals(k *rig.Calibration, s Style) *Figure {
	d := residualsOf(k)
	if len(d.points) == 0 {
		return nil
	}
	title := "Each reading against the curve"
	b := newSheet(s, title)
	b.heading(b.body, d.statement())
	b.y += 0.6 * b.unit
	l := newResidualLayout(b, &d)
	l.put()
	b.y += 0.8 * b.unit
	u, r := b.unit, b.radius()
	var items []keyItem
	if d.up > 0 {
		items = append(items, keyItem{2 * r, func(p *pen, x, y float64) { p.disc(mark, x+r, y, r) }, fmt.Sprintf("reached by hanging up: n %d", d.up)})
	}
	if d.down > 0 {
		items = append(items, keyItem{2 * r, func(p *pen, x, y float64) {
			p.disc(paper, x+r, y, r-0.5)
			p.ring(mark, 1.4, x+r, y, r-0.5)
		}, fmt.Sprintf("reached by taking down: n %d", d.down)})
	}
	if len(l.classes) > 0 {
		items = append(items, keyItem{2 * u, func(p *pen, x, y float64) { p.line(bandLine, 1.4, point{x, y}, point{x + 2*u, y}) }, "limit of error of a class"})
	}
	b.key(items)
	note := "Above 0 the reading is higher than the curve. "
	if len(l.classes) > 0 {
		note += "A class asks for more than a small error; " + rig.ClassSource + "; "
	}
	note += rig.SelfCheck + "."
	if len(d.points) < d.of {
		note += fmt.Sprintf(" %d of %d readings have marks.", len(d.points), d.of)
	}
	b.note(note)
	return b.finish(title, d.alt())
}

// residualPlot is what is shown of a calibration.
type residualPlot struct {
	points    []residual
	of        int // readings, of which points may be a part
	up, down  int
	low, high float64 // loads, N
	worst     residual
}

type residual struct {
	load, pct float64
	down      bool
}

func residualsOf(k *rig.Calibration) residualPlot {
	var d residualPlot
	for _, p := range k.Figures.Residuals {
		if !(p.LoadN > 0) {
			continue
		}
		r := residual{p.LoadN, 100 * p.ResidualN / p.LoadN, p.Direction == rig.Down}
		if len(d.points) == 0 || math.Abs(r.pct) > math.Abs(d.worst.pct) {
			d.worst = r
		}
		if r.down {
			d.down++
		} else {
			d.up++
		}
		d.points = append(d.points, r)
	}
	d.low, d.high, d.of = k.LowN, k.HighN, len(d.points)
	d.points = thinned(d.points, mostPoints)
	return d
}

func (d *residualPlot) statement() string {
	return fmt.Sprintf("%d readings; the farthest lies %s of its load from the curve, at %s N", d.of, signedPercent(d.worst.pct), show.Trim(significant(d.worst.load)))
}

func (d *residualPlot) alt() string {
	return fmt.Sprintf("Distance of %d readings from the curve of the calibration, in per cent of their loads, over loads from %s to %s N: %d reached by hanging up, %d by taking down. The farthest is %s at %s N.",
		d.of, show.Trim(significant(d.low)), show.Trim(significant(d.high)), d.up, d.down, signedPercent(d.worst.pct), show.Trim(significant(d.worst.load)))
}

// significant keeps three digits.
func significant(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 2, 64), 64)
	if err != nil {
		panic("figure: a number that was written cannot be read")
	}
	return r
}

func signedPercent(v float64) string {
	v = significant(v)
	if math.Abs(v) < 0.001 {
		return "less than 0.001 %"
	}
	sign := "+"
	if v < 0 {
		sign = "−"
	}
	return sign + strconv.FormatFloat(math.Abs(v), 'f', -1, 64) + " %"
}

type residualLayout struct {
	*sheet
	d              *residualPlot
	x0, x1, y0, y1 float64
	most           float64 // the axis goes from −most to most, per cent
	ticks          []tick
	classes        []classLine
}

type classLine struct {
	name string
	at   float64 // per cent
}

func newResidualLayout(b *sheet, d *residualPlot) *residualLayout {
	l := &residualLayout{sheet: b, d: d, most: max(0.6, 1.12*math.Abs(d.worst.pct))}
	t := b.small
	b.y += t.leading() + 0.4*b.unit // the name of the axis
	l.y0 = b.y
	l.y1 = b.y + min(0.36*b.width, 18*b.unit)
	if b.narrow() {
		l.y1 = b.y + 0.62*b.width
	}
	up := linearTicks(l.most, int((l.y1-l.y0)/(4.4*b.unit)))
	for _, k := range slices.Backward(up[1:]) {
		l.ticks = append(l.ticks, tick{-k.at, "−" + k.label})
	}
	l.ticks = append(l.ticks, up...)
	widest := 0.0
	for _, k := range l.ticks {
		widest = max(widest, t.width(k.label))
	}
	l.x0 = b.left() + widest + 0.6*b.unit
	l.x1 = b.right()
	l.x1 -= t.width("class 0.5") + 0.5*b.unit
	above := math.Inf(1) // where the label before stands
	for _, name := range slices.Backward(rig.Classes()) {
		at, err := strconv.ParseFloat(name, 64) // a class has the name of its limit of error
		if err != nil || at > l.most {
			continue
		}
		if apart := min(above-at, 2*at) / (2 * l.most) * (l.y1 - l.y0); apart < 1.1*t.leading() {
			continue
		}
		l.classes = append(l.classes, classLine{name, at})
		above = at
	}
	return l
}

func (l *residualLayout) x(load float64) float64 {
	pad := 0.6 * l.unit
	return l.x0 + (l.x1-l.x0-pad)*load/l.d.high
}

func (l *residualLayout) y(pct float64) float64 {
	return (l.y0+l.y1)/2 - (l.y1-l.y0)/2*pct/l.most
}

// rings draws the readings going down. Like is drawn with like, which keeps an SVG
// small.
func (l *residualLayout) rings(p *pen) {
	r := l.radius() - 0.5
	for _, q := range l.d.points {
		if q.down {
			p.disc(paper, l.x(q.load), l.y(q.pct), r)
		}
	}
	for _, q := range l.d.points {
		if q.down {
			p.ring(mark, 1.4, l.x(q.load), l.y(q.pct), r)
		}
	}
}

func (l *residualLayout) put() {
	t := l.small
	l.draw(func(p *pen) {
		p.text(muted, t, l.left(), l.y0-0.4*l.unit-t.leading()/2+t.middle()-1, left, "reading less curve, % of the load")
		for _, k := range l.ticks {
			p.line(grid, 1, point{l.x0, l.y(k.at)}, point{l.x1, l.y(k.at)})
			p.text(muted, t, l.x0-0.5*l.unit, l.y(k.at)+t.middle(), right, k.label)
		}
		for _, c := range l.classes {
			for _, at := range []float64{c.at, -c.at} {
				p.line(bandLine, 1.4, point{l.x0, l.y(at)}, point{l.x1, l.y(at)})
				p.text(muted, t, l.x1+0.4*l.unit, l.y(at)+t.middle(), left, "class "+c.name)
			}
		}
		p.line(edge, 1.2, point{l.x0, l.y(0)}, point{l.x1, l.y(0)})
		p.line(edge, 1, point{l.x0, l.y0}, point{l.x0, l.y1}, point{l.x1, l.y1})
		for _, r := range l.d.points {
			if !r.down {
				p.disc(mark, l.x(r.load), l.y(r.pct), l.radius())
			}
		}
		l.rings(p)
		l.loads(p)
	})
	l.sheet.y = l.y1 + 0.35*l.unit + 2*t.leading()
}

// loads draws the axis of the loads.
func (l *residualLayout) loads(p *pen) {
	t := l.small
	foot := l.y1 + 0.35*l.unit + t.leading()/2 + t.middle()
	room := t.width(show.Trim(significant(l.d.high))) + 2.2*l.unit
	for _, k := range linearTicks(l.d.high, int((l.x1-l.x0)/room)) {
		p.line(edge, 1, point{l.x(k.at), l.y1}, point{l.x(k.at), l.y1 + 4})
		p.text(muted, t, l.x(k.at), foot, centre, k.label)
	}
	p.text(muted, t, (l.x0+l.x1)/2, foot+t.leading(), centre, "load, N")
}
