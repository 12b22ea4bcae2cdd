package answer

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"bondtrial"
	"bondtrial/stat/censreg"
)

// checkMost is the largest size, readings times cells, for which the regressions
// that check an answer are fitted.
const checkMost = 10_000_000

// regression is the readings of all cells that are not only at least, with a
// column for each cell.
type regression struct {
	rows   []int // indices into bench.used
	x      *mat.Dense
	lo, hi []float64
	logSum float64 // Σ log strength over results
	column []int   // cell → column, −1 where left out
	free   int     // rows − columns
	first  int     // place in the order of the first row, and of the last
	last   int
}

// regression returns nil where there are too many readings and cells or too few.
func (b *bench) regression(set Settings, order func(*bondtrial.Reading) int) *regression {
	r := &regression{column: make([]int, len(b.cells))}
	for k := range r.column {
		r.column[k] = -1
	}
	cols := 0
	for k, i := range b.used {
		cell := b.cell[k]
		if b.cells[cell].OnlyAtLeast {
			continue
		}
		if order != nil {
			at := order(&b.readings[i])
			if at == 0 {
				continue
			}
			if r.first == 0 || at < r.first {
				r.first = at
			}
			r.last = max(r.last, at)
		}
		if r.column[cell] < 0 {
			r.column[cell] = cols
			cols++
		}
		r.rows = append(r.rows, k)
	}
	width := cols
	if order != nil {
		width++
	}
	r.free = len(r.rows) - width
	if r.free < 1 || len(r.rows)*width > checkMost {
		return nil
	}
	r.x = mat.NewDense(len(r.rows), width, nil)
	for row, k := range r.rows {
		reading := &b.readings[b.used[k]]
		bd, _ := reading.BondBound(set.Threshold)
		r.lo = append(r.lo, math.Log(float64(bd.Lo)))
		r.hi = append(r.hi, math.Log(float64(bd.Hi)))
		if bd.Exact() {
			r.logSum += math.Log(float64(bd.Lo))
		}
		r.x.Set(row, r.column[b.cell[k]], 1)
		if order != nil {
			r.x.Set(row, cols, float64(order(reading)-r.first)/float64(max(r.last-r.first, 1)))
		}
	}
	return r
}

// likelihoods fits lognormal and Weibull regressions with bounds by maximum
// likelihood, one mean for each cell and a common scatter. Cells that are only at
// least are left out: as their mean rises their part of the log-likelihood goes
// to 0.
func (b *bench) likelihoods(set Settings) (lognormal, weibull Value) {
	r := b.regression(set, nil)
	if r == nil {
		return None, None
	}
	fit := func(d censreg.Distribution) Value {
		res, err := censreg.Regress(r.x, r.lo, r.hi, d, nil)
		if err != nil {
			return None
		}
		return Value(res.LogLik - r.logSum)
	}
	return fit(censreg.Normal), fit(censreg.SmallestExtreme)
}

// medians puts the Kaplan–Meier median into each cell. It does not exist where
// fewer than half the specimens are known to have broken.
func (b *bench) medians(set Settings) {
	for k := range b.cells {
		c := &b.cells[k]
		lo, hi := make([]float64, len(c.Readings)), make([]float64, len(c.Readings))
		for j, i := range c.Readings {
			bd, _ := b.readings[i].BondBound(set.Threshold)
			lo[j], hi[j] = float64(bd.Lo), float64(bd.Hi)
		}
		c.Median = None
		if curve, err := censreg.KaplanMeier(lo, hi, nil); err == nil {
			if m, ok := curve.Median(); ok {
				c.Median = Value(m)
			}
		}
	}
}

// drifts looks for a change of strength along the order of glueing and of
// breaking, by regression of log strength on the order within cells.
func (b *bench) drifts(set Settings) []Drift {
	var out []Drift
	for _, o := range []struct {
		name string
		of   func(*bondtrial.Reading) int
	}{
		{"glueing", func(r *bondtrial.Reading) int { return r.GlueOrder }},
		{"breaking", func(r *bondtrial.Reading) int { return r.BreakOrder }},
	} {
		r := b.regression(set, o.of)
		if r == nil || len(r.rows) < 8 {
			continue
		}
		fit, err := censreg.Regress(r.x, r.lo, r.hi, censreg.Normal, nil)
		if err != nil {
			continue // every adhesive has its own stretch of the order, and nothing can be told
		}
		last := len(fit.Coef) - 1
		// The maximum-likelihood scatter divides by the number of readings; taking
		// it over those that are free, and t for normal, gives the classical
		// interval where there are no bounds.
		half := fit.StdErr[last] * math.Sqrt(float64(len(r.rows))/float64(r.free)) *
			distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(r.free)}.Quantile(0.975)
		d := Drift{Order: o.name, N: len(r.rows), First: r.first, Last: r.last, Ratio: value(fit.Coef[last]),
			Low: value(fit.Coef[last] - half), High: value(fit.Coef[last] + half)}
		d.Flag = d.Low > 1 || d.High < 1
		out = append(out, d)
	}
	return out
}
