package paper

import (
	"io"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestFitKeepsToItsPlace: whatever the text, the block is no larger than its place,
// nothing is lost unless … says so, and the largest size that does is taken.
func TestFitKeepsToItsPlace(t *testing.T) {
	d := newDocument(A4, "", planned)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.StringMatching(`([a-zA-Zäöß]{1,12}[ -]?){0,20}`)).Draw(t, "s")
		width := rapid.Float64Range(8, 60).Draw(t, "width")
		height := rapid.Float64Range(3, 20).Draw(t, "height")
		bold := rapid.Bool().Draw(t, "bold")
		b := d.fit(s, width, height, 14, 5, bold)
		if b.height() > height+1e-9 {
			t.Fatalf("%g mm high in a place of %g", b.height(), height)
		}
		for _, l := range b.lines {
			// The widest character of the font is below 1.5 times its size, 2.7 mm at
			// the least size, so one always fits.
			if w := d.width(b.typeface, l); w > width {
				t.Fatalf("%q is %g mm wide in a place of %g", l, w, width)
			}
		}
		squeeze := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		all := squeeze(strings.Join(b.lines, ""))
		if !b.shortened && all != squeeze(clean(s)) {
			t.Fatalf("%q is set as %q", s, all)
		}
		if b.shortened && (!strings.Contains(all, "…") || b.size != 5) {
			t.Fatalf("%q is shortened to %q at %g points", s, all, b.size)
		}
		if b.size < 13.5 {
			larger := typeface{b.size + 0.5, bold}
			lines, whole := d.wrap(larger, clean(s), width)
			if whole && float64(len(lines))*larger.height() <= height-1e-9 {
				t.Fatalf("%q would fit at %g points, and is set at %g", s, larger.size, b.size)
			}
		}
	})
}

// TestWidthIsThePDFs compares the widths that text is fitted by with those of the
// PDF library, which it writes into the PDF. Both are thousandths of the size,
// added up: 1e-9 mm is rounding.
func TestWidthIsThePDFs(t *testing.T) {
	d := newDocument(A4, "", planned)
	for _, s := range append([]string{sampleTrial, "AVAT. 1/2 WwMi□…•×½"}, sampleAdhesives...) {
		for _, bold := range []bool{false, true} {
			f := typeface{11, bold}
			d.set(f)
			if got, want := d.width(f, s), d.pdf.GetStringWidth(s); got < want-1e-9 || got > want+1e-9 {
				t.Errorf("%q is %g mm wide, the PDF has %g", s, got, want)
			}
		}
	}
}

func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"":                   "",
		" a \t\r\n b\x00":    "a b",
		"5 mm at 20 °C, 5 %": "5\u00a0mm at 20\u00a0°C, 5\u00a0%",
		"2 hard maples":      "2 hard maples",
		"e\u0301":            "é",
		"\u202eabc\ufeff":    "abc", // neither turned around nor marked
		"a\xffb":             "a□b",
		"\U00010000":         "□", // where the PDF library would read past its table
		"木":                  "□",
	} {
		if got := clean(in); got != want {
			t.Errorf("clean(%q) = %q, want %q", in, got, want)
		}
	}
}

// FuzzText: no text makes any of the sheets fail.
func FuzzText(f *testing.F) {
	for _, s := range []string{"", "PVA", sampleTrial, sampleAdhesives[3], "\xff", "\U00010000\uFFFF", strings.Repeat("W", 3000), "(\\\r\n", "{nb}"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		head := Head{s, planned, []string{s}}
		labels := sampleLabels(A4Labels5x13, 2)
		labels.Trial = s
		labels.Labels[0].Adhesive, labels.Labels[0].Wood, labels.Labels[0].Board, labels.Labels[0].Pieces = s, s, s, []string{s, s}
		for _, err := range []error{
			WriteLabels(io.Discard, labels),
			WriteGlueUp(io.Discard, GlueUp{Paper: A4, Head: head, Rows: []GlueUpRow{{Code: s, Adhesive: s, Wood: s, Pieces: s, Group: s}}}),
			WriteBreaks(io.Discard, Breaks{Paper: USLetter, Head: head, Measured: s, Codes: []string{s}, Rows: []BreakRow{{Code: s, Adhesive: s, Group: s}}}),
			WriteKey(io.Discard, Key{A4, head, []KeyEntry{{"K" + s, "a" + s}}}),
		} {
			if err != nil {
				t.Errorf("%q: %v", s, err)
			}
		}
	})
}
