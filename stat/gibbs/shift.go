package gibbs

import "math"

// together is a set of levels of one term and the cells they occur in, closed:
// none of these levels occurs in another cell, and no other level in these. Adding
// a number to the levels and taking it from the cells' means leaves every fitted
// value where it is, which is the direction in which levels and means move slowly
// where they are not drawn all at once.
type together struct {
	term   int
	levels []int
	cells  []int
}

// findTogether returns the closed sets of every term. A set is left out where the
// shift would change a learned prior: where that has a fixed centre, or cells both
// in the set and outside.
func (l *layout) findTogether() []together {
	var all []together
	for t, term := range l.terms {
		// Union-find over cells, then levels.
		parent := make([]int, l.cells+term.Levels)
		for i := range parent {
			parent[i] = i
		}
		root := func(i int) int {
			for parent[i] != i {
				parent[i] = parent[parent[i]]
				i = parent[i]
			}
			return i
		}
		for s := range l.stratum {
			st := &l.stratum[s]
			parent[root(l.cells+st.level[t])] = root(st.cell)
		}
		sets := make(map[int]*together)
		var order []int
		for i := range parent {
			r := root(i)
			if sets[r] == nil {
				sets[r] = &together{term: t}
				order = append(order, r)
			}
			if i < l.cells {
				sets[r].cells = append(sets[r].cells, i)
			} else {
				sets[r].levels = append(sets[r].levels, i-l.cells)
			}
		}
		for _, r := range order {
			if len(sets[r].levels) > 0 && l.unmoved(root, r) {
				all = append(all, *sets[r])
			}
		}
	}
	return all
}

// unmoved reports whether every learned prior lies wholly inside or wholly
// outside the set with root r, and none inside has a fixed centre.
func (l *layout) unmoved(root func(int) int, r int) bool {
	for k := range l.learn {
		p := &l.learn[k]
		inside, outside := 0, 0
		for _, cells := range [][]int{p.Cells, p.From} {
			for _, c := range cells {
				if root(c) == r {
					inside++
				} else {
					outside++
				}
			}
		}
		if inside > 0 && (outside > 0 || len(p.From) == 0) {
			return false
		}
	}
	return true
}

// drawShifts draws the common shift of each closed set.
func (c *chain) drawShifts() {
	for k := range c.together {
		s := &c.together[k]
		u := c.effect[s.term]
		mean, n := 0.0, float64(len(s.levels))
		for _, l := range s.levels {
			mean += u[l]
		}
		mean /= n
		delta := c.tau[s.term]/math.Sqrt(n)*c.rng.NormFloat64() - mean
		for _, l := range s.levels {
			u[l] += delta
		}
		for _, cell := range s.cells {
			c.mu[cell] -= delta
		}
	}
}
