package rig

import (
	"fmt"
	"math"
	"strings"
)

// ClassSource goes with everything that is said of a class.
const ClassSource = "limits of ISO 7500-1 from memory, unconfirmed"

// SelfCheck goes with every calibration that is shown to a person.
const SelfCheck = "a self-check, no accredited certificate"

// classLimit holds the largest relative errors of a class, per cent.
type classLimit struct {
	name                                                   string
	accuracy, repeatability, reversibility, zero, smallest float64
}

// classLimits are those of ISO 7500-1, from memory, unconfirmed.
var classLimits = []classLimit{
	{"0.5", 0.5, 0.5, 0.75, 0.05, 0.25},
	{"1", 1, 1, 1.5, 0.1, 0.5},
	{"2", 2, 2, 3, 0.2, 1},
	{"3", 3, 3, 4.5, 0.3, 1.5},
}

// Classes lists the classes that are known, best first.
func Classes() []string {
	var names []string
	for _, c := range classLimits {
		names = append(names, c.name)
	}
	return names
}

// ClassSpan is a class and the range over which it would be met: the loads from the
// highest downwards without a gap.
type ClassSpan struct {
	Class string  `json:"class"`
	FromN float64 `json:"from_n"`
	ToN   float64 `json:"to_n"`
	Steps int     `json:"steps"`
}

// meets reports whether a step keeps within a class. The repeatability has to be
// known; a reversibility or zero that is not known is not held against it.
func (c classLimit) meets(s Step, zeroPct *float64) bool {
	return math.Abs(s.ErrorPct) <= c.accuracy && s.RepeatabilityPct != nil && *s.RepeatabilityPct <= c.repeatability &&
		(s.ReversibilityPct == nil || math.Abs(*s.ReversibilityPct) <= c.reversibility) &&
		(zeroPct == nil || *zeroPct <= c.zero) && s.ResolutionPct <= c.smallest
}

// ZeroPct is the largest change of the zero as a share of the highest load, per
// cent; nil where it is not known.
func (k *Calibration) ZeroPct() *float64 {
	if k.Figures.Zero == nil {
		return nil
	}
	v := 100 * *k.Figures.Zero / math.Abs(k.Curve.Slope(k.HighN)) / k.HighN
	return &v
}

// classify sets the class of each step, and the classes with their ranges.
func (k *Calibration) classify() {
	zero := k.ZeroPct()
	for i := range k.Steps {
		for _, c := range classLimits {
			if c.meets(k.Steps[i], zero) {
				k.Steps[i].Class = c.name
				break
			}
		}
	}
	last := len(k.Steps)
	reach := last // steps from here on are covered by a better class
	for _, c := range classLimits {
		from := last
		for from > 0 && c.meets(k.Steps[from-1], zero) {
			from--
		}
		if from < reach {
			reach = from
			k.Classes = append(k.Classes, ClassSpan{c.name, k.Steps[from].ForceN, k.Steps[last-1].ForceN, last - from})
		}
	}
	if len(k.Classes) == 0 {
		k.NoClass = k.whyNone(zero)
	}
}

// whyNone says what keeps the highest load out of every class.
func (k *Calibration) whyNone(zero *float64) string {
	top, worst := k.Steps[len(k.Steps)-1], classLimits[len(classLimits)-1]
	if top.RepeatabilityPct == nil {
		return "the repeatability is not known: hang the loads in at least two series, better three"
	}
	var over []string
	add := func(name string, v, limit float64) {
		if v > limit {
			over = append(over, fmt.Sprintf("%s %s %% (limit of class %s: %v %%)", name, brief(v, 2), worst.name, limit))
		}
	}
	add("error", math.Abs(top.ErrorPct), worst.accuracy)
	add("repeatability", *top.RepeatabilityPct, worst.repeatability)
	if top.ReversibilityPct != nil {
		add("reversibility", math.Abs(*top.ReversibilityPct), worst.reversibility)
	}
	if zero != nil {
		add("zero", *zero, worst.zero)
	}
	add("resolution", top.ResolutionPct, worst.smallest)
	return "at the highest load: " + strings.Join(over, ", ")
}

// ClassWords says in one sentence which classes the figures would meet, over which
// range, and what that is worth.
func (k *Calibration) ClassWords() string {
	const worth = "; " + ClassSource + "; " + SelfCheck
	if len(k.Classes) == 0 {
		return "These figures would meet no class of ISO 7500-1 (" + k.NoClass + worth + ")."
	}
	var parts []string
	for _, c := range k.Classes {
		where := fmt.Sprintf("from %s to %s", newtons(c.FromN), newtons(c.ToN))
		if c.Steps == 1 {
			where = "at " + newtons(c.ToN) + " alone"
		}
		parts = append(parts, "class "+c.Class+" "+where)
	}
	s := "These figures would meet " + listed(parts) + " (ISO 7500-1"
	if len(k.Classes) > 0 && k.Classes[len(k.Classes)-1].Steps < len(k.Steps) {
		s += "; none below that"
	}
	var unknown []string
	if k.Figures.Reversibility == nil {
		unknown = append(unknown, "reversibility")
	}
	if k.Figures.Zero == nil {
		unknown = append(unknown, "zero")
	}
	if unknown != nil {
		s += "; " + strings.Join(unknown, " and ") + " not tested"
	}
	return s + worth + ")."
}
