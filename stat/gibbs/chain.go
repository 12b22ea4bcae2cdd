package gibbs

import (
	"math"
	"math/rand/v2"
)

// chain is the state of one chain and its working memory.
type chain struct {
	*layout
	rng *rand.Rand

	mu      []float64   // cell
	effect  [][]float64 // term, level
	sigma   []float64   // group
	tau     []float64   // term
	lambda  float64     // mean of log σ
	omega   float64     // standard deviation of log σ
	latent  []float64   // variate behind each bound
	zsum    []float64   // stratum: sum of exact values and of the variates behind bounds
	shift   []float64   // stratum: Σ_t u_t
	ss      []float64   // group: sum of squares, variates behind bounds included
	count   []float64   // group: observations
	invSD   []float64   // group: 1/σ as the step began, until the scatters are drawn
	prec    []float64   // group: 1/σ² likewise
	place   []float64   // group: working memory
	moving  []moving    // cells of one ridge
	solver  solver
	weigh   weigher
	scatter func(float64) float64 // weigh.logScatter, made once
	shifted []float64             // bounds of one cell or group less what is known of their mean
	other   []float64             // for an interval, its upper end likewise
}

func newChain(l *layout, rng *rand.Rand) *chain {
	c := &chain{layout: l, rng: rng,
		mu: make([]float64, l.cells), sigma: make([]float64, l.groups), tau: make([]float64, len(l.terms)),
		effect: make([][]float64, len(l.terms)),
		ss:     make([]float64, l.groups), count: make([]float64, l.groups), invSD: make([]float64, l.groups), prec: make([]float64, l.groups), place: make([]float64, l.groups),
		latent: make([]float64, len(l.bound)), zsum: make([]float64, len(l.stratum)), shift: make([]float64, len(l.stratum)),
		shifted: make([]float64, 0, len(l.bound)), other: make([]float64, 0, len(l.bound)),
	}
	for t, term := range l.terms {
		c.effect[t] = make([]float64, term.Levels)
	}
	c.scatter = c.weigh.logScatter
	c.solver = newSolver(l.system)
	c.start()
	return c
}

// start puts the chain at rough estimates, spread out so that chains which agree
// at the end have come together from different places.
func (c *chain) start() {
	ss, df := 0.0, 0
	for cell, strata := range c.ofCell {
		n, sum, most := 0, 0.0, math.Inf(-1)
		for _, s := range strata {
			st := &c.stratum[s]
			n += st.exact
			sum += float64(st.exact) * st.mean
			for _, b := range c.bound[st.bounds.from:st.bounds.to] {
				if at := finiteEnd(b); at > most {
					most = at
				}
			}
		}
		if n == 0 {
			c.mu[cell] = most
			continue
		}
		c.mu[cell] = sum / float64(n)
		for _, s := range strata {
			st := &c.stratum[s]
			d := st.mean - c.mu[cell]
			ss += st.ss + float64(st.exact)*d*d
		}
		df += n - 1
	}
	sd := math.Sqrt(ss / float64(max(df, 1)))
	for g := range c.sigma {
		c.sigma[g] = c.scatterRange.nearest(sd * math.Exp(0.4*c.rng.NormFloat64()))
	}
	for cell := range c.mu {
		c.mu[cell] += sd * c.rng.NormFloat64()
	}
	for t := range c.tau {
		c.tau[t] = sd * math.Exp(-0.7+0.7*c.rng.NormFloat64())
	}
	c.lambda, c.omega = math.Log(sd), c.scatterPrior.Scale
}

func finiteEnd(b bound) float64 {
	if math.IsInf(b.lo, -1) {
		return b.hi
	}
	return b.lo
}

// step goes once through all parameters. The order matters: what is drawn with
// the variates behind the bounds integrated out comes last, and the variates are
// drawn afresh before anything uses them.
func (c *chain) step() {
	for g, sd := range c.sigma {
		c.invSD[g] = 1 / sd
		c.prec[g] = c.invSD[g] * c.invSD[g]
	}
	c.drawLatent()
	c.drawMeans()
	for t := range c.terms {
		c.drawTermScatter(t)
	}
	c.sumShift()
	c.sumSquares()
	if c.groups > 1 {
		c.scaleScatter()
		c.spreadScatter()
	}
	for g := range c.sigma {
		if !c.collapseGroup[g] {
			c.drawScatter(g)
		}
	}
	for cell := range c.mu {
		if c.collapseCell[cell] {
			c.drawCollapsedMean(cell)
		}
	}
	for g := range c.sigma {
		if c.collapseGroup[g] && !c.onRidge[g] {
			c.drawCollapsedScatter(g)
		}
	}
	for k := range c.ridges {
		c.ridgeMove(&c.ridges[k])
	}
	if c.groups > 1 {
		c.drawScatterPopulation()
	}
}

