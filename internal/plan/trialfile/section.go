package trialfile

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// section reads the keys of one part of the file. Each method returns false beside
// a zero value where the key is not there or its value is wrong; the latter is
// reported, and so is the former where the key must be there.
type section struct {
	r     *reader
	level level
	node  *node
	where string
	meant map[string]bool // keys that another, unknown one probably stands for
}

// section begins to read a part and reports the keys that it cannot have.
func (r *reader) section(name string, n *node, where string) *section {
	s := &section{r: r, level: levelNamed(name), node: n, where: where, meant: map[string]bool{}}
	known := s.level.spellings()
	for _, k := range n.order {
		if slices.Contains(known, k) {
			continue
		}
		if r.bad.total > MaxProblems {
			r.bad.total++
			continue // it would not be shown
		}
		message, meant := s.level.unknownKey(k)
		s.meant[meant] = true
		r.bad.add(Problem{Line: n.sub[k].line, Where: where, Key: k, Message: message})
	}
	return s
}

// fail reports that the value of a key is wrong.
func (s *section) fail(n *node, spelling, format string, args ...any) {
	p := Problem{Line: n.line, Where: s.where, Key: spelling, Message: fmt.Sprintf(format, args...)}
	switch n.kind {
	case tableKind, listKind:
	default:
		p.Value = strings.TrimSpace(n.text)
	}
	s.r.bad.add(p)
}

// line returns where a key stands, or its part where the key is left out.
func (s *section) line(name string) int {
	for _, spelling := range s.level.key(name).spellings() {
		if n := s.node.sub[spelling]; n != nil {
			return n.line
		}
	}
	return s.node.line
}

// has reports whether a key is there, readable or not.
func (s *section) has(name string) bool {
	return s.meant[name] || slices.ContainsFunc(s.level.key(name).spellings(), func(k string) bool { return s.node.sub[k] != nil })
}

// find returns the value of a key and how the key is spelt, nil where there is
// none that can be read.
func (s *section) find(name string) (n *node, spelling string) {
	k := s.level.key(name)
	for _, sp := range k.spellings() {
		if s.node.sub[sp] == nil {
			continue
		}
		if n != nil {
			s.fail(s.node.sub[sp], sp, "says the same as %s: keep one of them", spelling)
			continue
		}
		n, spelling = s.node.sub[sp], sp
	}
	if n == nil && k.must && !s.meant[name] {
		s.missing(name)
	}
	if n != nil && n.spoiled {
		n = nil
	}
	return n, spelling
}

func (s *section) missing(name string) {
	k := s.level.key(name)
	s.r.bad.add(Problem{Line: s.node.line, Where: s.where, Key: k.spellings()[0], Message: "is missing: write " + k.write})
}

// text returns a text without space around it, "" where there is none.
func (s *section) text(name string) (string, *node) {
	n, spelling := s.find(name)
	if n == nil {
		return "", nil
	}
	if n.kind != textKind {
		s.wrongKind(n, spelling, name)
		return "", nil
	}
	t := strings.TrimSpace(n.text)
	if t == "" {
		s.fail(n, spelling, "is empty: write %s", s.level.key(name).write)
		return "", nil
	}
	return t, n
}

// wrongKind reports a value of another kind than the key's.
func (s *section) wrongKind(n *node, spelling, name string) {
	what := map[kind]string{tableKind: "a section", listKind: "a list", textKind: "a text", integerKind: "a number",
		floatKind: "a number", boolKind: "true or false", dateKind: "a date", otherKind: "a clock time or something else"}[n.kind]
	s.fail(n, spelling, "is %s, which is not what belongs here: write %s", what, s.level.key(name).write)
}

const longestName = 60 // runes: more does not fit on a label

// nameText returns a name: one line, single spaces, nothing invisible.
func (s *section) nameText(name string) (string, *node) {
	t, n := s.text(name)
	if n == nil {
		return "", nil
	}
	t, fault := nameOf(t)
	if fault != "" {
		s.fail(n, name, "%s", fault)
		return "", nil
	}
	return t, n
}

func nameOf(t string) (name, fault string) {
	if strings.ContainsFunc(t, func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) }) {
		return "", "holds a line break or another invisible character: remove it"
	}
	if n := utf8.RuneCountInString(t); n > longestName {
		return "", fmt.Sprintf("has %d letters and signs, and a label has room for %d: shorten it", n, longestName)
	}
	return strings.Join(strings.Fields(t), " "), ""
}

// remark returns a text that may have several lines.
func (s *section) remark(name string) string {
	t, n := s.text(name)
	if n != nil && len(t) > 2000 {
		s.fail(n, name, "is longer than 2000 letters: shorten it")
		return ""
	}
	return t
}

// parsed reads a text by a function whose error says what is wrong with it.
func parsed[T any](s *section, name string, parse func(string) (T, error)) (v T, n *node) {
	t, n := s.text(name)
	if n == nil {
		return v, nil
	}
	v, err := parse(t)
	if err != nil {
		var zero T
		s.fail(n, name, "%s", err)
		return zero, nil
	}
	return v, n
}

// time returns a length of time of at least least.
func (s *section) time(name string, least time.Duration) (time.Duration, bool) {
	n, _ := s.find(name)
	if n == nil {
		return 0, false
	}
	if n.kind == integerKind || n.kind == floatKind {
		s.fail(n, name, "has no unit: %s", writeTime)
		return 0, false
	}
	d, n := parsed(s, name, parseTime)
	if n == nil {
		return 0, false
	}
	if d < least {
		s.fail(n, name, "is shorter than %s: write %s", plainTime(least), s.level.key(name).write)
		return 0, false
	}
	return d, true
}

