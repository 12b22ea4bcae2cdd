package photo

import (
	"bytes"
	"slices"
	"strings"
	"unicode/utf8"
)

// kind is what a file is by its content: what it is called, or one of the kinds
// that are read.
type kind string

const (
	kindJPEG kind = "a JPEG picture"
	kindPNG  kind = "a PNG picture"
	kindWebP kind = "a WebP picture"
	kindHEIC kind = "a photo in the HEIC format"
	kindAVIF kind = "a photo in the AVIF format"
	kindNone kind = "an empty file"
)

// advice says why the kind is not read and what to do instead.
func (k kind) advice() string {
	switch k {
	case kindHEIC, kindAVIF:
		return "this is " + string(k) + ", which cannot be read here; in the phone's camera settings choose JPEG, often called 'most compatible', " +
			"in place of 'high efficiency', and take it again, or send a screenshot of it"
	case kindNone:
		return "the file is empty; take the photo again"
	}
	return "this is " + string(k) + "; send a photo as JPEG, PNG or WebP"
}

// starts are the first bytes of files, with a point for any byte.
var starts = []struct {
	bytes string
	kind  kind
}{
	{"\xff\xd8\xff", kindJPEG},
	{"\x89PNG\r\n\x1a\n", kindPNG},
	{"RIFF....WEBP", kindWebP},
	{"RIFF....AVI ", "a film"},
	{"RIFF....WAVE", "a sound recording"},
	{"GIF8", "a GIF picture"},
	{"II*\x00", "a TIFF or raw picture of a camera"},
	{"MM\x00*", "a TIFF or raw picture of a camera"},
	{"II+\x00", "a TIFF or raw picture of a camera"},
	{"\xff\x0a", "a JPEG XL picture"},
	{"\x00\x00\x00\x0cJXL ", "a JPEG XL picture"},
	{"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"},
	{"\x1aE\xdf\xa3", "a film"},
	{"%PDF-", "a PDF document"},
	{"PK\x03\x04", "a packed or office file"},
	{"\x1f\x8b", "a packed file"},
	{"BM....\x00\x00\x00\x00", "a BMP picture"},
}

// The brands of files in the container of ISO/IEC 14496-12 that hold still
// pictures (from memory, unconfirmed).
var (
	heicBrands = []string{"heic", "heix", "heim", "heis", "hevc", "hevx", "hevm", "hevs", "mif1", "msf1", "heif"}
	avifBrands = []string{"avif", "avis"}
)

// sniff says what a file is.
func sniff(b []byte) kind {
	if len(b) == 0 {
		return kindNone
	}
	for _, s := range starts {
		if begins(b, s.bytes) {
			return s.kind
		}
	}
	if begins(b, "....ftyp") {
		return container(b)
	}
	// A character that is cut in two at the end of the piece is no fault.
	head := b[:min(len(b), 512)]
	for cut := 0; cut < utf8.UTFMax && len(head) > 0 && !utf8.Valid(head); cut++ {
		head = head[:len(head)-1]
	}
	if !utf8.Valid(head) || bytes.IndexByte(head, 0) >= 0 || len(head) == 0 {
		return "a file of an unknown kind"
	}
	text := strings.ToLower(string(head))
	switch {
	case strings.Contains(text, "<svg"):
		return "a drawing in the SVG format"
	case strings.Contains(text, "<html"), strings.Contains(text, "<!doctype html"):
		return "a web page"
	}
	return "a text"
}

func begins(b []byte, pattern string) bool {
	if len(b) < len(pattern) {
		return false
	}
	for i := range len(pattern) {
		if pattern[i] != '.' && pattern[i] != b[i] {
			return false
		}
	}
	return true
}

// container tells the files apart that begin with a list of brands.
func container(b []byte) kind {
	size := int(uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3]))
	size = max(0, min(size, len(b), 256))
	var brands []string
	for at := 8; at+4 <= size; at += 4 {
		if at != 12 { // the version of the first brand
			brands = append(brands, string(b[at:at+4]))
		}
	}
	has := func(known []string) bool {
		return slices.ContainsFunc(brands, func(s string) bool { return slices.Contains(known, s) })
	}
	switch {
	case has(avifBrands):
		return kindAVIF
	case has(heicBrands):
		return kindHEIC
	}
	return "a film"
}
