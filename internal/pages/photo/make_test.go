package photo

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"slices"
	"testing"
)

// Things that a photo must not keep. Each is told from chance by its length.
var (
	latitude = []byte{0, 0, 0, 47, 0, 0, 0, 1, 0, 0, 0, 11, 0, 0, 0, 1, 0, 0, 0x0b, 0xd6, 0, 0, 0, 100}
	secrets  = [][]byte{latitude, []byte("camera of a certain person"), []byte("a remark about the place"), []byte("GPSLatitude")}
	profile  = []byte("ICC_PROFILE\x00\x01\x01the colours of a screen, as if")
)

// sides are the sides of the scene on which the first row and the first column of
// the stored picture lie, by EXIF's orientation (EXIF 2.3, section 4.6.4; from
// memory, unconfirmed; Chromium 156 shows the kept JPEGs the same way).
var sides = [9]struct{ row, column string }{
	1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
	5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"},
}

var opposite = map[string]string{"top": "bottom", "bottom": "top", "left": "right", "right": "left"}

var (
	red   = color.RGBA{255, 0, 0, 255}
	green = color.RGBA{0, 255, 0, 255}
	blue  = color.RGBA{0, 0, 255, 255}
	white = color.RGBA{255, 255, 255, 255}
)

// scene is the picture as it should be seen: what colour each corner is.
var scene = map[[2]string]color.RGBA{
	{"top", "left"}: red, {"top", "right"}: green, {"bottom", "left"}: blue, {"bottom", "right"}: white,
}

const sceneWidth, sceneHeight = 96, 64

// stored returns the scene as a camera stores it that was held another way.
func stored(orientation int) *image.RGBA {
	w, h := sceneWidth, sceneHeight
	s := sides[orientation]
	if s.row == "left" || s.row == "right" {
		w, h = h, w
	}
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			row, column := s.row, s.column
			if y >= h/2 {
				row = opposite[row]
			}
			if x >= w/2 {
				column = opposite[column]
			}
			if c, ok := scene[[2]string{row, column}]; ok {
				m.SetRGBA(x, y, c)
			} else {
				m.SetRGBA(x, y, scene[[2]string{column, row}])
			}
		}
	}
	return m
}

// exifWithPlace is an EXIF block with a maker's name, the way up and a place.
func exifWithPlace(order binary.AppendByteOrder, orientation int) []byte {
	b := []byte("II*\x00")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		b = []byte("MM\x00*")
	}
	maker := append([]byte("camera of a certain person"), 0)
	const first = 8
	const gps = first + 2 + 3*entryBytes + 4
	const values = gps + 2 + 2*entryBytes + 4
	entry := func(tag, kind uint16, count, value uint32) {
		b = order.AppendUint16(b, tag)
		b = order.AppendUint16(b, kind)
		b = order.AppendUint32(b, count)
		if kind == typeShort {
			b = order.AppendUint16(b, uint16(value))
			b = append(b, 0, 0)
			return
		}
		b = order.AppendUint32(b, value)
	}
	b = order.AppendUint32(b, first)
	b = order.AppendUint16(b, 3)
	entry(0x010f, 2, uint32(len(maker)), values+uint32(len(latitude)))
	entry(tagOrientation, typeShort, 1, uint32(orientation))
	entry(0x8825, 4, 1, gps)
	b = order.AppendUint32(b, 0)
	b = order.AppendUint16(b, 2)
	entry(1, 2, 2, 'N')
	entry(2, 5, 3, values)
	b = order.AppendUint32(b, 0)
	b = append(b, latitude...)
	return append(b, maker...)
}

