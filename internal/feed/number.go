package feed

import (
	"math"
	"strconv"
)

// maxNumber is the greatest number of characters in a number.
const maxNumber = 48

var powersOfTen = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads the decimal number that b begins with: a sign, digits with at most
// one decimal point (or comma), an exponent. It returns the nearest float64 and the
// number of bytes read, 0 where b begins with none, with one of more than maxNumber
// characters, or with one beyond the range of a float64. It allocates nothing.
func number(b []byte, comma bool) (v float64, n int) {
	point := byte('.')
	if comma {
		point = ','
	}
	n, digits, exponent := spanNumber(b, point)
	if n == 0 {
		return 0, 0
	}
	if digits <= 15 && !exponent {
		return plainNumber(b[:n], point), n
	}
	var text [maxNumber]byte
	copy(text[:], b[:n])
	for i := range text[:n] {
		if text[i] == ',' {
			text[i] = '.'
		}
	}
	v, err := strconv.ParseFloat(string(text[:n]), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, 0
	}
	return v, n
}

// spanNumber returns the length of the number that b begins with, its digits
// without leading zeros' special treatment, and whether it has an exponent.
func spanNumber(b []byte, point byte) (n, digits int, exponent bool) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		i++
	}
	seen := false
	for ; i < len(b); i++ {
		if isDigit(b[i]) {
			digits++
		} else if b[i] == point && !seen {
			seen = true
		} else {
			break
		}
	}
	if digits == 0 || i > maxNumber {
		return 0, 0, false
	}
	if b[i-1] == point && point == ',' {
		i-- // a comma that no digit follows separates
	}
	if i < len(b) && (b[i] == 'e' || b[i] == 'E') {
		j := i + 1
		if j < len(b) && (b[j] == '-' || b[j] == '+') {
			j++
		}
		start := j
		for j < len(b) && isDigit(b[j]) {
			j++
		}
		if j > start {
			i, exponent = j, true
		}
	}
	if i > maxNumber {
		return 0, 0, false
	}
	return i, digits, exponent
}

// plainNumber reads a number of at most 15 digits without an exponent. It is exact
// to the last bit: the digits as an integer and the power of ten are both float64
// values, and one division rounds once.
func plainNumber(b []byte, point byte) float64 {
	negative := b[0] == '-'
	if negative || b[0] == '+' {
		b = b[1:]
	}
	var mantissa int64
	decimals, after := 0, false
	for _, c := range b {
		if c == point {
			after = true
			continue
		}
		mantissa = mantissa*10 + int64(c-'0')
		if after {
			decimals++
		}
	}
	v := float64(mantissa) / powersOfTen[decimals]
	if negative {
		return -v
	}
	return v
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

func isBlank(c byte) bool { return c == ' ' || c == '\t' }

// blanks returns the number of blanks that b begins with.
func blanks(b []byte) int {
	n := 0
	for n < len(b) && isBlank(b[n]) {
		n++
	}
	return n
}
