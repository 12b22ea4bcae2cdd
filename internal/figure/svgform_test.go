package figure

import (
	"bytes"
	"image/png"
	"regexp"
	"strings"
	"testing"
)

var (
	styleAttribute = regexp.MustCompile(`<[^>]* style="`)
	openColour     = regexp.MustCompile(`<[^>]*var\(`)
)

// Each form shows the same: the same elements with the same text in the same places.
// Only how colours are said differs.
func TestForms(t *testing.T) {
	everyFigure(t, func(t *testing.T, name string, s Style, f *Figure) {
		want, err := parse(f.SVG())
		if err != nil {
			t.Fatal(err)
		}
		for form, doc := range map[string][]byte{"inline": f.InlineSVG(), "file": f.FileSVG()} {
			got, err := parse(doc)
			if err != nil {
				t.Fatalf("%s: %v", form, err)
			}
			if styleAttribute.Match(doc) {
				t.Errorf("%s: a style attribute", form)
			}
			if form == "file" && openColour.Match(doc) {
				t.Error("file: a colour is left to a style sheet")
			}
			if len(got) != len(want) {
				t.Fatalf("%s: %d elements, want %d", form, len(got), len(want))
			}
			for i := range want {
				if got[i].name != want[i].name || got[i].text != want[i].text && got[i].name == "text" || got[i].attrs["d"] != want[i].attrs["d"] {
					t.Fatalf("%s: element %d is %v, want %v", form, i, got[i], want[i])
				}
				for _, property := range strings.Split(want[i].attrs["style"], ";") {
					if k, v, _ := strings.Cut(property, ":"); want[i].name == "g" && form == "inline" && got[i].attrs[k] != v {
						t.Errorf("inline: %s is %q, want %q", k, got[i].attrs[k], v)
					}
				}
			}
		}
	})
}

// Pixels foretells what WritePNG writes.
func TestPixels(t *testing.T) {
	left := 4 // of all figures: they take long to draw
	everyFigure(t, func(t *testing.T, name string, s Style, f *Figure) {
		if left--; left < 0 {
			return
		}
		var b bytes.Buffer
		if err := f.WritePNG(&b, 150); err != nil {
			t.Fatal(err)
		}
		c, err := png.DecodeConfig(&b)
		if err != nil {
			t.Fatal(err)
		}
		if w, h := f.Pixels(150); w != c.Width || h != c.Height {
			t.Errorf("%d × %d, foretold %d × %d", c.Width, c.Height, w, h)
		}
	})
}
