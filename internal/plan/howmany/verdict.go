package howmany

import "math"

// interval ends of a pair on the log scale, and what they come to. Ends that do
// not exist are infinite.
type verdictOf struct {
	low, high       float64 // single 95 %
	lowSim, highSim float64 // simultaneous 95 %
	low90, high90   float64
	verdict         verdict
}

type verdict int

const (
	unsettled verdict = iota
	stronger          // a than b
	weaker
	sameWithin
	atLeast
)

// leastMeanDF is the least degrees of freedom of a comparison: with 1 a t has no mean
// distance.
const leastMeanDF = 1.2

// law is the approximated posterior of a pair.
type law struct {
	mean, scale, df, skew float64
}

// bend is how far out the skew's square is followed; beyond, its tangent is, so that
// quantiles keep their order.
const bend = 2.0

// quantile is that of the skewed t at a quantile of the t (Cornish and Fisher 1938,
// the first term).
func (l law) quantile(t float64) float64 {
	in := min(max(t, -bend), bend)
	return l.mean + l.scale*(t+l.skew/6*(in*in-1+2*in*(t-in)))
}

func (l law) middle() float64 { return l.mean - l.scale*l.skew/6 }

// reach returns the mean distances from the middle, below and above.
func (l law) reach() (dn, up float64) {
	square := 2.0 // mean square of a t, held where it grows without end
	if l.df > 4 {
		square = l.df / (l.df - 2)
	}
	e, tilt := meanAbs(l.df), l.skew/6*square
	return l.scale * max(e-tilt, 0.3*e), l.scale * max(e+tilt, 0.3*e)
}

// judge returns the verdict on every pair, in the order of the design's pairs. ok
// is false where the engine would say that the readings are too few.
func (j *judge) judge(obs []observed) (out []verdictOf, ok bool) {
	if !j.fit(obs) {
		return nil, false
	}
	j.findLoose()
	for _, family := range j.families {
		j.finish(family)
	}
	return j.result, true
}

// lawOf puts a pair's moments and what the scatters add to them together.
func (j *judge) lawOf(p int) law {
	b, u := j.base[p], j.unknown[p]
	b.variance *= math.Exp(u.lift)
	v := b.variance + u.mean
	share := b.variance / v
	df := max(dfOf(max(u.log*share*share, 1e-9)), leastMeanDF)
	scale := math.Sqrt(v * math.Exp(-logMean(df)))
	skew := (b.third + 3*u.both*b.variance) / (v * math.Sqrt(v))
	return law{b.mean, scale, df, min(max(skew, -1.2), 1.2)}
}

// finish gives the pairs of a family their intervals and verdicts, by the engine's
// rules: the simultaneous interval reaches one number of mean distances to both
// sides of every middle, and holds the single one.
func (j *judge) finish(family []int) {
	laws := make([]law, len(family))
	for k, p := range family {
		laws[k] = j.lawOf(p)
	}
	crit := j.critical(family, laws)
	for k, p := range family {
		r := &j.result[p]
		aOnly, bOnly := j.side(p)
		e, ok := j.looseEnds(p)
		if !ok {
			e = j.endsOf(laws[k])
		}
		*r = verdictOf{low: e.low, high: e.high, low90: e.low90, high90: e.high90, lowSim: e.low, highSim: e.high}
		if len(family) > 1 {
			r.lowSim, r.highSim = min(e.mid-crit*e.dn, e.low), max(e.mid+crit*e.up, e.high)
		}
		if aOnly {
			r.high, r.high90, r.highSim = math.Inf(1), math.Inf(1), math.Inf(1)
		}
		if bOnly {
			r.low, r.low90, r.lowSim = math.Inf(-1), math.Inf(-1), math.Inf(-1)
		}
		r.verdict = r.decide(j.margin, aOnly != bOnly)
	}
}

