package rig

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/handwritten"
)

// Problem is one thing in a calibration table that cannot be read, or cannot be
// right.
type Problem = handwritten.Problem

// Problems holds every problem of one table, in the order of its lines.
type Problems struct {
	Name string
	List []Problem // never empty
	More int       // that were counted and not kept, see MaxProblems
}

// MaxProblems is the largest number of problems that are listed.
const MaxProblems = 100

// MaxPoints is the largest number of readings that a calibration table may have.
const MaxPoints = 100_000

// Error lists all problems, one a line, each as
//
//	name:line: column "x": value "y": what is wrong and how to mend it
//
// without the parts that the problem does not have.
func (e *Problems) Error() string {
	return handwritten.Listed(e.Name, e.List, e.More)
}

// loadColumn is a column that may hold the load.
type loadColumn struct {
	name, unit string  // unit of the Point
	factor     float64 // to it
}

var loadColumns = []loadColumn{
	{"mass_kg", "kg", 1}, {"mass_g", "kg", 1e-3}, {"mass_lb", "kg", 0.45359237},
	{"force_n", "N", 1}, {"force_kn", "N", 1000}, {"force_lbf", "N", bondtrial.NewtonPerPoundForce}, {"force_kgf", "N", bondtrial.NewtonPerKilogramForce},
}

const (
	seriesColumn    = "series"
	directionColumn = "direction"
	shownColumn     = "shown"
)

// ParsePoints reads a calibration table: CSV text with a header and a row a reading,
//
//	series     which time the loads were hung up, as 1, 2, 3
//	direction  up where the load was reached by hanging up, down by taking down
//	mass_kg    all that hangs, 0 for nothing; or mass_g, mass_lb, force_n, force_kn,
//	           force_lbf, force_kgf
//	shown      what the sensor showed: counts, or the number on the display
//
// in any order; columns of other names are passed over. Fields are separated by
// commas, semicolons or tabs, whichever the header has; beside semicolons and tabs a
// decimal comma is read. Blank lines and lines that begin with # are passed over.
//
// The error is a *Problems with every problem at once; there are no points beside
// it. name is how messages call the table.
func ParsePoints(text, name string) ([]Point, error) {
	p := &parser{name: name}
	points := p.parse(text)
	if p.total == 0 {
		return points, nil
	}
	slices.SortStableFunc(p.list, func(a, b Problem) int { return a.Line - b.Line })
	return nil, &Problems{Name: name, List: p.list, More: p.total - len(p.list)}
}

type parser struct {
	name  string
	sep   byte
	at    map[string]int // column by name
	load  loadColumn
	list  []Problem
	total int
	marks []marked // the numbers with a decimal mark
}

// marked is a number with a comma or a point, as it was written.
type marked struct {
	line         int
	column, text string
}

// thousands reports whether the mark stands as one between thousands does: after
// one to three digits that do not begin with 0, and before three.
func (m marked) thousands() bool {
	s := strings.TrimLeft(m.text, "+-−")
	i := strings.IndexAny(s, ".,")
	return 1 <= i && i <= 3 && s[0] != '0' && len(s) == i+4 && strings.Trim(s[i+1:], "0123456789") == ""
}

func (p *parser) add(line int, column, value, format string, args ...any) {
	p.total++
	if len(p.list) < MaxProblems {
		p.list = append(p.list, Problem{Line: line, Column: column, Value: strings.TrimSpace(value), Message: fmt.Sprintf(format, args...)})
	}
}

const saveAs = "save the table as CSV (UTF-8) and give that file"

func (p *parser) parse(text string) []Point {
	text = strings.TrimPrefix(text, "\ufeff")
	switch {
	case handwritten.NotText(text) != "":
		p.add(0, "", "", "is %s, not a text file: %s", handwritten.NotText(text), saveAs)
		return nil
	case handwritten.Markup(text):
		p.add(0, "", "", "is a web page or XML document, not a table: %s", saveAs)
		return nil
	}
	if i := handwritten.InvalidAt(text); i >= 0 {
		p.add(handwritten.LineAt(text, i), "", "", "is not UTF-8 here: %s", saveAs)
		return nil
	}
	if i := strings.IndexByte(text, 0); i >= 0 {
		p.add(handwritten.LineAt(text, i), "", "", "holds a zero byte, so it is not a text file: %s", saveAs)
		return nil
	}
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	var points []Point
	for i, row := range strings.Split(text, "\n") {
		if strings.Trim(row, " \t,;\"") == "" || strings.HasPrefix(strings.TrimSpace(row), "#") {
			continue
		}
		if p.at == nil {
			if !p.header(i+1, row) {
				return nil
			}
			continue
		}
		if point, ok := p.point(i+1, row); ok {
			points = append(points, point)
		}
		if len(points) > MaxPoints {
			p.add(i+1, "", "", "more than %d readings: this is no calibration table made by hand; give the mean of each load", MaxPoints)
			return nil
		}
	}
	p.judgeMarks()
	if p.at == nil {
		p.add(0, "", "", "has no header: write %s in the first line, and a reading a line below", exampleHeader)
	} else if len(points) == 0 && p.total == 0 {
		p.add(0, "", "", "has a header and no readings: write a reading a line below it")
	}
	return points
}

