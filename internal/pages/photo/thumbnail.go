package photo

import (
	"image"
	"image/draw"
)

// shrink returns the picture on white with its longer side at most that many
// pixels: each pixel is the mean of those it stands for. A picture that is small
// enough keeps its size.
//
// The source is read in bands of as many rows as make one row of the result, so
// that beside the picture little memory is taken.
func shrink(src image.Image, side int) *image.RGBA {
	b := src.Bounds()
	w, h := b.Dx(), b.Dy()
	tw, th := w, h
	if longer := max(w, h); longer > side {
		tw = max(1, (w*side+longer/2)/longer)
		th = max(1, (h*side+longer/2)/longer)
	}
	out := image.NewRGBA(image.Rect(0, 0, tw, th))
	band := image.NewRGBA(image.Rect(0, 0, w, (h+th-1)/th))
	for y := range th {
		top, bottom := h*y/th, h*(y+1)/th
		rows := bottom - top
		for i := range band.Pix[:rows*band.Stride] {
			band.Pix[i] = 255
		}
		draw.Draw(band, image.Rect(0, 0, w, rows), src, b.Min.Add(image.Pt(0, top)), draw.Over)
		for x := range tw {
			mean(out.Pix[out.PixOffset(x, y):], band, w*x/tw, w*(x+1)/tw, rows)
		}
	}
	return out
}

// mean sets one pixel to the mean of the columns from to to of some rows.
func mean(pixel []uint8, band *image.RGBA, from, to, rows int) {
	var r, g, b uint64
	for row := range rows {
		at := row * band.Stride
		for p := band.Pix[at+4*from : at+4*to]; len(p) >= 4; p = p[4:] {
			r += uint64(p[0])
			g += uint64(p[1])
			b += uint64(p[2])
		}
	}
	n := uint64((to - from) * rows)
	pixel[0], pixel[1], pixel[2], pixel[3] = uint8((r+n/2)/n), uint8((g+n/2)/n), uint8((b+n/2)/n), 255
}

// turn returns the picture the right way up, given EXIF's orientation: which side
// of the scene the first row and the first column are (EXIF 2.3, section 4.6.4;
// from memory, unconfirmed):
//
//	1 top, left   2 top, right   3 bottom, right   4 bottom, left
//	5 left, top   6 right, top   7 right, bottom   8 left, bottom
func turn(src *image.RGBA, orientation int) *image.RGBA {
	w, h := src.Rect.Dx(), src.Rect.Dy()
	ow, oh := w, h
	if orientation >= 5 {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	for y := range h {
		for x := range w {
			var to image.Point
			switch orientation {
			case 2:
				to = image.Pt(w-1-x, y)
			case 3:
				to = image.Pt(w-1-x, h-1-y)
			case 4:
				to = image.Pt(x, h-1-y)
			case 5:
				to = image.Pt(y, x)
			case 6:
				to = image.Pt(h-1-y, x)
			case 7:
				to = image.Pt(h-1-y, w-1-x)
			case 8:
				to = image.Pt(y, w-1-x)
			default:
				to = image.Pt(x, y)
			}
			copy(out.Pix[out.PixOffset(to.X, to.Y):][:4], src.Pix[src.PixOffset(x, y):])
		}
	}
	return out
}
