package order

// A three is three distances from the middle, x as nearly as may be y+z.
type three struct{ x, y, z int }

// splitter splits distances into threes.
type splitter struct {
	c      chance
	n      int    // the largest distance
	left   []bool // by distance: left out
	joined bool   // whether there is one three with y next to z
	half   int    // 1 when the places are half a place off whole distances from the middle, 0 when not
	most   int    // largest |2(x-y-z)+half| allowed: twice what is missing to the sum of the middle
	free   []int
	at     []int // at[m] is the index of distance m in free, or -1
	threes []three
	fixed  int // threes[:fixed] stay
	found  []three
	strict int // 2: the number of threes with neighbours among them is as by chance; 1: that of y and z only; 0: neither
	near   int // threes with x next to y
}

// split splits all distances from 1 to n but n mod 3 of them, drawn at random,
// into threes, |2(x-y-z)+half| being at most most or, should that fail, little
// more.
//
// In one three y is next to z, and in one x is next to y, unless the distances
// that are left out take it: by chance each of n/3 threes would have either with
// probability 3/n. Left to itself the split would have the first only half as
// often, and the second more often when most is small. Where there are few
// distances not everything can be had. If equal is true, all adhesives have the
// same count, so that places are as likely for all whatever is left out, and
// other distances are left out first; else they stay, as the places of small
// adhesives would suffer, and the neighbours are given up first.
func split(n, half, most int, equal bool, c chance) []three {
	most = max(half, min(most, 8+half+n/20*2)) // more than that is not needed
	for ; ; most += 2 {
		narrow := most / 2
		narrow -= (narrow + half) % 2
		narrow = max(narrow, min(most, half+2))
		for k := range 9 {
			strict := 2 - k/3
			s := splitter{c: c, half: half, n: n, left: leaveOut(n, c), joined: c.below(n) >= n%3}
			if s.tries(strict, narrow, most) {
				return s.threes
			}
			for !equal && strict > 0 {
				strict--
				if s.tries(strict, narrow, most) {
					return s.threes
				}
			}
		}
	}
}

// tries makes some attempts at a split, with a little less freedom first.
func (s *splitter) tries(strict, narrow, most int) bool {
	for _, s.most = range []int{narrow, most} {
		for range 5 {
			s.strict = strict
			if s.try() {
				return true
			}
		}
	}
	return false
}

// leaveOut draws n mod 3 of the distances from 1 to n.
func leaveOut(n int, c chance) []bool {
	out := make([]bool, n+1)
	for k := 0; k < n%3; {
		if m := 1 + c.below(n); !out[m] {
			out[m] = true
			k++
		}
	}
	return out
}

// try makes one attempt at a split.
func (s *splitter) try() bool {
	s.threes, s.free, s.near = s.threes[:0], s.free[:0], 0
	s.at = make([]int, s.n+1)
	for m := range s.at {
		s.at[m] = -1
		if m > 0 && !s.left[m] {
			s.at[m] = len(s.free)
			s.free = append(s.free, m)
		}
	}
	if len(s.free) == 3 {
		s.strict = 0
	}
	if s.most == 0 && sum(s.free)%2 == 1 {
		return false // the x are half of the sum
	}
	if s.joined && s.strict > 0 && !s.join() || s.half == 0 && !s.lean() {
		return false
	}
	s.fixed = len(s.threes)
	largest := s.n
	for budget := 4*s.n + 20; len(s.free) > 0; budget-- {
		for s.at[largest] < 0 {
			largest--
		}
		if t, ok := s.find(largest); ok {
			s.take(t)
			continue
		}
		if budget <= 0 || len(s.threes) == s.fixed {
			return false
		}
		for k := 0; k < 3 && len(s.threes) > s.fixed; k++ {
			s.undo(s.fixed + s.c.below(len(s.threes)-s.fixed))
		}
		largest = s.n
	}
	return s.strict < 2 || !s.joined || s.near == 1
}

