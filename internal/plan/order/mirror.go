package order

import "slices"

const (
	mixings      = 8  // ways of mixing tried with one arrangement
	arrangements = 40 // arrangements tried
)

// arrange puts units in order and returns the sequence, the arrangements drawn,
// and whether the limits are kept. Of arrangements that all miss the limits it
// returns the nearest.
func arrange(units []unit, adhesives int, c chance) (sequence []int, draws int, kept bool) {
	if len(units) == 0 {
		return []int{}, 0, true
	}
	count := make([]int, adhesives)
	for _, u := range units {
		count[u.adhesive]++
	}
	limit := limits(count, len(units))
	nearest := -1
	for draws = 1; draws <= arrangements; draws++ {
		a := newArrangement(units, count, limit, c)
		for k := range mixings + 3 {
			switch {
			case k == mixings+2:
				a.aside = 0
			case k > mixings || c.heads():
				a.aside = -a.aside
			}
			s := a.sequence(k < mixings, c)
			e := excess(s, units, count, limit)
			if e == 0 {
				return s, draws, true
			}
			if nearest < 0 || e < nearest {
				sequence, nearest = s, e
			}
		}
	}
	return sequence, arrangements, false
}

// An arrangement says which units mirror each other at which distances.
type arrangement struct {
	blocks
	before, after []int // units by distance from the middle, from 1; those of pairs are filled in by sequence
	free          []int // distances of the pairs, ascending
	ranked        []pair
	odd           *pair
	oddRank       int
	widest        int // window
	aside         int // places from the middle to the unit that is put there
	gap           int // place of the unit that is alone, from 0
}

func newArrangement(units []unit, count, limit []int, c chance) *arrangement {
	a := &arrangement{blocks: group(units, count, c)}
	n := len(units)
	if a.alone >= 0 {
		a.gap = c.below(n)
		n--
	}
	distances := n / 2
	a.before, a.after = make([]int, distances+1), make([]int, distances+1)
	used := make([]bool, distances+1)
	if len(a.triples) > 0 {
		half := 1 - n%2
		most := a.tolerance(units, count, limit)
		a.placeTriples(split(distances, half, most-(most+half)%2, allEqual(count), c), used, c)
	}
	for m := 1; m <= distances; m++ {
		if !used[m] {
			a.free = append(a.free, m)
		}
	}
	a.ranked, a.odd = rank(a.pairs, c)
	if a.odd != nil {
		a.oddRank = c.below(len(a.pairs))
	}
	if distances > 0 && len(a.pairs) > 0 {
		a.widest = reach(count, limit, len(a.pairs), distances)
	}
	if a.middle >= 0 {
		a.aside = beside(n, count, limit, c)
		a.favourRigid(n, c)
	}
	return a
}

// tolerance returns by how much, in twice the places, a triple may miss the sum
// of the middle.
func (a *arrangement) tolerance(units []unit, count, limit []int) int {
	triples := make([]int, len(count))
	for _, t := range a.triples {
		triples[units[t[0]].adhesive]++
	}
	most := -1
	for k, n := range triples {
		if n == 0 {
			continue
		}
		l := limit[k]
		if a.alone >= 0 {
			l = max(0, l-count[k]) // the rest is for what the single unit does
		}
		if l /= root(n); most < 0 || l < most {
			most = l
		}
	}
	return most
}

func allEqual(s []int) bool {
	for _, v := range s {
		if v != s[0] {
			return false
		}
	}
	return true
}

// placeTriples gives the triples, two and two, distances drawn from the threes.
func (a *arrangement) placeTriples(threes []three, used []bool, c chance) {
	shuffle(c, threes)
	for k := 0; k < len(a.triples); k += 2 {
		t := threes[k/2]
		one, other := a.triples[k], a.triples[k+1]
		shuffle(c, one[:])
		shuffle(c, other[:])
		if c.heads() {
			one, other = other, one
		}
		a.after[t.x], a.before[t.y], a.before[t.z] = one[0], one[1], one[2]
		a.before[t.x], a.after[t.y], a.after[t.z] = other[0], other[1], other[2]
		used[t.x], used[t.y], used[t.z] = true, true, true
	}
}

// favourRigid puts a rigid pair at distance 2 more often. The unit in the middle
// is never of a rigid pair, and it stands a third of the time one place away from
// the middle and two thirds of the time two places; that leaves rigid pairs as
// often as others at every place but the second, which they can only take when
// the other does not: half as often again as by chance is what makes up for it.
// n is the number of units without the one that is alone.
func (a *arrangement) favourRigid(n int, c chance) {
	at := slices.Index(a.free, 2)
	if at < 0 {
		return
	}
	if a.odd != nil {
		if at == a.oddRank {
			return
		}
		if at > a.oddRank {
			at--
		}
	}
	var rigid []int
	for k, p := range a.ranked {
		if p.rigid {
			rigid = append(rigid, k)
		}
	}
	others := len(a.ranked) - len(rigid)
	if a.ranked[at].rigid || len(rigid) == 0 || others == 0 {
		return
	}
	if c.below(2*n*others) < (n-3)*len(rigid) {
		k := rigid[c.below(len(rigid))]
		a.ranked[at], a.ranked[k] = a.ranked[k], a.ranked[at]
	}
}

// sequence returns the units in order, the pairs mixed if mix is true.
func (a *arrangement) sequence(mix bool, c chance) []int {
	second := make([]int, len(a.ranked), len(a.pairs))
	for k, p := range a.ranked {
		second[k] = p.second
	}
	if mix {
		windows(second, a.widest, c)
	}
	first := make([]int, len(a.ranked), len(a.pairs))
	for k, p := range a.ranked {
		first[k] = p.first
	}
	if a.odd != nil {
		first = slices.Insert(first, a.oddRank, a.odd.first)
		second = slices.Insert(second, a.oddRank, a.odd.second)
	}
	for k, m := range a.free {
		a.before[m], a.after[m] = first[k], second[k]
	}
	s := make([]int, 0, 2*len(a.before))
	for m := len(a.before) - 1; m > 0; m-- {
		s = append(s, a.before[m])
	}
	s = append(s, a.after[1:]...)
	if a.middle >= 0 {
		s = slices.Insert(s, len(s)/2+a.aside, a.middle)
	}
	if a.alone >= 0 {
		s = slices.Insert(s, a.gap, a.alone)
	}
	return s
}

// beside returns how many places from the middle of n units the odd one stands:
// 0 in one of n-2 cases, else one place in a third and two in two thirds of the
// cases, or no farther than the limits allow to every adhesive it may be of.
func beside(n int, count, limit []int, c chance) int {
	farthest := 2
	for a, k := range count {
		if k > 2 {
			farthest = min(farthest, limit[a]/2)
		}
	}
	if n < 5 || c.below(n-2) == 0 {
		return 0
	}
	g := min(farthest, 1+(c.below(3)+1)/2)
	return g
}

// windows shuffles s within consecutive windows of random sizes up to widest. One
// window lies symmetrically about the middle, so that units whose ranks mirror
// each other are neighbours as often after it as before; the first unit stays,
// because its partner is its neighbour.
func windows(s []int, widest int, c chance) {
	n := len(s)
	if n < 4 {
		return
	}
	half := 1 + c.below(max(1, min(widest/2, n/2-1)))
	low, high := n/2-half, n/2+half
	shuffle(c, s[low:high])
	for high < n {
		w := min(1+c.below(widest), n-high)
		shuffle(c, s[high:high+w])
		high += w
	}
	for low > 1 {
		w := min(1+c.below(widest), low-1)
		shuffle(c, s[low-w:low])
		low -= w
	}
}
