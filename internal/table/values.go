package table

import (
	"math"
	"strings"

	"bondtrial"
)

// strength reads the strength, from a stress or from a peak over its area.
func (p *parser) strength(rec record, rd *bondtrial.Reading, used bool) {
	r := p.head.strength
	if r == noRole {
		return
	}
	v, f, ok := p.number(rec, r)
	area, areaOK := 1.0, true
	if r.isPeak() {
		area, areaOK = p.area(rec, used || ok)
	}
	switch {
	case f.text == "" && used:
		p.bad(r, f, "blank: write what was read, or give a reason in set_aside")
	case !ok || !areaOK:
	case v < 0, v == 0 && used:
		p.bad(r, f, "must be greater than 0; a specimen that came apart before the test is set aside with that reason")
	default:
		s := inMegapascal(r, v, area)
		if !(s > 0 || v == 0) || math.IsInf(float64(s), 0) {
			p.bad(r, f, "too small or too large to be a strength")
			return
		}
		rd.Strength = s
	}
}

// inMegapascal converts a value of the column r, a peak with its area in mm².
func inMegapascal(r role, v, area float64) bondtrial.Megapascal {
	switch r {
	case strengthPSICol:
		return bondtrial.Megapascal(v * bondtrial.MegapascalPerPSI)
	case peakLbfCol:
		v *= bondtrial.NewtonPerPoundForce
	case peakKgfCol:
		v *= bondtrial.NewtonPerKilogramForce
	}
	return bondtrial.Stress(bondtrial.Newton(v), bondtrial.SquareMillimetre(area))
}

// area reads the bonded area in mm² that belongs to a peak.
func (p *parser) area(rec record, wanted bool) (mm2 float64, ok bool) {
	v, f, ok := p.number(rec, areaCol)
	switch {
	case ok && v <= 0:
		p.bad(areaCol, f, "must be greater than 0")
		return 0, false
	case ok:
		return v, true
	case f.text != "": // reported
		return 0, false
	case p.opt.AreaMM2 > 0:
		p.noArea = true
		return p.opt.AreaMM2, true
	case wanted && p.head.has(areaCol):
		p.bad(areaCol, f, "blank: write the bonded area, or give one area in mm² for all")
	}
	return 0, false
}

// failure reads how the specimen failed.
func (p *parser) failure(rec record, rd *bondtrial.Reading, used bool) {
	rig, ok := p.cell(rec, rigLimitedCol)
	switch strings.ToLower(rig.text) {
	case "", "no", "n", "false", "0":
	case "yes", "y", "true", "1":
		rd.RigLimited = true
	default:
		p.bad(rigLimitedCol, rig, "write yes or no")
	}
	share, shareColumn := p.cell(rec, woodFailureCol)
	rd.WoodFailure = p.percent(rec, woodFailureCol)
	code, codeColumn := p.cell(rec, failureCol)
	var err error
	if rd.Failure, err = bondtrial.ParseFailure(code.text); err != nil {
		p.bad(failureCol, code, "%s", err.Error())
	}
	if !used || ok && rd.RigLimited {
		return
	}
	switch {
	case share.text != "" || code.text != "":
	case shareColumn && codeColumn:
		p.bad(woodFailureCol, share, "blank, and failure too: write 0 where the bond broke with no wood on the faces")
	case shareColumn:
		p.bad(woodFailureCol, share, "blank: write 0 where the bond broke with no wood on the faces")
	case codeColumn:
		p.bad(failureCol, code, "blank: write how the joint failed, like CF where the bond broke and SF where the wood did")
	}
	switch {
	case rd.Failure.InWood() && rd.WoodFailure == 0:
		p.conflicts[0] = append(p.conflicts[0], rec.line)
	case rd.Failure != bondtrial.NoFailureCode && !rd.Failure.InWood() && rd.WoodFailure == 100:
		p.conflicts[1] = append(p.conflicts[1], rec.line)
	}
}

// percent reads a share; NaN where it is blank or was reported. A % sign after
// the number is allowed.
func (p *parser) percent(rec record, r role) bondtrial.Percent {
	nan := bondtrial.Percent(math.NaN())
	f, ok := p.cell(rec, r)
	if !ok || f.text == "" {
		return nan
	}
	text := strings.TrimSpace(strings.TrimSuffix(f.text, "%"))
	v, message := 0.0, wrongNumber
	if text != "" {
		v, message = p.dec.number(text)
	}
	switch {
	case message != "":
		p.bad(r, f, "%s", message)
	case v < 0 || v > 100:
		p.bad(r, f, "a share in percent is from 0 to 100")
	default:
		i := shareIndex(r)
		p.highest[i] = max(p.highest[i], v)
		return bondtrial.Percent(v + 0) // -0 becomes 0
	}
	return nan
}

// shareIndex is the place of a percent column in parser.highest.
func shareIndex(r role) int {
	if r == woodFailureCol {
		return 0
	}
	return 1
}

// conditions reads moisture and the positions in the orders.
func (p *parser) conditions(rec record, rd *bondtrial.Reading) {
	rd.MoisturePct = p.percent(rec, moistureCol)
	rd.GlueOrder = p.order(rec, glueOrderCol, rd.Trial, p.orders[0])
	rd.BreakOrder = p.order(rec, breakOrderCol, rd.Trial, p.orders[1])
}

// order reads a position in an order; 0 where it is blank or was reported.
func (p *parser) order(rec record, r role, trial string, taken map[orderKey]int) int {
	v, f, ok := p.number(rec, r)
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
