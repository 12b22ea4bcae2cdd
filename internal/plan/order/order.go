// Package order draws the order in which specimens are glued up or broken.
//
// An order has to be random, so that whatever drifts on the way (the room, the
// hand, the rig) meets the adhesives by chance, and it has to be balanced, so
// that chance does not give one adhesive the mornings. Redrawing until the
// adhesives are balanced is no way out: with many adhesives it hardly ends, with
// unequal counts it pulls the specimens of small adhesives to the middle, and
// it keeps specimens of one adhesive apart. Here the order is balanced by the way
// it is built.
//
// # The construction: mirror orders, version 1
//
// Places are counted from the middle of the order outwards.
//
//  1. The specimens of an adhesive are joined in pairs, and in triples where a
//     count is odd: within cells first, what is left across the cells. Should
//     the number of specimens be odd, one is first taken out for the middle; an
//     adhesive with a single specimen forms a pair with another such, or is left
//     to the end.
//  2. A pair takes the places m before and m after the middle. Two triples share
//     six places: one takes x after and y and z before the middle, the other
//     the mirror image, where x is y+z as nearly as it goes. For that all
//     distances are split at random into threes of this kind, and as many threes
//     as are needed are chosen by lot. So every distance is as likely as every
//     other to fall to a triple, every specimen is equally likely to stand in
//     every place, and the sum of the places of an adhesive is that of the
//     middle.
//  3. Pairs of one adhesive are joined in fours, two distances the one as far
//     below the middle of the distances as the other is above, so that an
//     adhesive is no more often near the ends than others.
//  4. Before the middle the order stays; after it the pairs are mixed within
//     windows of random sizes as wide as the limits allow, so that the order is
//     not its own mirror image.
//  5. The specimen for the middle is put there, or up to two places away; the
//     single one that was left is put in a place drawn from all.
//  6. An order that misses the limits is mixed anew (step 4), and in the end
//     drawn anew: never with even counts, in about 2 % of trials with fewer than
//     60 specimens and random counts (measured).
//
// Why neighbours are as chance has them: in a complete random order every
// specimen follows every other with probability 1/N. Here partners are neighbours
// only in the very middle, where one pair always is; that is 1/N for each of the
// N/2 pairs in either order, and what remains is spread evenly over the others.
// The same count holds for the fours, whose windows are laid symmetrically, and
// for triples when on average one of all threes has y and z next to each
// other: the split is drawn so that exactly one has. The place beside the middle
// in step 5 is there for the same reason: in the middle itself the odd specimen
// would part partners every time, and may do so in one order of N-2.
//
// Zero-sum groups of uniform numbers are "joint mixes": Rüschendorf and
// Uckelmann, "Variance minimization and random variables with constant sum"
// (2002), from memory, unconfirmed; in continuous terms x is the largest of three
// uniform numbers and y uniform below x, which makes the mean of the three
// densities uniform (derived, and checked by the tests of this package).
//
// # What is exact, and what is not
//
// With even counts places and neighbours are exactly as by chance, by the
// argument above, but for mixing anew what missed the limits, which moves a
// specimen within its window only. With odd counts they are so as far as the
// tests can see (10,000 seeds), but for few specimens:
//
//   - Where all counts are equal, places are uniform for any number of specimens
//     (no adhesive is treated differently from another). Neighbours are not where N
//     is odd and below about 25 with three of each: adhesives follow themselves
//     0.99 times an order in place of 2 with 3 adhesives of 3, 1.78 with 5 of 3,
//     2.09 with 7 of 3 (measured).
//   - With unequal counts and fewer than about 16 specimens the few arrangements
//     within the limits decide: with counts 3, 3, 4 and 2 places are uniform and
//     adhesives follow themselves 2.47 times an order in place of 2.17; with 3, 3
//     and 2 places are not uniform either (measured).
//   - With N odd and below 34, an adhesive of three and adhesives of one or two,
//     specimens of the latter stand next to the middle half as often as by
//     chance, and half as often again one place further (measured).
package order

