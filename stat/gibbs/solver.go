package gibbs

import (
	"math"
	"math/rand/v2"
)

// denseMost (a variable so that tests can lower it) is the largest number of parameters left after elimination for which
// they are drawn together; beyond it the blocks are drawn in turn.
var denseMost = 250

// solver draws the flat-prior means and all levels given the variates behind the
// bounds. Blocks are the cells and each term; within a block the precision matrix
// is diagonal. The largest block is eliminated, the rest is a dense system.
type solver struct {
	out    int     // the eliminated block: 0 the cells, 1+t term t
	size   []int   // of each block
	offset []int   // of each block other than out in the dense system
	dim    int     // of the dense system
	index  [][]int // stratum → its position in each block, −1 for the cell of a learned mean

	near  [][]int // eliminated level → the dense positions that share a stratum with it
	place [][]int // stratum → where in near its dense positions are

	diag, rhs []float64   // eliminated block
	cross     [][]float64 // eliminated level → precision with near
	dense     []float64   // dim × dim, lower triangle by rows
	vec, old  []float64
	start     []int // first non-zero of each row of the factor
}

func newSolver(l *layout) solver {
	s := solver{size: []int{l.cells}, offset: make([]int, 1+len(l.terms))}
	for _, t := range l.terms {
		s.size = append(s.size, t.Levels)
	}
	for k, n := range s.size {
		if n > s.size[s.out] {
			s.out = k
		}
	}
	for k, n := range s.size {
		if k != s.out {
			s.offset[k] = s.dim
			s.dim += n
		}
	}
	for i := range l.stratum {
		st := &l.stratum[i]
		at := append([]int{st.cell}, st.level...)
		if l.learnedBy[st.cell] >= 0 {
			at[0] = -1
		}
		s.index = append(s.index, at)
	}
	s.diag, s.rhs = make([]float64, s.size[s.out]), make([]float64, s.size[s.out])
	if s.dim <= denseMost {
		s.link()
	}
	return s
}

// link finds which dense positions meet which eliminated levels.
func (s *solver) link() {
	s.near = make([][]int, s.size[s.out])
	s.place = make([][]int, len(s.index))
	where := make(map[[2]int]int)
	for i, at := range s.index {
		e := at[s.out]
		if e < 0 {
			continue
		}
		for k, p := range at {
			if k == s.out || p < 0 {
				continue
			}
			r := s.offset[k] + p
			w, ok := where[[2]int{e, r}]
			if !ok {
				w = len(s.near[e])
				where[[2]int{e, r}] = w
				s.near[e] = append(s.near[e], r)
			}
			s.place[i] = append(s.place[i], w)
		}
	}
	s.cross = make([][]float64, len(s.near))
	for e, near := range s.near {
		s.cross[e] = make([]float64, len(near))
	}
	s.dense = make([]float64, s.dim*s.dim)
	s.vec, s.old = make([]float64, s.dim), make([]float64, s.dim)
	s.start = make([]int, s.dim)
}

// drawMeans draws the means and levels. Where other means have priors learned
// from them the draw is a proposal, taken with the ratio of those priors.
func (c *chain) drawMeans() {
	if c.solver.dim > denseMost {
		c.drawBlocksInTurn()
		c.drawShifts()
		return
	}
	c.solver.assemble(c)
	if len(c.learn) == 0 {
		c.solver.draw(c)
		return
	}
	defer c.drawShifts()
	before := c.logLearnedAll()
	kept := c.keep()
	c.solver.draw(c)
	if c.logLearnedAll()-before < -c.rng.ExpFloat64() {
		c.restore(kept)
	}
}

func (c *chain) keep() []float64 {
	kept := append(c.solver.old[:0], c.mu...)
	for _, u := range c.effect {
		kept = append(kept, u...)
	}
	c.solver.old = kept
	return kept
}

func (c *chain) restore(kept []float64) {
	kept = kept[copy(c.mu, kept):]
	for _, u := range c.effect {
		kept = kept[copy(u, kept):]
	}
}

// assemble builds the normal equations.
func (s *solver) assemble(c *chain) {
	clear(s.diag)
	clear(s.rhs)
	clear(s.dense)
	clear(s.vec)
	for _, x := range s.cross {
		clear(x)
	}
	s.addPriors(c)
	for i, at := range s.index {
		st := &c.stratum[i]
		w := 1 / (c.sigma[st.group] * c.sigma[st.group])
		wn := w * float64(st.n)
		wy := w * c.zsum[i]
		if at[0] < 0 {
			wy -= wn * c.mu[st.cell]
		}
		e := at[s.out]
		if e >= 0 {
			s.diag[e] += wn
			s.rhs[e] += wy
			for _, p := range s.place[i] {
				s.cross[e][p] += wn
			}
		}
		for k, p := range at {
			if k == s.out || p < 0 {
				continue
			}
			r := s.offset[k] + p
			s.vec[r] += wy
			s.dense[r*s.dim+r] += wn
			for k2 := range k {
				if p2 := at[k2]; k2 != s.out && p2 >= 0 {
					s.dense[r*s.dim+s.offset[k2]+p2] += wn
				}
			}
		}
	}
}

