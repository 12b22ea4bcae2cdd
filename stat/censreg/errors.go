package censreg

import (
	"errors"
	"fmt"
)

var (
	// ErrNoExact is returned when no observation with a positive weight is
	// exact or lies in a finite interval: bounds of one sort say nothing of the
	// scale.
	ErrNoExact = errors.New("censreg: no exact observation and no finite interval, so the scale cannot be estimated")

	// ErrPerfectFit is returned when some β meets every observation without
	// error, to the precision the numbers are written with: the likelihood then
	// grows, or stays, as the scale goes to zero.
	ErrPerfectFit = errors.New("censreg: the observations are met without any scatter, so the scale goes to zero")

	// ErrSingular is returned when the likelihood is all but flat in some
	// direction around its maximum: its curvature there is less than 1e-7 of
	// what exact observations would give. A group that holds nothing but one
	// interval a dozen σ wide does this; any coefficient well inside it is as
	// good as any other.
	ErrSingular = errors.New("censreg: the likelihood is flat around its maximum")

	// ErrRange is returned when float64 cannot hold an estimate, an interval
	// beside the largest bound, or the fixed scale beside the rounding of the
	// data.
	ErrRange = errors.New("censreg: a number is outside what float64 can resolve")
)

// Warning says why a fit deserves little trust although its numbers are what
// they say they are.
type Warning string

const (
	// FewExact: there are no more exact observations and finite intervals, by
	// weight, than parameters.
	FewExact Warning = "no more exact observations than parameters"

	// IllConditioned: the estimates are so strongly correlated (condition
	// number of their correlation matrix above 1e10) that single coefficients
	// and standard errors hold to a few digits only.
	IllConditioned Warning = "the estimates are almost perfectly correlated"
)

// DataError says that one observation is not an observation.
type DataError struct {
	Row    int    // index of the observation
	Reason string // what is wrong with it
}

func (e *DataError) Error() string {
	return fmt.Sprintf("censreg: observation %d: %s", e.Row, e.Reason)
}

// RankError says that columns of x are linear combinations of the columns to
// their left, in the rows that carry information.
type RankError struct {
	Columns []int // ascending
}

func (e *RankError) Error() string {
	return fmt.Sprintf("censreg: columns %v depend on the columns before them", e.Columns)
}

// UnboundedError says that the likelihood keeps growing as β moves off in a
// direction, so that some coefficients have no finite estimate. The usual cause
// is a group in which every observation is a lower bound.
type UnboundedError struct {
	Columns   []int     // the columns whose coefficient changes along Direction, ascending
	Rows      []int     // the observations that the move puts ever more safely inside their bounds, ascending
	Direction []float64 // length p, largest element ±1; elements outside Columns are 0
}

func (e *UnboundedError) Error() string {
	return fmt.Sprintf("censreg: the likelihood has no maximum: the coefficients of columns %v go to infinity", e.Columns)
}

// ConvergenceError says that the maximisation stopped without reaching the
// maximum.
type ConvergenceError struct {
	Iterations int
	Decrement  float64 // Newton's estimate of twice the log-likelihood still to be gained
}

func (e *ConvergenceError) Error() string {
	return fmt.Sprintf("censreg: no convergence after %d iterations (Newton decrement %.3g)", e.Iterations, e.Decrement)
}