func (c *chain) drawLatent() {
	for s := range c.stratum {
		st := &c.stratum[s]
		sum := float64(st.exact) * st.mean
		if st.bounds.from < st.bounds.to {
			m, sd, inv := c.mu[st.cell]+c.shift[s], c.sigma[st.group], c.invSD[st.group]
			for i := st.bounds.from; i < st.bounds.to; i++ {
				b := &c.bound[i]
				var z float64
				if c.lowerOnly {
					z = lowerTruncNormal((b.lo-m)*inv, c.rng)
				} else {
					z = truncNormal((b.lo-m)*inv, (b.hi-m)*inv, c.rng)
				}
				z = m + sd*z
				c.latent[i] = z
				sum += z
			}
		}
		c.zsum[s] = sum
	}
}

func (c *chain) sumShift() {
	for s := range c.stratum {
		sum := 0.0
		for t, l := range c.stratum[s].level {
			sum += c.effect[t][l]
		}
		c.shift[s] = sum
	}
}

// drawTermScatter draws τ given the levels, then given the levels in units of τ,
// moving the levels with it.
func (c *chain) drawTermScatter(t int) {
	u, prior := c.effect[t], c.terms[t].Prior
	ss := 0.0
	for _, x := range u {
		ss += x * x
	}
	q := float64(len(u))
	logTau := slice(math.Log(c.tau[t]), 4, func(l float64) float64 {
		if !(l > minLogScatter) {
			return math.Inf(-1)
		}
		tau := math.Exp(l)
		return (1-q)*l - 0.5*ss/(tau*tau) + prior.logDensity(tau)
	}, c.rng)
	tau := math.Exp(logTau)

	a, b := 0.0, 0.0 // the likelihood of τ is exp(b τ − a τ²/2)
	for s := range c.stratum {
		st := &c.stratum[s]
		eta := u[st.level[t]] / tau
		rest := c.mu[st.cell]
		for k, l := range st.level {
			if k != t {
				rest += c.effect[k][l]
			}
		}
		w := c.prec[st.group]
		a += w * float64(st.n) * eta * eta
		b += w * eta * (c.zsum[s] - float64(st.n)*rest)
	}
	logTau = slice(logTau, 4, func(l float64) float64 {
		if !(l > minLogScatter) {
			return math.Inf(-1)
		}
		s := math.Exp(l)
		return l + b*s - 0.5*a*s*s + prior.logDensity(s)
	}, c.rng)
	c.tau[t] = math.Exp(logTau)
	ratio := c.tau[t] / tau
	for l := range u {
		u[l] *= ratio
	}
}

// minLogScatter keeps log τ from running off to −∞, where the density is flat in
// τ and any value is the same as none: e^−23 is 1e-10.
const minLogScatter = -23

// residualSS is the sum of squares of the exact observations of stratum s, and
// with latent of the variates behind its bounds, about their mean.
func (c *chain) residualSS(s int, latent bool) float64 {
	st := &c.stratum[s]
	m := c.mu[st.cell] + c.shift[s]
	d := st.mean - m
	ss := st.ss + float64(st.exact)*d*d
	if latent {
		for _, z := range c.latent[st.bounds.from:st.bounds.to] {
			ss += (z - m) * (z - m)
		}
	}
	return ss
}

// sumSquares puts the sum of squares of each group, variates behind bounds
// included, into ss, and its number of observations into count.
func (c *chain) sumSquares() {
	for g, strata := range c.ofGroup {
		c.ss[g], c.count[g] = 0, 0
		for _, s := range strata {
			c.ss[g] += c.residualSS(s, true)
			c.count[g] += float64(c.stratum[s].n)
		}
	}
}

// scaleScatter multiplies every σ by one factor, drawn given the variates behind
// the bounds, and moves λ with them: where ω is small the groups hold each other
// in place and only a common move is quick.
func (c *chain) scaleScatter() {
	ss, n := 0.0, 0.0
	for g, sd := range c.sigma {
		ss += c.ss[g] / (sd * sd)
		n += c.count[g]
	}
	factor := math.Sqrt(ss / chiSquared(n, c.rng))
	for g, sd := range c.sigma {
		c.place[g] = sd * factor
		if !c.scatterRange.holds(c.place[g]) {
			return // the density is 0 there, and the chain stays
		}
	}
	copy(c.sigma, c.place)
	c.lambda += math.Log(factor)
}

// spreadScatter draws ω with the groups' places in units of ω held, moving every
// σ with it.
func (c *chain) spreadScatter() {
	for g, sd := range c.sigma {
		c.place[g] = (math.Log(sd) - c.lambda) / c.omega
	}
	omega := math.Exp(slice(math.Log(c.omega), 4, func(l float64) float64 {
		if !(l > minLogScatter) {
			return math.Inf(-1)
		}
		omega := math.Exp(l)
		f := l + c.scatterPrior.logDensity(omega)
		for g, at := range c.place {
			logSD := c.lambda + omega*at
			if !c.logRange.holds(logSD) {
				return math.Inf(-1)
			}
			f -= c.count[g]*logSD + 0.5*c.ss[g]*math.Exp(-2*logSD)
		}
		return f
	}, c.rng))
	c.omega = omega
	for g, at := range c.place {
		c.sigma[g] = math.Exp(c.lambda + omega*at)
	}
}

