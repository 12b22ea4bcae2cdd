package howmany

import (
	"math"
	"slices"
)

// Priors of the engine, on the log scale (internal/answer): of the standard
// deviation between boards and of the spread of log scatter, half-t with 3 degrees
// of freedom; of a mean that its readings hold poorly, learned from its wood.
const (
	priorDF      = 3
	boardScale   = 0.2
	spreadScale  = 0.3
	learnedDF    = 4
	learnedScale = 0.4
	heldBy       = 3 // bond breaks from which a mean needs no learned prior
)

const (
	mostSweeps = 60
	settled    = 1e-3  // change of every log scatter at which the search ends
	probe      = 0.1   // step in log scatter of the central differences
	probeEP    = 3     // sweeps at each, from where the search ended
	leastTau   = 1e-3  // standard deviation between boards that is as good as none
	leastSigma = 0.005 // scatter that is as good as none
	mostSigma  = 3     // the engine's largest
)

// site stands for one reading in the posterior: exp(lin·η − prec·η²/2).
type site struct{ prec, lin float64 }

// block is one wood in the approximation: sites, and the posterior of the cells'
// means and the boards' shifts given the scatters.
type block struct {
	*layout
	obs        *observed
	group      []int // of each cell
	terms      int   // boards in the model
	site       []site
	broke      []int // of each cell
	needs      []bool
	anyEnd     bool // some reading is a bound
	prior      []site
	priorThird []float64

	mean, shift     []float64
	cov             []float64 // cells × cells
	cross           []float64 // cells × terms
	inner           []float64 // terms × terms
	dc, rc, rb      []float64
	gain, shiftGain []float64
	from            []int     // cells that the prior of the others is learned from
	n               []float64 // cells × terms: precision of what they share
}

func newBlock(d *design, w int) *block {
	l := &d.woods[w]
	b := &block{layout: l, group: make([]int, l.cells)}
	if d.boardTerm {
		b.terms = l.boards
	}
	if d.groups > 1 {
		for c := range b.group {
			b.group[c] = c % d.adhesives
		}
	}
	c, t := l.cells, b.terms
	b.site, b.prior = make([]site, len(l.cell)), make([]site, c)
	b.priorThird = make([]float64, c)
	b.broke, b.needs = make([]int, c), make([]bool, c)
	b.mean, b.shift, b.cov = make([]float64, c), make([]float64, t), make([]float64, c*c)
	b.cross, b.inner, b.n = make([]float64, c*t), make([]float64, t*t), make([]float64, c*t)
	b.gain, b.shiftGain = make([]float64, c), make([]float64, t)
	b.dc, b.rc, b.rb = make([]float64, c), make([]float64, c), make([]float64, t)
	return b
}

// start takes a wood's readings and puts the sites at rough values.
func (b *block) start(o *observed, sigma []float64) {
	b.obs, b.anyEnd = o, false
	b.from = b.from[:0]
	clear(b.broke)
	for i, c := range b.cell {
		if !o.bound[i] {
			b.broke[c]++
		}
	}
	n := len(b.cell) / b.cells
	for c := range b.cells {
		b.needs[c] = b.broke[c] < heldBy && b.broke[c] < n
		if !b.needs[c] {
			b.from = append(b.from, c)
		}
		b.prior[c], b.priorThird[c] = site{}, 0
		b.mean[c] = 0
	}
	for i, c := range b.cell {
		s := sigma[b.group[c]]
		b.mean[c] += o.y[i] / float64(n)
		p := 1 / (s * s)
		b.site[i] = site{p, p * o.y[i]}
		if o.bound[i] {
			b.anyEnd = true
			b.site[i] = site{0.3 * p, 0.3 * p * (o.y[i] + 0.6*s)}
		}
	}
	m, df, scale2 := b.learned()
	for c := range b.cells {
		if b.needs[c] {
			if len(b.from) > 0 {
				b.prior[c], _ = studentSite(b.mean[c]-m, scale2, 0, df, scale2)
			} else {
				b.prior[c], _ = studentSite(b.mean[c], scale2, m, df, scale2)
			}
		}
	}
}

// exactSites sets the sites of the readings that are results to a new scatter.
func (b *block) exactSites(sigma []float64) {
	for i, c := range b.cell {
		if !b.obs.bound[i] {
			s := sigma[b.group[c]]
			p := 1 / (s * s)
			b.site[i] = site{p, p * b.obs.y[i]}
		}
	}
}

// learned is the engine's prior of cells whose readings hold their mean poorly: a
// Student t with centre m, squared scale and degrees of freedom.
func (b *block) learned() (m, df, scale2 float64) {
	k := float64(len(b.from))
	if k == 0 {
		for _, y := range b.obs.y {
			m += y / float64(len(b.obs.y))
		}
		return m, learnedDF, 2 * learnedScale * learnedScale
	}
	m = b.meanOfFrom()
	ss := 0.0
	for _, c := range b.from {
		ss += (b.mean[c] - m) * (b.mean[c] - m)
	}
	df = learnedDF + k - 1
	return m, df, (learnedDF*learnedScale*learnedScale + ss) / df * (1 + 1/k)
}

