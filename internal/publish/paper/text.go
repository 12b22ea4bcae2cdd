package paper

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
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
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }), " ")
	return beforeUnit.ReplaceAllString(s, "${1}"+string(noBreak)+"${2}")
}

// beforeUnit finds the space between a number and its unit,
// where no line ends.
var beforeUnit = regexp.MustCompile(`(\d) (%|°|mm\b|min\b|h\b|g\b|kg\b|N\b|kN\b|MPa\b|psi\b|in\b)`)

// noBreak is a space at which no line ends.
const noBreak = '\u00a0'

// typeface is a size of type in points.
type typeface struct {
	size float64
	bold bool
}

// height of a line of text, mm.
func (t typeface) height() float64 { return t.size * mmPerPoint * leading }

// width of a line of clean text, mm.
func (d *document) width(t typeface, s string) float64 {
	sum := 0.0
	for _, r := range s {
		sum += d.advance(r, t.bold)
	}
	return sum * t.size * mmPerPoint
}

// advance is the width of a character in sizes of type, in thousandths as the PDF
// has it. Text is set without kerning.
func (d *document) advance(r rune, bold bool) float64 {
	k := 0
	if bold {
		k = 1
	}
	if w, known := d.advances[k][r]; known {
		return w
	}
	var buf sfnt.Buffer
	f := sans()[k]
	em := fixed.Int26_6(f.UnitsPerEm())
	w := 1.0
	if glyph, err := f.GlyphIndex(&buf, r); err == nil {
		if units, err := f.GlyphAdvance(&buf, glyph, em, font.HintingNone); err == nil {
			w = math.Round(1000*float64(units)/float64(em)) / 1000
		}
	}
	d.advances[k][r] = w
	return w
}

// block is text that is broken into lines.
type block struct {
	typeface
	lines     []string
	shortened bool // something is left out
}

// height of the block, mm.
func (b block) height() float64 { return float64(len(b.lines)) * b.typeface.height() }

// wrap breaks clean text into lines no wider than most, at spaces that may break.
// whole is false when a word that is wider by itself had to be broken.
func (d *document) wrap(t typeface, s string, most float64) (lines []string, whole bool) {
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
			head := d.head(t, line, most)
			if head == line { // one character, and wider than there is room
				break
			}
			lines = append(lines, head)
			line, whole = line[len(head):], false
		}
	}
	return append(lines, line), whole
}

// head is as much of the text as is no wider than most, one character at least.
func (d *document) head(t typeface, s string, most float64) string {
	sum := 0.0
	for i, r := range s {
		sum += d.advance(r, t.bold)
		if i > 0 && sum*t.size*mmPerPoint > most {
			return s[:i]
		}
	}
	return s
}

// longest is the most characters that are tried to be fitted; no place holds as
// many.
const longest = 1200

// fit sets text into a place of the width and height given: as large as it can
// be, from one size of type down to another. At the least size words may be
// broken, and then what is too much is left out in the middle. The block is
// never larger than the place, unless a single line of the least size is.
func (d *document) fit(s string, width, height float64, most, least float64, bold bool) block {
	s = clean(s)
	long := false
	if runes := []rune(s); len(runes) > longest {
		s, long = string(runes[:longest/2])+"…"+string(runes[len(runes)-longest/2:]), true
	}
	for size := most; ; size -= 0.5 {
		t := typeface{max(size, least), bold}
		if t.height() > height && t.size > least {
			continue
		}
		room := max(1, int(height/t.height()+1e-9))
		lines, whole := d.wrap(t, s, width)
		if len(lines) <= room && (whole || t.size == least) {
			return block{t, lines, long}
		}
		if t.size == least {
			return block{t, d.shorten(t, s, width, room), true}
		}
	}
}

// shorten leaves out as little in the middle of the text as makes it fit: of two
// names that begin or end alike the other end still shows.
func (d *document) shorten(t typeface, s string, width float64, room int) []string {
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
			b = fit(s + " (" + strconv.Itoa(k) + ")")
		}
		taken[strings.Join(b.lines, "\n")] = true
		blocks[s] = b
	}
	return blocks
}