// join takes one three whose y and z are next to each other and, if that is to
// be, one whose x and y are.
func (s *splitter) join() bool {
	low, high := s.sums(0)
	if !s.pick(func() three {
		z := 1 + s.c.below(s.n/2)
		return three{2*z + 1 - low - s.c.below(high-low+1), z + 1, z}
	}) {
		return false
	}
	if s.strict < 2 || s.near > 0 || s.half == 0 && s.at[1] >= 0 {
		return true // where 1 leans, it is of such a three
	}
	return s.pick(func() three {
		x := 2 + s.c.below(s.n-1)
		z := 1 + low + s.c.below(high-low+1)
		if z == x-2 {
			z = 0 // that would be y next to z once more
		}
		return three{x, x - 1, z}
	})
}

// lean takes the threes of 1 and 2 where they have to lean: x is y+z then, being
// neither more nor, as it is above y, much less.
func (s *splitter) lean() bool {
	for z := 1; z <= 2; z++ {
		if s.at[z] >= 0 && !s.pick(func() three {
			x := 3 + s.c.below(s.n-2)
			if s.strict > 0 && x == 2*z+1 {
				x = 0 // that would be y next to z once more
			}
			return three{x, x - z, z}
		}) {
			return false
		}
	}
	return true
}

// pick draws threes until one is free, and takes it.
func (s *splitter) pick(draw func() three) bool {
	for range 30 {
		t := draw()
		if t.z > 0 && t.y > t.z && t.x > t.y && t.x < len(s.at) && s.at[t.x] >= 0 && s.at[t.y] >= 0 && s.at[t.z] >= 0 && s.leans(t) {
			s.take(t)
			return true
		}
	}
	return false
}

// sums returns the least and the largest sum of y and z that go with x.
func (s *splitter) sums(x int) (low, high int) {
	return x - (s.most-s.half)/2, x + (s.most+s.half)/2 // |2(x-sum)+half| ≤ most
}

// find looks for a y and a z that go with x among the free distances below it,
// all that do being equally likely: by lot while there are many, and else through
// all.
func (s *splitter) find(x int) (three, bool) {
	low, high := s.sums(x)
	if len(s.free) > 40 {
		for range 40 {
			y := s.free[s.c.below(len(s.free))]
			z := low + s.c.below(high-low+1) - y
			if s.allowed(x, y, z) {
				return three{x, max(y, z), min(y, z)}, true
			}
		}
	}
	s.found = s.found[:0]
	for _, y := range s.free {
		for z := max(1, low-y); z <= high-y && z < y; z++ {
			if s.allowed(x, y, z) {
				s.found = append(s.found, three{x, y, z})
			}
		}
	}
	if len(s.found) == 0 {
		return three{}, false
	}
	return s.found[s.c.below(len(s.found))], true
}

func (s *splitter) allowed(x, y, z int) bool {
	if z < 1 || z >= x || y >= x || y == z || s.at[z] < 0 {
		return false
	}
	if s.strict > 0 && (y-z == 1 || z-y == 1) {
		return false
	}
	return s.strict < 2 || s.near == 0 || x-y != 1 && x-z != 1
}

// leans reports whether the one that goes beside the middle may push a unit of
// this three across it: that takes a place from y or z if they are 1 or 2, so
// that x must not be above y+z then.
func (s *splitter) leans(t three) bool {
	return s.half == 1 || min(t.y, t.z) > 2 || t.x <= t.y+t.z
}

func (s *splitter) take(t three) {
	s.threes = append(s.threes, t)
	if t.x-t.y == 1 {
		s.near++
	}
	for _, m := range [3]int{t.x, t.y, t.z} {
		last := s.free[len(s.free)-1]
		s.free[s.at[m]], s.at[last] = last, s.at[m]
		s.free = s.free[:len(s.free)-1]
		s.at[m] = -1
	}
}

func (s *splitter) undo(k int) {
	t := s.threes[k]
	last := len(s.threes) - 1
	s.threes[k] = s.threes[last]
	s.threes = s.threes[:last]
	if t.x-t.y == 1 {
		s.near--
	}
	for _, m := range [3]int{t.x, t.y, t.z} {
		s.at[m] = len(s.free)
		s.free = append(s.free, m)
	}
}

func sum(s []int) int {
	total := 0
	for _, v := range s {
		total += v
	}
	return total
}
