package censreg

import (
	"errors"
	"math"
	"slices"
)

// ErrEmpty is returned by KaplanMeier when no observation has a positive weight.
var ErrEmpty = errors.New("censreg: no observations")

// Curve is a Kaplan–Meier estimate of a survival function: a right-continuous
// step function that is 1 before the first step.
type Curve struct {
	Steps []Step // by ascending Time; empty when every observation is a bound

	// Last is the largest observation, exact or bound. Beyond it nothing has
	// been seen.
	Last float64
}

// Step is one distinct value at which exact observations lie.
type Step struct {
	Time     float64
	AtRisk   float64 // weight of the observations, exact or bound, not below Time
	Events   float64 // weight of the exact observations at Time
	Survival float64 // estimate of P(T > Time)

	// StdErr is Greenwood's standard error of Survival. Where the curve reaches
	// 0 it is 0, the limit of the formula; R prints NaN there.
	StdErr float64
}

// KaplanMeier returns the product-limit estimate of the survival function
//
//	Ŝ(t) = Π (1 - d/n)  over the steps up to t,
//
// with d events among n at risk at each step (Kaplan and Meier 1958), and
// Greenwood's (1926) standard error Ŝ·sqrt(Σ d/(n·(n-d))). Observation i is exact
// where lo[i] == hi[i] and a lower bound where hi[i] is +Inf. An observation that
// is a lower bound at the very value of an event counts as at risk there. Values
// are taken as they are: two that differ in the last digit are two steps.
//
// Weights are frequencies; nil is 1 for all, and a weight of 0 leaves an
// observation out. The error is a *DataError for an upper bound, an interval, a
// value that is NaN or infinite, or a weight that is negative or not finite, and
// ErrEmpty when nothing is left. KaplanMeier panics if lengths do not match.
//
// Survival and StdErr are accurate to about 1e-15 for each step.
func KaplanMeier(lo, hi, weights []float64) (*Curve, error) {
	if len(hi) != len(lo) || weights != nil && len(weights) != len(lo) {
		panic(badLength)
	}
	type event struct {
		time, weight float64
		exact        bool
	}
	var all []event
	var atRisk float64
	for i, t := range lo {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		switch k, reason := classify(t, hi[i]); {
		case reason != "":
			return nil, &DataError{i, reason}
		case !(w >= 0) || math.IsInf(w, 1):
			return nil, &DataError{i, "weight is negative or not finite"}
		case k != exact && k != lower:
			return nil, &DataError{i, "neither exact nor a lower bound"}
		case w > 0:
			all = append(all, event{t, w, k == exact})
			atRisk += w
		}
	}
	if len(all) == 0 {
		return nil, ErrEmpty
	}
	if math.IsInf(atRisk, 1) {
		return nil, ErrRange
	}
	slices.SortFunc(all, func(a, b event) int {
		switch {
		case a.time < b.time:
			return -1
		case a.time > b.time:
			return 1
		}
		return 0
	})
	// What is at risk is summed from the end, so that it never comes out of a
	// difference.
	risk := make([]float64, len(all)+1)
	for i := len(all) - 1; i >= 0; i-- {
		risk[i] = risk[i+1] + all[i].weight
	}
	c := &Curve{Last: all[len(all)-1].time}
	survival, variance := 1.0, 0.0
	for i := 0; i < len(all); {
		j, events, bounds := i, 0.0, 0.0
		for ; j < len(all) && all[j].time == all[i].time; j++ {
			if all[j].exact {
				events += all[j].weight
			} else {
				bounds += all[j].weight
			}
		}
		if events > 0 {
			// Greenwood's sum, carried as the variance of Ŝ itself, has no
			// division by n - d.
			kept := (risk[j] + bounds) / risk[i]
			variance = kept*kept*variance + survival*survival*kept*(events/risk[i])/risk[i]
			survival *= kept
			c.Steps = append(c.Steps, Step{all[i].time, risk[i], events, survival, math.Sqrt(variance)})
		}
		i = j
	}
	return c, nil
}

// Survival returns the estimate of P(T > t). ok is false when the estimate does
// not exist: beyond the largest observation, unless the curve has reached 0. The
// value returned then is that at the end of the curve, which the true estimate
// cannot exceed. Survival panics if t is NaN.
func (c *Curve) Survival(t float64) (s float64, ok bool) {
	if math.IsNaN(t) {
		panic(badNaN)
	}
	s = 1
	for _, step := range c.Steps {
		if step.Time > t {
			break
		}
		s = step.Survival
	}
	return s, t <= c.Last || s == 0
}

// Quantile returns the smallest value t at which the estimate of P(T ≤ t) is at
// least p. ok is false, and t is +Inf, when the curve does not come down that
// far. Where the curve is exactly 1 - p between two steps this is the left one;
// R's quantile.survfit returns the middle of the two. Quantile panics unless
// 0 < p < 1.
func (c *Curve) Quantile(p float64) (t float64, ok bool) {
	if !(p > 0 && p < 1) {
		panic(badProbability)
	}
	for _, step := range c.Steps {
		// A product of fractions misses a round number by a few units in the
		// last place.
		if step.Survival <= 1-p+1e-12 {
			return step.Time, true
		}
	}
	return math.Inf(1), false
}

// Median is Quantile(0.5).
func (c *Curve) Median() (t float64, ok bool) { return c.Quantile(0.5) }
