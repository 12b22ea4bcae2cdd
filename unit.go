package bondtrial

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Quantities that cross packages carry their unit in their type.
type (
	Newton           float64 // force, N
	SquareMillimetre float64 // area, mm²
	Megapascal       float64 // stress, MPa = N/mm²
	Percent          float64 // a share, 0 to 100
)

// Conversion factors. The pound-force and the kilogram-force are exact by
// definition (pound 0.45359237 kg, inch 25.4 mm, standard gravity 9.80665 m/s²;
// NIST SP 811, appendix B.8).
const (
	NewtonPerPoundForce    = 4.4482216152605
	NewtonPerKilogramForce = 9.80665
	MegapascalPerPSI       = NewtonPerPoundForce / (25.4 * 25.4)
)

// Units says in which system strengths are shown to a person. Files for
// programs are always SI.
type Units int

const (
	SI Units = iota // megapascal
	US              // pound-force per square inch
)

// ParseUnits reads "si" or "us", or the unit of stress that goes with them, in any
// case.
func ParseUnits(s string) (Units, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "si", "mpa":
		return SI, nil
	case "us", "psi":
		return US, nil
	}
	return SI, fmt.Errorf("unknown units %q: write si (MPa) or us (psi)", s)
}

// Stress converts a stress in MPa to the unit that is shown.
func (u Units) Stress(mpa float64) float64 {
	if u == US {
		return mpa / MegapascalPerPSI
	}
	return mpa
}

// StressUnit names the unit that Stress returns.
func (u Units) StressUnit() string {
	if u == US {
		return "psi"
	}
	return "MPa"
}

// Stress returns the nominal stress, force over area.
func Stress(f Newton, a SquareMillimetre) Megapascal {
	return Megapascal(float64(f) / float64(a))
}

// ParseStress reads a stress with its unit, such as "6 MPa", "6.5MPa" or
// "900 psi". A number without a unit is an error: the unit is never guessed.
func ParseStress(s string) (Megapascal, error) {
	text := strings.ToLower(strings.TrimSpace(s))
	factor := 1.0
	number, ok := strings.CutSuffix(text, "mpa")
	if !ok {
		if number, ok = strings.CutSuffix(text, "psi"); !ok {
			return 0, fmt.Errorf("%q has no unit of stress: write it as in 6MPa or 900psi", s)
		}
		factor = MegapascalPerPSI
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(v > 0) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a stress above 0: write it as in 6MPa or 900psi", s)
	}
	return Megapascal(v * factor), nil
}
