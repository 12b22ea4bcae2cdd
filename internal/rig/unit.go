package rig

import (
	"slices"
	"strings"

	"bondtrial"
)

// Kind is the kind of quantity that a sensor shows.
type Kind string

const (
	ForceKind    Kind = "force"    // inside: N
	MassKind     Kind = "mass"     // kg
	PressureKind Kind = "pressure" // MPa
	TorqueKind   Kind = "torque"   // N·mm
)

// unit is a unit that a sensor may show.
type unit struct {
	name   string
	kind   Kind
	factor float64 // to the unit inside
}

// units holds exact factors: the bar and the inch by definition, pound and
// kilogram-force as in package bondtrial.
var units = []unit{
	{"N", ForceKind, 1}, {"kN", ForceKind, 1000}, {"lbf", ForceKind, bondtrial.NewtonPerPoundForce}, {"kgf", ForceKind, bondtrial.NewtonPerKilogramForce},
	{"kg", MassKind, 1}, {"g", MassKind, 1e-3}, {"lb", MassKind, 0.45359237},
	{"MPa", PressureKind, 1}, {"kPa", PressureKind, 1e-3}, {"bar", PressureKind, 0.1}, {"psi", PressureKind, bondtrial.MegapascalPerPSI},
	{"N·m", TorqueKind, 1000}, {"N·mm", TorqueKind, 1}, {"lbf·ft", TorqueKind, bondtrial.NewtonPerPoundForce * 304.8}, {"lbf·in", TorqueKind, bondtrial.NewtonPerPoundForce * 25.4},
}

// UnitNames lists the units of a kind that a sensor may show.
func UnitNames(k Kind) []string {
	var names []string
	for _, u := range units {
		if u.kind == k {
			names = append(names, u.name)
		}
	}
	return names
}

func (k Kind) inside() string {
	switch k {
	case ForceKind:
		return "N"
	case MassKind:
		return "kg"
	case PressureKind:
		return "MPa"
	case TorqueKind:
		return "N·mm"
	}
	return ""
}

// unitOf finds a unit of a kind by its name, with a dot or nothing for the
// multiplication.
func unitOf(name string, k Kind) (unit, error) {
	plain := func(s string) string { return strings.NewReplacer("·", "", ".", "", "*", "", " ", "").Replace(s) }
	i := slices.IndexFunc(units, func(u unit) bool { return u.kind == k && plain(u.name) == plain(name) })
	if i < 0 {
		names := UnitNames(k)
		if names == nil {
			return unit{}, fault("quantity", "%q is not one that a sensor shows: write force, mass, pressure or torque", string(k))
		}
		return unit{}, fault("unit", "%q is no unit of %s: write one of %s", name, k, strings.Join(names, ", "))
	}
	return units[i], nil
}
