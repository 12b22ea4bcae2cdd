package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/jpeg"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func FuzzOrientation(f *testing.F) {
	f.Add(exifWithPlace(binary.LittleEndian, 6))
	f.Add(exifWithPlace(binary.BigEndian, 3))
	f.Add(orientationBlock(8))
	f.Fuzz(func(t *testing.T, b []byte) {
		o := orientation(b)
		if o < 1 || o > 8 {
			t.Fatalf("orientation %d", o)
		}
		if got := orientation(orientationBlock(o)); got != o {
			t.Fatalf("block for %d reads as %d", o, got)
		}
	})
}

// Whatever is sent is refused in words, or kept as a file that shows the same
// pixels as it did and from which nothing more can be stripped.
func FuzzTake(f *testing.F) {
	for _, o := range []int{1, 6} {
		for _, b := range phoneFiles(f, o) {
			f.Add(b)
		}
	}
	f.Add(phoneWebP(stored(6), exifWithPlace(binary.BigEndian, 6)))
	f.Add(lossyWebP(f, false, nil))
	f.Add(lossyWebP(f, true, nil))
	small := image.NewRGBA(image.Rect(0, 0, 3, 2))
	f.Add(encodeJPEG(f, small))
	f.Add(encodePNG(f, small))
	f.Add(webpFile("VP8L", string(losslessPixels(small))))
	f.Add(inPasses(3))
	f.Add([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"))
	limits := Limits{Pixels: 100_000, Bytes: 100_000}
	f.Fuzz(func(t *testing.T, sent []byte) {
		p, err := Take(bytes.NewReader(sent), limits)
		if err != nil {
			var r *Refused
			if !errors.As(err, &r) || r.Words == "" {
				t.Fatalf("error %v", err)
			}
			return
		}
		small, err := jpeg.DecodeConfig(bytes.NewReader(p.Thumbnail))
		if err != nil || small.Width > ThumbnailSide || small.Height > ThumbnailSide {
			t.Fatalf("small picture %v, %v", small, err)
		}
		if was, err := codecs[sniff(sent)].decode(bytes.NewReader(sent)); err == nil {
			if d := cmp.Diff(was, pixels(t, p.Kept)); d != "" {
				t.Fatalf("other pixels: %s", d)
			}
		}
		again, err := Take(bytes.NewReader(p.Kept), Limits{})
		if err != nil || !bytes.Equal(again.Kept, p.Kept) || again.Orientation != p.Orientation {
			t.Fatalf("stripped again: %v, %d bytes of %d", err, len(again.Kept), len(p.Kept))
		}
	})
}
