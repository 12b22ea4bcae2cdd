package rig

import (
	"fmt"
	"math"

	"bondtrial/internal/rig/budget"
)

// Gravity is the acceleration that makes a mass a force.
type Gravity struct {
	Value float64 `json:"m_s2"`
	U     float64 `json:"u_m_s2"`        // standard uncertainty
	How   string  `json:"how,omitempty"` // where it comes from, in words
}

// NormalGravity returns the normal gravity of 1980 in m/s² at a latitude in degrees,
// north or south, and a height above the sea in metres:
//
//	g = 9.7803267715 (1 + 0.001931851353 sin²φ)/√(1 − 0.0066943800229 sin²φ) − 3.086·10⁻⁶ h
//
// the closed formula of the Geodetic Reference System 1980 and its free-air term.
// It panics on a latitude beyond 90° or a height that is not finite.
func NormalGravity(latitude, height float64) float64 {
	if !(math.Abs(latitude) <= 90) || math.IsNaN(height) || math.IsInf(height, 0) {
		panic("rig: a latitude beyond 90 degrees, or a height that is not finite")
	}
	s := math.Sin(latitude * math.Pi / 180)
	return 9.7803267715*(1+0.001931851353*s*s)/math.Sqrt(1-0.0066943800229*s*s) - 3.086e-6*height
}

// localGravityU is the standard uncertainty of normal gravity as the gravity of a
// place, m/s²: what rock and mountains do to it, 50 mGal. Common practice, no source.
const localGravityU = 5e-4

// LocalGravity is the normal gravity of a place, from its latitude in degrees, north
// or south, and its height above the sea in metres. The error names the one that
// cannot be right.
func LocalGravity(latitude, height float64) (Gravity, error) {
	if !(math.Abs(latitude) <= 90) {
		return Gravity{}, fault("latitude", "%v degrees is not on the globe: write −90 to 90", latitude)
	}
	if !(height >= -500 && height <= 9000) {
		return Gravity{}, fault("height", "%v m above the sea: write metres, −500 to 9000", height)
	}
	return Gravity{Value: NormalGravity(latitude, height), U: localGravityU,
		How: fmt.Sprintf("normal gravity 1980 at latitude %.4g° and %.0f m", latitude, height)}, nil
}

// check returns an error where no place on earth has this gravity.
func (g Gravity) check() error {
	if !(g.Value >= 9.7 && g.Value <= 9.9) {
		return fault("gravity", "%v m/s² is found nowhere on the ground: give latitude and height, or a value from 9.76 to 9.84", g.Value)
	}
	if !(g.U >= 0 && g.U < 0.1) {
		return fault("gravity", "an uncertainty of %v m/s²: write 0 to 0.1", g.U)
	}
	return nil
}

func (g Gravity) input() budget.Input {
	return budget.Input{Name: "local gravity", Value: g.Value, Unit: "m/s²", U: g.U, Dist: budget.Normal, Shared: true}
}

// Weights says how well known masses are known.
type Weights struct {
	AccuracyPct float64 `json:"accuracy_pct"`            // each mass is within this share of what is written on it, per cent
	Density     float64 `json:"density_kg_m3,omitempty"` // of the masses; 0: 8000, iron and steel
}

const (
	airDensity    = 1.2  // kg/m³
	steelDensity  = 8000 // kg/m³, the conventional density of weights
	buoyancyDoubt = 0.15 // half-width of the buoyancy as a share of it, for weather, height and alloy; common practice, no source
)

// buoyancy is the share of a mass's weight that the air carries.
func (w Weights) buoyancy() budget.Input {
	d := w.Density
	if d == 0 {
		d = steelDensity
	}
	in := budget.Within("buoyancy of the masses in air", airDensity/d, "1", buoyancyDoubt*airDensity/d, budget.Rectangular)
	in.Shared = true
	return in
}

func (w Weights) check() error {
	if !(w.AccuracyPct >= 0 && w.AccuracyPct <= 10) {
		return fault("accuracy of the masses", "%v %%: write 0 to 10 %%", w.AccuracyPct)
	}
	if w.Density != 0 && !(w.Density >= 500 && w.Density <= 25_000) {
		return fault("density of the masses", "%v kg/m³: write 500 to 25000, or 0 for iron and steel", w.Density)
	}
	return nil
}

// DeadWeight returns the force of a hanging mass in N: m g (1 − ρair/ρmass).
func (g Gravity) DeadWeight(massKG float64, w Weights) float64 {
	return massKG * g.Value * (1 - w.buoyancy().Value)
}
