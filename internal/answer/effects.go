package answer

import (
	"context"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// effects compares the levels of each factor, averaged over the cells that were
// broken at both levels and differ in nothing else. Cells that are only at least
// are left out. The comparisons of a factor with more than two levels hold
// together.
func (f *fitted) effects(ctx context.Context, set Settings) (effects []Effect, warnings []string) {
	for _, factor := range set.Factors {
		levels := f.levelsOf(factor)
		if len(levels) < 2 {
			warnings = append(warnings, fmt.Sprintf("The factor %q has one level only: there is nothing to compare.", factor))
			continue
		}
		var all []*levelContrast
		for i, a := range levels {
			for _, b := range levels[i+1:] {
				l := f.levelContrast(factor, a, b)
				if l.Cells == 0 {
					warnings = append(warnings, fmt.Sprintf("No adhesive has bond breaks at both %s = %s and %s = %s on the same wood, so the two cannot be compared.",
						factor, a, factor, b))
				}
				all = append(all, l)
			}
		}
		f.hold(ctx, all)
		for _, l := range all {
			l.Verdict = l.Effect.verdict(set.Margin)
			effects = append(effects, l.Effect)
		}
	}
	return effects, warnings
}

func (f *fitted) levelsOf(factor string) []string {
	var levels []string
	for k := range f.bench.cells {
		if l := f.bench.cells[k].Factors[factor]; !slices.Contains(levels, l) {
			levels = append(levels, l)
		}
	}
	slices.Sort(levels)
	return levels
}

// levelContrast is an effect with its draws and with the weight of each cell's mean
// in it.
type levelContrast struct {
	Effect
	contrast
	weight []float64
}

// levelContrast compares two levels of a factor by itself.
func (f *fitted) levelContrast(factor, a, b string) *levelContrast {
	l := &levelContrast{
		Effect: Effect{Factor: factor, A: a, B: b, Ratio: None, Low: None, High: None, LowSim: None, HighSim: None, Low90: None, High90: None},
		weight: make([]float64, len(f.bench.cells)),
	}
	sum := make([]float64, f.post.Draws)
	for i := range f.bench.cells {
		ca := &f.bench.cells[i]
		if ca.Factors[factor] != a || ca.OnlyAtLeast {
			continue
		}
		for j := range f.bench.cells {
			cb := &f.bench.cells[j]
			if cb.Factors[factor] != b || cb.OnlyAtLeast || !matched(ca, cb, factor) {
				continue
			}
			l.Cells++
			l.weight[i]++
			l.weight[j]--
			for k := range sum {
				sum[k] += ca.draws[k] - cb.draws[k]
			}
		}
	}
	if l.Cells == 0 {
		return l
	}
	for k := range sum {
		sum[k] /= float64(l.Cells)
	}
	for k := range l.weight {
		l.weight[k] /= float64(l.Cells)
	}
	l.contrast = contrast{a: sum, b: make([]float64, len(sum))}
	l.measure(sum)
	p := &l.pair
	if f.closed != nil {
		d, se := f.closed.interval(l.weight)
		q, q90 := f.closed.t().Quantile(0.975)*se, f.closed.t().Quantile(0.95)*se
		p.Ratio, p.Low, p.High, p.Low90, p.High90 = value(d), value(d-q), value(d+q), value(d-q90), value(d+q90)
	}
	e := &l.Effect
	e.Ratio, e.Low, e.High, e.Low90, e.High90 = p.Ratio, p.Low, p.High, p.Low90, p.High90
	e.LowSim, e.HighSim = e.Low, e.High
	return l
}

// hold gives the effects of one factor the intervals that hold together.
func (f *fitted) hold(ctx context.Context, all []*levelContrast) {
	all = slices.DeleteFunc(slices.Clone(all), func(l *levelContrast) bool { return l.Cells == 0 })
	if len(all) < 2 {
		return
	}
	var cs []*contrast
	rows := mat.NewDense(len(all), len(f.bench.cells), nil)
	for k, l := range all {
		cs = append(cs, &l.contrast)
		rows.SetRow(k, l.weight)
	}
	crit := criticalDistance(ctx, cs)
	if f.closed != nil {
		crit = f.closed.criticalOf(rows)
	}
	for _, l := range all {
		e := &l.Effect
		low, high := l.mid-crit*l.dn, l.mid+crit*l.up
		if f.closed != nil {
			d, se := f.closed.interval(l.weight)
			low, high = d-crit*se, d+crit*se
		}
		e.LowSim, e.HighSim = min(e.Low, value(low)), max(e.High, value(high))
	}
}

// verdict states what the intervals show.
func (e *Effect) verdict(margin float64) Verdict {
	switch {
	case e.LowSim > 1:
		return Stronger
	case e.HighSim < 1:
		return Weaker
	case within(e.Low90, e.High90, margin):
		return Same
	}
	return NotSettled
}

// matched reports whether two cells differ in the one factor only.
func matched(a, b *Cell, factor string) bool {
	if a.Adhesive != b.Adhesive || a.Wood != b.Wood {
		return false
	}
	for name, level := range a.Factors {
		if name != factor && b.Factors[name] != level {
			return false
		}
	}
	return true
}
