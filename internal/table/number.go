package table

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A mark is the character between the whole and the fractional digits.
type mark int

const (
	anyMark   mark = iota // not settled yet: each number shows its own
	pointMark             // 8.1
	commaMark             // 8,1
)

// decimals reads numbers and counts which decimal marks they use.
type decimals struct {
	sep            byte // between fields: no decimal comma where it is a comma
	mark           mark // what the file uses; anyMark in the first pass
	points, commas int
	ambiguous      int    // of the commas, those that may divide thousands
	aPoint, aComma string // the first number with each
}

const (
	wrongThousands = "a thousands separator, or two decimal marks: write the number without separators and with one decimal mark, like 1234.5, or 1234,5 in a file with decimal commas"
	wrongComma     = "a decimal comma in a file separated by commas: write a decimal point, like 8.1, or separate the columns by semicolons"
	wrongUnit      = "text after the number: write the number alone; the unit belongs in the column's name"
	wrongTwo       = "two numbers: write one"
	wrongNumber    = "not a number"
	wrongRange     = "too large for a number"
	wrongPlain     = "not a plain decimal number: write it like 8.1 or 8.1e3"
)

// number reads a decimal number. The message is empty where s is one; s is not
// blank and has no space around it.
func (d *decimals) number(s string) (v float64, message string) {
	i := 0
	if s[0] == '+' || s[0] == '-' {
		i++
	}
	digits, points, commas, comma := 0, 0, 0, 0
	for ; i < len(s); i++ {
		c := s[i]
		switch {
		case '0' <= c && c <= '9':
			digits++
			continue
		case c == '.':
			points++
			continue
		case c == ',':
			commas++
			comma = i
			continue
		}
		break
	}
	if digits == 0 || !exponent(s[i:]) {
		return 0, explain(s)
	}
	switch {
	case points+commas > 1:
		return 0, wrongThousands
	case commas == 1 && d.sep == ',':
		return 0, eitherWay(s, wrongComma)
	case commas == 1:
		d.commas++
		if d.aComma == "" {
			d.aComma = strings.Clone(s)
		}
		if mayDivideThousands(s) {
			d.ambiguous++
		}
		if d.mark == pointMark {
			return 0, eitherWay(s, d.mixed())
		}
		s = s[:comma] + "." + s[comma+1:]
	case points == 1:
		d.points++
		if d.aPoint == "" {
			d.aPoint = strings.Clone(s)
		}
		if d.mark == commaMark {
			return 0, eitherWay(s, d.mixed())
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, wrongRange
	}
	return v, ""
}

// mixed is what is said of a number in a file with both decimal marks.
func (d *decimals) mixed() string {
	return "the file mixes decimal points, as in " + d.aPoint + ", and decimal commas, as in " + d.aComma + ": write one kind throughout"
}

// mayDivideThousands reports whether the only mark of a number stands as one
// between thousands does: after one to three digits that begin with none of 0,
// and before three.
func mayDivideThousands(s string) bool {
	s = strings.TrimLeft(s, "+-")
	i := strings.IndexAny(s, ".,")
	return 1 <= i && i <= 3 && s[0] != '0' && len(s) == i+4 && strings.Trim(s[i+1:], "0123456789") == ""
}

// eitherWay offers both readings of a number whose mark may divide thousands; for
// any other it returns the message given.
func eitherWay(s, message string) string {
	if !mayDivideThousands(s) {
		return message
	}
	i := strings.IndexAny(s, ".,")
	whole, rest := s[:i], s[i+1:]
	if s[i] == '.' {
		return "a point that may divide thousands or decimals: write " + whole + rest + " or " + whole + "," + rest
	}
	return "a comma that may divide thousands or decimals: write " + whole + rest + " or " + whole + "." + rest
}

// exponent reports whether s is empty or an exponent like e-3.
func exponent(s string) bool {
	if s == "" {
		return true
	}
	if s[0] != 'e' && s[0] != 'E' {
		return false
	}
	s = s[1:]
	if s != "" && (s[0] == '+' || s[0] == '-') {
		s = s[1:]
	}
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// missing reports whether s is what people and spreadsheets write where there is
// no value.
func missing(s string) bool {
	switch strings.ToLower(strings.TrimLeft(s, "+-")) {
	case "":
		return s != ""
	case "nan", "inf", "infinity", "na", "n/a", "n.a.", "nil", "null", "none", "blank", "empty", "missing", "unknown", "not measured", "not recorded",
		".", "–", "—", "?", "??", "???":
		return true
	}
	return sheetError(s)
}

// sheetError reports whether s is what a spreadsheet writes for a formula that
// failed.
func sheetError(s string) bool {
	if !strings.HasPrefix(s, "#") {
		return false
	}
	switch strings.ToUpper(s[1:]) {
	case "N/A", "VALUE!", "REF!", "DIV/0!", "NUM!", "NAME?", "NULL!", "###":
		return true
	}
	return false
}

// unsure splits a number from the sign or word before it that says that it is at
// least (>), at most (<) or about (~) so; the sign is 0 where there is none.
func unsure(s string) (sign rune, number string) {
	sign, size := utf8.DecodeRuneInString(s)
	switch sign {
	case '>', '≥':
		sign = '>'
	case '<', '≤':
		sign = '<'
	case '~', '≈', '±':
		sign = '~'
	default:
		sign, size = 0, 0
		for _, word := range []string{"ca.", "ca", "c.", "about", "approx.", "approx"} {
			if len(s) > len(word) && strings.EqualFold(s[:len(word)], word) {
				sign, size = '~', len(word)
				break
			}
		}
	}
	number = strings.TrimSpace(strings.TrimPrefix(s[size:], "="))
	if number == "" {
		sign = 0
	}
	return sign, number
}

// explain says why s, which is no plain decimal number, is refused.
func explain(s string) string {
	body := strings.TrimLeft(s, "+-")
	if !strings.ContainsAny(body, "0123456789") || !strings.ContainsAny(body[:1], "0123456789.,") {
		return wrongNumber
	}
	if len(body) > 1 && body[0] == '0' && strings.ContainsAny(body[1:2], "xXbBoO") || strings.Contains(body, "_") {
		return wrongPlain
	}
	rest := strings.TrimLeft(body, "0123456789.,")
	r, size := utf8.DecodeRuneInString(rest)
	after, _ := utf8.DecodeRuneInString(rest[size:])
	if (unicode.IsSpace(r) || r == '\'' || r == '’') && unicode.IsDigit(after) {
		return wrongThousands
	}
	rest = strings.TrimSpace(rest)
	for _, between := range []string{"-", "–", "—", "to", ".."} {
		if second, ok := strings.CutPrefix(rest, between); ok && strings.Trim(second, "0123456789., ") == "" && strings.ContainsAny(second, "0123456789") {
			return wrongTwo
		}
	}
	return wrongUnit
}
