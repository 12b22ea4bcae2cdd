package table

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bondtrial"
)

// sameReadings takes two shares that are not recorded as equal.
var sameReadings = cmp.Options{cmpopts.EquateEmpty(), cmp.Comparer(func(a, b bondtrial.Percent) bool {
	return a == b || math.IsNaN(float64(a)) && math.IsNaN(float64(b))
})}

// ignoringLines also passes over the line a reading was on.
var ignoringLines = cmp.Options{sameReadings, cmpopts.IgnoreFields(bondtrial.Reading{}, "Line")}

// Names with everything that has to be quoted, and letters that Windows-1252
// has too. No two differ only in case or spacing.
var someNames = []string{"Tarn", "Fell 2", "Beck; quick", `Gill "0"`, "Scar, slow", "Ærø", "Tarn 10", "Moß"}

var someNotes = []string{"", "wide; see photo", "two\nlines", "three\r\nlong\r\nlines", `3" from the end`, "a, b", "é"}

// drawReadings makes readings that a file can hold, with the factor prep.
func drawReadings(t *rapid.T) []bondtrial.Reading {
	n := rapid.IntRange(1, 12).Draw(t, "readings")
	name := rapid.SampledFrom(someNames)
	order := rapid.Permutation(sequence(n))
	glue, broke := order.Draw(t, "glue order"), order.Draw(t, "break order")
	rs := make([]bondtrial.Reading, n)
	for i := range rs {
		r := &rs[i]
		r.Code = fmt.Sprintf("S-%d", i)
		r.Adhesive, r.Wood, r.Board = name.Draw(t, "adhesive"), name.Draw(t, "wood"), name.Draw(t, "board")
		r.Batch, r.Session, r.Trial = name.Draw(t, "batch"), name.Draw(t, "session"), name.Draw(t, "trial")
		r.Factors = map[string]string{"prep": name.Draw(t, "prep")}
		r.Strength = bondtrial.Megapascal(rapid.Float64Range(1e-4, 1e4).Draw(t, "strength"))
		r.WoodFailure = bondtrial.Percent(rapid.Float64Range(0, 100).Draw(t, "wood failure"))
		r.Failure = rapid.SampledFrom([]bondtrial.Failure{"", "SF", "CSF", "CF", "SCF", "AF", "ACFP", "DF"}).Draw(t, "failure")
		r.RigLimited = rapid.Bool().Draw(t, "rig")
		r.Note = rapid.SampledFrom(someNotes).Draw(t, "note")
		if rapid.Bool().Draw(t, "ordered") {
			r.GlueOrder, r.BreakOrder = glue[i], broke[i]
		}
		r.MoisturePct = bondtrial.Percent(rapid.Float64Range(0, 100).Draw(t, "moisture"))
		if rapid.Bool().Draw(t, "dry") {
			r.MoisturePct = bondtrial.Percent(math.NaN())
		}
		if r.RigLimited || r.Failure != "" {
			r.WoodFailure = bondtrial.Percent(math.NaN())
		}
		if rapid.IntRange(0, 4).Draw(t, "spoiled") == 0 {
			r.SetAside = "slipped; twice"
			r.Strength, r.Failure, r.WoodFailure = 0, "", bondtrial.Percent(math.NaN())
			r.Board, r.Batch, r.Session, r.Trial, r.Factors["prep"] = "", "", "", "", ""
			r.GlueOrder, r.BreakOrder = 0, 0
		}
	}
	return rs
}

func sequence(n int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = i + 1
	}
	return s
}

// encoded returns text in one of the encodings, written here by hand and with
// package utf16, and not by the package that reads them.
func encoded(t *rapid.T, text string) string {
	switch rapid.SampledFrom([]string{"UTF-8", "UTF-8 marked", "UTF-16LE", "UTF-16BE", "Windows-1252"}).Draw(t, "encoding") {
	case "UTF-8 marked":
		return "\xef\xbb\xbf" + text
	case "UTF-16LE":
		b := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(text)) {
			b = binary.LittleEndian.AppendUint16(b, u)
		}
		return string(b)
	case "UTF-16BE":
		b := []byte{0xfe, 0xff}
		for _, u := range utf16.Encode([]rune(text)) {
			b = binary.BigEndian.AppendUint16(b, u)
		}
		return string(b)
	case "Windows-1252":
		var b []byte
		for _, r := range text {
			b = append(b, byte(r)) // Latin-1 letters have the same place in Windows-1252
		}
		return string(b)
	}
	return text
}