// meanOfFrom is the middle of the cells that the prior is learned from, 0 where there
// are none.
func (b *block) meanOfFrom() (m float64) {
	for _, c := range b.from {
		m += b.mean[c] / float64(len(b.from))
	}
	return m
}

// offset fills gain with the covariance of every cell's mean, and shiftGain of every
// board's shift, with what the prior of a cell holds: how far the cell's mean lies
// from the middle of those that the prior is learned from. It returns the mean and
// the variance of that.
func (b *block) offset(cell int) (mean, variance float64) {
	c, t := b.cells, b.terms
	copy(b.gain, b.cov[cell*c:cell*c+c])
	copy(b.shiftGain, b.cross[cell*t:cell*t+t])
	for _, f := range b.from {
		w := 1 / float64(len(b.from))
		for i, x := range b.cov[f*c : f*c+c] {
			b.gain[i] -= w * x
		}
		for i, x := range b.cross[f*t : f*t+t] {
			b.shiftGain[i] -= w * x
		}
	}
	variance = b.gain[cell]
	for _, f := range b.from {
		variance -= b.gain[f] / float64(len(b.from))
	}
	return b.mean[cell] - b.meanOfFrom(), variance
}

// holdByPriors adds the priors of the cells that need one to the posterior, one
// rank at a time.
func (b *block) holdByPriors() {
	c, t := b.cells, b.terms
	for cell, p := range b.prior {
		if !b.needs[cell] {
			continue
		}
		m, v := b.offset(cell)
		less := p.prec / (1 + p.prec*v)
		move := (p.lin - p.prec*m) / (1 + p.prec*v)
		for i, g := range b.gain {
			b.mean[i] += g * move
			for k, h := range b.gain {
				b.cov[i*c+k] -= less * g * h
			}
			for k, h := range b.shiftGain {
				b.cross[i*t+k] -= less * g * h
			}
		}
		for i, g := range b.shiftGain {
			b.shift[i] += g * move
			for k, h := range b.shiftGain {
				b.inner[i*t+k] -= less * g * h
			}
		}
	}
}

// learn gives those cells the normal prior that stands for the Student t: with it
// their means and variances are those that the t would give, the rest of what is
// known of them taken to be normal.
func (b *block) learn() {
	if !slices.Contains(b.needs, true) {
		return
	}
	m, df, scale2 := b.learned()
	if len(b.from) > 0 {
		m = 0 // the prior holds the distance from the middle
	}
	for c := range b.mean {
		if b.needs[c] {
			x, v := b.offset(c)
			mc, vc := cavity(b.prior[c], x, v)
			b.prior[c], b.priorThird[c] = studentSite(mc, vc, m, df, scale2)
		}
	}
}

// studentSite returns the site of a Student t density against a normal one, and the
// third derivative that gives their product's third cumulant.
func studentSite(mean, variance, m, df, scale2 float64) (site, float64) {
	const half = 8
	sd := math.Sqrt(variance)
	var weight [2*half + 1]float64
	total, first := 0.0, 0.0
	for i := range weight {
		z := float64(i-half) * 5 / half
		x := mean + sd*z
		w := math.Exp(-0.5*z*z - 0.5*(df+1)*math.Log1p((x-m)*(x-m)/scale2/df))
		weight[i] = w
		total += w
		first += w * x
	}
	first /= total
	second, third := 0.0, 0.0
	for i, w := range weight {
		d := mean + sd*float64(i-half)*5/half - first
		second += w * d * d
		third += w * d * d * d
	}
	second /= total
	third /= total
	p := max(1/second-1/variance, 0.01/scale2)
	return site{p, first*(p+1/variance) - mean/variance}, third / (second * second * second)
}

// solve computes means, shifts and their covariance from the sites: the cells,
// which share nothing but boards, are eliminated and the rest is inverted.
func (b *block) solve(tau float64) {
	c, t := b.cells, b.terms
	clear(b.dc)
	clear(b.rc)
	clear(b.n)
	clear(b.rb)
	clear(b.inner)
	for i, s := range b.site {
		k := b.cell[i]
		b.dc[k] += s.prec
		b.rc[k] += s.lin
		if t > 0 {
			j := b.board[i]
			b.n[k*t+j] += s.prec
			b.rb[j] += s.lin
			b.inner[j*t+j] += s.prec
		}
	}
	for j := range t {
		b.inner[j*t+j] += 1 / (tau * tau)
	}
	for k := range c {
		inv := 1 / b.dc[k]
		row := b.n[k*t : k*t+t]
		for i, x := range row {
			if x == 0 {
				continue
			}
			f := x * inv
			b.rb[i] -= f * b.rc[k]
			in := b.inner[i*t : i*t+i+1]
			for j := range in {
				in[j] -= f * row[j]
			}
		}
	}
	invertPositive(b.inner, t)
	for i := range t {
		sum := 0.0
		for j, x := range b.inner[i*t : i*t+t] {
			sum += x * b.rb[j]
		}
		b.shift[i] = sum
	}
	b.backward()
	b.holdByPriors()
}

