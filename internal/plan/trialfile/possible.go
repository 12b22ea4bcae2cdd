package trialfile

import (
	"fmt"
	"math"
	"time"

	"bondtrial/internal/handwritten"
)

// possible reports what the file alone shows to be impossible, and by how much.
// What could not be read is passed over here: that is reported already.
func (r *reader) possible() {
	r.openLongEnough()
	r.warmEnough()
	r.hoursLongEnough()
	r.boardsLargeEnough()
	r.woodEnough()
	r.labelsLargeEnough()
}

// openLongEnough compares one glue-up with the time that the adhesive gives for
// it: from spreading to joining, and where the file says so, on to full pressure.
func (r *reader) openLongEnough() {
	glueUp := r.trial.Work.GlueUp
	for _, a := range r.trial.Adhesives {
		left, what := a.Open, "the open time"
		if a.Closed > 0 {
			left, what = a.Open+a.Closed, "open and closed time together"
		}
		if a.Open == 0 || glueUp <= left {
			continue
		}
		r.bad.add(Problem{Line: a.Line, Where: "adhesive " + handwritten.Quoted(a.Name), Key: "open",
			Message: fmt.Sprintf("%s, %s, is %s too short for one glue-up, %s (glue_up): be quicker, or take an adhesive that leaves more time",
				what, plainTime(left), plainTime(glueUp-left), plainTime(glueUp))})
	}
}

// warmEnough compares the shop with what the adhesives need.
func (r *reader) warmEnough() {
	shop := r.trial.Work.Temperature
	if r.trial.Work.GlueUp == 0 {
		return
	}
	for _, a := range r.trial.Adhesives {
		if short := a.Lowest - shop; short > 0 { // false where one is not known
			r.bad.add(Problem{Line: a.Line, Where: "adhesive " + handwritten.Quoted(a.Name), Key: "lowest_temperature_c",
				Message: fmt.Sprintf("the shop, at %s °C, is %s °C too cold for it: it needs %s °C", trimmed(shop), trimmed(short), trimmed(a.Lowest))})
		}
	}
}

// hoursLongEnough compares one glue-up and one break with the longest stretch of
// work.
func (r *reader) hoursLongEnough() {
	w := r.trial.Work
	most := longest(w.Hours)
	if most == 0 {
		return
	}
	for _, c := range []struct {
		key, what string
		takes     time.Duration
	}{{"glue_up", "one glue-up", w.GlueUp}, {"break", "one break", w.Break}} {
		if short := c.takes - most; short > 0 {
			r.bad.add(Problem{Line: r.hoursLine, Where: "[work]", Key: c.key,
				Message: fmt.Sprintf("%s takes %s, which is %s longer than the longest stretch of work, %s",
					c.what, plainTime(c.takes), plainTime(short), plainTime(most))})
		}
	}
}

// boardsLargeEnough compares each board with one piece.
func (r *reader) boardsLargeEnough() {
	g := r.trial.Specimen
	reported := map[int]bool{} // by line: boards that are alike are reported once
	for _, b := range r.trial.Boards {
		if b.Pieces > 0 || reported[b.Line] {
			continue
		}
		for _, c := range []struct {
			what       string
			have, need Millimetre
		}{{"short", b.Length, g.Length}, {"narrow", b.Width, g.Width}, {"thin", b.Thickness, g.Thickness}} {
			if c.have < c.need {
				reported[b.Line], r.doubtful[b.Wood] = true, true
				r.bad.add(Problem{Line: b.Line, Where: fmt.Sprintf("board %s of %s", handwritten.Quoted(b.Name), b.Wood),
					Message: fmt.Sprintf("is %s mm too %s for one piece: it has %s mm, a piece needs %s mm", trimmed(c.need-c.have), c.what, trimmed(c.have), trimmed(c.need))})
			}
		}
	}
}

// woodEnough compares the pieces that each wood can give at the very most with
// those that the trial needs at the very least. Whether the boards can really be
// cut so is for the cut list to find.
func (r *reader) woodEnough() {
	t := r.trial
	if len(t.Adhesives) < 2 || t.Specimen.Thickness == 0 {
		return
	}
	n, why := t.SpecimensPerCell, "specimens_per_cell"
	if n == 0 {
		n, why = 2, "two in each cell, the least there is"
	}
	need := 2 * n * len(t.Adhesives) * t.Conditions()
	for _, w := range t.Woods {
		if w.Name == "" || r.doubtful[w.Name] || r.doubtful[""] {
			continue
		}
		have, sources := r.mostPieces(w.Name)
		switch {
		case sources == 0:
			r.bad.add(Problem{Line: w.Line, Where: "wood " + handwritten.Quoted(w.Name), Key: "boards",
				Message: "is missing: write boards = 5 with the dimensions of one, or a [[board]] for each, or [[reused]] pieces"})
		case sources > 0 && have < need:
			r.bad.add(Problem{Line: w.Line, Where: "wood " + handwritten.Quoted(w.Name),
				Message: fmt.Sprintf("its boards give at most %s, and the trial needs at least %d (two for each specimen; %s): %d short",
					counted(have, "piece"), need, why, need-have)})
		}
	}
}

// mostPieces returns a number of pieces of a wood that no way of cutting can
// exceed: the volume of each board over that of a piece, each with a saw cut
// added, as a board needs none behind its last piece.
func (r *reader) mostPieces(name string) (pieces, sources int) {
	g, k := r.trial.Specimen, r.trial.Cutting.Kerf
	for _, b := range r.trial.Boards {
		if b.Wood != name {
			continue
		}
		sources++
		if b.Pieces > 0 {
			pieces += b.Pieces
			continue
		}
		share := float64((b.Length + k) * (b.Width + k) * (b.Thickness + k) / ((g.Length + k) * (g.Width + k) * (g.Thickness + k)))
		pieces += int(math.Min(share*(1+1e-9), 1e9)) // for the rounding of inches
	}
	for _, p := range r.trial.Reused {
		if p.Wood == name {
			sources++
			pieces += p.Pieces
		}
	}
	return pieces, sources
}

// Least size of a label: a code that a telephone reads, with its quiet zone, and a
// short code beside it (common practice, no source).
const (
	leastLabelWidth  Millimetre = 36
	leastLabelHeight Millimetre = 16
)

// labelsLargeEnough checks that the labels fit on the page and can be read.
func (r *reader) labelsLargeEnough() {
	l := r.trial.Labels
	if l.PageWidth == 0 {
		return
	}
	width, height := l.LabelSize()
	for _, c := range []struct {
		key, what   string
		have, least Millimetre
	}{{"columns", "wide", width, leastLabelWidth}, {"rows", "high", height, leastLabelHeight}} {
		if c.have < c.least {
			r.bad.add(Problem{Line: r.labelsLine, Where: "[labels]", Key: c.key,
				Message: fmt.Sprintf("a label would be %s mm %s, %s mm less than a readable one, %s mm: take fewer %s, or smaller margins and gaps",
					trimmed(max(c.have, 0)), c.what, trimmed(c.least-max(c.have, 0)), trimmed(c.least), c.key)})
		}
	}
}
