package blockdesign

import "math/rand/v2"

// begin opens the places of the most largest blocks, fills them at random, and then
// joins components as long as that is possible. If they are not one then, it starts
// again with the fewest blocks that will do, which gives the fewest components.
func (s *state) begin(p Problem, most int, rng *rand.Rand) {
	s.openBlocks(p.Blocks, most)
	s.fill(p.Replications, rng)
	if s.joinAll(rng) == 1 {
		return
	}
	// No component has a unit to spare. Fewer blocks make for fewer vertices.
	s.openBlocks(p.Blocks, fewestBlocks(p.Blocks, p.units()))
	s.fill(p.Replications, rng)
	s.joinAll(rng)
}

// openBlocks sets open to the places of the most largest blocks.
func (s *state) openBlocks(capacity []int, most int) {
	s.open = s.open[:0]
	for _, b := range largestFirst(capacity)[:most] {
		for place := s.first[b]; place < s.first[b+1]; place++ {
			s.open = append(s.open, place)
		}
	}
}

// fill puts the units at random into the open places.
func (s *state) fill(replications []int, rng *rand.Rand) {
	for place := range s.held {
		s.held[place] = free
	}
	rng.Shuffle(len(s.open), func(a, b int) { s.open[a], s.open[b] = s.open[b], s.open[a] })
	next := 0
	for i, r := range replications {
		for range r {
			s.held[s.open[next]] = i
			next++
		}
	}
}

// joinAll exchanges units between components until there is one or none can be
// spared, and returns how many there are. A unit can be spared if its component
// stays in one piece without it; exchanged with a unit of another component, or
// moved to a free place there, it holds the two together, including the pieces
// that the other one's loss may leave.
func (s *state) joinAll(rng *rand.Rand) int {
	order := rng.Perm(len(s.held))
	for {
		// The vertices are the treatments, then the blocks. A unit that closes a cycle
		// can be spared.
		union := newSets(s.t + s.b)
		var spare []int
		joined := 0
		used := make([]bool, s.b)
		blocks := 0
		for _, place := range order {
			i := s.held[place]
			if i == free {
				continue
			}
			b := s.block[place]
			if !used[b] {
				used[b] = true
				blocks++
			}
			if union.join(i, s.t+b) {
				joined++
			} else {
				spare = append(spare, place)
			}
		}
		components := s.t + blocks - joined
		if components == 1 || len(spare) == 0 {
			return components
		}
		from := spare[0]
		for _, to := range order {
			b := s.block[to]
			if used[b] && union.find(s.t+b) != union.find(s.held[from]) {
				s.held[from], s.held[to] = s.held[to], s.held[from]
				break
			}
		}
	}
}
