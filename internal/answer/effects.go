package answer

import (
	"fmt"
	"slices"
)

// effects compares the levels of each factor, averaged over the cells that were
// broken at both levels and differ in nothing else. Cells that are only at least
// are left out.
func (f *fitted) effects(set Settings) (effects []Effect, warnings []string) {
	for _, factor := range set.Factors {
		levels := f.levelsOf(factor)
		if len(levels) < 2 {
			warnings = append(warnings, fmt.Sprintf("The factor %q has one level only: there is nothing to compare.", factor))
			continue
		}
		for i, a := range levels {
			for _, b := range levels[i+1:] {
				e := f.effect(factor, a, b, set.Margin)
				if e.Cells == 0 {
					warnings = append(warnings, fmt.Sprintf("No adhesive has bond breaks at both %s = %s and %s = %s on the same wood, so the two cannot be compared.",
						factor, a, factor, b))
				}
				effects = append(effects, e)
			}
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

func (f *fitted) effect(factor, a, b string, margin float64) Effect {
	e := Effect{Factor: factor, A: a, B: b, Ratio: None, Low: None, High: None, Low90: None, High90: None, Verdict: NotSettled}
	sum := make([]float64, f.post.Draws)
	weight := make([]float64, len(f.bench.cells))
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
			e.Cells++
			weight[i]++
			weight[j]--
			for k := range sum {
				sum[k] += ca.draws[k] - cb.draws[k]
			}
		}
	}
	if e.Cells == 0 {
		return e
	}
	for k := range sum {
		sum[k] /= float64(e.Cells)
	}
	q := quantiles(sum, 0.025, 0.05, 0.5, 0.95, 0.975)
	e.Low, e.Low90, e.Ratio, e.High90, e.High = value(q[0]), value(q[1]), value(q[2]), value(q[3]), value(q[4])
	if f.closed != nil {
		for k := range weight {
			weight[k] /= float64(e.Cells)
		}
		d, se := f.closed.interval(weight)
		q, q90 := f.closed.t().Quantile(0.975)*se, f.closed.t().Quantile(0.95)*se
		e.Ratio, e.Low, e.High, e.Low90, e.High90 = value(d), value(d-q), value(d+q), value(d-q90), value(d+q90)
	}
	switch {
	case e.Low > 1:
		e.Verdict = Stronger
	case e.High < 1:
		e.Verdict = Weaker
	case within(e.Low90, e.High90, margin):
		e.Verdict = Same
	}
	return e
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
