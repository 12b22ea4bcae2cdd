package gibbs

import "math"

// spreadOf is the count, sum and sum of squares of the means that a prior is
// learned from, about a fixed origin so that squares do not cancel.
type spreadOf struct{ k, origin, sum, squares float64 }

func (p *Learned) spread(mu []float64) spreadOf {
	s := spreadOf{k: float64(len(p.From))}
	if s.k == 0 {
		return s
	}
	s.origin = mu[p.From[0]]
	for _, c := range p.From {
		d := mu[c] - s.origin
		s.sum += d
		s.squares += d * d
	}
	return s
}

// replaced is the spread with one of the means changed.
func (s spreadOf) replaced(old, x float64) spreadOf {
	a, b := old-s.origin, x-s.origin
	s.sum += b - a
	s.squares += b*b - a*a
	return s
}

// studentT is a Student t density with its normalising constant, which changes
// with the scale, taken as a logarithm up to what does not.
type studentT struct{ df, center, scale, logScale float64 }

// predict is the density that the prior has given the means it is learned from.
func (p *Learned) predict(s spreadOf) studentT {
	if s.k == 0 {
		scale := p.Scale * math.Sqrt2
		return studentT{p.DF, p.Center, scale, math.Log(scale)}
	}
	mean := s.sum / s.k
	ss := max(s.squares-s.sum*mean, 0)
	df := p.DF + s.k - 1
	scale := math.Sqrt((p.DF*p.Scale*p.Scale + ss) / df * (1 + 1/s.k))
	return studentT{df, s.origin + mean, scale, math.Log(scale)}
}

func (t studentT) logDensity(x float64) float64 {
	r := (x - t.center) / t.scale
	return -t.logScale - 0.5*(t.df+1)*math.Log(1+r*r/t.df)
}

// logDensity is the log density of the prior's cells, up to a constant, when the
// means it is learned from are spread as s.
func (p *Learned) logDensity(s spreadOf, mu []float64) float64 {
	t, sum := p.predict(s), 0.0
	for _, c := range p.Cells {
		sum += t.logDensity(mu[c])
	}
	return sum
}

// logLearnedAll is the log density of all learned priors.
func (c *chain) logLearnedAll() float64 {
	sum := 0.0
	for k := range c.learn {
		sum += c.learn[k].logDensity(c.learn[k].spread(c.mu), c.mu)
	}
	return sum
}

// priorAlong returns the log density, as a function of the mean of one cell, of
// all learned priors that the cell takes part in, or nil.
func (c *chain) priorAlong(cell int) func(x float64) float64 {
	if k := c.learnedBy[cell]; k >= 0 {
		return c.learn[k].predict(c.learn[k].spread(c.mu)).logDensity
	}
	if len(c.feeds[cell]) == 0 {
		return nil
	}
	spreads := make([]spreadOf, len(c.feeds[cell]))
	for i, k := range c.feeds[cell] {
		spreads[i] = c.learn[k].spread(c.mu)
	}
	old := c.mu[cell]
	return func(x float64) float64 {
		sum := 0.0
		for i, k := range c.feeds[cell] {
			sum += c.learn[k].logDensity(spreads[i].replaced(old, x), c.mu)
		}
		return sum
	}
}
