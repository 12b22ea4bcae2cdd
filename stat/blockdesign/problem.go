package blockdesign

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

const (
	badWeightSize = "blockdesign: weights and treatments of different number"
	badWeight     = "blockdesign: weight negative, infinite or not a number"
	badCounts     = "blockdesign: rows of different length or a negative count"
	badOptions    = "blockdesign: negative number of starts or proposals"
	noUnit        = "blockdesign: treatment without a unit"
	notDefinite   = "blockdesign: information matrix not positive definite"
	noEigenvalues = "blockdesign: eigenvalues not found"
	noSource      = "blockdesign: no source of randomness"
)

// Errors that describe a problem no design can solve. See also SizeError.
var (
	ErrNoTreatments = errors.New("blockdesign: no treatments")
	ErrNegative     = errors.New("blockdesign: block with a negative number of places")
	ErrReplication  = errors.New("blockdesign: treatment without a unit")
)

// Problem says what has to be allocated: so many units of each treatment to
// blocks of at most so many places.
type Problem struct {
	// Blocks holds the number of places of each block, zero or more.
	Blocks []int
	// Replications holds the number of units of each treatment, one or more. Their
	// sum may be less than the number of places: the search then chooses which
	// places stay free.
	Replications []int
	// Weights says how much the comparison of treatments i and j counts, zero or
	// more; the diagonal is not read. Nil, or a matrix without a positive weight,
	// counts all pairs alike.
	Weights mat.Symmetric
}

// SizeError is the error of a problem with more units than places.
type SizeError struct {
	Units, Places int
}

// Short returns the number of places that are missing.
func (e *SizeError) Short() int { return e.Units - e.Places }

func (e *SizeError) Error() string {
	return fmt.Sprintf("blockdesign: %d units for %d places, %d too many", e.Units, e.Places, e.Short())
}

// Check returns nil if a design for p exists; an error that wraps ErrNoTreatments,
// ErrNegative or ErrReplication and names the block or treatment by its index; or
// a *SizeError. It panics if the weights do not fit the treatments or one is
// negative or not finite.
func (p Problem) Check() error {
	if len(p.Replications) == 0 {
		return ErrNoTreatments
	}
	checkWeights(p.Weights, len(p.Replications))
	places := 0
	for b, k := range p.Blocks {
		if k < 0 {
			return fmt.Errorf("%w: block %d has %d", ErrNegative, b, k)
		}
		places += k
	}
	for i, r := range p.Replications {
		if r < 1 {
			return fmt.Errorf("%w: treatment %d has %d", ErrReplication, i, r)
		}
	}
	if units := p.units(); units > places {
		return &SizeError{Units: units, Places: places}
	}
	return nil
}

func (p Problem) units() int {
	n := 0
	for _, r := range p.Replications {
		n += r
	}
	return n
}

// FewestComponents returns the smallest number of components (see Components)
// that a design for p can have; 1 if a connected design exists. It returns the
// error of p.Check.
//
// With t treatments, n units and B the least number of blocks whose places hold n
// units it is max(1, t+B−n): the graph of treatments and used blocks, with an
// edge for each unit, has at least as many components as it has vertices beyond
// its edges; and as long as a unit can be taken out of one component without
// parting it, exchanging it with a unit of another component joins the two.
func (p Problem) FewestComponents() (int, error) {
	if err := p.Check(); err != nil {
		return 0, err
	}
	return max(1, len(p.Replications)+fewestBlocks(p.Blocks, p.units())-p.units()), nil
}

// fewestBlocks returns the least number of blocks that hold n units.
func fewestBlocks(blocks []int, n int) int {
	used := 0
	for _, b := range largestFirst(blocks) {
		if n <= 0 {
			break
		}
		n -= blocks[b]
		used++
	}
	return used
}

// largestFirst returns the indices of blocks, those of the largest first, in order
// of index where sizes are equal.
func largestFirst(blocks []int) []int {
	order := make([]int, len(blocks))
	for b := range order {
		order[b] = b
	}
	slices.SortStableFunc(order, func(a, b int) int { return blocks[b] - blocks[a] })
	return order
}

func checkWeights(weights mat.Symmetric, t int) {
	if weights == nil {
		return
	}
	if weights.SymmetricDim() != t {
		panic(badWeightSize)
	}
	for i := range t {
		for j := range i {
			if w := weights.At(i, j); !(w >= 0) || math.IsInf(w, 1) {
				panic(badWeight)
			}
		}
	}
}

// weigher returns the weight of a pair of treatments: 1 for all if weights is nil
// or has nothing above zero.
func weigher(weights mat.Symmetric) func(i, j int) float64 {
	if weights != nil {
		for i := range weights.SymmetricDim() {
			for j := range i {
				if weights.At(i, j) > 0 {
					return weights.At
				}
			}
		}
	}
	return func(int, int) float64 { return 1 }
}
