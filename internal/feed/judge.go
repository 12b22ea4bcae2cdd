package feed

import (
	"fmt"
	"math"
	"strings"
)

// How a device's clock is told from other numbers: it never goes back, and it runs as
// fast as the computer's, within clockTolerance, in some unit, over at least
// clockSpan seconds. Common practice, no source.
const (
	clockTolerance = 0.10
	clockSpan      = 0.5
)

// judge says what each column is, and writes the pattern.
func (s *survey) judge() Detected {
	d := Detected{Sure: true}
	means := make([]meaning, len(s.columns))
	named := make([]bool, len(s.columns))
	for i := range s.columns {
		means[i], named[i] = s.byName(i)
	}
	dropTwice(means)
	s.findClock(means, named, &d)
	s.findForce(means, named, &d)
	s.findTravel(means, named, &d)
	text, notes := s.write(means, &d)
	p, err := ParsePattern(text)
	if err != nil {
		return Detected{}
	}
	d.Pattern = p
	d.Words = p.Words()
	if notes != "" {
		d.Words += " (" + notes + ")"
	}
	return d
}

// byName reads what the header, the key and the unit say of a column. named is true
// also where a name is there and means nothing known: such a column is not guessed at.
func (s *survey) byName(i int) (m meaning, named bool) {
	c := s.columns[i]
	label := c.key
	if s.header != nil {
		label = s.header[i]
	}
	if label != "" {
		named = true
		m, _ = nameMeaning(label)
	}
	if u, ok := unitMeaning(c.unit); ok {
		named = true
		if m.role == roleSkip && label == "" || m.role == u.role {
			m = u
		}
	} else if c.unit != "" {
		named = true
	}
	return m, named
}

// dropTwice keeps the first column of each role.
func dropTwice(means []meaning) {
	var seen [4]bool
	for i, m := range means {
		if seen[m.role] {
			means[i] = meaning{}
		}
		seen[m.role] = m.role != roleSkip
	}
}

func holder(means []meaning, r role) int {
	for i, m := range means {
		if m.role == r {
			return i
		}
	}
	return -1
}

// findClock settles which column is the device's clock and its unit.
func (s *survey) findClock(means []meaning, named []bool, d *Detected) {
	i := holder(means, roleTime)
	if i >= 0 && means[i].unit != "" {
		return
	}
	for j := range s.columns {
		if i >= 0 && j != i || i < 0 && (named[j] || len(s.columns) == 1) || means[j].role != roleSkip && j != i {
			continue
		}
		values := s.columns[j].values
		if !neverBack(values) {
			continue
		}
		unit, span := s.clockUnit(values)
		switch {
		case unit != "":
			means[j] = meaning{roleTime, unit}
			return
		case span < clockSpan:
			d.Sure = false
			means[j], named[j] = meaning{}, true
			d.Doubts = append(d.Doubts, fmt.Sprintf("number %d rises as a clock does, and its unit cannot be told: say it in the pattern, as in {time_ms}; until then the time of arrival counts", j+1))
			return
		case span < 4*clockSpan:
			d.Sure = false // a burst at the start may hide how fast a clock runs
			named[j] = named[j] || countsLines(values)
		case countsLines(values):
			means[j], named[j] = meaning{}, true
		case i < 0 && s.othersFall(j, named):
			named[j] = true
			d.Doubts = append(d.Doubts, fmt.Sprintf("number %d rises with every line, and not at the pace of a clock: it is not used; where it is a reading, give the pattern", j+1))
		}
	}
	if i >= 0 && means[i].unit == "" {
		means[i] = meaning{}
		d.Doubts = append(d.Doubts, fmt.Sprintf("number %d is called a time, and its unit cannot be told: say it in the pattern, as in {time_ms}; until then the time of arrival counts", i+1))
	}
}

// othersFall reports whether a column besides j without a name falls at times, as a
// force does.
func (s *survey) othersFall(j int, named []bool) bool {
	for i, c := range s.columns {
		if i != j && !named[i] && !neverBack(c.values) {
			return true
		}
	}
	return false
}

