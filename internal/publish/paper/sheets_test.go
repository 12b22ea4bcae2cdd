package paper

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"
)

var papers = map[string]Size{"A4": A4, "US letter": USLetter}

// lines of a table as they are drawn: where its columns end, on a page across.
func columnEdges(tb table, s Size) []float64 {
	d := newDocument(s.across(), "", planned)
	x := margin
	var edges []float64
	for _, w := range tb.layout(d, s.Height-2*margin) {
		x += w
		edges = append(edges, x)
	}
	return edges
}

// checkSheetPages holds what is true of every sheet: the size of the page, its head
// and cautions on every page, white margins, words that keep to their column and
// lie on no other, every code on its page in order.
func checkSheetPages(t *testing.T, file string, s Size, tb table, codes []string) (texts []string) {
	t.Helper()
	texts = plain(t, file)
	pages, sizes := words(t, file)
	edges := columnEdges(tb, s)
	// The columns fill the page: a sum of a dozen numbers, rounded.
	if end := edges[len(edges)-1]; end < s.Height-margin-1e-9 || end > s.Height-margin+1e-9 {
		t.Errorf("the columns end at %g mm, the margin is at %g", end, s.Height-margin)
	}
	page := rect{margin, margin, s.Height - 2*margin, s.Width - 2*margin}
	for n, text := range texts {
		if w, h := sizes[n].Width, sizes[n].Height; w < s.Height-slack || w > s.Height+slack || h < s.Width-slack || h > s.Width+slack {
			t.Errorf("page %d is %g × %g mm", n+1, w, h)
		}
		want := []string{tb.title, tb.head.Trial, tb.head.Date.Format("2006-01-02"), fmt.Sprintf("page %d of %d", n+1, len(texts))}
		want = append(append(append(want, tb.head.Cautions...), tb.notes...), tb.fields...)
		if missing, ok := inOrder(text, want...); !ok {
			t.Errorf("page %d does not say %q where it should: %q", n+1, missing, text)
		}
		head := 0.0 // where the table begins
		for _, w := range pages[n] {
			if w.text == "Moisture" {
				head = w.y + w.height
			}
		}
		band := 0.0
		for i, w := range pages[n] {
			if !page.holds(w.rect) {
				t.Errorf("page %d: %q is in the margin", n+1, w.text)
			}
			for _, other := range pages[n][:i] {
				if w.meets(other.rect) {
					t.Errorf("page %d: %q lies on %q", n+1, w.text, other.text)
				}
			}
			if w.x < margin+padding+slack && strings.HasSuffix(w.text, "day") {
				band = w.y
			}
			if w.y < head || w.y == band {
				continue
			}
			for _, e := range edges {
				if w.x < e-slack && w.x+w.width > e+slack {
					t.Errorf("page %d: %q crosses the edge of its column", n+1, w.text)
				}
			}
		}
	}
	if missing, ok := inOrder(strings.Join(texts, " "), codes...); !ok {
		t.Errorf("%s is missing or out of order", missing)
	}
	for n, p := range render(t, file) {
		// Rules are half their width outside.
		if at, found := p.ink(rect{margin - thick/2, margin - thick/2, page.width + thick, page.height + thick}); found {
			t.Errorf("page %d: ink at pixel %v in the margin", n+1, at)
		}
	}
	return texts
}

func TestPencilHasRoom(t *testing.T) {
	// 7 mm is what the sheets promise for a row.
	if rowHeight < 7 || rowHeight-tickSide < 2 {
		t.Errorf("rows are %g mm high", rowHeight)
	}
}

func TestGlueUpSheet(t *testing.T) {
	for name, size := range papers {
		for _, blind := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, blind %v", name, blind), func(t *testing.T) {
				in := sampleGlueUp(size, 40)
				in.Blind = blind
				var codes []string
				for i := range in.Rows {
					if blind {
						in.Rows[i].Adhesive = "GHK"[i%3 : i%3+1]
					}
					codes = append(codes, in.Rows[i].Code)
				}
				file := made(t, func(w io.Writer) error { return WriteGlueUp(w, in) })
				texts := checkSheetPages(t, file, size, in.table(), codes)
				heads := []string{"glued", "spoiled", "time spread", "time clamped", "notes"}
				first := "adhesive wood boards and pieces planned under clamp within"
				if blind {
					first = "blind " + first
				}
				for n, text := range texts {
					if missing, ok := inOrder(text, append([]string{first}, heads...)...); !ok {
						t.Errorf("page %d has no column %s: %q", n+1, missing, text)
					}
				}
				if missing, ok := inOrder(texts[0], "Monday 2026-11-02 – session 1", "1 "+codes[0], "ash board 1: 1 + 2 09:00 8 min", "2 "+codes[1], "larch board 1: 3 + 4 09:11 1 h 30 min"); !ok {
					t.Errorf("%q is missing in %q", missing, texts[0])
				}
				if missing, ok := inOrder(texts[1], "Monday 2026-11-02 – session 1 (continued)", "Tuesday 2026-11-03 – session 2"); !ok {
					t.Errorf("%q is missing in %q", missing, texts[1])
				}
			})
		}
	}
}

