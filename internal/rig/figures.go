package rig

import (
	"fmt"
	"math"
	"slices"
)

// Figures say how good a calibration is, in the unit of what is shown. A nil figure
// is not known, because the readings that would show it were not taken.
type Figures struct {
	Repeatability   float64  `json:"repeatability"`       // standard deviation of a load read again
	RepeatabilityDF int      `json:"repeatability_df"`    // its degrees of freedom
	Repeated        bool     `json:"repeated"`            // loads were read again; else the scatter about the curve stands in
	Departure       float64  `json:"departure"`           // the largest mean distance of a load from the curve
	Reversibility   *float64 `json:"reversibility"`       // the largest difference of a load reached from above and from below
	Zero            *float64 `json:"zero"`                // the largest change of the reading at no load within a series
	NewtonsPerUnit  float64  `json:"newtons_per_unit"`    // in the middle of the range, without sign
	ReferencePct    float64  `json:"reference_u_pct"`     // standard uncertainty of the known loads, per cent
	Series          int      `json:"series"`              // how many
	Residuals       []Pair   `json:"residuals,omitempty"` // each reading's distance from the curve, for a picture
}

// Pair is a residual in N at a load in N.
type Pair struct {
	LoadN     float64   `json:"load_n"`
	ResidualN float64   `json:"residual_n"`
	Direction Direction `json:"direction"`
	Series    string    `json:"series"`
}

// mean is a mean that grows.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v float64) { m.sum += v; m.n++ }
func (m mean) value() float64 { return m.sum / float64(m.n) }

// level is one known load with its readings.
type level struct {
	force    float64
	load     float64
	unit     string
	readings []loaded
}

func levels(loads []loaded) []level {
	sorted := slices.Clone(loads)
	slices.SortStableFunc(sorted, func(a, b loaded) int {
		switch {
		case a.force < b.force:
			return -1
		case a.force > b.force:
			return 1
		}
		return 0
	})
	var all []level
	for _, p := range sorted {
		if n := len(all); n == 0 || !sameLoad(all[n-1].force, p.force) {
			all = append(all, level{force: p.force, load: p.Load, unit: p.Unit})
		}
		last := &all[len(all)-1]
		last.readings = append(last.readings, p)
	}
	return all
}

// means returns the mean of what is shown going up and going down; a count of 0
// says that there is none.
func (l level) means() (up, down mean) {
	for _, p := range l.readings {
		if p.Direction == Up {
			up.add(p.y)
		} else {
			down.add(p.y)
		}
	}
	return up, down
}

// figure computes the figures from the points of the curve.
func (k *Calibration) figure(loads []loaded) {
	f := &k.Figures
	series := map[string]bool{}
	f.NewtonsPerUnit = 1 / math.Abs(k.Curve.Slope((k.LowN+k.HighN)/2))
	f.ReferencePct = k.referencePct()
	for _, p := range loads {
		series[p.Series] = true
		left := (p.y - k.Curve.At(p.force)) / k.Curve.Slope(p.force)
		f.Residuals = append(f.Residuals, Pair{p.force, left, p.Direction, p.Series})
	}
	f.Series = len(series)
	ss := 0.0
	for _, l := range levels(loads) {
		up, down := l.means()
		centre := mean{}
		for _, m := range []mean{up, down} {
			if m.n > 0 {
				centre.add(m.value())
				f.RepeatabilityDF += m.n - 1
			}
		}
		for _, p := range l.readings {
			m := up
			if p.Direction == Down {
				m = down
			}
			ss += (p.y - m.value()) * (p.y - m.value())
		}
		f.Departure = max(f.Departure, math.Abs(centre.value()-k.Curve.At(l.force)))
		if up.n > 0 && down.n > 0 {
			f.Reversibility = most(f.Reversibility, math.Abs(down.value()-up.value()))
		}
	}
	f.Departure = dust(f.Departure, k.Curve.At(k.HighN)-k.Curve.At(k.LowN))
	if f.Repeated = f.RepeatabilityDF > 0; f.Repeated {
		f.Repeatability = math.Sqrt(ss / float64(f.RepeatabilityDF))
	} else {
		f.Repeatability, f.RepeatabilityDF = k.Curve.ResidualSD, k.Curve.DF
	}
}

