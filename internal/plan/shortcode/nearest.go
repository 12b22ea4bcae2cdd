package shortcode

import "slices"

// Nearest proposes what s, as a person typed it, was meant to be. ok is true
// where s, after [Fold], is one of the known codes, or where exactly one of them
// is one slip away: one character wrong, two characters exchanged, one missing,
// or one too many. A code listed twice counts once. What is proposed is for a
// person to confirm, never to be taken unasked.
func Nearest(s string, known []string) (code string, ok bool) {
	f := Fold(s)
	if f == "" {
		return "", false
	}
	if slices.Contains(known, f) {
		return f, true
	}
	typed := []rune(f)
	for _, k := range known {
		if k == code || !oneSlip(typed, []rune(k)) {
			continue
		}
		if code != "" {
			return "", false
		}
		code = k
	}
	return code, code != ""
}

// oneSlip reports whether a, which is not b, comes from b by one slip.
func oneSlip(a, b []rune) bool {
	switch len(a) - len(b) {
	case 0:
		var differ []int
		for i := range a {
			if a[i] != b[i] {
				differ = append(differ, i)
			}
		}
		switch len(differ) {
		case 1:
			return true
		case 2:
			i, j := differ[0], differ[1]
			return a[i] == b[j] && a[j] == b[i]
		}
	case 1:
		return oneMore(a, b)
	case -1:
		return oneMore(b, a)
	}
	return false
}

// oneMore reports whether long, without one of its characters, is short.
func oneMore(long, short []rune) bool {
	i := 0
	for i < len(short) && long[i] == short[i] {
		i++
	}
	return slices.Equal(long[i+1:], short[i:])
}
