// Package oneway computes the one-way analysis of variance with as many correct
// digits as the data carry.
//
// # Model
//
// Observation j of group i is
//
//	y[i][j] = μ[i] + e[i][j],   e independent Normal(0, σ²).
//
// With n[i] observations and mean ȳ[i] in group i, N in all and grand mean ȳ,
//
//	SS between = Σ n[i]·(ȳ[i] - ȳ)²,     df = k - 1,
//	SS within  = Σ Σ (y[i][j] - ȳ[i])²,  df = N - k,
//	F          = (SS between/(k-1)) / (SS within/(N-k)).
//
// The maximum-likelihood estimate of σ² is SS within/N, the unbiased one
// SS within/(N-k).
//
// # Accuracy
//
// The text-book formulas lose every digit when the scatter is small beside the
// level of the data. Here the first observation of each group is subtracted from
// the others, which is exact or nearly so; sums are carried in twice the working
// precision (Ogita, Rump and Oishi 2005); and squares are taken of deviations
// from the mean, in a second pass (Chan, Golub and LeVeque 1983). The sums of squares are those of the float64 data to about
// 1e-15. What decimal data lose on becoming float64 is not recovered: a datum
// like 1000000000000.4 is off by up to 6e-5, and with deviations of 0.1 three or
// four digits of any sum of squares are left.
//
// # References
//
// Chan, T. F., Golub, G. H. and LeVeque, R. J. (1983). Algorithms for computing
// the sample variance: analysis and recommendations. The American Statistician
// 37, 242–247.
//
// Fisher, R. A. (1925). Statistical Methods for Research Workers, chapter VII.
//
// Ogita, T., Rump, S. M. and Oishi, S. (2005). Accurate sum and dot product. SIAM
// Journal on Scientific Computing 26, 1955–1988.
package oneway

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

var (
	// ErrGroups is returned when there are fewer than two groups.
	ErrGroups = errors.New("oneway: fewer than two groups")

	// ErrReplication is returned when no group has a second observation.
	ErrReplication = errors.New("oneway: no group has more than one observation")

	// ErrNoScatter is returned when the observations of each group are all
	// equal, so that there is nothing to compare the differences of the groups
	// with.
	ErrNoScatter = errors.New("oneway: no scatter within the groups")
)

// DataError says that one observation is NaN or infinite, or so large that the
// sums of squares overflow.
type DataError struct{ Row int }

func (e *DataError) Error() string {
	return fmt.Sprintf("oneway: observation %d is not a usable number", e.Row)
}

// Table is an analysis of variance table.
type Table struct {
	Groups []Group // by first appearance

	DFBetween, DFWithin int
	SSBetween, SSWithin float64
	MSBetween, MSWithin float64 // SS/df

	F  float64 // MSBetween/MSWithin
	P  float64 // P(F(DFBetween, DFWithin) ≥ F); relative accuracy 1e-10 or better
	R2 float64 // SSBetween/(SSBetween + SSWithin)

	ResidualSD float64 // sqrt(MSWithin)
}

// Group is one group of the data.
type Group struct {
	Label int
	N     int
	Mean  float64
}

// OneWay returns the analysis of variance of y over the groups named by label.
// label[i] is the group of y[i]; labels need not be consecutive and rows need
// not be in order.
//
// The error is a *DataError, ErrGroups, ErrReplication or ErrNoScatter. OneWay
// panics if the lengths differ. Deviations below 1e-154 vanish when squared.
func OneWay(label []int, y []float64) (*Table, error) {
	if len(label) != len(y) {
		panic("oneway: slice length mismatch")
	}
	t := &Table{}
	index := make(map[int]int)
	var pivot []float64 // the first observation of each group
	var dev [][]float64 // the others' distance from it
	for i, v := range y {
		if math.IsNaN(v) || math.Abs(v) > 1e150 {
			return nil, &DataError{i}
		}
		g, seen := index[label[i]]
		if !seen {
			g = len(dev)
			index[label[i]] = g
			pivot, dev = append(pivot, v), append(dev, nil)
			t.Groups = append(t.Groups, Group{Label: label[i]})
		}
		dev[g] = append(dev[g], v-pivot[g])
	}
	if len(dev) < 2 {
		return nil, ErrGroups
	}
	t.DFBetween, t.DFWithin = len(dev)-1, len(y)-len(dev)
	if t.DFWithin == 0 {
		return nil, ErrReplication
	}
	t.sums(pivot, dev)
	if t.SSWithin == 0 {
		return nil, ErrNoScatter
	}
	b, w := float64(t.DFBetween), float64(t.DFWithin)
	t.MSBetween, t.MSWithin = t.SSBetween/b, t.SSWithin/w
	t.F = t.MSBetween / t.MSWithin
	t.P = mathext.RegIncBeta(w/2, b/2, t.SSWithin/(t.SSWithin+t.SSBetween))
	t.R2 = t.SSBetween / (t.SSBetween + t.SSWithin)
	t.ResidualSD = math.Sqrt(t.MSWithin)
	return t, nil
}

// sums fills the group sizes and means and the sums of squares.
func (t *Table) sums(pivot []float64, dev [][]float64) {
	offset := make([]float64, len(dev)) // of the group's mean from pivot[0]
	var grand, within, between sum
	n := 0
	for g, list := range dev {
		var s sum
		for _, v := range list {
			s.add(v)
		}
		size := float64(len(list))
		mean := s.value() / size
		var squares sum
		for _, v := range list {
			squares.addSquare(v - mean)
		}
		within.add(squares.value())
		offset[g] = (pivot[g] - pivot[0]) + mean
		grand.add(size * offset[g])
		n += len(list)
		t.Groups[g].N, t.Groups[g].Mean = len(list), pivot[g]+mean
	}
	mean := grand.value() / float64(n)
	for g, list := range dev {
		d := offset[g] - mean
		between.add(float64(len(list)) * d * d)
	}
	t.SSWithin, t.SSBetween = within.value(), between.value()
}

// sum is a sum carried in twice the working precision.
type sum struct{ head, tail float64 }

func (s *sum) add(v float64) {
	t := s.head + v
	part := t - s.head
	s.tail += (s.head - (t - part)) + (v - part)
	s.head = t
}

func (s *sum) addSquare(v float64) {
	p := float64(v * v) // rounded here: the conversion forbids fusing it with the sum
	s.add(p)
	s.tail += math.FMA(v, v, -p)
}

func (s *sum) value() float64 { return s.head + s.tail }
