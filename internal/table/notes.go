package table

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
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
		if p.opt.AreaMM2 > 0 || h.has(areaCol) {
			note("strength is read from %s; the bonded area is not used", h.strength)
		}
	case !h.has(areaCol):
		note("strength is %s over the area given, %s mm²", h.strength, plainNumber(p.opt.AreaMM2))
	case p.noArea:
		note("strength is %s over area_mm2, and over the area given, %s mm², where that is blank", h.strength, plainNumber(p.opt.AreaMM2))
	default:
		note("strength is %s over area_mm2", h.strength)
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
	if encoding != "" && encoding != noteUTF16 {
		warn("%s", encoding)
	}
	for _, i := range h.extra {
		if r := h.suggest(h.norms[i]); r != noRole {
			warn("column %s is not used; did you mean %s?", named(h.names[i]), r)
		}
	}
	if !t.HasFailure {
		warn("no column says how the joints failed (wood_failure_pct or failure): every reading counts as a bond that broke")
	}
	for i, r := range []role{woodFailureCol, moistureCol} {
		if p.highest[i] > 0 && p.highest[i] <= 1 {
			warn("no value of %s is above 1: percent are expected, 75 and not 0.75", r)
		}
	}
	if l := p.conflicts[0]; len(l) > 0 {
		warn("failure says that the wood failed and wood_failure_pct says 0, %s: the code decides", lines(l))
	}
	if l := p.conflicts[1]; len(l) > 0 {
		warn("failure says that the bond failed and wood_failure_pct says 100, %s: counted as wood-limited", lines(l))
	}
	if m := typical(p.readings); m > mostPlausible || m > 0 && m < leastPlausible {
		warn("the median strength is %.3g MPa, far from what glued wood reaches: is the unit in the name %s right?",
			m, named(h.names[h.at[h.strength]]))
	}
}

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

// lines writes line numbers for a note, the first ten of them.
func lines(l []int) string {
	if len(l) == 1 {
		return "line " + strconv.Itoa(l[0])
	}
	const most = 10
	var words []string
	for _, n := range l[:min(len(l), most)] {
		words = append(words, strconv.Itoa(n))
	}
	s := "lines " + strings.Join(words, ", ")
	if len(l) > most {
		s += fmt.Sprintf(" and %d more", len(l)-most)
	}
	return s
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