func encodeJPEG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func encodePNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// phoneJPEG is a JPEG with all that a phone puts around the picture.
func phoneJPEG(t testing.TB, m image.Image, exif []byte) []byte {
	plain := encodeJPEG(t, m)
	b := slices.Clone(plain[:2])
	preview := append([]byte("JFIF\x00\x01\x02\x01\x00\x48\x00\x48\x03\x03"), "a remark about the place..."...) // 3 × 3 pixels
	b = appendSegment(b, markAPP0, preview)
	b = appendSegment(b, markAPP1, append([]byte(exifMark), exif...))
	b = appendSegment(b, markAPP1, []byte("http://ns.adobe.com/xap/1.0/\x00<exif:GPSLatitude>47,11.3N</exif:GPSLatitude>"))
	b = appendSegment(b, markAPP2, profile)
	b = appendSegment(b, markAPP2, []byte("MPF\x00a remark about the place"))
	b = appendSegment(b, 0xed, []byte("Photoshop 3.0\x00a remark about the place"))
	b = appendSegment(b, 0xfe, []byte("a remark about the place"))
	b = append(b, "between the parts: camera of a certain person"...)
	b = append(b, plain[2:]...)
	// A second picture and a film behind the end of the first.
	b = append(b, plain...)
	return append(b, "ftypmp42 camera of a certain person"...)
}

// phonePNG is a PNG with everything that may stand beside the picture.
func phonePNG(t testing.TB, m image.Image, exif []byte) []byte {
	plain := encodePNG(t, m)
	const head = 8 + 25 // what comes before, and IHDR
	b := slices.Clone(plain[:head])
	for _, c := range []struct{ name, content string }{
		{"eXIf", string(exif)},
		{"gAMA", "\x00\x00\xb1\x8f"},
		{"tEXt", "Comment\x00a remark about the place"},
		{"zTXt", "Comment\x00\x00a remark about the place"},
		{"iTXt", "XML:com.adobe.xmp\x00\x00\x00\x00\x00<exif:GPSLatitude>47,11.3N</exif:GPSLatitude>"},
		{"tIME", "\x07\xea\x0b\x19\x0c\x00\x00"},
		{"prVt", "camera of a certain person"},
	} {
		b = append(b, pngChunk(c.name, []byte(c.content))...)
	}
	b = append(b, plain[head:]...)
	return append(b, "camera of a certain person"...)
}

// bits writes numbers with their lowest bit first, as the lossless WebP does.
type bits struct {
	b []byte
	n int
}

func (w *bits) put(value uint32, count int) {
	for i := range count {
		if w.n%8 == 0 {
			w.b = append(w.b, 0)
		}
		w.b[w.n/8] |= byte(value>>i&1) << (w.n % 8)
		w.n++
	}
}

// losslessPixels codes a picture whose channels are 0 or 255, without transforms
// or references, so that each channel takes one bit (RFC 9649, section 3).
func losslessPixels(m *image.RGBA) []byte {
	var w bits
	size := m.Bounds().Size()
	w.put(0x2f, 8)
	w.put(uint32(size.X-1), 14)
	w.put(uint32(size.Y-1), 14)
	w.put(0, 1+3) // opaque; version
	w.put(0, 1)   // no transform
	w.put(0, 1)   // no colour cache
	w.put(0, 1)   // one group of codes
	for range 3 { // green, red, blue: two symbols, the first of one bit
		w.put(1, 1)
		w.put(1, 1)
		w.put(0, 1)
		w.put(0, 1)
		w.put(255, 8)
	}
	for _, only := range []uint32{255, 0} { // alpha, distance: one symbol of eight bits
		w.put(1, 1)
		w.put(0, 1)
		w.put(1, 1)
		w.put(only, 8)
	}
	for y := range size.Y {
		for x := range size.X {
			c := m.RGBAAt(x, y)
			w.put(uint32(c.G&1), 1)
			w.put(uint32(c.R&1), 1)
			w.put(uint32(c.B&1), 1)
		}
	}
	return w.b
}

func webpFile(parts ...string) []byte {
	b := []byte("RIFF\x00\x00\x00\x00WEBP")
	for i := 0; i < len(parts); i += 2 {
		b = append(b, parts[i]...)
		b = binary.LittleEndian.AppendUint32(b, uint32(len(parts[i+1])))
		b = append(b, parts[i+1]...)
		if len(parts[i+1])%2 == 1 {
			b = append(b, 0)
		}
	}
	binary.LittleEndian.PutUint32(b[4:], uint32(len(b)-8))
	return b
}

