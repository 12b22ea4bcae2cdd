package table

import (
	"math"
	"slices"
	"strings"

	"bondtrial"
)

const whereNothing = "leave the field blank where nothing was recorded"

// number reads a number from a known column; ok is false where it is blank or
// was reported. For a word that stands for a missing value the advice is given.
func (p *parser) number(rec record, r role, whenMissing string) (v float64, f field, ok bool) {
	f, there := p.cell(rec, r)
	if !there || f.text == "" {
		return math.NaN(), f, false
	}
	v, message := p.read(r, f.text, whenMissing)
	if message != "" {
		p.bad(r, f, "%s", message)
		return math.NaN(), f, false
	}
	return v, f, true
}

// read reads a number of a column, or says why it is none.
func (p *parser) read(r role, text, whenMissing string) (v float64, message string) {
	if missing(text) {
		return 0, wrongNumber + ": " + whenMissing
	}
	if sign, rest := unsure(text); sign != 0 {
		return 0, p.adviceOnSign(r, sign, rest)
	}
	return p.dec.number(text)
}

// adviceOnSign says how to write a number that has a sign like > before it.
func (p *parser) adviceOnSign(r role, sign rune, number string) string {
	try := p.dec // counts no decimal mark
	if _, message := try.number(number); message != "" {
		return message
	}
	strength := slices.Contains(strengthRoles, r)
	switch {
	case sign == '~' && strength:
		return "write the number alone, " + number
	case sign == '~':
		return "write the number alone, " + number + ": the best estimate will do"
	case sign == '>' && strength:
		return "write the number that was reached, " + number + ", alone; that the bond held more is told by failure or wood_failure_pct " +
			"where the wood gave way, by rig_limited where the rig did"
	case strength:
		return "write the number that was read, alone, or leave the field blank and give a reason in set_aside"
	}
	return "write one number alone: the best estimate will do"
}

// No joint of any material holds less or more than this, MPa.
const (
	leastStrength bondtrial.Megapascal = 1e-4
	mostStrength  bondtrial.Megapascal = 1e4
)

// strength reads the strength, from a stress or from a peak over its area. It
// returns the number as written.
func (p *parser) strength(rec record, rd *bondtrial.Reading, used bool) float64 {
	r := p.head.strength
	if r == noRole {
		return math.NaN()
	}
	v, f, ok := p.number(rec, r, "leave the field blank where nothing was measured, and give the reason in set_aside")
	mm2, areaOK := 1.0, true
	if r.isPeak() {
		mm2, areaOK = p.area(rec, used || ok)
	}
	switch {
	case f.text == "" && used:
		p.bad(r, f, "blank: write what was read, or give a reason in set_aside")
	case !ok || !areaOK:
	case v < 0, v == 0 && used:
		p.bad(r, f, "must be greater than 0; a specimen that came apart before the test is set aside with that reason")
	default:
		s := inMegapascal(r, v, mm2)
		if v != 0 && !(s >= leastStrength && s <= mostStrength) {
			p.bad(r, f, "too small or too large to be a strength: it would be %.3g MPa", float64(s))
			break
		}
		rd.Strength = s
	}
	return v
}

// inMegapascal converts a value of the column r, a peak with its area in mm².
func inMegapascal(r role, v, area float64) bondtrial.Megapascal {
	switch r {
	case strengthPSICol:
		return bondtrial.Megapascal(v * bondtrial.MegapascalPerPSI)
	case peakKNCol:
		v *= 1000
	case peakLbfCol:
		v *= bondtrial.NewtonPerPoundForce
	case peakKgfCol:
		v *= bondtrial.NewtonPerKilogramForce
	}
	return bondtrial.Stress(bondtrial.Newton(v), bondtrial.SquareMillimetre(area))
}

// squareMillimetres of the units in which an area is read. An inch is 25.4 mm.
var squareMillimetres = map[role]float64{areaCol: 1, areaCm2Col: 100, areaIn2Col: 25.4 * 25.4}

// area reads the bonded area in mm² that belongs to a peak.
func (p *parser) area(rec record, wanted bool) (mm2 float64, ok bool) {
	r := p.head.area
	if r == noRole {
		p.noArea = true
		return p.opt.AreaMM2, p.opt.AreaMM2 > 0
	}
	v, f, ok := p.number(rec, r, "write the bonded area, or leave the field blank and "+p.opt.areaOption())
	switch {
	case ok && v <= 0:
		p.bad(r, f, "must be greater than 0")
		return 0, false
	case ok:
		return v * squareMillimetres[r], true
	case f.text != "": // reported
		return 0, false
	case p.opt.AreaMM2 > 0:
		p.noArea = true
		return p.opt.AreaMM2, true
	case wanted:
		p.bad(r, f, "blank: write the bonded area, or %s", p.opt.areaOption())
	}
	return 0, false
}

const (
	writeShare = "write 0 where the bond broke with no wood on the faces"
	writeCode  = "write how the joint failed, like CF where the bond broke and SF where the wood did"
)

