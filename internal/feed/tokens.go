package feed

import (
	"strings"
	"unicode/utf8"
)

// tokenKind is what a piece of a line looks like.
type tokenKind uint8

const (
	numberToken tokenKind = iota
	wordToken             // letters, then letters, digits and underscores
	clockToken            // a date or a time of day, such as 12:03:59.250
	markToken             // one sign of punctuation
	blankToken
)

type token struct {
	kind tokenKind
	text string
}

// tokens cuts a line into pieces. With comma, a comma between digits is a decimal
// comma.
func tokens(line string, comma bool) []token {
	var out []token
	for i := 0; i < len(line); {
		n, kind := 1, markToken
		rest := line[i:]
		switch c := line[i]; {
		case isBlank(c):
			n, kind = blanks([]byte(rest)), blankToken
		case isLetter(c):
			for n < len(rest) && (isLetter(rest[n]) || isDigit(rest[n]) || rest[n] == '_') {
				n++
			}
			kind = wordToken
		default:
			if k := dateLength(rest); k > 0 {
				n, kind = k, clockToken
			} else if k := clockLength(rest); k > 0 {
				n, kind = k, clockToken
			} else if k := signedNumber(out, rest, comma); k > 0 {
				n, kind = k, numberToken
			}
		}
		out = append(out, token{kind, rest[:n]})
		i += n
	}
	return out
}

// signedNumber returns the length of the number that rest begins with. A sign right
// after a number or a word separates and belongs to no number.
func signedNumber(before []token, rest string, comma bool) int {
	if (rest[0] == '-' || rest[0] == '+') && len(before) > 0 {
		if k := before[len(before)-1].kind; k == numberToken || k == wordToken || k == clockToken {
			return 0
		}
	}
	_, n := number([]byte(rest[:min(len(rest), maxNumber+1)]), comma)
	return n
}

// dateLength returns the length of the date that s begins with, such as 2026-03-01,
// with a time of day after a T; or 0.
func dateLength(s string) int {
	const form = "0000-00-00"
	if len(s) < len(form) {
		return 0
	}
	for i := range len(form) {
		if form[i] == '-' && s[i] != '-' || form[i] == '0' && !isDigit(s[i]) {
			return 0
		}
	}
	if n := len(form); len(s) > n && s[n] == 'T' {
		if k := clockLength(s[n+1:]); k > 0 {
			return n + 1 + k
		}
	}
	return len(form)
}

// clockLength returns the length of the time of day that s begins with, or 0.
func clockLength(s string) int {
	colons, i := 0, 0
	for i < len(s) {
		start := i
		for i < len(s) && isDigit(s[i]) {
			i++
		}
		if i == start || i > start+2 {
			return 0
		}
		if colons == 2 {
			break
		}
		if i == len(s) || s[i] != ':' {
			return 0
		}
		colons++
		i++
	}
	if colons < 2 {
		return 0
	}
	if i+1 < len(s) && (s[i] == '.' || s[i] == ',') && isDigit(s[i+1]) {
		for i++; i < len(s) && isDigit(s[i]); i++ {
		}
	}
	return i
}

// isLetter reports whether a byte is a letter or part of one beyond ASCII.
func isLetter(c byte) bool {
	return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || c >= utf8.RuneSelf
}

// hole stands in a skeleton for a number. No line that is looked at has it.
const hole = "\x00"

// skeleton writes a line's pieces as a pattern with a hole for each number and {skip}
// for each time of day. Blanks between a number and punctuation, and at the ends of
// the line, are left out, as matching passes over them. Lines with one skeleton fit one pattern.
func skeleton(ts []token) string {
	var b strings.Builder
	for i, t := range ts {
		switch t.kind {
		case numberToken:
			b.WriteString(hole)
		case clockToken:
			b.WriteString("{skip}")
		case blankToken:
			if i > 0 && i+1 < len(ts) && !padding(ts[i-1].kind, ts[i+1].kind) {
				b.WriteByte(' ')
			}
		default:
			b.WriteString(strings.NewReplacer("{", "{{", "}", "}}").Replace(t.text))
		}
	}
	return b.String()
}

// padding reports whether blanks between two pieces only fill a column.
func padding(before, after tokenKind) bool {
	figure := func(k tokenKind) bool { return k == numberToken || k == clockToken }
	return figure(before) && after == markToken || before == markToken && figure(after)
}

// printable reports whether a line is text: valid UTF-8 without control characters
// other than tabs.
func printable(line []byte) bool {
	for _, c := range line {
		if c < ' ' && c != '\t' || c == 0x7f {
			return false
		}
	}
	return utf8.Valid(line)
}

// remark reports whether a line says of itself that it is a comment.
func remark(line []byte) bool {
	line = line[blanks(line):]
	return len(line) > 0 && line[0] == '#' || len(line) > 1 && line[0] == '/' && line[1] == '/'
}
