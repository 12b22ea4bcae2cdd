package logger

import (
	"bytes"
	"strings"
	"unicode/utf8"
)

// headSize is how much of a file is looked at to find how it is written, and headLines
// how many of its lines.
const (
	headSize  = 256 << 10
	headLines = 500
)

// layout is how a file is written.
type layout struct {
	sep, mark, eol byte // sep is ' ' for any run of spaces and tabs
	pattern        []byte
	header         []string
	headerText     string // the header's line, trimmed, to know it again
	units          []string
	dataAt         int // byte of the first line of numbers
	dataLine       int // its number, from 1
	sureMark       bool
	columns        [3]column // time, force, travel
	last           int       // the last column that is read
	day            int       // days of the first date, −1 without one
}

// column is one that is read.
type column struct {
	at    int // from 0, −1: none
	name  string
	scale scale
	found bool // its unit was read from the file
}

// headLine is a line of the head.
type headLine struct {
	text    []byte
	at      int
	comment bool
}

// kinds of a field.
const (
	isNumber = 'n'
	isClock  = 'c'
	isEmpty  = 'e'
	isText   = 't'
)

// linesOf cuts the head into lines, the last only where it is whole or the file ends.
func linesOf(head []byte, eol byte, ends bool) []headLine {
	var out []headLine
	for at := 0; at < len(head) && len(out) < headLines; {
		n := bytes.IndexByte(head[at:], eol)
		if n < 0 {
			if !ends {
				break
			}
			n = len(head) - at
		}
		text := bytes.TrimRight(head[at:at+n], "\r\x00")
		out = append(out, headLine{text, at, isComment(text)})
		at += n + 1
	}
	return out
}

// isComment reports whether a line is one of comment.
func isComment(line []byte) bool {
	line = bytes.TrimLeft(line, " \t")
	return len(line) > 0 && (line[0] == '#' || line[0] == '%' || line[0] == '!' || line[0] == '*' || line[0] == '\'' || line[0] == '/' && len(line) > 1 && line[1] == '/')
}

func uncommented(line []byte) []byte { return bytes.TrimLeft(line, " \t#%!*'/") }

// split cuts a line into fields, without spaces and quotation marks around them.
func split(line []byte, sep byte) []string {
	var out []string
	if sep == ' ' {
		for _, f := range bytes.FieldsFunc(line, func(r rune) bool { return r == ' ' || r == '\t' }) {
			out = append(out, unquoted(f))
		}
		return out
	}
	for {
		var f []byte
		trimmed := bytes.TrimLeft(line, " ")
		if len(trimmed) > 0 && trimmed[0] == '"' {
			if end := bytes.IndexByte(trimmed[1:], '"'); end >= 0 {
				rest := trimmed[end+2:]
				n := bytes.IndexByte(rest, sep)
				if n < 0 {
					return append(out, unquoted(trimmed[:end+2]))
				}
				out = append(out, unquoted(trimmed[:end+2]))
				line = rest[n+1:]
				continue
			}
		}
		n := bytes.IndexByte(line, sep)
		if n < 0 {
			return append(out, unquoted(line))
		}
		f, line = line[:n], line[n+1:]
		out = append(out, unquoted(f))
	}
}

func unquoted(f []byte) string {
	f = bytes.TrimSpace(f)
	if len(f) >= 2 && f[0] == '"' && f[len(f)-1] == '"' {
		f = bytes.TrimSpace(f[1 : len(f)-1])
	}
	return text(f)
}

// text makes a string of bytes that may be Latin-1 instead of UTF-8.
func text(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	var s strings.Builder
	for _, c := range b {
		s.WriteRune(rune(c))
	}
	return s.String()
}

// kindOf says what a field is.
func kindOf(f string, mark byte) byte {
	if f == "" {
		return isEmpty
	}
	if _, n := number([]byte(f), mark); n == len(f) {
		return isNumber
	}
	if _, _, ok := clock([]byte(f), mark); ok {
		return isClock
	}
	return isText
}

// patternOf returns the kinds of the fields of a line.
func patternOf(fields []string, mark byte) []byte {
	p := make([]byte, len(fields))
	for i, f := range fields {
		p[i] = kindOf(f, mark)
	}
	return p
}

// numeric counts the numbers and clocks of a pattern.
func numeric(p []byte) int {
	return bytes.Count(p, []byte{isNumber}) + bytes.Count(p, []byte{isClock})
}

// like reports whether a line with one pattern may stand among lines with the other.
func like(p, q []byte) bool {
	if len(p) != len(q) {
		return false
	}
	for i := range p {
		if p[i] != q[i] && p[i] != isEmpty && q[i] != isEmpty {
			return false
		}
	}
	return true
}

// candidate is one way in which the file may be written.
type candidate struct {
	sep, mark byte
	pattern   []byte
	lines     int // that have the pattern
	roles     int // columns that a line with as many fields names
	texts     int
}

// try counts the lines of the head that have the commonest pattern with numbers.
func try(lines []headLine, sep, mark byte) candidate {
	c := candidate{sep: sep, mark: mark}
	counts := map[string]int{}
	for _, l := range lines {
		if l.comment {
			continue
		}
		if p := patternOf(split(l.text, sep), mark); numeric(p) > 0 {
			counts[string(p)]++
			if n := counts[string(p)]; n > c.lines || n == c.lines && numeric(p) > numeric(c.pattern) {
				c.lines, c.pattern = n, p
			}
		}
	}
	c.texts = bytes.Count(c.pattern, []byte{isText})
	for _, l := range lines {
		fields := split(uncommented(l.text), sep)
		if len(fields) != len(c.pattern) || numeric(patternOf(fields, mark)) > 0 {
			continue
		}
		roles := 0
		for _, f := range fields {
			if name, _ := nameOf(f); roleOf(name) != noRole {
				roles++
			}
		}
		c.roles = max(c.roles, roles)
	}
	return c
}

// score is how many numbers the lines of a candidate hold.
func (a candidate) score() int { return a.lines * numeric(a.pattern) }

// better reports whether a is the likelier way to write the file.
func (a candidate) better(b candidate) bool {
	switch {
	case a.roles > b.roles && 3*a.score() >= b.score():
		return true
	case a.roles < b.roles && 3*b.score() >= a.score():
		return false
	case a.score() != b.score():
		return a.score() > b.score()
	}
	return a.texts < b.texts
}

// separators in the order of preference where nothing else decides.
var separators = []byte{'\t', ';', ',', '|', ' '}

// dialect finds separator and decimal mark.
func dialect(lines []headLine, opt Options) (candidate, bool) {
	seps, marks := separators, []byte{'.', ','}
	if opt.Separator != "" {
		seps = []byte{separatorOf(opt.Separator)}
	}
	if opt.Decimal != "" {
		marks = []byte{opt.Decimal[0]}
	}
	var best candidate
	for _, sep := range seps {
		for _, mark := range marks {
			if sep == ',' && mark == ',' {
				continue
			}
			if c := try(lines, sep, mark); c.lines > 0 && (best.lines == 0 || c.better(best)) {
				best = c
			}
		}
	}
	return best, best.lines > 0
}

func separatorOf(s string) byte {
	switch s {
	case "tab", "\t":
		return '\t'
	case "space":
		return ' '
	}
	return s[0]
}

func separatorName(sep byte) string {
	switch sep {
	case '\t':
		return "tabs"
	case ';':
		return "semicolons"
	case ',':
		return "commas"
	case ' ':
		return "spaces"
	}
	return "bars"
}