// judgeMarks refuses decimal commas beside decimal points, and a comma that may
// divide thousands unless another number of its column settles it.
func (p *parser) judgeMarks() {
	points, settled := false, map[string]bool{}
	for _, m := range p.marks {
		if strings.Contains(m.text, ".") {
			points = true
		} else if !m.thousands() {
			settled[m.column] = true
		}
	}
	for _, m := range p.marks {
		switch i := strings.IndexByte(m.text, ','); {
		case i < 0:
		case m.thousands() && (points || !settled[m.column]):
			p.add(m.line, m.column, m.text, "a comma that may divide thousands or decimals: write %s%s or %s.%s", m.text[:i], m.text[i+1:], m.text[:i], m.text[i+1:])
		case points:
			p.add(m.line, m.column, m.text, "a decimal comma, while other numbers have a decimal point: write one kind throughout")
		}
	}
}

const exampleHeader = "series,direction,mass_kg,shown"

// header reads the names of the columns; it reports whether rows can be read.
func (p *parser) header(line int, row string) bool {
	p.sep = ','
	for _, sep := range []byte{'\t', ';'} {
		if strings.IndexByte(row, sep) >= 0 {
			p.sep = sep
			break
		}
	}
	fields, trouble := p.split(row)
	if trouble != "" {
		p.add(line, "", "", "%s", trouble)
		return false
	}
	p.at = map[string]int{}
	before := p.total
	var strange []string
	for i, f := range fields {
		name := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(f)), " ", "_")
		known := slices.Contains([]string{seriesColumn, directionColumn, shownColumn}, name) || slices.ContainsFunc(loadColumns, func(c loadColumn) bool { return c.name == name })
		switch {
		case !known:
			strange = append(strange, name)
		default:
			if _, twice := p.at[name]; twice {
				p.add(line, name, "", "stands twice in the header: keep one")
			}
			p.at[name] = i
		}
	}
	for _, name := range []string{seriesColumn, directionColumn, shownColumn} {
		if _, ok := p.at[name]; !ok {
			p.missing(line, name, strange)
		}
	}
	p.findLoad(line, strange)
	return p.total == before
}

// findLoad takes the one column with the load.
func (p *parser) findLoad(line int, strange []string) {
	var found []string
	for _, c := range loadColumns {
		if _, ok := p.at[c.name]; ok {
			p.load, found = c, append(found, c.name)
		}
	}
	switch {
	case len(found) == 0:
		names := make([]string, len(loadColumns))
		for i, c := range loadColumns {
			names[i] = c.name
		}
		advice := ""
		if s := near(strange, names); s != "" {
			advice = fmt.Sprintf("; is %s meant?", s)
		}
		p.add(line, "", "", "no column has the load with its unit: name one of %s%s", strings.Join(names, ", "), advice)
	case len(found) > 1:
		p.add(line, found[1], "", "the load stands in %s: keep one of them", listed(found))
	}
}

var columnMeaning = map[string]string{
	seriesColumn:    "which time the loads were hung up, as 1, 2, 3",
	directionColumn: "up where the load was reached by hanging up, down by taking down",
	shownColumn:     "what the sensor showed",
}

func (p *parser) missing(line int, name string, strange []string) {
	advice := ""
	if s := near(strange, []string{name}); s != "" {
		advice = fmt.Sprintf("; is %s meant?", s)
	}
	p.add(line, name, "", "is missing from the header: %s%s", columnMeaning[name], advice)
}

// near is the first of the strange names that is nearly a known one, quoted.
func near(strange, known []string) string {
	for _, s := range strange {
		for _, k := range known {
			if len(s) > 0 && len(s) < 40 && handwritten.Distance(s, k, 2) <= 2 {
				return handwritten.Quoted(s)
			}
		}
	}
	return ""
}

