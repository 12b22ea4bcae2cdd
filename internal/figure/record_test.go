package figure

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// box is a rectangle in px, y upwards.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) covers(c box) bool {
	return b.x0 <= c.x0 && b.y0 <= c.y0 && b.x1 >= c.x1 && b.y1 >= c.y1
}

func (b box) meets(c box) bool { return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1 }

func (b box) String() string {
	return fmt.Sprintf("%.1f–%.1f × %.1f–%.1f", b.x0, b.x1, b.y0, b.y1)
}

// drawn is what a figure put on a surface, in order.
type drawn struct {
	box
	role   role
	alpha  uint8
	text   string // empty for a shape
	size   float64
	filled bool
}

// record is a surface that notes where everything lies.
type record struct {
	all   []drawn
	paint paint
	width float64
}

func (r *record) SetLineWidth(w vg.Length) { r.width = float64(w / px) }
func (r *record) SetColor(c color.Color)   { r.paint = c.(paint) }
func (r *record) Stroke(p vg.Path)         { r.shape(p, r.width/2, false) }
func (r *record) Fill(p vg.Path)           { r.shape(p, 0, true) }

func (r *record) shape(p vg.Path, around float64, filled bool) {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, c := range p {
		if c.Type == vg.CloseComp {
			continue
		}
		x, y, reach := float64(c.Pos.X/px), float64(c.Pos.Y/px), float64(c.Radius/px)+around
		b = box{min(b.x0, x-reach), min(b.y0, y-reach), max(b.x1, x+reach), max(b.y1, y+reach)}
	}
	r.all = append(r.all, drawn{box: b, role: r.paint.role, alpha: r.paint.alpha, filled: filled})
}

// FillString notes the box from the lowest descender to the highest ascender of
// the font: 0.21 below the foot and 0.73 above in Liberation Sans (its hhea table
// has 0.212 and 0.905, the latter with room for accents).
func (r *record) FillString(f font.Face, pt vg.Point, text string) {
	size := float64(f.Font.Size / px)
	t := typeface{size: size, bold: f.Font.Weight > 0}
	x, y := float64(pt.X/px), float64(pt.Y/px)
	r.all = append(r.all, drawn{box: box{x, y - 0.21*size, x + t.width(text), y + 0.73*size},
		role: r.paint.role, alpha: r.paint.alpha, text: text, size: size})
}

func recorded(f *Figure) []drawn {
	var r record
	f.Draw(&r)
	return r.all
}

func (d drawn) isText() bool { return d.text != "" }
