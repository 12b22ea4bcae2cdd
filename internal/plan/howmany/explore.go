package howmany

import (
	"math"
	"slices"
)

// moments is a difference of log strengths given the scatters: its mean, variance,
// third cumulant.
type moments struct{ mean, variance, third float64 }

// unknown is what not knowing the scatters does to a pair: the variance of its
// mean, that of the logarithm of its variance, their covariance, and how much the
// mean of the logarithm lies above that at the middle.
type unknown struct{ mean, log, both, lift float64 }

// explore finds what the pairs look like where the search ended and about it.
func (j *judge) explore() {
	j.sweep()
	j.exploreScatters()
	df := j.free
	if j.boardTerm || j.sweepsNeeded() > 1 {
		df = j.df
		for g := range df {
			df[g] = max(j.curve[g]/2-j.grad[g], 0.5)
		}
		j.search(df, j.boardTerm)
		j.sweep()
	}
	for g := range j.groups {
		j.mix.say(g, j.log[g], j.grad[g], df[g])
	}
	j.mix.solve()
	j.mix.covariance(j.cov)
	j.moments(j.base, true)
	j.spread()
	if j.boardTerm {
		j.exploreBoards(df)
	}
}

// exploreScatters moves each log scatter a little both ways: the curvature there is
// the readings', and the pairs' means and log variances get their slopes.
func (j *judge) exploreScatters() {
	np := len(j.pairs)
	copy(j.middle, j.grad)
	clear(j.mix.cross)
	shared := 0.0
	for g := range j.groups {
		at, middle := j.log[g], j.middle[g]
		var slope [2]float64
		for side, out := range [2][]moments{j.low, j.high} {
			j.log[g] = at + probe*float64(2*side-1)
			j.settle()
			j.moments(out, false)
			slope[side] = j.grad[g]
			for o, x := range j.grad[:j.groups] {
				if o != g {
					shared -= (x - j.middle[o]) * float64(2*side-1)
					j.mix.cross[o*j.groups+g] += (x - j.middle[o]) / (probe * probe)
				}
			}
		}
		j.log[g] = at
		j.curve[g] = (slope[0] - slope[1]) / (2 * probe)
		j.mix.lean[g] = (slope[0] + slope[1] - 2*middle) / (2 * probe * probe)
		for p := range np {
			j.slope[g*np+p] = moments{
				mean:     (j.high[p].mean - j.low[p].mean) / (2 * probe),
				variance: (math.Log(j.high[p].variance) - math.Log(j.low[p].variance)) / (2 * probe),
			}
		}
	}
	j.settle()
	if j.groups > 1 {
		j.mix.crossed = true
		j.mix.shared = max(min(shared/(2*probe*float64(j.groups*(j.groups-1))), 0.9*slices.Min(j.curve[:j.groups])), 0)
	}
	for g := range j.groups {
		j.curve[g] -= j.mix.shared
		j.mix.lean[g] = min(max(j.mix.lean[g]/max(j.curve[g], 0.5), 0), 1.2)
	}
}

// settle brings everything up to date with log.
func (j *judge) settle() {
	j.set()
	for range j.sweepsNeeded() {
		j.sweep()
	}
}

// spread puts together what not knowing the log scatters does to each pair. The
// variance V of a difference is a sum of parts in proportion to the squares of the
// scatters; with g the slopes of log V its second derivatives are 2g on the diagonal
// less the products of the g, and half of them times the covariances is how much the
// mean of log V lies above log V at the mean.
func (j *judge) spread() {
	h, np := j.groups, len(j.pairs)
	for p := range np {
		var u unknown
		lift := 0.0
		for g := range h {
			lift += j.slope[g*np+p].variance * j.cov[g*h+g]
			for o := range h {
				c, x, y := j.cov[g*h+o], &j.slope[g*np+p], &j.slope[o*np+p]
				u.mean += c * x.mean * y.mean
				u.log += c * x.variance * y.variance
				u.both += c * x.mean * y.variance
			}
		}
		u.lift = lift - 0.5*u.log
		j.unknown[p] = u
	}
}

