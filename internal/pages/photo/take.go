package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/webp"
)

// Limits says how large a photo may be. A zero is the default; below zero is a
// caller's mistake.
type Limits struct {
	Bytes  int64 // of the file as it comes; default [DefaultBytes]
	Pixels int64 // width × height; with 16 bits a channel each counts double; default [DefaultPixels]
}

// The limits where none are given: common practice, no source. The largest photos
// of phones in use have 50 megapixels and 10 to 20 MB.
const (
	DefaultBytes  = 25_000_000
	DefaultPixels = 50_000_000
)

// ThumbnailSide is the longer side of a thumbnail at most, pixels.
const ThumbnailSide = 480

// Photo is a picture that was taken in.
type Photo struct {
	Kept          []byte // the file to keep: the same pixels, stripped of what is not the picture
	MediaType     string // image/jpeg, image/png or image/webp
	Width, Height int    // of the picture as browsers show it, pixels
	Orientation   int    // EXIF's 1 to 8: how the pixels of Kept are turned; 1 is the right way up
	Thumbnail     []byte // a JPEG, the right way up, on white, neither side above ThumbnailSide, never enlarged
}

// Why is the kind of reason for which a photo is refused.
type Why int

const (
	TooLarge    Why = iota // more bytes or pixels than the limits allow
	WrongFormat            // not a picture, or not one of a kind that is read here
	Broken                 // of the right kind, but cut off or damaged
)

// Refused is the error of a photo that is not taken. Its text says what is wrong
// with the file and what to do.
type Refused struct {
	Why   Why
	Words string
}

func (e *Refused) Error() string { return e.Words }

func refuse(why Why, format string, args ...any) error {
	return &Refused{why, fmt.Sprintf(format, args...)}
}

// codec is a kind of picture that is read.
type codec struct {
	name, mediaType string
	strip           func([]byte) (kept []byte, orientation int, err error)
	config          func(io.Reader) (image.Config, error)
	decode          func(io.Reader) (image.Image, error)
}

var codecs = map[kind]codec{
	kindJPEG: {"JPEG", "image/jpeg", stripJPEG, jpeg.DecodeConfig, jpeg.Decode},
	kindPNG:  {"PNG", "image/png", stripPNG, png.DecodeConfig, png.Decode},
	kindWebP: {"WebP", "image/webp", stripWebP, webp.DecodeConfig, webp.Decode},
}

// decoding is held by whoever decodes: a picture of 50 megapixels takes some
// hundred megabytes, and several phones may send at once.
var decoding = make(chan struct{}, 1)

// Take reads a photo to its end and returns what is kept of it. A photo that is
// not taken gives a *[Refused]; an error of r comes back wrapped.
//
// While another photo is being decoded in this process Take waits.
// It panics when a limit is below 0.
func Take(r io.Reader, limits Limits) (Photo, error) {
	if limits.Bytes < 0 || limits.Pixels < 0 {
		panic("photo: limit below 0")
	}
	if limits.Bytes == 0 {
		limits.Bytes = DefaultBytes
	}
	if limits.Pixels == 0 {
		limits.Pixels = DefaultPixels
	}
	sent, err := io.ReadAll(io.LimitReader(r, limits.Bytes+1))
	if err != nil {
		return Photo{}, fmt.Errorf("receiving the photo: %w", err)
	}
	if int64(len(sent)) > limits.Bytes {
		return Photo{}, refuse(TooLarge, "the photo is larger than %.3g MB; choose a lower resolution in the camera and take it again", float64(limits.Bytes)/1e6)
	}
	k := sniff(sent)
	c, ok := codecs[k]
	if !ok {
		return Photo{}, refuse(WrongFormat, "%s", k.advice())
	}
	kept, orientation, err := c.strip(sent)
	if err != nil {
		return Photo{}, err
	}
	config, err := c.config(bytes.NewReader(kept))
	if err != nil {
		return Photo{}, c.unreadable(err)
	}
	if err := fits(config, limits.Pixels); err != nil {
		return Photo{}, err
	}
	thumbnail, err := c.thumbnail(kept, config, orientation)
	if err != nil {
		return Photo{}, err
	}
	p := Photo{Kept: kept, MediaType: c.mediaType, Width: config.Width, Height: config.Height, Orientation: orientation, Thumbnail: thumbnail}
	if orientation >= 5 {
		p.Width, p.Height = p.Height, p.Width
	}
	return p, nil
}

// fits compares the size in a file's head with the limit.
func fits(c image.Config, limit int64) error {
	if c.Width <= 0 || c.Height <= 0 {
		return refuse(Broken, "the picture has no width or no height; take the photo again")
	}
	// Neither side is above 2³¹, so that the product is below 2⁶².
	need := int64(c.Width) * int64(c.Height)
	switch c.ColorModel {
	case color.NRGBA64Model, color.RGBA64Model:
		need *= 2
	}
	if need > limit {
		return refuse(TooLarge, "the picture has %d × %d pixels, and %.3g million are the most; choose a lower resolution in the camera and take it again",
			c.Width, c.Height, float64(limit)/1e6)
	}
	return nil
}

// thumbnail decodes the kept file, which also shows that it is whole.
func (c codec) thumbnail(kept []byte, config image.Config, orientation int) ([]byte, error) {
	decoding <- struct{}{}
	defer func() { <-decoding }()
	picture, err := c.decode(bytes.NewReader(kept))
	if err != nil {
		return nil, c.unreadable(err)
	}
	if size := picture.Bounds().Size(); size != image.Pt(config.Width, config.Height) {
		return nil, refuse(Broken, "the picture has another size than its head says; take the photo again")
	}
	small := turn(shrink(picture, ThumbnailSide), orientation)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, small, &jpeg.Options{Quality: 82}); err != nil {
		return nil, fmt.Errorf("making the small picture: %w", err)
	}
	return b.Bytes(), nil
}

// unreadable says in words why a decoder gave up.
func (c codec) unreadable(err error) error {
	switch err.(type) {
	case jpeg.UnsupportedError, png.UnsupportedError:
		return refuse(WrongFormat, "this is a %s picture of a rare kind that cannot be read here (%v); save it as an ordinary JPEG and send that", c.name, err)
	}
	return refuse(Broken, "the %s picture is damaged or was cut off on its way (%v); send it again", c.name, err)
}