// What is written is read back: any order of columns, any spelling of their
// names, every separator, decimal mark, line end and encoding.
func TestWriteAndReadBack(t *testing.T) {
	spelled := []func(role) string{
		role.String,
		func(r role) string { return strings.ToUpper(r.String()) },
		func(r role) string { return " " + strings.ReplaceAll(r.String(), "_", " ") + " " },
		func(r role) string {
			s := strings.TrimSuffix(strings.TrimSuffix(r.String(), "_pct"), "_mpa")
			switch s = strings.ReplaceAll(s, "_", "-"); {
			case strings.HasSuffix(r.String(), "_pct"):
				return s + " (%)"
			case strings.HasSuffix(r.String(), "_mpa"):
				return s + " [MPa]"
			}
			return s
		},
	}
	rapid.Check(t, func(t *rapid.T) {
		rs := drawReadings(t)
		cols := rapid.Permutation(allColumns).Draw(t, "columns")
		d := dialect{
			sep:   rapid.SampledFrom([]string{",", ";", "\t"}).Draw(t, "separator"),
			end:   rapid.SampledFrom([]string{"\n", "\r\n", "\r"}).Draw(t, "line end"),
			quote: rapid.Bool().Draw(t, "quote all"),
			names: rapid.SampledFrom(spelled).Draw(t, "names"),
			last:  rapid.Bool().Draw(t, "last end"),
		}
		d.comma = d.sep != "," && rapid.Bool().Draw(t, "decimal comma")
		text := encoded(t, written(rs, cols, []string{"prep"}, d))
		got, err := Read(strings.NewReader(text), "t.csv", Options{Factors: []string{"prep"}})
		if err != nil {
			t.Fatalf("%v\nin %q", err, text)
		}
		if diff := cmp.Diff(rs, got.Readings, ignoringLines); diff != "" {
			t.Fatalf("written (-) and read (+):\n%s\nin %q", diff, text)
		}
		if len(got.Columns) != len(cols)+1 || got.Extra != nil {
			t.Fatalf("columns %q, further ones %q", got.Columns, got.Extra)
		}
	})
}

// The order of rows changes nothing but the order of readings and their lines.
func TestRowOrderIsIrrelevant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rs := drawReadings(t)
		shuffled := rapid.Permutation(rs).Draw(t, "shuffled")
		a, errA := Read(strings.NewReader(written(rs, allColumns, nil, plainDialect)), "a", Options{})
		b, errB := Read(strings.NewReader(written(shuffled, allColumns, nil, plainDialect)), "a", Options{})
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		byCode := func(x, y bondtrial.Reading) int { return strings.Compare(x.Code, y.Code) }
		slices.SortFunc(a.Readings, byCode)
		slices.SortFunc(b.Readings, byCode)
		if diff := cmp.Diff(a.Readings, b.Readings, ignoringLines); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestWriteThenRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rs := drawReadings(t)
		var b strings.Builder
		if err := Write(&b, rs, []string{"prep"}); err != nil {
			t.Fatal(err)
		}
		got, err := Read(strings.NewReader(b.String()), "t.csv", Options{Factors: []string{"prep"}})
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		// The standard library's writer turns a carriage return and line feed
		// within a field into a line feed.
		for i := range rs {
			rs[i].Note = strings.ReplaceAll(rs[i].Note, "\r\n", "\n")
			got.Readings[i].Note = strings.ReplaceAll(got.Readings[i].Note, "\r\n", "\n")
		}
		if d := cmp.Diff(rs, got.Readings, ignoringLines); d != "" {
			t.Fatalf("written and read (-want +got):\n%s\n%s", d, b.String())
		}
	})
}

// A remark with as many semicolons as there are columns is a remark still.
func TestWriteQuotesEverySeparator(t *testing.T) {
	rs := []bondtrial.Reading{{Specimen: bondtrial.Specimen{Code: "A", Adhesive: "Tarn"}, Strength: 8, WoodFailure: 10, MoisturePct: bondtrial.Percent(math.NaN())}}
	for _, sep := range []string{";", "\t", ","} {
		for n := range 8 {
			rs[0].Note = "a" + strings.Repeat(sep+"b", n)
			var b strings.Builder
			if err := Write(&b, rs, nil); err != nil {
				t.Fatal(err)
			}
			got, err := Read(strings.NewReader(b.String()), "t.csv", Options{})
			if err != nil {
				t.Fatalf("%q: %v", b.String(), err)
			}
			if got.Readings[0].Note != rs[0].Note {
				t.Errorf("%q became %q", rs[0].Note, got.Readings[0].Note)
			}
		}
	}
}
