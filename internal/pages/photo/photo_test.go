package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func take(t *testing.T, b []byte) Photo {
	t.Helper()
	p, err := Take(bytes.NewReader(b), Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// pixels decodes a file with the decoder of its kind.
func pixels(t testing.TB, b []byte) image.Image {
	t.Helper()
	m, err := codecs[sniff(b)].decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func near(a, b color.Color) bool {
	ar, ag, ab, _ := a.RGBA()
	br, bg, bb, _ := b.RGBA()
	// A tenth of the range: what JPEG does to plain areas is far less.
	for _, d := range []int{int(ar) - int(br), int(ag) - int(bg), int(ab) - int(bb)} {
		if d < -6553 || d > 6553 {
			return false
		}
	}
	return true
}

func TestEveryWayUp(t *testing.T) {
	for o := 1; o <= 8; o++ {
		for name, sent := range phoneFiles(t, o) {
			t.Run(fmt.Sprintf("%d %s", o, name), func(t *testing.T) {
				p := take(t, sent)
				if p.Orientation != o || p.Width != sceneWidth || p.Height != sceneHeight {
					t.Errorf("orientation %d, %d × %d; want %d, %d × %d", p.Orientation, p.Width, p.Height, o, sceneWidth, sceneHeight)
				}
				small, err := jpeg.Decode(bytes.NewReader(p.Thumbnail))
				if err != nil {
					t.Fatal(err)
				}
				if small.Bounds() != image.Rect(0, 0, sceneWidth, sceneHeight) {
					t.Fatalf("the small picture is %v", small.Bounds())
				}
				for corner, want := range scene {
					x, y := 8, 8
					if corner[0] == "bottom" {
						y = sceneHeight - 8
					}
					if corner[1] == "right" {
						x = sceneWidth - 8
					}
					if got := small.At(x, y); !near(got, want) {
						t.Errorf("%s %s is %v, want %v", corner[0], corner[1], got, want)
					}
				}
			})
		}
	}
}

// Browsers show a WebP as it is stored, so that is how it is taken.
func TestWebPIsTakenAsStored(t *testing.T) {
	p := take(t, phoneWebP(stored(6), exifWithPlace(binary.BigEndian, 6)))
	small := pixels(t, p.Thumbnail)
	if p.Orientation != 1 || p.Width != sceneHeight || p.Height != sceneWidth || small.Bounds() != image.Rect(0, 0, sceneHeight, sceneWidth) {
		t.Errorf("orientation %d, %d × %d, small picture %v", p.Orientation, p.Width, p.Height, small.Bounds())
	}
	// What lies top left when the first row is the right side and the first column the top.
	if got := small.At(8, 8); !near(got, green) {
		t.Errorf("top left is %v", got)
	}
	for _, transparent := range []bool{false, true} {
		p := take(t, lossyWebP(t, transparent, exifWithPlace(binary.BigEndian, 6)))
		small := pixels(t, p.Thumbnail)
		if p.Width != 40 || p.Height != 24 || !near(small.At(8, 12), color.RGBA{0xc0, 0x30, 0x20, 255}) || !near(small.At(34, 20), white) {
			t.Errorf("%d × %d, left %v, lower right %v", p.Width, p.Height, small.At(8, 12), small.At(34, 20))
		}
	}
}

func TestNothingButThePictureIsKept(t *testing.T) {
	for _, o := range []int{1, 6} {
		files := phoneFiles(t, o)
		files["webp"] = phoneWebP(stored(o), exifWithPlace(binary.LittleEndian, o))
		files["lossy webp"] = lossyWebP(t, false, exifWithPlace(binary.LittleEndian, o))
		files["transparent webp"] = lossyWebP(t, true, exifWithPlace(binary.LittleEndian, o))
		for name, sent := range files {
			t.Run(fmt.Sprintf("%d %s", o, name), func(t *testing.T) {
				before := 0
				for _, s := range secrets {
					before += bytes.Count(sent, s)
				}
				if before < 2 {
					t.Fatalf("the file to strip holds %d of the things to strip", before)
				}
				p := take(t, sent)
				for _, s := range append(secrets, []byte("8BIM"), []byte("xap"), []byte("XMP"), []byte("MPF")) {
					if bytes.Contains(p.Kept, s) || bytes.Contains(p.Thumbnail, s) {
						t.Errorf("%q is still there", s)
					}
				}
				if bytes.Contains(sent, profile) && !bytes.Contains(p.Kept, profile) {
					t.Error("the colour profile is gone")
				}
				if d := cmp.Diff(pixels(t, sent), pixels(t, p.Kept)); d != "" {
					t.Errorf("other pixels: %s", d)
				}
				again := take(t, p.Kept)
				if !bytes.Equal(again.Kept, p.Kept) || again.Orientation != p.Orientation {
					t.Errorf("stripped twice it is another file, orientation %d", again.Orientation)
				}
			})
		}
	}
}

// A plain file of an encoder comes back as it is.
func TestPlainFilesAreKeptAsTheyAre(t *testing.T) {
	m := stored(1)
	gray := image.NewGray(image.Rect(0, 0, 30, 20))
	for i := range gray.Pix {
		gray.Pix[i] = byte(i * 7)
	}
	for name, sent := range map[string][]byte{
		"jpeg": encodeJPEG(t, m), "grey jpeg": encodeJPEG(t, gray), "png": encodePNG(t, m), "grey png": encodePNG(t, gray),
		"webp": webpFile("VP8L", string(losslessPixels(m))), "progressive jpeg": inPasses(2),
	} {
		t.Run(name, func(t *testing.T) {
			if p := take(t, sent); !bytes.Equal(p.Kept, sent) || p.Orientation != 1 {
				t.Errorf("%d bytes sent, %d kept, orientation %d", len(sent), len(p.Kept), p.Orientation)
			}
		})
	}
}

func TestThumbnailSize(t *testing.T) {
	// Sides by the rule of three, rounded.
	for _, c := range []struct{ w, h, tw, th int }{
		{960, 640, 480, 320}, {640, 960, 320, 480}, {480, 480, 480, 480}, {481, 100, 480, 100}, {7, 5, 7, 5}, {2000, 1, 480, 1}, {1, 3000, 1, 480},
	} {
		m := image.NewGray(image.Rect(0, 0, c.w, c.h))
		p := take(t, encodePNG(t, m))
		got, err := jpeg.DecodeConfig(bytes.NewReader(p.Thumbnail))
		if err != nil || got.Width != c.tw || got.Height != c.th {
			t.Errorf("%d × %d gives %d × %d, %v; want %d × %d", c.w, c.h, got.Width, got.Height, err, c.tw, c.th)
		}
	}
}

// The mean of every pixel counts, and what can be seen through is white.
func TestShrinkIsTheMean(t *testing.T) {
	m := image.NewNRGBA(image.Rect(3, 5, 3+4, 5+2))
	for i, v := range []uint8{10, 20, 30, 40, 50, 60, 70, 80} {
		m.SetNRGBA(3+i%4, 5+i/4, color.NRGBA{v, v, v, 255})
	}
	m.SetNRGBA(3, 5, color.NRGBA{})
	s := shrink(m, 2)
	// (255 + 20 + 50 + 60)/4 = 96.25 and (30 + 40 + 70 + 80)/4 = 55, by hand.
	if s.Bounds() != image.Rect(0, 0, 2, 1) || s.RGBAAt(0, 0) != (color.RGBA{96, 96, 96, 255}) || s.RGBAAt(1, 0) != (color.RGBA{55, 55, 55, 255}) {
		t.Errorf("%v %v %v", s.Bounds(), s.RGBAAt(0, 0), s.RGBAAt(1, 0))
	}
}

func refused(t *testing.T, err error, why Why, words string) {
	t.Helper()
	var r *Refused
	if !errors.As(err, &r) || r.Why != why || !strings.Contains(r.Words, words) {
		t.Errorf("error %v; want one of kind %d with %q", err, why, words)
	}
}

// allocated is how many bytes f takes from the heap.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

func TestTooManyPixelsAreRefusedUndecoded(t *testing.T) {
	head := binary.BigEndian.AppendUint32(nil, 60_000)
	head = binary.BigEndian.AppendUint32(head, 60_000)
	bomb := []byte(pngHead)
	bomb = append(bomb, pngChunk("IHDR", append(head, 8, 6, 0, 0, 0))...)
	bomb = append(bomb, pngChunk("IDAT", []byte("\x78\x9c"))...)
	bomb = append(bomb, pngChunk("IEND", nil)...)

	plain := encodeJPEG(t, stored(1))
	sof := bytes.Index(plain, []byte{0xff, markSOF0})
	wide := bytes.Clone(plain)
	copy(wide[sof+5:], "\xff\xdc\xff\xdc") // 65,500 × 65,500

	var lossless bits
	lossless.put(0x2f, 8)
	lossless.put(1<<14-1, 14)
	lossless.put(1<<14-1, 14)
	lossless.put(0, 64)
	for name, sent := range map[string][]byte{"png": bomb, "jpeg": wide, "webp": webpFile("VP8L", string(lossless.b))} {
		var err error
		// The pixels would be hundreds of megabytes at the least; 1 MB is room for buffers.
		if n := allocated(func() { _, err = Take(bytes.NewReader(sent), Limits{}) }); n > 1<<20 {
			t.Errorf("%s: %d bytes taken", name, n)
		}
		refused(t, err, TooLarge, "million are the most")
	}

	// A small head before a large picture does not get past the limit either.
	x := []byte{0, 0, 0, 0, 9, 0, 0, 9, 0, 0}
	var err error
	if n := allocated(func() {
		_, err = Take(bytes.NewReader(webpFile("VP8X", string(x), "VP8L", string(lossless.b))), Limits{})
	}); n > 1<<20 {
		t.Errorf("small head: %d bytes taken", n)
	}
	refused(t, err, Broken, "WebP picture is damaged")
}

func TestLimits(t *testing.T) {
	m := image.NewNRGBA64(image.Rect(0, 0, 100, 100))
	m.SetNRGBA64(3, 3, color.NRGBA64{1, 2, 3, 4})
	deep := encodePNG(t, m)
	if _, err := Take(bytes.NewReader(deep), Limits{Pixels: 20_000}); err != nil {
		t.Error(err)
	}
	_, err := Take(bytes.NewReader(deep), Limits{Pixels: 19_999})
	refused(t, err, TooLarge, "100 × 100 pixels")

	if _, err := Take(bytes.NewReader(deep), Limits{Bytes: int64(len(deep))}); err != nil {
		t.Error(err)
	}
	endless := io.MultiReader(bytes.NewReader(deep), zeros{})
	_, err = Take(endless, Limits{Bytes: int64(len(deep))})
	refused(t, err, TooLarge, "MB")
	_, err = Take(bytes.NewReader(inPasses(mostScans+1)), Limits{})
	refused(t, err, WrongFormat, "passes")
}

// zeros has no end.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestEveryCutIsRefused(t *testing.T) {
	m := stored(6)
	for name, whole := range map[string][]byte{
		"jpeg": encodeJPEG(t, m),
		"png":  encodePNG(t, m),
		"webp": webpFile("VP8L", string(losslessPixels(m))),
	} {
		for n := range whole {
			_, err := Take(bytes.NewReader(whole[:n]), Limits{})
			var r *Refused
			if !errors.As(err, &r) {
				t.Fatalf("%s cut at %d of %d: error %v", name, n, len(whole), err)
			}
			if n >= 16 && r.Why != Broken {
				t.Fatalf("%s cut at %d of %d: %v", name, n, len(whole), err)
			}
		}
	}
}

func TestOtherFilesAreRefusedByWhatTheyAre(t *testing.T) {
	for _, c := range []struct{ sent, words string }{
		{"", "the file is empty"},
		{"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", "HEIC format, which cannot be read here; in the phone's camera settings choose JPEG"},
		{"\x00\x00\x00\x1cftypmif1\x00\x00\x00\x00mif1heicmiaf", "HEIC"},
		{"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00mif1avifmiaf", "AVIF"},
		{"\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ", "a film"},
		{"\xff\xff\xff\xffftyp", "a film"},
		{"GIF89a", "a GIF picture"},
		{"II*\x00\x08\x00\x00\x00", "TIFF or raw"},
		{"%PDF-1.7", "a PDF document"},
		{"PK\x03\x04", "a packed or office file"},
		{"BM\x36\x00\x03\x00\x00\x00\x00\x00\x36", "a BMP picture"},
		{"<?xml version='1.0'?><svg xmlns='http://www.w3.org/2000/svg'/>", "a drawing in the SVG format"},
		{"<!DOCTYPE html><title>x</title>", "a web page"},
		{"Maße der Probe", "this is a text; send a photo as JPEG, PNG or WebP"},
		{strings.Repeat("x", 511) + "ß", "this is a text"},
		{"\x00\x01\x02\x03", "a file of an unknown kind"},
		{string(webpFile("VP8X", "\x02\x00\x00\x00\x00\x00\x00\x00\x00\x00", "ANMF", "x")), "animated"},
	} {
		_, err := Take(strings.NewReader(c.sent), Limits{})
		refused(t, err, WrongFormat, c.words)
	}
}

// A lost connection is not the photo's fault.
func TestErrorsOfTheSenderComeBack(t *testing.T) {
	_, err := Take(io.MultiReader(strings.NewReader("\xff\xd8\xff"), broken{}), Limits{})
	var r *Refused
	if !errors.Is(err, io.ErrUnexpectedEOF) || errors.As(err, &r) {
		t.Errorf("error %v", err)
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, io.ErrUnexpectedEOF }

func TestOneIsDecodedAtATime(t *testing.T) {
	sent := encodePNG(t, stored(1))
	decoding <- struct{}{} // as if another were being decoded
	const phones = 4
	done := make(chan error, phones)
	for range phones {
		go func() {
			_, err := Take(bytes.NewReader(sent), Limits{})
			done <- err
		}()
	}
	select {
	case err := <-done:
		t.Errorf("one was taken while another was decoded; error %v", err)
	case <-time.After(50 * time.Millisecond):
	}
	<-decoding
	for range phones {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}

func TestOrientationOfBrokenBlocks(t *testing.T) {
	good := exifWithPlace(binary.LittleEndian, 6)
	if got := orientation(good); got != 6 {
		t.Fatalf("orientation %d, want 6", got)
	}
	for name, change := range map[string]func([]byte) []byte{
		"no block":             func(b []byte) []byte { return nil },
		"another order":        func(b []byte) []byte { b[0] = 'X'; return b },
		"directory behind end": func(b []byte) []byte { b[7] = 0xff; return b },
		"no such way":          func(b []byte) []byte { b[8+2+12+8] = 9; return b },
		"way 0":                func(b []byte) []byte { b[8+2+12+8] = 0; return b },
		"another type":         func(b []byte) []byte { b[8+2+12+2] = 5; return b },
		"two values":           func(b []byte) []byte { b[8+2+12+4] = 2; return b },
		"cut in the entry":     func(b []byte) []byte { return b[:8+2+12+11] },
	} {
		if got := orientation(change(bytes.Clone(good))); got != 1 {
			t.Errorf("%s: orientation %d, want 1", name, got)
		}
	}
	for o := 1; o <= 8; o++ {
		if got := orientation(orientationBlock(o)); got != o {
			t.Errorf("block for %d reads as %d", o, got)
		}
	}
}

func TestLimitBelowZeroPanics(t *testing.T) {
	defer func() {
		if r := recover(); r != "photo: limit below 0" {
			t.Errorf("panic %v", r)
		}
	}()
	_, _ = Take(strings.NewReader(""), Limits{Pixels: -1})
}
