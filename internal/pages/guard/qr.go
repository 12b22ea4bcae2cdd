package guard

import (
	"bufio"
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"

	"rsc.io/qr"
)

// quiet is the white border that a QR code needs, in modules (ISO/IEC 18004, from
// memory, unconfirmed).
const quiet = 4

// Black on white by numbers of the 256 colours that no theme of a terminal
// changes, and back.
const (
	blackOnWhite = "\x1b[38;5;16;48;5;231m"
	asBefore     = "\x1b[0m"
)

// QR writes a text as a QR code for a terminal, black on white whatever the
// terminal's colours are, two modules a line in half blocks, with its quiet zone.
// Where the output is not a terminal, or one without such characters, blocks is
// false and the text itself is written. The text is of printable ASCII, since
// readers disagree about the rest, and at most some 2,300 characters.
func QR(w io.Writer, text string, blocks bool) error {
	if !blocks {
		_, err := fmt.Fprintln(w, text)
		return err
	}
	c, err := encode(text)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	for y := -quiet; y < c.Size+quiet; y += 2 {
		out.WriteString(blackOnWhite)
		for x := -quiet; x < c.Size+quiet; x++ {
			switch top, bottom := c.Black(x, y), c.Black(x, y+1); {
			case top && bottom:
				out.WriteRune('█')
			case top:
				out.WriteRune('▀')
			case bottom:
				out.WriteRune('▄')
			default:
				out.WriteByte(' ')
			}
		}
		out.WriteString(asBefore + "\n")
	}
	return out.Flush()
}

// QRPicture returns a text as a QR code for a page: a PNG, eight pixels a module,
// with its quiet zone. The text is as for QR.
func QRPicture(text string) ([]byte, error) {
	const scale = 8
	c, err := encode(text)
	if err != nil {
		return nil, err
	}
	side := (c.Size + 2*quiet) * scale
	m := image.NewPaletted(image.Rect(0, 0, side, side), color.Palette{color.White, color.Black})
	for y := range side {
		for x := range side {
			if c.Black(x/scale-quiet, y/scale-quiet) {
				m.SetColorIndex(x, y, 1)
			}
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		return nil, fmt.Errorf("drawing the QR code: %w", err)
	}
	return b.Bytes(), nil
}

// encode returns the smallest QR code of a text with as much redundancy as goes
// into that size.
func encode(text string) (*qr.Code, error) {
	if text == "" {
		return nil, fmt.Errorf("there is no text for a QR code")
	}
	for _, r := range text {
		if r < ' ' || r > '~' {
			return nil, fmt.Errorf("%q in %q does not go into a QR code; use letters, digits and signs of ASCII", r, text)
		}
	}
	smallest, err := qr.Encode(text, qr.L)
	if err != nil {
		return nil, fmt.Errorf("a text of %d characters is too long for a QR code; use a shorter one", len(text))
	}
	for _, level := range []qr.Level{qr.H, qr.Q, qr.M} {
		if c, err := qr.Encode(text, level); err == nil && c.Size == smallest.Size {
			return c, nil
		}
	}
	return smallest, nil
}
