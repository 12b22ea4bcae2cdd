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
	solver  solver
	weigh   weigher
	scatter func(float64) float64 // weigh.logScatter, made once
	shifted []float64             // bounds of one cell or group less what is known of their mean
	other   []float64             // for an interval, its upper end likewise
	inv     []float64             // 1/σ of each
}

func newChain(l *layout, rng *rand.Rand) *chain {
	c := &chain{layout: l, rng: rng,
		mu: make([]float64, l.cells), sigma: make([]float64, l.groups), tau: make([]float64, len(l.terms)),
		effect: make([][]float64, len(l.terms)),
		latent: make([]float64, len(l.bound)), zsum: make([]float64, len(l.stratum)), shift: make([]float64, len(l.stratum)),
		shifted: make([]float64, 0, len(l.bound)), other: make([]float64, 0, len(l.bound)), inv: make([]float64, 0, len(l.bound)),
	}
	for t, term := range l.terms {
		c.effect[t] = make([]float64, term.Levels)
	}
	c.scatter = c.weigh.logScatter
	c.solver = newSolver(l)
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
		c.sigma[g] = sd * math.Exp(0.4*c.rng.NormFloat64())
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
	c.drawLatent()
	c.drawMeans()
	for t := range c.terms {
		c.drawTermScatter(t)
	}
	c.sumShift()
	if c.groups > 1 {
		c.scaleScatter()
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
		if c.collapseGroup[g] {
			c.drawCollapsedScatter(g)
		}
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
			m, sd := c.mu[st.cell]+c.shift[s], c.sigma[st.group]
			for i := st.bounds.from; i < st.bounds.to; i++ {
				b := &c.bound[i]
				z := m + sd*truncNormal((b.lo-m)/sd, (b.hi-m)/sd, c.rng)
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
	logTau := slice(math.Log(c.tau[t]), 1, func(l float64) float64 {
		if !(l > minLogScatter) {
			return math.Inf(-1)
		}
		return (1-q)*l - 0.5*ss*math.Exp(-2*l) + prior.logDensity(math.Exp(l))
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
		w := 1 / (c.sigma[st.group] * c.sigma[st.group])
		a += w * float64(st.n) * eta * eta
		b += w * eta * (c.zsum[s] - float64(st.n)*rest)
	}
	logTau = slice(logTau, 1, func(l float64) float64 {
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

// scaleScatter multiplies every σ by one factor, drawn given the variates behind
// the bounds, and moves λ with them: where ω is small the groups hold each other
// in place and only a common move is quick.
func (c *chain) scaleScatter() {
	ss, n := 0.0, 0
	for s := range c.stratum {
		st := &c.stratum[s]
		ss += c.residualSS(s, true) / (c.sigma[st.group] * c.sigma[st.group])
		n += st.n
	}
	factor := math.Sqrt(ss / chiSquared(float64(n), c.rng))
	for g := range c.sigma {
		c.sigma[g] *= factor
	}
	c.lambda += math.Log(factor)
}

// drawScatter draws σ of a group given the variates behind its bounds.
func (c *chain) drawScatter(g int) {
	ss, n := 0.0, 0
	for _, s := range c.ofGroup[g] {
		ss += c.residualSS(s, true)
		n += c.stratum[s].n
	}
	if c.groups == 1 {
		c.sigma[g] = math.Sqrt(ss / chiSquared(float64(n), c.rng))
		return
	}
	c.weigh.set(ss, n, c.lambda, c.omega, nil, nil)
	c.sigma[g] = math.Exp(slice(math.Log(c.sigma[g]), sliceWidth(n), c.scatter, c.rng))
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
	for _, i := range c.byGroup[g] {
		b := &c.bound[i]
		m := c.mu[c.stratum[b.stratum].cell] + c.shift[b.stratum]
		c.shifted = append(c.shifted, b.lo-m)
		c.other = append(c.other, b.hi-m)
	}
	omega := c.omega
	if c.groups == 1 {
		omega = math.Inf(1)
	}
	c.weigh.set(ss, n, c.lambda, omega, c.shifted, c.other)
	c.sigma[g] = math.Exp(slice(math.Log(c.sigma[g]), sliceWidth(n+len(c.shifted)/2), c.scatter, c.rng))
}

// sliceWidth is about two standard deviations of log σ estimated from n values.
func sliceWidth(n int) float64 { return 2 / math.Sqrt(2*float64(n)+1) }

// drawCollapsedMean draws μ of a cell with the variates behind its bounds
// integrated out.
func (c *chain) drawCollapsedMean(cell int) {
	a, b := 0.0, 0.0
	c.shifted, c.other, c.inv = c.shifted[:0], c.other[:0], c.inv[:0]
	scale := 0.0
	for _, s := range c.ofCell[cell] {
		st := &c.stratum[s]
		inv := 1 / c.sigma[st.group]
		scale = max(scale, c.sigma[st.group])
		n := float64(st.exact)
		a += n * inv * inv
		b += n * inv * inv * (st.mean - c.shift[s])
		for _, bd := range c.bound[st.bounds.from:st.bounds.to] {
			c.shifted = append(c.shifted, bd.lo-c.shift[s])
			c.other = append(c.other, bd.hi-c.shift[s])
			c.inv = append(c.inv, inv)
		}
	}
	logf := func(x float64) float64 { return b*x - 0.5*a*x*x + c.logBounds(x) }
	if prior := c.priorAlong(cell); prior != nil {
		data := logf
		logf = func(x float64) float64 { return data(x) + prior(x) }
	}
	width := 2 * scale / math.Sqrt(float64(1+c.exactInCell[cell]))
	if c.exactInCell[cell] == 0 {
		width = 4 * scale
	}
	c.mu[cell] = slice(c.mu[cell], width, logf, c.rng)
}

// logBounds is the log probability of the bounds set aside in shifted and other
// when their mean is x.
func (c *chain) logBounds(x float64) float64 {
	sum := 0.0
	for i, lo := range c.shifted {
		inv := c.inv[i]
		sum += logBoundProb((lo-x)*inv, (c.other[i]-x)*inv)
	}
	return sum
}

// drawScatterPopulation draws the mean and the standard deviation of log σ over
// the groups.
func (c *chain) drawScatterPopulation() {
	k, sum := float64(c.groups), 0.0
	for _, s := range c.sigma {
		sum += math.Log(s)
	}
	mean := sum / k
	c.lambda = mean + c.omega/math.Sqrt(k)*c.rng.NormFloat64()
	ss := 0.0
	for _, s := range c.sigma {
		d := math.Log(s) - c.lambda
		ss += d * d
	}
	c.omega = math.Exp(slice(math.Log(c.omega), 1, func(l float64) float64 {
		if !(l > minLogScatter) {
			return math.Inf(-1)
		}
		return (1-k)*l - 0.5*ss*math.Exp(-2*l) + c.scatterPrior.logDensity(math.Exp(l))
	}, c.rng))
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
