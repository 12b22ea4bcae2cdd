package figure

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"hash/fnv"
	"image/color"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// svgSurface writes a figure as SVG in px. It is here, in place of gonum's own,
// for colours by role, coordinates of two decimals, neighbours of one style in one
// group, and text that keeps its measured width in whatever font it is shown.
type svgSurface struct {
	height vg.Length
	form   svgForm
	body   bytes.Buffer
	style  string // of the group that is open; empty: none is

	paint paint
	width vg.Length
}

func (s *svgSurface) SetLineWidth(w vg.Length) { s.width = w }
func (s *svgSurface) SetColor(c color.Color)   { s.paint = c.(paint) }

// Fill fills a path.
func (s *svgSurface) Fill(p vg.Path) {
	s.group("fill:" + s.colour() + s.opacity("fill"))
	s.shape(p)
}

// Stroke draws a line along a path.
func (s *svgSurface) Stroke(p vg.Path) {
	s.group("fill:none;stroke:" + s.colour() + s.opacity("stroke") + ";stroke-width:" + decimals(s.width))
	s.shape(p)
}

// FillString writes a line of text.
func (s *svgSurface) FillString(f font.Face, pt vg.Point, text string) {
	t := typeface{size: float64(f.Font.Size / px), bold: f.Font.Weight > 0}
	style := "font-size:" + decimals(f.Font.Size) + "px"
	if t.bold {
		style += ";font-weight:bold"
	}
	s.group(style + ";fill:" + s.colour() + s.opacity("fill"))
	fmt.Fprintf(&s.body, `<text x="%s" y="%s" textLength="%s">%s</text>`+"\n",
		decimals(pt.X), decimals(s.height-pt.Y), decimals(vg.Length(t.width(text))*px), escape(text))
}

func (s *svgSurface) opacity(of string) string {
	if s.paint.alpha == math.MaxUint8 {
		return ""
	}
	return fmt.Sprintf(";%s-opacity:%.2f", of, float64(s.paint.alpha)/math.MaxUint8)
}

// group opens a group of the style, unless it is open already.
func (s *svgSurface) group(style string) {
	if style == s.style {
		return
	}
	s.endGroup()
	s.style = style
	s.body.WriteString("<g" + s.form.attributes(style) + ">\n")
}

func (s *svgSurface) endGroup() {
	if s.style != "" {
		s.body.WriteString("</g>\n")
	}
	s.style = ""
}

// shape writes a path: straight lines, or one full circle.
func (s *svgSurface) shape(p vg.Path) {
	var d strings.Builder
	var x, y string
	for _, c := range p {
		lastX, lastY := x, y
		x, y = decimals(c.Pos.X), decimals(s.height-c.Pos.Y)
		switch c.Type {
		case vg.MoveComp:
			d.WriteString("M" + x + " " + y)
		case vg.LineComp:
			switch {
			case y == lastY:
				d.WriteString("H" + x)
			case x == lastX:
				d.WriteString("V" + y)
			default:
				d.WriteString("L" + x + " " + y)
			}
		case vg.CloseComp:
			d.WriteString("Z")
		case vg.ArcComp:
			fmt.Fprintf(&s.body, `<circle cx="%s" cy="%s" r="%s"/>`+"\n", x, y, decimals(c.Radius))
			return
		default:
			panic("figure: the path is neither straight nor a circle")
		}
	}
	fmt.Fprintf(&s.body, `<path d="%s"/>`+"\n", d.String())
}

// document returns the whole SVG. Its ids are unique to what it shows, so that
// several can stand in one page.
func (s *svgSurface) document(f *Figure) []byte {
	s.endGroup()
	h := fnv.New64a()
	h.Write([]byte(f.Title + "\x00" + f.Alt + "\x00" + decimals(f.Width) + "\x00"))
	h.Write(s.body.Bytes())
	id := fmt.Sprintf("fig-%x", h.Sum64())
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %[1]s %[2]s"%[3]s role="img" aria-labelledby="%[4]s-t" aria-describedby="%[4]s-d">
<title id="%[4]s-t">%[5]s</title>
<desc id="%[4]s-d">%[6]s</desc>
`, decimals(f.Width), decimals(f.Height), s.form.size(f), id, escape(f.Title), escape(f.Alt))
	out.Write(s.body.Bytes())
	out.WriteString("</svg>\n")
	return out.Bytes()
}

// decimals writes a length in px with two decimals at most.
func decimals(l vg.Length) string {
	hundredths := math.Round(float64(l/px) * 100)
	if hundredths == 0 {
		return "0" // and not -0
	}
	return strconv.FormatFloat(hundredths/100, 'f', -1, 64)
}

// escape makes text fit for XML; what XML cannot hold becomes U+FFFD.
func escape(s string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(s)) // a Builder does not fail
	return b.String()
}
