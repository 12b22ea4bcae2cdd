package gibbs

import (
	"math"
	"slices"
)

// sorted returns the draws in ascending order, the draws themselves unchanged.
// NaN is not allowed.
func sorted(draws []float64) []float64 {
	order := ascending(draws)
	s := make([]float64, len(draws))
	for i, o := range order {
		s[i] = draws[o.at]
	}
	return s
}

// ranked is a value, as a key that orders like it, and where it stood.
type ranked struct {
	key uint64
	at  uint32
}

// ascending returns the values in ascending order, equal ones in the order they
// stood in. Long lists, of which a posterior has hundreds, are sorted digit by
// digit, which takes a third of the time of comparing.
func ascending(x []float64) []ranked {
	order := make([]ranked, len(x))
	for i, v := range x {
		bits := math.Float64bits(v + 0) // −0 becomes 0
		if bits>>63 == 0 {
			bits |= 1 << 63
		} else {
			bits = ^bits
		}
		order[i] = ranked{bits, uint32(i)}
	}
	if len(x) < 500 {
		slices.SortStableFunc(order, func(a, b ranked) int {
			switch {
			case a.key < b.key:
				return -1
			case a.key > b.key:
				return 1
			}
			return 0
		})
		return order
	}
	return byDigits(order)
}

// byDigits is a stable least-digit-first radix sort with digits of 11 bits.
// Digits that are the same in all keys are passed over.
func byDigits(order []ranked) []ranked {
	const bits, digits = 11, 6
	var count [digits][1 << bits]uint32
	for i := range order {
		k := order[i].key
		for d := range digits {
			count[d][k>>(d*bits)&(1<<bits-1)]++
		}
	}
	spare := make([]ranked, len(order))
	for d := range digits {
		c := &count[d]
		if int(c[order[0].key>>(d*bits)&(1<<bits-1)]) == len(order) {
			continue
		}
		at := uint32(0)
		for v := range c {
			at, c[v] = at+c[v], at
		}
		for i := range order {
			v := order[i].key >> (d * bits) & (1<<bits - 1)
			spare[c[v]] = order[i]
			c[v]++
		}
		order, spare = spare, order
	}
	return order
}
