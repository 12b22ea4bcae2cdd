package paper

import (
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// mmPerPoint converts a size of type to mm.
const mmPerPoint = 25.4 / 72

// leading is the distance of two lines of text in sizes of type.
const leading = 1.2

// capHeight is the height of a capital of Liberation Sans in sizes of type: 1409
// of 2048 units, as its OS/2 table says.
const capHeight = 1409.0 / 2048

var sans = sync.OnceValue(func() [2]*sfnt.Font {
	var fonts [2]*sfnt.Font
	for k, ttf := range [][]byte{liberationsansregular.TTF, liberationsansbold.TTF} {
		f, err := sfnt.Parse(ttf)
		if err != nil {
			panic("paper: the built-in font cannot be read")
		}
		fonts[k] = f
	}
	return fonts
})

// clean makes text fit for one line in the built-in font: composed characters,
// one space in place of white space and control characters, nothing invisible,
// and a box for what the font does not have.
func clean(s string) string {
	s = norm.NFC.String(strings.ToValidUTF8(s, "\uFFFD"))
	var buf sfnt.Buffer
	s = strings.Map(func(r rune) rune {
		switch {
		case r == noBreak:
			return r
		case unicode.IsControl(r), unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Cf, r), unicode.Is(unicode.Variation_Selector, r):
			return -1
		case r > 0xFFFF: // the PDF library ends here
			return '□'
		}
		for _, f := range sans() {
			if glyph, err := f.GlyphIndex(&buf, r); err != nil || glyph == 0 {
				return '□'
			}
		}
		return r
	}, s)
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }), " ")
}

// noBreak is a space at which no line ends.
const noBreak = '\u00a0'

// type_ is a size of type in points.
type type_ struct {
	size float64
	bold bool
}

// height of a line of text, mm.
func (t type_) height() float64 { return t.size * mmPerPoint * leading }

// block is text that is broken into lines.
type block struct {
	type_
	lines []string
}

// height of the block, mm.
func (b block) height() float64 { return float64(len(b.lines)) * b.type_.height() }

// wrap breaks clean text into lines no wider than most, at spaces that may break.
// whole is false when a word that is wider by itself had to be broken.
func (d *document) wrap(t type_, s string, most float64) (lines []string, whole bool) {
	whole = true
	line := ""
	for _, word := range strings.Split(s, " ") {
		switch {
		case line == "":
			line = word
		case d.width(t, line+" "+word) <= most:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
		for d.width(t, line) > most {
			runes := []rune(line)
			n := len(runes)
			for n > 1 && d.width(t, string(runes[:n])) > most {
				n--
			}
			if n == len(runes) { // one character, and wider than there is room
				break
			}
			lines = append(lines, string(runes[:n]))
			line, whole = string(runes[n:]), false
		}
	}
	return append(lines, line), whole
}

// fit sets text into a place of the width and height given: as large as it can
// be, from one size of type down to another. At the least size words may be
// broken, and then what is too much is left out in the middle. The block is
// never larger than the place, unless a single line of the least size is.
func (d *document) fit(s string, width, height float64, most, least float64, bold bool) block {
	s = clean(s)
	for size := most; ; size -= 0.5 {
		t := type_{max(size, least), bold}
		room := max(1, int(height/t.height()+1e-9))
		lines, whole := d.wrap(t, s, width)
		if len(lines) <= room && (whole || t.size == least) {
			return block{t, lines}
		}
		if t.size == least {
			return block{t, d.shorten(t, s, width, room)}
		}
	}
}

// shorten leaves out as little in the middle of the text as makes it fit: of two
// names that begin or end alike the other end still shows.
func (d *document) shorten(t type_, s string, width float64, room int) []string {
	runes := []rune(s)
	// All that fits is less than a few hundred characters: no need to try longer.
	for keep := min(len(runes)-1, 60*room); keep > 0; keep-- {
		tail := keep / 2
		short := strings.TrimRight(string(runes[:keep-tail]), " ") + "…" + strings.TrimLeft(string(runes[len(runes)-tail:]), " ")
		if lines, _ := d.wrap(t, short, width); len(lines) <= room {
			return lines
		}
	}
	return []string{"…"}
}

// unlike fits texts as fit does, such that no two that differ look the same: from
// the second on, a number in brackets is put behind those that would.
func (d *document) unlike(texts []string, fit func(s string) block) map[string]block {
	blocks := make(map[string]block)
	taken := make(map[string]bool)
	for _, s := range texts {
		if _, done := blocks[s]; done {
			continue
		}
		b := fit(s)
		for k := 2; taken[strings.Join(b.lines, "\n")]; k++ {
			b = fit(s + numbered(k))
		}
		taken[strings.Join(b.lines, "\n")] = true
		blocks[s] = b
	}
	return blocks
}
