package breaking

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"bondtrial/internal/record"
	"bondtrial/internal/rig"
)

// form is what is typed about a break, as it was typed.
type form struct {
	Code                    string
	Peak, Unit, Area        string
	Zero                    string           // shown at no load, where the calibration counts from there
	Calibration             string           // key of the one the form was sent with
	Cal                     *rig.Calibration // that reads its unit; nil: none
	Ended                   string           // that it has run out
	Wood, Failure, Moisture string
	Rig                     bool
	Aside, AsideText, Note  string
	Unloaded                bool   // the rig, after a break near its maximum
	Sure                    string // names of what was asked, so that it is asked once
	Asked                   bool   // something is asked now
	Areas                   bool   // the bonded area is typed with each break
	Wrong                   map[string]string
}

// Units are the units that a peak may be given in.
func (f form) Units() []string {
	if f.Cal == nil || slices.Contains(record.Units(), f.Cal.ShownUnit) {
		return record.Units()
	}
	return append([]string{f.Cal.ShownUnit}, record.Units()...)
}

// Ways are the ways of failing with a few words on each. The meanings are from
// memory, unconfirmed, as in package bondtrial.
func (form) Ways() []way { return ways }

// Reasons are usual reasons to set a break aside.
func (form) Reasons() []string { return reasons }

// Shares are the shares of wood that have a button of their own, percent.
func (form) Shares() []int { return []int{0, 25, 50, 75, 100} }

// Pad are the keys of the number pad.
func (f form) Pad() []padKey {
	if f.Cal != nil && f.Cal.Curve.Slope((f.Cal.LowN+f.Cal.HighN)/2) < 0 {
		return append(slices.Clone(pad), padKey{"−", "other sign"}) // less is shown under load
	}
	return pad
}

// Near reports whether it is to be ticked that the rig is unloaded.
func (f form) Near() bool { return f.Unloaded || f.Wrong["unloaded"] != "" }

// More reports whether the fields that are seldom used hold something.
func (f form) More() bool {
	return f.Aside != "" || f.AsideText != "" || f.Note != "" || f.Moisture != "" || f.Wrong["setaside"] != "" || f.Wrong["note"] != "" || f.Wrong["moisture"] != ""
}

type padKey struct{ Key, Name string }

var pad = []padKey{{"7", ""}, {"8", ""}, {"9", ""}, {"4", ""}, {"5", ""}, {"6", ""}, {"1", ""}, {"2", ""}, {"3", ""}, {".", "point"}, {"0", ""},
	{"⌫", "delete the last digit"}, {"Clear", "clear the value"}}

type way struct{ Code, Words string }

var ways = []way{
	{"SF", "in the wood, away from the bond"},
	{"CSF", "in the wood, close to the bond"},
	{"CF", "inside the adhesive"},
	{"SCF", "inside the adhesive, thin layer on one face"},
	{"AF", "off the wood: one face bare"},
	{"ACFP", "peeled: partly bare, partly adhesive"},
	{"DF", "opened along the bond line"},
}

var reasons = []string{
	"askew in the rig",
	"slipped in the rig",
	"damaged before the break",
	"flaw in the wood: knot, crack or rot",
	"glue outside the joint carried load",
	"display not read, or read wrong",
}

// emptyForm is the form before anything is typed: the unit that the calibration reads
// on a day, else that of the rig, else that of
// the last break, else that of the settings, else N.
func emptyForm(t *record.Trial, things *record.Things, day string) form {
	f := form{Unit: "N"}
	last := t.LastBroken()
	switch {
	case things.Rig != nil:
		f.Unit = things.Rig.Unit
	case last != nil && last.Broken.Unit != "":
		f.Unit = last.Broken.Unit
	case things.Settings.Unit != "":
		f.Unit = things.Settings.Unit
	}
	if t.AreaMM2() == 0 && last != nil && last.Broken.AreaMM2 > 0 {
		f.Area = number(last.Broken.AreaMM2)
	}
	f.calibrate(t, things, day)
	return f
}

// formOf is the form filled with what is recorded.
func formOf(code string, b record.Broken) form {
	f := form{Code: code, Unit: b.Unit, Failure: b.Failure, Rig: b.RigLimited, Note: b.Note}
	switch {
	case b.Unit == "" && b.Strength > 0: // from a table
		f.Peak, f.Unit = number(b.Strength), "MPa"
	case b.Peak != 0 || b.Calibration != "":
		f.Peak = number(b.Peak)
	}
	if f.Unit == "" {
		f.Unit = "N"
	}
	if b.AreaMM2 > 0 {
		f.Area = number(b.AreaMM2)
	}
	if b.WoodShare != nil {
		f.Wood = number(*b.WoodShare)
	}
	if b.Moisture != nil {
		f.Moisture = number(*b.Moisture)
	}
	first, rest, _ := strings.Cut(b.SetAside, "; ")
	if slices.Contains(reasons, first) {
		f.Aside, f.AsideText = first, rest
	} else {
		f.AsideText = b.SetAside
	}
	return f
}