func TestBreakSheet(t *testing.T) {
	for name, size := range papers {
		for _, blind := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, blind %v", name, blind), func(t *testing.T) {
				in := sampleBreaks(size, 40)
				in.Blind = blind
				heads := []string{"no. code adhesive not before peak force or strength unit", "wood on the faces, %", "failure code", "rig at its limit", "remarks"}
				if blind {
					in.Measured = "peak force, N"
					heads[0] = "no. code not before peak force, N"
				}
				var codes []string
				for _, r := range in.Rows {
					codes = append(codes, r.Code)
				}
				file := made(t, func(w io.Writer) error { return WriteBreaks(w, in) })
				texts := checkSheetPages(t, file, size, in.table(), codes)
				for n, text := range texts {
					if missing, ok := inOrder(text, heads...); !ok {
						t.Errorf("page %d has no column %s: %q", n+1, missing, text)
					}
				}
				if missing, ok := inOrder(texts[0], "1 "+codes[0], "Mon 2026-11-09 09:00", "2 "+codes[1], "Tue 2026-11-10 09:00"); !ok {
					t.Errorf("%q is missing in %q", missing, texts[0])
				}
				// A blind sheet says nothing of adhesives, in its text or in the bytes
				// that its letters are drawn with: it is the same whatever they are.
				all := strings.Join(texts, " ")
				if strings.Contains(all, "Resorcinol") == blind || strings.Contains(all, "PVA") == blind {
					t.Errorf("blind %v: %q", blind, all)
				}
				other := in
				other.Rows = slices.Clone(in.Rows)
				for i := range other.Rows {
					other.Rows[i].Adhesive = "X"
				}
				var a, b bytes.Buffer
				if err := WriteBreaks(&a, in); err != nil {
					t.Fatal(err)
				}
				if err := WriteBreaks(&b, other); err != nil {
					t.Fatal(err)
				}
				if bytes.Equal(a.Bytes(), b.Bytes()) != blind {
					t.Errorf("blind %v, and other adhesives give the same bytes: %v", blind, !blind)
				}
			})
		}
	}
}

// TestLongSheets: every row of a large trial is printed once, and no group's name
// stands last on a page.
func TestLongSheets(t *testing.T) {
	in := sampleGlueUp(A4, 300)
	tb := in.table()
	next := 0
	pages := tb.paginate(150)
	for n, page := range pages {
		height := 0.0
		for i, it := range page {
			if it.row < 0 {
				height += bandHigh
				if i == len(page)-1 {
					t.Errorf("page %d ends with the name of a group", n+1)
				}
				continue
			}
			height += rowHeight
			if it.row != next {
				t.Errorf("page %d: row %d follows after row %d", n+1, it.row, next-1)
			}
			next++
		}
		if height > 150+1e-9 {
			t.Errorf("page %d is %g mm high", n+1, height)
		}
		if page[0].row >= 0 {
			t.Errorf("page %d does not begin with its group", n+1)
		}
	}
	if next != 300 {
		t.Errorf("%d rows on %d pages", next, len(pages))
	}
}

func TestSheetErrors(t *testing.T) {
	glue, breaks := sampleGlueUp(A4, 1), sampleBreaks(A4, 1)
	for _, c := range []struct {
		want string
		err  error
	}{
		{"glue-up sheet: there are no rows", WriteGlueUp(io.Discard, GlueUp{Paper: A4, Head: glue.Head})},
		{"break sheet: there are no rows", WriteBreaks(io.Discard, Breaks{Paper: A4, Head: breaks.Head})},
		{"glue-up sheet: paper of 0 × 0 mm", WriteGlueUp(io.Discard, GlueUp{Head: glue.Head, Rows: glue.Rows})},
		{"break sheet: paper of 148 × 210 mm", WriteBreaks(io.Discard, Breaks{Paper: Size{148, 210}, Head: breaks.Head, Rows: breaks.Rows})},
		{"Glue-up sheet: cautions and notes leave no room for rows; shorten them by", WriteGlueUp(io.Discard, GlueUp{Paper: A4, Rows: glue.Rows,
			Head: Head{"", planned, slices.Repeat([]string{"Wear gloves."}, 60)}})},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.want) {
			t.Errorf("error %v, want it to say %q", c.err, c.want)
		}
	}
	// On the smallest paper that is taken the columns still fit.
	small := Size{200, 250}
	breaks.Paper, breaks.Measured = small, strings.Repeat("W", 100)
	glue.Paper = small
	if err := WriteBreaks(io.Discard, breaks); err != nil {
		t.Error(err)
	}
	if err := WriteGlueUp(io.Discard, glue); err != nil {
		t.Error(err)
	}
	// Rows without anything known are printed, to be written on.
	bare := GlueUp{Paper: USLetter, Head: Head{Date: planned}, Rows: []GlueUpRow{{}}}
	if err := WriteGlueUp(io.Discard, bare); err != nil {
		t.Error(err)
	}
}

