package maxt

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mathext"
)

// sphere is the law for correlations of any kind. With ρ = A A' of rank r, the
// T_j are a_j·(R u), where u is uniform on the unit sphere in r dimensions and R
// is independent of it, R²/r being F distributed on r and ν degrees of freedom
// (chi-squared on r over r for ν = +Inf). With M(u) = max_j a_j·u, or the largest
// |a_j·u| for TwoSided,
//
//	P(max > c) = E_u[ P(R > c/M(u)) ]                                 (1)
//
// for c ≥ 0, where M(u) ≤ 0 gives 0. What is kept is a weighted sample of M,
// made once, so that (1) at any c is a sum.
//
// Directions are drawn where M is large, from the mixture density
//
//	p(u) = ε + (1−ε)/m · Σ_j (a_j·u)^8 / e,   e = E_u (a_j·u)^8       (2)
//
// relative to the uniform one, and weighted with 1/p(u); for OneSided negative
// a_j·u count as 0 and e is half as large. A direction from the j-th term is
// y + (ξ − a_j·y) a_j, where y is standard normal and ξ is chi on 9 degrees of
// freedom: its part along a_j has the density |t|^8 exp(−t²/2). One y serves the
// uniform term and several others, and the shares of the mixture are met exactly,
// not at random (Owen and Zhou 2000). y, ξ and the choice of terms come
// from a shifted rank-1 lattice, for OneSided y together with −y. The sums are
// divided by the sum of the weights, which makes P a distribution function.
type sphere struct {
	rank   int
	df     float64
	sides  Sides
	shifts []shiftSample
}

// shiftSample is the sample from one random shift of the lattice.
type shiftSample struct {
	above  bins // weights over M > 0
	below  bins // weights over −M > 0
	weight float64
}

const (
	numShifts = 10

	// uniformShare is ε of (2); no weight is more than its inverse.
	uniformShare = 0.2

	// chiDF is the number of degrees of freedom of ξ, 8 + 1.
	chiDF = 9

	// termsPerPoint is the number of terms of the sum in (2) that one y serves.
	termsPerPoint = 8

	// mostPoints is the number of lattice points for a shift, and workLimit the
	// number of multiplications in all at which it is lowered, by halves, to no
	// less than leastPoints.
	mostPoints  = 8192
	leastPoints = 1024
	workLimit   = 3e8

	// hugeDF is where F and chi-squared tails differ by less than 1e-5 of
	// themselves for c up to 4, well under the standard error.
	hugeDF = 1e7
)

func newSphere(rows, rho [][]float64, df float64, sides Sides, rng *rand.Rand) *sphere {
	l := &sphere{rank: len(rows[0]), df: df, sides: sides}
	if df > hugeDF {
		l.df = math.Inf(1)
	}
	points := mostPoints
	for points > leastPoints && numShifts*points*len(rows)*(l.rank+termsPerPoint+1) > workLimit {
		points /= 2
	}
	chi := newChiTable()
	for range numShifts {
		shift := make([]float64, l.rank+2)
		for i := range shift {
			shift[i] = rng.Float64()
		}
		l.shifts = append(l.shifts, l.sample(rows, rho, points, shift, chi, rng))
	}
	return l
}

// sample draws from one shift of the lattice.
func (l *sphere) sample(rows, rho [][]float64, points int, shift []float64, chi chiTable, rng *rand.Rand) shiftSample {
	s := shiftSample{above: newBins(), below: newBins()}
	w := weigher{sides: l.sides, scale: (1 - uniformShare) / (float64(len(rows)) * meanEighth(l.rank))}
	if l.sides == OneSided {
		w.scale *= 2
	}
	x := make([]float64, l.rank+2)
	y := make([]float64, l.rank)
	at := make([]float64, len(rows)) // a_j·y
	for i := range points {
		latticePoint(x, i, points, shift, rng)
		xi := chi.quantile(mathext.NormalQuantile(x[0]))
		var square float64
		for k := range y {
			y[k] = mathext.NormalQuantile(x[k+2])
			square += y[k] * y[k]
		}
		for j, a := range rows {
			at[j] = dot(a, y)
		}
		l.add(&s, w, rho, at, square, xi, x[1])
		if l.sides == OneSided {
			for j := range at {
				at[j] = -at[j]
			}
			l.add(&s, w, rho, at, square, xi, x[1])
		}
	}
	return s
}

