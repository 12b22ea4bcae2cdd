package rig

import (
	"fmt"
	"math"
)

// Shares of the rated maximum from which a rig warns.
const (
	NearShare = 0.80
	StopShare = 0.95
)

// Level says how close a load is to the rated maximum.
type Level string

const (
	Clear Level = "clear"
	Near  Level = "near" // from 80 % of the rated maximum
	Stop  Level = "stop" // from 95 %
	Over  Level = "over" // above it
)

// Limits are the loads from which a rig warns, in the unit of its rated maximum.
type Limits struct {
	Rated float64 `json:"rated"`
	Near  float64 `json:"near"`
	Stop  float64 `json:"stop"`
	Unit  string  `json:"unit"`
}

// NewLimits returns the limits of a rated maximum, as of the weakest part of the rig
// or its sensor. The error says that it cannot be one.
func NewLimits(rated float64, unit string) (Limits, error) {
	if !(rated > 0) || math.IsInf(rated, 0) {
		return Limits{}, fault("rated maximum", "%v %s: write the largest load that the weakest part of the rig is made for", rated, unit)
	}
	return Limits{Rated: rated, Near: NearShare * rated, Stop: StopShare * rated, Unit: unit}, nil
}

// At judges a load; its sign does not matter, and one that is not a number is over.
// The words are empty where the load is clear.
func (l Limits) At(load float64) (Level, string) {
	v := math.Abs(load)
	share := 100 * v / l.Rated
	switch {
	case math.IsNaN(v):
		return Over, "what comes from the sensor is not a number: unload, and look at its wiring"
	case v < l.Near:
		return Clear, ""
	case v < l.Stop:
		return Near, fmt.Sprintf("%.0f %% of the rated maximum of %.4g %s: load slowly, and know where the parts would fly", share, l.Rated, l.Unit)
	case v <= l.Rated:
		return Stop, fmt.Sprintf("%.0f %% of the rated maximum of %.4g %s: stop and unload; a specimen that has not broken is rig-limited", share, l.Rated, l.Unit)
	}
	return Over, fmt.Sprintf("%.0f %% of the rated maximum of %.4g %s: beyond it; unload, look the rig over and calibrate it again", share, l.Rated, l.Unit)
}