// referencePct is the standard uncertainty of the known loads, per cent: their own
// accuracy, and for masses gravity and the air.
func (k *Calibration) referencePct() float64 {
	u := k.Weights.AccuracyPct / math.Sqrt(3)
	if slices.ContainsFunc(k.Points, func(p Point) bool { return p.Unit == "kg" }) {
		u = math.Hypot(u, 100*k.Gravity.U/k.Gravity.Value)
		u = math.Hypot(u, 100*k.Weights.buoyancy().U)
	}
	return u
}

// Step is one known load with the relative errors of ISO 7500-1 (their definitions
// from memory), the curve applied. A nil figure is not known.
type Step struct {
	Load             float64  `json:"load"` // as given
	Unit             string   `json:"unit"`
	ForceN           float64  `json:"force_n"`
	Readings         int      `json:"readings"`
	IndicatedN       float64  `json:"indicated_n"`       // mean going up; of all where none went up
	ErrorPct         float64  `json:"error_pct"`         // q: indicated less true, over true
	RepeatabilityPct *float64 `json:"repeatability_pct"` // b: largest less smallest going up, over true
	ReversibilityPct *float64 `json:"reversibility_pct"` // v: down less up, over true
	ResolutionPct    float64  `json:"resolution_pct"`    // a: smallest step, over true
	Class            string   `json:"class"`             // the best that it meets alone; empty: none, or not known
}

// steps computes the relative errors of each load.
func (k *Calibration) steps(loads []loaded) {
	for _, l := range levels(loads) {
		slope := k.Curve.Slope(l.force)
		indicated := func(y float64) float64 { return l.force + (y-k.Curve.At(l.force))/slope }
		pct := func(n float64) float64 { return 100 * n / l.force }
		up, down := l.means()
		s := Step{Load: l.load, Unit: l.unit, ForceN: l.force, Readings: len(l.readings), ResolutionPct: pct(k.Resolution / math.Abs(slope))}
		from, used := Up, up
		if up.n == 0 {
			from, used = Down, down
		}
		s.IndicatedN = indicated(used.value())
		s.ErrorPct = pct(s.IndicatedN - l.force)
		if used.n > 1 {
			low, high := math.Inf(1), math.Inf(-1)
			for _, p := range l.readings {
				if p.Direction == from {
					low, high = min(low, indicated(p.y)), max(high, indicated(p.y))
				}
			}
			b := pct(high - low)
			s.RepeatabilityPct = &b
		}
		if up.n > 0 && down.n > 0 {
			v := pct(indicated(down.value()) - indicated(up.value()))
			s.ReversibilityPct = &v
		}
		k.Steps = append(k.Steps, s)
	}
}

// farResidual is how many standard deviations from the curve a reading is pointed
// out. Common practice, no source.
const farResidual = 3.5

// warn says what weakens the calibration and how to do better.
func (k *Calibration) warn(loads []loaded) {
	say := func(format string, args ...any) { k.Warnings = append(k.Warnings, fmt.Sprintf(format, args...)) }
	f := k.Figures
	for i, p := range loads {
		left := math.Abs(f.Residuals[i].ResidualN)
		if shown := left * math.Abs(k.Curve.Slope(p.force)); shown > farResidual*k.Curve.ResidualSD && shown > 2*k.Resolution {
			say("%s: %v %s is %s from the curve, far more than the others: look it up, or read that load again", p.where(), p.Shown, k.ShownUnit, newtons(left))
		}
	}
	if !f.Repeated {
		say("no load was read twice in one direction: the scatter about the curve stands in for the repeatability; hang the loads in three series")
	} else if f.Series < 3 {
		say("%d series: three show the repeatability better", f.Series)
	}
	if len(k.Steps) < 5 {
		say("%d different loads: five or more show the curve better", len(k.Steps))
	}
	if f.Reversibility == nil {
		say("no load was read both going up and going down: the reversibility is not known, and the uncertainty leaves it out")
	}
	switch {
	case !k.FromZero:
		say("nothing was read at no load: what is shown counts as it stands, so the display must not be set to zero differently at a break")
	case f.Zero == nil:
		say("nothing was read at no load after the loads: how the zero returns is not known, and the uncertainty leaves it out")
	}
	if k.Weights.AccuracyPct == 0 {
		say("how well the known loads are known was not said: the uncertainty takes what is written on them as exact")
	}
}
