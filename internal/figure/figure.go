package figure

import (
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"bondtrial"
)

// Style is how a figure is drawn. Column and Phone give the usual ones.
type Style struct {
	Width    vg.Length // of the whole figure; the height follows from what is in it
	Text     vg.Length // size of ordinary text; the least text is a little smaller
	Dark     bool      // colours of outputs that have no style sheet, and what an SVG falls back on
	Units    bondtrial.Units
	Untitled bool // leave the title to what is around the figure
}

// Column returns the style of a report's column, 720 px wide.
func Column() Style { return Style{Width: 720 * px, Text: 13 * px} }

// Phone returns the style of an upright phone, 360 px wide. No text is smaller
// than 11 px.
func Phone() Style { return Style{Width: 360 * px, Text: 12.5 * px} }

// Figure is a picture that is laid out and can be drawn.
type Figure struct {
	Title         string
	Alt           string // what the figure shows, in words, with the key numbers and names in full
	Width, Height vg.Length

	dark bool
	ops  []func(*pen)
}

// Draw draws the figure on a surface of its size.
func (f *Figure) Draw(on Surface) {
	p := &pen{on: on, height: float64(f.Height / px), dark: f.dark}
	p.rect(paper, 1, 0, 0, float64(f.Width/px), p.height)
	for _, op := range f.ops {
		op(p)
	}
}

// SVG returns the figure as an SVG element to stand in a page or a file of its
// own. It is as wide as what it stands in, up to the width it was laid out for,
// and takes its colours from ThemeCSS. The same figure gives the same bytes.
func (f *Figure) SVG() []byte {
	s := &svgSurface{height: f.Height}
	f.Draw(s)
	return s.document(f)
}

// WriteSVG writes what SVG returns.
func (f *Figure) WriteSVG(w io.Writer) error {
	_, err := w.Write(f.SVG())
	return err
}

// WritePNG writes the figure as a PNG. At 96 dots an inch a CSS pixel is a pixel.
// It panics where dpi is not positive.
func (f *Figure) WritePNG(w io.Writer, dpi int) error {
	if dpi <= 0 {
		panic("figure: dots an inch must be positive")
	}
	c := vgimg.NewWith(vgimg.UseWH(f.Width, f.Height), vgimg.UseDPI(dpi))
	f.Draw(c)
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}
