package figure

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"bondtrial/internal/answer"
)

var pictures = flag.String("pictures", "", "write pictures of all samples into this folder, to look at")

// named is a figure of a sample.
type named struct {
	name string
	*Figure
}

// figures draws everything there is to draw of an answer.
func figures(a *answer.Answer, s Style) []named {
	var out []named
	add := func(name string, f *Figure) {
		if f != nil {
			out = append(out, named{name, f})
		}
	}
	add("strength", Strength(a, s))
	for k, c := range a.Conditions() {
		add(fmt.Sprintf("pairs%d", k+1), Pairs(a, c, s))
	}
	add("chance", Chance(a, s))
	for _, order := range []string{"glueing", "breaking"} {
		add("drift-"+order, Drift(a, order, s))
	}
	return out
}

func styles() map[string]Style { return map[string]Style{"column": Column(), "phone": Phone()} }

func TestPictures(t *testing.T) {
	if *pictures == "" {
		return
	}
	for _, s := range samples() {
		for name, style := range styles() {
			style.Units = s.units
			for _, dark := range []bool{false, true} {
				style.Dark = dark
				suffix := ""
				if dark {
					suffix = "-dark"
				}
				for _, f := range figures(s.answer(t), style) {
					to := filepath.Join(*pictures, fmt.Sprintf("%s-%s-%s%s", f.name, s.name, name, suffix))
					png, err := os.Create(to + ".png")
					if err != nil {
						t.Fatal(err)
					}
					if err := f.WritePNG(png, 96); err != nil {
						t.Fatal(err)
					}
					png.Close()
					if !dark {
						if err := os.WriteFile(to+".svg", f.SVG(), 0o644); err != nil {
							t.Fatal(err)
						}
					}
				}
			}
		}
	}
}
