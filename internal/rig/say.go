package rig

import (
	"math"
	"strconv"
	"strings"
)

// round writes v with n significant digits and no exponent.
func round(v float64, n int) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	// Rounding first: 9.96 with two digits is 10, and has one digit less after it.
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	decimals := n - 1 - int(math.Floor(math.Log10(math.Abs(r))+1e-9))
	return strconv.FormatFloat(r, 'f', max(decimals, 0), 64)
}

// brief is round without zeros that say nothing.
func brief(v float64, n int) string {
	s := round(v, n)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// newtons writes a force with three digits.
func newtons(v float64) string { return brief(v, 3) + " N" }

// dust is v, or 0 where it is nothing but rounding beside a span.
func dust(v, span float64) float64 {
	if math.Abs(v) <= 1e-10*math.Abs(span) {
		return 0
	}
	return v
}

// chance writes a probability.
func chance(p float64) string {
	if p < 0.0001 {
		return "p < 0.0001"
	}
	return "p = " + brief(p, 2)
}

// listed joins parts as in "a, b and c".
func listed(parts []string) string {
	switch n := len(parts); n {
	case 0:
		return ""
	case 1:
		return parts[0]
	default:
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
}
