package table

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/handwritten"
)

// table builds the result of a parser that found no problem.
func (p *parser) table(name, encoding string) *Table {
	h := p.head
	t := &Table{
		Name: name, Columns: h.names, Readings: p.readings, Extra: p.extra,
		HasWood: h.has(woodCol), HasBoard: h.has(boardCol), HasSession: h.has(sessionCol), HasTrial: h.has(trialCol),
		HasFailure: h.has(woodFailureCol) || h.has(failureCol),
	}
	for _, i := range h.extra {
		t.ExtraColumns = append(t.ExtraColumns, h.names[i])
	}
	for _, r := range p.readings {
		t.HasGlueOrder = t.HasGlueOrder || r.GlueOrder > 0
		t.HasBreakOrder = t.HasBreakOrder || r.BreakOrder > 0
		t.HasMoisture = t.HasMoisture || !math.IsNaN(float64(r.MoisturePct))
	}
	p.describe(t, encoding)
	p.warn(t, encoding)
	t.Notes = append(t.Notes, t.Warnings...)
	return t
}

// describe writes the notes on how the file was read.
func (p *parser) describe(t *Table, encoding string) {
	h := p.head
	note := func(format string, args ...any) { t.Notes = append(t.Notes, fmt.Sprintf(format, args...)) }
	decimal := "decimal point"
	if p.dec.commas > 0 {
		decimal = "decimal comma"
	}
	note("columns separated by %s, %s", separatorName(p.dec.sep), decimal)
	if encoding == noteUTF16 {
		note("%s", encoding)
	}
	switch {
	case !h.strength.isPeak():
		if p.opt.AreaMM2 > 0 || h.area != noRole {
			note("strength is read from %s; the bonded area is not used", h.title(h.strength))
		}
	case h.area == noRole:
		note("strength is %s over the area given, %s mm²", h.title(h.strength), plainNumber(p.opt.AreaMM2))
	case p.noArea:
		note("strength is %s over %s, and over the area given, %s mm², where that is blank", h.title(h.strength), h.title(h.area), plainNumber(p.opt.AreaMM2))
	default:
		note("strength is %s over %s", h.title(h.strength), h.title(h.area))
	}
	if !h.has(specimenCol) {
		note("no column specimen: readings are numbered in the order of the file")
	}
	var carried []string
	for _, i := range h.extra {
		if h.suggest(h.norms[i]) == noRole {
			carried = append(carried, h.names[i])
		}
	}
	if len(carried) > 0 {
		note("carried along unread: %s", listed(carried))
	}
}

// warn writes the notes that may change an answer.
func (p *parser) warn(t *Table, encoding string) {
	h := p.head
	warn := func(format string, args ...any) { t.Warnings = append(t.Warnings, fmt.Sprintf(format, args...)) }
	p.warnOfNames(warn)
	if encoding != "" && encoding != noteUTF16 {
		warn("%s", encoding)
	}
	for _, i := range h.extra {
		if r := h.suggest(h.norms[i]); r != noRole && r != noteCol {
			warn("column %s is not used: name it %s if that is meant", named(h.names[i]), r)
		}
	}
	if i := h.areaLike(); i >= 0 && h.strength.isPeak() && h.area == noRole {
		warn("column %s is not used: the bonded area is the one given", named(h.names[i]))
	}
	for i, r := range []role{woodFailureCol, moistureCol} {
		if p.shares[i].looksLikeFractions() {
			warn("no value of %s is above 1: percent are expected, 75 and not 0.75", r)
		}
	}
	if l := p.conflicts[0]; len(l) > 0 {
		warn("the code of failure (failure) says that the wood failed and the share of wood (wood_failure_pct) is 0, %s: the code decides", lines(l))
	}
	if l := p.conflicts[1]; len(l) > 0 {
		warn("the code of failure (failure) says that the bond failed and the share of wood (wood_failure_pct) is 100, %s: counted as wood-limited", lines(l))
	}
	p.warnOfStrengths(warn)
}

// warnOfStrengths points out strengths that are no strengths of glued wood, and
// single ones that are far from the others.
func (p *parser) warnOfStrengths(warn func(format string, args ...any)) {
	m := typical(p.readings)
	if m > mostPlausible || m > 0 && m < leastPlausible {
		also := ""
		if p.dec.commas > 0 && p.dec.ambiguous == p.dec.commas {
			also = ", and whether the commas in the numbers divide thousands"
		}
		warn("the median strength is %.3g MPa, far from what glued wood reaches: check the unit in the name %s%s",
			m, named(p.head.names[p.head.at[p.head.strength]]), also)
	}
	var above, below []string
	for i, r := range p.readings {
		s := float64(r.Strength)
		value := func() string { return plainNumber(p.asRead[i]) + " on line " + strconv.Itoa(r.Line) }
		switch {
		case r.SetAside != "":
		case s > mostTimes*m:
			above = append(above, value())
		case s < m/mostTimes:
			below = append(below, value())
		}
	}
	const advice = ": check the unit and the decimal point there"
	if len(above) > 0 {
		warn("more than %d times the median strength: %s%s", mostTimes, firstTen(above), advice)
	}
	if len(below) > 0 {
		warn("less than 1/%d of the median strength: %s%s", mostTimes, firstTen(below), advice)
	}
}

// mostTimes is how many times the median a strength may be before its unit is
// doubted: N for kgf is 10 times, psi for MPa 145; common practice, no source.
const mostTimes = 30

// Strengths of glued wood, MPa, that a median is not expected to leave: woods
// shear at 4 to 16 MPa and break in bending at 30 to 120 MPa (Wood Handbook,
// table 5-3); the lower limit is common practice, no source.
const (
	leastPlausible = 0.02
	mostPlausible  = 200
)

// typical returns the median strength in MPa of the readings that are used, 0
// where there are none.
func typical(rs []bondtrial.Reading) float64 {
	var s []float64
	for _, r := range rs {
		if r.SetAside == "" {
			s = append(s, float64(r.Strength))
		}
	}
	if len(s) == 0 {
		return 0
	}
	slices.Sort(s)
	return s[len(s)/2]
}

// lines writes line numbers for a note, with their specimens where these are named,
// the first ten of them.
func lines(l []conflict) string {
	words := make([]string, len(l))
	for i, c := range l {
		words[i] = strconv.Itoa(c.line)
		if c.code != "" {
			words[i] += " (" + handwritten.Shortened(c.code) + ")"
		}
	}
	if len(l) == 1 {
		return "line " + words[0]
	}
	return "lines " + firstTen(words)
}

// firstTen joins words for a note, the first ten of them.
func firstTen(words []string) string {
	const most = 10
	s := strings.Join(words[:min(len(words), most)], ", ")
	if len(words) > most {
		s += fmt.Sprintf(" and %d more", len(words)-most)
	}
	return s
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