// backward puts the cells back: means, cross covariances, covariances.
func (b *block) backward() {
	c, t := b.cells, b.terms
	for k := range c {
		inv := 1 / b.dc[k]
		row, out := b.n[k*t:k*t+t], b.cross[k*t:k*t+t]
		clear(out)
		r := b.rc[k]
		for i, x := range row {
			if x == 0 {
				continue
			}
			r -= x * b.shift[i]
			f := x * inv
			for j, y := range b.inner[i*t : i*t+t] {
				out[j] -= f * y
			}
		}
		b.mean[k] = r * inv
	}
	for k := range c {
		row := b.n[k*t : k*t+t]
		inv := 1 / b.dc[k]
		for o := range k + 1 {
			sum := 0.0
			for j, y := range b.cross[o*t : o*t+t] {
				sum -= row[j] * y
			}
			sum *= inv
			if o == k {
				sum += inv
			}
			b.cov[k*c+o], b.cov[o*c+k] = sum, sum
		}
	}
}

// at returns the mean and the variance of a reading's level, mean plus shift.
func (b *block) at(i int) (mean, variance float64) {
	c, t := b.cell[i], b.terms
	mean, variance = b.mean[c], b.cov[c*b.cells+c]
	if t > 0 {
		j := b.board[i]
		mean += b.shift[j]
		variance += b.inner[j*t+j] + 2*b.cross[c*t+j]
	}
	return mean, variance
}

// refine brings the sites of the bounds up to date, and adds to grad, by group, the
// slope of the log marginal likelihood in log scatter, and to free the degrees of
// freedom that the readings leave for it.
func (b *block) refine(sigma, grad, free []float64) {
	for i, c := range b.cell {
		g := b.group[c]
		s := sigma[g]
		m, v := b.at(i)
		if !b.obs.bound[i] {
			r := b.obs.y[i] - m
			grad[g] += (r*r+v)/(s*s) - 1
			free[g] += max(1-v/(s*s), 0)
			continue
		}
		mc, vc := cavity(b.site[i], m, v)
		s2 := s*s + vc
		root := math.Sqrt(s2)
		xi := (mc - b.obs.y[i]) / root
		h := hazard(xi)
		a := h * (xi + h) / s2
		p := a / max(1-vc*a, 1e-9)
		b.site[i] = site{p, p*mc + (1+p*vc)*h/root}
		share := s * s / s2
		grad[g] -= h * xi * share
		free[g] += 0.5 * max(h*(xi+h), 0) * share * 0.5
	}
}

// cavity is the distribution of a reading's level without its own site.
func cavity(s site, m, v float64) (mean, variance float64) {
	left := max(1-v*s.prec, 1e-6)
	return (m - v*s.lin) / left, v / left
}

// third is the third derivative of the log of a bound's site, averaged as it
// matters for the third cumulants.
func (b *block) third(i int, s float64) float64 {
	m, v := b.at(i)
	mc, vc := cavity(b.site[i], m, v)
	s2 := s*s + vc
	xi := (mc - b.obs.y[i]) / math.Sqrt(s2)
	h := hazard(xi)
	ratio := vc / v
	return h * ((xi+h)*(xi+2*h) - 1) / (s2 * math.Sqrt(s2)) * ratio * ratio * ratio
}

// hazard is φ(x)/Φ(x).
func hazard(x float64) float64 {
	if x < -20 {
		// Φ(x) = φ(x)/|x| · (1 − 1/x² + 3/x⁴ − …): two terms are good to 1e-7 here.
		return -x / (1 - 1/(x*x) + 3/(x*x*x*x))
	}
	return math.Exp(-0.5*x*x) * (2 / math.Sqrt(2*math.Pi)) / math.Erfc(-x/math.Sqrt2)
}

// invertPositive replaces the n×n positive definite matrix whose lower triangle is
// given by its inverse, in full.
func invertPositive(a []float64, n int) {
	for j := range n {
		d := a[j*n+j]
		for k := range j {
			d -= a[j*n+k] * a[j*n+k]
		}
		d = math.Sqrt(max(d, 1e-300))
		a[j*n+j] = d
		for i := j + 1; i < n; i++ {
			s := a[i*n+j]
			for k := range j {
				s -= a[i*n+k] * a[j*n+k]
			}
			a[i*n+j] = s / d
		}
	}
	// The inverse of the triangle, in place, column by column.
	for j := range n {
		a[j*n+j] = 1 / a[j*n+j]
		for i := j + 1; i < n; i++ {
			s := 0.0
			for k := j; k < i; k++ {
				s -= a[i*n+k] * a[k*n+j]
			}
			a[i*n+j] = s / a[i*n+i]
		}
	}
	for i := range n {
		for j := range i + 1 {
			s := 0.0
			for k := i; k < n; k++ {
				s += a[k*n+i] * a[k*n+j]
			}
			a[j*n+i] = s
		}
	}
	for i := range n {
		for j := range i {
			a[i*n+j] = a[j*n+i]
		}
	}
}
