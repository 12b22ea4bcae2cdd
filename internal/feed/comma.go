package feed

import "strings"

// decimalComma reports whether commas in lines are decimal commas, with a doubt where
// they could as well separate two numbers.
func decimalComma(texts []string) (comma bool, doubt string) {
	var single []string // lines in which one comma is all there is to go by
	for _, t := range texts {
		switch judgeCommas(t) {
		case commasSeparate:
			return false, ""
		case commasDecimal:
			return true, ""
		case commaEither:
			single = append(single, t)
		}
	}
	if len(single) < 2 {
		return false, ""
	}
	var whole []float64
	length, same := 0, true
	for i, t := range single {
		before, after, _ := strings.Cut(t, ",")
		n := digitsAtStart(after)
		if n > 1 && after[0] == '0' {
			return true, "" // no whole number is written 05
		}
		same = same && (i == 0 || n == length)
		length = n
		whole = append(whole, numberAtEnd(before))
	}
	if !same || neverBack(whole) {
		return false, ""
	}
	return true, "the comma is taken for a decimal comma: where it separates two numbers, give the pattern, as in {time_ms},{counts}"
}

type commaVerdict uint8

const (
	commasNone commaVerdict = iota
	commasSeparate
	commasDecimal
	commaEither
)

// judgeCommas says what the commas of one line must be.
func judgeCommas(t string) commaVerdict {
	count := strings.Count(t, ",")
	if count == 0 || !strings.ContainsAny(t, "0123456789") {
		return commasNone
	}
	letters := false
	for i := range len(t) {
		switch {
		case t[i] == ',' && (i == 0 || i+1 == len(t)):
			return commasNone
		case t[i] == ',' && (!isDigit(t[i-1]) || !isDigit(t[i+1])):
			if isDigit(t[i-1]) || isDigit(t[i+1]) {
				return commasSeparate
			}
			letters = true // a line of names, perhaps
		case t[i] == '.' && i+1 < len(t) && isDigit(t[i+1]):
			return commasSeparate
		}
	}
	if letters {
		return commasNone
	}
	// Read with decimal commas, does a comma still stand beside a number?
	left := strings.Contains(skeleton(tokens(t, true)), hole+",")
	switch {
	case left:
		return commasSeparate
	case count > 1 || strings.Contains(t, ";"):
		return commasDecimal
	}
	return commaEither
}

func digitsAtStart(s string) int {
	n := 0
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	return n
}

// numberAtEnd is the whole number that a text ends with.
func numberAtEnd(s string) float64 {
	start := len(s)
	for start > 0 && isDigit(s[start-1]) {
		start--
	}
	v, _ := number([]byte(s[start:]), false)
	return v
}
