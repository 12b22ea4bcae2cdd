package gibbs

import "math"

// Where bounds outnumber the exact observations of a cell, its μ and σ rise
// together: a wider scatter with a higher mean leaves the bounds as likely as
// before. Drawn one at a time they creep along this ridge; ridgeMove draws them
// together, along the curve
//
//	log σ + δ,  a + (μ − a)·e^δ  for each such cell
//
// about an anchor a inside the cell's observations. The curves are the orbits of a
// group of scalings, so δ is drawn from the density along the curve times e^(kδ)
// for k cells (Liu and Sabatti 2000, theorem 1).

// ridge is a group's cells that move with its σ.
type ridge struct {
	group  int
	cells  []int
	anchor []float64 // of each cell
}

// findRidges returns the groups that have such cells.
func (l *layout) findRidges() []ridge {
	var all []ridge
	for g := range l.groups {
		if !l.collapseGroup[g] {
			continue
		}
		r := ridge{group: g}
		for cell := range l.ofCell {
			if !l.collapseCell[cell] || l.byCell[cell].from == l.byCell[cell].to || l.stratum[l.ofCell[cell][0]].group != g {
				continue
			}
			r.cells = append(r.cells, cell)
			r.anchor = append(r.anchor, l.meanOf(cell))
		}
		if len(r.cells) > 0 {
			all = append(all, r)
		}
	}
	return all
}

// meanOf is the mean of a cell's observations, bounds taken at a finite end.
func (l *layout) meanOf(cell int) float64 {
	sum, n := 0.0, 0.0
	for _, s := range l.ofCell[cell] {
		st := &l.stratum[s]
		sum += float64(st.exact) * st.mean
		n += float64(st.n)
		for _, b := range l.bound[st.bounds.from:st.bounds.to] {
			sum += finiteEnd(b)
		}
	}
	return sum / n
}

// moving is one cell of a ridge as its density along the curve needs it.
type moving struct {
	n, mean, ss float64 // exact observations less their shifts
	from, to    int     // its bounds in shifted and other
	anchor, mu  float64
}

// ridgeMove draws σ of a group and μ of its cells along the ridge, with the
// variates behind the bounds integrated out.
func (c *chain) ridgeMove(r *ridge) {
	g := r.group
	c.shifted, c.other, c.moving = c.shifted[:0], c.other[:0], c.moving[:0]
	restSS, restN := 0.0, 0.0 // the group's other cells, which stay
	in := 0
	for _, s := range c.ofGroup[g] {
		st := &c.stratum[s]
		for in < len(r.cells) && r.cells[in] < st.cell {
			in++
		}
		if in < len(r.cells) && r.cells[in] == st.cell {
			continue
		}
		restSS += c.residualSS(s, false)
		restN += float64(st.exact)
		c.gather(s, c.mu[st.cell])
	}
	rest := len(c.shifted)
	for k, cell := range r.cells {
		m := moving{anchor: r.anchor[k], mu: c.mu[cell], from: len(c.shifted)}
		for _, s := range c.ofCell[cell] {
			st := &c.stratum[s]
			if st.exact > 0 {
				m.add(float64(st.exact), st.mean-c.shift[s], st.ss)
			}
			c.gather(s, 0)
		}
		m.to = len(c.shifted)
		c.moving = append(c.moving, m)
	}
	l, invNow := math.Log(c.sigma[g]), 1/c.sigma[g]
	prior := c.ridgePrior(r)
	along := func(delta float64) float64 {
		logSD, grow := l+delta, math.Exp(delta)
		if !c.logRange.holds(logSD) {
			return math.Inf(-1)
		}
		inv := invNow / grow
		f := float64(len(r.cells))*delta - restN*logSD - 0.5*restSS*inv*inv
		if c.groups > 1 {
			d := (logSD - c.lambda) / c.omega
			f -= 0.5 * d * d
		}
		f += c.logBoundsOf(0, rest, 0, inv)
		for k := range c.moving {
			m := &c.moving[k]
			mu := m.anchor + (m.mu-m.anchor)*grow
			d := m.mean - mu
			f -= m.n*logSD + 0.5*(m.ss+m.n*d*d)*inv*inv
			f += c.logBoundsOf(m.from, m.to, mu, inv)
		}
		if prior != nil {
			f += prior(grow)
		}
		return f
	}
	delta := slice(0, 5, along, c.rng)
	c.sigma[g] = math.Exp(l + delta)
	c.placeRidge(r, math.Exp(delta))
}

// logBoundsOf is logBounds for a part of shifted and other.
func (c *chain) logBoundsOf(from, to int, mu, inv float64) float64 {
	if c.lowerOnly {
		return logBounds(c.shifted[from:to], nil, mu, inv)
	}
	return logBounds(c.shifted[from:to], c.other[from:to], mu, inv)
}

// add merges n observations with the given mean and sum of squares about it.
func (m *moving) add(n, mean, ss float64) {
	d := mean - m.mean
	total := m.n + n
	m.ss += ss + d*d*m.n*n/total
	m.mean += d * n / total
	m.n = total
}

// placeRidge puts the cells of a ridge where the scaling takes them from the
// places in moving.
func (c *chain) placeRidge(r *ridge, grow float64) {
	for k, cell := range r.cells {
		m := &c.moving[k]
		c.mu[cell] = m.anchor + (m.mu-m.anchor)*grow
	}
}

// ridgePrior is the log density of the learned priors as the cells of a ridge
// move, or nil where none of them takes part in one.
func (c *chain) ridgePrior(r *ridge) func(grow float64) float64 {
	for _, cell := range r.cells {
		if c.learnedBy[cell] >= 0 || len(c.feeds[cell]) > 0 {
			return func(grow float64) float64 {
				c.placeRidge(r, grow)
				f := c.logLearnedAll()
				c.placeRidge(r, 1)
				return f
			}
		}
	}
	return nil
}
