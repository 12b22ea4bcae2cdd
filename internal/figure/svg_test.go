package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image"
	"image/png"
	"io"
	"regexp"
	"strings"
	"testing"

	"bondtrial"
	"bondtrial/internal/answer"
)

// element is what the tests look at of an SVG.
type element struct {
	name  string
	attrs map[string]string
	text  string
}

// parse reads a document strictly; an error means that it is not well-formed.
func parse(doc []byte) ([]element, error) {
	var out []element
	var open []int
	d := xml.NewDecoder(bytes.NewReader(doc))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return out, err
		}
		switch x := token.(type) {
		case xml.StartElement:
			e := element{name: x.Name.Local, attrs: make(map[string]string)}
			for _, a := range x.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			open = append(open, len(out))
			out = append(out, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				out[open[len(open)-1]].text += string(x)
			}
		}
	}
}

// Every figure is a well-formed SVG with a role, a title and a description, and
// ids that no figure has that looks otherwise.
func TestSVG(t *testing.T) {
	owner := make(map[string][]byte)
	everyFigure(t, func(t *testing.T, name string, s Style, f *Figure) {
		doc := f.SVG()
		all, err := parse(doc)
		if err != nil || len(all) < 4 {
			t.Errorf("%s: %v in\n%s", name, err, doc)
			return
		}
		root, title, desc := all[0], all[1], all[2]
		if root.name != "svg" || root.attrs["role"] != "img" || root.attrs["viewBox"] == "" || root.attrs["width"] != "100%" || root.attrs["height"] != "" {
			t.Errorf("%s: the root is %v", name, root)
		}
		if !strings.Contains(root.attrs["style"], "font-family:'Liberation Sans',Arial,Helvetica,sans-serif") {
			t.Errorf("%s: the fonts are %q", name, root.attrs["style"])
		}
		if title.name != "title" || title.text != f.Title || root.attrs["aria-labelledby"] != title.attrs["id"] ||
			desc.name != "desc" || desc.text != f.Alt || root.attrs["aria-describedby"] != desc.attrs["id"] {
			t.Errorf("%s: title %v, description %v, root %v", name, title, desc, root)
		}
		for _, e := range all {
			id, ok := e.attrs["id"]
			if other, taken := owner[id]; ok && taken && !bytes.Equal(doc, other) {
				t.Errorf("%s has an id of another figure", name)
			}
			if ok {
				owner[id] = doc
			}
		}
	})
}

// What stands on the sheet is what stands in the names, whatever is in them.
func TestEscaping(t *testing.T) {
	everySample(t, func(t *testing.T, s sample, a *answer.Answer) {
		if s.name != "escape" {
			return
		}
		all, err := parse(Strength(a, Column()).SVG())
		if err != nil {
			t.Fatal(err)
		}
		shown := make(map[string]bool)
		for _, e := range all {
			if e.name == "text" {
				shown[e.text] = true
			}
			if !strings.Contains(" svg title desc g path circle text ", " "+e.name+" ") {
				t.Errorf("there is an element %q", e.name)
			}
		}
		for _, want := range []string{`<b>&"'</b>`, "Pérolé-Grønland №5 Łyżka", "(no name)", "胶水", "]]>&amp;", `frêne & <ash>"`} {
			if !shown[want] {
				t.Errorf("%q is not shown", want)
			}
		}
	})
}

var (
	number  = regexp.MustCompile(`-?[0-9]+\.[0-9]+`)
	colour  = regexp.MustCompile(`(?:fill|stroke):(var\(--fig-[a-z-]+,#[0-9a-f]{6}\)|none|[^;"]*)`)
	varName = regexp.MustCompile(`var\((--fig-[a-z-]+),`)
)

