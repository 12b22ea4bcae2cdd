package record

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"bondtrial"
)

// Longest texts that are taken, in letters.
const (
	longestName = 80
	longestText = 4000
	longestFile = 1 << 20 // bytes of a trial file
)

// Refused is the error of an entry that is not written. Field names what is wrong
// where it is one thing: a name of the content's struct, in lower case.
type Refused struct{ Field, Message string }

func (r *Refused) Error() string { return r.Message }

func refuse(field, format string, args ...any) error {
	return &Refused{field, fmt.Sprintf(format, args...)}
}

func text(field, s string, longest int) error {
	switch {
	case !utf8.ValidString(s):
		return refuse(field, "%s: text that is no text: write it again", field)
	case utf8.RuneCountInString(s) > longest:
		return refuse(field, "%s: longer than %d letters", field, longest)
	case strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' && r != '\r' }):
		return refuse(field, "%s: holds control characters: write it again", field)
	}
	return nil
}

func name(field, s string) error {
	if !strings.ContainsFunc(s, func(r rune) bool { return unicode.IsGraphic(r) && !unicode.IsSpace(r) }) {
		return refuse(field, "%s: write something", field)
	}
	return text(field, s, longestName)
}

func within(field string, x, low, high float64, unit string) error {
	if !(x >= low && x <= high) {
		return refuse(field, "%s: %v is not from %v to %v%s", field, x, low, high, unit)
	}
	return nil
}

func mark(field string, x int) error {
	if x < 0 || x > 5 {
		return refuse(field, "%s: marks go from 1 to 5", field)
	}
	return nil
}

func (a Asked) check() error {
	err := errors.Join(name("name", a.Name), text("question", a.Question, longestText), text("control", a.Control, longestName), text("table", a.Table, longestText/20))
	for _, f := range a.Factors {
		err = errors.Join(err, name("factors", f))
	}
	if len(a.File) > longestFile {
		err = errors.Join(err, refuse("file", "the trial file is larger than %d bytes", longestFile))
	}
	return err
}

func (p Planned) check() error {
	seen := make(map[string]bool)
	for _, s := range p.Specimens {
		if s.Adhesive < 0 || s.Adhesive >= len(p.Adhesives) {
			return refuse("specimens", "specimen %s has an adhesive that the plan lacks", s.Code)
		}
		if seen[s.Code] {
			return refuse("specimens", "two specimens have the code %s", s.Code)
		}
		seen[s.Code] = true
	}
	if len(p.Specimens) == 0 {
		return refuse("specimens", "a plan without specimens")
	}
	for _, c := range p.Checks {
		if c.Adhesive < 0 || c.Adhesive >= len(p.Adhesives) {
			return refuse("checks", "a cure check has an adhesive that the plan lacks")
		}
		for _, s := range c.Specimens {
			if s < 0 || s >= len(p.Specimens) {
				return refuse("checks", "a cure check has a specimen that the plan lacks")
			}
		}
	}
	return nil
}

func (a Added) check() error { return a.Joint.check() }

func (j Joint) check() error {
	err := errors.Join(name("adhesive", j.Adhesive), text("wood", j.Wood, longestName), text("board", j.Board, longestName),
		text("batch", j.Batch, longestName), text("session", j.Session, longestName), text("trial", j.Trial, longestName))
	for f, level := range j.Factors {
		err = errors.Join(err, text("factors", f, longestName), text("factors", level, longestName))
	}
	return err
}

func (g Glued) check() error {
	err := errors.Join(text("spoiled", g.Spoiled, longestText), text("batch", g.Batch, longestName), text("note", g.Note, longestText))
	if !g.Spread.IsZero() && !g.Clamped.IsZero() && g.Clamped.Before(g.Spread) {
		err = errors.Join(err, refuse("clamped", "clamped before the adhesive was spread"))
	}
	return err
}

