// Package answer turns readings into an answer: how strong each adhesive is on
// each wood, which is stronger than which, which are the same, what is not
// settled, and what would settle it.
//
// Compute is the way in. It arranges the readings in cells, samples the model of
// docs/method.md with package stat/gibbs, and states everything as intervals and
// verdicts. Nothing here prints; package publish puts an Answer into words.
package answer

import (
	"encoding/json"
	"math"

	"bondtrial"
)

// Family says over which comparisons an interval is simultaneous.
type Family int

const (
	WithinWood Family = iota // the comparisons within one wood and factor level
	AllWoods                 // all comparisons of the trial
)

// Settings are the choices a person makes. DefaultSettings gives the usual ones.
type Settings struct {
	Threshold     bondtrial.Percent // wood failure from which a reading is wood-limited
	Factors       []string          // further columns that tell cells apart
	Control       string            // compare with this adhesive only; empty: all pairs
	Margin        float64           // differences within ± this share count as the same: 0.15 for 15 %
	PooledScatter bool              // one σ for all adhesives
	Family        Family
	Required      bondtrial.Megapascal // report the chance to exceed it; 0: none asked
	Seed          uint64
	Draws         int

	// Progress, if set, is told how far the work is. It may be called from
	// several goroutines.
	Progress func(stage string, done, of int) `json:"-"`

	drawsOnly bool // for tests: do not use the closed form
}

// DefaultSettings returns the settings of an answer nobody asked anything special
// of.
func DefaultSettings() Settings {
	return Settings{Threshold: bondtrial.DefaultThreshold, Margin: 0.15, Seed: 1, Draws: 40_000}
}

// Value is a number that may not exist: NaN stands for "cannot be told".
type Value float64

// None is the value that does not exist.
var None = Value(math.NaN())

// MarshalJSON writes null for a value that does not exist.
func (v Value) MarshalJSON() ([]byte, error) {
	if !v.Exists() {
		return []byte("null"), nil
	}
	return json.Marshal(float64(v))
}

// Exists reports whether the value is a number.
func (v Value) Exists() bool { return !math.IsNaN(float64(v)) && !math.IsInf(float64(v), 0) }

// Answer is all that is reported of a trial. Strengths are in MPa.
type Answer struct {
	Settings Settings
	Counts   Counts
	Draws    int                 // kept by the sampler
	Readings []bondtrial.Reading // as given, set-aside ones included

	Cells       []Cell
	Pairs       []Pair
	Best        []Chance
	Effects     []Effect
	WoodLimits  []WoodLimit
	Spread      Spread
	Fit         Fit
	Sensitivity []Sensitivity
	Drifts      []Drift
	Outliers    []Outlier
	Warnings    []string
}

// Counts says how many readings are in each state.
type Counts struct{ Used, WoodLimited, RigLimited, SetAside int }

// Condition is where a comparison is made: a wood and a level of each factor.
type Condition struct {
	Wood    string
	Factors map[string]string
}

// Cell is one adhesive in one condition.
type Cell struct {
	Condition
	Adhesive string
	Readings []int // indices into Answer.Readings, none set aside

	N, WoodLimited, RigLimited int

	Typical, Low, High Value // median strength with its 95 % interval; Typical and High do not exist where OnlyAtLeast
	OnlyAtLeast        bool  // every reading is a lower bound
	AtLeast            Value // 95 % lower bound, where OnlyAtLeast
	SDLog              Value // standard deviation of log strength within boards; does not exist where OnlyAtLeast
	Char5              Value // 5th percentile of single joints at 75 % confidence; does not exist where OnlyAtLeast
	PExceed            Value // chance that the typical strength exceeds Settings.Required
	Median             Value // Kaplan–Meier median, for checking

	draws []float64 // log typical strength
}

// Verdict is what a comparison comes to.
type Verdict string

const (
	Stronger   Verdict = "stronger"    // the simultaneous interval lies above 1
	Weaker     Verdict = "weaker"      // it lies below 1
	Same       Verdict = "same"        // the 90 % interval lies within the margin
	NotSettled Verdict = "not-settled" // none of these
	AtLeast    Verdict = "at-least"    // one side is only "at least": a one-sided statement
)

// Pair compares two adhesives in one condition. Ratios are A over B.
type Pair struct {
	Condition
	A, B string

	Ratio           Value // of typical strengths; does not exist where a side is only at least
	Low, High       Value // single 95 % interval; one end does not exist where a side is only at least
	LowSim, HighSim Value // simultaneous 95 % interval over the family
	Low90, High90   Value // single 90 % interval
	PAStronger      Value // chance that A is the stronger
	Verdict         Verdict
	Settle          Settle

	a, b int // cells
}

// Chance is the probability that an adhesive is the strongest in its condition.
type Chance struct {
	Condition
	Adhesive string
	PBest    float64
	Leans    bool // a strength that is only "at least" takes part: the chance leans on what is assumed of it
}

// Effect compares two levels of a factor, averaged over the adhesives and woods
// that were broken at both. Ratios are A over B.
type Effect struct {
	Factor, A, B    string
	Ratio           Value
	Low, High       Value // 95 %
	LowSim, HighSim Value // 95 % over all pairs of levels of the factor
	Low90, High90   Value // 90 %
	Verdict         Verdict
	Cells           int // pairs of cells it is averaged over
}

// WoodLimit is the wood's own strength in the joint's geometry.
type WoodLimit struct {
	Wood               string
	N, Broke           int   // readings, and how many of them the wood ended
	Typical, Low, High Value // none where the wood broke too seldom
	Handbook           Value // shear strength parallel to the grain, MPa
	HandbookNote       string
	Flag               string // set where the two do not fit together
}

// Spread holds standard deviations of log strength. What the data cannot tell
// does not exist.
type Spread struct{ Residual, Board, Batch, Session, Trial Value }

// Fit says how well models describe the readings and how well the sampler did.
type Fit struct {
	LognormalLogLik, WeibullLogLik Value // on the strength scale, common scatter, no boards
	MaxRHat                        float64
	MinESS                         float64
}

// Sensitivity says what another threshold on wood failure would change.
type Sensitivity struct {
	Threshold bondtrial.Percent
	Changes   []Change // verdicts that differ
	Failed    string   // why no answer could be had at this threshold; empty when it could
}

// Change is a verdict that is another one at another threshold.
type Change struct {
	Condition        // of a pair
	Factor    string // of an effect; empty for a pair
	A, B      string // adhesives, or levels of the factor
	Was, Is   Verdict
}

// Drift is a change of strength along an order of work.
type Drift struct {
	Order            string // "glueing" or "breaking"
	N                int
	First, Last      int   // places in the order
	Ratio, Low, High Value // last over first, 95 %
	Flag             bool  // the interval excludes 1
}

// Outlier is a reading far from its cell. It stays in.
type Outlier struct {
	Reading int     // index into Answer.Readings
	Ratio   float64 // strength over the middle of the other readings like it
}

// Settle says what would settle a pair that is not settled.
type Settle struct {
	More   int     // specimens of each adhesive to add; 0 where none would do or none are needed
	Toward Verdict // what is then expected: Stronger or Weaker, or Same
	Reason string  // why no number is given
}
