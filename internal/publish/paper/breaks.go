package paper

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// Breaks is the sheet that is broken by.
type Breaks struct {
	Paper Size // upright; the sheet is printed across
	Head  Head
	// Blind leaves the adhesive off the sheet, whatever the rows hold.
	Blind bool
	// Measured is what is read off the rig, with its unit, such as "peak force, N".
	// Empty: there is a column for force or strength, and one for its unit.
	Measured string
	// Codes explains the failure codes, one each, such as "CF: inside the adhesive".
	Codes []string
	Rows  []BreakRow
}

// BreakRow is one specimen, in break order.
type BreakRow struct {
	Number   int // in the break order, from 1
	Code     string
	Adhesive string    // not printed when the sheet is blind
	Earliest time.Time // when it is cured enough to be broken; the zero time leaves room to write, and where all are zero there is no such column
	Group    string    // named above the rows that share it; empty: none
}

// WriteBreaks writes the sheet as PDF. Each row has room for the peak force or
// strength with its unit, the share of wood on the broken faces, the failure code,
// a box to tick when the rig reached its limit, and remarks. The head with the
// cautions is on every page.
//
// No rows, and cautions that leave no room for one, are errors.
func WriteBreaks(w io.Writer, in Breaks) error {
	if err := checkSheet("break sheet", in.Paper, len(in.Rows)); err != nil {
		return err
	}
	return in.table().write(w, in.Paper)
}

func (in Breaks) table() table {
	t := table{
		title:  "Break sheet",
		head:   in.Head,
		fields: []string{"Date", "Broken by", "Rig", "Speed", "Moisture of the wood"},
		cols: []column{
			{head: "no.", least: 10, most: 14, align: right},
			{head: "code", least: 20, most: 28, bold: true, unlike: true},
		},
	}
	if len(in.Codes) > 0 {
		t.notes = []string{"Failure codes: " + strings.Join(in.Codes, "; ")}
	}
	named := false
	for _, r := range in.Rows {
		named = named || !in.Blind && r.Adhesive != ""
	}
	if named {
		t.cols = append(t.cols, column{head: "adhesive", least: 22, most: 48, unlike: true})
	}
	dated := slices.ContainsFunc(in.Rows, func(r BreakRow) bool { return !r.Earliest.IsZero() })
	if dated {
		t.cols = append(t.cols, column{head: "not before", least: 30, most: 38, align: centre})
	}
	if clean(in.Measured) == "" {
		t.cols = append(t.cols,
			column{head: "peak force or strength", kind: blank, least: 28, grow: 0.5},
			column{head: "unit", kind: blank, least: 16})
	} else {
		t.cols = append(t.cols, column{head: in.Measured, kind: blank, least: 32, grow: 0.5})
	}
	t.cols = append(t.cols,
		column{head: "wood on the faces, %", kind: blank, least: 20},
		column{head: "failure code", kind: blank, least: 20},
		column{head: "rig at its limit", kind: tick, least: 14},
		column{head: "remarks; if set aside, why", kind: blank, least: 40, grow: 3})
	for _, r := range in.Rows {
		cells := []string{fmt.Sprint(r.Number), r.Code}
		if named {
			cells = append(cells, r.Adhesive)
		}
		switch {
		case !r.Earliest.IsZero():
			cells = append(cells, r.Earliest.Format("Mon 2006-01-02 15:04"))
		case dated:
			cells = append(cells, "")
		}
		t.rows = append(t.rows, row{group: clean(r.Group), cells: cells})
	}
	return t
}
