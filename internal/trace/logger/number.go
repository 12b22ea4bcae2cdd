package logger

import (
	"encoding/binary"
	"math/bits"
	"strconv"
	"unsafe"
)

// pow10 holds the powers of ten that are exact in a float64.
var pow10 = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// number reads a plain decimal number from the beginning of b, without allocation:
// sign, digits with one decimal mark among them, exponent. It returns the number of
// bytes that it took, 0 where there is no number. The value is the float64 nearest to
// what is written: exact integers of 53 bits times an exact power of ten are rounded
// once; the rest goes to the standard library.
func number(b []byte, mark byte) (v float64, n int) {
	i := 0
	negative := false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		negative = b[0] == '-'
		i = 1
	}
	start := i
	var m uint64
	for i < len(b) {
		d := b[i] - '0'
		if d > 9 {
			break
		}
		m = m*10 + uint64(d)
		i++
	}
	digits, fraction := i-start, 0
	if i < len(b) && b[i] == mark {
		i++
		from := i
		for i < len(b) {
			d := b[i] - '0'
			if d > 9 {
				break
			}
			m = m*10 + uint64(d)
			i++
		}
		fraction = i - from
		digits += fraction
	}
	if digits == 0 {
		return 0, 0
	}
	exp := -fraction
	if i < len(b) && (b[i] == 'e' || b[i] == 'E') {
		e, k := exponent(b[i+1:])
		if k == 0 {
			return 0, 0
		}
		exp += e
		i += 1 + k
	}
	if digits > 19 || m >= 1<<53 || exp > 22 || exp < -22 {
		return slowNumber(b[:i], mark)
	}
	v = float64(m)
	if exp < 0 {
		v /= pow10[-exp]
	} else if exp > 0 {
		v *= pow10[exp]
	}
	if negative {
		v = -v
	}
	return v, i
}

// quickNumber is number for those with up to seven digits on each side of the mark: it
// looks at eight bytes at once.
func quickNumber(b []byte, mark byte) (v float64, n int) {
	i := 0
	if len(b) > 0 && b[0] == '-' {
		i = 1
	}
	if len(b) < i+8 {
		return number(b, mark)
	}
	m, whole := digits8(binary.LittleEndian.Uint64(b[i:]))
	if whole == 8 {
		return number(b, mark)
	}
	n = i + whole
	v = float64(m)
	if b[n] == mark {
		if len(b) < n+9 {
			return number(b, mark)
		}
		f, fraction := digits8(binary.LittleEndian.Uint64(b[n+1:]))
		if fraction == 8 {
			return number(b, mark)
		}
		n += 1 + fraction
		whole += fraction
		// Both are below 10^7, so that this is an exact integer.
		v = float64(m*intPow10[fraction]+f) / pow10[fraction]
	}
	if whole == 0 || b[n]|0x20 == 'e' {
		return number(b, mark)
	}
	if i == 1 {
		v = -v
	}
	return v, n
}

var intPow10 = [...]uint64{1, 10, 100, 1000, 10_000, 100_000, 1_000_000, 10_000_000}

// digits8 reads the digits that eight bytes, the first the lowest, begin with: their
// value and how many they are.
func digits8(w uint64) (value uint64, n int) {
	x := w ^ 0x3030303030303030
	// A byte is a digit where its upper half is 0, and stays so with 6 added. A carry
	// only reaches bytes after the first that is none.
	other := (x | (x + 0x0606060606060606)) & 0xf0f0f0f0f0f0f0f0
	n = bits.TrailingZeros64(other) / 8
	if n == 0 {
		return 0, 0
	}
	x <<= 64 - 8*uint(n) // zeros before
	x = (x * 10) + (x >> 8)
	x = ((x&0x000000ff000000ff)*(100+1_000_000<<32) + ((x>>16)&0x000000ff000000ff)*(1+10_000<<32)) >> 32
	return x, n
}

