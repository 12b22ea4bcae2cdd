package figure

import (
	"bytes"
	"flag"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"bondtrial/internal/answer"
)

var update = flag.Bool("update", false, "write the golden pictures anew; look at them before they are kept")

// Golden pictures are of built, so that they change with the drawing only.

func golden(t *testing.T, name string, got []byte) []byte {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return want
}

func TestGoldenPNG(t *testing.T) {
	style := Phone()
	style.Dark = true
	for name, f := range map[string]*Figure{"strength.png": Strength(built(), Column()), "drift-dark.png": Drift(built(), "glueing", style)} {
		var b bytes.Buffer
		if err := f.WritePNG(&b, 72); err != nil {
			t.Fatal(err)
		}
		share, err := pixelsApart(b.Bytes(), golden(t, name, b.Bytes()))
		// A processor that fuses multiplication and addition may round the edge of a
		// shape to another level of grey; a mark of 4 × 4 pixels more or less in a
		// picture of 540 × 470 is 6e-5.
		if err != nil || share > 3e-5 {
			t.Errorf("%s: a share of %.1e of the pixels differs, %v", name, share, err)
		}
	}
}

// pixelsApart is the share of pixels that differ by more than a tenth of the
// scale in some channel; 1 where the sizes differ.
func pixelsApart(a, b []byte) (float64, error) {
	x, err := png.Decode(bytes.NewReader(a))
	if err != nil {
		return 1, err
	}
	y, err := png.Decode(bytes.NewReader(b))
	if err != nil || x.Bounds() != y.Bounds() {
		return 1, err
	}
	apart, size := 0, x.Bounds().Size()
	for i := range size.X {
		for k := range size.Y {
			r, g, b, _ := x.At(i, k).RGBA()
			s, h, c, _ := y.At(i, k).RGBA()
			worst := 0.0
			for _, d := range [][2]uint32{{r, s}, {g, h}, {b, c}} {
				worst = max(worst, math.Abs(float64(d[0])-float64(d[1])))
			}
			if worst > 0.1*0xffff {
				apart++
			}
		}
	}
	return float64(apart) / float64(size.X*size.Y), nil
}

func TestGoldenSVG(t *testing.T) {
	ash := answer.Condition{Wood: "ash"}
	list := Phone()
	list.Width = 320 * px
	controlled := built()
	controlled.Settings.Control = "Ghyll"
	controlled.Pairs = slices.DeleteFunc(controlled.Pairs, func(p answer.Pair) bool { return p.B != "Ghyll" })
	for name, f := range map[string]*Figure{"pairs.svg": Pairs(built(), ash, Column()), "pairs-list.svg": Pairs(controlled, ash, list)} {
		svg := f.SVG()
		want := golden(t, name, svg)
		gotText, gotNumbers := numbersApart(svg)
		wantText, wantNumbers := numbersApart(want)
		if gotText != wantText {
			t.Errorf("%s differs in more than numbers:\n%s", name, svg)
			continue
		}
		for k := range gotNumbers {
			// Two units of the last decimal: a length may round the other way on a
			// processor that fuses multiplication and addition.
			if math.Abs(gotNumbers[k]-wantNumbers[k]) > 0.021 {
				t.Errorf("%s: number %d is %v, was %v", name, k, gotNumbers[k], wantNumbers[k])
			}
		}
	}
}

var (
	ids  = regexp.MustCompile(`fig-[0-9a-f]{6,}-[td]`)
	part = regexp.MustCompile(`-?[0-9]+(\.[0-9]+)?`)
)

// numbersApart returns a document with its ids and numbers taken out, and the
// numbers.
func numbersApart(doc []byte) (string, []float64) {
	doc = ids.ReplaceAll(doc, []byte("ID"))
	var numbers []float64
	text := part.ReplaceAllFunc(doc, func(n []byte) []byte {
		v, err := strconv.ParseFloat(string(n), 64)
		if err != nil {
			return n
		}
		numbers = append(numbers, v)
		return []byte("#")
	})
	return string(text), numbers
}
