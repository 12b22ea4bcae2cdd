package table

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// scanAll returns all records of a text.
func scanAll(text string, sep byte) (rows [][]string, lines []int, faults []string) {
	s := &scanner{text: text, line: 1, sep: sep}
	for rec, ok := s.next(); ok; rec, ok = s.next() {
		var row []string
		for _, f := range rec.fields {
			row = append(row, f.text)
		}
		rows, lines = append(rows, row), append(lines, rec.line)
		if rec.fault != "" {
			faults = append(faults, rec.fault)
		}
	}
	return rows, lines, faults
}

// The examples and rules of RFC 4180 (October 2005), section 2; the number of
// the rule stands in front.
func TestRFC4180(t *testing.T) {
	plain := [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}
	for _, c := range []struct {
		rule, text string
		want       [][]string
		lines      []int
	}{
		{"1 records end in CRLF", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", plain, []int{1, 2}},
		{"2 the last line end may lack", "aaa,bbb,ccc\r\nzzz,yyy,xxx", plain, []int{1, 2}},
		{"3 a header has the same form", "field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
			append([][]string{{"field_name", "field_name", "field_name"}}, plain...), []int{1, 2, 3}},
		{"4 spaces are part of a field", "aaa, bbb ,ccc", [][]string{{"aaa", " bbb ", "ccc"}}, []int{1}},
		{"5 fields may be enclosed", "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", plain, []int{1, 2}},
		{"6 line breaks in enclosed fields", "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx",
			[][]string{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}, []int{1, 3}},
		{"6 commas in enclosed fields", "\"a,a\",b", [][]string{{"a,a", "b"}}, []int{1}},
		{"7 a mark inside is doubled", "\"aaa\",\"b\"\"bb\",\"ccc\"", [][]string{{"aaa", "b\"bb", "ccc"}}, []int{1}},
		// Beyond the text of the rules, by its grammar: an enclosed field may
		// be empty or hold marks alone.
		{"grammar: empty and marks alone", "\"\",\"\"\"\",\"\"\"\"\"\"", [][]string{{"", "\"", "\"\""}}, []int{1}},
	} {
		rows, lines, faults := scanAll(c.text, ',')
		if !slices.EqualFunc(rows, c.want, slices.Equal[[]string]) || !slices.Equal(lines, c.lines) || len(faults) > 0 {
			t.Errorf("rule %s: got %q on lines %v with faults %q, want %q on %v", c.rule, rows, lines, faults, c.want, c.lines)
		}
	}
}

// RFC 4180, section 2, rules 5 and 7, forbid these.
func TestFaultyQuotation(t *testing.T) {
	for _, c := range []struct {
		text, fault string
		rows        int // that are still read
	}{
		{"aaa,b\"bb,ccc\r\nzzz,yyy,xxx", faultBare, 2},
		{"aaa,bbb\",ccc\nzzz,yyy,xxx", faultBare, 2},
		{"aaa, \"bbb\",ccc\nzzz,yyy,xxx", faultSpace, 2},
		{"aaa,\"b\"bb,ccc\nzzz,yyy,xxx", faultAfter, 2},
		{"aaa,\"bbb\" ,ccc\nzzz,yyy,xxx", faultAfter, 2},
		{"aaa,\"bbb,ccc\nzzz,yyy,xxx", faultOpen, 1},
		{"aaa,\"b\"\"bb,ccc\nzzz,yyy,xxx\n\"\"", faultOpen, 1},
	} {
		rows, _, faults := scanAll(c.text, ',')
		if len(rows) != c.rows || !slices.Equal(faults, []string{c.fault}) {
			t.Errorf("%q: got %d rows and faults %q, want %d rows and %q", c.text, len(rows), faults, c.rows, c.fault)
		}
	}
}

func TestLineEnds(t *testing.T) {
	for _, c := range []struct {
		name, text string
		lines      []int
	}{
		{"LF", "a\nb\nc\n", []int{1, 2, 3}},
		{"CRLF", "a\r\nb\r\nc\r\n", []int{1, 2, 3}},
		{"CR", "a\rb\rc\r", []int{1, 2, 3}},
		{"mixed", "a\r\nb\rc\nd", []int{1, 2, 3, 4}},
		{"empty lines count", "a\n\n\nb", []int{1, 2, 3, 4}},
		{"CR LF CR is two ends", "a\r\n\rb", []int{1, 2, 3}},
		{"inside quotation marks", "\"a\r\na\ra\na\"\nb", []int{1, 5}},
	} {
		if _, lines, _ := scanAll(c.text, ';'); !slices.Equal(lines, c.lines) {
			t.Errorf("%s: records begin on lines %v, want %v", c.name, lines, c.lines)
		}
	}
}

// An independent implementation agrees: what encoding/csv writes, the scanner
// reads, with the same records.
func TestScannerReadsWhatEncodingCSVWrites(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sep := rapid.SampledFrom([]byte{',', ';', '\t'}).Draw(t, "sep")
		width := rapid.IntRange(1, 4).Draw(t, "width")
		value := rapid.StringOfN(rapid.SampledFrom([]rune("ab \"\n,;\té0")), 0, 6, -1)
		rows := rapid.SliceOfN(rapid.SliceOfN(value, width, width), 1, 6).Draw(t, "rows")
		for i := range rows {
			rows[i][0] += "x" // a record of one empty field is written as an empty line
		}
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.Comma = rune(sep)
		if err := w.WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		got, _, faults := scanAll(b.String(), sep)
		if len(faults) > 0 || !slices.EqualFunc(got, rows, slices.Equal[[]string]) {
			t.Fatalf("wrote %q, read %q with faults %q", rows, got, faults)
		}
	})
}

func TestPreambleAndSeparator(t *testing.T) {
	for _, c := range []struct {
		name, text string
		sep        byte
		line       int // of the header
	}{
		{"comma", "adhesive,wood,strength_mpa", ',', 1},
		{"semicolon", "adhesive;wood;strength_mpa", ';', 1},
		{"tab", "adhesive\twood\tstrength_mpa", '\t', 1},
		{"known names decide, not the count", "adhesive;strength_mpa;note, and, much, more", ';', 1},
		{"separators in quotation marks do not count", "\"a;b;c;d\",adhesive", ',', 1},
		{"comments and blank lines", "# trial of May\n\n ,;\n#x;y;z\nadhesive;wood", ';', 5},
		{"separator line", "sep=;\r\nadhesive,x;wood", ';', 2},
		{"quoted separator line", "\"sep=\t\"\nadhesive\twood", '\t', 2},
		{"no separator", "adhesive", ',', 1},
	} {
		s := &scanner{text: c.text, line: 1}
		sep := s.preamble()
		if sep == 0 {
			sep = s.detect()
		}
		if sep != c.sep || s.line != c.line {
			t.Errorf("%s: separator %q, header on line %d; want %q, %d", c.name, sep, s.line, c.sep, c.line)
		}
	}
}

func TestSeparatorNames(t *testing.T) {
	var got []string
	for _, c := range []byte(",;\t|") {
		got = append(got, separatorName(c))
	}
	if s := strings.Join(got, " "); s != "commas semicolons tabs other characters" {
		t.Error(s)
	}
}
