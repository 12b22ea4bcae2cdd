package paper

import (
	"bytes"
	"io"
	"math"
	"strings"
	"testing"
	"time"
)

// labelSheets are the common layouts, an upright label, and the smallest label
// that is taken.
func labelSheets() map[string]LabelSheet {
	return map[string]LabelSheet{
		"A4 3x8": A4Labels3x8, "A4 4x10": A4Labels4x10, "A4 5x13": A4Labels5x13, "letter 3x10": LetterLabels3x10,
		"upright": {Paper: USLetter, Columns: 5, Rows: 4, Left: 10, Right: 10, Top: 12, Bottom: 12, GapX: 3, GapY: 4},
		// 36 × 16 mm inside the margins: 32 × 12 mm to print on.
		"small": {Paper: A4, Columns: 5, Rows: 17, Left: 15, Right: 15, Top: 12.5, Bottom: 12.5},
	}
}

// TestLabelsReadBack renders sheets at 150 dpi, of which the first is part-used,
// and reads the QR code of every label where the label is. Where there is none the
// paper is white, and so it is outside of what may be printed on, at the cut lines
// and at the edges of the paper, and in the quiet zone around each QR code.
func TestLabelsReadBack(t *testing.T) {
	for name, sheet := range labelSheets() {
		t.Run(name, func(t *testing.T) {
			const first = 3
			n := sheet.PerSheet() // runs over to a second sheet by two
			in := sampleLabels(sheet, n)
			in.First = first
			file := made(t, func(w io.Writer) error { return WriteLabels(w, in) })
			pages := render(t, file)
			if want := 2; len(pages) != want {
				t.Fatalf("%d sheets, want %d", len(pages), want)
			}
			var crops []picture
			allowed := make([][]rect, len(pages))
			d := newDocument(sheet.Paper, "", planned)
			codes, err := in.codes()
			if err != nil {
				t.Fatal(err)
			}
			plan, err := in.arrange(d, codes)
			if err != nil {
				t.Fatal(err)
			}
			for i := range in.Labels {
				at := first - 1 + i
				page := pages[at/sheet.PerSheet()]
				at %= sheet.PerSheet()
				crops = append(crops, page.part(sheet.place(at)))
				c := sheet.content(at)
				allowed[(first-1+i)/sheet.PerSheet()] = append(allowed[(first-1+i)/sheet.PerSheet()], c)
				q := plan.qr
				q.x, q.y = q.x+c.x, q.y+c.y
				// The edges of the code share pixels with the quiet zone: half a
				// module stays out of the comparison.
				m := q.width / float64(modules(codes[i]))
				inner := rect{q.x + 3.5*m, q.y + 3.5*m, q.width - 7*m, q.width - 7*m}
				shift := rect{inner.x - q.x, inner.y - q.y, inner.width, inner.height}
				if at, found := page.part(q).ink(shift); found {
					t.Errorf("label %d: ink at pixel %v in the quiet zone", i+1, at)
				}
			}
			for i, got := range readQR(t, crops) {
				if len(got) != 1 || got[0] != in.Labels[i].Code {
					t.Errorf("label %d reads %q, want %s", i+1, got, in.Labels[i].Code)
				}
			}
			for i, p := range pages {
				if at, found := p.ink(allowed[i]...); found {
					t.Errorf("sheet %d: ink at pixel %v, outside of what may be printed on", i+1, at)
				}
			}
		})
	}
}