// Coordinates have two decimals at most, colours are variables of the theme, and a
// figure of some ninety specimens stays below 80 kB.
func TestSVGIsCompactAndThemed(t *testing.T) {
	theme := ThemeCSS()
	everyFigure(t, func(t *testing.T, name string, s Style, f *Figure) {
		doc := string(f.SVG())
		if len(doc) > 80_000 {
			t.Errorf("%s: %d bytes", name, len(doc))
		}
		body := doc[strings.Index(doc, "</desc>"):]
		for _, e := range strings.Split(body, "\n") {
			if strings.HasPrefix(e, "<text") {
				e = e[:strings.Index(e, ">")] // the text itself may hold any number
			}
			for _, n := range number.FindAllString(e, -1) {
				if len(n)-strings.Index(n, ".") > 3 {
					t.Errorf("%s: %s has too many decimals", name, n)
				}
			}
		}
		for _, c := range colour.FindAllStringSubmatch(body, -1) {
			v := varName.FindStringSubmatch(c[1])
			if c[1] != "none" && (v == nil || strings.Count(theme, v[1]+":#") != 2) { // in light and in dark
				t.Errorf("%s: the colour %q is not of the theme", name, c[1])
			}
		}
	})
}

// The same figure gives the same bytes, whether drawn again or laid out again, and
// whatever the order of the readings.
func TestSameBytes(t *testing.T) {
	first := figures(built(), Column())
	for k, again := range figures(built(), Column()) {
		one, two, three := first[k].SVG(), first[k].SVG(), again.SVG()
		if !bytes.Equal(one, two) || !bytes.Equal(one, three) {
			t.Errorf("%s: different bytes", again.name)
		}
		var a, b bytes.Buffer
		if err := errors.Join(first[k].WritePNG(&a, 96), again.WritePNG(&b, 96)); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("%s: different PNGs, %v", again.name, err)
		}
	}
	rs := workshop()
	a, err := compute(rs, "", "prep")
	if err != nil {
		t.Fatal(err)
	}
	turned := make([]bondtrial.Reading, len(rs))
	for k, r := range rs {
		turned[len(rs)-1-k] = r
	}
	b, err := compute(turned, "", "prep")
	if err != nil {
		t.Fatal(err)
	}
	others := figures(b, Phone())
	for k, f := range figures(a, Phone()) {
		if !bytes.Equal(f.SVG(), others[k].SVG()) {
			t.Errorf("%s depends on the order of the readings", f.name)
		}
	}
}

// A column of 720 px has as many pixels at 96 dots an inch, and twice as many at
// 192. Its ground is the paper's colour.
func TestPNG(t *testing.T) {
	for _, dark := range []bool{false, true} {
		style := Column()
		style.Dark = dark
		f := Strength(built(), style)
		for dpi, want := range map[int]int{96: 720, 192: 1440} {
			var b bytes.Buffer
			if err := f.WritePNG(&b, dpi); err != nil {
				t.Fatal(err)
			}
			img, err := png.Decode(&b)
			if err != nil {
				t.Fatal(err)
			}
			if got := img.Bounds().Size(); got.X != want || float64(got.Y) != float64(f.Height/px)*float64(dpi)/96 {
				t.Errorf("%d dpi: %v", dpi, got)
			}
			for _, at := range []image.Point{{0, 0}, img.Bounds().Max.Sub(image.Pt(1, 1))} {
				r, g, b, a := img.At(at.X, at.Y).RGBA()
				if got := r>>8<<16 | g>>8<<8 | b>>8; got != (paint{role: paper, alpha: 255, dark: dark}).rgb() || a != 0xffff {
					t.Errorf("dark %v: the corner %v is %06x", dark, at, got)
				}
			}
		}
	}
}

// A translucent colour is premultiplied, as color.Color demands: no part of it is
// above its alpha.
func TestPaintIsPremultiplied(t *testing.T) {
	r, g, b, a := paint{role: paper, alpha: 51}.RGBA() // white at 20 %
	if a != 51*0x101 || r != a || g != a || b != a {
		t.Errorf("white at 20 %% is %x %x %x %x", r, g, b, a)
	}
}

func TestMistakesPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"no width": func() { Strength(built(), Style{Text: 10}) },
		"no text":  func() { Strength(built(), Style{Width: 100}) },
		"no dots":  func() { Strength(built(), Column()).WritePNG(io.Discard, 0) },
	} {
		func() {
			defer func() {
				if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "figure: ") {
					t.Errorf("%s: recovered %v", name, s)
				}
			}()
			f()
		}()
	}
}
