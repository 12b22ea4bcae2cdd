package logger

import (
	"bytes"
	"fmt"
	"strings"

	"bondtrial/internal/handwritten"
)

// understand finds the layout of a file from its head.
func understand(name string, head []byte, ends bool, opt Options) (*layout, error) {
	l := &layout{eol: '\n', day: -1}
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		l.eol = '\r'
	}
	lines := linesOf(head, l.eol, ends)
	c, ok := dialect(lines, opt)
	if !ok {
		return nil, whole(name, 0, "holds no line of numbers near its beginning: give the text that the logger wrote, with a number for the force in each line")
	}
	l.sep, l.mark, l.pattern = c.sep, c.mark, c.pattern
	first := -1
	for i, h := range lines {
		if h.comment {
			continue
		}
		p := patternOf(split(h.text, l.sep), l.mark)
		l.sureMark = l.sureMark || bytes.IndexByte(h.text, l.mark) >= 0
		if first < 0 && like(p, l.pattern) && numeric(p) > 0 {
			first = i
			l.dataAt, l.dataLine = h.at, i+1
		}
	}
	l.findHeader(lines[:first])
	if err := l.assign(name, split(lines[first].text, l.sep), opt); err != nil {
		return nil, err
	}
	return l, nil
}

// findHeader looks upward from the first line of numbers for names, and for units
// between.
func (l *layout) findHeader(above []headLine) {
	for i := len(above) - 1; i >= 0; i-- {
		h := above[i]
		body := bytes.TrimSpace(h.text)
		if h.comment {
			body = uncommented(body)
		}
		if len(body) == 0 {
			continue
		}
		fields := l.headerFields(body)
		if fields == nil {
			continue
		}
		if l.units == nil && allUnits(fields) && i > 0 {
			l.units = fields
			continue
		}
		l.header, l.headerText = fields, string(bytes.TrimSpace(h.text))
		return
	}
	// Only one line of names that are units: N, mm.
	if l.units != nil {
		l.header, l.units = l.units, nil
	}
}

// headerFields splits a line into names where it has as many as a line of numbers has;
// nil where it does not, or where it is numbers itself.
func (l *layout) headerFields(body []byte) []string {
	want := len(l.pattern)
	try := func(fields []string) []string {
		for len(fields) > want && fields[len(fields)-1] == "" {
			fields = fields[:len(fields)-1]
		}
		for len(fields) < want && l.pattern[len(fields)] == isEmpty {
			fields = append(fields, "")
		}
		if len(fields) != want || numeric(patternOf(fields, l.mark)) > 0 {
			return nil
		}
		return fields
	}
	if f := try(split(body, l.sep)); f != nil {
		return f
	}
	if l.sep != ' ' {
		return nil
	}
	// Names with spaces in them, between columns of numbers that spaces divide.
	for _, sep := range []string{"\t", "  ", ",", ";"} {
		var fields []string
		for _, f := range strings.Split(text(body), sep) {
			if f = strings.TrimSpace(f); f != "" {
				fields = append(fields, f)
			}
		}
		if f := try(fields); f != nil {
			return f
		}
	}
	return nil
}

// allUnits reports whether every field that is not blank is a unit, in brackets or not.
func allUnits(fields []string) bool {
	some := false
	for _, f := range fields {
		u := strings.Trim(f, "[]() ")
		if u == "" || u == "-" {
			continue
		}
		known := massUnits[strings.ToLower(u)] != ""
		for _, r := range []role{timeRole, forceRole, travelRole} {
			_, ok := unitNamed(r, u)
			known = known || ok
		}
		if !known {
			return false
		}
		some = true
	}
	return some
}

// nameAt and unitAt are what the header says of a column.
func (l *layout) nameAt(i int) string {
	if i < len(l.header) {
		return l.header[i]
	}
	return ""
}

func (l *layout) unitAt(i int) string {
	if i < len(l.units) {
		if u := strings.Trim(l.units[i], "[]() "); u != "" && u != "-" {
			return u
		}
	}
	name, unit := nameOf(l.nameAt(i))
	if unit == "" {
		return name // a column may be named for its unit alone
	}
	return unit
}

// roleAt finds the role of a column by its name, or by a unit that is its name.
func (l *layout) roleAt(i int) role {
	name, _ := nameOf(l.nameAt(i))
	if r := roleOf(name); r != noRole {
		return r
	}
	whole := strings.TrimSpace(l.nameAt(i))
	for r, units := range map[role]string{timeRole: "s ms µs", forceRole: "N kN mN lbf kgf", travelRole: "mm µm"} {
		for _, u := range strings.Fields(units) {
			if whole == u {
				return r
			}
		}
	}
	return noRole
}

