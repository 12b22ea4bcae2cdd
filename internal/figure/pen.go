package figure

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// px is a CSS pixel.
const px = vg.Inch / 96

// Surface is what figures are drawn on. Every vg.Canvas is one; the figures need
// no transformations, dashes or images. Its origin is at the bottom left.
type Surface interface {
	SetLineWidth(vg.Length)
	SetColor(color.Color)
	Stroke(vg.Path)
	Fill(vg.Path)
	FillString(f font.Face, pt vg.Point, text string)
}

var _ Surface = vg.Canvas(nil)

// pen draws on a surface in px from the top left.
type pen struct {
	on     Surface
	height float64
	dark   bool
}

type point struct{ x, y float64 }

func (p *pen) at(x, y float64) vg.Point {
	return vg.Point{X: vg.Length(x) * px, Y: vg.Length(p.height-y) * px}
}

func (p *pen) colour(r role, alpha float64) {
	p.on.SetColor(paint{r, uint8(math.Round(255 * alpha)), p.dark})
}

func (p *pen) path(closed bool, pts []point) vg.Path {
	var path vg.Path
	path.Move(p.at(pts[0].x, pts[0].y))
	for _, q := range pts[1:] {
		path.Line(p.at(q.x, q.y))
	}
	if closed {
		path.Close()
	}
	return path
}

func (p *pen) area(r role, alpha float64, pts ...point) {
	p.colour(r, alpha)
	p.on.Fill(p.path(true, pts))
}

func (p *pen) rect(r role, alpha, x0, y0, x1, y1 float64) {
	p.area(r, alpha, point{x0, y0}, point{x1, y0}, point{x1, y1}, point{x0, y1})
}

func (p *pen) stroke(r role, width float64, path vg.Path) {
	p.colour(r, 1)
	p.on.SetLineWidth(vg.Length(width) * px)
	p.on.Stroke(path)
}

func (p *pen) line(r role, width float64, pts ...point) {
	p.stroke(r, width, p.path(false, pts))
}

func (p *pen) outline(r role, width float64, pts ...point) {
	p.stroke(r, width, p.path(true, pts))
}

func (p *pen) circle(x, y, radius float64) vg.Path {
	var path vg.Path
	path.Move(p.at(x+radius, y))
	path.Arc(p.at(x, y), vg.Length(radius)*px, 0, 2*math.Pi)
	path.Close()
	return path
}

func (p *pen) disc(r role, x, y, radius float64) {
	p.colour(r, 1)
	p.on.Fill(p.circle(x, y, radius))
}

func (p *pen) ring(r role, width, x, y, radius float64) {
	p.stroke(r, width, p.circle(x, y, radius))
}

// align says which part of a line of text stands at x.
type align float64

const (
	left   align = 0
	centre align = 0.5
	right  align = 1
)

// text writes a line with its foot at y.
func (p *pen) text(r role, t typeface, x, y float64, a align, s string) {
	x -= float64(a) * t.width(s)
	if _, browser := p.on.(*svgSurface); !browser {
		s = t.drawable(s)
	}
	p.colour(r, 1)
	p.on.FillString(t.face(), p.at(x, y), s)
}

// lines writes lines of text around the middle y.
func (p *pen) lines(r role, t typeface, x, y float64, a align, lines []string) {
	top := y - t.leading()*float64(len(lines)-1)/2
	for k, s := range lines {
		p.text(r, t, x, top+float64(k)*t.leading()+t.middle(), a, s)
	}
}
