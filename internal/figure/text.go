package figure

import (
	"strconv"
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	stdfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// fontFamily names what an SVG is set in. Liberation Sans, which everything is
// measured with, has the widths of Arial.
const fontFamily = "'Liberation Sans',Arial,Helvetica,sans-serif"

// typeface is a size of Liberation Sans.
type typeface struct {
	size float64 // px
	bold bool
}

var sans = sync.OnceValue(func() [2]*opentype.Font {
	var fonts [2]*opentype.Font
	for k, ttf := range [][]byte{liberationsansregular.TTF, liberationsansbold.TTF} {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic("figure: the built-in font cannot be read")
		}
		fonts[k] = f
	}
	return fonts
})

func (t typeface) font() *opentype.Font {
	if t.bold {
		return sans()[1]
	}
	return sans()[0]
}

// face is the typeface as gonum's canvases take it.
func (t typeface) face() font.Face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(t.size) * px}
	if t.bold {
		f.Weight = stdfont.WeightBold
	}
	return font.Face{Font: f, Face: t.font()}
}

// width returns the width of a line of text in px. A character that the font
// does not have is taken to be as wide as it is high.
func (t typeface) width(s string) float64 {
	var buf sfnt.Buffer
	f := t.font()
	em := fixed.Int26_6(f.UnitsPerEm())
	sum := fixed.Int26_6(0)
	var last sfnt.GlyphIndex
	for _, r := range s {
		glyph, err := f.GlyphIndex(&buf, r)
		if err != nil || glyph == 0 {
			sum, last = sum+em, 0
			continue
		}
		if last != 0 {
			if kern, err := f.Kern(&buf, last, glyph, em, stdfont.HintingNone); err == nil {
				sum += kern
			}
		}
		advance, err := f.GlyphAdvance(&buf, glyph, em, stdfont.HintingNone)
		if err != nil {
			advance = em
		}
		sum, last = sum+advance, glyph
	}
	return float64(sum) / float64(em) * t.size
}

// drawable puts a box for every character that the font does not have. A browser
// finds them in another font.
func (t typeface) drawable(s string) string {
	var buf sfnt.Buffer
	return strings.Map(func(r rune) rune {
		if glyph, err := t.font().GlyphIndex(&buf, r); err != nil || glyph == 0 {
			return '□'
		}
		return r
	}, s)
}

// leading is the distance of two lines of text.
func (t typeface) leading() float64 { return 1.28 * t.size }

// middle is how far below its middle a line of text has its foot.
func (t typeface) middle() float64 { return 0.35 * t.size }

// clean makes a name fit for one line: control characters become spaces, and
// spaces at the ends and runs of them go.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.IsSpace(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	s = strings.Join(strings.Fields(s), " ")
	if s == "" {
		return "(no name)"
	}
	return s
}

// wrap breaks text into lines no wider than most, at spaces that may break; a word
// that is wider by itself is broken where it must.
func (t typeface) wrap(s string, most float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Split(s, " ") {
		switch {
		case line == "":
			line = word
		case t.width(line+" "+word) <= most:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
		for t.width(line) > most {
			head, rest := t.cut(line, most)
			if rest == "" {
				break
			}
			lines = append(lines, head)
			line = rest
		}
	}
	return append(lines, line)
}

// cut splits text where it gets too wide. The head is one character at least.
func (t typeface) cut(s string, most float64) (head, rest string) {
	runes := []rune(s)
	n := len(runes)
	for n > 1 && t.width(string(runes[:n])) > most {
		n--
	}
	return string(runes[:n]), string(runes[n:])
}

// shorten returns lines of text within most px, no more of them than given: what
// does not fit is left out at the end, or in the middle, and … put there.
func (t typeface) shorten(s string, most float64, lines int, middle bool) []string {
	if out := t.wrap(s, most); len(out) <= lines {
		return out
	}
	runes := []rune(s)
	for keep := len(runes) - 1; keep > 0; keep-- {
		tail := 0
		if middle {
			tail = keep / 2
		}
		short := strings.TrimRight(string(runes[:keep-tail]), " ") + "…" + strings.TrimLeft(string(runes[len(runes)-tail:]), " ")
		if out := t.wrap(short, most); len(out) <= lines {
			return out
		}
	}
	return []string{"…"}
}

// labels shortens each name to lines within most px, such that no two that differ
// look the same: names that begin alike are shortened in the middle.
func (t typeface) labels(names []string, most float64, lines int) map[string][]string {
	alike := make(map[string]int)
	out := make(map[string][]string)
	var order []string
	for _, name := range names {
		if _, done := out[name]; !done {
			out[name] = t.shorten(clean(name), most, lines, false)
			order = append(order, name)
			alike[strings.Join(out[name], " ")]++
		}
	}
	taken := make(map[string]bool)
	for _, name := range order {
		if alike[strings.Join(out[name], " ")] > 1 {
			out[name] = t.shorten(clean(name), most, lines, true)
		}
		short := out[name]
		for k := 2; taken[strings.Join(short, " ")]; k++ {
			number := " (" + strconv.Itoa(k) + ")"
			short = t.shorten(clean(name), most-t.width(number), lines, true)
			short[len(short)-1] += number
		}
		taken[strings.Join(short, " ")] = true
		out[name] = short
	}
	return out
}

// widest returns the width of the widest line.
func (t typeface) widest(lines []string) float64 {
	w := 0.0
	for _, l := range lines {
		w = max(w, t.width(l))
	}
	return w
}
