package paper

import (
	"fmt"
	"strings"

	"rsc.io/qr"
)

// quiet is the white border that a QR code needs, in modules (ISO/IEC 18004, from
// memory, unconfirmed).
const quiet = 4

// alphanumeric is what the denser mode of QR codes holds (ISO/IEC 18004, from
// memory, unconfirmed; the QR library refuses anything else in that mode).
const alphanumeric = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

// encode returns the smallest QR code of a text, with as much redundancy as goes
// into that size.
func encode(text string) (*qr.Code, error) {
	if text == "" {
		return nil, fmt.Errorf("there is no code")
	}
	if i := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune(alphanumeric, r) }); i >= 0 {
		return nil, fmt.Errorf("code %q: %q does not go into a QR code of the short kind; use capitals, digits and - . / only", text, []rune(text[i:])[0])
	}
	smallest, err := qr.Encode(text, qr.L)
	if err != nil {
		return nil, fmt.Errorf("code %q: %w", text, err)
	}
	for _, level := range []qr.Level{qr.H, qr.Q, qr.M} {
		if c, err := qr.Encode(text, level); err == nil && c.Size == smallest.Size {
			return c, nil
		}
	}
	return smallest, nil
}

// modules is the width of a QR code with its quiet zone, in modules.
func modules(c *qr.Code) int { return c.Size + 2*quiet }

// qr draws a QR code with its quiet zone in a square. All of it is one path, so
// that no hairlines show between its parts.
func (d *document) qr(c *qr.Code, x, y, side float64) {
	m := side / float64(modules(c))
	for row := range c.Size {
		top := y + float64(row+quiet)*m
		for from := 0; from < c.Size; from++ {
			to := from
			for c.Black(to, row) {
				to++
			}
			if to == from {
				continue
			}
			x1, x2 := x+float64(from+quiet)*m, x+float64(to+quiet)*m
			d.pdf.MoveTo(x1, top)
			d.pdf.LineTo(x2, top)
			d.pdf.LineTo(x2, top+m)
			d.pdf.LineTo(x1, top+m)
			d.pdf.ClosePath()
			from = to
		}
	}
	d.pdf.DrawPath("F")
}
