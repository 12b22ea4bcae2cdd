// Package handwritten helps to read files that people write or export, and to tell
// them what is wrong: it knows other files that are given by mistake, near misses
// of a name, and how to show a value in a message.
package handwritten

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// marks lists how files begin that are given by mistake. They are those of the
// formats' own descriptions: ZIP (local file header, empty archive), compound file,
// PDF, gzip, rich text, PNG, JPEG.
var marks = []struct{ mark, what string }{
	{"PK\x03\x04", "a spreadsheet workbook or another zip archive"},
	{"PK\x05\x06", "an empty zip archive"},
	{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a spreadsheet workbook or another office document"},
	{"%PDF-", "a PDF document"},
	{"\x1f\x8b", "a gzip archive"},
	{"{\\rtf", "a rich-text document"},
	{"\x89PNG", "a picture"},
	{"\xff\xd8\xff", "a picture"},
}

// NotText says what a file is that is no text, by how it begins; empty: nothing that
// is known.
func NotText(raw string) string {
	for _, f := range marks {
		if strings.HasPrefix(raw, f.mark) {
			return f.what
		}
	}
	return ""
}

// Markup reports whether a text begins as a web page or XML does.
func Markup(text string) bool {
	start := strings.ToLower(strings.TrimSpace(text[:min(len(text), 200)]))
	for _, m := range []string{"<!doctype", "<html", "<?xml", "<table"} {
		if strings.HasPrefix(start, m) {
			return true
		}
	}
	return false
}

// LineAt is the line, from 1, of the byte at i.
func LineAt(s string, i int) int { return 1 + strings.Count(s[:i], "\n") }

// InvalidAt returns the index of the first byte that is not valid UTF-8, or −1.
func InvalidAt(s string) int {
	for i, r := range s {
		if r == utf8.RuneError {
			if _, n := utf8.DecodeRuneInString(s[i:]); n == 1 {
				return i
			}
		}
	}
	return -1
}

// Distance returns the number of bytes to insert, delete, replace or swap with
// their neighbour to turn a into b (optimal string alignment), or limit+1 where it
// is more than limit.
func Distance(a, b string, limit int) int {
	if d := len(a) - len(b); d > limit || -d > limit {
		return limit + 1
	}
	before, last, now := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range now {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		now[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return min(last[len(b)], limit+1)
}

// longestQuote is the number of letters of a value that a message shows.
const longestQuote = 60

// Shortened is a value with at most longestQuote letters.
func Shortened(s string) string {
	n := 0
	for i := range s {
		if n == longestQuote {
			return s[:i] + "…"
		}
		n++
	}
	return s
}

// Quoted shows a value in a message: shortened, in quotation marks, with line
// breaks and control characters escaped.
func Quoted(s string) string { return strconv.Quote(Shortened(s)) }

// Problem is one thing in a table that cannot be read, or cannot be right.
type Problem struct {
	Line    int    // counted from 1; 0 where the file as a whole is meant
	Column  string // as written in the header, or as the format names it; empty where the whole row is meant
	Value   string // as written, trimmed; empty where it is blank or the whole row is meant
	Message string // what is wrong and how to mend it
}

// Listed lists the problems of a file, one a line, each as
//
//	name:line: column "x": value "y": what is wrong and how to mend it
//
// without the parts that the problem does not have, and says how many more there are.
func Listed(name string, problems []Problem, more int) string {
	var b strings.Builder
	for i, p := range problems {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(name)
		if p.Line > 0 {
			b.WriteString(":" + strconv.Itoa(p.Line))
		}
		b.WriteString(": ")
		if p.Column != "" {
			b.WriteString("column " + Quoted(p.Column) + ": ")
		}
		if p.Value != "" {
			b.WriteString("value " + Quoted(p.Value) + ": ")
		}
		b.WriteString(p.Message)
	}
	if more > 0 {
		b.WriteString("\n" + name + ": and " + strconv.Itoa(more) + " more problems")
	}
	return b.String()
}
