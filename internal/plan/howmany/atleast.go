package howmany

import "math"

// wrongShare is the engine's share of "at least" statements that may be wrong.
const wrongShare = 0.05

const (
	gridSteps = 48
	gridBelow = 5.0 // standard deviations below the mean
	gridReach = 13.0
)

// loose is a cell of which every reading is a bound. Its posterior is far from
// normal, so it is put on a grid.
type loose struct {
	is         bool
	from, step float64
	weight     [gridSteps]float64 // sum 1
	mean, sd   float64
}

// side says which cells of a pair are only "at least".
func (j *judge) side(p int) (a, b bool) {
	x := j.pairs[p]
	from := x.wood * j.adhesives * j.combos
	return j.loose[from+x.a].is, j.loose[from+x.b].is
}

// findLoose describes the cells of bounds.
func (j *judge) findLoose() {
	cells := j.adhesives * j.combos
	all := 0.0
	for w, b := range j.blocks {
		for c, n := range b.broke {
			j.loose[w*cells+c].is = n == 0
			if n == 0 {
				all++
			}
		}
	}
	for w, b := range j.blocks {
		only := 0.0
		for c := range b.cells {
			if b.broke[c] == 0 {
				only++
			}
		}
		luck := wrongShare * min(all/float64(cells*len(j.blocks)), only/float64(cells))
		for c := range b.cells {
			if l := &j.loose[w*cells+c]; l.is {
				j.describe(l, b, c, luck)
			}
		}
	}
}

// describe puts the posterior of a cell's mean on a grid: the learned prior times
// the chance of its bounds, board shifts and scatter about their posterior. It is
// moved down as far as the engine's bound against luck asks.
func (j *judge) describe(l *loose, b *block, cell int, luck float64) {
	g := b.group[cell]
	out := math.Exp(math.Sqrt(3 * j.cov[g*j.groups+g]))
	// Three points of Gauss and Hermite for the scatter.
	sigma := [3]float64{j.sigma[g] / out, j.sigma[g], j.sigma[g] * out}
	share := [3]float64{1.0 / 6, 4.0 / 6, 1.0 / 6}
	m, df, scale2 := b.learned()
	sd := math.Sqrt(b.cov[cell*b.cells+cell])
	l.step = sd * gridReach / gridSteps
	l.from = b.mean[cell] - gridBelow*sd
	clear(l.weight[:])
	var chance [gridSteps]float64
	for k, s := range sigma {
		var f [gridSteps]float64
		sum := 0.0
		for i := range f {
			mu := l.from + float64(i)*l.step
			p := b.allAbove(cell, mu, s)
			chance[i] += share[k] * p
			f[i] = p * math.Pow(1+(mu-m)*(mu-m)/scale2/df, -0.5*(df+1))
			sum += f[i]
		}
		for i := range f {
			l.weight[i] += share[k] * f[i] / max(sum, 1e-300)
		}
	}
	bound := 0.0
	for i := 1; i < gridSteps; i++ {
		if chance[i] >= luck {
			// Linear in the logarithm.
			bound = float64(i) - math.Log(chance[i]/luck)/math.Log(max(chance[i]/max(chance[i-1], 1e-300), 1+1e-12))
			break
		}
	}
	l.from -= max(gridQuantile(l.weight[:], 0.05)-bound, 0) * l.step
	l.measure()
}

func (l *loose) measure() {
	l.mean, l.sd = 0, 0
	for i, w := range l.weight {
		l.mean += w * float64(i)
	}
	for i, w := range l.weight {
		l.sd += w * (float64(i) - l.mean) * (float64(i) - l.mean)
	}
	l.mean, l.sd = l.from+l.mean*l.step, math.Sqrt(l.sd)*l.step
}

// allAbove is the chance that every reading of a cell of bounds turns out as high as
// it did, given the cell's mean and the scatter, and the boards' shifts as far as
// they are known.
func (b *block) allAbove(cell int, mu, sigma float64) float64 {
	p := 1.0
	for i, c := range b.cell {
		if c != cell {
			continue
		}
		m, v := mu, sigma*sigma
		if b.terms > 0 {
			k := b.board[i]
			m += b.shift[k]
			v += b.inner[k*b.terms+k]
		}
		p *= upper((b.obs.y[i] - m) / math.Sqrt(v))
	}
	return p
}

// gridQuantile returns the place, in steps, of a quantile of weights on a grid.
func gridQuantile(weight []float64, p float64) float64 {
	sum := 0.0
	for i, w := range weight {
		if sum+w >= p && w > 0 {
			return float64(i) - 0.5 + (p-sum)/w
		}
		sum += w
	}
	return float64(len(weight) - 1)
}

// ends is what a verdict needs of the posterior of a difference: the middle, the
// mean distances from it, and quantiles.
type ends struct {
	mid, dn, up              float64
	low, low90, high90, high float64
}

// reversed is that of the difference the other way round.
func (e ends) reversed() ends {
	return ends{-e.mid, e.up, e.dn, -e.high, -e.high90, -e.low90, -e.low}
}

// less is the posterior of a loose cell's mean less a normal one.
func (l *loose) less(mean, sd float64) ends {
	var cdf [gridSteps + 1]float64
	total := math.Hypot(l.sd, sd)
	from := l.mean - mean - gridBelow*total
	step := gridReach * total / gridSteps
	for i := range cdf {
		x := from + float64(i)*step
		for k, w := range l.weight {
			if w > 1e-7 {
				cdf[i] += w * upper((l.from+float64(k)*l.step-mean-x)/sd)
			}
		}
	}
	quantile := func(p float64) float64 {
		for i := 1; i < len(cdf); i++ {
			if cdf[i] >= p {
				return from + step*(float64(i)-(cdf[i]-p)/max(cdf[i]-cdf[i-1], 1e-300))
			}
		}
		return from + step*gridSteps
	}
	e := ends{mid: quantile(0.5), low: quantile(0.025), low90: quantile(0.05), high90: quantile(0.95), high: quantile(0.975)}
	// A step of Newton's method for the middle; then with D normal about m
	// E max(mid − D, 0) = (mid − m)·Φ(z) + sd·φ(z), z = (mid − m)/sd, and the mean
	// distances above and below differ by twice the distance of the mean.
	for last := range 2 {
		p, density, below := 0.0, 0.0, 0.0
		for k, w := range l.weight {
			z := (e.mid - (l.from + float64(k)*l.step - mean)) / sd
			f, phi := upper(-z), math.Exp(-0.5*z*z)/math.Sqrt(2*math.Pi)
			p += w * f
			density += w * phi / sd
			below += w * sd * (z*f + phi)
		}
		if last == 0 {
			e.mid += (0.5 - p) / max(density, 0.1/total)
			continue
		}
		e.dn = 2 * below
		e.up = e.dn + 2*(l.mean-mean-e.mid)
	}
	e.low90, e.high90 = min(e.low90, e.mid), max(e.high90, e.mid)
	return e
}

// looseEnds is the posterior of a pair of which one cell is loose: that cell on its
// grid, the other normal.
func (j *judge) looseEnds(p int) (ends, bool) {
	x := j.pairs[p]
	b := j.blocks[x.wood]
	from := x.wood * b.cells
	sd := func(c int) float64 { return math.Sqrt(b.cov[c*b.cells+c]) }
	a, o := &j.loose[from+x.a], &j.loose[from+x.b]
	switch {
	case a.is && !o.is:
		return a.less(b.mean[x.b], sd(x.b)), true
	case o.is && !a.is:
		return o.less(b.mean[x.a], sd(x.a)).reversed(), true
	}
	return ends{}, false
}
