package answers

import (
	"fmt"
	"html/template"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/figure"
	"bondtrial/internal/record"
)

// Figure is a figure of an answer that can be drawn in any style.
type Figure struct {
	Name  string // for an address or a file: small letters of ASCII, digits and hyphens
	Title string
	Draw  func(figure.Style) *figure.Figure
}

// Figures returns the figures that an answer has, in the order in which they are
// shown, each with a name of its own.
func (k *Kept) Figures() []Figure { return k.figures() }

func figuresOf(a *answer.Answer) []Figure {
	var out []Figure
	used := make(map[string]bool)
	add := func(name, title string, draw func(figure.Style) *figure.Figure) {
		if draw(figure.Column()) == nil {
			return
		}
		base := name
		for n := 2; used[name]; n++ {
			name = fmt.Sprintf("%s-%d", base, n)
		}
		used[name] = true
		out = append(out, Figure{name, title, draw})
	}
	add("strength", "Strength of the adhesives", func(s figure.Style) *figure.Figure { return figure.Strength(a, s) })
	for _, c := range a.Conditions() {
		name, title := "pairs", "Which is stronger"
		if c.String() != (answer.Condition{}).String() {
			name, title = "pairs-"+record.Slug(c.String()), title+": "+c.String()
		}
		add(name, title, func(s figure.Style) *figure.Figure { return figure.Pairs(a, c, s) })
	}
	add("chance", "Chance of being the strongest", func(s figure.Style) *figure.Figure { return figure.Chance(a, s) })
	for _, d := range a.Drifts {
		add("drift-"+d.Order, "Along the order of "+d.Order, func(s figure.Style) *figure.Figure { return figure.Drift(a, d.Order, s) })
	}
	return out
}

// picture is a figure drawn for a wide and a narrow screen, to stand in a page.
type picture struct{ Wide, Narrow template.HTML }

// pictures are the figures of an answer in one system of units; nil where there is
// nothing to draw.
type pictures struct {
	Strength, Chance *picture
	Pairs            []*picture // in the order of Answer.Conditions
	Drifts           []*picture // in the order of Answer.Drifts
}

func (p *pictures) all() []*picture {
	return append(append([]*picture{p.Strength, p.Chance}, p.Pairs...), p.Drifts...)
}

// size is the length of all pictures, bytes.
func (p *pictures) size() int {
	n := 0
	for _, one := range p.all() {
		if one != nil {
			n += len(one.Wide) + len(one.Narrow)
		}
	}
	return n
}

// pictures returns the figures as pages show them. They are drawn once for each
// system of units.
func (k *Kept) pictures(u bondtrial.Units) *pictures {
	k.mu.Lock()
	defer k.mu.Unlock()
	if p := k.drawn[u]; p != nil {
		return p
	}
	a := k.Answer
	p := &pictures{
		Strength: draw(u, func(s figure.Style) *figure.Figure { return figure.Strength(a, s) }),
		Chance:   draw(u, func(s figure.Style) *figure.Figure { return figure.Chance(a, s) }),
	}
	for _, c := range a.Conditions() {
		p.Pairs = append(p.Pairs, draw(u, func(s figure.Style) *figure.Figure { return figure.Pairs(a, c, s) }))
	}
	for _, d := range a.Drifts {
		p.Drifts = append(p.Drifts, draw(u, func(s figure.Style) *figure.Figure { return figure.Drift(a, d.Order, s) }))
	}
	k.drawn[u] = p
	return p
}

// draw draws a figure for both screens. What a person typed is escaped in what
// package figure returns.
func draw(u bondtrial.Units, f func(figure.Style) *figure.Figure) *picture {
	// The column is wider than a report's. On a tablet it is drawn at three quarters of
	// its size, so its letters are larger than a report's too.
	column, phone := figure.Column().WithWidth(960), figure.Phone()
	column.Text *= 14.5 / 13
	column.Units, phone.Units = u, u
	wide, narrow := f(column), f(phone)
	if wide == nil || narrow == nil {
		return nil
	}
	return &picture{template.HTML(wide.InlineSVG()), template.HTML(narrow.InlineSVG())}
}