// addPriors puts the precisions of the terms on the diagonal, and a 1 where a
// parameter has neither prior nor data and is not drawn.
func (s *solver) addPriors(c *chain) {
	for k, n := range s.size {
		prec := 0.0
		if k > 0 {
			prec = 1 / (c.tau[k-1] * c.tau[k-1])
		}
		for j := range n {
			p := prec
			if k == 0 && c.learnedBy[j] >= 0 {
				p = 1
			}
			if k == s.out {
				s.diag[j] = p
			} else {
				r := s.offset[k] + j
				s.dense[r*s.dim+r] = p
			}
		}
	}
}

// draw eliminates, factors, and draws from the normal distribution whose
// precision and right-hand side assemble has built.
func (s *solver) draw(c *chain) {
	for e, near := range s.near {
		cross := s.cross[e]
		f := 1 / s.diag[e]
		for a, r := range near {
			x := cross[a] * f
			s.vec[r] -= x * s.rhs[e]
			row := s.dense[r*s.dim : r*s.dim+r+1]
			for b, r2 := range near {
				if r2 <= r {
					row[r2] -= x * cross[b]
				}
			}
		}
	}
	s.factor()
	s.solveAndDraw(c.rng)
	for k, n := range s.size {
		if k != s.out {
			s.store(c, k, s.vec[s.offset[k]:s.offset[k]+n])
		}
	}
	for e, near := range s.near {
		b := s.rhs[e]
		for a, r := range near {
			b -= s.cross[e][a] * s.vec[r]
		}
		s.rhs[e] = b/s.diag[e] + c.rng.NormFloat64()/math.Sqrt(s.diag[e])
	}
	s.store(c, s.out, s.rhs)
}

// store puts the values of block k where they belong. Learned means are not
// drawn here.
func (s *solver) store(c *chain, k int, x []float64) {
	if k > 0 {
		copy(c.effect[k-1], x)
		return
	}
	for j, v := range x {
		if c.learnedBy[j] < 0 {
			c.mu[j] = v
		}
	}
}

// factor overwrites the lower triangle of dense with its Cholesky factor. Rows
// are skipped up to their first non-zero, which is all the sparsity that levels
// nested in separate groups have.
func (s *solver) factor() {
	n := s.dim
	for i := range n {
		row := s.dense[i*n : i*n+i+1]
		first := 0
		for first < i && row[first] == 0 {
			first++
		}
		s.start[i] = first
		d := row[i]
		for j := first; j < i; j++ {
			from := max(first, s.start[j])
			rowJ := s.dense[j*n : j*n+j+1]
			x := row[j]
			for k := from; k < j; k++ {
				x -= row[k] * rowJ[k]
			}
			x /= rowJ[j]
			row[j] = x
			d -= x * x
		}
		row[i] = math.Sqrt(d)
	}
}

// solveAndDraw replaces vec = b by L⁻ᵀ(L⁻¹b + ξ), a draw from Normal(A⁻¹b, A⁻¹)
// for A = LLᵀ.
func (s *solver) solveAndDraw(rng *rand.Rand) {
	n := s.dim
	for i := range n {
		x := s.vec[i]
		for k := s.start[i]; k < i; k++ {
			x -= s.dense[i*n+k] * s.vec[k]
		}
		s.vec[i] = x / s.dense[i*n+i]
	}
	for i := range n {
		s.vec[i] += rng.NormFloat64()
	}
	for i := n - 1; i >= 0; i-- {
		s.vec[i] /= s.dense[i*n+i]
		for k := s.start[i]; k < i; k++ {
			s.vec[k] -= s.dense[i*n+k] * s.vec[i]
		}
	}
}

// drawBlocksInTurn draws each block given the others.
func (c *chain) drawBlocksInTurn() {
	for k := range c.solver.size {
		c.drawBlock(k)
	}
}

func (c *chain) drawBlock(k int) {
	n := c.solver.size[k]
	prec, rhs := make([]float64, n), make([]float64, n)
	for i, at := range c.solver.index {
		if at[k] < 0 {
			continue
		}
		st := &c.stratum[i]
		w := 1 / (c.sigma[st.group] * c.sigma[st.group])
		rest := 0.0
		if k > 0 {
			rest = c.mu[st.cell]
		}
		for t, l := range st.level {
			if 1+t != k {
				rest += c.effect[t][l]
			}
		}
		prec[at[k]] += w * float64(st.n)
		rhs[at[k]] += w * (c.zsum[i] - float64(st.n)*rest)
	}
	if k == 0 {
		for j := range c.mu {
			if c.learnedBy[j] >= 0 {
				continue
			}
			x := rhs[j]/prec[j] + c.rng.NormFloat64()/math.Sqrt(prec[j])
			prior := c.priorAlong(j)
			if prior == nil || prior(x)-prior(c.mu[j]) >= -c.rng.ExpFloat64() {
				c.mu[j] = x
			}
		}
		return
	}
	t := k - 1
	for j := range c.effect[t] {
		p := prec[j] + 1/(c.tau[t]*c.tau[t])
		c.effect[t][j] = rhs[j]/p + c.rng.NormFloat64()/math.Sqrt(p)
	}
}
