package trace

import (
	"fmt"
	"math"
)

// Record is what a rig recorded of one break, as it came. Nothing in this package
// changes one.
type Record struct {
	Time   []float64 // s, from any start
	Force  []float64 // N, of either sign and with any zero
	Travel []float64 // mm, from any start; nil where it was not measured
}

// Len returns the number of samples.
func (r Record) Len() int { return len(r.Force) }

// HasTravel reports whether travel was measured.
func (r Record) HasTravel() bool { return r.Travel != nil }

// Slice returns the samples from lo up to, and without, hi. It shares memory with r.
func (r Record) Slice(lo, hi int) Record {
	s := Record{Time: r.Time[lo:hi:hi], Force: r.Force[lo:hi:hi]}
	if r.HasTravel() {
		s.Travel = r.Travel[lo:hi:hi]
	}
	return s
}

// check panics where the columns differ in length, which is a caller's mistake, and
// returns an error that names the first sample that is no number.
func (r Record) check() error {
	if len(r.Time) != len(r.Force) || r.Travel != nil && len(r.Travel) != len(r.Force) {
		panic("trace: time, force and travel differ in length")
	}
	for _, c := range []struct {
		name   string
		values []float64
	}{{"time", r.Time}, {"force", r.Force}, {"travel", r.Travel}} {
		for i, v := range c.values {
			if v-v != 0 {
				return fmt.Errorf("sample %d has no %s: take it out of the record, or read the file again with lines like it left out", i+1, c.name)
			}
		}
	}
	return nil
}

// Number is one figure of a record, or the reason why the record has none.
type Number struct {
	Value  float64 // 0 where there is a reason
	Reason string  // why the figure does not exist; empty where it does
}

// Exists reports whether there is a figure.
func (n Number) Exists() bool { return n.Reason == "" }

func exactly(v float64) Number { return Number{Value: v} }

func none(format string, args ...any) Number { return Number{Reason: fmt.Sprintf(format, args...)} }

// finite is v, or the reason given where v is no number.
func finite(v float64, reason string) Number {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Number{Reason: reason}
	}
	return exactly(v)
}
