package gibbs

import (
	"math"
	"math/rand/v2"
)

// solver holds the numbers of a system: it draws the flat-prior means and all
// levels given the variates behind the bounds.
type solver struct {
	*system
	diag, rhs []float64 // eliminated block
	crossed   []float64 // precisions between eliminated and dense positions
	dense     []float64 // dim × dim, lower triangle by rows
	vec       []float64 // right-hand side of the dense system, then the draw
	start     []int     // first non-zero of each row of the factor
	kept      []float64 // means and levels before a proposal
}

func newSolver(s *system) solver {
	v := solver{system: s, diag: make([]float64, s.size[s.out]), rhs: make([]float64, s.size[s.out])}
	if s.links != nil {
		v.crossed = make([]float64, s.cross[len(s.near)])
		v.dense, v.vec, v.start = make([]float64, s.dim*s.dim), make([]float64, s.dim), make([]int, s.dim)
	}
	return v
}

// drawMeans draws the means and levels. Where other means have priors learned
// from them the draw is a proposal, taken with the ratio of those priors.
func (c *chain) drawMeans() {
	switch {
	case c.solver.links == nil:
		for k := range c.solver.size {
			c.drawBlock(k)
		}
		c.drawShifts()
	case len(c.learn) == 0:
		c.solver.assemble(c)
		c.solver.draw(c)
	default:
		c.solver.assemble(c)
		before := c.logLearnedAll()
		c.keep()
		c.solver.draw(c)
		if c.logLearnedAll()-before < -c.rng.ExpFloat64() {
			c.restore()
		}
		c.drawShifts()
	}
}

func (c *chain) keep() {
	kept := append(c.solver.kept[:0], c.mu...)
	for _, u := range c.effect {
		kept = append(kept, u...)
	}
	c.solver.kept = kept
}

func (c *chain) restore() {
	kept := c.solver.kept
	kept = kept[copy(c.mu, kept):]
	for _, u := range c.effect {
		kept = kept[copy(u, kept):]
	}
}

// assemble builds the normal equations.
func (s *solver) assemble(c *chain) {
	clear(s.rhs)
	clear(s.crossed)
	clear(s.dense)
	clear(s.vec)
	s.addPriors(c)
	for i := range s.links {
		l, st := &s.links[i], &c.stratum[i]
		w := c.prec[st.group]
		wn, wy := w*float64(st.n), w*c.zsum[i]
		if c.learnedBy[st.cell] >= 0 {
			wy -= wn * c.mu[st.cell]
		}
		if l.out >= 0 {
			s.diag[l.out] += wn
			s.rhs[l.out] += wy
			for _, p := range l.cross {
				s.crossed[p] += wn
			}
		}
		for _, r := range l.vec {
			s.vec[r] += wy
		}
		for _, p := range l.dense {
			s.dense[p] += wn
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
		cross := s.crossed[s.cross[e]:s.cross[e+1]]
		f := 1 / s.diag[e]
		for a, r := range near {
			x := cross[a] * f
			s.vec[r] -= x * s.rhs[e]
			row := s.dense[int(r)*s.dim : int(r)*s.dim+int(r)+1]
			for b := range a + 1 {
				row[near[b]] -= x * cross[b]
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
		cross := s.crossed[s.cross[e]:s.cross[e+1]]
		b := s.rhs[e]
		for a, r := range near {
			b -= cross[a] * s.vec[r]
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
		row := s.dense[i*n : i*n+i+1]
		x := s.vec[i]
		for k := s.start[i]; k < i; k++ {
			x -= row[k] * s.vec[k]
		}
		s.vec[i] = x / row[i]
	}
	for i := range n {
		s.vec[i] += rng.NormFloat64()
	}
	for i := n - 1; i >= 0; i-- {
		row := s.dense[i*n : i*n+i+1]
		x := s.vec[i] / row[i]
		s.vec[i] = x
		for k := s.start[i]; k < i; k++ {
			s.vec[k] -= row[k] * x
		}
	}
}

// drawBlock draws one block given the others.
func (c *chain) drawBlock(k int) {
	n := c.solver.size[k]
	prec, rhs := make([]float64, n), make([]float64, n)
	for i := range c.stratum {
		st := &c.stratum[i]
		at, rest := st.cell, 0.0
		if k > 0 {
			at, rest = st.level[k-1], c.mu[st.cell]
		}
		for t, l := range st.level {
			if 1+t != k {
				rest += c.effect[t][l]
			}
		}
		w := c.prec[st.group]
		prec[at] += w * float64(st.n)
		rhs[at] += w * (c.zsum[i] - float64(st.n)*rest)
	}
	if k > 0 {
		tau := c.tau[k-1]
		for j := range c.effect[k-1] {
			p := prec[j] + 1/(tau*tau)
			c.effect[k-1][j] = rhs[j]/p + c.rng.NormFloat64()/math.Sqrt(p)
		}
		return
	}
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
}