// exponent reads what follows an e.
func exponent(b []byte) (e, n int) {
	i, negative := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	from := i
	for i < len(b) && b[i]-'0' <= 9 {
		if e < 10000 {
			e = e*10 + int(b[i]-'0')
		}
		i++
	}
	if i == from {
		return 0, 0
	}
	if negative {
		e = -e
	}
	return e, i
}

// slowNumber reads a number that the quick way would not round rightly.
func slowNumber(b []byte, mark byte) (v float64, n int) {
	if mark != '.' {
		b = append([]byte(nil), b...)
		for i := range b {
			if b[i] == mark {
				b[i] = '.'
			}
		}
	}
	// The string is read at once and not kept.
	v, err := strconv.ParseFloat(unsafe.String(&b[0], len(b)), 64)
	if err != nil {
		return 0, 0
	}
	return v, len(b)
}

// clock reads hh:mm:ss with an optional fraction, after an optional date and before an
// optional AM or PM or Z, and returns seconds of the day, and the days of a date
// written year first (−1 without one). ok is false where b is nothing of the kind.
func clock(b []byte, mark byte) (seconds float64, days int, ok bool) {
	days = -1
	if i := lastSpaceBeforeTime(b); i > 0 {
		date := b[:i]
		b = b[i+1:]
		if d, isDate := yearFirst(date); isDate {
			days = d
		} else if !looksLikeDate(date) {
			return 0, -1, false
		}
	}
	h, n := twoDigits(b)
	if n == 0 || n == len(b) || b[n] != ':' || h > 24 {
		return 0, -1, false
	}
	b = b[n+1:]
	m, n := twoDigits(b)
	if n == 0 || n == len(b) || b[n] != ':' || m > 59 {
		return 0, -1, false
	}
	b = b[n+1:]
	if len(b) == 0 || b[0]-'0' > 9 {
		return 0, -1, false
	}
	if mark == ',' {
		for i := range b { // clocks are written with a point in files of decimal commas, too
			if b[i] == '.' {
				mark = '.'
			}
		}
	}
	s, k := number(b, mark)
	if k == 0 || s >= 61 {
		return 0, -1, false
	}
	switch rest := string(b[k:]); rest {
	case "", "Z", "z":
	case " AM", " am", "AM", "am":
		if h == 12 {
			h = 0
		}
	case " PM", " pm", "PM", "pm":
		if h < 12 {
			h += 12
		}
	default:
		return 0, -1, false
	}
	return float64(h*3600+m*60) + s, days, true
}

// lastSpaceBeforeTime returns the place of the T or space between date and time, or −1.
func lastSpaceBeforeTime(b []byte) int {
	for i, c := range b {
		if c == ':' {
			return -1
		}
		if c == 'T' || c == ' ' {
			return i
		}
	}
	return -1
}

func twoDigits(b []byte) (v, n int) {
	for n < len(b) && n < 2 && b[n]-'0' <= 9 {
		v = v*10 + int(b[n]-'0')
		n++
	}
	return v, n
}

// looksLikeDate reports whether b is digits with points, dashes or slashes.
func looksLikeDate(b []byte) bool {
	digits, marks := 0, 0
	for _, c := range b {
		switch {
		case c-'0' <= 9:
			digits++
		case c == '.' || c == '-' || c == '/':
			marks++
		default:
			return false
		}
	}
	return digits >= 3 && marks == 2
}

// yearFirst reads yyyy-mm-dd, with any mark between, as days.
func yearFirst(b []byte) (days int, ok bool) {
	if len(b) != 10 || !looksLikeDate(b) {
		return 0, false
	}
	n := func(s []byte) int {
		v := 0
		for _, c := range s {
			if c-'0' > 9 {
				return -1
			}
			v = v*10 + int(c-'0')
		}
		return v
	}
	y, m, d := n(b[:4]), n(b[5:7]), n(b[8:])
	if y < 0 || m < 1 || m > 12 || d < 1 || d > 31 {
		return 0, false
	}
	// Days of the Gregorian calendar from the first of March of year 0.
	if m <= 2 {
		y--
		m += 12
	}
	return 365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + d - 1, true
}
