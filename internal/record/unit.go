package record

import (
	"strings"

	"bondtrial"
)

// unit is a unit that a peak is read off in.
type unit struct {
	name   string
	factor float64 // to N, or to MPa where it is a stress
	stress bool
}

var units = []unit{
	{"N", 1, false}, {"kN", 1000, false}, {"lbf", bondtrial.NewtonPerPoundForce, false}, {"kgf", bondtrial.NewtonPerKilogramForce, false},
	{"MPa", 1, true}, {"psi", bondtrial.MegapascalPerPSI, true},
}

// Units names the units that a peak may be given in.
func Units() []string {
	var names []string
	for _, u := range units {
		names = append(names, u.name)
	}
	return names
}

func unitOf(s string) (unit, error) {
	for _, u := range units {
		if u.name == s {
			return u, nil
		}
	}
	return unit{}, refuse("unit", "unit: %q is none of %s", s, strings.Join(Units(), ", "))
}

// Strength returns the nominal stress, MPa, of a peak in a unit over a bonded area
// in mm², and whether the area was needed. An unknown unit, and a force without an
// area, are errors.
func Strength(peak float64, unitName string, areaMM2 float64) (mpa float64, byArea bool, err error) {
	u, err := unitOf(unitName)
	switch {
	case err != nil:
		return 0, false, err
	case u.stress:
		return peak * u.factor, false, nil
	case !(areaMM2 > 0):
		return 0, true, refuse("areamm2", "a force needs the bonded area to become a strength: give it in mm²")
	}
	return float64(bondtrial.Stress(bondtrial.Newton(peak*u.factor), bondtrial.SquareMillimetre(areaMM2))), true, nil
}

// Force returns a force in N. The unit must be one of force.
func Force(x float64, unitName string) (float64, error) {
	u, err := unitOf(unitName)
	if err == nil && u.stress {
		err = refuse("unit", "unit: %s is a unit of stress", unitName)
	}
	return x * u.factor, err
}
