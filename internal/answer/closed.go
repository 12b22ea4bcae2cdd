package answer

import (
	"context"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"bondtrial/stat/maxt"
	"bondtrial/stat/tolerance"
)

// closed is the posterior where it is known in closed form: exact readings, one
// scatter and no board, session or trial term. The means of the cells are then
// Student t about the sample means, jointly a multivariate t with df degrees of
// freedom and independent but for the common scale s (the analysis of variance
// read as a posterior under the prior 1/σ). Ends of intervals are computed from it
// and carry no sampling error.
type closed struct {
	mean, n []float64 // of each cell, log scale
	s, df   float64   // pooled standard deviation
}

// closedForm returns nil where the posterior is not of this kind.
func (f *fitted) closedForm(groups int) *closed {
	b := f.bench
	if groups > 1 || len(f.terms) > 0 {
		return nil
	}
	c := &closed{mean: make([]float64, len(b.cells)), n: make([]float64, len(b.cells))}
	for k := range b.cells {
		if b.cells[k].broke() < b.cells[k].N {
			return nil
		}
	}
	for i, cell := range b.cell {
		c.mean[cell] += f.lo[i]
		c.n[cell]++
	}
	for k := range c.mean {
		c.mean[k] /= c.n[k]
	}
	ss := 0.0
	for i, cell := range b.cell {
		d := f.lo[i] - c.mean[cell]
		ss += d * d
	}
	c.df = float64(len(b.used) - len(b.cells))
	c.s = math.Sqrt(ss / c.df)
	return c
}

func (c *closed) t() distuv.StudentsT { return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: c.df} }

// sd is the middle of the posterior of the scatter.
func (c *closed) sd() Value {
	median := distuv.ChiSquared{K: c.df}.Quantile(0.5)
	return Value(c.s * math.Sqrt(c.df/median))
}

// describe fills the strengths of a cell. Its 5th percentile is the one-sided
// tolerance bound.
func (c *closed) describe(cell *Cell, k int, required float64) {
	se := c.s / math.Sqrt(c.n[k])
	q := c.t().Quantile(0.975)
	cell.Typical, cell.Low, cell.High = value(c.mean[k]), value(c.mean[k]-q*se), value(c.mean[k]+q*se)
	cell.SDLog = c.sd()
	cell.Char5 = value(c.mean[k] - tolerance.KWithDF(c.n[k], c.df, 0.95, 0.75)*c.s)
	if required > 0 {
		cell.PExceed = Value(c.t().CDF((c.mean[k] - math.Log(required)) / se))
	}
}

// interval is the estimate of a combination of the cells' means, with a weight for
// each, and its standard error.
func (c *closed) interval(weight []float64) (estimate, se float64) {
	v := 0.0
	for k, w := range weight {
		estimate += w * c.mean[k]
		v += w * w / c.n[k]
	}
	return estimate, c.s * math.Sqrt(v)
}

// finish gives the pairs of a family their intervals: Student's alone, and
// together those with the quantile of the largest |t|, which is Tukey's, exact
// also for unequal numbers, or Dunnett's.
func (c *closed) finish(ctx context.Context, cs []*contrast) error {
	found := make(chan float64, 1)
	go func() { found <- c.critical(cs) }() // seconds for a hundred adhesives
	var crit float64
	select {
	case crit = <-found:
	case <-ctx.Done():
		return ctx.Err()
	}
	t := c.t()
	for _, x := range cs {
		p := &x.pair
		weight := make([]float64, len(c.mean))
		weight[p.a], weight[p.b] = 1, -1
		d, se := c.interval(weight)
		reach := func(q float64) (low, high Value) { return value(d - q*se), value(d + q*se) }
		p.Ratio = value(d)
		p.Low, p.High = reach(t.Quantile(0.975))
		p.Low90, p.High90 = reach(t.Quantile(0.95))
		p.LowSim, p.HighSim = reach(crit)
		p.PAStronger = Value(t.CDF(d / se))
	}
	return nil
}

// critical is the 95 % quantile of the largest |t| of the contrasts.
func (c *closed) critical(cs []*contrast) float64 {
	index := make(map[int]int)
	for _, x := range cs {
		for _, k := range []int{x.pair.a, x.pair.b} {
			if _, ok := index[k]; !ok {
				index[k] = len(index)
			}
		}
	}
	used := make([]float64, len(index))
	for k, i := range index {
		used[i] = c.n[k]
	}
	rows := mat.NewDense(len(cs), len(index), nil)
	for r, x := range cs {
		rows.Set(r, index[x.pair.a], 1)
		rows.Set(r, index[x.pair.b], -1)
	}
	return largestT(rows, used, c.df)
}

// criticalOf is the same of any contrasts, with a weight for each cell in each row.
func (c *closed) criticalOf(rows mat.Matrix) float64 { return largestT(rows, c.n, c.df) }

// largestT is the 95 % quantile of the largest |t| of contrasts of means of n
// readings each.
func largestT(rows mat.Matrix, n []float64, df float64) float64 {
	cov := mat.NewSymDense(len(n), nil)
	for i, m := range n {
		cov.SetSym(i, i, 1/m)
	}
	d, err := maxt.FromContrasts(rows, cov, df, maxt.TwoSided, nil)
	if err != nil {
		panic("answer: " + err.Error()) // independent means have a positive definite covariance
	}
	return d.Quantile(0.95)
}
