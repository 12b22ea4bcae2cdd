package gibbs

import (
	"errors"
	"math"
)

// HalfT is the prior of a standard deviation: the absolute value of a Student t
// with DF degrees of freedom, times Scale.
type HalfT struct{ DF, Scale float64 }

func (h HalfT) valid() bool {
	return h.DF > 0 && h.Scale > 0 && !math.IsInf(h.Scale, 0)
}

// logDensity is the log density at s > 0 up to a constant.
func (h HalfT) logDensity(s float64) float64 {
	r := s / h.Scale
	return -0.5 * (h.DF + 1) * math.Log(1+r*r/h.DF)
}

// Range is what a standard deviation can be: 0 < Lo < Hi < +Inf.
type Range struct{ Lo, Hi float64 }

func (r Range) valid() bool { return r.Lo > 0 && r.Lo < r.Hi && !math.IsInf(r.Hi, 1) }

// Term is a set of levels that shift the observations, drawn from a common
// normal distribution with mean 0.
type Term struct {
	Level  []int // level of each observation, 0 to Levels−1
	Levels int
	Prior  HalfT // of the standard deviation of the levels
}

// Learned is the prior of means that their own observations do not hold, or hold
// poorly, from above. Given the K values x of the cells in From, with mean m and
// sum of squares S about it,
//
//	s² = (DF·Scale² + S)/(DF + K − 1)
//	μ ~ Student t with DF + K − 1 degrees of freedom, centre m, scale s·√(1 + 1/K)
//
// independently for each cell in Cells. That is what a normal population of cells
// with a flat mean and a scaled inverse-χ² variance (DF, Scale²) predicts for one
// more of them (Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.3). With
// From empty the centre is Center, the scale Scale·√2 and the degrees of freedom
// DF.
type Learned struct {
	Cells  []int
	From   []int // cells with flat priors
	DF     float64
	Scale  float64
	Center float64
}

// Model is the data and the structure. The slices belong to the caller and are
// not changed.
type Model struct {
	Lo, Hi []float64 // n observations
	Cell   []int     // of each observation, 0 to Cells−1
	Cells  int
	Group  []int // of each cell, 0 to Groups−1: which σ its observations have
	Groups int

	// With several groups: the prior of ω, the standard deviation of log σ between
	// them, and the range that every σ lies in. Without a range the posterior is
	// improper where the exact observations of a group coincide.
	ScatterPrior HalfT
	ScatterRange Range

	Terms []Term
	Learn []Learned
}

// Errors of data that no posterior can be had from: Check returns the first two,
// Sample all of them.
var (
	ErrNoScatter  = errors.New("gibbs: no cell has two different exact observations, so the scatter cannot be estimated")
	ErrFlatBounds = errors.New("gibbs: a cell with a flat prior has no exact observation, so its mean has no upper end")
	ErrRange      = errors.New("gibbs: the draws left the range of float64")
)

// Check panics when the model contradicts itself (lengths differ, an index is out
// of range, Lo > Hi, a NaN), and returns an error when it is sound but its
// posterior does not exist.
func (m *Model) Check() error {
	n := len(m.Lo)
	if len(m.Hi) != n || len(m.Cell) != n {
		panic("gibbs: lengths of Lo, Hi and Cell differ")
	}
	if len(m.Group) != m.Cells {
		panic("gibbs: length of Group differs from the number of cells")
	}
	checkIndex(m.Cell, m.Cells)
	checkIndex(m.Group, m.Groups)
	for _, t := range m.Terms {
		if len(t.Level) != n {
			panic("gibbs: length of Level differs from the number of observations")
		}
		checkIndex(t.Level, t.Levels)
		if !t.Prior.valid() {
			panic("gibbs: a half-t prior needs positive degrees of freedom and scale")
		}
	}
	if m.Groups > 1 && !m.ScatterPrior.valid() {
		panic("gibbs: a half-t prior needs positive degrees of freedom and scale")
	}
	if m.Groups > 1 && !m.ScatterRange.valid() {
		panic("gibbs: several groups need a range for their scatter")
	}
	learned := m.checkLearned()
	for i := range m.Lo {
		if math.IsNaN(m.Lo[i]) || math.IsNaN(m.Hi[i]) || m.Lo[i] > m.Hi[i] ||
			math.IsInf(m.Lo[i], 1) || math.IsInf(m.Hi[i], -1) {
			panic("gibbs: an observation must satisfy Lo ≤ Hi with Lo < +Inf and Hi > −Inf")
		}
	}
	return m.checkProper(learned)
}

func checkIndex(index []int, n int) {
	for _, k := range index {
		if k < 0 || k >= n {
			panic("gibbs: index out of range")
		}
	}
}

// checkLearned returns which cells have a learned prior.
func (m *Model) checkLearned() []bool {
	learned := make([]bool, m.Cells)
	for _, l := range m.Learn {
		checkIndex(l.Cells, m.Cells)
		if !(l.DF > 0 && l.Scale > 0) {
			panic("gibbs: a learned prior needs positive degrees of freedom and scale")
		}
		for _, c := range l.Cells {
			if learned[c] {
				panic("gibbs: a cell has two learned priors")
			}
			learned[c] = true
		}
	}
	for _, l := range m.Learn {
		checkIndex(l.From, m.Cells)
		for _, c := range l.From {
			if learned[c] {
				panic("gibbs: a prior can be learned only from cells with flat priors")
			}
		}
	}
	return learned
}

// checkProper returns an error where the posterior would not be proper: a flat μ
// needs an exact value, the common scatter two that differ.
func (m *Model) checkProper(learned []bool) error {
	first := make([]float64, m.Cells)
	exact := make([]bool, m.Cells)
	scatter := false
	for i, c := range m.Cell {
		if m.Lo[i] != m.Hi[i] {
			continue
		}
		if !exact[c] {
			exact[c], first[c] = true, m.Lo[i]
		} else if m.Lo[i] != first[c] {
			scatter = true
		}
	}
	for c := range exact {
		if !exact[c] && !learned[c] {
			return ErrFlatBounds
		}
	}
	if !scatter {
		return ErrNoScatter
	}
	return nil
}