// drawScatter draws σ of a group given the variates behind its bounds.
func (c *chain) drawScatter(g int) {
	if c.groups == 1 {
		c.sigma[g] = math.Sqrt(c.ss[g] / chiSquared(c.count[g], c.rng))
		return
	}
	c.weigh = weigher{ss: c.ss[g], n: c.count[g], lambda: c.lambda, omega: c.omega, within: c.logRange}
	c.sigma[g] = math.Exp(slice(math.Log(c.sigma[g]), sliceWidth(c.count[g]), c.scatter, c.rng))
}

// drawCollapsedScatter draws σ of a group with the variates behind its bounds
// integrated out.
func (c *chain) drawCollapsedScatter(g int) {
	ss, n := 0.0, 0
	for _, s := range c.ofGroup[g] {
		ss += c.residualSS(s, false)
		n += c.stratum[s].exact
	}
	c.shifted, c.other = c.shifted[:0], c.other[:0]
	for _, s := range c.ofGroup[g] {
		c.gather(s, c.mu[c.stratum[s].cell])
	}
	omega := c.omega
	if c.groups == 1 {
		omega = math.Inf(1)
	}
	c.weigh = weigher{ss, float64(n), c.lambda, omega, c.logRange, c.shifted, c.other}
	c.sigma[g] = math.Exp(slice(math.Log(c.sigma[g]), sliceWidth(float64(n)+0.5*float64(len(c.shifted))), c.scatter, c.rng))
}

// sliceWidth is about six standard deviations of log σ estimated from n values.
func sliceWidth(n float64) float64 { return 6 / math.Sqrt(2*n+1) }

// drawCollapsedMean draws μ of a cell with the variates behind its bounds
// integrated out.
func (c *chain) drawCollapsedMean(cell int) {
	sd := c.sigma[c.stratum[c.ofCell[cell][0]].group]
	inv := 1 / sd
	a, b := 0.0, 0.0
	c.shifted, c.other = c.shifted[:0], c.other[:0]
	for _, s := range c.ofCell[cell] {
		st := &c.stratum[s]
		n := float64(st.exact)
		a += n * inv * inv
		b += n * inv * inv * (st.mean - c.shift[s])
		c.gather(s, 0)
	}
	logf := func(x float64) float64 { return b*x - 0.5*a*x*x + logBounds(c.shifted, c.other, x, inv) }
	if prior := c.priorAlong(cell); prior != nil {
		data := logf
		logf = func(x float64) float64 { return data(x) + prior(x) }
	}
	width := 6 * sd / math.Sqrt(float64(1+c.exactInCell[cell]))
	if c.exactInCell[cell] == 0 {
		width = max(width, 2) // the learned prior reaches further than the scatter
	}
	c.mu[cell] = slice(c.mu[cell], width, logf, c.rng)
}

// gather puts the bounds of a stratum, less their shift and mu, into shifted, and
// their upper ends into other where any bound has one.
func (c *chain) gather(s int, mu float64) {
	st := &c.stratum[s]
	m := mu + c.shift[s]
	for i := st.bounds.from; i < st.bounds.to; i++ {
		c.shifted = append(c.shifted, c.bound[i].lo-m)
	}
	if c.lowerOnly {
		return
	}
	for i := st.bounds.from; i < st.bounds.to; i++ {
		c.other = append(c.other, c.bound[i].hi-m)
	}
}

// drawScatterPopulation draws the standard deviation of log σ over the groups with
// the mean integrated out, then the mean.
func (c *chain) drawScatterPopulation() {
	k := float64(c.groups)
	mean := 0.0
	for g, sd := range c.sigma {
		c.place[g] = math.Log(sd)
		mean += c.place[g] / k
	}
	ss := 0.0
	for _, l := range c.place {
		ss += (l - mean) * (l - mean)
	}
	c.omega = math.Exp(slice(math.Log(c.omega), 4, func(l float64) float64 {
		if !(l > minLogScatter) {
			return math.Inf(-1)
		}
		omega := math.Exp(l)
		return (2-k)*l - 0.5*ss/(omega*omega) + c.scatterPrior.logDensity(omega)
	}, c.rng))
	c.lambda = mean + c.omega/math.Sqrt(k)*c.rng.NormFloat64()
}

// chiSquared draws from the χ² distribution with df degrees of freedom by
// Marsaglia and Tsang's method for the gamma distribution (ACM Transactions on
// Mathematical Software 26, 2000, 363–372). df must be at least 2.
func chiSquared(df float64, rng *rand.Rand) float64 {
	d := df/2 - 1.0/3
	k := 1 / math.Sqrt(9*d)
	for {
		x := rng.NormFloat64()
		v := 1 + k*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		if rng.ExpFloat64() >= -(0.5*x*x + d - d*v + d*math.Log(v)) {
			return 2 * d * v
		}
	}
}
