package figure

import (
	"fmt"
	"strconv"
	"strings"

	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// Plan is what a plan shows of how many specimens are needed.
type Plan struct {
	Difference string  // the smallest that matters, such as "25 %"
	Wanted     float64 // chance of finding it
	Chosen     int     // specimens of each adhesive in each condition; 0: none chosen
	Woods      []PlanWood
}

// PlanWood holds, for each number of specimens in turn, the chance that the
// difference is found and the share of breaks that the wood will end.
type PlanWood struct {
	Wood           string
	N              []int
	Found, Limited []float64
}

// PlanChance draws the chance of finding the difference against the number of
// specimens, one panel a wood. It returns nil where there is no wood or no number.
func PlanChance(c Plan, s Style) *Figure {
	if len(c.Woods) == 0 || len(c.Woods[0].N) == 0 {
		return nil
	}
	title := "Chance to find a difference of " + c.Difference
	b := newSheet(s, title)
	first, last := c.Woods[0].N[0], c.Woods[0].N[len(c.Woods[0].N)-1]
	l := &planLayout{sheet: b, plan: c, first: first, last: last}
	l.x0 = b.left() + b.small.width("100 %") + 0.6*b.unit
	l.x1 = b.right() - 0.4*b.unit
	for _, w := range c.Woods {
		l.put(w)
	}
	b.y += 0.4 * b.unit
	b.key(l.legend())
	b.note("Simulated trials: found is the share of them in which the stronger of two is shown to be stronger, with all comparisons of a wood and condition holding together at 95 %.")
	return b.finish(title, c.alt())
}

type planLayout struct {
	*sheet
	plan           Plan
	first, last    int
	x0, x1, y0, y1 float64
}

func (l *planLayout) x(n int) float64 {
	pad := 0.8 * l.unit
	return l.x0 + pad + (l.x1-l.x0-2*pad)*float64(n-l.first)/float64(max(l.last-l.first, 1))
}

func (l *planLayout) y(p float64) float64 { return l.y1 - (l.y1-l.y0)*p }

// put draws the panel of a wood.
func (l *planLayout) put(w PlanWood) {
	t := l.small
	if w.Wood != "" {
		l.heading(l.smallBold, clean(w.Wood))
	}
	l.sheet.y += 0.6 * l.unit
	l.y0 = l.sheet.y
	l.y1 = l.y0 + min(0.24*l.width+2*l.unit, 14*l.unit)
	at := *l // what the drawing, which comes later, goes by
	l.draw(func(p *pen) { at.panel(p, w) })
	l.sheet.y = l.y1 + 0.35*l.unit + 2*t.leading() + 0.6*l.unit
}

func (l *planLayout) panel(p *pen, w PlanWood) {
	t := l.small
	for k := range 5 {
		v := 0.25 * float64(k)
		p.line(grid, 1, point{l.x0, l.y(v)}, point{l.x1, l.y(v)})
		p.text(muted, t, l.x0-0.5*l.unit, l.y(v)+t.middle(), right, show.Percent(v))
	}
	if c := l.plan.Chosen; c >= l.first && c <= l.last {
		h := 0.45 * l.unit
		p.rect(alike, 1, l.x(c)-h, l.y0, l.x(c)+h, l.y1)
	}
	p.line(edge, 1, point{l.x0, l.y0}, point{l.x0, l.y1}, point{l.x1, l.y1})
	p.line(edge, 1.2, point{l.x0, l.y(l.plan.Wanted)}, point{l.x1, l.y(l.plan.Wanted)})
	foot := l.y1 + 0.35*l.unit + t.leading()/2 + t.middle()
	end := l.x0 - l.unit
	for _, n := range w.N {
		half := t.width(strconv.Itoa(n)) / 2
		if l.x(n)-half < end+0.7*l.unit {
			continue
		}
		end = l.x(n) + half
		p.line(edge, 1, point{l.x(n), l.y1}, point{l.x(n), l.y1 + 4})
		p.text(muted, t, l.x(n), foot, centre, strconv.Itoa(n))
	}
	p.text(muted, t, (l.x0+l.x1)/2, foot+t.leading(), centre, "specimens of each adhesive in each condition")
	l.curve(p, w.N, w.Limited, true)
	l.curve(p, w.N, w.Found, false)
}

// curve draws a line with a mark at each number: open rings for the wood's share.
func (l *planLayout) curve(p *pen, n []int, v []float64, limited bool) {
	var pts []point
	for k := range n {
		pts = append(pts, point{l.x(n[k]), l.y(v[k])})
	}
	r := l.radius()
	if limited {
		p.line(bandLine, 1.2, pts...)
		for _, q := range pts {
			p.disc(paper, q.x, q.y, r)
			p.ring(bandLine, 1.3, q.x, q.y, r)
		}
		return
	}
	p.line(mark, 2, pts...)
	for _, q := range pts {
		p.disc(mark, q.x, q.y, r)
	}
}

func (l *planLayout) legend() []keyItem {
	u := l.unit
	sample := func(limited bool) func(p *pen, x, y float64) {
		return func(p *pen, x, y float64) {
			r := l.radius()
			if limited {
				p.line(bandLine, 1.2, point{x, y}, point{x + 2*u, y})
				p.disc(paper, x+u, y, r)
				p.ring(bandLine, 1.3, x+u, y, r)
				return
			}
			p.line(mark, 2, point{x, y}, point{x + 2*u, y})
			p.disc(mark, x+u, y, r)
		}
	}
	items := []keyItem{
		{2 * u, sample(false), "found"},
		{2 * u, sample(true), "share of breaks that the wood will end"},
		{2 * u, func(p *pen, x, y float64) { p.line(edge, 1.2, point{x, y}, point{x + 2*u, y}) }, "wanted"},
	}
	if l.plan.Chosen > 0 {
		items = append(items, l.swatch(alike, fmt.Sprintf("planned: %d", l.plan.Chosen)))
	}
	return items
}

func (c Plan) alt() string {
	var out []string
	for _, w := range c.Woods {
		var parts []string
		for k, n := range w.N {
			parts = append(parts, fmt.Sprintf("%d specimens %s, the wood ends %s", n, show.Chance(answer.Value(w.Found[k])), show.Percent(w.Limited[k])))
		}
		where := ""
		if w.Wood != "" {
			where = "On " + clean(w.Wood) + ": "
		}
		out = append(out, where+sentence(parts))
	}
	return fmt.Sprintf("Chance that a difference of %s is found, wanted %s. %s", c.Difference, show.Percent(c.Wanted), strings.Join(out, " "))
}