// TestLabelTexts holds that every word lies in the text's part of its label and on
// no other word, that the code is whole, and that blind names are called so.
func TestLabelTexts(t *testing.T) {
	for name, sheet := range labelSheets() {
		for _, blind := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				in := sampleLabels(sheet, sheet.PerSheet())
				in.First = 1
				in.Blind = blind
				if blind {
					for i := range in.Labels {
						in.Labels[i].Adhesive = "GHK"[i%3 : i%3+1]
					}
				}
				file := made(t, func(w io.Writer) error { return WriteLabels(w, in) })
				pages, sizes := words(t, file)
				// MediaBox holds hundredths of a point: 0.0018 mm.
				if len(pages) != 1 || math.Abs(sizes[0].Width-sheet.Paper.Width) > slack || math.Abs(sizes[0].Height-sheet.Paper.Height) > slack {
					t.Fatalf("%d pages of %v", len(pages), sizes)
				}
				d := newDocument(sheet.Paper, "", planned)
				codes, err := in.codes()
				if err != nil {
					t.Fatal(err)
				}
				plan, err := in.arrange(d, codes)
				if err != nil {
					t.Fatal(err)
				}
				texts := make([]string, len(in.Labels))
				for i, w := range pages[0] {
					home := -1
					for at := range in.Labels {
						c := sheet.content(at)
						if (rect{c.x + plan.text.x, c.y + plan.text.y, plan.text.width, plan.text.height}).holds(w.rect) {
							home = at
						}
					}
					if home < 0 {
						t.Fatalf("%q at %v is outside the text of every label", w.text, w.rect)
					}
					texts[home] += w.text + " "
					for _, other := range pages[0][:i] {
						if w.meets(other.rect) {
							t.Errorf("%q lies on %q", w.text, other.text)
						}
					}
				}
				for i, l := range in.Labels {
					want := []string{l.Code}
					switch {
					case blind:
						want = append(want, "adhesive "+l.Adhesive)
					case len(l.Adhesive) < 25: // what all labels have room for
						want = append(want, l.Adhesive)
					}
					if l.Board != "" && len(l.Pieces) == 2 {
						want = append(want, l.Wood[:min(4, len(l.Wood))], "board "+l.Board)
					}
					if len(l.Pieces) == 2 {
						want = append(want, "pieces "+l.Pieces[0]+" + "+l.Pieces[1])
					}
					if name != "small" { // where there is no room for it
						want = append(want, "Es") // the trial, however short
					}
					if missing, ok := inOrder(spaced(texts[i]), want...); !ok {
						t.Errorf("label %d says %q, and not %q", i+1, texts[i], missing)
					}
				}
			})
		}
	}
}

// TestLongNamesStayApart: the two adhesives that are alike at both ends do not
// look the same on the smallest labels.
func TestLongNamesStayApart(t *testing.T) {
	d := newDocument(A4, "", planned)
	blocks := d.unlike(sampleAdhesives, func(s string) block { return d.fit(s, 18, 4.5, 10, leastLabel, true) })
	a, b := strings.Join(blocks[sampleAdhesives[3]].lines, "|"), strings.Join(blocks[sampleAdhesives[4]].lines, "|")
	if a == b || !strings.Contains(a, "…") || !strings.HasSuffix(b, "(2)") {
		t.Errorf("shortened to %q and %q", a, b)
	}
}

func TestUnicodeComesOutRight(t *testing.T) {
	in := sampleLabels(A4Labels3x8, 1)
	in.Labels[0].Adhesive = "Ĩčĩŝ (Ĝ\\ģ) ≥ 5 µ² ½ €"
	in.Labels[0].Wood = "Tre\u0301e 木\U0001F333\u200b\tx\r\ny\xff" // an accent of its own, what the font lacks, what is invisible
	page := plain(t, made(t, func(w io.Writer) error { return WriteLabels(w, in) }))[0]
	if missing, ok := inOrder(page, in.Labels[0].Code, "Ĩčĩŝ (Ĝ\\ģ) ≥ 5 µ² ½ €", "Trée □□ x y□, board 1", "Клей, κόλλα"); !ok {
		t.Errorf("%q is missing in %q", missing, page)
	}
}

