package gibbs

import "math"

// layout is the data arranged for the sampler: read by all chains, written by
// none once it is made.
//
// Observations that share cell and every level form a stratum. Exact ones
// enter only through a stratum's count, mean and sum of squares; bounds are kept
// one by one, sorted by stratum.
type layout struct {
	cells, groups int
	terms         []Term
	learn         []Learned
	learnedBy     []int   // cell → index into learn, −1 where its prior is flat
	feeds         [][]int // cell → indices into learn of the priors that use it

	stratum []stratum
	bound   []bound
	byCell  []span  // cell → its bounds
	byGroup [][]int // group → indices of its bounds
	ofCell  [][]int // cell → its strata
	ofGroup [][]int // group → its strata

	exactInCell, exactInGroup []int
	collapseCell              []bool // μ is also drawn with the variates behind its bounds integrated out
	collapseGroup             []bool // σ likewise
	lowerOnly                 bool   // every bound is a lower one
	scatterPrior              HalfT
	scatterRange              Range // of σ; everything with one group
	logRange                  Range // its logarithms
	system                    *system
	together                  []together
	ridges                    []ridge
	onRidge                   []bool // group: its σ is drawn along a ridge
}

type span struct{ from, to int }

type stratum struct {
	cell, group int
	level       []int // of each term
	n           int   // observations
	exact       int   // of these exact
	mean, ss    float64
	bounds      span
}

type bound struct {
	lo, hi  float64
	stratum int
}

// worthCollapsing reports whether to integrate out the variates behind bounds: it
// costs several evaluations for each bound, which few bounds can bear, and many
// only where exact observations are so rare that nothing else moves.
func worthCollapsing(bounds, exact int) bool { return bounds <= 64 || bounds > 10*exact }

// newLayout also returns which stratum each observation is in.
func newLayout(m *Model) (*layout, []int) {
	l := &layout{
		cells: m.Cells, groups: m.Groups, terms: m.Terms, learn: m.Learn, scatterPrior: m.ScatterPrior, scatterRange: Range{0, math.Inf(1)},
		learnedBy: make([]int, m.Cells), feeds: make([][]int, m.Cells),
		byCell: make([]span, m.Cells), byGroup: make([][]int, m.Groups),
		ofCell: make([][]int, m.Cells), ofGroup: make([][]int, m.Groups),
		exactInCell: make([]int, m.Cells), exactInGroup: make([]int, m.Groups),
		collapseCell: make([]bool, m.Cells), collapseGroup: make([]bool, m.Groups),
	}
	if m.Groups > 1 {
		l.scatterRange = m.ScatterRange
	}
	l.logRange = Range{math.Log(l.scatterRange.Lo), math.Log(l.scatterRange.Hi)}
	for c := range l.learnedBy {
		l.learnedBy[c] = -1
	}
	for k, p := range m.Learn {
		for _, c := range p.Cells {
			l.learnedBy[c] = k
		}
		for _, c := range p.From {
			l.feeds[c] = append(l.feeds[c], k)
		}
	}
	of := l.addStrata(m)
	l.fill(m, of)
	for c := range l.byCell {
		bounds, exact := l.byCell[c].to-l.byCell[c].from, l.exactInCell[c]
		l.collapseCell[c] = l.learnedBy[c] >= 0 || bounds >= max(exact, 1) && worthCollapsing(bounds, exact)
	}
	for g, b := range l.byGroup {
		l.collapseGroup[g] = 2*len(b) > l.exactInGroup[g] && worthCollapsing(len(b), l.exactInGroup[g])
	}
	l.system = newSystem(l)
	l.together = l.findTogether()
	l.ridges = l.findRidges()
	l.onRidge = make([]bool, l.groups)
	for k := range l.ridges {
		l.onRidge[l.ridges[k].group] = true
	}
	return l, of
}

// mostTerms is the number of terms a model may have.
const mostTerms = 4

// addStrata finds the strata, ordered by cell and then by first appearance, and
// returns which one each observation is in.
func (l *layout) addStrata(m *Model) []int {
	type key struct{ cell, a, b, c, d int }
	if len(m.Terms) > mostTerms {
		panic("gibbs: more than four terms")
	}
	keyOf := func(i int) key {
		var lv [mostTerms]int
		for t, term := range m.Terms {
			lv[t] = term.Level[i]
		}
		return key{m.Cell[i], lv[0], lv[1], lv[2], lv[3]}
	}
	seen := make(map[key]int)
	first := make([][]int, m.Cells) // cell → first observation of each of its strata
	for i := range m.Lo {
		if k := keyOf(i); !has(seen, k) {
			seen[k] = -1
			first[k.cell] = append(first[k.cell], i)
		}
	}
	for c, obs := range first {
		for _, i := range obs {
			k := keyOf(i)
			s := len(l.stratum)
			seen[k] = s
			st := stratum{cell: c, group: m.Group[c], level: make([]int, len(m.Terms))}
			for t, term := range m.Terms {
				st.level[t] = term.Level[i]
			}
			l.stratum = append(l.stratum, st)
			l.ofCell[c] = append(l.ofCell[c], s)
			l.ofGroup[st.group] = append(l.ofGroup[st.group], s)
		}
	}
	of := make([]int, len(m.Lo))
	for i := range of {
		of[i] = seen[keyOf(i)]
	}
	return of
}

func has[K comparable, V any](m map[K]V, k K) bool { _, ok := m[k]; return ok }

// fill puts the observations into their strata.
func (l *layout) fill(m *Model, of []int) {
	perStratum := make([]int, len(l.stratum))
	for i, s := range of {
		st := &l.stratum[s]
		st.n++
		if m.Lo[i] == m.Hi[i] {
			st.exact++
			st.mean += m.Lo[i]
			l.exactInCell[st.cell]++
			l.exactInGroup[st.group]++
		} else {
			perStratum[s]++
		}
	}
	at := 0
	for s := range l.stratum {
		st := &l.stratum[s]
		if st.exact > 0 {
			st.mean /= float64(st.exact)
		}
		st.bounds = span{at, at}
		at += perStratum[s]
	}
	l.bound, l.lowerOnly = make([]bound, at), true
	for i, s := range of {
		st := &l.stratum[s]
		if m.Lo[i] == m.Hi[i] {
			st.ss += (m.Lo[i] - st.mean) * (m.Lo[i] - st.mean)
			continue
		}
		l.bound[st.bounds.to] = bound{m.Lo[i], m.Hi[i], s}
		l.byGroup[st.group] = append(l.byGroup[st.group], st.bounds.to)
		l.lowerOnly = l.lowerOnly && math.IsInf(m.Hi[i], 1)
		st.bounds.to++
	}
	for c, strata := range l.ofCell {
		if len(strata) > 0 {
			l.byCell[c] = span{l.stratum[strata[0]].bounds.from, l.stratum[strata[len(strata)-1]].bounds.to}
		}
	}
}
