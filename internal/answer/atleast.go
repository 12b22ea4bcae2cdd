package answer

import "math"

// A cell in which every reading is a lower bound has no typical strength, only an
// "at least". Two things can make that number too high. The prior of the cell can
// carry it up where the readings say nothing: so the prior is learned from the
// other cells. And a bond that is weaker than the wood can end in the wood every
// time by luck, so that the cells that come out this way are not a fair sample of
// bonds. That is met by a bound that allows for the selection: with A of K cells
// selected, intervals of level 1 − qA/K are wrong for at most a share q of the
// selected (Benjamini and Yekutieli, Journal of the American Statistical
// Association 100 (2005) 71–81, theorem 1). What is reported is the lower of the
// two.

// wrongShare is the share of "at least" statements that may be wrong.
const wrongShare = 0.05

// atLeast returns the lower bound of the log strength of a cell of lower bounds,
// given the 5 % quantile of its posterior.
func (f *fitted) atLeast(cell int, q5 float64) float64 {
	return min(q5, f.luckBound(cell, f.luck(cell)))
}

// luck is the probability of ending in the wood every time that is still believed
// to happen by luck: qA/K over the trial or over the wood, whichever is less.
func (f *fitted) luck(cell int) float64 {
	cells := f.bench.cells
	var a, k, aWood, kWood float64
	for i := range cells {
		here := cells[i].Wood == cells[cell].Wood
		k++
		if here {
			kWood++
		}
		if cells[i].OnlyAtLeast {
			a++
			if here {
				aWood++
			}
		}
	}
	return wrongShare * min(a/k, aWood/kWood)
}

// luckBound solves E[∏ Φ((μ + u − w)/σ)] = luck for μ, the expectation over the
// posterior of the shifts u and the scatter σ, w the cell's readings.
func (f *fitted) luckBound(cell int, luck float64) float64 {
	kept := f.kept[cell]
	w := make([]float64, 0, len(kept))
	for i, c := range f.bench.cell {
		if c == cell {
			w = append(w, f.lo[i])
		}
	}
	sigma := f.post.Sigma[f.group[cell]]
	stride := max(1, len(sigma)/2000)
	chance := func(mu float64) float64 {
		sum, n := 0.0, 0
		for k := 0; k < len(sigma); k += stride {
			p := 1.0
			for j, at := range kept {
				p *= 0.5 * math.Erfc((w[j]-mu-f.post.Shift[at][k])/(sigma[k]*math.Sqrt2))
			}
			sum += p
			n++
		}
		return sum / float64(n)
	}
	lo, hi := w[0], w[0]
	for chance(lo) > luck {
		lo -= 0.5
	}
	for chance(hi) < luck {
		hi += 0.5
	}
	for range 40 {
		mid := 0.5 * (lo + hi)
		if chance(mid) < luck {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
