package table

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bondtrial/internal/handwritten"
)

// Problem is one thing in a file that cannot be read, or cannot be right.
type Problem = handwritten.Problem

// Errors holds every problem of one file, in the order of its lines.
type Errors struct {
	Name     string
	Problems []Problem // never empty
	More     int       // further problems that were counted and not kept, see MaxProblems
}

// Error lists all problems, one a line, each as
//
//	name:line: column "x": value "y": what is wrong and how to mend it
//
// without the parts that the problem does not have.
func (e *Errors) Error() string {
	return handwritten.Listed(e.Name, e.Problems, e.More)
}

// whole is the error of a file that cannot be read at all.
func whole(name string, line int, message string) *Errors {
	return &Errors{Name: name, Problems: []Problem{{Line: line, Message: message}}}
}

// problems collects what is found while reading.
type problems struct {
	list  []Problem
	total int
}

func (p *problems) add(line int, column, value, format string, args ...any) {
	p.total++
	if len(p.list) == MaxProblems {
		return
	}
	message := format
	if len(args) > 0 {
		message = fmt.Sprintf(format, args...)
	}
	p.list = append(p.list, Problem{Line: line, Column: column, Value: strings.TrimSpace(value), Message: message})
}

// badQuotation reports the fault of a record, with the first line of the field.
func (p *problems) badQuotation(rec record, columns []string, where string) {
	f, column := rec.fields[rec.at], ""
	if rec.at < len(columns) {
		column = columns[rec.at]
	}
	value, _, _ := strings.Cut(strings.ReplaceAll(handwritten.Shortened(f.text), "\r", "\n"), "\n")
	p.add(f.line, column, strings.Clone(value), "%s", where+rec.fault)
}

// err returns the problems as an error, nil where there are none.
func (p *problems) err(name string) error {
	if p.total == 0 {
		return nil
	}
	slices.SortStableFunc(p.list, func(a, b Problem) int { return a.Line - b.Line })
	return &Errors{Name: name, Problems: p.list, More: p.total - len(p.list)}
}

// named shows a column in a note.
func named(s string) string {
	q := handwritten.Quoted(s)
	return "'" + q[1:len(q)-1] + "'"
}

// listed joins names for a message, the first twenty of them.
func listed(names []string) string {
	const most = 20
	shown := make([]string, 0, most)
	for _, n := range names[:min(len(names), most)] {
		shown = append(shown, handwritten.Shortened(n))
	}
	s := strings.Join(shown, ", ")
	if len(names) > most {
		s += fmt.Sprintf(" and %d more", len(names)-most)
	}
	return strings.Map(func(r rune) rune {
		if strconv.IsPrint(r) {
			return r
		}
		return ' '
	}, s)
}
