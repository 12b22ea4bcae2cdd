package trace

import (
	"errors"
	"fmt"
	"slices"
	"sort"
)

// Compliance is the travel of the rig itself under load: what its frame, cell and
// fixture give way. Between its points it is straight, beyond the last it goes on with
// the last slope, and below zero force it is zero.
type Compliance struct {
	force  []float64 // N, ascending from 0
	travel []float64 // mm, from 0, never falling
}

// ConstantCompliance is a rig that gives way by mm for each newton. It panics where
// that is negative.
func ConstantCompliance(mmPerNewton float64) *Compliance {
	if !(mmPerNewton >= 0) {
		panic("trace: negative compliance")
	}
	return &Compliance{force: []float64{0, 1}, travel: []float64{0, mmPerNewton}}
}

// MeasuredCompliance is a rig that gave way by travel, mm, at forces, N, both
// ascending from above zero; the point 0, 0 is added. An error says which point is out
// of order.
func MeasuredCompliance(force, travel []float64) (*Compliance, error) {
	if len(force) != len(travel) {
		panic("trace: force and travel differ in length")
	}
	if len(force) == 0 {
		return nil, errors.New("the compliance of the rig has no points: give a force and the travel there, one at least")
	}
	c := &Compliance{force: []float64{0}, travel: []float64{0}}
	for i := range force {
		if !(force[i] > c.force[i]) || !(travel[i] >= c.travel[i]) {
			return nil, fmt.Errorf("point %d of the rig's compliance, %g N and %g mm, is not above the one before: give forces and travels in rising order", i+1, force[i], travel[i])
		}
		c.force, c.travel = append(c.force, force[i]), append(c.travel, travel[i])
	}
	return c, nil
}

// compliancePoints is how many points a calibration run is brought down to.
const compliancePoints = 40

// ComplianceOf reads the rig's own travel from a calibration run: the record of a
// loading of something stiff up to its peak. Its toe is taken off: travel counts from
// where the steepest line fitted between 10 and 60 % of the peak reaches zero force.
func ComplianceOf(run Record) (*Compliance, error) {
	fig, w, err := analyse(run, Options{})
	switch {
	case err != nil:
		return nil, err
	case !run.HasTravel():
		return nil, errors.New("the calibration run has no travel: record travel and force of a loading of something stiff")
	case !fig.Stiffness.Exists():
		return nil, fmt.Errorf("the calibration run has no stiffness: %s", fig.Stiffness.Reason)
	}
	var force, travel []float64
	lastF, lastX := 0.0, 0.0
	for k := 1; k <= compliancePoints; k++ {
		lo, hi := fig.Peak*(float64(k)-0.5)/compliancePoints, fig.Peak*(float64(k)+0.5)/compliancePoints
		sumF, sumX, n := 0.0, 0.0, 0
		for i := w.onset; i <= w.peak; i++ {
			if w.f[i] >= lo && w.f[i] < hi {
				sumF, sumX, n = sumF+w.f[i], sumX+w.x[i]-w.origin, n+1
			}
		}
		if n == 0 {
			continue
		}
		f, x := sumF/float64(n), sumX/float64(n)
		if f > lastF && x >= lastX {
			force, travel = append(force, f), append(travel, x)
			lastF, lastX = f, x
		}
	}
	return MeasuredCompliance(force, travel)
}

// Travel returns the travel of the rig in mm at a force in N.
func (c *Compliance) Travel(force float64) float64 {
	if force <= 0 {
		return 0
	}
	i := sort.SearchFloat64s(c.force, force)
	i = min(max(i, 1), len(c.force)-1)
	f0, f1, x0, x1 := c.force[i-1], c.force[i], c.travel[i-1], c.travel[i]
	return x0 + (x1-x0)*(force-f0)/(f1-f0)
}

// Points returns the forces, N, and the travels there, mm, from 0 and 0.
func (c *Compliance) Points() (force, travel []float64) {
	return slices.Clone(c.force), slices.Clone(c.travel)
}

// Highest returns the force in N that the compliance was measured up to.
func (c *Compliance) Highest() float64 { return c.force[len(c.force)-1] }

// constant reports whether the compliance is a single number, with no range.
func (c *Compliance) constant() bool { return len(c.force) == 2 && c.force[1] == 1 }