func (m Marks) check() error {
	if m.Spreads == 0 && m.Squeezes == 0 && m.HoldsGap == 0 && m.Note == "" {
		return refuse("spreads", "give at least one mark or a remark")
	}
	return errors.Join(mark("spreads", m.Spreads), mark("squeezes", m.Squeezes), mark("holdsgap", m.HoldsGap),
		text("batch", m.Batch, longestName), text("note", m.Note, longestText))
}

func (c Climate) check() error {
	err := errors.Join(text("station", c.Station, longestName), within("celsius", c.Celsius, -60, 80, " °C"))
	if c.Humidity != nil {
		err = errors.Join(err, within("humidity", *c.Humidity, 0, 100, " %"))
	}
	return err
}

func (c Cured) check() error {
	if c.Hardness == 0 && c.Flexible == 0 && c.Note == "" {
		return refuse("hardness", "give at least one mark or a remark")
	}
	return errors.Join(text("adhesive", c.Adhesive, longestName), mark("hardness", c.Hardness), mark("flexible", c.Flexible), text("note", c.Note, longestText))
}

// MostStrength is the strength from which a break is taken for a slip of the pen,
// MPa: no glued wood comes near it (common practice, no source).
const MostStrength = 500

// Limits of a strength, MPa, beyond which no table is read either.
const (
	leastStrength = 1e-4
	mostOfTables  = 1e4
)

// agreeing is how far Strength may be from what Peak, Unit and AreaMM2 give, as a
// share: rounding is far below it.
const agreeing = 1e-9

func (b Broken) check() error {
	err := errors.Join(text("setaside", b.SetAside, longestText), text("note", b.Note, longestText))
	if b.Joint != nil {
		err = errors.Join(err, b.Joint.check())
	}
	if _, ferr := bondtrial.ParseFailure(b.Failure); ferr != nil {
		err = errors.Join(err, refuse("failure", "failure: %v", ferr))
	}
	for _, share := range []struct {
		field string
		v     *float64
	}{{"woodshare", b.WoodShare}, {"moisture", b.Moisture}} {
		if share.v != nil {
			err = errors.Join(err, within(share.field, *share.v, 0, 100, " %"))
		}
	}
	if b.GlueOrder < 0 || b.BreakOrder < 0 || b.Line < 0 || max(b.GlueOrder, b.BreakOrder) > 1e9 {
		err = errors.Join(err, refuse("order", "places in an order are whole numbers from 1"))
	}
	return errors.Join(err, b.checkStrength())
}

func (b Broken) checkStrength() error {
	if b.Calibration == "" && b.Zero != 0 {
		return refuse("zero", "what was shown at no load counts with a calibration only")
	}
	if b.Calibration != "" {
		if err := b.checkRead(); err != nil {
			return err
		}
		b.Peak = math.Abs(b.Peak) // some sensors show less under load
	}
	for _, x := range []float64{b.Peak, b.AreaMM2, b.Strength} {
		if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
			return refuse("peak", "a break needs a force above 0, or the reason why it is set aside")
		}
	}
	switch {
	case b.Unit == "" && b.Peak != 0:
		return refuse("unit", "a value needs its unit, one of %s", strings.Join(Units(), ", "))
	case b.Unit != "" && b.Calibration == "":
		mpa, _, err := Strength(b.Peak, b.Unit, b.AreaMM2)
		if err != nil {
			return err
		}
		if math.IsInf(mpa, 0) || math.Abs(mpa-b.Strength) > agreeing*mpa {
			return refuse("peak", "%s %s over %s mm² are %.6g MPa and not %.6g: send it again", number(b.Peak), b.Unit, number(b.AreaMM2), mpa, b.Strength)
		}
	}
	switch {
	case b.Strength == 0 && b.SetAside != "":
		return nil
	case b.Strength == 0:
		return refuse("peak", "a break needs a force above 0, or the reason why it is set aside")
	case b.Joint == nil && b.Strength > MostStrength && b.AreaMM2 > 0:
		return refuse("peak", "that would be %.3g MPa over %.4g mm²: no glued joint holds so much; look at the number and its unit", b.Strength, b.AreaMM2)
	case b.Joint == nil && b.Strength > MostStrength, b.Strength > mostOfTables:
		return refuse("peak", "that would be %.3g MPa: no glued joint holds so much; look at the number and its unit", b.Strength)
	case b.Strength < leastStrength:
		return refuse("peak", "that would be %.3g MPa: too little to be a strength; look at the number and its unit, or say why it is set aside", b.Strength)
	}
	return nil
}

