package tolerance

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

const (
	badSize  = "tolerance: too few observations"
	badShare = "tolerance: coverage or confidence outside (0,1)"
)

// K returns the exact one-sided tolerance factor for n observations: x̄ − k s is
// below at least the share coverage of a normal population with probability
// confidence.
//
// K is negative where coverage and confidence ask for little. It panics if n is
// below 2 or coverage or confidence is not inside (0,1). It is within 1e-11
// of the exact value for n up to 1e5 (Owen 1968).
func K(n int, coverage, confidence float64) float64 {
	if n < 2 {
		panic(badSize)
	}
	return KWithDF(float64(n), float64(n-1), coverage, confidence)
}

// KWithDF returns the factor k for a mean with the variance σ²/n and a standard
// deviation on df degrees of freedom independent of it, where df need not be n−1:
// a standard deviation pooled over groups has more, and n may be an effective
// number. +Inf as df stands for a known standard deviation.
//
// KWithDF panics if n or df is not positive or coverage or confidence is not
// inside (0,1).
func KWithDF(n, df, coverage, confidence float64) float64 {
	if !(n > 0) || math.IsInf(n, 1) {
		panic(badSize)
	}
	checkShares(coverage, confidence)
	root := math.Sqrt(n)
	t := NoncentralT{DF: df, Delta: mathext.NormalQuantile(coverage) * root}
	return t.Quantile(confidence) / root
}

// Confidence returns the probability that x̄ − k s from n observations is below at
// least the share coverage of a normal population, the inverse of K. It panics if
// n is below 2 or coverage is not inside (0,1).
func Confidence(k float64, n int, coverage float64) float64 {
	if n < 2 {
		panic(badSize)
	}
	checkShares(coverage, 0.5)
	root := math.Sqrt(float64(n))
	return NoncentralT{DF: float64(n - 1), Delta: mathext.NormalQuantile(coverage) * root}.CDF(k * root)
}

// Natrella returns the approximate factor of Natrella (1963),
//
//	k = [z_p + √(z_p² − a b)] / a,  a = 1 − z_γ²/(2(n−1)),  b = z_p² − z_γ²/n
//
// which the NIST/SEMATECH e-Handbook uses in section 7.2.6.3. It differs from K,
// by 0.001 for n = 43, coverage 0.90 and confidence 0.99, by far more for small n.
// ok is false where the formula has no value: n−1 ≤ z_γ²/2 or z_p² < a b.
//
// Natrella panics if n is below 2 or coverage or confidence is not inside (0,1).
func Natrella(n int, coverage, confidence float64) (k float64, ok bool) {
	if n < 2 {
		panic(badSize)
	}
	checkShares(coverage, confidence)
	zp, zg := mathext.NormalQuantile(coverage), mathext.NormalQuantile(confidence)
	a := 1 - zg*zg/(2*float64(n-1))
	b := zp*zp - zg*zg/float64(n)
	if a <= 0 || zp*zp < a*b {
		return 0, false
	}
	return (zp + math.Sqrt(zp*zp-a*b)) / a, true
}

// EN14358 returns the factor k_s of EN 14358:2016, formula (10), for a 5th
// percentile with 75 % confidence from n ≥ 3 observations:
//
//	k_s = (6.5 n + 6) / (3.7 n − 3)
//
// The formula is a fit and not the exact factor K(n, 0.95, 0.75): 2.484 in place
// of 2.463 for n = 5, 2.088 in place of 2.104 for n = 10, and 1.757 in place of
// 1.645 for n without limit. EN14358 panics if n is below 3.
func EN14358(n int) float64 {
	if n < 3 {
		panic(badSize)
	}
	return (6.5*float64(n) + 6) / (3.7*float64(n) - 3)
}

// en14358Table is table 1 of EN 14358:2016. The last row of the table, 1.64 for n
// without limit, never applies to a number of observations.
var en14358Table = []struct {
	n  int
	ks float64
}{
	{3, 3.15}, {5, 2.46}, {10, 2.10}, {15, 1.99}, {20, 1.93}, {30, 1.87}, {50, 1.81}, {100, 1.76}, {500, 1.69},
}

// EN14358Table returns the factor k_s of EN 14358:2016, table 1, for n ≥ 3
// observations. Between rows of the table the larger factor holds, which is that
// of the row above. The rows are K(n, 0.95, 0.75) to within 0.005, and between
// them the factor is larger than K. EN14358Table panics if n is below 3.
func EN14358Table(n int) float64 {
	if n < 3 {
		panic(badSize)
	}
	ks := 0.0
	for _, row := range en14358Table {
		if row.n > n {
			break
		}
		ks = row.ks
	}
	return ks
}

func checkShares(coverage, confidence float64) {
	if !(coverage > 0 && coverage < 1 && confidence > 0 && confidence < 1) {
		panic(badShare)
	}
}
