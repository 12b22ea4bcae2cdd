package order

// A unit is what is put in order: a specimen, or a batch.
type unit struct{ adhesive, cell int }

// A pair of units that mirror each other. Its adhesive is -1 when it joins two
// adhesives of a single unit each. A rigid pair is all there is of its adhesives,
// so that neither of the two can be the one in the middle.
type pair struct {
	first, second int
	adhesive      int
	rigid         bool
}

// blocks are the units of an order in their groups, each in random order.
type blocks struct {
	pairs   []pair // those of one adhesive and cell next to each other, then those of one adhesive
	triples [][3]int
	middle  int // the unit for the middle, or -1
	alone   int // the unit that goes anywhere, or -1
}

// group joins units to pairs and triples.
func group(units []unit, count []int, c chance) blocks {
	b := blocks{middle: -1, alone: -1}
	var singles, splittable []int
	for i, u := range units {
		switch n := count[u.adhesive]; {
		case n == 1:
			singles = append(singles, i)
		case n > 2:
			splittable = append(splittable, i)
		}
	}
	shuffle(c, singles)
	odd := len(units)%2 == 1
	if k := len(singles); k%2 == 1 {
		b.alone, singles = singles[k-1], singles[:k-1]
		odd = !odd
	}
	if odd { // then some adhesive has an odd count above 2
		b.middle = splittable[c.below(len(splittable))]
	}
	for k := 0; k < len(singles); k += 2 {
		b.pairs = append(b.pairs, pair{singles[k], singles[k+1], -1, true})
	}
	cells := make([][][]int, len(count))
	for a := range count {
		if count[a] > 1 {
			cells[a] = byCell(units, a, c)
		}
	}
	for a := range cells {
		b.groupAdhesive(cells[a], a, count[a] == 2, c)
	}
	shuffle(c, b.triples)
	return b
}

// groupAdhesive joins the units of one adhesive, given cell by cell: within the
// cells first, then those that are left over.
func (b *blocks) groupAdhesive(cells [][]int, a int, rigid bool, c chance) {
	var left []int
	var triples [][3]int
	var pairs []pair
	for _, cell := range cells {
		for k, i := range cell {
			if i == b.middle {
				cell = append(cell[:k:k], cell[k+1:]...)
				break
			}
		}
		switch n := len(cell); {
		case n == 1:
			left = append(left, cell[0])
			continue
		case n%2 == 1:
			triples = append(triples, [3]int(cell[n-3:]))
			cell = cell[:n-3]
		}
		for k := 0; k < len(cell); k += 2 {
			pairs = append(pairs, pair{cell[k], cell[k+1], a, rigid})
		}
	}
	if n := len(left); n%2 == 1 {
		i := left[n-1]
		left = left[:n-1]
		switch {
		case n >= 3:
			triples = append(triples, [3]int{i, left[n-3], left[n-2]})
			left = left[:n-3]
		case len(triples) > 0:
			k := c.below(len(triples))
			t := triples[k]
			triples = append(triples[:k], triples[k+1:]...)
			pairs = append(pairs, pair{t[0], t[1], a, rigid})
			left = append(left, i, t[2])
		default:
			k := c.below(len(pairs))
			p := pairs[k]
			pairs = append(pairs[:k], pairs[k+1:]...)
			triples = append(triples, [3]int{i, p.first, p.second})
		}
	}
	for k := 0; k < len(left); k += 2 {
		pairs = append(pairs, pair{left[k], left[k+1], a, rigid})
	}
	b.pairs = append(b.pairs, pairs...)
	b.triples = append(b.triples, triples...)
}

// rank returns the pairs in the order of their distances from the middle: pairs
// of one adhesive joined in fours whose ranks mirror each other, as the places of
// a pair do, and those that are left over joined across adhesives. An odd one is
// returned apart: it goes to a rank drawn from all.
func rank(pairs []pair, c chance) (ranked []pair, odd *pair) {
	var fours [][2]pair
	var left []pair
	for k := 0; k < len(pairs); {
		if a := pairs[k].adhesive; a >= 0 && k+1 < len(pairs) && pairs[k+1].adhesive == a {
			fours = append(fours, [2]pair{pairs[k], pairs[k+1]})
			k += 2
			continue
		}
		left = append(left, pairs[k])
		k++
	}
	shuffle(c, left)
	if n := len(left); n%2 == 1 {
		odd, left = &left[n-1], left[:n-1]
	}
	for k := 0; k < len(left); k += 2 {
		fours = append(fours, [2]pair{left[k], left[k+1]})
	}
	shuffle(c, fours)
	ranked = make([]pair, 2*len(fours))
	for k, f := range fours {
		if c.heads() {
			f[0], f[1] = f[1], f[0]
		}
		ranked[k], ranked[len(ranked)-1-k] = f[0], f[1]
	}
	for k, p := range ranked {
		if c.heads() {
			ranked[k].first, ranked[k].second = p.second, p.first
		}
	}
	return ranked, odd
}
