package logger

import (
	"bytes"
	"fmt"
	"strings"
)

// block is a piece of a file that ends at the end of a line, and what was read in it.
type block struct {
	text                   []byte
	last                   bool // of the file
	time, force, travel    []float64
	lines                  int
	comments, blanks, same int // lines left out
	bad                    int
	problems               []Problem // lines counted from the block's first, as 1
	cut                    bool      // the last line was left out as cut off
	open                   bool      // the last line has no end, and was read
	decimals               int       // at the end of the last whole line of numbers, −1 none, noLine without a line
	openDecimals           int       // at the end of the open line
	done                   chan struct{}
}

// parser understands blocks; one serves all, because it only reads.
type parser struct {
	*layout
	seps     int    // in a line of numbers
	more     int    // fields after the last that is read
	wanted   []int8 // for each column up to that, which of time, force and travel it is, −1 for none
	sepBytes []byte
	counts   func(float64) float64
	cols     [3]column
}

func newParser(l *layout, opt Options, firstRow []byte) *parser {
	p := &parser{layout: l, counts: opt.FromCounts, cols: l.columns}
	p.sepBytes = []byte{l.sep}
	p.seps = bytes.Count(firstRow, p.sepBytes)
	p.more = p.seps - l.last
	if l.sep == ' ' {
		p.more = len(l.pattern) - 1 - l.last
	}
	p.wanted = make([]int8, l.last+1)
	for at := range p.wanted {
		p.wanted[at] = -1
		for k := range p.cols {
			if p.cols[k].at == at {
				p.wanted[at] = int8(k)
			}
		}
	}
	return p
}

// noLine says that a block has no line of numbers.
const noLine = -2

// parse reads all lines of a block.
func (p *parser) parse(b *block) {
	text := b.text
	last := -1 // where the last whole line of numbers begins
	for at := 0; at < len(text); {
		had := len(b.force)
		n := p.quick(text[at:], b)
		if n == 0 {
			n = p.slow(text[at:], b)
		}
		if len(b.force) > had && !b.open {
			last = at
		}
		b.lines++
		at += n
	}
	b.decimals = noLine
	if last >= 0 {
		line := text[last:]
		if n := bytes.IndexByte(line, p.eol); n >= 0 {
			line = line[:n]
		}
		b.decimals = decimalsOf(line, p.mark)
	}
}

// quick reads a line of plain numbers in one go and returns its length with its end;
// 0 where the line is not so plain, or not ended, with nothing read.
func (p *parser) quick(text []byte, b *block) int {
	var v [3]float64
	i := 0
	for at, k := range p.wanted {
		if at > 0 {
			if i = p.past(text, i); i < 0 {
				return 0
			}
		}
		for i < len(text) && text[i] == ' ' {
			i++
		}
		if k < 0 || p.cols[k].scale.clock {
			if i = p.other(text, i, int(k), at, &v); i < 0 {
				return 0
			}
			continue
		}
		x, n := quickNumber(text[i:], p.mark)
		if n == 0 {
			return 0
		}
		v[k] = x
		i += n
	}
	end := p.end(text, i)
	if end < 0 {
		return 0
	}
	p.keep(b, v)
	return end + 1
}

// past returns the place after the separator at i, −1 where there is none.
func (p *parser) past(text []byte, i int) int {
	if p.sep != ' ' {
		for i < len(text) && text[i] == ' ' {
			i++
		}
		if i >= len(text) || text[i] != p.sep {
			return -1
		}
		return i + 1
	}
	from := i
	for i < len(text) && (text[i] == ' ' || text[i] == '\t') {
		i++
	}
	if i == from {
		return -1
	}
	return i
}

// other passes over a field at i that is not read, or reads a clock; −1 where it is
// not so plain.
func (p *parser) other(text []byte, i, k, at int, v *[3]float64) int {
	from := i
	for i < len(text) && text[i] != p.sep && text[i] != p.eol && text[i] != '"' && !(p.sep == ' ' && text[i] == '\t') {
		i++
	}
	if i >= len(text) || text[i] == '"' || at == 0 && isComment(text[from:i]) {
		return -1
	}
	if k >= 0 {
		seconds, ok := p.clockTime(bytes.TrimRight(text[from:i], " \r"))
		if !ok {
			return -1
		}
		v[k] = seconds
	}
	return i
}

// end returns the place of the end of the line, when the last field that is read ends
// at i; −1 where there is none, or the line has another number of fields than it
// should.
func (p *parser) end(text []byte, i int) int {
	if i < len(text) && text[i] == p.eol && p.more == 0 {
		return i
	}
	n := bytes.IndexByte(text[i:], p.eol)
	if n < 0 {
		return -1
	}
	rest := text[i : i+n]
	if len(rest) > 0 && rest[0] != p.sep && rest[0] != ' ' && rest[0] != '\t' && rest[0] != '\r' {
		return -1
	}
	if p.sep == ' ' {
		if fieldsIn(rest) != p.more {
			return -1
		}
		return i + n
	}
	if bytes.Count(rest, p.sepBytes) != p.more || p.more == 0 && len(bytes.TrimRight(rest, " \r")) > 0 {
		return -1
	}
	return i + n
}

