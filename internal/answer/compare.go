package answer

import (
	"context"
	"math"
	"sync/atomic"

	"bondtrial/stat/gibbs"
)

// describe fills the cells' strengths from the posterior. The draws of a cell
// that is only "at least" are moved down so that their 5 % quantile is the careful
// bound, and comparisons with it use them so.
func (f *fitted) describe(set Settings) {
	sd := make([]float64, len(f.post.Sigma))
	inParallel(len(sd), func(g int) { sd[g] = quantile(f.post.Sigma[g], 0.5) })
	inParallel(len(f.bench.cells), func(k int) { f.describeCell(k, sd[f.group[k]], set) })
}

func (f *fitted) describeCell(k int, sd float64, set Settings) {
	c := &f.bench.cells[k]
	c.draws = f.post.Mean[k]
	c.Typical, c.Low, c.High, c.AtLeast, c.SDLog, c.Char5, c.PExceed = None, None, None, None, None, None, None
	if f.closed != nil {
		f.closed.describe(c, k, float64(set.Required))
		return
	}
	q := quantiles(c.draws, 0.025, 0.05, 0.5, 0.975)
	if c.OnlyAtLeast {
		bound := f.atLeast(k, q[1])
		down := q[1] - bound
		moved := make([]float64, len(c.draws))
		for i, x := range c.draws {
			moved[i] = x - down
		}
		c.draws = moved
		c.AtLeast, c.Low = value(bound), value(q[0]-down)
		c.PExceed = c.exceed(set)
		return
	}
	c.Low, c.Typical, c.High = value(q[0]), value(q[2]), value(q[3])
	c.SDLog = Value(sd)
	c.Char5 = f.char5(c.draws, f.post.Sigma[f.group[k]])
	c.PExceed = c.exceed(set)
}

// exceed is the chance that the typical strength exceeds the required one.
func (c *Cell) exceed(set Settings) Value {
	if set.Required <= 0 {
		return None
	}
	return Value(shareAbove(c.draws, math.Log(float64(set.Required))))
}

// char5 is the 25 % quantile of the posterior of the 5th percentile of single
// joints on any board, session and trial: with exact readings and no terms it is
// the one-sided tolerance bound of EN 14358 with 75 % confidence.
func (f *fitted) char5(mu, sigma []float64) Value {
	const z = 1.6448536269514722 // Φ⁻¹(0.95)
	x := make([]float64, len(mu))
	for i := range x {
		v := sigma[i] * sigma[i]
		for _, tau := range f.post.TermSD {
			v += tau[i] * tau[i]
		}
		x[i] = mu[i] - z*math.Sqrt(v)
	}
	return value(quantile(x, 0.25))
}

func shareAbove(x []float64, limit float64) float64 {
	n := 0
	for _, v := range x {
		if v > limit {
			n++
		}
	}
	return float64(n) / float64(len(x))
}

// side says which ends of a difference of log strengths exist.
type side int

const (
	bothEnds side = iota
	lowEnd        // A is only at least
	highEnd       // B is only at least
	noEnd         // both are
)

// contrast is a difference of log strengths, and where its posterior has its
// middle and its two scales. Its draws are those of the first cell less those of
// the second; they are not kept, as there can be thousands of contrasts.
type contrast struct {
	pair   Pair
	side   side
	a, b   []float64 // draws of the two
	mid    float64
	dn, up float64 // mean distance below and above the middle
}

// pairs returns every comparison with its intervals and verdict, family by
// family.
func (f *fitted) pairs(ctx context.Context, set Settings) ([]Pair, error) {
	var all []Pair
	var open []*contrast
	families := f.families(set)
	of, done := 0, atomic.Int64{}
	for _, family := range families {
		of += len(family)
	}
	for _, family := range families {
		cs := make([]*contrast, len(family))
		inParallel(len(cs), func(i int) {
			if ctx.Err() != nil {
				return
			}
			cs[i] = f.newContrast(family[i])
			if n := int(done.Add(1)); set.Progress != nil && n%50 == 0 {
				set.Progress("the comparisons", n, of)
			}
		})
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if set.Family == AllWoods {
			open = append(open, cs...)
			continue
		}
		pairs, err := f.finish(ctx, cs, set)
		if err != nil {
			return nil, err
		}
		all = append(all, pairs...)
	}
	pairs, err := f.finish(ctx, open, set)
	return append(all, pairs...), err
}

