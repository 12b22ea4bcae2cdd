package figure

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bondtrial/internal/rig"
)

// calibrations are what the figure of residuals is tried with: a good rig, one read
// going up only, a bad one, and one with very many readings. Made up.
func calibrations(t testing.TB) map[string]*rig.Calibration {
	t.Helper()
	out := make(map[string]*rig.Calibration)
	for name, c := range map[string]struct {
		series, loads int
		step, wave    float64
		down          bool
	}{"good": {3, 6, 150, 0.001, true}, "up only": {2, 5, 2000, 0.004, false}, "bad": {3, 8, 0.5, 0.05, true}, "many": {40, 20, 1, 0.01, true}} {
		var points []rig.Point
		for s := range c.series {
			for i := range c.loads {
				load := c.step * float64(1+i)
				shown := 10 * load * (1 + c.wave*math.Sin(float64(7*s+3*i)))
				points = append(points, rig.Point{Series: strconv.Itoa(s), Direction: rig.Up, Load: load, Unit: "N", Shown: shown})
				if c.down {
					points = append(points, rig.Point{Series: strconv.Itoa(s), Direction: rig.Down, Load: load, Unit: "N", Shown: shown * (1 + c.wave/2)})
				}
			}
		}
		k, err := rig.Calibrate(points, rig.Conditions{ShownUnit: "counts", Resolution: 1, Date: "2027-03-01"})
		if err != nil {
			t.Fatal(name, err)
		}
		out[name] = k
	}
	return out
}

var tags = regexp.MustCompile(`(<[^>]*>)+`)

func TestResiduals(t *testing.T) {
	if Residuals(&rig.Calibration{}, Column()) != nil {
		t.Error("a figure of nothing")
	}
	all := calibrations(t)
	for name, parts := range map[string][]string{
		"good": {"Distance of 36 readings", "from 150 to 900 N", "18 reached by hanging up, 18 by taking down"}, "up only": {"10 reached by hanging up, 0 by taking down"},
	} {
		f := Residuals(all[name], Column())
		for _, p := range parts {
			if !strings.Contains(f.Alt, p) {
				t.Errorf("%s: no %q in %s", name, p, f.Alt)
			}
		}
		svg := string(f.InlineSVG())
		for _, p := range []string{"from memory, unconfirmed", "no accredited certificate", ">class 0.5<", ">load, N<"} {
			if !strings.Contains(svg, p) && !strings.Contains(strings.Join(strings.Fields(tags.ReplaceAllString(svg, " ")), " "), p) {
				t.Errorf("%s: no %q in the figure", name, p)
			}
		}
		if strings.Contains(svg, "style=") {
			t.Errorf("%s: a style attribute", name)
		}
	}
	// The farthest of the alt text, worked out another way: from what was shown.
	k := all["good"]
	worst := 0.0
	for _, p := range k.Points {
		read, ok := k.Curve.Inverse(p.Shown)
		if !ok {
			t.Fatal(p)
		}
		if off := 100 * (read/p.Load - 1); math.Abs(off) > math.Abs(worst) {
			worst = off
		}
	}
	if d := residualsOf(k); math.Abs(d.worst.pct-worst) > 1e-9*math.Abs(worst) || d.of != 36 {
		t.Errorf("the farthest of %d is %v, want %v of 36", d.of, d.worst.pct, worst)
	}
	if alt := Residuals(all["many"], Phone()).Alt; !strings.Contains(alt, "1600 readings") {
		t.Error(alt)
	}
	for v, want := range map[float64]string{0.5: "+0.5 %", -1.2345: "−1.23 %", 0.0004: "less than 0.001 %", 0: "less than 0.001 %"} {
		if got := signedPercent(v); got != want {
			t.Errorf("%v: %q, want %q", v, got, want)
		}
	}
}
