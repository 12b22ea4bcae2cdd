package answer

import (
	"context"
	"math"

	"bondtrial"
	"bondtrial/stat/gibbs"
)

// The prior of a bond's mean in a cell with lower bounds and fewer than heldBy bond
// breaks is learned from the other cells of its wood. DF and scale stand in for
// what few cells can tell: adhesives on one wood typically differ by a factor of
// e^±0.4.
const (
	heldBy       = 3
	learnedDF    = 4
	learnedScale = 0.4
)

// fitted is the posterior of one model with what is needed to read it.
type fitted struct {
	bench *bench
	post  *gibbs.Posterior
	terms []term
	group []int         // of each cell: which σ
	kept  map[int][]int // cell → where the shifts of its readings are in post.Shift
	lo    []float64     // log lower ends of the used readings

	closed *closed // nil where draws are all there is
}

// fit samples the model for the bonds.
func (b *bench) fit(ctx context.Context, set Settings, stage string) (*fitted, []string, error) {
	lo, hi := b.logBounds(func(r bondtrial.Reading) (bondtrial.Bound, bool) { return r.BondBound(set.Threshold) })
	cellGroup, groups := b.scatterGroups(set)
	f := &fitted{bench: b, group: cellGroup, lo: lo, kept: map[int][]int{}}
	m := &gibbs.Model{Lo: lo, Hi: hi, Cell: b.cell, Cells: len(b.cells), Group: cellGroup, Groups: groups, ScatterPrior: scatterPrior, ScatterRange: scatterRange}
	var warnings []string
	f.terms, warnings = b.terms(b.cell)
	for _, t := range f.terms {
		m.Terms = append(m.Terms, gibbs.Term{Level: t.level, Levels: t.n, Prior: termPrior})
	}
	m.Learn = b.learned(lo)
	gs := gibbs.Settings{Seed: set.Seed, Draws: set.Draws}
	for k, c := range b.cell {
		if b.cells[c].OnlyAtLeast {
			f.kept[c] = append(f.kept[c], len(gs.Keep))
			gs.Keep = append(gs.Keep, k)
		}
	}
	if set.Progress != nil {
		gs.Progress = func(done, of int) { set.Progress(stage, done, of) }
	}
	var err error
	f.post, err = gibbs.Sample(ctx, m, gs)
	if err == nil && !set.drawsOnly {
		f.closed = f.closedForm(groups)
	}
	return f, warnings, err
}

// scatterGroups gives each cell the number of its σ: one for each adhesive, or
// one for all.
func (b *bench) scatterGroups(set Settings) (of []int, n int) {
	of = make([]int, len(b.cells))
	if set.PooledScatter {
		return of, 1
	}
	number := make(map[string]int)
	for k := range b.cells {
		a := b.cells[k].Adhesive
		if _, ok := number[a]; !ok {
			number[a] = len(number)
		}
		of[k] = number[a]
	}
	return of, len(number)
}

// learned gives the cells of each wood that their own readings hold too poorly a
// prior learned from its other cells, or, where there are none, centred on the
// readings of the wood.
func (b *bench) learned(lo []float64) []gibbs.Learned {
	var learn []gibbs.Learned
	for from := 0; from < len(b.cells); {
		to := from
		l := gibbs.Learned{DF: learnedDF, Scale: learnedScale}
		for ; to < len(b.cells) && b.cells[to].Wood == b.cells[from].Wood; to++ {
			if c := &b.cells[to]; c.broke() >= heldBy || c.broke() == c.N {
				l.From = append(l.From, to)
			} else {
				l.Cells = append(l.Cells, to)
			}
		}
		if len(l.From) == 0 {
			n := 0
			for i, c := range b.cell {
				if c >= from && c < to {
					l.Center += lo[i]
					n++
				}
			}
			l.Center /= float64(n)
		}
		if len(l.Cells) > 0 {
			learn = append(learn, l)
		}
		from = to
	}
	return learn
}

// value is the exponential of a log strength or log ratio, or none where that is
// not a finite number.
func value(log float64) Value {
	v := math.Exp(log)
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return None
	}
	return Value(v)
}

// termDraws returns the draws of the standard deviation of the term with the
// given name, or nil.
func (f *fitted) termDraws(name string) []float64 {
	for k, t := range f.terms {
		if t.name == name {
			return f.post.TermSD[k]
		}
	}
	return nil
}