// families returns the pairs to compare, those of one condition together: each
// adhesive with the control, or all pairs, the one with the higher middle first.
func (f *fitted) families(set Settings) [][]Pair {
	b := f.bench
	var families [][]Pair
	for from := 0; from < len(b.cells); {
		to := from + 1
		for to < len(b.cells) && b.cells[to].Same(b.cells[from].Condition) {
			to++
		}
		var family []Pair
		for i := from; i < to; i++ {
			for j := i + 1; j < to; j++ {
				p := Pair{Condition: b.cells[i].Condition, a: i, b: j}
				switch {
				case set.Control == "":
					if f.middle(j) > f.middle(i) {
						p.a, p.b = j, i
					}
				case b.cells[i].Adhesive == set.Control:
					p.a, p.b = j, i
				case b.cells[j].Adhesive != set.Control:
					continue
				}
				p.A, p.B = b.cells[p.a].Adhesive, b.cells[p.b].Adhesive
				family = append(family, p)
			}
		}
		families = append(families, family)
		from = to
	}
	return families
}

// middle orders cells by strength; one that is only at least goes by its bound.
func (f *fitted) middle(cell int) float64 {
	c := &f.bench.cells[cell]
	if c.OnlyAtLeast {
		return float64(c.AtLeast)
	}
	return float64(c.Typical)
}

func (f *fitted) newContrast(p Pair) *contrast {
	a, b := &f.bench.cells[p.a], &f.bench.cells[p.b]
	c := &contrast{pair: p, a: a.draws, b: b.draws}
	switch {
	case a.OnlyAtLeast && b.OnlyAtLeast:
		c.side = noEnd
	case a.OnlyAtLeast:
		c.side = lowEnd
	case b.OnlyAtLeast:
		c.side = highEnd
	}
	draws := make([]float64, len(c.a))
	for i := range draws {
		draws[i] = c.a[i] - c.b[i]
	}
	c.measure(draws)
	return c
}

// measure fills the pair's single intervals, and the middle and scales.
func (c *contrast) measure(draws []float64) {
	p := &c.pair
	q := quantiles(draws, 0.025, 0.05, 0.5, 0.95, 0.975)
	c.mid = q[2]
	c.dn, c.up = meanDistances(draws, c.mid)
	p.Ratio, p.Low, p.High, p.LowSim, p.HighSim, p.Low90, p.High90, p.PAStronger = None, None, None, None, None, None, None, None
	if c.side == noEnd {
		return
	}
	p.PAStronger = Value(shareAbove(draws, 0))
	if c.side != highEnd {
		p.Low, p.Low90 = value(q[0]), value(q[1])
	}
	if c.side != lowEnd {
		p.High, p.High90 = value(q[4]), value(q[3])
	}
	if c.side == bothEnds {
		p.Ratio = value(c.mid)
	}
}

// meanDistances returns the mean distance from the median mid of the half of the
// values below it and of the half above.
func meanDistances(values []float64, mid float64) (dn, up float64) {
	for _, x := range values {
		if x < mid {
			dn += mid - x
		} else {
			up += x - mid
		}
	}
	half := 0.5 * float64(len(values))
	return dn / half, up / half
}

// finish gives the contrasts of a family their simultaneous intervals and
// verdicts.
//
// The simultaneous interval is the max-|t| interval with a scale for each side:
// c is the 95 % quantile over the draws of the largest distance of any contrast
// from its middle, in units of its mean distance on that side, and every interval
// reaches c such units to both sides. Where the posterior is a multivariate t the
// two scales are equal and this is the single-step interval of Tukey, of
// Tukey–Kramer with exact coverage, or of Dunnett. It is never narrower than the
// single interval at either end.
func (f *fitted) finish(ctx context.Context, cs []*contrast, set Settings) ([]Pair, error) {
	if len(cs) == 0 {
		return nil, nil
	}
	crit := criticalDistance(ctx, cs)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	pairs := make([]Pair, len(cs))
	for _, c := range cs {
		p := &c.pair
		if c.side == bothEnds || c.side == lowEnd {
			p.LowSim = value(c.mid - crit*c.dn)
		}
		if c.side == bothEnds || c.side == highEnd {
			p.HighSim = value(c.mid + crit*c.up)
		}
	}
	if f.closed != nil {
		if err := f.closed.finish(ctx, cs); err != nil {
			return nil, err
		}
	}
	for k, c := range cs {
		c.pair.holdSingle(len(cs) == 1)
		c.pair.Verdict = c.pair.verdict(set.Margin)
		pairs[k] = c.pair
	}
	for k, c := range cs {
		pairs[k].Settle = f.settle(c, crit, set)
	}
	return pairs, nil
}

