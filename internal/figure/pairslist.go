package figure

import (
	"fmt"
	"math"

	"bondtrial/internal/answer"
)

// pairList is a list of comparisons, one row each, with the intervals as bars on
// a logarithmic axis of ratios.
type pairList struct {
	*sheet
	t                     *pairTable
	margin                float64
	labels                map[string][]string // of adhesives
	label                 float64             // width of the labels, where they stand beside the bars
	x0, x1                float64             // ends of the axis
	low, high             float64
	ticks                 []tick
	ratioW, numbersW, tag float64 // widths of the ratios, of ratio and interval, of the verdicts
}

func newPairList(b *sheet, t *pairTable, margin float64) *pairList {
	l := &pairList{sheet: b, t: t, margin: margin}
	l.tag = b.small.width("not settled") + b.unit
	for _, p := range t.pairs {
		w := words(p)
		l.ratioW = max(l.ratioW, b.bold.width(w.ratio))
		l.numbersW = max(l.numbersW, b.body.width(w.interval))
	}
	l.numbersW += l.ratioW + 0.6*b.unit
	if b.narrow() {
		l.labels = b.bold.labels(t.adhesives, b.right()-b.left()-l.tag-2*b.unit, 1)
		l.x0, l.x1 = b.left(), b.right()-l.numbersW-0.8*b.unit
	} else {
		l.labels = b.bold.labels(t.adhesives, 0.3*b.width-1.5*b.unit, 1)
		for _, p := range t.pairs {
			l.label = max(l.label, b.bold.widest(l.label2(p)))
		}
		l.x0 = b.left() + l.label + b.unit
		l.x1 = b.right() - l.numbersW - l.tag - 2.2*b.unit
	}
	l.low, l.high = ratioRange(t.pairs, margin)
	l.ticks = ratioTicks(l.low, l.high, l.x1-l.x0, 2.6*b.unit)
	return l
}

// label2 is the label of a row: one line, or one for each adhesive. With a control
// the adhesive alone.
func (l *pairList) label2(p answer.Pair) []string {
	a, b := l.labels[p.A][0], l.labels[p.B][0]
	if l.t.control != "" {
		return []string{a}
	}
	most := 0.3 * l.width
	if l.narrow() {
		most = l.right() - l.left() - l.tag - l.unit
	}
	if one := a + " / " + b; l.bold.width(one) <= most {
		return []string{one}
	}
	return []string{a + " /", b}
}

func (l *pairList) x(v float64) float64 {
	at := (math.Log(v) - math.Log(l.low)) / (math.Log(l.high) - math.Log(l.low))
	return l.x0 + (l.x1-l.x0)*min(max(at, 0), 1)
}

// listRow is a comparison with its place: label and verdict around textY, bar
// and numbers around barY, the axis behind from data to bottom.
type listRow struct {
	answer.Pair
	pairWords
	label             []string
	top, data, bottom float64
	textY, barY       float64
}

func (l *pairList) place(p answer.Pair, y float64) listRow {
	r := listRow{Pair: p, pairWords: words(p), label: l.label2(p), top: y, data: y}
	text := float64(len(r.label)) * l.bold.leading()
	if l.narrow() {
		r.textY = y + 0.5*l.unit + text/2
		r.data = y + 0.5*l.unit + text
		r.bottom = r.data + 2*l.unit
		r.barY = (r.data + r.bottom) / 2
		return r
	}
	r.bottom = y + max(text+0.6*l.unit, 2.3*l.unit)
	r.textY = (y + r.bottom) / 2
	r.barY = r.textY
	return r
}

func (l *pairList) put() {
	l.axis()
	var rows []listRow
	for _, p := range l.t.pairs {
		r := l.place(p, l.y)
		rows = append(rows, r)
		l.y = r.bottom
	}
	bottom := l.y
	l.draw(func(p *pen) {
		l.ground(p, rows)
		p.line(edge, 1, point{l.x0, bottom}, point{l.x1, bottom})
		for _, r := range rows {
			l.interval(p, r.Pair, r.barY)
		}
		for _, r := range rows {
			if r.Ratio.Exists() {
				p.disc(ink, l.x(float64(r.Ratio)), r.barY, 0.8*l.radius())
			}
		}
		h := 0.75 * l.unit
		for _, r := range rows {
			p.rect(r.pairWords.ground, 1, l.right()-l.tag, r.textY-h, l.right(), r.textY+h)
		}
		l.texts(p, rows)
	})
}