// latticePoint stores the i-th point of the shifted lattice in x, away from 0 and
// 1. Coordinates beyond the lattice's dimensions are drawn independently.
func latticePoint(x []float64, i, points int, shift []float64, rng *rand.Rand) {
	const edge = 0x1p-53
	for k := range x {
		v := shift[k]
		if k < len(latticeVector) {
			v += float64(i*latticeVector[k]%points) / float64(points)
		} else {
			v += rng.Float64()
		}
		x[k] = min(max(v-math.Floor(v), edge), 1-edge)
	}
}

// add puts the directions that y gives into the sample: its own and one for each
// of the terms chosen by pick, uniform in [0, 1). at holds a_j·y, square is |y|².
func (l *sphere) add(s *shiftSample, w weigher, rho [][]float64, at []float64, square, xi, pick float64) {
	put := func(most, inverse, share float64) {
		weight := share * inverse
		s.weight += weight
		if most >= 0 {
			s.above.add(most, weight)
		} else {
			s.below.add(-most, weight)
		}
	}
	m := len(at)
	most, inverse := w.of(at, rho[0], 0, square)
	put(most, inverse, uniformShare)
	terms := min(m, termsPerPoint)
	share := (1 - uniformShare) / float64(terms)
	for t := range terms {
		// Evenly spaced from a random start; every term, if there are no more.
		j := (int(pick*float64(m)) + t*m/terms) % m
		d := xi - at[j]
		most, inverse := w.of(at, rho[j], d, square-at[j]*at[j]+xi*xi)
		put(most, inverse, share)
	}
}

// weigher computes M(u) and 1/p(u).
type weigher struct {
	sides Sides
	scale float64 // (1−ε)/(m e)
}

// of returns M(u) and 1/p(u) for the direction with a_l·u proportional to
// at_l + d·column_l, of squared length square.
func (w weigher) of(at, column []float64, d, square float64) (most, inverse float64) {
	var eighths, largest float64
	column = column[:len(at)]
	if w.sides == TwoSided {
		for l, v := range at {
			v += d * column[l]
			v *= v
			if v > largest {
				largest = v
			}
			v *= v
			eighths += v * v
		}
		largest = math.Sqrt(largest)
	} else {
		largest = math.Inf(-1)
		for l, v := range at {
			v += d * column[l]
			if v > largest {
				largest = v
			}
			if v > 0 {
				v *= v
				v *= v
				eighths += v * v
			}
		}
	}
	fourth := square * square
	p := uniformShare + w.scale*eighths/(fourth*fourth)
	return max(min(largest/math.Sqrt(square), 1), -1), 1 / p
}

// meanEighth returns E (a·u)^8 for u uniform on the sphere in r dimensions: the
// square of a·u has a beta distribution with parameters 1/2 and (r−1)/2.
func meanEighth(r int) float64 {
	d := float64(r)
	return 3 * 5 * 7 / (d * (d + 2) * (d + 4) * (d + 6))
}

func (l *sphere) cdf(c float64) float64      { return 1 - l.survival(c) }
func (l *sphere) survival(c float64) float64 { p, _ := l.both(c); return p }
func (l *sphere) stdErr(c float64) float64   { _, se := l.both(c); return se }

// both returns the probability of the upper tail and its standard error, that of
// a ratio of means over the shifts.
func (l *sphere) both(c float64) (p, se float64) {
	tails := make([]float64, numBins+1)
	for i := range tails {
		tails[i] = l.radiusTail(c, binAt(i))
	}
	part := make([]float64, len(l.shifts))
	var sum, weight float64
	for i, s := range l.shifts {
		if c >= 0 {
			part[i] = dot(s.above, tails)
		} else {
			part[i] = s.weight - dot(s.below, tails)
		}
		sum += part[i]
		weight += s.weight
	}
	p = sum / weight
	var square float64
	for i, s := range l.shifts {
		d := part[i] - p*s.weight
		square += d * d
	}
	n := float64(len(l.shifts))
	se = math.Sqrt(square*n/(n-1)) / weight
	return min(max(p, 0), 1), se
}

// radiusTail returns P(R m > |c|).
func (l *sphere) radiusTail(c, m float64) float64 {
	if c == 0 {
		return 1
	}
	if m == 0 {
		return 0
	}
	x := math.Abs(c) / m
	if math.IsInf(l.df, 1) {
		return mathext.GammaIncRegComp(float64(l.rank)/2, x*x/2)
	}
	return mathext.RegIncBeta(l.df/2, float64(l.rank)/2, 1/(1+x*x/l.df))
}