// readForm reads a form as it was sent.
func readForm(value func(string) string) form {
	return form{Code: value("code"), Peak: value("peak"), Unit: value("unit"), Area: value("area"), Wood: value("wood"), Failure: value("failure"),
		Moisture: value("moisture"), Rig: value("rig") != "", Aside: value("aside"), AsideText: value("asidetext"), Note: value("note"), Unloaded: value("unloaded") != "", Sure: value("sure")}
}

// broken returns what the form says. areaMM2 is the trial's; 0: the form has it. What
// is wrong comes as *record.Refused, all at once. Strength is worked out here.
func (f form) broken(areaMM2 float64, old *record.Broken) (record.Broken, error) {
	var b record.Broken
	if old != nil { // where it came from is not the breaker's to change
		b.Joint, b.GlueOrder, b.BreakOrder, b.Line = old.Joint, old.GlueOrder, old.BreakOrder, old.Line
		if areaMM2 == 0 {
			areaMM2 = old.AreaMM2
		}
	}
	var wrong []error
	wrongly := func(field, format string, args ...any) {
		wrong = append(wrong, &record.Refused{Field: field, Message: fmt.Sprintf(format, args...)})
	}
	share := func(field, text, what string) *float64 {
		if strings.TrimSpace(text) == "" {
			return nil
		}
		x, err := parseNumber(text)
		if err != nil {
			wrongly(field, "%s: %v", what, err)
			return nil
		}
		return &x
	}
	b.WoodShare = share("woodshare", f.Wood, "share of wood")
	b.Moisture = share("moisture", f.Moisture, "moisture")
	b.Failure, b.RigLimited, b.Note = f.Failure, f.Rig, strings.TrimSpace(f.Note)
	b.SetAside = f.setAside()
	if area := share("areamm2", f.Area, "bonded area"); area != nil && (f.Areas || areaMM2 == 0) {
		areaMM2 = *area
	}
	if err := f.unknownCalibration(); err != nil {
		wrong = append(wrong, err)
		return b, errors.Join(wrong...)
	}
	switch {
	case strings.TrimSpace(f.Peak) != "" && f.read():
		if err := f.force(&b, areaMM2); err != nil {
			wrong = append(wrong, err)
		}
	case strings.TrimSpace(f.Peak) != "":
		peak, err := parseNumber(f.Peak)
		if err != nil {
			wrongly("peak", "value: %v", err)
			break
		}
		mpa, byArea, err := record.Strength(peak, f.Unit, areaMM2)
		if err != nil {
			wrong = append(wrong, err)
			break
		}
		b.Peak, b.Unit, b.Strength = peak, f.Unit, mpa
		if byArea {
			b.AreaMM2 = areaMM2
		}
		if mpa <= 0 && b.SetAside == "" {
			wrongly("peak", "value: type a number above 0, or say why this one is set aside")
		}
	case b.SetAside == "":
		wrongly("peak", "value: type what the display showed, or say why this one is set aside")
	}
	return b, errors.Join(wrong...)
}

// setAside puts the reason chosen and the words beside it together.
func (f form) setAside() string {
	var parts []string
	for _, s := range []string{f.Aside, strings.TrimSpace(f.AsideText)} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, "; ")
}

// value names the value that is asked about.
func (f form) value() string { return strings.TrimSpace(f.Peak) + " " + f.Unit }

// parseNumber reads a number as people type it: with a point or a comma before the
// decimals. A comma or point that may stand between thousands is refused, as is
// whatever is not a number from 0 on.
func parseNumber(s string) (float64, error) {
	s = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 1 && (r[0] == '-' || r[0] == '−') && unicode.IsDigit(r[1]) {
		return 0, fmt.Errorf("%q is not a number from 0 on: write it without a sign", shortened(s))
	}
	for _, r := range s {
		if (r < '0' || r > '9') && r != '.' && r != ',' {
			return 0, fmt.Errorf("%q is not a number: write it with digits and a point", shortened(s))
		}
	}
	if whole, rest, found := strings.Cut(s, ","); found {
		if len(rest) == 3 && whole != "" && whole != "0" || strings.ContainsAny(rest, ",.") {
			return 0, fmt.Errorf("%q may mean two numbers: write it without a mark between thousands, and with a point before decimals", shortened(s))
		}
		s = whole + "." + rest
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) {
		return 0, fmt.Errorf("%q is not a number: write it with digits and a point", shortened(s))
	}
	return x, nil
}

func shortened(s string) string {
	if r := []rune(s); len(r) > 30 {
		return string(r[:30]) + "…"
	}
	return s
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// fieldErrors returns what is wrong by the field that it is about.
func fieldErrors(err error) map[string]string {
	out := make(map[string]string)
	var walk func(error)
	walk = func(err error) {
		switch e := err.(type) {
		case *record.Refused:
			if _, ok := out[e.Field]; !ok {
				out[e.Field] = e.Message
			}
		case interface{ Unwrap() []error }:
			for _, inner := range e.Unwrap() {
				walk(inner)
			}
		case interface{ Unwrap() error }:
			walk(e.Unwrap())
		}
	}
	walk(err)
	return out
}
