package budget

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// MonteCarlo is what drawing all inputs from their distributions gave, beside the
// first order.
type MonteCarlo struct {
	N         int     `json:"n"`          // draws
	Undefined int     `json:"undefined"`  // draws for which the model has no value; where there is one, all figures are 0
	Mean      float64 `json:"mean"`       // of the drawn results
	MeanError float64 `json:"mean_error"` // its Monte Carlo standard error
	U         float64 `json:"u"`          // standard deviation of the drawn results
	UError    float64 `json:"u_error"`    // its Monte Carlo standard error
	Low       float64 `json:"low"`        // the interval that leaves as many results below as above,
	High      float64 `json:"high"`       // at the budget's level of confidence
	Tolerance float64 `json:"tolerance"`  // half a unit of the second digit of the first-order uncertainty
	Agrees    bool    `json:"agrees"`     // the first order serves, see Words
	Words     string  `json:"words"`
}

// MinDraws is the smallest number of draws that Check takes.
const MinDraws = 1000

// standardErrors is how far apart a Monte Carlo figure and its counterpart may be by
// chance: 4 standard errors, 1 in 16,000.
const standardErrors = 4

// unsettledShare is the Monte Carlo error as a share of the spread above which the
// draws cannot agree with anything: normal results have 2 % at MinDraws, and less
// with more.
const unsettledShare = 0.05

// Check draws every input n times from its distribution with its standard
// uncertainty, puts it through the model, and holds the spread and the mean of the
// results against the budget's. They agree where both differ by no more than the
// numerical tolerance of JCGM 101, clause 7.9.2 (from memory), for two digits of the
// uncertainty, and four Monte Carlo standard errors, and those are settled. Where they do not, the model
// bends too much within the uncertainties for the first order, and Low to High is
// to be used.
//
// Degrees of freedom are not drawn: the question is what the model does, and
// Student's t answers for the degrees of freedom. The model is called with one
// value an input in the order of the budget's rows; it may keep nothing of the
// slice, and returns NaN where it has no value.
//
// The same generator in the same state gives the same answer. It panics on fewer
// than MinDraws draws.
func (b Budget) Check(model func(x []float64) float64, n int, rng *rand.Rand) MonteCarlo {
	if n < MinDraws {
		panic("budget: too few draws for a Monte Carlo check")
	}
	m := MonteCarlo{N: n, Tolerance: tolerance(b.U)}
	x, y := make([]float64, len(b.Rows)), make([]float64, n)
	for i := range y {
		for j, r := range b.Rows {
			x[j] = r.Value + r.U*draw(r.Dist, rng)
		}
		if y[i] = model(x); math.IsNaN(y[i]) || math.IsInf(y[i], 0) {
			m.Undefined++
		}
	}
	if m.Undefined > 0 {
		m.Words = fmt.Sprintf("%d of %d draws within the uncertainties have no result at all: neither the first order nor a Monte Carlo interval can be trusted here",
			m.Undefined, n)
		return m
	}
	m.spread(y)
	slices.Sort(y)
	tail := int((1 - b.Level) / 2 * float64(n))
	m.Low, m.High = y[tail], y[n-1-tail]
	m.judge(b)
	return m
}

// spread sets mean and standard deviation with their errors.
func (m *MonteCarlo) spread(y []float64) {
	n, sum := float64(len(y)), 0.0
	for _, v := range y {
		sum += v - y[0]
	}
	m.Mean = y[0] + sum/n
	s2, s4 := 0.0, 0.0
	for _, v := range y {
		d := (v - m.Mean) * (v - m.Mean)
		s2 += d
		s4 += d * d
	}
	m.U = math.Sqrt(s2 / (n - 1))
	m.MeanError = m.U / math.Sqrt(n)
	if s2 > 0 { // sd(s) ≈ s √((κ−1)/4n), κ = fourth moment over squared variance
		m.UError = m.U * math.Sqrt(max(0, n*s4/(s2*s2)-1)/(4*n))
	}
}

func (m *MonteCarlo) judge(b Budget) {
	spread, shift := m.U-b.U, m.Mean-b.Value
	rounding := 1e-12 * math.Abs(b.Value)
	unsettled := m.UError > unsettledShare*m.U
	wide := math.Abs(spread) > m.Tolerance+standardErrors*m.UError+rounding
	off := math.Abs(shift) > m.Tolerance+standardErrors*m.MeanError+rounding
	m.Agrees = !wide && !off && !unsettled
	switch {
	case unsettled:
		m.Words = fmt.Sprintf("%d draws have tails so long that their own spread is not settled (%.4g %s, Monte Carlo error %.2g), the first order says %.4g: the model is not straight within the uncertainties, so use the interval %.4g to %.4g %s (%.4g %%) of the draws",
			m.N, m.U, b.Unit, m.UError, b.U, m.Low, m.High, b.Unit, 100*b.Level)
	case m.Agrees:
		m.Words = fmt.Sprintf("%d draws give a standard uncertainty of %.4g %s (Monte Carlo error %.2g), the first order %.4g: they agree", m.N, m.U, b.Unit, m.UError, b.U)
	case wide:
		m.Words = fmt.Sprintf("%d draws give a standard uncertainty of %.4g %s (Monte Carlo error %.2g), the first order %.4g: the model is not straight within the uncertainties, so use the interval %.4g to %.4g %s (%.4g %%) of the draws",
			m.N, m.U, b.Unit, m.UError, b.U, m.Low, m.High, b.Unit, 100*b.Level)
	default:
		m.Words = fmt.Sprintf("%d draws have the mean %.6g %s (Monte Carlo error %.2g), away from the result %.6g: the model is not straight within the uncertainties, so use the interval %.4g to %.4g %s (%.4g %%) of the draws",
			m.N, m.Mean, b.Unit, m.MeanError, b.Value, m.Low, m.High, b.Unit, 100*b.Level)
	}
}

// tolerance is half a unit of the second digit of u: written as c·10^l with a c of
// two digits, 10^l/2.
func tolerance(u float64) float64 {
	if u == 0 {
		return 0
	}
	e := math.Floor(math.Log10(u))
	if u/math.Pow(10, e) >= 9.95 { // rounds up to the next power
		e++
	}
	return 0.5 * math.Pow(10, e-1)
}

// draw is a value of a distribution with mean 0 and standard deviation 1.
func draw(d Distribution, rng *rand.Rand) float64 {
	switch d {
	case Normal:
		return rng.NormFloat64()
	case Rectangular:
		return math.Sqrt(3) * (2*rng.Float64() - 1)
	case Triangular:
		return math.Sqrt(6) * (rng.Float64() - rng.Float64())
	case ArcSine:
		return math.Sqrt2 * math.Sin(2*math.Pi*rng.Float64())
	}
	panic("budget: an unknown distribution")
}
