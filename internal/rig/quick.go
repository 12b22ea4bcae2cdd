package rig

import (
	"fmt"
	"math"
	"slices"

	"bondtrial/internal/rig/budget"
)

// Check is one known load hung on the rig before a sitting, and what was shown.
type Check struct {
	Date  string  `json:"date"` // year-month-day
	Load  float64 `json:"load"`
	Unit  string  `json:"unit"` // kg or N
	Shown float64 `json:"shown"`
	Zero  float64 `json:"zero"` // shown at no load just before
}

// Checked is what a quick check says.
type Checked struct {
	Check
	ForceN     float64 `json:"force_n"` // true
	ReadsN     float64 `json:"reads_n"` // by the calibration
	OffPct     float64 `json:"off_pct"` // read less true, over true
	AllowedPct float64 `json:"allowed_pct"`
	Holds      bool    `json:"holds"` // |OffPct| is at most AllowedPct
	Span       Span    `json:"span"`
	Since      string  `json:"since,omitempty"` // where it does not hold: the first check of the unbroken row that is off the same way
	Words      string  `json:"words"`
}

// QuickCheck holds one known load against the calibration. What is allowed is the
// expanded uncertainty (95 %) of the calibrated force. earlier are the checks made
// before with the same calibration, in any order; they tell since when a rig reads
// wrongly. Nothing is corrected by a check: it says whether to calibrate again.
//
// The errors name a load, date or reading that cannot be right.
func (k *Calibration) QuickCheck(c Check, earlier []Check) (Checked, error) {
	now, err := day("date", c.Date)
	if err != nil {
		return Checked{}, err
	}
	out, err := k.compare(c)
	if err != nil {
		return Checked{}, err
	}
	way := "high"
	if out.OffPct < 0 {
		way = "low"
	}
	off := fmt.Sprintf("%s %% %s", brief(math.Abs(out.OffPct), 2), way)
	allowed := fmt.Sprintf("the calibration of %s allows %s %%", k.Date, brief(out.AllowedPct, 2))
	if out.Holds {
		out.Words = fmt.Sprintf("reads right: %s, and %s", off, allowed)
		if _, words := k.span(out.ForceN); words != "" {
			out.Words += fmt.Sprintf("; but %s lies outside the calibrated range", newtons(out.ForceN))
		}
		return out, nil
	}
	row, right, err := k.row(out, earlier)
	if err != nil {
		return Checked{}, err
	}
	since, err := day("date", row)
	if err != nil {
		return Checked{}, err
	}
	out.Since = row
	when := "since " + onDay(since)
	if row == c.Date {
		when = "on " + onDay(now)
	}
	out.Words = fmt.Sprintf("reads %s %s; %s", off, when, allowed)
	if right != "" {
		out.Words += fmt.Sprintf("; on %s it still read right", right)
	}
	out.Words += ": find what changed, such as a load that touches, a worn pivot or another zero, or calibrate again before you break"
	return out, nil
}

// compare computes the figures of one check.
func (k *Calibration) compare(c Check) (Checked, error) {
	if !(c.Load > 0) || math.IsInf(c.Load, 0) {
		return Checked{}, fault("load", "%v %s: hang a known load above 0", c.Load, c.Unit)
	}
	out := Checked{Check: c, ForceN: c.Load}
	switch {
	case c.Unit == "kg" && k.Gravity == nil:
		return Checked{}, fault("unit", "the calibration knows no gravity, because its loads were given in N: give the load in N")
	case c.Unit == "kg":
		out.ForceN = k.Gravity.DeadWeight(c.Load, k.Weights)
	case c.Unit != "N":
		return Checked{}, fault("unit", "a load in %q: write kg or N", c.Unit)
	}
	f, err := k.Force(c.Shown, c.Zero)
	if err != nil {
		return Checked{}, err
	}
	out.ReadsN, out.Span = f.Newtons, f.Span
	out.OffPct = 100 * (out.ReadsN - out.ForceN) / out.ForceN
	out.AllowedPct = 100 * k.expandedAt(out.ForceN) / out.ForceN
	out.Holds = math.Abs(out.OffPct) <= out.AllowedPct
	return out, nil
}

// expandedAt is the expanded uncertainty of a force that reads as it should, N.
func (k *Calibration) expandedAt(force float64) float64 {
	per := 1 / k.Curve.Slope(force)
	inputs := append(k.deviations(force), k.readingInput(k.Curve.At(force)))
	by := make([]float64, len(inputs))
	for i := range by {
		by[i] = per
	}
	inputs = append(inputs, budget.Input{Value: 1, U: k.Figures.ReferencePct / 100, Dist: budget.Normal})
	return budget.Combine("force", "N", force, inputs, append(by, force), budget.Coverage).Expanded
}

// row looks back from a check that does not hold: the first date of the unbroken row
// that is off the same way, and the date of the check before it where that held.
func (k *Calibration) row(last Checked, earlier []Check) (since, right string, err error) {
	before := slices.Clone(earlier)
	for _, c := range before {
		if _, err := day("date", c.Date); err != nil {
			return "", "", err
		}
	}
	slices.SortStableFunc(before, func(a, b Check) int { // the latest first
		switch {
		case a.Date > b.Date:
			return -1
		case a.Date < b.Date:
			return 1
		}
		return 0
	})
	since = last.Date
	for _, c := range before {
		if c.Date > last.Date || c.Date < k.Date {
			continue
		}
		was, err := k.compare(c)
		if err != nil {
			return "", "", fmt.Errorf("the check of %s: %w", c.Date, err)
		}
		if was.Holds {
			return since, c.Date, nil
		}
		if was.OffPct*last.OffPct < 0 {
			return since, "", nil
		}
		since = c.Date
	}
	return since, "", nil
}
