package figure

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// svgForm is what an SVG is for.
type svgForm int

const (
	onPage   svgForm = iota // to stand in a page with ThemeCSS
	inPage                  // the same, where the page's policy forbids style attributes
	asItself                // a file of its own, for programs that know no style sheets
)

// attributes writes the style of a group, "fill:none;stroke:red".
func (f svgForm) attributes(style string) string {
	if f == onPage {
		return ` style="` + style + `"`
	}
	var b strings.Builder
	for one := range strings.SplitSeq(style, ";") {
		name, value, _ := strings.Cut(one, ":")
		b.WriteString(" " + name + `="` + value + `"`)
	}
	return b.String()
}

// size writes how large the figure is and what it is set in.
func (f svgForm) size(of *Figure) string {
	width, height := decimals(of.Width), decimals(of.Height)
	switch f {
	case inPage:
		return fmt.Sprintf(` width="100%%" font-family="%s"`, fontFamily)
	case asItself:
		return fmt.Sprintf(` width="%s" height="%s" font-family="%s"`, width, height, fontFamily)
	}
	return fmt.Sprintf(` width="100%%" style="max-width:%spx;height:auto;font-family:%s"`, width, fontFamily)
}

// colour is the present colour as a value of a style or an attribute.
func (s *svgSurface) colour() string {
	if s.form == asItself {
		return fmt.Sprintf("#%06x", s.paint.rgb())
	}
	return s.paint.css()
}

// InlineSVG returns the figure as SVG does, for a page whose policy forbids style
// attributes. It fills the width it stands in: the page's style sheet is to say how
// wide that may be at most.
func (f *Figure) InlineSVG() []byte {
	s := &svgSurface{height: f.Height, form: inPage}
	f.Draw(s)
	return s.document(f)
}

// FileSVG returns the figure as an SVG file for programs that know no style sheets:
// of its own size, its colours, light or dark as the style says, written out.
func (f *Figure) FileSVG() []byte {
	s := &svgSurface{height: f.Height, form: asItself}
	f.Draw(s)
	return s.document(f)
}

// WithWidth returns the style for a figure of another width, CSS pixels. It panics
// where that is not positive.
func (s Style) WithWidth(pixels float64) Style {
	if !(pixels > 0) {
		panic("figure: a width must be positive")
	}
	s.Width = vg.Length(pixels) * px
	return s
}

// Pixels returns the size of the PNG that WritePNG writes.
func (f *Figure) Pixels(dpi int) (width, height int) {
	return int(f.Width.Dots(float64(dpi)) + 0.5), int(f.Height.Dots(float64(dpi)) + 0.5)
}
