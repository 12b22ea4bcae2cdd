package feed

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"bondtrial"
)

// role is what a number in a line is.
type role uint8

const (
	roleSkip role = iota
	roleTime
	roleForce
	roleTravel
)

// field is a name that may stand in braces.
type field struct {
	name  string
	role  role
	scale float64 // to s, N or mm; 1 where the number is kept as sent
	words string
}

// fields lists the names. Scales follow from the definitions of the units; those of
// force are the root package's.
var fields = []field{
	{"skip", roleSkip, 1, "something that is not used"},
	{"time_s", roleTime, 1, "time in seconds"},
	{"time_ms", roleTime, 1e-3, "time in milliseconds"},
	{"time_us", roleTime, 1e-6, "time in microseconds"},
	{"time_min", roleTime, 60, "time in minutes"},
	{"counts", roleForce, 1, "force as counts"},
	{"force_n", roleForce, 1, "force in N"},
	{"force_kn", roleForce, 1e3, "force in kN"},
	{"force_kgf", roleForce, bondtrial.NewtonPerKilogramForce, "force in kilogram-force"},
	{"force_gf", roleForce, bondtrial.NewtonPerKilogramForce / 1e3, "force in gram-force"},
	{"force_lbf", roleForce, bondtrial.NewtonPerPoundForce, "force in pound-force"},
	{"travel", roleTravel, 1, "travel, unit not known"},
	{"travel_mm", roleTravel, 1, "travel in mm"},
	{"travel_um", roleTravel, 1e-3, "travel in µm"},
	{"travel_cm", roleTravel, 10, "travel in cm"},
	{"travel_m", roleTravel, 1e3, "travel in m"},
	{"travel_in", roleTravel, 25.4, "travel in inches"},
}

func fieldNamed(name string) (field, bool) {
	i := slices.IndexFunc(fields, func(f field) bool { return f.name == name })
	if i < 0 {
		return field{}, false
	}
	return fields[i], true
}

// part is one piece of a pattern: a field, a blank, or text that must stand there.
type part struct {
	text  []byte
	blank bool
	field field // where text is nil and blank is false
	comma bool
}

// Pattern says where the readings stand in a line. The language is described in the
// package's documentation.
type Pattern struct {
	text  string
	parts []part
}

// Values are the readings of one line; NaN where the pattern has none.
type Values struct {
	Time   float64 // s, by the device's clock
	Force  float64 // N, or counts
	Travel float64 // mm, or as sent where its unit is not known
}

// ParsePattern reads a pattern. The error names what is wrong, and where.
func ParsePattern(s string) (*Pattern, error) {
	p := &Pattern{text: strings.TrimSpace(s)}
	if len(s) > MaxLine {
		return nil, fmt.Errorf("the pattern has %d characters: lines have at most %d", len(s), MaxLine)
	}
	rest := p.text
	for rest != "" {
		n, err := p.take(rest)
		if err != nil {
			return nil, fmt.Errorf("pattern %q, character %d: %w", s, len(p.text)-len(rest)+1, err)
		}
		rest = rest[n:]
	}
	return p, p.check()
}

// take reads one piece and returns its length.
func (p *Pattern) take(s string) (int, error) {
	switch {
	case isBlank(s[0]):
		p.parts = append(p.parts, part{blank: true})
		return blanks([]byte(s)), nil
	case strings.HasPrefix(s, "{{"), strings.HasPrefix(s, "}}"):
		p.literal(s[:1])
		return 2, nil
	case s[0] == '}':
		return 0, fmt.Errorf("a closing brace without an opening one: write }} for a brace in the line")
	case s[0] != '{':
		n := strings.IndexAny(s, "{} \t")
		if n < 0 {
			n = len(s)
		}
		p.literal(s[:n])
		return n, nil
	}
	end := strings.IndexByte(s, '}')
	if end < 0 {
		return 0, fmt.Errorf("the brace is not closed: write a name and } after it, as in {counts}")
	}
	name, comma := strings.CutSuffix(s[1:end], ":comma")
	f, ok := fieldNamed(name)
	if !ok {
		return 0, fmt.Errorf("no reading is called {%s}: the names are %s", name, fieldNames())
	}
	p.parts = append(p.parts, part{field: f, comma: comma})
	return end + 1, nil
}

func (p *Pattern) literal(s string) {
	if n := len(p.parts); n > 0 && p.parts[n-1].text != nil {
		p.parts[n-1].text = append(p.parts[n-1].text, s...)
		return
	}
	p.parts = append(p.parts, part{text: []byte(s)})
}

func fieldNames() string {
	var names []string
	for _, f := range fields {
		names = append(names, "{"+f.name+"}")
	}
	return strings.Join(names, " ")
}

