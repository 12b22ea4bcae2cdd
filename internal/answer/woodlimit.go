package answer

import (
	"context"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"bondtrial"
	"bondtrial/stat/gibbs"
)

// woodLimits estimates each wood's own strength with the roles exchanged: where
// the wood failed the reading is its strength, where the bond broke it is a lower
// bound. A wood that failed too seldom to tell has no estimate.
func (a *Answer) woodLimits(ctx context.Context, b *bench, set Settings) error {
	var woods []WoodLimit
	number := make(map[string]int)
	for _, i := range b.used {
		r := &b.readings[i]
		k, ok := number[r.Wood]
		if !ok {
			k = len(woods)
			number[r.Wood] = k
			woods = append(woods, WoodLimit{Wood: r.Wood, Typical: None, Low: None, High: None, Handbook: None})
		}
		woods[k].N++
		if r.State(set.Threshold) == bondtrial.WoodLimited {
			woods[k].Broke++
		}
	}
	if err := a.fitWoods(ctx, b, set, woods, number); err != nil {
		return err
	}
	for k := range woods {
		woods[k].compare(b)
	}
	a.WoodLimits = woods
	return nil
}

// woodLeast is the number of wood failures from which a wood's own strength is
// estimated.
const woodLeast = 2

func (a *Answer) fitWoods(ctx context.Context, b *bench, set Settings, woods []WoodLimit, number map[string]int) error {
	enough := &bench{readings: b.readings}
	cellOf := make(map[int]int)
	for k := range woods {
		if woods[k].Broke >= woodLeast {
			cellOf[k] = len(cellOf)
		}
	}
	for _, i := range b.used {
		if k, ok := cellOf[number[b.readings[i].Wood]]; ok {
			enough.used = append(enough.used, i)
			enough.cell = append(enough.cell, k)
		}
	}
	if len(cellOf) == 0 {
		return nil
	}
	lo, hi := enough.logBounds(func(r bondtrial.Reading) (bondtrial.Bound, bool) { return r.WoodBound(set.Threshold) })
	terms, _ := enough.terms(enough.cell)
	// One more cell, of standard wood, with a scatter of its own.
	standard := len(cellOf)
	cell := enough.cell
	for _, x := range standardWood() {
		lo, hi, cell = append(lo, x), append(hi, x), append(cell, standard)
	}
	m := &gibbs.Model{Lo: lo, Hi: hi, Cell: cell, Cells: standard + 1, Group: eachItsOwn(standard + 1), Groups: standard + 1, ScatterPrior: woodScatterPrior, ScatterRange: scatterRange}
	for _, t := range terms {
		// Standard wood is of the first level throughout, which its own mean absorbs.
		m.Terms = append(m.Terms, gibbs.Term{Level: append(t.level, make([]int, standardN)...), Levels: t.n, Prior: termPrior})
	}
	gs := gibbs.Settings{Seed: set.Seed, Draws: max(set.Draws/2, 4000)}
	if set.Progress != nil {
		gs.Progress = func(done, of int) { set.Progress("the wood's own strength", done, of) }
	}
	post, err := gibbs.Sample(ctx, m, gs)
	if err != nil {
		return err
	}
	rhat, ess := diagnose(post, post.Mean[:standard])
	a.Fit.MaxRHat, a.Fit.MinESS = max(a.Fit.MaxRHat, rhat), min(a.Fit.MinESS, ess)
	for k, cell := range cellOf {
		q := quantiles(post.Mean[cell], 0.025, 0.5, 0.975)
		w := &woods[k]
		if q[2]-q[0] > math.Log(woodWidest) {
			continue
		}
		w.Low, w.Typical, w.High = value(q[0]), value(q[1]), value(q[2])
	}
	return nil
}

// woodWidest is the ratio of the ends of an interval from which a wood's own
// strength counts as not told.
const woodWidest = 3

// A wood that fails seldom tells little of its scatter, and with an unknown scatter
// its strength has no upper end. So its scatter is drawn towards that of standard
// wood: small clear specimens in shear, whose coefficient of variation is 14 %
// (Wood Handbook, table of coefficients of variation; from memory, unconfirmed).
// standardN is how many readings that knowledge counts for.
const (
	standardSD = 0.14
	standardN  = 30
)

// woodScatterPrior says how much woods differ in scatter: by a factor of e^±0.2 or
// so.
var woodScatterPrior = gibbs.HalfT{DF: 3, Scale: 0.2}

// standardWood returns log strengths, as even as they can be, with the standard
// deviation standardSD.
func standardWood() []float64 {
	x := make([]float64, standardN)
	ss := 0.0
	for i := range x {
		x[i] = distuv.UnitNormal.Quantile((float64(i) + 0.5) / standardN)
		ss += x[i] * x[i]
	}
	for i := range x {
		x[i] *= standardSD / math.Sqrt(ss/(standardN-1))
	}
	return x
}

// eachItsOwn numbers n cells as n groups.
func eachItsOwn(n int) []int {
	of := make([]int, n)
	for k := range of {
		of[k] = k
	}
	return of
}