// fieldsIn counts fields between spaces and tabs.
func fieldsIn(b []byte) int {
	n, in := 0, false
	for _, c := range b {
		space := c == ' ' || c == '\t' || c == '\r'
		if !space && !in {
			n++
		}
		in = !space
	}
	return n
}

// clockTime returns seconds from the beginning of the first day of the file, or of the
// day where there are no dates.
func (p *parser) clockTime(field []byte) (float64, bool) {
	seconds, days, ok := clock(field, p.mark)
	if ok && days >= 0 && p.day >= 0 {
		seconds += 86400 * float64(days-p.day)
	}
	return seconds, ok
}

// keep scales the values of a line and adds them to the block.
func (p *parser) keep(b *block, v [3]float64) {
	for k := range v {
		c := &p.cols[k]
		if c.at < 0 {
			continue
		}
		x := v[k]
		if c.scale.mul != 1 {
			x *= c.scale.mul
		}
		if c.scale.div != 1 {
			x /= c.scale.div
		}
		switch k {
		case 0:
			b.time = append(b.time, x)
		case 1:
			if c.scale.counts {
				x = p.counts(x)
			}
			b.force = append(b.force, x)
		case 2:
			b.travel = append(b.travel, x)
		}
	}
}

// decimalsOf returns the digits after the mark at the end of a line, −1 where it does
// not end in a number with one.
func decimalsOf(line []byte, mark byte) int {
	line = bytes.TrimRight(line, " \r")
	n := 0
	for n < len(line) && line[len(line)-1-n]-'0' <= 9 {
		n++
	}
	if n < len(line) && line[len(line)-1-n] == mark {
		return n
	}
	return -1
}

// slow reads a line in any other shape and returns its length with its end.
func (p *parser) slow(text []byte, b *block) int {
	n := bytes.IndexByte(text, p.eol)
	ended := n >= 0
	length := n + 1
	if !ended {
		n, length = len(text), len(text)
	}
	line := bytes.TrimRight(text[:n], "\r\x00")
	trimmed := bytes.TrimSpace(line)
	switch {
	case len(trimmed) == 0:
		b.blanks++
		return length
	case isComment(line):
		b.comments++
		return length
	case p.headerText != "" && string(trimmed) == p.headerText:
		b.same++
		return length
	}
	v, problem := p.fields(line)
	if !ended && b.last {
		if problem.Message != "" {
			b.cut = true
			return length
		}
		b.open, b.openDecimals = p.last == len(p.pattern)-1, decimalsOf(line, p.mark)
		p.keep(b, v)
		return length
	}
	if problem.Message != "" {
		b.bad++
		if len(b.problems) < MaxProblems {
			problem.Line = b.lines + 1
			b.problems = append(b.problems, problem)
		}
		return length
	}
	p.keep(b, v)
	return length
}

// fields reads a line that is cut into fields first, and says what is wrong with it.
func (p *parser) fields(line []byte) (v [3]float64, problem Problem) {
	fields := split(line, p.sep)
	want := max(p.seps+1, len(p.pattern))
	if p.sep == ' ' {
		want = len(p.pattern)
	}
	for len(fields) > want && fields[len(fields)-1] == "" {
		fields = fields[:len(fields)-1]
	}
	if len(fields) > want || len(fields) < len(p.pattern) && len(fields) <= p.last {
		return v, Problem{Value: text(line), Message: fmt.Sprintf("has %s, where the lines of numbers have %d: delete the line or mend it", count(len(fields), "field"), len(p.pattern))}
	}
	for k := range p.cols {
		c := &p.cols[k]
		if c.at < 0 {
			continue
		}
		f := fields[c.at]
		if c.scale.clock {
			seconds, ok := p.clockTime([]byte(f))
			if !ok {
				return v, Problem{Column: c.name, Value: f, Message: "is no time of day: write it like 12:34:56.789"}
			}
			v[k] = seconds
			continue
		}
		x, n := number([]byte(f), p.mark)
		if n == 0 || n != len(f) {
			return v, Problem{Column: c.name, Value: f, Message: p.why(f)}
		}
		v[k] = x
	}
	return v, Problem{}
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// why says why a field is no number.
func (p *parser) why(f string) string {
	marks := strings.Count(f, ".") + strings.Count(f, ",")
	plain := strings.Trim(f, "+-0123456789.,") == "" && strings.ContainsAny(f, "0123456789")
	switch {
	case f == "":
		return "is blank: delete the line, or write the number"
	case plain && marks > 1:
		return "has a separator of thousands, or two decimal marks: write the number with one decimal mark alone"
	case plain && strings.Contains(f, ",") && p.mark == '.':
		return "has a decimal comma, where the first lines of the file have none: say that decimals follow a comma"
	case plain && strings.Contains(f, ".") && p.mark == ',':
		return "has a decimal point, where the first lines of the file have commas: write one kind throughout"
	}
	switch strings.ToLower(strings.TrimLeft(f, "+-")) {
	case "nan", "inf", "infinity", "ol", "o.l", "overload", "over", "ovf", "ovld", "---", "err", "error":
		return "says that the logger had no value, perhaps beyond its range: delete the line, or leave such lines out"
	}
	return "is not a number: delete the line or mend it"
}