import (
	"fmt"
	"math/rand/v2"
)

// Algorithm names the way from the numbers of the source to the order. A change
// that gives another order for the same source takes another version.
const Algorithm = "mirror orders, version 1"

// Most is the largest number of specimens that is taken.
const Most = 20000

// Specimen says of one specimen what its place in the order is balanced by.
type Specimen struct {
	Adhesive string
	Cell     string // wood and factor levels; specimens of one adhesive and cell are alike
	Batch    int    // most specimens to glue with one opening of the adhesive, or 0: no batches
}

// Order is a drawn order of specimens, which are named by their index in what was
// given, from 0.
type Order struct {
	Sequence []int // Sequence[k] is the specimen that has its turn at place k+1
	Batch    []int // by specimen: its batch, numbered from 1 as they are opened; nil without batches
	Draws    int   // arrangements drawn until the limits were kept, or until the draw was given up
	Kept     bool  // whether the limits are kept, as far as the counts allow: see Draw
}

// Places returns the place of every specimen, from 1.
func (o Order) Places() []int {
	places := make([]int, len(o.Sequence))
	for k, s := range o.Sequence {
		places[s] = k + 1
	}
	return places
}

// Draw draws an order: the algorithm is Algorithm, described at the package. The
// same specimens and the same state of the source give the same order everywhere;
// callers seed the source, as in rand.New(rand.NewPCG(seed, stream)).
//
// Kept says that every adhesive of two specimens or more has its mean place
// within 2 % of N of the middle and |r| of at most 0.05 between place and being of
// this adhesive, or is as near as the counts allow: half a place over its count
// where its places cannot add up to the middle, and half a place more where one
// adhesive of a single specimen has no other such to be paired with. With batches the limits apply to the order
// of the batches, and Balance tells what that gives for the specimens.
//
// With batches the specimens of an adhesive are dealt to as few batches as will
// do, of sizes that differ by one at most and with cells spread over them; the
// batches are ordered like specimens, and specimens within a batch stand in
// random order.
//
// Draw returns an error when the specimens of an adhesive disagree about the
// batch size, or it is negative. It panics when there are more than Most
// specimens or there is no source.
func Draw(specimens []Specimen, rng *rand.Rand) (Order, error) {
	if rng == nil {
		panic("order: no random source")
	}
	if len(specimens) > Most {
		panic("order: too many specimens")
	}
	adhesives, names := number(specimens, func(s Specimen) string { return s.Adhesive })
	cells, _ := number(specimens, func(s Specimen) string { return s.Cell })
	size := make([]int, len(names))
	batched := false
	for i := len(specimens) - 1; i >= 0; i-- {
		size[adhesives[i]] = specimens[i].Batch
	}
	for i, s := range specimens {
		if s.Batch < 0 {
			return Order{}, fmt.Errorf("specimen %d (%s): a batch of %d: write how many specimens one opening serves, or 0 for no batches", i+1, s.Adhesive, s.Batch)
		}
		if s.Batch != size[adhesives[i]] {
			return Order{}, fmt.Errorf("adhesive %s: batches of %d and of %d: give all its specimens one batch size", s.Adhesive, size[adhesives[i]], s.Batch)
		}
		batched = batched || s.Batch > 0
	}
	units := make([]unit, len(specimens))
	for i := range units {
		units[i] = unit{adhesives[i], cells[i]}
	}
	c := chance{rng}
	if !batched {
		sequence, draws, kept := arrange(units, len(names), c)
		return Order{Sequence: sequence, Draws: draws, Kept: kept}, nil
	}
	return drawBatches(units, size, c), nil
}

// number replaces names by their numbers, from 0 in the order of first mention.
func number(specimens []Specimen, name func(Specimen) string) (numbers []int, names []string) {
	seen := make(map[string]int)
	numbers = make([]int, len(specimens))
	for i, s := range specimens {
		k, ok := seen[name(s)]
		if !ok {
			k = len(names)
			seen[name(s)] = k
			names = append(names, name(s))
		}
		numbers[i] = k
	}
	return numbers, names
}
