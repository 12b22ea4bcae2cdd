package logger

import (
	"fmt"

	"bondtrial/internal/handwritten"
	"bondtrial/internal/trace"
)

// Column says which column something is in, and its unit; what is empty is found.
type Column struct {
	Name   string // as in the header, in any case; empty: found, or by Number
	Number int    // from 1; 0: by Name, or found
	Unit   string // one of those in the package's description; empty: as the header says
}

func (c Column) given() bool { return c.Name != "" || c.Number > 0 }

// Options overrule what is found. The zero value finds everything.
type Options struct {
	Separator  string                       // ",", ";", "tab", "space" or "|"; empty: found
	Decimal    string                       // "." or ","; empty: found
	Time       Column                       //
	Force      Column                       //
	Travel     Column                       //
	Rate       float64                      // Hz, where there is no column of time; 0: there is one
	NoTravel   bool                         // leave a column of travel unread
	FromCounts func(counts float64) float64 // N, by the rig's calibration; must be usable from several goroutines
	SkipBad    bool                         // leave out lines that cannot be read, and say how many
	MaxSamples int                          // Read refuses more than this; 0: 100 million
	Workers    int                          // goroutines that understand blocks; 0: one for each processor

	block int // bytes of a block, for tests; 0: the usual
}

// Result is a record as it was read, and how.
type Result struct {
	trace.Record
	Name    string
	Notes   []string // what was found and what was left out, a sentence each
	Lines   int      // of the file
	Comment int      // lines of comment between the numbers
	Blank   int      // blank lines between the numbers
	Headers int      // times that the header is repeated
	Bad     int      // lines left out by SkipBad
	Cut     bool     // the last line was cut off, and left out
}

// Problem is one thing in a file that cannot be read.
type Problem = handwritten.Problem

// MaxProblems is how many problems of a file are kept; the rest is counted.
const MaxProblems = 100

// Errors holds the problems of one file in the order of its lines.
type Errors struct {
	Name     string
	Problems []Problem // never empty
	More     int       // further ones that were counted and not kept
}

// Error lists all problems, one a line.
func (e *Errors) Error() string {
	return handwritten.Listed(e.Name, e.Problems, e.More)
}

func whole(name string, line int, format string, args ...any) *Errors {
	return &Errors{Name: name, Problems: []Problem{{Line: line, Message: fmt.Sprintf(format, args...)}}}
}
