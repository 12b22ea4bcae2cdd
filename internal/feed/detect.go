package feed

import (
	"fmt"
	"slices"
	"strings"
)

// Detected is what looking at lines found.
type Detected struct {
	Pattern *Pattern
	Words   string   // what was found, for a person
	Doubts  []string // what could be otherwise, each with what to do about it
	Fit     int      // lines that fit
	Looked  int      // lines that were looked at, empty ones and remarks apart
	Sure    bool     // more lines would not change it
}

// Lines needed to be sure of a format, and the share of lines that must fit it.
// Common practice, no source.
const (
	sureLines = 5
	fitShare  = 0.6
)

// Detect finds the format of lines by looking at them; ok is false where fewer than
// least of them, or less than 60 in 100, have one form with a number in it. Lines
// of other kinds than Whole are passed over. A clock without a named unit is known by
// how fast it runs against the times of arrival: without those its unit is not
// guessed.
func Detect(lines []Line, least int) (d Detected, ok bool) {
	var texts []string
	var kept []Line
	for _, l := range lines {
		text := trimmed(l.Text)
		if l.Kind == Whole && len(text) > 0 && printable(text) && !remark(text) {
			texts, kept = append(texts, string(text)), append(kept, l)
		}
	}
	if len(texts) == 0 {
		return d, false
	}
	comma, commaDoubt := decimalComma(texts)
	form, rows := commonForm(texts, comma)
	if len(rows) < max(least, 1) || float64(len(rows)) < fitShare*float64(len(texts)) {
		return d, false
	}
	s := survey{form: form, comma: comma}
	for _, row := range rows {
		s.add(texts[row], kept[row])
	}
	if rows[0] > 0 {
		s.header = headerNames(texts[rows[0]-1], len(s.columns))
	}
	d = s.judge()
	if d.Pattern == nil {
		return d, false
	}
	if commaDoubt != "" {
		d.Doubts = append(d.Doubts, commaDoubt)
	}
	d.Fit, d.Looked = len(rows), len(texts)
	if s.header != nil {
		d.Looked--
	}
	d.Sure = d.Sure && d.Fit >= sureLines
	return d, true
}

// commonForm returns the skeleton that most lines with a number share, the first of
// equals, and which lines have it.
func commonForm(texts []string, comma bool) (form string, rows []int) {
	groups := make(map[string][]int)
	var order []string
	for i, text := range texts {
		f := skeleton(tokens(text, comma))
		if !strings.Contains(f, hole) {
			continue
		}
		if groups[f] == nil {
			order = append(order, f)
		}
		groups[f] = append(groups[f], i)
	}
	for _, f := range order {
		if len(groups[f]) > len(rows) {
			form, rows = f, groups[f]
		}
	}
	return form, rows
}

// survey is the lines of one form, column by column.
type survey struct {
	form    string
	comma   bool
	columns []column
	header  []string // names from the line above; nil where there is none
	arrival []float64
}

// column is one number of a form.
type column struct {
	key, unit string // the words beside it
	values    []float64
}

func (s *survey) add(text string, l Line) {
	ts := tokens(text, s.comma)
	n := 0
	for i, t := range ts {
		if t.kind != numberToken {
			continue
		}
		if n == len(s.columns) {
			s.columns = append(s.columns, column{key: wordBefore(ts[:i]), unit: wordAfter(ts[i+1:])})
		}
		v, _ := number([]byte(t.text), s.comma)
		s.columns[n].values = append(s.columns[n].values, v)
		n++
	}
	s.arrival = append(s.arrival, float64(l.At.UnixMicro())/1e6)
}

// wordBefore is the key of a number: the word before it, with at most punctuation
// and a blank between them.
func wordBefore(ts []token) string {
	marked := false
	for _, t := range slices.Backward(ts) {
		switch {
		case t.kind == wordToken && marked:
			return t.text
		case t.kind == markToken && (t.text == "=" || t.text == ":"):
			marked = true
		case t.kind != blankToken && t.text != `"`:
			return ""
		}
	}
	return ""
}

// wordAfter is the unit of a number: the word after it.
func wordAfter(ts []token) string {
	word := ""
	for _, t := range ts {
		switch {
		case t.kind == blankToken:
		case t.kind == wordToken && word == "":
			word = t.text
		case t.text == "=" || t.text == ":":
			return "" // the word is the next number's key
		default:
			return word
		}
	}
	return word
}

// trimmed is a line's text without a byte order mark and blanks around it.
func trimmed(text []byte) []byte {
	if len(text) >= 3 && text[0] == 0xef && text[1] == 0xbb && text[2] == 0xbf {
		text = text[3:]
	}
	text = text[blanks(text):]
	for len(text) > 0 && isBlank(text[len(text)-1]) {
		text = text[:len(text)-1]
	}
	return text
}

// quoteLine shows a line's text in a message.
func quoteLine(text []byte) string {
	const most = 60
	if len(text) > most {
		return fmt.Sprintf("%q…", text[:most])
	}
	return fmt.Sprintf("%q", text)
}
