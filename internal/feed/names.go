package feed

import (
	"slices"
	"strings"
)

// meaning is what a name or a unit beside a number says of it.
type meaning struct {
	role role
	unit string // the ending of the field's name: "ms", "n", "mm"; empty where nothing says it
}

// units are the spellings that devices use, in lower case.
var units = map[string]meaning{
	"s": {roleTime, "s"}, "sec": {roleTime, "s"}, "seconds": {roleTime, "s"},
	"ms": {roleTime, "ms"}, "msec": {roleTime, "ms"}, "milliseconds": {roleTime, "ms"},
	"us": {roleTime, "us"}, "µs": {roleTime, "us"}, "μs": {roleTime, "us"}, "microseconds": {roleTime, "us"},
	"n": {roleForce, "n"}, "newton": {roleForce, "n"}, "kn": {roleForce, "kn"},
	"kgf": {roleForce, "kgf"}, "kg": {roleForce, "kgf"}, "kp": {roleForce, "kgf"},
	"gf": {roleForce, "gf"}, "g": {roleForce, "gf"},
	"lbf": {roleForce, "lbf"}, "lb": {roleForce, "lbf"}, "lbs": {roleForce, "lbf"},
	"counts": {roleForce, "counts"}, "cts": {roleForce, "counts"},
	"mm": {roleTravel, "mm"}, "um": {roleTravel, "um"}, "µm": {roleTravel, "um"}, "μm": {roleTravel, "um"},
	"cm": {roleTravel, "cm"}, "m": {roleTravel, "m"}, "in": {roleTravel, "in"}, "inch": {roleTravel, "in"},
}

// names are what devices and loggers call their readings, in lower case.
var names = map[string]meaning{
	"t": {roleTime, ""}, "time": {roleTime, ""}, "timestamp": {roleTime, ""}, "elapsed": {roleTime, ""},
	"millis": {roleTime, "ms"}, "micros": {roleTime, "us"}, "ms": {roleTime, "ms"}, "us": {roleTime, "us"},
	"f": {roleForce, ""}, "force": {roleForce, ""}, "load": {roleForce, ""}, "weight": {roleForce, ""}, "mass": {roleForce, ""},
	"count": {roleForce, "counts"}, "counts": {roleForce, "counts"}, "raw": {roleForce, "counts"}, "adc": {roleForce, "counts"},
	"reading": {roleForce, ""}, "value": {roleForce, ""}, "newton": {roleForce, "n"}, "newtons": {roleForce, "n"},
	"x": {roleTravel, ""}, "travel": {roleTravel, ""}, "disp": {roleTravel, ""}, "displacement": {roleTravel, ""},
	"pos": {roleTravel, ""}, "position": {roleTravel, ""}, "stroke": {roleTravel, ""}, "extension": {roleTravel, ""}, "ext": {roleTravel, ""},
}

// nameMeaning reads a name such as "Force (N)", "time_ms", "travel [mm]" or "F".
func nameMeaning(s string) (meaning, bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	unit := ""
	if i := strings.LastIndexAny(s, "_([/ "); i > 0 {
		unit = strings.Trim(s[i+1:], " )]")
		if _, ok := units[unit]; ok {
			s = strings.Trim(s[:i], " _([/")
		}
	}
	m, ok := names[s]
	if !ok {
		return meaning{}, false
	}
	if u, ok := units[unit]; ok && u.role == m.role {
		m.unit = u.unit
	}
	return m, true
}

// unitMeaning reads a unit that stands right after a number.
func unitMeaning(s string) (meaning, bool) {
	m, ok := units[strings.ToLower(s)]
	return m, ok
}

// headerNames cuts a line of column names into them: at the first of semicolon, tab
// and comma that it holds, or else at blanks. It returns nil where they are not n, or
// one does not begin with a letter.
func headerNames(line string, n int) []string {
	var cut []string
	for _, sep := range []string{";", "\t", ",", "|"} {
		if strings.Contains(line, sep) {
			cut = strings.Split(line, sep)
			break
		}
	}
	if cut == nil {
		cut = strings.Fields(line)
	}
	if len(cut) != n {
		return nil
	}
	for i, s := range cut {
		cut[i] = strings.Trim(strings.TrimSpace(s), `"`)
	}
	if slices.ContainsFunc(cut, func(s string) bool { return s == "" || !isLetter(s[0]) }) {
		return nil
	}
	return cut
}
