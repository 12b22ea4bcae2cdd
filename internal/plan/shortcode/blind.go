package shortcode

import (
	"fmt"
	"math/rand/v2"
)

// blindLetters name adhesives whose identity is kept from the person who breaks.
// No two look alike, none is a grade (A to F), and none turns into another when
// upside down.
const blindLetters = "GHJKLPSTVWXZ"

// MostBlind is the number of blind names there are: pairs of different letters,
// of which one order is used.
const MostBlind = len(blindLetters) * (len(blindLetters) - 1) / 2

// Blind returns n different names for adhesives, drawn from rng, in an order that
// tells nothing: single letters up to twelve, and above that pairs of different
// letters, no two pairs of the same letters. More than MostBlind is an error. It
// panics when n is below 0.
//
// A blind name has no check: one letter misread is another adhesive. It is there
// to pick up the right bottle; what a reading belongs to is said by the
// specimen's code alone.
func Blind(n int, rng *rand.Rand) ([]string, error) {
	if n < 0 {
		panic("shortcode: number of blind names below 0")
	}
	if n > MostBlind {
		return nil, fmt.Errorf("%d adhesives are to be blind, and there are %d blind names: %d adhesives too many", n, MostBlind, n-MostBlind)
	}
	var names []string
	for i, a := range []byte(blindLetters) {
		if n <= len(blindLetters) {
			names = append(names, string(a))
			continue
		}
		for _, b := range []byte(blindLetters[:i]) {
			pair := []byte{a, b}
			if rng.IntN(2) == 0 {
				pair[0], pair[1] = b, a
			}
			names = append(names, string(pair))
		}
	}
	rng.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	return names[:n:n], nil
}
