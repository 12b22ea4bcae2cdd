package rig

import (
	"fmt"
	"math"

	"bondtrial/internal/rig/budget"
)

// FieldError says which dimension or other field cannot be right, and what to do.
type FieldError struct {
	Field   string // in the words of a form, as "width"
	Message string
}

// Error returns "field: message".
func (e *FieldError) Error() string { return e.Field + ": " + e.Message }

func fault(field, format string, args ...any) error {
	return &FieldError{field, fmt.Sprintf(format, args...)}
}

// Measured is a quantity that was measured, in the unit that its field names.
type Measured struct {
	Value float64 `json:"value"`
	U     float64 `json:"u,omitempty"`  // standard uncertainty; 0: taken as exact
	DF    float64 `json:"df,omitempty"` // degrees of freedom of U; 0: not limited
}

// check returns an error unless the value is above lowest and at most highest, and
// the uncertainty is smaller than the value where that has to be above 0.
func (m Measured) check(field, unit, advice string, lowest, highest float64) error {
	switch {
	case m == Measured{} && lowest >= 0:
		return fault(field, "is missing: %s", advice)
	case !(m.Value > lowest && m.Value <= highest):
		return fault(field, "%v %s: %s, above %v and at most %v %s", m.Value, unit, advice, lowest, highest, unit)
	case !(m.U >= 0) || math.IsInf(m.U, 0) || lowest >= 0 && m.U >= m.Value:
		return fault(field, "%v %s with a standard uncertainty of %v %s: write an uncertainty of 0 or more that is smaller than the value", m.Value, unit, m.U, unit)
	case m.DF != 0 && !(m.DF >= 1 && m.DF <= 1e9):
		return fault(field, "%v degrees of freedom: write 1 or more, or 0 where nothing limits them", m.DF)
	}
	return nil
}

func (m Measured) input(name, unit string, shared bool) budget.Input {
	return budget.Input{Name: name, Value: m.Value, Unit: unit, U: m.U, Dist: budget.Normal, DF: m.DF, Shared: shared}
}

// ReadWith is a dimension in mm measured once, or a mean of n, with a tool that
// shows steps of the given size and is right within the given half-width: its
// standard uncertainty is √(step²/12 + accuracy²/3 + sd²/n). sd is the standard
// deviation of the single readings, 0 for one reading.
//
// It panics on negative arguments and n below 1.
func ReadWith(mm, step, accuracy, sd float64, n int) Measured {
	if !(step >= 0 && accuracy >= 0 && sd >= 0) || n < 1 {
		panic("rig: a negative step, accuracy or standard deviation, or no reading")
	}
	scatter := sd * sd / float64(n)
	m := Measured{Value: mm, U: math.Sqrt(step*step/12 + accuracy*accuracy/3 + scatter)}
	if scatter > 0 && n > 1 { // Welch and Satterthwaite
		m.DF = float64(n-1) * math.Pow(m.U*m.U/scatter, 2)
		if m.DF > 1e9 {
			m.DF = 0
		}
	}
	return m
}
