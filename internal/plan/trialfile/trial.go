package trialfile

import (
	"fmt"
	"time"

	"bondtrial"
)

// Quantities of a plan that carry their unit in their type.
type (
	Millimetre float64 // a length, mm
	Celsius    float64 // a temperature, °C
)

// MillimetrePerInch is exact by definition (NIST SP 811, appendix B.8).
const MillimetrePerInch = 25.4

// Trial is what a person wants to find out and what there is to do it with: the
// content of a trial file. A Trial that [Read] returns has passed every check
// that needs the file alone.
type Trial struct {
	Name     string
	Question string          // in the person's words; may be empty
	Units    bondtrial.Units // how strengths are shown
	Seed     uint64          // of every random order of the plan
	Blind    bool            // labels carry no adhesive's name

	Adhesives []Adhesive // at least two, names differ
	Control   string     // the adhesive that all others are compared with; empty: every pair is compared
	Woods     []Wood     // at least one, names differ
	Boards    []Board    // in the order of Woods, then of the file
	Reused    []Reused   // pieces of earlier trials
	Factors   []Factor   // further conditions; none: empty
	Pairs     string     // the factor whose two levels go to neighbouring pieces; empty: off

	SmallestDifference bondtrial.Percent // between two adhesives, that matters
	Scatter            bondtrial.Percent // expected, within boards: standard deviation of log strength times 100
	Chance             bondtrial.Percent // wanted, of finding the smallest difference
	SpecimensPerCell   int               // of each adhesive in each condition; 0: to be found by simulation

	Specimen Geometry
	Cutting  Cutting
	Work     Work
	Labels   LabelSheet

	// Assumed lists what the file left open and what was taken instead. It
	// belongs on the first page of a plan.
	Assumed []Assumption
}

// Conditions returns the number of combinations of the levels of all factors, 1
// where there is none.
func (t *Trial) Conditions() int { return 1 << len(t.Factors) }

// Adhesive is a product of the trial.
type Adhesive struct {
	Name     string
	Family   Family
	Open     time.Duration // from spreading to joining the pieces
	Closed   time.Duration // from joining to full pressure; 0: not given
	Clamp    time.Duration // under pressure; 0: none
	Cure     time.Duration // from full pressure until it may be broken, never less than Clamp
	Lowest   Celsius       // lowest temperature of application; NaN: not known
	Price    Money         // of one package; zero: not given
	Content  Content       // of one package; zero: not given
	Strength bondtrial.Megapascal

	// PerBatch is how many specimens one cartridge or mixing serves; 0: any
	// number, or not known.
	PerBatch int

	// Retested says that the adhesive was in an earlier trial and is here
	// again, so that the two can be linked.
	Retested bool

	Line int // in the file
}

// Money is an amount in a currency of ISO 4217.
type Money struct {
	Amount   float64
	Currency string
}

// Content is how much a package holds.
type Content struct {
	Amount float64
	Unit   string // "g" or "ml"
}

// Wood is a species of the trial.
type Wood struct {
	Name     string
	Strength bondtrial.Megapascal // expected of the wood in the joint; 0: not known, so that no limit is reckoned with
	Line     int
}

// Board is a piece of wood from which pieces are cut. It either has dimensions or
// a number of pieces, never both.
type Board struct {
	Wood      string
	Name      string     // numbered within its wood where the file gives no name
	Length    Millimetre // along the grain; 0 where Pieces is given
	Width     Millimetre
	Thickness Millimetre
	Pieces    int // already cut from it, or known to come from it; 0 where there are dimensions
	Line      int
}

// Reused are pieces of an earlier trial, to be planed and glued again.
type Reused struct {
	Wood      string
	Board     string // which one they came from; empty: not known
	Pieces    int
	Thickness Millimetre // now, before planing
	Uses      int        // how often they were glued
	Line      int
}

// Factor is a further condition with two levels.
type Factor struct {
	Name   string
	Levels [2]string
	Ratio  float64 // expected strength at the second level over that at the first
	Line   int
}

// Joint is a kind of specimen.
type Joint string

// The kinds of joint. Each joins two pieces of equal size.
const (
	BlockShear Joint = "block-shear" // two blocks, offset, sheared along the bond
	Lap        Joint = "lap"         // two strips, overlapping, pulled lengthwise
	Butt       Joint = "butt"        // end to end, pulled apart
	CrossLap   Joint = "cross-lap"   // crossed at right angles, pulled apart
)

// Geometry is the shape of a specimen: two pieces and the bond between them.
type Geometry struct {
	Joint     Joint
	Length    Millimetre // of a piece, along the grain
	Width     Millimetre
	Thickness Millimetre
	Overlap   Millimetre                 // along the grain; 0 where the file gives the area, and for butt and cross-lap
	Area      bondtrial.SquareMillimetre // bonded
}

// Cutting is what sawing and planing take away.
type Cutting struct {
	Kerf           Millimetre
	Planing        Millimetre // taken off the thickness each time a face is planed fresh
	LeastThickness Millimetre // of a piece that is still used
}

// Work is when and how fast the work is done.
type Work struct {
	Start       Date
	Location    *time.Location // of all clock times
	Hours       [7][]Span      // by time.Weekday; empty: no work that day
	DaysOff     []Date         // ascending, each once
	Clamps      int            // how many specimens can be under pressure at once; 0 only where none needs it
	GlueUp      time.Duration  // hands on one specimen: spread, join, clamp
	Break       time.Duration  // one specimen on the rig
	Temperature Celsius        // of the shop; NaN: not given

	// OneCartridge says that only one cartridge or mixing is open at a time,
	// so that specimens are glued in batches.
	OneCartridge bool
}

// Span is a stretch of working time, as clock times after midnight: From is
// before To, and To is at most 24 h.
type Span struct{ From, To time.Duration }

// Date is a day of the Gregorian calendar.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// String returns the date as year-month-day.
func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day) }

// At returns the moment that clocks in loc show the given time after midnight on
// the day. Where clocks are put forward past it, it is the moment that
// [time.Date] gives.
func (d Date) At(clock time.Duration, loc *time.Location) time.Time {
	s := int(clock / time.Second)
	return time.Date(d.Year, d.Month, d.Day, s/3600, s/60%60, s%60, 0, loc)
}

// Next returns the day after.
func (d Date) Next() Date { return dateOf(d.At(0, time.UTC).AddDate(0, 0, 1)) }

// Compare returns a negative number, 0 or a positive one where d is before, the
// same as or after e.
func (d Date) Compare(e Date) int { return d.At(0, time.UTC).Compare(e.At(0, time.UTC)) }

func dateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// LabelSheet is a sheet of labels.
type LabelSheet struct {
	Page                     string // "A4" or "letter"
	PageWidth, PageHeight    Millimetre
	Rows, Columns            int
	Top, Bottom, Left, Right Millimetre // margins
	GapAcross, GapDown       Millimetre // between neighbouring labels
}

// LabelSize returns the width and height of one label, mm.
func (s LabelSheet) LabelSize() (width, height Millimetre) {
	c, r := Millimetre(s.Columns), Millimetre(s.Rows)
	return (s.PageWidth - s.Left - s.Right - (c-1)*s.GapAcross) / c,
		(s.PageHeight - s.Top - s.Bottom - (r-1)*s.GapDown) / r
}

// Assumption is something that the file left open.
type Assumption struct {
	What   string // such as `adhesive "Pemmet white": open`
	Value  string // such as "5 min"
	Source string // where the value comes from
}