// assign finds the columns that are read and their units. Everything that is missing
// is said at once.
func (l *layout) assign(name string, firstRow []string, opt Options) error {
	var e Errors
	e.Name = name
	add := func(format string, args ...any) {
		e.Problems = append(e.Problems, Problem{Line: max(0, l.dataLine-1), Message: fmt.Sprintf(format, args...)})
	}
	given := []Column{opt.Time, opt.Force, opt.Travel}
	for k, r := range []role{timeRole, forceRole, travelRole} {
		l.columns[k] = column{at: -1}
		if r == travelRole && opt.NoTravel || r == timeRole && opt.Rate > 0 && !opt.Time.given() {
			continue
		}
		at, problem := l.place(r, given[k])
		if problem != "" {
			add("%s", problem)
			continue
		}
		if at < 0 {
			continue
		}
		c := column{at: at, name: l.nameAt(at)}
		if c.name == "" {
			c.name = fmt.Sprintf("number %d", at+1)
		}
		if problem := l.unit(&c, r, given[k], opt); problem != "" {
			add("%s", problem)
		}
		l.columns[k] = c
		l.last = max(l.last, at)
		if c.scale.clock {
			if _, d, ok := clock([]byte(field(firstRow, at)), l.mark); ok {
				l.day = d
			}
		}
	}
	for a := range 3 {
		for b := range a {
			if at := l.columns[a].at; at >= 0 && at == l.columns[b].at {
				add("column %q is given twice: give a column for each", l.columns[a].name)
			}
		}
	}
	if len(e.Problems) > 0 {
		return &e
	}
	return nil
}

func field(fields []string, i int) string {
	if i < len(fields) {
		return fields[i]
	}
	return ""
}

// place finds the column of a role; −1 where there is no travel.
func (l *layout) place(r role, given Column) (at int, problem string) {
	if given.Number > 0 {
		if given.Number > len(l.pattern) {
			return -1, fmt.Sprintf("there is no column %d for the %s: the lines have %d", given.Number, r, len(l.pattern))
		}
		return given.Number - 1, ""
	}
	var found []int
	for i := range l.pattern {
		n, _ := nameOf(l.nameAt(i))
		if given.Name != "" && (strings.EqualFold(strings.TrimSpace(l.nameAt(i)), strings.TrimSpace(given.Name)) || strings.EqualFold(n, strings.TrimSpace(given.Name))) ||
			given.Name == "" && l.pattern[i] != isText && l.roleAt(i) == r {
			found = append(found, i)
		}
	}
	if r == timeRole && len(found) > 1 { // a clock beside elapsed seconds
		var plain []int
		for _, i := range found {
			if l.pattern[i] == isNumber {
				plain = append(plain, i)
			}
		}
		if len(plain) == 1 {
			found = plain
		}
	}
	if r == timeRole && len(found) == 0 && given.Name == "" {
		for i, k := range l.pattern { // a clock needs no name
			if k == isClock {
				return i, ""
			}
		}
	}
	switch {
	case len(found) == 1:
		return found[0], ""
	case len(found) > 1:
		return -1, fmt.Sprintf("%d columns could be the %s, %s: say which, by name or number", len(found), r, l.listed(found))
	case given.Name != "":
		return -1, fmt.Sprintf("there is no column %s for the %s: %s", handwritten.Quoted(given.Name), r, l.columnsThere())
	case r == travelRole:
		return -1, ""
	case r == timeRole:
		return -1, "no column of time: name it in the header, like time_s, or say which column it is and its unit, or give the samples a second; " + l.columnsThere()
	}
	return -1, "no column of force: name it in the header, like force_N, or say which column it is and its unit; " + l.columnsThere()
}

func (l *layout) listed(at []int) string {
	var names []string
	for _, i := range at {
		names = append(names, handwritten.Quoted(l.nameAt(i)))
	}
	return strings.Join(names, " and ")
}

func (l *layout) columnsThere() string {
	if l.header == nil {
		return fmt.Sprintf("there are %d columns without a header", len(l.pattern))
	}
	var names []string
	for i := range min(len(l.pattern), 20) {
		names = append(names, handwritten.Quoted(l.nameAt(i)))
	}
	return "there are " + strings.Join(names, ", ")
}

// unit finds the unit of a column. It is never guessed.
func (l *layout) unit(c *column, r role, given Column, opt Options) (problem string) {
	shown := handwritten.Quoted(c.name)
	kind := byte(isNumber)
	if c.at < len(l.pattern) {
		kind = l.pattern[c.at]
	}
	switch {
	case r == timeRole && kind == isClock:
		c.scale, c.found = unitsOf[timeRole][clockUnit], true
		return ""
	case given.Unit != "":
		u, ok := unitNamed(r, given.Unit)
		if !ok {
			return fmt.Sprintf("%s is no unit of %s: write %s", handwritten.Quoted(given.Unit), r, unitList[r])
		}
		c.scale = u
	default:
		written := l.unitAt(c.at)
		u, ok := unitNamed(r, written)
		if !ok {
			if force := massUnits[strings.ToLower(written)]; force != "" && r == forceRole {
				return fmt.Sprintf("the %s in %s is in %s, a unit of mass: write %s if that is meant", r, shown, written, force)
			}
			if strings.EqualFold(written, "mn") && r == forceRole {
				return fmt.Sprintf("the unit of the force in %s may be meganewton or millinewton: write MN or mN", shown)
			}
			example := map[role]string{timeRole: "time_s", forceRole: "force_N", travelRole: "travel_mm"}[r]
			return fmt.Sprintf("the unit of the %s in %s is not known: write it in the header, like %s, or give it; %s", r, shown, example, unitList[r])
		}
		c.scale, c.found = u, true
	}
	if c.scale.counts && opt.FromCounts == nil {
		return fmt.Sprintf("the force in %s is in counts: give the rig's calibration", shown)
	}
	return ""
}
