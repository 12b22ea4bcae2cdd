package table

import (
	"slices"
	"strings"
	"unicode"
)

// Words that people and spreadsheets write before what sums up the rows above.
// Those of the second list are names too, so that more must point to a sum.
var (
	sumWords = wordSet("total", "totals", "subtotal", "grand total", "average", "averages", "avg", "mean", "means", "sum", "median",
		"std", "stdev", "std dev", "standard deviation",
		"summe", "gesamt", "gesamtsumme", "mittel", "mittelwert", "durchschnitt", "somme", "moyenne")
	perhapsSumWords = wordSet("sd", "cv", "cov", "min", "max", "minimum", "maximum", "count", "n")
)

func wordSet(words ...string) map[string]bool {
	m := make(map[string]bool, len(words))
	for _, w := range words {
		m[w] = true
	}
	return m
}

const (
	longestLabel = 60 // bytes of a field that may be a label like "Average of all"
	aroundLabel  = ":;.=() "
)

// sumsUp reports a row that is a total or an average of others; ok is false for
// any other.
func (p *parser) sumsUp(rec record) (ok bool) {
	label, blank, there := "", 0, 0
	perhaps := ""
	for _, r := range identityRoles {
		at := p.head.at[r]
		if at < 0 {
			continue
		}
		there++
		text := ""
		if at < len(rec.fields) {
			text = strings.TrimSpace(rec.fields[at].text)
		}
		if text == "" {
			blank++
			continue
		}
		sure, maybe := p.sumLabel(r, text)
		switch {
		case sure && label == "":
			label = text
		case maybe && perhaps == "":
			perhaps = text
		}
	}
	if label == "" && there > 1 && blank == there-1 && p.notSetAside(rec) {
		label = perhaps
	}
	if label == "" && (blank > 0 || there == 0) {
		label = p.firstLabel(rec)
	}
	if label == "" && there > 1 && blank == there && p.notSetAside(rec) {
		return p.nameless(rec)
	}
	if label != "" {
		p.summed(rec, label)
	}
	return label != ""
}

// firstLabel returns the first value of a row if it is the label of a total or an
// average, in a column that is not read.
func (p *parser) firstLabel(rec record) string {
	for i, f := range rec.fields {
		text := strings.TrimSpace(f.text)
		if text == "" {
			continue
		}
		if sure, _ := p.sumLabel(noRole, text); sure && slices.Contains(p.head.extra, i) {
			return text
		}
		break
	}
	return ""
}

// summed reports a row by its label.
func (p *parser) summed(rec record, label string) {
	p.add(rec.line, "", strings.Clone(label), "looks like a total or average, not like a specimen: delete the line")
}

func (p *parser) notSetAside(rec record) bool {
	at := p.head.at[setAsideCol]
	return at < 0 || at >= len(rec.fields) || strings.TrimSpace(rec.fields[at].text) == ""
}

// nameless reports a row that has values and says of no specimen. One with fewer
// fields than the header is reported as such, unless it has a label.
func (p *parser) nameless(rec record) (ok bool) {
	for _, f := range rec.fields {
		text := strings.TrimSpace(f.text)
		if sure, maybe := p.sumLabel(noRole, text); text != "" && (sure || maybe) {
			p.summed(rec, text)
			return true
		}
	}
	if len(rec.fields) != len(p.head.names) {
		return false
	}
	var names []string
	for _, r := range identityRoles {
		if p.head.has(r) {
			names = append(names, r.String())
		}
	}
	last := len(names) - 1
	p.add(rec.line, "", "", "names no %s or %s: delete the line if it is a total or average, otherwise name what was broken",
		strings.Join(names[:last], ", "), names[last])
	return true
}

// sumLabel reports whether a text is the label of a total or an average: surely,
// or if the rest of the row agrees.
func (p *parser) sumLabel(r role, text string) (sure, maybe bool) {
	if len(text) > longestLabel || !isSumWord(firstWord(text)) && !isSumWord(lastWordOf(text)) {
		return false, false
	}
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) })
	all := strings.Join(words, " ")
	if sumWords[all] {
		return true, true
	}
	if r == noRole {
		return false, perhapsSumWords[all]
	}
	if p.isName(r, text) {
		return false, false // like Max Bond
	}
	// "Tarn average" below readings of Tarn.
	text = strings.Trim(text, aroundLabel)
	first, last := firstWord(text), lastWordOf(text)
	behind := strings.TrimPrefix(strings.TrimSpace(text[len(first):]), "of ")
	before := text[:len(text)-len(last)]
	sure = sumWords[strings.ToLower(first)] && p.isName(r, behind) || sumWords[strings.ToLower(last)] && p.isName(r, before)
	return sure, true
}

// isName reports whether a row above has the name in the column.
func (p *parser) isName(r role, name string) bool {
	_, there := p.spelled[r].first[scoped{"", folded(cleaned(name))}]
	return there
}

func isSumWord(w string) bool {
	var b [16]byte
	if len(w) == 0 || len(w) > len(b) {
		return false
	}
	for i := range len(w) {
		c := w[i]
		if 'A' <= c && c <= 'Z' {
			c += 'a' - 'A'
		}
		b[i] = c
	}
	lower := b[:len(w)]
	return sumWords[string(lower)] || perhapsSumWords[string(lower)] || slices.Contains([]string{"grand", "standard"}, string(lower))
}

func notLetter(r rune) bool { return !unicode.IsLetter(r) }

// firstWord and lastWordOf return words of letters, empty where a text begins or
// ends with a digit.
func firstWord(s string) string {
	if i := strings.IndexFunc(s, notLetter); i >= 0 {
		return s[:i]
	}
	return s
}

func lastWordOf(s string) string {
	s = strings.TrimRight(s, aroundLabel)
	return s[strings.LastIndexFunc(s, notLetter)+1:]
}
