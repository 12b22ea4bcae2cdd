package paper

import (
	"fmt"
	"io"
	"time"
)

// GlueUp is the sheet that is glued up by.
type GlueUp struct {
	Paper Size // upright; the sheet is printed across
	Head  Head
	Blind bool // Adhesive holds blind names
	Rows  []GlueUpRow
}

// GlueUpRow is one specimen, in glue-up order.
type GlueUpRow struct {
	Number   int // in the glue-up order, from 1
	Code     string
	Adhesive string
	Wood     string
	Pieces   string // boards and pieces, such as "board 3: 5 + 6"
	// Planned is when spreading begins; the zero time leaves room to write. Rows of
	// one day that follow one another stand under its date.
	Planned time.Time
	// OpenLimit is how long after spreading the joint must be under its clamp; 0
	// where it is not known.
	OpenLimit time.Duration
	// ClampOff is when the clamp may come off; the zero time where there is none.
	ClampOff time.Time
	// Group is named above the rows that share it, such as "session 2, cartridge
	// 1"; empty: none.
	Group string
}

// WriteGlueUp writes the sheet as PDF. Each row has boxes to tick (glued,
// spoiled) and room for the times of spreading and clamping and for notes. The
// head with the cautions is on every page.
//
// No rows, and cautions that leave no room for one, are errors.
func WriteGlueUp(w io.Writer, in GlueUp) error {
	if err := checkSheet("glue-up sheet", in.Paper, len(in.Rows)); err != nil {
		return err
	}
	return in.table().write(w, in.Paper)
}

func (in GlueUp) table() table {
	adhesive := column{head: "adhesive", least: 22, most: 48, grow: 0.5, unlike: true}
	if in.Blind {
		adhesive = column{head: "blind adhesive", least: 17, most: 30, bold: true, unlike: true}
	}
	t := table{
		title:  "Glue-up sheet",
		head:   in.Head,
		fields: []string{"Date", "Glued up by", "Room temperature", "Relative humidity", "Moisture of the wood"},
		cols: []column{
			{head: "no.", least: 10, most: 14, align: right},
			{head: "code", least: 20, most: 28, bold: true, unlike: true},
			adhesive,
			{head: "wood", least: 18, most: 32, grow: 0.2},
			{head: "boards and pieces", least: 20, most: 40, grow: 0.2},
			{head: "planned", least: 14, most: 16, align: centre},
			{head: "under clamp within", least: 17, most: 24, align: centre},
			{head: "clamp off at", least: 19, most: 24, align: centre},
			{head: "glued", kind: tick},
			{head: "spoiled", kind: tick},
			{head: "time spread", kind: blank, least: 17},
			{head: "time clamped", kind: blank, least: 17},
			{head: "notes", kind: blank, least: 30, grow: 3},
		},
	}
	for _, r := range in.Rows {
		planned, day := "", ""
		if !r.Planned.IsZero() {
			planned, day = r.Planned.Format("15:04"), r.Planned.Format("Monday 2006-01-02")
		}
		off := "–"
		if !r.ClampOff.IsZero() {
			off = r.ClampOff.Format("Mon 15:04")
		}
		t.rows = append(t.rows, row{group: joined(day, r.Group), cells: []string{
			fmt.Sprint(r.Number), r.Code, r.Adhesive, r.Wood, r.Pieces, planned, minutes(r.OpenLimit), off,
		}})
	}
	return t
}

// joined names a group by its day and its own name.
func joined(day, group string) string {
	switch {
	case day == "":
		return group
	case clean(group) == "":
		return day
	}
	return day + " – " + group
}

// minutes writes a duration as it is read beside a clock; a part of a minute is
// dropped, which makes a limit no later than it is.
func minutes(d time.Duration) string {
	m := int(d / time.Minute)
	switch {
	case d <= 0:
		return "–"
	case m == 0:
		return fmt.Sprintf("%d\u00a0s", int(d/time.Second))
	case m < 60:
		return fmt.Sprintf("%d\u00a0min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d\u00a0h", m/60)
	}
	return fmt.Sprintf("%d\u00a0h %d\u00a0min", m/60, m%60)
}

// checkSheet returns an error when there is nothing to print or no page for it.
func checkSheet(name string, s Size, rows int) error {
	if !(s.Width >= 200 && s.Width <= 500 && s.Height >= 250 && s.Height <= 500) {
		return fmt.Errorf("%s: paper of %g × %g mm; use A4 (210 × 297 mm) or US letter (215.9 × 279.4 mm)", name, s.Width, s.Height)
	}
	if rows == 0 {
		return fmt.Errorf("%s: there are no rows to print", name)
	}
	return nil
}

// write makes the document of a table, printed across the paper.
func (t table) write(w io.Writer, s Size) error {
	d := newDocument(s.across(), t.title+": "+t.head.Trial, t.head.Date)
	if err := t.draw(d); err != nil {
		return err
	}
	return d.write(w)
}