// boardPoints is how many points to either side of the mode the average over the
// boards' standard deviation takes.
const boardPoints = 2

// exploreBoards averages over the boards' standard deviation τ, of which few boards
// tell little: points in log τ, a standard deviation apart about the mode, weighed
// by the marginal density, which is integrated from its slopes there. The scatters
// are searched for at each. Beyond the last points the density is taken to fall
// exponentially.
func (j *judge) exploreBoards(df []float64) {
	t := j.groups
	copy(j.kept, j.log)
	copy(j.df, df)
	middle := j.grad[t]
	_, prior := boardPrior(j.tau)
	step := 1 / math.Sqrt(2*j.free[t]+prior+0.2)
	clear(j.average)
	total := step
	for side := -1; side <= 1; side += 2 {
		copy(j.log, j.kept)
		density, slope := 0.0, middle
		for k := 1; k <= boardPoints; k++ {
			j.log[t] = max(j.log[t]+step*float64(side), math.Log(leastTau))
			j.set()
			j.search(j.df, false)
			j.moments(j.low, false)
			density += 0.5 * step * float64(side) * (slope + j.grad[t])
			slope = j.grad[t]
			weight := step
			if k == boardPoints {
				weight = 0.5*step + 1/max(-slope*float64(side), 1/step)
			}
			weight *= math.Exp(min(density, 0))
			total += weight
			for p := range j.base {
				j.average[p].add(weight, j.low[p].mean-j.base[p].mean, math.Log(j.low[p].variance/j.base[p].variance))
			}
		}
	}
	copy(j.log, j.kept)
	j.settle()
	for p := range j.base {
		a, b, u := &j.average[p], &j.base[p], &j.unknown[p]
		d, l := a.mean/total, a.log/total
		u.mean += a.meanMean/total - d*d
		u.log += a.logLog/total - l*l
		u.both += a.both/total - d*l
		b.mean += d
		b.variance *= math.Exp(l)
	}
}

// average sums the mean and the log variance of a pair, relative to the middle, and
// their products.
type average struct{ mean, log, meanMean, logLog, both float64 }

func (a *average) add(weight, mean, log float64) {
	a.mean += weight * mean
	a.log += weight * log
	a.meanMean += weight * mean * mean
	a.logLog += weight * log * log
	a.both += weight * mean * log
}

func (j *judge) sweepsNeeded() int {
	for _, b := range j.blocks {
		if b.anyEnd {
			return probeEP
		}
	}
	return 1
}

// moments computes the pairs' means and variances, and on request their third
// cumulants.
func (j *judge) moments(out []moments, third bool) {
	for p, x := range j.pairs {
		b := j.blocks[x.wood]
		c := b.cells
		out[p] = moments{
			mean:     b.mean[x.a] - b.mean[x.b],
			variance: b.cov[x.a*c+x.a] + b.cov[x.b*c+x.b] - 2*b.cov[x.a*c+x.b],
		}
	}
	if !third {
		return
	}
	for w, b := range j.blocks {
		if !b.anyEnd {
			continue
		}
		for c, t := range b.priorThird {
			if !b.needs[c] {
				continue
			}
			b.offset(c)
			for p, x := range j.pairs {
				if x.wood == w {
					cov := b.gain[x.a] - b.gain[x.b]
					out[p].third += t * cov * cov * cov
				}
			}
		}
		for i, bound := range b.obs.bound {
			if !bound {
				continue
			}
			t := b.third(i, j.sigma[b.group[b.cell[i]]])
			for p, x := range j.pairs {
				if x.wood == w {
					cov := b.withLevel(i, x.a) - b.withLevel(i, x.b)
					out[p].third += t * cov * cov * cov
				}
			}
		}
	}
}

// withLevel is the covariance of a cell's mean with the level of a reading.
func (b *block) withLevel(i, cell int) float64 {
	v := b.cov[cell*b.cells+b.cell[i]]
	if b.terms > 0 {
		v += b.cross[cell*b.terms+b.board[i]]
	}
	return v
}
