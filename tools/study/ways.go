package main

import (
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/simulate"
	"bondtrial/stat/censreg"
	"bondtrial/stat/studrange"
)

// comparison is one interval of a ratio; ends that do not exist are infinite or
// zero.
type comparison struct {
	wood, a, b                 string
	low, high, lowSim, highSim float64
	verdict                    answer.Verdict
}

// way is a way to answer.
type way struct {
	name    string
	compare func(*answer.Answer, []bondtrial.Reading) [][]comparison // families
}

var ways = []way{
	{"bondtrial", ours},
	{"every reading taken as a result, pooled t and Tukey–Kramer", func(_ *answer.Answer, rs []bondtrial.Reading) [][]comparison { return classical(rs, false) }},
	{"wood-limited readings dropped, pooled t and Tukey–Kramer", func(_ *answer.Answer, rs []bondtrial.Reading) [][]comparison { return classical(rs, true) }},
	{"maximum likelihood with bounds, Wald intervals", func(_ *answer.Answer, rs []bondtrial.Reading) [][]comparison { return wald(rs) }},
}

func ours(a *answer.Answer, _ []bondtrial.Reading) [][]comparison {
	var families [][]comparison
	for _, p := range a.Pairs {
		c := comparison{p.Wood, p.A, p.B, orElse(p.Low, 0), orElse(p.High, math.Inf(1)), orElse(p.LowSim, 0), orElse(p.HighSim, math.Inf(1)), p.Verdict}
		if n := len(families); n > 0 && families[n-1][0].wood == p.Wood {
			families[n-1] = append(families[n-1], c)
		} else {
			families = append(families, []comparison{c})
		}
	}
	return families
}

func orElse(v answer.Value, x float64) float64 {
	if v.Exists() {
		return float64(v)
	}
	return x
}

// woods returns the readings of each wood, then of each adhesive.
func woods(rs []bondtrial.Reading) map[string]map[string][]bondtrial.Reading {
	m := make(map[string]map[string][]bondtrial.Reading)
	for _, r := range rs {
		if m[r.Wood] == nil {
			m[r.Wood] = make(map[string][]bondtrial.Reading)
		}
		m[r.Wood][r.Adhesive] = append(m[r.Wood][r.Adhesive], r)
	}
	return m
}

var adhesives = []string{"A", "B", "C", "D", "E", "F"}

// classical makes Student and Tukey–Kramer intervals of differences of mean logs
// within each wood, boards ignored.
func classical(rs []bondtrial.Reading, drop bool) [][]comparison {
	var families [][]comparison
	for _, wood := range []string{"hardwood", "softwood"} {
		mean, n := map[string]float64{}, map[string]float64{}
		ss, df, groups := 0.0, 0.0, 0.0
		by := woods(rs)[wood]
		for _, a := range adhesives {
			list := by[a]
			var y []float64
			for _, r := range list {
				if !drop || r.State(bondtrial.DefaultThreshold) == bondtrial.BondBroke {
					y = append(y, math.Log(float64(r.Strength)))
				}
			}
			if len(y) == 0 {
				continue
			}
			m := 0.0
			for _, v := range y {
				m += v / float64(len(y))
			}
			for _, v := range y {
				ss += (v - m) * (v - m)
			}
			mean[a], n[a] = m, float64(len(y))
			df += float64(len(y)) - 1
			groups++
		}
		var one, all float64
		if df > 0 && groups > 1 {
			one = distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(0.975)
			all = tukey(int(groups), df)
		}
		families = append(families, intervals(wood, one, all, func(a, b string) (float64, float64, bool) {
			ok := n[a] > 0 && n[b] > 0 && df > 0
			return mean[a] - mean[b], math.Sqrt(ss / df * (1/n[a] + 1/n[b])), ok
		}))
	}
	return families
}