func (l *pairList) texts(p *pen, rows []listRow) {
	numbers := l.x1 + 0.8*l.unit
	for _, r := range rows {
		p.lines(ink, l.bold, l.left(), r.textY, left, r.label)
		p.lines(ink, l.bold, numbers, r.barY, left, []string{r.ratio})
	}
	for _, r := range rows {
		if r.pairWords.interval != "" {
			p.lines(ink, l.body, numbers+l.ratioW+0.6*l.unit, r.barY, left, []string{r.pairWords.interval})
		}
	}
	for _, r := range rows {
		p.lines(ink, l.small, l.right()-l.tag/2, r.textY, centre, []string{r.verdict})
	}
}

// axis puts the labels of the axis above the rows.
func (l *pairList) axis() {
	t := l.small
	name := l.y + t.leading()/2 + t.middle()
	foot := name + t.leading()
	l.y += 2*t.leading() + 0.4*l.unit
	y := l.y
	l.draw(func(p *pen) {
		what := "ratio of typical strengths"
		p.text(muted, t, max(l.left(), min(l.x0, l.right()-t.width(what))), name, left, what)
		for _, k := range l.ticks {
			p.text(muted, t, max(l.x(k.at), 3+t.width(k.label)/2), foot, centre, k.label)
			p.line(edge, 1, point{l.x(k.at), y - 4}, point{l.x(k.at), y})
		}
		p.line(edge, 1, point{l.x0, y}, point{l.x1, y})
	})
}

// ground draws what lies behind the bars: the margin, the lines of the axis, and
// 1.
func (l *pairList) ground(p *pen, rows []listRow) {
	for _, r := range rows {
		p.rect(alike, 1, l.x(1/(1+l.margin)), r.data, l.x(1+l.margin), r.bottom)
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
		p.line(edge, 1.2, point{l.x(1), r.data}, point{l.x(1), r.bottom})
	}
}

func (l *pairList) interval(p *pen, pair answer.Pair, y float64) {
	low, high := deciding(pair)
	switch {
	case low.Exists() && high.Exists():
		l.span(p, l.x(float64(low)), l.x(float64(high)), y, float64(low) >= l.low, float64(high) <= l.high)
	case low.Exists():
		x := l.x(float64(low))
		l.fade(p, x, y, min(4*l.unit, l.x1-x))
		l.upright(p, 1.4, x, y)
	case high.Exists():
		x := l.x(float64(high))
		l.fade(p, x, y, -min(4*l.unit, x-l.x0))
		l.upright(p, 1.4, x, y)
	}
}

// span draws an interval, with a tick at each end that lies on the axis.
func (l *pairList) span(p *pen, x0, x1, y float64, low, high bool) {
	h, tick := 0.6*l.barHalf(), 0.32*l.unit
	p.rect(bar, 1, x0, y-h, x1, y+h)
	if low {
		p.line(bar, 1.4, point{x0, y - tick}, point{x0, y + tick})
	}
	if high {
		p.line(bar, 1.4, point{x1, y - tick}, point{x1, y + tick})
	}
}

// barKey explains the bars.
func (l *pairList) barKey() []keyItem {
	var items []keyItem
	both, one := false, false
	for _, p := range l.t.pairs {
		low, high := p.LowSim.Exists(), p.HighSim.Exists()
		both, one = both || low && high, one || low != high
	}
	u := l.unit
	if both {
		items = append(items, keyItem{3 * u, func(p *pen, x, y float64) {
			l.span(p, x+1, x+3*u-1, y, true, true)
			p.disc(ink, x+1.5*u, y, 0.8*l.radius())
		}, "ratio and its interval"})
	}
	if one {
		items = append(items, keyItem{3 * u, func(p *pen, x, y float64) {
			l.fade(p, x+1, y, 3*u-1)
			l.upright(p, 1.4, x+1, y)
		}, "no other end"})
	}
	return append(items, l.swatch(alike, fmt.Sprintf("within ±%.0f %%", 100*l.margin)))
}
