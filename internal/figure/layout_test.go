package figure

import (
	"fmt"
	"math"
	"testing"
)

// everyFigure calls f with each figure of each sample in each style: those of the
// reports, a large one, and one without title.
func everyFigure(t *testing.T, f func(t *testing.T, name string, s Style, fig *Figure)) {
	t.Helper()
	if len(laidOut) == 0 {
		layOut(t)
	}
	for _, l := range laidOut {
		f(t, l.name, l.Style, l.Figure)
	}
}

type laid struct {
	name string
	Style
	*Figure
}

// laidOut are all figures, for the tests, which run one after the other.
var laidOut []laid

func layOut(t *testing.T) {
	t.Helper()
	large, bare := Column(), Phone()
	large.Width, large.Text = 1280*px, 24*px
	bare.Untitled, bare.Dark = true, true
	for _, style := range []Style{Column(), Phone(), large, bare} {
		for _, plan := range plans() {
			laidOut = append(laidOut, laid{fmt.Sprintf("plan to find %s, %v wide", plan.Difference, style.Width), style, PlanChance(plan, style)})
		}
		for name, k := range calibrations(t) {
			laidOut = append(laidOut, laid{fmt.Sprintf("residuals of %s, %v wide", name, style.Width), style, Residuals(k, style)})
		}
	}
	for _, s := range samples() {
		for name, style := range map[string]Style{"column": Column(), "phone": Phone(), "large": large, "bare": bare} {
			style.Units = s.units
			for _, fig := range figures(s.answer(t), style) {
				laidOut = append(laidOut, laid{fmt.Sprintf("%s of %s, %s", fig.name, s.name, name), style, fig.Figure})
			}
		}
	}
}

// Every text and every shape lies on the paper. Text keeps 3 px from its edge.
func TestNothingIsCutOff(t *testing.T) {
	everyFigure(t, func(t *testing.T, name string, _ Style, f *Figure) {
		sheet := box{0, 0, float64(f.Width / px), float64(f.Height / px)}
		inner := box{3, 3, sheet.x1 - 3, sheet.y1 - 3}
		for _, d := range recorded(f) {
			if d.isText() && !inner.covers(d.box) {
				t.Errorf("%s: %q at %v is cut off", name, d.text, d.box)
			}
			if !sheet.covers(d.box) {
				t.Errorf("%s: a shape at %v leaves the paper", name, d.box)
			}
		}
	})
}

func TestNoTextMeetsAnother(t *testing.T) {
	everyFigure(t, func(t *testing.T, name string, _ Style, f *Figure) {
		all := recorded(f)
		for i, d := range all {
			for _, e := range all[i+1:] {
				if d.isText() && e.isText() && d.meets(e.box) {
					t.Errorf("%s: %q at %v meets %q at %v", name, d.text, d.box, e.text, e.box)
				}
			}
		}
	})
}

// isGround says whether text may stand on a fill of this role.
func isGround(r role) bool { return r == paper || r >= stronger }

// No text lies on or under a mark, a bar, a band or a line. A line may pass below
// paper that was laid over it for the text.
func TestNoTextMeetsData(t *testing.T) {
	everyFigure(t, func(t *testing.T, name string, _ Style, f *Figure) {
		all := recorded(f)
		for _, d := range all {
			if !d.isText() {
				continue
			}
			for i, e := range all {
				if e.isText() || isGround(e.role) || !d.meets(e.box) {
					continue
				}
				hidden := false
				for _, over := range all[i:] {
					hidden = hidden || over.role == paper && over.filled && over.covers(d.box)
				}
				if !hidden {
					t.Errorf("%s: %q at %v meets a shape (%s) at %v", name, d.text, d.box, colours[e.role].name, e.box)
				}
			}
		}
	})
}

// The least text of a phone's figure is 11 px, of a column's 10.5 (in the largest
// square).
func TestTextIsNotTooSmall(t *testing.T) {
	everyFigure(t, func(t *testing.T, name string, s Style, f *Figure) {
		least := 10.5
		if s.Width == Phone().Width {
			least = 11
		}
		for _, d := range recorded(f) {
			if d.isText() && d.size < least {
				t.Errorf("%s: %q has a size of %.2f px", name, d.text, d.size)
			}
		}
	})
}

// luminance and contrast are those of WCAG 2.2 (definitions of relative luminance
// and of contrast ratio).
func luminance(rgb uint32) float64 {
	sum := 0.0
	for _, c := range []struct {
		shift  uint
		weight float64
	}{{16, 0.2126}, {8, 0.7152}, {0, 0.0722}} {
		v := float64(rgb>>c.shift&0xff) / 255
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		sum += c.weight * v
	}
	return sum
}

func contrast(a, b uint32) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// WCAG's own extremes: black on white is 21 to 1, a colour on itself 1 to 1.
// 777777 on white is the grey that just fails 4.5 (WebAIM's contrast checker
// gives 4.48; from memory, unconfirmed).
func TestContrastFormula(t *testing.T) {
	for _, c := range []struct {
		a, b uint32
		want float64
	}{{0, 0xffffff, 21}, {0x0072b2, 0x0072b2, 1}, {0x777777, 0xffffff, 4.48}} {
		if got := contrast(c.a, c.b); math.Abs(got-c.want) > 0.005 { // half a unit of the last digit
			t.Errorf("%06x on %06x: %.4f, want %.2f", c.a, c.b, got, c.want)
		}
	}
}

// Text reads against whatever lies below it, in light and dark: 4.5 to 1 (WCAG 2.2,
// 1.4.3). The pairs are those that occur in the figures.
func TestTextContrast(t *testing.T) {
	met := make(map[[2]role]string)
	everyFigure(t, func(t *testing.T, name string, _ Style, f *Figure) {
		all := recorded(f)
		for i, d := range all {
			if !d.isText() {
				continue
			}
			for k := i - 1; k >= 0; k-- {
				if all[k].filled && all[k].meets(d.box) {
					met[[2]role{d.role, all[k].role}] = name
					break
				}
			}
		}
	})
	if len(met) < 7 { // ink and muted on paper, ink on five verdicts
		t.Errorf("only %d pairs of text and ground occur", len(met))
	}
	for pair, name := range met {
		text, ground := colours[pair[0]], colours[pair[1]]
		for _, c := range [][2]uint32{{text.light, ground.light}, {text.dark, ground.dark}} {
			if got := contrast(c[0], c[1]); got < 4.5 {
				t.Errorf("%s: %s on %s has a contrast of %.2f", name, text.name, ground.name, got)
			}
		}
	}
}

// Marks, bars and the wood's line are told from what lies behind them: 3 to 1
// (WCAG 2.2, 1.4.11).
func TestGraphicContrast(t *testing.T) {
	for _, pair := range [][2]role{
		{ink, paper}, {mark, paper}, {bar, paper}, {edge, paper}, {bandLine, paper},
		{mark, band}, {bar, band}, {ink, band}, {bar, alike}, {ink, alike}, {bandLine, band}, {ink, bar},
	} {
		a, b := colours[pair[0]], colours[pair[1]]
		for _, c := range [][2]uint32{{a.light, b.light}, {a.dark, b.dark}} {
			if got := contrast(c[0], c[1]); got < 3 {
				t.Errorf("%s on %s (%06x on %06x) has a contrast of %.2f", a.name, b.name, c[0], c[1], got)
			}
		}
	}
}
