package howmany

import "math"

// judge approximates the engine on one trial after another. It is working memory
// of one goroutine.
type judge struct {
	*design
	blocks           []*block
	log              []float64 // log scatter of each group, then log of the boards' standard deviation
	sigma            []float64
	tau              float64
	grad             []float64 // of each of log
	free             []float64
	curve            []float64 // data's curvature in each of log
	df, kept, middle []float64
	cov              []float64 // of log, square
	mix              mixture
	base             []moments // of each pair
	low, high        []moments // of each pair, to either side
	slope            []moments // of each log scatter, of each pair
	unknown          []unknown // of each pair
	average          []average
	result           []verdictOf
	loose            []loose // of each cell, wood by wood
}

func newJudge(d *design) *judge {
	j := &judge{design: d, sigma: make([]float64, d.groups)}
	for w := range d.woods {
		j.blocks = append(j.blocks, newBlock(d, w))
	}
	h := d.groups + 1
	j.log, j.grad, j.free, j.curve = make([]float64, h), make([]float64, h), make([]float64, h), make([]float64, h)
	j.df, j.kept, j.middle = make([]float64, d.groups), make([]float64, h), make([]float64, h)
	j.cov = make([]float64, d.groups*d.groups)
	j.mix = newMixture(d.groups)
	j.base, j.slope = make([]moments, len(d.pairs)), make([]moments, h*len(d.pairs))
	j.low, j.high, j.unknown = make([]moments, len(d.pairs)), make([]moments, len(d.pairs)), make([]unknown, len(d.pairs))
	j.average = make([]average, len(d.pairs))
	j.result = make([]verdictOf, len(d.pairs))
	j.loose = make([]loose, len(d.woods)*d.adhesives*d.combos)
	return j
}

// set puts the scatters to exp(log).
func (j *judge) set() {
	for g := range j.sigma {
		j.sigma[g] = math.Exp(j.log[g])
	}
	j.tau = math.Exp(j.log[j.groups])
}

// sweep solves every wood, brings the sites up to date and computes the slope of
// the log marginal density in each of log.
func (j *judge) sweep() {
	clear(j.grad)
	clear(j.free)
	t := j.groups
	for _, b := range j.blocks {
		b.exactSites(j.sigma)
		b.solve(j.tau)
		b.learn()
		for k, u := range b.shift {
			v := b.inner[k*b.terms+k]
			tau2 := j.tau * j.tau
			j.grad[t] += (u*u+v)/tau2 - 1
			f := max(1-v/tau2, 0)
			j.free[t] += f * f
		}
		b.refine(j.sigma, j.grad, j.free)
	}
	slope, _ := boardPrior(j.tau)
	j.grad[t] += slope
}

// boardPrior is the slope of the log prior density of log τ, and its curvature
// downwards.
func boardPrior(tau float64) (slope, curve float64) {
	r2 := tau * tau / (boardScale * boardScale)
	slope = 1 - (priorDF+1)*r2/(priorDF+r2)
	curve = (priorDF + 1) * 2 * priorDF * r2 / ((priorDF + r2) * (priorDF + r2))
	return slope, curve
}

// enough reports whether the engine would answer: some cell has two bond breaks.
func enough(blocks []*block) bool {
	for _, b := range blocks {
		for _, n := range b.broke {
			if n > 1 {
				return true
			}
		}
	}
	return false
}

// fit finds the scatters with the largest marginal density, and the posterior of
// everything about them.
func (j *judge) fit(obs []observed) (ok bool) {
	j.begin(obs)
	for w, b := range j.blocks {
		b.start(&obs[w], j.sigma)
	}
	if !enough(j.blocks) {
		return false
	}
	j.search(nil, j.boardTerm)
	j.explore()
	return true
}

// search looks for the scatters, that of boards too if asked. The degrees of freedom
// that the readings leave for each are given, or nil for a guess that is right where
// there are no bounds.
func (j *judge) search(df []float64, boards bool) {
	t := j.groups
	for range mostSweeps {
		j.sweep()
		most := 0.0
		for g := range t {
			if df != nil {
				j.mix.say(g, j.log[g], j.grad[g], df[g])
			} else {
				j.mix.say(g, j.log[g], j.grad[g], j.free[g])
			}
		}
		j.mix.solve()
		for g := range t {
			step := min(max(j.mix.mean[g]-j.log[g], -0.7), 0.7)
			j.log[g] = min(max(j.log[g]+step, math.Log(leastSigma)), math.Log(mostSigma))
			most = max(most, math.Abs(step))
		}
		if boards {
			_, prior := boardPrior(j.tau)
			step := min(max(j.grad[t]/(2*j.free[t]+prior+0.5), -0.7), 0.7)
			j.log[t] = max(j.log[t]+step, math.Log(leastTau))
			most = max(most, math.Abs(step))
		}
		j.set()
		if most < settled {
			break
		}
	}
}

// begin puts the scatters at rough values: what the bond breaks have in common.
func (j *judge) begin(obs []observed) {
	j.mix.start()
	ss, df := 0.0, 0.0
	for w, b := range j.blocks {
		o := &obs[w]
		for c := range b.cells {
			n, sum, sq := 0.0, 0.0, 0.0
			first := math.NaN()
			for i, k := range b.cell {
				if k == c && !o.bound[i] {
					if n == 0 {
						first = o.y[i]
					}
					n++
					sum += o.y[i] - first
					sq += (o.y[i] - first) * (o.y[i] - first)
				}
			}
			if n > 1 {
				ss += sq - sum*sum/n
				df += n - 1
			}
		}
	}
	s := max(0.5*math.Log(ss/max(df, 1)), math.Log(2*leastSigma))
	for g := range j.sigma {
		j.log[g] = s
	}
	j.log[j.groups] = s - 0.5
	j.set()
}