func TestMinutes(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0:                              "–",
		-time.Minute:                   "–",
		30 * time.Second:               "30 s",
		8*time.Minute + 59*time.Second: "8 min", // a limit is never put later
		time.Hour:                      "1 h",
		90 * time.Minute:               "1 h 30 min",
	} {
		if got := strings.ReplaceAll(minutes(d), "\u00a0", " "); got != want {
			t.Errorf("%v is written %q, want %q", d, got, want)
		}
	}
}

// TestKey: the key lies between the folds, nothing of it outside, and both folds
// are drawn at the thirds.
func TestKey(t *testing.T) {
	for name, size := range papers {
		for _, n := range []int{5, 66} {
			t.Run(fmt.Sprintf("%s, %d", name, n), func(t *testing.T) {
				in := sampleKey(size, n)
				file := made(t, func(w io.Writer) error { return WriteKey(w, in) })
				pages, _ := words(t, file)
				third := size.Height / 3
				inside := ""
				for p, page := range pages {
					for i, w := range page {
						if !(rect{margin, margin, size.Width - 2*margin, size.Height - 2*margin}).holds(w.rect) {
							t.Errorf("page %d: %q is in the margin", p+1, w.text)
						}
						middle := w.y > third && w.y+w.height < 2*third
						if middle {
							inside += w.text + " "
						}
						if !middle && w.y < 2*third+keyEdge {
							if w.y+w.height > third && w.y < 2*third {
								t.Errorf("page %d: %q lies on a fold", p+1, w.text)
							}
							for _, a := range sampleAdhesives {
								if w.text == strings.Fields(a)[0] {
									t.Errorf("page %d: %q is outside of the folds", p+1, w.text)
								}
							}
						}
						for _, other := range page[:i] {
							if w.y < 2*third && w.meets(other.rect) {
								t.Errorf("page %d: %q lies on %q", p+1, w.text, other.text)
							}
						}
					}
				}
				var want []string
				for _, e := range in.Entries {
					if len(e.Adhesive) < 25 {
						want = append(want, e.Blind+" "+e.Adhesive)
					} else {
						want = append(want, e.Blind)
					}
				}
				if missing, ok := inOrder(spaced(inside), want...); !ok {
					t.Errorf("%q is missing between the folds: %q", missing, inside)
				}
				for p, text := range plain(t, file) {
					if missing, ok := inOrder(text, "Sealed key", fmt.Sprintf("page %d of %d", p+1, len(pages)), in.Head.Trial, "2026-11-02", "Do not open before the last break", "Opened on", "Fold back here", "Fold up here"); !ok {
						t.Errorf("page %d does not say %q", p+1, missing)
					}
				}
				for p, pic := range render(t, file) {
					for _, y := range []float64{third, 2 * third} {
						line := pic.part(rect{margin, y - 0.2, size.Width - 2*margin, 0.4})
						dark, h := 0, line.Bounds().Dy()
						for x := range line.Bounds().Dx() {
							for yy := range h {
								if line.GrayAt(x, yy).Y < 200 {
									dark++
									break
								}
							}
						}
						// Dashes of 3 mm and gaps of 2: 60 % of the line, give or take a
						// dash at its end and a pixel at each end of a dash.
						if share := float64(dark) / float64(line.Bounds().Dx()); share < 0.5 || share > 0.75 {
							t.Errorf("page %d: %.0f %% of the fold at %.0f mm is drawn", p+1, 100*share, y)
						}
					}
				}
			})
		}
	}
}

func TestKeyErrors(t *testing.T) {
	head := Head{Trial: "t", Date: planned}
	for _, c := range []struct {
		want    string
		entries []KeyEntry
	}{
		{"key: there are no rows", nil},
		{`entry 2 ("" is "PVA") lacks a name`, []KeyEntry{{"K", "Epoxy"}, {"", "PVA"}}},
		{`entry 1 ("K" is " ") lacks a name`, []KeyEntry{{"K", " "}}},
		{"two adhesives have the blind name K", []KeyEntry{{"K", "Epoxy"}, {"K", "PVA"}}},
	} {
		err := WriteKey(io.Discard, Key{A4, head, c.entries})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want it to say %q", err, c.want)
		}
	}
}