func neverBack(values []float64) bool {
	for i := 1; i < len(values); i++ {
		if values[i] < values[i-1] {
			return false
		}
	}
	return len(values) > 1 && values[len(values)-1] > values[0]
}

func countsLines(values []float64) bool {
	for i := 1; i < len(values); i++ {
		if values[i]-values[i-1] != 1 {
			return false
		}
	}
	return len(values) >= sureLines
}

// clockUnit returns the unit in which the values run as the computer's clock did, or
// "", and the seconds that went by. Lines that were held up and came together at the
// start hide the pace, so it is also looked for from a quarter and from half of the
// lines on.
func (s *survey) clockUnit(values []float64) (unit string, span float64) {
	n := len(values)
	span = s.arrival[n-1] - s.arrival[0]
	for _, from := range []int{0, n / 4, n / 2} {
		seconds := s.arrival[n-1] - s.arrival[from]
		if seconds < clockSpan {
			break
		}
		rate := (values[n-1] - values[from]) / seconds
		for _, u := range clockUnits {
			if math.Abs(rate/u.perSecond-1) < clockTolerance {
				return u.name, span
			}
		}
	}
	return "", span
}

var clockUnits = []struct {
	name      string
	perSecond float64
}{{"s", 1}, {"ms", 1e3}, {"us", 1e6}, {"min", 1.0 / 60}}

// findForce settles which column is the force: one that says so, or the first that
// says nothing.
func (s *survey) findForce(means []meaning, named []bool, d *Detected) {
	i := holder(means, roleForce)
	for _, wanted := range []bool{false, true} { // a column with an unknown name only where no other is left
		for j := 0; i < 0 && j < len(means); j++ {
			if means[j].role == roleSkip && named[j] == wanted {
				i = j
				means[j] = meaning{roleForce, ""}
			}
		}
	}
	if i < 0 {
		return
	}
	if means[i].unit == "" {
		means[i].unit = "counts"
	}
	if u := strings.ToLower(s.columns[i].unit); u == "kg" || u == "g" || u == "lb" || u == "lbs" {
		d.Doubts = append(d.Doubts, "a mass is taken for the force that it weighs at standard gravity")
	}
	if named[i] {
		return
	}
	for j, m := range means {
		if j != i && m.role == roleSkip && !named[j] {
			d.Doubts = append(d.Doubts, fmt.Sprintf("number %d is taken for the force because it comes first: where it is not, give the pattern, as in {skip},{counts}", i+1))
			return
		}
	}
}

// findTravel settles which column is the travel: one that says so, or the first
// after the force that says nothing.
func (s *survey) findTravel(means []meaning, named []bool, d *Detected) {
	if holder(means, roleTravel) >= 0 {
		return
	}
	force := holder(means, roleForce)
	for j := force + 1; force >= 0 && j < len(means); j++ {
		if means[j].role == roleSkip && !named[j] {
			means[j] = meaning{roleTravel, ""}
			d.Doubts = append(d.Doubts, fmt.Sprintf("number %d is taken for the travel, in a unit that is not known: say it in the pattern, as in {travel_mm}", j+1))
			return
		}
	}
}

// write puts the names into the form, and says which numbers are not used.
func (s *survey) write(means []meaning, d *Detected) (pattern, notes string) {
	var b strings.Builder
	var unused []string
	for i, piece := range strings.Split(s.form, hole) {
		if i > 0 {
			name := fieldName(means[i-1])
			if name == "skip" {
				unused = append(unused, fmt.Sprint(i))
			} else if s.comma {
				name += ":comma"
			}
			b.WriteString("{" + name + "}")
		}
		b.WriteString(piece)
	}
	if len(unused) > 0 {
		notes = "not used: number " + strings.Join(unused, " and ")
	}
	return b.String(), notes
}

func fieldName(m meaning) string {
	switch m.role {
	case roleTime:
		return "time_" + m.unit
	case roleForce:
		if m.unit != "counts" {
			return "force_" + m.unit
		}
		return "counts"
	case roleTravel:
		if m.unit != "" {
			return "travel_" + m.unit
		}
		return "travel"
	}
	return "skip"
}
