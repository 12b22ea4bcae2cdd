package feed

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// Expected by reading the numbers.
func TestNumber(t *testing.T) {
	for _, c := range []struct {
		text  string
		comma bool
		want  float64
		n     int
	}{
		{"12.5", false, 12.5, 4},
		{"-12.5 N", false, -12.5, 5},
		{"+7,8", false, 7, 2},
		{"7,8;1", true, 7.8, 3},
		{"-0,25", true, -0.25, 5},
		{".5", false, 0.5, 2},
		{"5.", false, 5, 2},
		{"5,", true, 5, 1}, // a comma that no digit follows separates
		{"1e3", false, 1000, 3},
		{"1.5E-3x", false, 0.0015, 6},
		{"12e", false, 12, 2},
		{"12e+", false, 12, 2},
		{"0x10", false, 0, 1},
		{"1_000", false, 1, 1},
		{"", false, 0, 0},
		{"-", false, 0, 0},
		{".", false, 0, 0},
		{"nan", false, 0, 0},
		{"inf", false, 0, 0},
		{"1e999", false, 0, 0}, // beyond float64
		{strings.Repeat("9", maxNumber+1), false, 0, 0},
	} {
		got, n := number([]byte(c.text), c.comma)
		if got != c.want || n != c.n {
			t.Errorf("number(%q, %v) = %v, %d; want %v, %d", c.text, c.comma, got, n, c.want, c.n)
		}
	}
	if got, n := number([]byte("-0"), false); n != 2 || !math.Signbit(got) {
		t.Errorf("-0 is read as %v", got)
	}
}

func TestNumberAllocatesNothing(t *testing.T) {
	for _, text := range []string{"8388607", "-123.456", "3.14159265358979323846", "1.25e-7"} {
		b := []byte(text)
		if n := testing.AllocsPerRun(100, func() { number(b, false) }); n != 0 {
			t.Errorf("reading %s allocates %v times", text, n)
		}
	}
}

// The standard library's ParseFloat says what is right.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"12.5", "-1e5", "999999999999999", "0.000000000000001", "9007199254740993", "1e-320", "+.5e1", "1,5"} {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, s string, comma bool) {
		v, n := number([]byte(s), comma)
		if n == 0 {
			return
		}
		text := s[:n]
		if comma {
			text = strings.ReplaceAll(text, ",", ".")
		}
		want, err := strconv.ParseFloat(text, 64)
		if err != nil || math.Float64bits(v) != math.Float64bits(want) {
			t.Fatalf("number(%q) = %v from %q; ParseFloat: %v, %v", s, v, s[:n], want, err)
		}
	})
}