// failure reads how the specimen failed.
func (p *parser) failure(rec record, rd *bondtrial.Reading, used bool) {
	rig, ok := p.cell(rec, rigLimitedCol)
	switch strings.ToLower(rig.text) {
	case "", "no", "n", "false", "0":
	case "yes", "y", "true", "1":
		rd.RigLimited = true
	default:
		p.bad(rigLimitedCol, rig, "write yes or no; blank is no")
	}
	share, shareColumn := p.cell(rec, woodFailureCol)
	code, codeColumn := p.cell(rec, failureCol)
	wanted := used && !(ok && rd.RigLimited)
	noShare, noCode := share.text == "" || missing(share.text), code.text == "" || missing(code.text)

	whenMissing := whereNothing
	if wanted && noCode {
		whenMissing = writeShare
	}
	rd.WoodFailure = p.percent(rec, woodFailureCol, whenMissing)
	whenMissing = whereNothing
	if wanted && noShare {
		whenMissing = writeCode
	}
	rd.Failure = p.code(code, whenMissing)
	if !wanted {
		return
	}
	switch {
	case share.text != "" || code.text != "":
	case shareColumn && codeColumn:
		p.bad(woodFailureCol, share, "blank, and failure too: %s", writeShare)
	case shareColumn:
		p.bad(woodFailureCol, share, "blank: %s", writeShare)
	case codeColumn:
		p.bad(failureCol, code, "blank: %s", writeCode)
	}
	switch {
	case rd.Failure.InWood() && rd.WoodFailure == 0:
		p.conflicts[0] = append(p.conflicts[0], p.conflict(rec, rd))
	case rd.Failure != bondtrial.NoFailureCode && !rd.Failure.InWood() && rd.WoodFailure == 100:
		p.conflicts[1] = append(p.conflicts[1], p.conflict(rec, rd))
	}
}

// conflict names a row that disagrees with itself.
func (p *parser) conflict(rec record, rd *bondtrial.Reading) conflict {
	if !p.head.has(specimenCol) {
		return conflict{line: rec.line}
	}
	return conflict{rec.line, rd.Code}
}

// code reads a failure code.
func (p *parser) code(f field, whenMissing string) bondtrial.Failure {
	if missing(f.text) {
		p.bad(failureCol, f, "not a code: %s", whenMissing)
		return bondtrial.NoFailureCode
	}
	code, err := bondtrial.ParseFailure(f.text)
	if err != nil {
		p.bad(failureCol, f, "%s", err.Error())
	}
	return code
}

// percent reads a share; NaN where it is blank or was reported. A % sign after
// the number is allowed.
func (p *parser) percent(rec record, r role, whenMissing string) bondtrial.Percent {
	nan := bondtrial.Percent(math.NaN())
	f, ok := p.cell(rec, r)
	if !ok || f.text == "" {
		return nan
	}
	text, signed := strings.CutSuffix(f.text, "%")
	text = strings.TrimSpace(text)
	v, message := 0.0, wrongNumber
	if text != "" {
		v, message = p.read(r, text, whenMissing)
	}
	switch {
	case message != "":
		p.bad(r, f, "%s", message)
	case v < 0 || v > 100:
		p.bad(r, f, "a share in percent is from 0 to 100")
	case r == woodFailureCol && 0 < v && v < 1 && !signed:
		p.bad(r, f, "%s", "less than one: write per cent, 75 and not 0.75; a share below one per cent is written with the sign, as 0.5%")
	default:
		s := &p.shares[shareIndex(r)]
		s.highest = max(s.highest, v)
		s.signed = s.signed || signed && v > 0
		return bondtrial.Percent(v + 0) // -0 becomes 0
	}
	return nan
}

// looksLikeFractions reports whether no value is above 1 and none has a % sign.
func (s shares) looksLikeFractions() bool { return s.highest > 0 && s.highest <= 1 && !s.signed }

// shareIndex is the place of a percent column in parser.shares.
func shareIndex(r role) int {
	if r == woodFailureCol {
		return 0
	}
	return 1
}

// conditions reads moisture and the positions in the orders.
func (p *parser) conditions(rec record, rd *bondtrial.Reading) {
	rd.MoisturePct = p.percent(rec, moistureCol, whereNothing)
	rd.GlueOrder = p.order(rec, glueOrderCol, rd.Trial, p.orders[0])
	rd.BreakOrder = p.order(rec, breakOrderCol, rd.Trial, p.orders[1])
}

// order reads a position in an order; 0 where it is blank or was reported.
func (p *parser) order(rec record, r role, trial string, taken map[orderKey]int) int {
	v, f, ok := p.number(rec, r, whereNothing)
	if !ok {
		return 0
	}
	if v < 1 || v > 1e9 || v != math.Trunc(v) {
		p.bad(r, f, "a position is a whole number from 1")
		return 0
	}
	key := orderKey{trial, int(v)}
	if line, twice := taken[key]; twice {
		p.bad(r, f, "is on line %d too: a position is taken once, or left blank", line)
		return 0
	}
	taken[key] = f.line
	return int(v)
}
