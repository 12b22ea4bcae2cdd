package order

import (
	"math/bits"
	"math/rand/v2"
)

// chance draws whole numbers from the caller's source in a way that is written
// down here, so that an order depends on the 64-bit numbers of the source alone
// and not on how a release of the standard library turns them into choices.
type chance struct{ rng *rand.Rand }

// below returns a whole number from 0 to n-1, each with the same probability
// (multiplication with rejection: Lemire, "Fast random integer generation in an
// interval", ACM Transactions on Modeling and Computer Simulation 29, 2019).
func (c chance) below(n int) int {
	m := uint64(n)
	hi, lo := bits.Mul64(c.rng.Uint64(), m)
	if lo < m {
		for least := -m % m; lo < least; {
			hi, lo = bits.Mul64(c.rng.Uint64(), m)
		}
	}
	return int(hi)
}

// heads is true in one case out of two.
func (c chance) heads() bool { return c.rng.Uint64()>>63 == 1 }

// shuffle puts s into a random order, every order with the same probability.
func shuffle[T any](c chance, s []T) {
	for i := len(s) - 1; i > 0; i-- {
		j := c.below(i + 1)
		s[i], s[j] = s[j], s[i]
	}
}
