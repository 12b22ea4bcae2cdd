package figure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"bondtrial/internal/answer"
)

// In Liberation Sans a figure is 1139/2048 of the size wide, a space 569/2048
// (computed: Chromium 156, measureText of a canvas set in 2048px 'Liberation
// Sans'). A character that is not in the font counts its own height.
func TestWidth(t *testing.T) {
	f := typeface{size: 20.48}
	for _, c := range []struct {
		s    string
		want float64
	}{{"", 0}, {"0", 11.39}, {"00", 22.78}, {" ", 5.69}, {"胶", 20.48}} {
		if got := f.width(c.s); math.Abs(got-c.want) > 0.005 { // half a unit of the last digit
			t.Errorf("%q is %.3f wide, want %.2f", c.s, got, c.want)
		}
	}
}

func TestWrap(t *testing.T) {
	f := typeface{size: 10}
	for _, c := range []struct {
		s    string
		most float64
		want []string
	}{
		{"one", 100, []string{"one"}},
		{"one two three", f.width("one two"), []string{"one two", "three"}},
		{"one two\u00a0three", f.width("two\u00a0three"), []string{"one", "two\u00a0three"}},
		{"000000", f.width("0000"), []string{"0000", "00"}},
		{"0", 1, []string{"0"}},
	} {
		if got := f.wrap(c.s, c.most); !slices.Equal(got, c.want) {
			t.Errorf("%q within %.1f: %q, want %q", c.s, c.most, got, c.want)
		}
	}
}

// Names that differ look different, whatever the room; a name that fits stays as
// it is.
func TestLabelsDiffer(t *testing.T) {
	f := typeface{size: 12, bold: true}
	names := []string{
		"Slow-setting dispersion, batch of May", "Slow-setting dispersion, batch of June", "Slow-setting dispersion, batch of June, old",
		"Tarn", "", "(no name)", " Tarn ", strings.Repeat("x", 60), strings.Repeat("x", 61),
	}
	for _, most := range []float64{60, 100, 160, 1000} {
		for _, lines := range []int{1, 2} {
			labels := f.labels(names, most, lines)
			seen := make(map[string]string)
			for _, n := range names {
				l := labels[n]
				shown := strings.Join(l, " ")
				if other, ok := seen[shown]; ok {
					t.Errorf("%q and %q are both %q", n, other, shown)
				}
				seen[shown] = n
				if len(l) > lines || f.widest(l) > most {
					t.Errorf("%q becomes %q, which does not fit %v", n, l, most)
				}
			}
			if got := strings.Join(labels["Tarn"], " "); got != "Tarn" {
				t.Errorf("Tarn becomes %q", got)
			}
		}
	}
	if got := f.labels(names, 1000, 1)[names[0]]; !slices.Equal(got, names[:1]) {
		t.Errorf("%q is shortened to %q though it fits", names[0], got)
	}
}

func TestClean(t *testing.T) {
	for s, want := range map[string]string{
		"Tarn": "Tarn", " a\t\nb ": "a b", "a\x00b\x1b": "a b", "": "(no name)", "\x01": "(no name)", "a\xffb": "a\uFFFDb", "Łyżka №5": "Łyżka №5",
	} {
		if got := clean(s); got != want {
			t.Errorf("%q becomes %q, want %q", s, got, want)
		}
	}
}

func TestCount(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{count(&answer.Cell{N: 5}), "n 5"}, {count(&answer.Cell{N: 5, WoodLimited: 2}), "n 5, 2 wood-limited"},
		{count(&answer.Cell{N: 4, WoodLimited: 4}), "n 4, all wood-limited"}, {count(&answer.Cell{N: 4, RigLimited: 4}), "n 4, all rig-limited"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestLinearTicks(t *testing.T) {
	for _, c := range []struct {
		high float64
		most int
		want string
	}{
		{13.3, 8, "0 2 4 6 8 10 12"}, {16, 5, "0 5 10 15"}, {0.8, 5, "0.0 0.2 0.4 0.6 0.8"}, {1930, 6, "0 500 1000 1500"}, {10, 3, "0 5 10"}, {0, 5, "0"}, {3, 1, "0 2"},
	} {
		var got []string
		for _, k := range linearTicks(c.high, c.most) {
			got = append(got, k.label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("to %v, at most %d: %s, want %s", c.high, c.most, s, c.want)
		}
	}
}

// Ticks of ratios are as fine as there is room for, and 1 is among them.
func TestRatioTicks(t *testing.T) {
	for _, c := range []struct {
		low, high, length float64
		want              string
	}{
		{0.7, 1.45, 400, "0.7 0.8 0.9 1 1.1 1.2 1.3 1.4"},
		{0.45, 2.4, 200, "0.5 0.75 1 1.5 2"},
		{0.45, 2.4, 80, "0.5 1 2"},
		{0.05, 20, 300, "0.05 0.1 0.2 0.5 1 2 5 10 20"},
		{1e-3, 1e3, 200, "0.001 0.01 0.1 1 10 100 1000"},
		{0.9, 1.12, 30, "1"},
	} {
		var got []string
		for _, k := range ratioTicks(c.low, c.high, c.length, 24) {
			got = append(got, k.label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%v to %v over %v px: %s, want %s", c.low, c.high, c.length, s, c.want)
		}
	}
}