// wald fits both woods together by maximum likelihood, and makes normal intervals
// with the quantile of the studentized range over √2 for the simultaneous ones.
// Adhesives of lower bounds only have no estimate.
func wald(rs []bondtrial.Reading) [][]comparison {
	column := map[string]int{}
	for wood, by := range woods(rs) {
		for a, list := range by {
			for _, r := range list {
				if r.State(bondtrial.DefaultThreshold) == bondtrial.BondBroke {
					column[wood+a] = 0
				}
			}
		}
	}
	k := 0
	for _, wood := range []string{"hardwood", "softwood"} {
		for _, a := range adhesives {
			if _, ok := column[wood+a]; ok {
				column[wood+a] = k
				k++
			}
		}
	}
	var x, lo, hi []float64
	for _, r := range rs {
		c, ok := column[r.Wood+r.Adhesive]
		if !ok {
			continue
		}
		row := make([]float64, k)
		row[c] = 1
		b, _ := r.BondBound(bondtrial.DefaultThreshold)
		x, lo, hi = append(x, row...), append(lo, math.Log(float64(b.Lo))), append(hi, math.Log(float64(b.Hi)))
	}
	fit, err := censreg.Regress(mat.NewDense(len(lo), k, x), lo, hi, censreg.Normal, nil)
	var families [][]comparison
	for _, wood := range []string{"hardwood", "softwood"} {
		groups := 0
		for _, a := range adhesives {
			if _, ok := column[wood+a]; ok {
				groups++
			}
		}
		all := 0.0
		if groups > 1 {
			all = tukey(groups, math.Inf(1))
		}
		families = append(families, intervals(wood, 1.959963984540054, all, func(a, b string) (float64, float64, bool) {
			i, ok := column[wood+a]
			j, ok2 := column[wood+b]
			if !ok || !ok2 || err != nil {
				return 0, 0, false
			}
			return fit.Coef[i] - fit.Coef[j], math.Sqrt(fit.Cov.At(i, i) + fit.Cov.At(j, j) - 2*fit.Cov.At(i, j)), true
		}))
	}
	return families
}

// intervals makes the intervals of all pairs of a wood; pairs that have none are
// open on both sides.
func intervals(wood string, one, all float64, of func(a, b string) (d, se float64, ok bool)) []comparison {
	var family []comparison
	for i, a := range adhesives {
		for _, b := range adhesives[i+1:] {
			c := comparison{wood: wood, a: a, b: b, high: math.Inf(1), highSim: math.Inf(1), verdict: answer.NotSettled}
			if d, se, ok := of(a, b); ok {
				c.low, c.high = math.Exp(d-one*se), math.Exp(d+one*se)
				c.lowSim, c.highSim = math.Exp(d-all*se), math.Exp(d+all*se)
				switch {
				case c.lowSim > 1:
					c.verdict = answer.Stronger
				case c.highSim < 1:
					c.verdict = answer.Weaker
				}
			}
			family = append(family, c)
		}
	}
	return family
}

var tukeyTable = newCache(func(k int, df float64) float64 {
	return studrange.Dist{K: k, DF: df}.Quantile(0.95) / math.Sqrt2
})

func tukey(k int, df float64) float64 { return tukeyTable.get(k, df) }

// tally counts what came of many comparisons.
type tally struct {
	n, right           int // two-sided intervals, or statements of one kind
	oneSided, oneRight int
	none               int // pairs without any end
	families, hold     int
	claims, wrong      int // "stronger" and "weaker"
	alike, wrongAlike  int // "same"
	apart, apartAlike  int // pairs that differ by more than the margin, and of these called the same
	short              float64
}

func (t *tally) add(o tally) {
	t.n, t.right = t.n+o.n, t.right+o.right
	t.oneSided, t.oneRight = t.oneSided+o.oneSided, t.oneRight+o.oneRight
	t.none += o.none
	t.families, t.hold = t.families+o.families, t.hold+o.hold
	t.claims, t.wrong = t.claims+o.claims, t.wrong+o.wrong
	t.alike, t.wrongAlike = t.alike+o.alike, t.wrongAlike+o.wrongAlike
	t.apart, t.apartAlike = t.apart+o.apart, t.apartAlike+o.apartAlike
	t.short += o.short
}

func (t *tally) count(right bool) {
	t.n++
	if right {
		t.right++
	}
}

// judge holds a family against the truth.
func (t *tally) judge(family []comparison, truth *simulate.Truth, margin float64) {
	hold := true
	for _, c := range family {
		r := truth.Ratio(c.a, c.b, c.wood)
		within := c.low <= r && r <= c.high
		switch {
		case c.low == 0 && math.IsInf(c.high, 1):
			t.none++
		case c.low == 0 || math.IsInf(c.high, 1):
			t.oneSided++
			if within {
				t.oneRight++
			}
		default:
			t.count(within)
		}
		hold = hold && c.lowSim <= r && r <= c.highSim
		// Strengths that are equal to rounding differ by nothing.
		equal := math.Abs(r-1) < 1e-9
		switch c.verdict {
		case answer.Stronger, answer.Weaker:
			t.claims++
			if equal || (c.verdict == answer.Stronger) != (r > 1) {
				t.wrong++
			}
		case answer.Same:
			t.alike++
		}
		if r > 1+margin || r < 1/(1+margin) {
			t.apart++
			if c.verdict == answer.Same {
				t.wrongAlike++
				t.apartAlike++
			}
		}
	}
	t.families++
	if hold {
		t.hold++
	}
}

func share(n, of int) string {
	if of == 0 {
		return "–"
	}
	return strings.Replace(formatPercent(100*float64(n)/float64(of)), "100.0", "100", 1)
}