// number returns a number from low to high.
func (s *section) number(name string, low, high float64) (float64, bool) {
	n, spelling := s.find(name)
	if n == nil {
		return 0, false
	}
	return s.numberOf(n, spelling, name, low, high)
}

func (s *section) numberOf(n *node, spelling, name string, low, high float64) (float64, bool) {
	if n.kind == textKind {
		s.fail(n, spelling, "is in quotation marks: write the number alone, as in %s", s.level.key(name).write)
		return 0, false
	}
	if n.kind != integerKind && n.kind != floatKind {
		s.wrongKind(n, spelling, name)
		return 0, false
	}
	v, err := plainFloat(n)
	if err != nil || math.IsNaN(v) || v < low || v > high {
		s.fail(n, spelling, "must be a number from %s to %s", plainNumber(low), plainNumber(high))
		return 0, false
	}
	return v, true
}

func plainFloat(n *node) (float64, error) {
	t := strings.ReplaceAll(n.text, "_", "")
	if n.kind == integerKind {
		v, err := strconv.ParseInt(t, 0, 64)
		if err != nil {
			return strconv.ParseFloat(t, 64)
		}
		return float64(v), nil
	}
	return strconv.ParseFloat(t, 64)
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// whole returns a whole number from low to high.
func (s *section) whole(name string, low, high int64) (int64, bool) {
	n, spelling := s.find(name)
	if n == nil {
		return 0, false
	}
	if n.kind == textKind {
		s.fail(n, spelling, "is in quotation marks: write the number alone, as in %s", s.level.key(name).write)
		return 0, false
	}
	v, err := strconv.ParseInt(strings.ReplaceAll(n.text, "_", ""), 0, 64)
	switch {
	case n.kind != integerKind && n.kind != floatKind:
		s.wrongKind(n, spelling, name)
	case n.kind == floatKind, err != nil, v < low, v > high:
		s.fail(n, spelling, "must be a whole number from %d to %d", low, high)
	default:
		return v, true
	}
	return 0, false
}

// yes returns true or false.
func (s *section) yes(name string) (bool, bool) {
	n, spelling := s.find(name)
	switch {
	case n == nil:
		return false, false
	case n.kind == boolKind:
		return n.text == "true", true
	case n.kind == textKind && slices.Contains([]string{"yes", "true"}, strings.ToLower(strings.TrimSpace(n.text))):
		return true, true
	case n.kind == textKind && slices.Contains([]string{"no", "false"}, strings.ToLower(strings.TrimSpace(n.text))):
		return false, true
	}
	s.fail(n, spelling, "must be true or false")
	return false, false
}

const longestLength = 20_000 // mm: no board is longer

// length returns a length in mm, above 0, or 0 as well where zero says so.
func (s *section) length(name string, zero bool) (Millimetre, bool) {
	n, spelling := s.find(name)
	if n == nil {
		return 0, false
	}
	inches := strings.HasSuffix(spelling, "_in")
	factor, high := 1.0, float64(longestLength)
	if inches {
		factor, high = MillimetrePerInch, math.Floor(longestLength/MillimetrePerInch)
	}
	if inches && n.kind == textKind {
		v, err := parseInches(n.text)
		if err != nil {
			s.fail(n, spelling, "%s", err)
			return 0, false
		}
		n = &node{kind: floatKind, line: n.line, text: plainNumber(v)}
	}
	v, ok := s.numberOf(n, spelling, name, 0, high)
	if ok && v == 0 && !zero {
		s.fail(n, spelling, "must be more than 0")
		return 0, false
	}
	return Millimetre(factor * v), ok
}

// area returns an area in mm², above 0.
func (s *section) area(name string) (float64, bool) {
	n, spelling := s.find(name)
	if n == nil {
		return 0, false
	}
	factor := 1.0
	if strings.HasSuffix(spelling, "_in2") {
		factor = MillimetrePerInch * MillimetrePerInch
	}
	v, ok := s.numberOf(n, spelling, name, 0, 1e6)
	if ok && v == 0 {
		s.fail(n, spelling, "must be more than 0")
		return 0, false
	}
	return factor * v, ok
}

// sub returns a section of its own below this one, nil where there is none.
func (s *section) sub(name string) *node {
	n, spelling := s.find(name)
	if n == nil {
		return nil
	}
	if n.kind != tableKind {
		s.fail(n, spelling, "is to be a section: write %s on a line of its own, and its keys below", levelNamed(name).show)
		return nil
	}
	return n
}

// list returns the sections of an array, such as [[adhesive]], at most most.
func (s *section) list(name string, most int) []*node {
	n, _ := s.find(name)
	if n == nil {
		return nil
	}
	double := fmt.Sprintf("write [[%s]] with two brackets on a line of its own, once for each", name)
	if n.kind != listKind {
		s.fail(n, name, "%s", double)
		return nil
	}
	for _, item := range n.items {
		if item.kind != tableKind {
			s.fail(item, name, "%s", double)
			return nil
		}
	}
	if len(n.items) > most {
		s.fail(n.items[most], name, "is there %d times, and a trial has at most %d: divide it", len(n.items), most)
	}
	return n.items[:min(len(n.items), most)]
}