// endsOf is what a skewed t has.
func (j *judge) endsOf(l law) ends {
	t95, t90 := j.t95.at(l.df), j.t90.at(l.df)
	e := ends{mid: l.middle(), low: l.quantile(-t95), low90: l.quantile(-t90), high90: l.quantile(t90), high: l.quantile(t95)}
	e.dn, e.up = l.reach()
	return e
}

// critical is how many mean distances the family's simultaneous intervals reach. For
// laws that are alike and without skew it is the factor over the mean of |t|. Else the
// tails differ, and it is what keeps the expected number of ends beyond it: as many
// as with the factor at the harmonic mean of the degrees of freedom.
func (j *judge) critical(family []int, laws []law) float64 {
	inverse, counted, ends := 0.0, 0.0, 0.0
	alike := true
	for k, p := range family {
		a, b := j.side(p)
		if a && b {
			continue
		}
		counted++
		ends += 2
		if a || b {
			ends--
		}
		inverse += 1 / laws[k].df
		alike = alike && math.Abs(laws[k].df-laws[0].df) < 1e-6*laws[0].df && math.Abs(laws[k].skew) < 1e-9
	}
	if counted == 0 {
		return 1
	}
	df := counted / inverse
	c := j.factor(df, 0.5*ends/float64(len(family)))
	crit := c / meanAbs(df)
	if alike {
		return crit
	}
	want := math.Log(ends * tail(c, df))
	lo, hi := 0.3*crit, 3*crit
	for range 14 {
		mid := 0.5 * (lo + hi)
		if math.Log(j.beyond(family, laws, mid)) > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return 0.5 * (lo + hi)
}

// beyond is the expected number of ends more than so many mean distances from their
// middle.
func (j *judge) beyond(family []int, laws []law, distances float64) float64 {
	sum := 1e-300
	for k, p := range family {
		l := laws[k]
		aOnly, bOnly := j.side(p)
		dn, up := l.reach()
		if !aOnly {
			sum += tail(outward(distances*up/l.scale, l.skew), l.df)
		}
		if !bOnly {
			sum += tail(outward(distances*dn/l.scale, -l.skew), l.df)
		}
	}
	return sum
}

// outward is the quantile of the t that the skewed t has so many scales above its
// middle.
func outward(distance, skew float64) float64 {
	s := skew / 6
	if b := bend + s*bend*bend; distance > b {
		return bend + (distance-b)/(1+2*s*bend)
	}
	if math.Abs(s) < 1e-6 {
		return distance
	}
	return (math.Sqrt(max(1+4*s*distance, 0)) - 1) / (2 * s)
}

// tail is the probability that Student's t exceeds x ≥ 0, by Wallace's normal
// approximation (1959), good to a few per cent far out.
func tail(x, df float64) float64 {
	return upper((8*df + 1) / (8*df + 3) * math.Sqrt(df*math.Log1p(x*x/df)))
}

// factor is the family's factor. Where some of the comparisons have one end only, or
// none, a share of them is left, and the factor is that of so many fewer adhesives,
// in between by the logarithm.
func (j *judge) factor(df, share float64) float64 {
	if share == 1 {
		return j.crit.at(df)
	}
	k := 1 + share*float64(j.adhesives-1)
	if !j.shape.control {
		n := float64(j.adhesives)
		k = 0.5 + math.Sqrt(0.25+share*n*(n-1))
	}
	k = min(max(k, 2), float64(j.adhesives))
	s := j.shape
	s.adhesives = int(k)
	lo := factorOf(s).at(df)
	s.adhesives = min(s.adhesives+1, j.adhesives)
	return lo * math.Pow(factorOf(s).at(df)/lo, k-math.Floor(k))
}

func (r *verdictOf) decide(margin float64, oneSided bool) verdict {
	switch {
	case r.lowSim > 0:
		return stronger
	case r.highSim < 0:
		return weaker
	case oneSided:
		return atLeast
	case r.low90 >= -margin && r.high90 <= margin:
		return sameWithin
	}
	return unsettled
}