func (n Noted) check() error {
	return errors.Join(text("station", n.Station, longestName), text("text", n.Text, longestText))
}
func (KeyOpened) check() error  { return nil }
func (p PutAway) check() error  { return text("why", p.Why, longestText) }
func (t TookBack) check() error { return text("why", t.Why, longestText) }

func (o OnShelf) check() error {
	return errors.Join(name("family", o.Family), text("open", o.Open, longestName), text("clamp", o.Clamp, longestName), text("cure", o.Cure, longestName),
		text("lowest", o.Lowest, longestName), text("price", o.Price, longestName), text("content", o.Content, longestName), text("batch", o.Batch, longestName),
		text("useby", o.UseBy, longestName), text("opened", o.Opened, longestName), text("note", o.Note, longestText))
}

func (o OnRack) check() error {
	err := errors.Join(name("wood", o.Wood), name("name", o.Name), text("note", o.Note, longestText),
		within("lengthmm", o.LengthMM, 0, 1e5, " mm"), within("widthmm", o.WidthMM, 0, 1e5, " mm"), within("thickmm", o.ThickMM, 0, 1e5, " mm"))
	if o.Pieces < 0 || o.Pieces > 10_000 || o.Uses < 0 || o.Uses > 1000 {
		err = errors.Join(err, refuse("pieces", "pieces and uses are counts, of at most 10,000 and 1,000"))
	}
	return err
}

func (r Rig) check() error {
	err := errors.Join(name("name", r.Name), text("force", r.Force, longestText), text("how", r.How, longestText), text("note", r.Note, longestText),
		text("calibrated", r.Calibrated, longestName), within("resolution", r.Resolution, 0, 1e9, ""), within("limit", r.Limit, 0, 1e9, ""))
	if _, uerr := unitOf(r.Unit); uerr != nil {
		err = errors.Join(err, uerr)
	}
	return err
}

func (c RigCheck) check() error {
	err := text("note", c.Note, longestText)
	if c.Calibration == "" {
		err = errors.Join(err, within("shown", c.Shown, 0, 1e9, ""), within("zero", c.Zero, 0, 0, " without a calibration"))
	} else {
		err = errors.Join(err, within("shown", c.Shown, -mostShown, mostShown, ""), within("zero", c.Zero, -mostShown, mostShown, ""), unitName("unit", c.Unit))
	}
	if !(c.MassKG > 0 && c.MassKG <= 1e5) {
		err = errors.Join(err, refuse("masskg", "the mass is above 0 kg and at most 100,000 kg"))
	}
	if u, uerr := unitOf(c.Unit); c.Calibration != "" {
		return err
	} else if uerr != nil {
		err = errors.Join(err, uerr)
	} else if u.stress {
		err = errors.Join(err, refuse("unit", "a mass is held against a force: the unit %s is one of stress", c.Unit))
	}
	return err
}

func (s Settings) check() error {
	if _, err := bondtrial.ParseUnits(s.Units); err != nil {
		return refuse("units", "units: %v", err)
	}
	if s.Unit != "" {
		_, err := unitOf(s.Unit)
		return err
	}
	return nil
}

func (d DeviceMet) check() error {
	return errors.Join(name("name", d.Name), name("tokensum", d.TokenSum))
}
