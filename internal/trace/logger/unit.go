package logger

import (
	"strings"

	"bondtrial"
)

// role is what a column is.
type role int

const (
	noRole role = iota
	timeRole
	forceRole
	travelRole
)

func (r role) String() string {
	return [...]string{"", "time", "force", "travel"}[r]
}

// scale turns what is written into s, N or mm: v·mul/div, so that units of a power of
// ten are rounded once.
type scale struct {
	unit     string // as shown
	mul, div float64
	counts   bool
	clock    bool // hh:mm:ss
}

const clockUnit = "hh:mm:ss"

// unitsOf lists what is written for the units of each role. Pound-force and
// kilogram-force are those of the vocabulary; an inch is 25.4 mm, a pound-force 16
// ounce-force.
var unitsOf = map[role]map[string]scale{
	timeRole: {
		"s": {unit: "s", mul: 1, div: 1}, "ms": {unit: "ms", mul: 1, div: 1e3}, "µs": {unit: "µs", mul: 1, div: 1e6}, "min": {unit: "min", mul: 60, div: 1},
		clockUnit: {unit: clockUnit, mul: 1, div: 1, clock: true},
	},
	forceRole: {
		"N": {unit: "N", mul: 1, div: 1}, "mN": {unit: "mN", mul: 1, div: 1e3}, "kN": {unit: "kN", mul: 1e3, div: 1}, "MN": {unit: "MN", mul: 1e6, div: 1},
		"lbf": {unit: "lbf", mul: bondtrial.NewtonPerPoundForce, div: 1}, "ozf": {unit: "ozf", mul: bondtrial.NewtonPerPoundForce, div: 16},
		"kgf": {unit: "kgf", mul: bondtrial.NewtonPerKilogramForce, div: 1}, "gf": {unit: "gf", mul: bondtrial.NewtonPerKilogramForce, div: 1e3},
		"counts": {unit: "counts", mul: 1, div: 1, counts: true},
	},
	travelRole: {
		"mm": {unit: "mm", mul: 1, div: 1}, "µm": {unit: "µm", mul: 1, div: 1e3}, "cm": {unit: "cm", mul: 10, div: 1}, "m": {unit: "m", mul: 1e3, div: 1},
		"in": {unit: "in", mul: 25.4, div: 1}, "mil": {unit: "mil", mul: 25.4, div: 1e3},
	},
}

// unitList is what to write for a role.
var unitList = map[role]string{
	timeRole:   "s, ms, µs, min or hh:mm:ss",
	forceRole:  "N, kN, mN, lbf, kgf, gf, ozf or counts",
	travelRole: "mm, µm, cm, m, in or mil",
}

// otherSpellings maps spellings in lower case to those above.
var otherSpellings = map[role]map[string]string{
	timeRole: {
		"sec": "s", "secs": "s", "second": "s", "seconds": "s", "msec": "ms", "millisecond": "ms", "milliseconds": "ms", "millis": "ms",
		"us": "µs", "μs": "µs", "usec": "µs", "micros": "µs", "microsecond": "µs", "microseconds": "µs", "minute": "min", "minutes": "min",
	},
	forceRole: {
		"newton": "N", "newtons": "N", "kilonewton": "kN", "kilonewtons": "kN", "kp": "kgf", "kg-f": "kgf", "kgforce": "kgf", "lb-f": "lbf", "lbforce": "lbf",
		"pound-force": "lbf", "pounds-force": "lbf", "count": "counts", "cts": "counts", "adc": "counts", "raw": "counts", "digits": "counts", "lsb": "counts",
		"n": "N", "kn": "kN",
	},
	travelRole: {
		"millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm", "um": "µm", "μm": "µm", "micron": "µm", "microns": "µm", "micrometre": "µm",
		"micrometer": "µm", "inch": "in", "inches": "in", "\"": "in", "thou": "mil", "mils": "mil", "centimetre": "cm", "centimeter": "cm", "metre": "m", "meter": "m",
	},
}

// unitNamed finds a unit of a role by how it is written.
func unitNamed(r role, s string) (scale, bool) {
	s = strings.TrimSpace(s)
	if u, ok := unitsOf[r][s]; ok {
		return u, true
	}
	low := strings.ToLower(s)
	if o, ok := otherSpellings[r][low]; ok {
		return unitsOf[r][o], true
	}
	if low == "mn" { // MN or mN: a factor of 1e9
		return scale{}, false
	}
	u, ok := unitsOf[r][low]
	return u, ok
}

// massUnits are written on scales, and are no forces until somebody says so.
var massUnits = map[string]string{"kg": "kgf", "g": "gf", "lb": "lbf", "lbs": "lbf", "oz": "ozf", "pound": "lbf", "pounds": "lbf"}

// roleWords are the words of headers, in the languages of loggers that write decimal
// commas, too.
var roleWords = map[role][]string{
	timeRole:   {"time", "t", "elapsed", "timestamp", "clock", "seconds", "millis", "micros", "zeit", "temps", "tempo", "tiempo", "tid", "tijd", "czas"},
	forceRole:  {"force", "load", "f", "kraft", "last", "effort", "forza", "carico", "fuerza", "carga", "kracht", "siła", "newton", "newtons", "cell", "loadcell", "counts", "adc"},
	travelRole: {"travel", "displacement", "disp", "position", "pos", "stroke", "extension", "deflection", "crosshead", "lvdt", "movement", "slip", "x", "weg", "course", "déplacement", "deplacement", "corsa", "spostamento", "desplazamiento", "recorrido", "verplaatsing"},
}

// nameOf splits a header's field into what is before the unit and the unit, which
// stands in brackets, after a slash, after "in", or as the last word.
func nameOf(field string) (name, unit string) {
	s := strings.TrimSpace(strings.Trim(strings.TrimSpace(field), "\"'"))
	for _, pair := range []string{"[]", "()", "{}", "<>"} {
		i, j := strings.LastIndexByte(s, pair[0]), strings.LastIndexByte(s, pair[1])
		if i >= 0 && j > i {
			return strings.TrimSpace(s[:i] + s[j+1:]), strings.TrimSpace(s[i+1 : j])
		}
	}
	if i := strings.LastIndexByte(s, '/'); i > 0 {
		return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+1:])
	}
	words := strings.FieldsFunc(s, func(r rune) bool {
		return r == ' ' || r == '_' || r == ',' || r == ';' || r == '.' || r == ':' || r == '\t'
	})
	if len(words) > 1 {
		last := words[len(words)-1]
		rest := words[:len(words)-1]
		if len(rest) > 1 && strings.EqualFold(rest[len(rest)-1], "in") {
			rest = rest[:len(rest)-1]
		}
		return strings.Join(rest, " "), last
	}
	return s, ""
}

// roleOf finds the role of a header's field by its words.
func roleOf(name string) role {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == ' ' || r == '_' || r == '-' || r == '.' || r == ',' || r == ':' || r == '(' || r == ')' || r == '[' || r == ']' || r == '/'
	})
	for _, r := range []role{timeRole, forceRole, travelRole} {
		for _, w := range words {
			w = strings.TrimRight(w, "0123456789")
			for _, known := range roleWords[r] {
				if w == known {
					return r
				}
			}
		}
	}
	return noRole
}
