package handwritten

import (
	"testing"

	"pgregory.net/rapid"
)

// Expected by counting edits by hand.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"adhesive", "adhesive", 0},
		{"adhesiv", "adhesive", 1},
		{"ahdesive", "adhesive", 1}, // neighbours swapped
		{"adhasiv", "adhesive", 2},
		{"strength", "adhesive", 3}, // more than the limit
		{"", "ab", 2},
		{"abc", "", 3},
	} {
		if got := Distance(c.a, c.b, 2); got != c.want {
			t.Errorf("distance of %q and %q is %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestDistanceIsSymmetric(t *testing.T) {
	word := rapid.StringMatching(`[abc]{0,6}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d, back := Distance(a, b, 10), Distance(b, a, 10)
		if d != back || (d == 0) != (a == b) || d > max(len(a), len(b)) {
			t.Fatalf("%q to %q is %d, back is %d", a, b, d, back)
		}
	})
}

func TestNotText(t *testing.T) {
	for raw, want := range map[string]string{"PK\x03\x04x": "a spreadsheet workbook or another zip archive", "%PDF-1.7": "a PDF document", "adhesive,strength_mpa": "", "": ""} {
		if got := NotText(raw); got != want {
			t.Errorf("%q is %q, want %q", raw, got, want)
		}
	}
	for text, want := range map[string]bool{" <!DOCTYPE html>": true, "<?xml": true, "adhesive": false, "": false} {
		if Markup(text) != want {
			t.Errorf("%q as markup: %v", text, !want)
		}
	}
}

func TestPlaces(t *testing.T) {
	if i := InvalidAt("a\nb\xff"); i != 3 || LineAt("a\nb\xff", i) != 2 {
		t.Errorf("the damage is at %d", i)
	}
	if i := InvalidAt("a\uFFFD"); i != -1 {
		t.Errorf("sound text is damaged at %d", i)
	}
}
