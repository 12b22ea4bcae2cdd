package answer

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// settleMost is the largest number of further specimens that is still worth
// naming.
const settleMost = 200

// settle estimates how many more specimens of each adhesive would be expected to
// settle a pair: the difference is taken to stay where it is, its variance to
// shrink with the number of specimens; the interval is just short enough at the number returned.
func (f *fitted) settle(c *contrast, crit float64, set Settings) Settle {
	p := &c.pair
	switch p.Verdict {
	case Stronger, Weaker, Same:
		return Settle{}
	}
	a, b := &f.bench.cells[p.a], &f.bench.cells[p.b]
	if a.OnlyAtLeast || b.OnlyAtLeast {
		what, stronger := Limited(a, b)
		return Settle{Reason: what + " every time: only " + stronger + " or a smaller bonded area can show the difference"}
	}
	n := 2 / (1/float64(a.N) + 1/float64(b.N))
	margin := math.Log1p(set.Margin)
	d := math.Abs(c.mid)
	half := crit * 0.5 * (c.dn + c.up)
	sd := 0.5 * (c.dn + c.up) * math.Sqrt(math.Pi/2)
	// The interval excludes 1 when its half-length has shrunk to d; it lies within
	// the margin when 1.645 standard deviations fit between d and the margin.
	df := math.Inf(1) // the scatter is drawn towards the others', so that more readings hardly shorten the tails
	if f.closed != nil {
		df = f.closed.df
	}
	apart := needed(n, df, half, d)
	alike := needed(n, df, 1.645*sd, margin-d)
	toward := Stronger
	if c.mid < 0 {
		toward = Weaker
	}
	more := apart
	if alike < apart {
		more, toward = alike, Same
	}
	if more > settleMost {
		return Settle{Toward: toward, Reason: fmt.Sprintf("more than %d more of each would be needed, as far as can be told from so few or so scattered breaks", settleMost)}
	}
	return Settle{More: more, Toward: toward}
}

// Limited says what kept cells of lower bounds from showing their strength, and
// what would have to be stronger to show more. Other cells are passed over.
func Limited(cells ...*Cell) (what, stronger string) {
	wood, rig := false, false
	for _, c := range cells {
		if c.OnlyAtLeast {
			wood, rig = wood || c.WoodLimited > 0, rig || c.RigLimited > 0
		}
	}
	switch {
	case wood && rig:
		return "the wood failed or the rig reached its limit", "a stronger wood and rig"
	case rig:
		return "the rig reached its limit", "a stronger rig"
	}
	return "the wood failed first", "a stronger wood"
}

// needed is how many specimens to add to n of each of two so that a half-length
// shrinks to want, or a number above settleMost. With df degrees of freedom
// Student's factor shrinks as well.
func needed(n, df, half, want float64) int {
	factor := func(df float64) float64 {
		if math.IsInf(df, 1) {
			return 1
		}
		return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.975)
	}
	now := factor(df)
	enough := func(more int) bool {
		m := float64(more)
		return half*math.Sqrt(n/(n+m))*factor(df+2*m)/now <= want
	}
	if !enough(settleMost) {
		return settleMost + 1
	}
	return 1 + sort.Search(settleMost-1, func(k int) bool { return enough(k + 1) })
}
