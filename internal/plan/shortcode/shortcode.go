// Package shortcode gives specimens short codes that are hard to misread and
// tell nothing, and adhesives blind names.
//
// # The code
//
// A code is five characters of [Alphabet]: four drawn at random and a check
// character. Upper case only, so that a QR code takes it in its alphanumeric
// mode. The alphabet has 17 characters, no two of which are easily taken for one
// another in print, in pencil, or under a smear of glue: of 0/O/Q/D it keeps D,
// of 1/I/L none, of 2/Z 2, of 3/8/B 8, of 5/S 5, of 6/G 6, of 7/T 7, of U/V/Y V,
// of M/N M, of P/R/F P. It has no vowels, so that nothing is spelt.
//
// # The check
//
// With the characters numbered from 0 as they stand in the alphabet, a code
// c₁…c₅ is right where
//
//	5·c₁ + 4·c₂ + 3·c₃ + 2·c₄ + 1·c₅ ≡ 0 (mod 17)
//
// 17 is a prime and the weights and all their differences and sums of two are
// not multiples of it. So one wrong character changes the sum by weight ×
// difference, two exchanged characters, neighbours or not, by difference of
// weights × difference, and two characters both turned from a into b by sum of
// weights × difference: none of them is 0, and each of these slips is caught.
// That is the usual weighted check over a prime modulus, as in the ISBN with ten
// digits. Of other slips one in 17 passes the sum.
//
// # What is left out
//
// No character comes twice in a code (nothing like 888, no doubled character to
// miscount), and a code has at least one character that is none when turned
// upside down: the characters 6 8 9 H M W X alone can be read from both sides.
package shortcode

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Alphabet is what codes are written in, in the order that numbers it from 0.
const Alphabet = "2456789CDHJKMPVWX"

// Length is the number of characters of a code.
const Length = 5

// Most is the number of codes that one trial may have. There are some eight
// times as many, so that a slip seldom leads to another code of the trial.
const Most = 5000

const (
	modulus    = len(Alphabet)
	turnable   = "689HMWX" // still characters when upside down
	dataLength = Length - 1
)

// weight of the character at position i, from 0.
func weight(i int) int { return Length - i }

// sum is the weighted sum that is a multiple of 17 for a right code. Every
// character of s is of the alphabet.
func sum(s string) int {
	n := 0
	for i := range len(s) {
		n += weight(i) * strings.IndexByte(Alphabet, s[i])
	}
	return n % modulus
}

// Draw returns n codes drawn from rng, each of the possible ones as likely as
// any other, none twice and none of those taken. n from 0; more than Most with
// those taken is an error that says by how many. It panics when n is below 0.
//
// The codes depend on the state of rng, n and taken only, and nothing can be
// told from a code about the place it is drawn at.
func Draw(n int, taken []string, rng *rand.Rand) ([]string, error) {
	if n < 0 {
		panic("shortcode: number of codes below 0")
	}
	used := make(map[string]bool, n+len(taken))
	for _, c := range taken {
		used[c] = true
	}
	if over := n + len(used) - Most; over > 0 {
		return nil, fmt.Errorf("a trial may have %d specimen codes: with %d asked for and %d in use that is %d too many; split the trial", Most, n, len(used), over)
	}
	codes := make([]string, 0, n)
	for len(codes) < n {
		c := draw(rng)
		if used[c] || bad(c) {
			continue
		}
		used[c] = true
		codes = append(codes, c)
	}
	return codes, nil
}

// draw returns any string of the right sum.
func draw(rng *rand.Rand) string {
	var b [Length]byte
	for i := range dataLength {
		b[i] = Alphabet[rng.IntN(modulus)]
	}
	// The weight of the last character is 1, so it is what is missing to the sum.
	b[dataLength] = Alphabet[(modulus-sum(string(b[:dataLength])))%modulus]
	return string(b[:])
}

// bad reports whether a string of the right sum is not used as a code.
func bad(s string) bool {
	_, twice := repeated(s)
	return twice || strings.Trim(s, turnable) == ""
}

// repeated returns the first character that comes twice.
func repeated(s string) (c byte, ok bool) {
	for i := range len(s) {
		if strings.IndexByte(s[:i], s[i]) >= 0 {
			return s[i], true
		}
	}
	return 0, false
}

// Fold returns s as a code is written: capitals, without white space, hyphens
// and points. What it cannot mend it leaves, so the result need not be a code.
func Fold(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r), r == '-', r == '‐', r == '‑', r == '–', r == '.':
			return -1
		}
		return unicode.ToUpper(r)
	}, s)
}

// lookalike says what a character outside the alphabet was probably meant to be.
var lookalike = map[rune]string{
	'0': "D", 'O': "D", 'Q': "D",
	'Z': "2", '3': "8", 'B': "8", 'S': "5", 'G': "6", 'T': "7",
	'U': "V", 'Y': "V", 'N': "M", 'R': "P", 'F': "P",
}

// Check returns nil when s is a code exactly as [Draw] writes it, and otherwise
// an error that says what is wrong: the length, a character that codes do not
// have, one that comes twice, or the check character. Every single wrong
// character and every exchange of two characters is found.
func Check(s string) error {
	if s == "" {
		return fmt.Errorf("there is no code; a code has %d characters", Length)
	}
	if f := Fold(s); f != s && Check(f) == nil {
		return fmt.Errorf("code %q: write it as %s", s, f)
	}
	if n := utf8.RuneCountInString(s); n != Length {
		return fmt.Errorf("code %q has %s; a code has %d", s, characters(n), Length)
	}
	for i, r := range []rune(s) {
		if r < utf8.RuneSelf && strings.ContainsRune(Alphabet, r) {
			continue
		}
		hint := ""
		if l, ok := lookalike[unicode.ToUpper(r)]; ok {
			hint = fmt.Sprintf("; perhaps it is %s", l)
		}
		return fmt.Errorf("code %q: codes have no %q (character %d)%s", s, r, i+1, hint)
	}
	if c, ok := repeated(s); ok {
		return fmt.Errorf("code %q: %c comes twice, which it does in no code; read the label again", s, c)
	}
	if sum(s) != 0 {
		return fmt.Errorf("code %q: the check character does not fit, so a character is wrong or two are exchanged; read the label again", s)
	}
	if bad(s) {
		return fmt.Errorf("code %q is one that is never given, as it can be read upside down; turn the label and read it again", s)
	}
	return nil
}

func characters(n int) string {
	if n == 1 {
		return "1 character"
	}
	return fmt.Sprintf("%d characters", n)
}
