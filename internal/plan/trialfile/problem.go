package trialfile

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bondtrial/internal/handwritten"
)

// MaxProblems is how many problems of one file are listed; further ones are
// counted.
const MaxProblems = 100

// Problem is one thing in a trial file that cannot be read, or cannot be right.
type Problem struct {
	Line    int    // counted from 1; 0 where the file as a whole is meant
	Where   string // which part of the trial: `adhesive "Tarn"`, "[work]"; empty at the top of the file
	Key     string // as written, or as it should be; empty where the whole part is meant
	Value   string // as written; empty where the message needs none
	Message string // what is wrong and how to mend it
}

// Errors holds every problem of one file, in the order of its lines.
type Errors struct {
	Name     string
	Problems []Problem // never empty
	More     int       // further problems that were counted and not kept, see MaxProblems
}

// Error lists all problems, one a line, each as
//
//	name:line: where: key "k": value "v": what is wrong and how to mend it
//
// without the parts that the problem does not have.
func (e *Errors) Error() string {
	var b strings.Builder
	for i, p := range e.Problems {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(e.Name)
		if p.Line > 0 {
			b.WriteString(":" + strconv.Itoa(p.Line))
		}
		b.WriteString(": ")
		if p.Where != "" {
			b.WriteString(p.Where + ": ")
		}
		if p.Key != "" {
			b.WriteString("key " + handwritten.Quoted(p.Key) + ": ")
		}
		if p.Value != "" {
			b.WriteString("value " + handwritten.Quoted(p.Value) + ": ")
		}
		b.WriteString(p.Message)
	}
	if e.More > 0 {
		fmt.Fprintf(&b, "\n%s: and %d more problems", e.Name, e.More)
	}
	return b.String()
}

// problems collects what is found while reading.
type problems struct {
	list  []Problem
	total int
}

func (p *problems) add(q Problem) {
	p.total++
	if len(p.list) < MaxProblems {
		p.list = append(p.list, q)
	}
}

// err returns the problems as an error, nil where there are none.
func (p *problems) err(name string) error {
	if p.total == 0 {
		return nil
	}
	slices.SortStableFunc(p.list, func(a, b Problem) int { return a.Line - b.Line })
	return &Errors{Name: name, Problems: p.list, More: p.total - len(p.list)}
}

// whole is the error of a file that cannot be read at all.
func whole(name string, line int, message string) error {
	return &Errors{Name: name, Problems: []Problem{{Line: line, Message: message}}}
}

// one or many of a thing: counted(1, "piece") is "1 piece".
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}