// point reads one row.
func (p *parser) point(line int, row string) (Point, bool) {
	before := p.total
	fields, trouble := p.split(row)
	if trouble != "" {
		p.add(line, "", "", "%s", trouble)
		return Point{}, false
	}
	field := func(name string) string {
		if i := p.at[name]; i < len(fields) {
			return strings.TrimSpace(fields[i])
		}
		return ""
	}
	out := Point{Series: field(seriesColumn), Unit: p.load.unit, Line: line}
	if out.Series == "" {
		p.add(line, seriesColumn, "", "is blank: write which time the loads were hung up, as 1")
	}
	switch d := strings.ToLower(field(directionColumn)); d {
	case "up", "rising", "loading":
		out.Direction = Up
	case "down", "falling", "unloading":
		out.Direction = Down
	case "":
		p.add(line, directionColumn, "", "is blank: write up or down")
	default:
		p.add(line, directionColumn, field(directionColumn), "write up or down")
	}
	out.Load = p.load.factor * p.number(line, p.load.name, field(p.load.name))
	if out.Load < 0 {
		p.add(line, p.load.name, field(p.load.name), "a load below 0: write all that hangs, and 0 for nothing")
	}
	out.Shown = p.number(line, shownColumn, field(shownColumn))
	if math.IsInf(out.Load, 0) {
		p.add(line, p.load.name, field(p.load.name), "too large for a load")
	}
	return out, p.total == before
}

// number reads a plain decimal number; on a problem it returns 0.
func (p *parser) number(line int, column, s string) float64 {
	text := s
	switch {
	case s == "":
		p.add(line, column, "", "is blank: write the number, or leave the whole row out")
		return 0
	case strings.ContainsRune(s, ',') && p.sep == ',':
		p.add(line, column, s, "a comma in a number, in a table separated by commas: write a decimal point, or separate the columns by semicolons")
		return 0
	case strings.Count(s, ",")+strings.Count(s, ".") > 1:
		p.add(line, column, s, "two marks in one number: write it without marks between thousands")
		return 0
	}
	if strings.ContainsAny(s, ".,") {
		p.marks = append(p.marks, marked{line, column, s})
	}
	text = strings.Replace(text, ",", ".", 1)
	text = strings.Replace(text, "−", "-", 1)
	v, err := strconv.ParseFloat(text, 64)
	if err != nil && v == 0 || strings.Trim(text, "+-.0123456789eE") != "" {
		p.add(line, column, s, "not a number: write the number alone; its unit belongs in the column's name")
		return 0
	}
	if math.IsInf(v, 0) || math.Abs(v) > 1e15 {
		p.add(line, column, s, "too large to be right")
		return 0
	}
	return v
}

// split divides a row into fields. A field may stand in quotation marks, a mark
// inside it written twice.
func (p *parser) split(row string) (fields []string, trouble string) {
	for {
		row = strings.TrimLeft(row, " ")
		if !strings.HasPrefix(row, `"`) {
			f, rest, more := strings.Cut(row, string(p.sep))
			fields = append(fields, f)
			if !more {
				return fields, ""
			}
			row = rest
			continue
		}
		var f strings.Builder
		row = row[1:]
		for {
			part, rest, closed := strings.Cut(row, `"`)
			if !closed {
				return nil, "a quotation mark is opened and not closed on this line"
			}
			f.WriteString(part)
			if row = rest; !strings.HasPrefix(row, `"`) {
				break
			}
			f.WriteByte('"')
			row = row[1:]
		}
		fields = append(fields, f.String())
		row = strings.TrimLeft(row, " ")
		if row == "" {
			return fields, ""
		}
		if row[0] != p.sep {
			return nil, "text after a closing quotation mark: write a mark inside a quoted field twice"
		}
		row = row[1:]
	}
}

// FormatPoints writes points as ParsePoints reads them, their loads in the unit of
// the first: all have to be in the same one. It panics where they are not.
func FormatPoints(points []Point) string {
	var b strings.Builder
	unit := "kg"
	if len(points) > 0 {
		unit = points[0].Unit
	}
	b.WriteString("series,direction," + map[string]string{"kg": "mass_kg", "N": "force_n"}[unit] + ",shown\n")
	for _, p := range points {
		if p.Unit != unit {
			panic("rig: loads in kg and in N in one table")
		}
		series := `"` + strings.ReplaceAll(p.Series, `"`, `""`) + `"`
		fmt.Fprintf(&b, "%s,%s,%s,%s\n", series, p.Direction, strconv.FormatFloat(p.Load, 'g', -1, 64), strconv.FormatFloat(p.Shown, 'g', -1, 64))
	}
	return b.String()
}