func TestLabelErrors(t *testing.T) {
	change := func(f func(in *Labels)) Labels {
		in := sampleLabels(A4Labels3x8, 4)
		f(&in)
		return in
	}
	for _, c := range []struct {
		want string
		in   Labels
	}{
		{"no labels", change(func(in *Labels) { in.Labels = nil })},
		{"number 25 of the sheet, which has 24", change(func(in *Labels) { in.First = 25 })},
		{"number -1 of the sheet", change(func(in *Labels) { in.First = -1 })},
		{"label 2: there is no code", change(func(in *Labels) { in.Labels[1].Code = "" })},
		{`label 2: code "k7": 'k' does not go into`, change(func(in *Labels) { in.Labels[1].Code = "k7" })},
		{"labels 1 and 3 have the same code", change(func(in *Labels) { in.Labels[2].Code = in.Labels[0].Code })},
		{"label 1: code", change(func(in *Labels) { in.Labels[0].Code = strings.Repeat("A", 5000) })},
		{"the QR code needs 10.1 mm and has", change(func(in *Labels) { in.Sheet.Rows = 30 })},
		{"the text needs 14.0 mm", change(func(in *Labels) { in.Sheet.Columns, in.Sheet.Rows = 6, 12 })},
		{"would be printed at", change(func(in *Labels) { in.Labels[0].Code = strings.Repeat("W", 25) })},
		{"are too small", change(func(in *Labels) { in.Sheet.Left, in.Sheet.Right = 150, 150 })},
		{"left margin is -1 mm", change(func(in *Labels) { in.Sheet.Left = -1 })},
		{"gap between rows is NaN mm", change(func(in *Labels) { in.Sheet.GapY = math.NaN() })},
		{"paper of 0 × 297 mm", change(func(in *Labels) { in.Sheet.Paper.Width = 0 })},
		{"0 rows and 3 columns", change(func(in *Labels) { in.Sheet.Rows = 0 })},
	} {
		var b bytes.Buffer
		err := WriteLabels(&b, c.in)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want it to say %q", err, c.want)
		}
		if b.Len() > 0 {
			t.Errorf("%d bytes were written before %v", b.Len(), err)
		}
	}
}

func TestCommonLabelSheets(t *testing.T) {
	// The sizes that the comments promise: 70 × 37, 52.5 × 29.7, 38.1 × 21.2 mm, and
	// 2⅝ × 1 in at 25.4 mm to the inch. Tolerance: rounding of a few additions.
	for name, c := range map[string]struct {
		LabelSheet
		want Size
	}{
		"A4, 3 × 8": {A4Labels3x8, Size{70, 37}}, "A4, 4 × 10": {A4Labels4x10, Size{52.5, 29.7}},
		"A4, 5 × 13": {A4Labels5x13, Size{38.1, 21.2}}, "letter, 3 × 10": {LetterLabels3x10, Size{66.675, 25.4}},
	} {
		s, want := c.LabelSheet, c.want
		w, h := s.label()
		if math.Abs(w-want.Width) > 1e-9 || math.Abs(h-want.Height) > 1e-9 {
			t.Errorf("%s: labels of %g × %g mm", name, w, h)
		}
		last := s.place(s.PerSheet() - 1)
		if math.Abs(last.x+last.width-(s.Paper.Width-s.Right)) > 1e-9 || math.Abs(last.y+last.height-(s.Paper.Height-s.Bottom)) > 1e-9 {
			t.Errorf("%s: the last label ends at %g, %g mm", name, last.x+last.width, last.y+last.height)
		}
	}
}

// TestDateIsOfTheInput: another date gives other bytes, and none panics, for the
// PDF library would read the clock.
func TestDateIsOfTheInput(t *testing.T) {
	in := sampleLabels(A4Labels3x8, 1)
	var a, b bytes.Buffer
	if err := WriteLabels(&a, in); err != nil {
		t.Fatal(err)
	}
	in.Date = in.Date.Add(time.Second)
	if err := WriteLabels(&b, in); err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the date is not in the PDF")
	}
	defer func() {
		if recover() != zeroDate {
			t.Error("the zero date does not panic")
		}
	}()
	in.Date = time.Time{}
	WriteLabels(io.Discard, in)
}
