package answer

import (
	"context"
	"errors"

	"bondtrial"
	"bondtrial/stat/gibbs"
)

// woodLimits estimates each wood's own strength with the roles exchanged: where
// the wood failed the reading is its strength, where the bond broke it is a lower
// bound. A wood that failed fewer than twice has no estimate.
func (b *bench) woodLimits(ctx context.Context, set Settings) ([]WoodLimit, error) {
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
	if err := b.fitWoods(ctx, set, woods, number); err != nil {
		return nil, err
	}
	for k := range woods {
		woods[k].compare(b)
	}
	return woods, nil
}

// woodLeast is the number of wood failures from which a wood's own strength is
// estimated.
const woodLeast = 2

func (b *bench) fitWoods(ctx context.Context, set Settings, woods []WoodLimit, number map[string]int) error {
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
	m := &gibbs.Model{Lo: lo, Hi: hi, Cell: enough.cell, Cells: len(cellOf), Group: eachItsOwn(len(cellOf)), Groups: len(cellOf), ScatterPrior: scatterPrior, ScatterRange: scatterRange}
	terms, _ := enough.terms(enough.cell)
	for _, t := range terms {
		m.Terms = append(m.Terms, gibbs.Term{Level: t.level, Levels: t.n, Prior: termPrior})
	}
	gs := gibbs.Settings{Seed: set.Seed, Draws: max(set.Draws/4, 4000)}
	if set.Progress != nil {
		gs.Progress = func(done, of int) { set.Progress("the wood's own strength", done, of) }
	}
	post, err := gibbs.Sample(ctx, m, gs)
	if errors.Is(err, gibbs.ErrNoScatter) {
		return nil
	}
	if err != nil {
		return err
	}
	for k, cell := range cellOf {
		q := quantiles(post.Mean[cell], 0.025, 0.5, 0.975)
		w := &woods[k]
		w.Low, w.Typical, w.High = value(q[0]), value(q[1]), value(q[2])
	}
	return nil
}

// eachItsOwn numbers n cells as n groups.
func eachItsOwn(n int) []int {
	of := make([]int, n)
	for k := range of {
		of[k] = k
	}
	return of
}