// holdSingle makes the simultaneous interval hold the single one, which has equal
// tails and so can stick out on one side, and makes it the single one where the
// family is this pair alone.
func (p *Pair) holdSingle(alone bool) {
	if p.LowSim.Exists() && (alone || p.Low < p.LowSim) {
		p.LowSim = p.Low
	}
	if p.HighSim.Exists() && (alone || p.High > p.HighSim) {
		p.HighSim = p.High
	}
}

// criticalDistance is that quantile. Its value means nothing once ctx has ended.
func criticalDistance(ctx context.Context, cs []*contrast) float64 {
	largest := make([]float64, len(cs[0].a))
	const block = 1000
	inParallel((len(largest)+block-1)/block, func(k int) {
		to := min((k+1)*block, len(largest))
		for _, c := range cs {
			if ctx.Err() != nil {
				return
			}
			c.reach(largest, k*block, to)
		}
	})
	return quantile(largest, 0.95)
}

// reach raises each of largest from from to to to the contrast's distance from its
// middle in that draw.
func (c *contrast) reach(largest []float64, from, to int) {
	if c.side == noEnd {
		return
	}
	for i := from; i < to; i++ {
		d := c.a[i] - c.b[i] - c.mid
		if d < 0 {
			if c.side != highEnd {
				largest[i] = max(largest[i], -d/c.dn)
			}
		} else if c.side != lowEnd {
			largest[i] = max(largest[i], d/c.up)
		}
	}
}

// verdict states what the intervals show.
func (p *Pair) verdict(margin float64) Verdict {
	switch {
	case p.LowSim.Exists() && p.LowSim > 1:
		return Stronger
	case p.HighSim.Exists() && p.HighSim < 1:
		return Weaker
	case p.LowSim.Exists() != p.HighSim.Exists():
		return AtLeast
	}
	if within(p.Low90, p.High90, margin) {
		return Same
	}
	return NotSettled
}

// within reports whether an interval of ratios lies inside the margin, which is
// the same for A over B as for B over A: from 1/(1+margin) to 1+margin.
func within(low, high Value, margin float64) bool {
	return low.Exists() && high.Exists() && float64(low) >= 1/(1+margin) && float64(high) <= 1+margin
}

// best returns the chance of being the strongest for each cell of each
// condition, by the same draws as the comparisons.
func (f *fitted) best() []Chance {
	b := f.bench
	var best []Chance
	for from := 0; from < len(b.cells); {
		to := from + 1
		for to < len(b.cells) && b.cells[to].Same(b.cells[from].Condition) {
			to++
		}
		wins := make([]int, to-from)
		leans := false
		for k := from; k < to; k++ {
			leans = leans || b.cells[k].OnlyAtLeast
		}
		for i := range f.post.Draws {
			top := from
			for k := from + 1; k < to; k++ {
				if b.cells[k].draws[i] > b.cells[top].draws[i] {
					top = k
				}
			}
			wins[top-from]++
		}
		for k := from; k < to; k++ {
			best = append(best, Chance{b.cells[k].Condition, b.cells[k].Adhesive, float64(wins[k-from]) / float64(f.post.Draws), leans})
		}
		from = to
	}
	return best
}

// diagnose returns the worst R-hat and the least effective sample size of some of
// what is sampled.
func diagnose(p *gibbs.Posterior, all [][]float64) (rhat, ess float64) {
	each := make([]gibbs.Diagnosis, len(all))
	inParallel(len(all), func(i int) { each[i] = gibbs.Diagnose(all[i], p.Chains) })
	rhat, ess = 1, math.Inf(1)
	for _, d := range each {
		rhat = max(rhat, d.RHat)
		ess = min(ess, d.Bulk, d.Tail)
	}
	return rhat, ess
}

// Reversed returns the same comparison as B over A.
func (p Pair) Reversed() Pair {
	inverse := func(v Value) Value {
		if !v.Exists() {
			return None
		}
		return 1 / v
	}
	q := p
	q.A, q.B, q.a, q.b = p.B, p.A, p.b, p.a
	q.Ratio = inverse(p.Ratio)
	q.Low, q.High = inverse(p.High), inverse(p.Low)
	q.LowSim, q.HighSim = inverse(p.HighSim), inverse(p.LowSim)
	q.Low90, q.High90 = inverse(p.High90), inverse(p.Low90)
	if p.PAStronger.Exists() {
		q.PAStronger = 1 - p.PAStronger
	}
	q.Verdict = p.Verdict.reversed()
	q.Settle.Toward = p.Settle.Toward.reversed()
	return q
}