// phoneWebP is a lossless WebP with everything that may stand beside the picture.
func phoneWebP(m *image.RGBA, exif []byte) []byte {
	size := m.Bounds().Size()
	x := []byte{webpICC | webpExif | webpXMP, 0, 0, 0, byte(size.X - 1), 0, 0, byte(size.Y - 1), 0, 0}
	b := webpFile("VP8X", string(x), "ICCP", string(profile), "VP8L", string(losslessPixels(m)), "EXIF", string(exif),
		"XMP ", "<exif:GPSLatitude>47,11.3N</exif:GPSLatitude>", "prvt", "camera of a certain person")
	return append(b, "a remark about the place"...)
}

// lossyWebP is a picture of 40 × 24 pixels, the left half a dull red, that
// Chromium 156 coded from a canvas, quality 0.5; its upper right quarter is half
// transparent and its lower right quarter is empty where transparent is true.
func lossyWebP(t testing.TB, transparent bool, exif []byte) []byte {
	plain := func(s string) string {
		b, err := base64.StdEncoding.DecodeString(s)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	x := []byte{webpExif, 0, 0, 0, 39, 0, 0, 23, 0, 0}
	if !transparent {
		return webpFile("VP8X", string(x), "VP8 ", plain("8AMAnQEqKAAYAD7RVKNLqCSjIbAIAQAaCUAZAlK2V/gSpHveAu0yQAD+54v/Nh4EUf/8EFxBcQVnX8gBeON76W5qeLktyS0ablckmhDIQtWoAAAA"),
			"EXIF", string(exif))
	}
	x[0] |= 1 << 4 // transparency
	return webpFile("VP8X", string(x), "ALPH", plain("ARcgEEhSn3yNiAgHIm2bmbzJ2xwej+j/BMx3Eq4B"),
		"VP8 ", plain("kAQAnQEqKAAYAD7FTqBLp6QjIbVYDADwGIlkAMxL1voE2AV//uAAEIU/0o7AAP7oOL9dHp+X/+IcococzFybA849WZTuNx/r1etcbz+Db91uKwRbe9nmK9u+Bg+5e1xSsAqKCw/2v//usnrveu0AAA=="),
		"EXIF", string(exif))
}

// phoneFiles are the scene in each format, held each way.
func phoneFiles(t testing.TB, orientation int) map[string][]byte {
	m := stored(orientation)
	return map[string][]byte{
		"jpeg, low byte first":  phoneJPEG(t, m, exifWithPlace(binary.LittleEndian, orientation)),
		"jpeg, high byte first": phoneJPEG(t, m, exifWithPlace(binary.BigEndian, orientation)),
		"png":                   phonePNG(t, m, exifWithPlace(binary.LittleEndian, orientation)),
	}
}

// inPasses is a progressive JPEG of 8 × 8 grey pixels in as many passes.
func inPasses(passes int) []byte {
	b := []byte{0xff, markSOI}
	b = appendSegment(b, markDQT, append([]byte{0}, bytes.Repeat([]byte{1}, 64)...))
	b = appendSegment(b, 0xc2, []byte{8, 0, 8, 0, 8, 1, 1, 0x11, 0})
	for _, table := range []byte{0x00, 0x10} { // one code of one bit: no difference; nothing more in this block
		b = appendSegment(b, 0xc4, append([]byte{table, 1}, make([]byte, 15+1)...))
	}
	b = appendSegment(b, markSOS, []byte{1, 1, 0x00, 0, 0, 0x00})
	b = append(b, 0x7f)
	for range passes - 1 {
		b = appendSegment(b, markSOS, []byte{1, 1, 0x00, 1, 63, 0x00})
		b = append(b, 0x7f)
	}
	return append(b, 0xff, markEOI)
}