func (pt part) isField() bool { return pt.text == nil && !pt.blank }

// check refuses what no line could fit, or what could be read in two ways.
func (p *Pattern) check() error {
	var count [4]int
	for i, pt := range p.parts {
		if !pt.isField() {
			continue
		}
		count[pt.field.role]++
		if i > 0 && p.parts[i-1].isField() {
			return fmt.Errorf("pattern %q: nothing separates {%s} from {%s}: put what stands between them, a blank for blanks",
				p.text, p.parts[i-1].field.name, pt.field.name)
		}
	}
	switch {
	case count[roleForce] == 0:
		return fmt.Errorf("pattern %q has no force: write {counts}, or {force_n} where the line has newtons", p.text)
	case count[roleForce] > 1:
		return fmt.Errorf("pattern %q has more than one force: leave one, and write {skip} for the others", p.text)
	case count[roleTime] > 1:
		return fmt.Errorf("pattern %q has more than one time: leave one, and write {skip} for the others", p.text)
	case count[roleTravel] > 1:
		return fmt.Errorf("pattern %q has more than one travel: leave one, and write {skip} for the others", p.text)
	}
	return nil
}

// String returns the pattern as it is written.
func (p *Pattern) String() string { return p.text }

// Counts reports whether the force comes as counts, which only the rig's calibration
// makes newton of.
func (p *Pattern) Counts() bool { return p.has("counts") }

// TravelKnown reports whether there is a travel and its unit is known.
func (p *Pattern) TravelKnown() bool { return p.hasRole(roleTravel) && !p.has("travel") }

// HasTime reports whether lines carry the device's clock.
func (p *Pattern) HasTime() bool { return p.hasRole(roleTime) }

func (p *Pattern) has(name string) bool {
	return slices.ContainsFunc(p.parts, func(pt part) bool { return pt.isField() && pt.field.name == name })
}

func (p *Pattern) hasRole(r role) bool {
	return slices.ContainsFunc(p.parts, func(pt part) bool { return pt.isField() && pt.field.role == r })
}

// Words says what stands in a line, from left to right.
func (p *Pattern) Words() string {
	var words []string
	comma := false
	for _, pt := range p.parts {
		if pt.isField() {
			words = append(words, pt.field.words)
			comma = comma || pt.comma
		}
	}
	s := strings.Join(words, ", then ")
	if comma {
		s += "; with a decimal comma"
	}
	return s
}

// Match reads a line. It returns false where the line does not fit, and allocates
// nothing.
func (p *Pattern) Match(line []byte) (Values, bool) {
	v := Values{Time: math.NaN(), Force: math.NaN(), Travel: math.NaN()}
	gap := false // there was a blank before what comes
	for i := range p.parts {
		pt := &p.parts[i]
		if n := blanks(line); n > 0 {
			line, gap = line[n:], true
		}
		switch {
		case pt.blank:
			if !gap {
				return v, false
			}
			continue
		case pt.text != nil:
			if !bytes.HasPrefix(line, pt.text) {
				return v, false
			}
			line = line[len(pt.text):]
		case pt.field.role == roleSkip:
			n := p.skip(i, line)
			if n < 0 {
				return v, false
			}
			line = line[n:]
		default:
			x, n := number(line, pt.comma)
			if n == 0 {
				return v, false
			}
			line = line[n:]
			if x *= pt.field.scale; math.IsInf(x, 0) {
				return v, false
			}
			v.set(pt.field.role, x)
		}
		gap = false
	}
	return v, blanks(line) == len(line)
}

// skip returns the length of the text that the field at i passes over, up to the
// first place where what must follow it stands; or −1 where it does not.
func (p *Pattern) skip(i int, line []byte) int {
	if i+1 == len(p.parts) {
		return len(line)
	}
	for n := range len(line) + 1 {
		if p.begins(p.parts[i+1:], line[n:]) {
			return n
		}
	}
	return -1
}

// begins reports whether a line may go on with the given parts, by the first of them
// and, after a blank, the second.
func (p *Pattern) begins(parts []part, line []byte) bool {
	if parts[0].blank {
		n := blanks(line)
		if n == 0 {
			return false
		}
		parts, line = parts[1:], line[n:]
	}
	switch {
	case len(parts) == 0 || parts[0].blank:
		return true
	case parts[0].text != nil:
		return bytes.HasPrefix(line, parts[0].text)
	case parts[0].field.role == roleSkip:
		return true
	}
	_, n := number(line, parts[0].comma)
	return n > 0
}

func (v *Values) set(r role, x float64) {
	switch r {
	case roleTime:
		v.Time = x
	case roleForce:
		v.Force = x
	case roleTravel:
		v.Travel = x
	}
}
