package breaking

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
	"bondtrial/internal/rig"
	"bondtrial/internal/show"
)

// calibrate readies an empty form for the calibration that was made last, on a day or
// before: what its sensor shows is the unit, and the zero that of the last break.
func (f *form) calibrate(t *record.Trial, things *record.Things, day string) {
	c := things.Latest(day)
	if c == nil {
		return
	}
	f.Cal, f.Unit = c.Calibration, c.Calibration.ShownUnit
	if last := t.LastBroken(); last != nil && last.Broken.Calibration == c.Key {
		f.Zero = number(last.Broken.Zero)
	}
	if holds, words, err := f.Cal.Standing(day); err == nil && !holds {
		f.Ended = frame.Sentence(words)
	}
}

// find finds the calibration that a form was sent with.
func (f *form) find(d *frame.Desk, r *http.Request) error {
	f.Calibration, f.Zero = r.FormValue("calibration"), r.FormValue("zero")
	things, err := d.Book.Things(r.Context())
	if err == nil {
		f.Cal = things.Calibration(f.Calibration)
	}
	return err
}

// read reports whether what was typed is read by the calibration.
func (f form) read() bool { return f.Cal != nil && f.Unit == f.Cal.ShownUnit }

// force sets what was shown, its zero and the strength that they come to by the
// calibration. What is wrong comes as *record.Refused.
func (f form) force(b *record.Broken, areaMM2 float64) error {
	peak, err := parseSigned(f.Peak)
	if err != nil {
		return &record.Refused{Field: "peak", Message: fmt.Sprintf("value: %v", err)}
	}
	zero := 0.0
	if f.Cal.FromZero {
		if strings.TrimSpace(f.Zero) == "" {
			return &record.Refused{Field: "zero", Message: "shown at no load: type what stood there just before the load, 0 if the display was set to zero"}
		}
		if zero, err = parseSigned(f.Zero); err != nil {
			return &record.Refused{Field: "zero", Message: fmt.Sprintf("shown at no load: %v", err)}
		}
	}
	mpa, _, err := record.ReadBy(f.Cal, peak, zero, areaMM2)
	if err != nil {
		return err
	}
	b.Peak, b.Zero, b.Unit, b.AreaMM2, b.Calibration = peak, zero, f.Cal.ShownUnit, areaMM2, f.Cal.Key()
	switch {
	case mpa > 0:
		b.Strength = mpa
	case b.SetAside == "":
		return &record.Refused{Field: "peak", Message: fmt.Sprintf("value: %s with %s at no load are %s N by the calibration: type a number that is a force above 0, or say why this one is set aside",
			quantity(peak, b.Unit), show.Trim(zero), show.Trim(rounded(mpa*areaMM2, 3)))}
	}
	return nil
}

// unknownCalibration is the error of a form whose calibration the logbook lacks.
func (f form) unknownCalibration() error {
	if f.Calibration == "" || f.Cal != nil || slices.Contains(record.Units(), f.Unit) {
		return nil
	}
	return &record.Refused{Field: "unit", Message: "the logbook does not have the calibration that this was read with: load the page again"}
}

// parseSigned reads a number as parseNumber does, also one below 0.
func parseSigned(s string) (float64, error) {
	s = strings.TrimSpace(s)
	for _, minus := range []string{"-", "−"} {
		if rest, ok := strings.CutPrefix(s, minus); ok {
			x, err := parseNumber(rest)
			return 0 - x, err
		}
	}
	return parseNumber(s)
}

// forceOf is the force of a break in N, known is false where it was read as a stress.
func forceOf(b record.Broken) (newton float64, known bool) {
	if b.Calibration != "" {
		return b.Strength * b.AreaMM2, true
	}
	newton, err := record.Force(b.Peak, b.Unit)
	return newton, err == nil
}

// outside says where a break lies outside of the range of its calibration; empty: it
// does not, or has none.
func outside(b record.Broken, things *record.Things) string {
	k := things.Calibration(b.Calibration)
	if k == nil || b.Strength == 0 {
		return ""
	}
	f, err := k.Force(b.Peak, b.Zero)
	if err != nil || f.Words == "" {
		return ""
	}
	return frame.Sentence(f.Words)
}

// known says how well the force of a break is known.
type known struct {
	Force   string // "1200 N"
	Words   string // "± 2.4 N (0.2 %, 95 %), mostly for reversibility"
	Outside string // what to know where it lies outside the calibrated range
	Parts   []part
	Date    string
	Key     string
	Back    bool // the calibration was taken back since
	Later   bool // another was made since
}

// part is one of the things that a force is uncertain for.
type part struct{ Name, Force, Share string }

// knownOf returns how well the force of a break is known; nil: it was not read by a
// calibration.
func knownOf(b record.Broken, things *record.Things, day string) *known {
	k := things.Calibration(b.Calibration)
	if k == nil || b.Strength == 0 {
		return nil
	}
	f, err := k.Force(b.Peak, b.Zero)
	if err != nil {
		return nil
	}
	budget := f.Budget
	out := &known{Force: quantity(rounded(f.Newtons, 4), "N"), Outside: outside(b, things), Date: k.Date, Key: b.Calibration}
	all := budget.Largest()
	out.Words = fmt.Sprintf("± %s (%s %%, at 95 %%), mostly for %s", quantity(rounded(budget.Expanded, 2), "N"), show.Trim(rounded(100*budget.Expanded/f.Newtons, 2)), all[0].Name)
	for _, row := range all {
		if row.Contribution > 0 {
			out.Parts = append(out.Parts, part{row.Name, quantity(rounded(row.Contribution, 2), "N"), fmt.Sprintf("%.0f %%", 100*row.Share)})
		}
	}
	out.Back = !slices.ContainsFunc(things.Calibrations, func(c record.CalibratedAt) bool { return c.Key == b.Calibration })
	if last := things.Latest(day); last != nil && last.Key != b.Calibration {
		out.Later = true
	}
	return out
}

// today is the day in the trial's zone.
func today(t *record.Trial, now time.Time) string { return now.In(t.Zone).Format(time.DateOnly) }

// curve is what the module needs of a calibration: what is shown, less the zero, is
// C[0] + C[1] t + C[2] t² with t = (F − Centre)/Scale.
type curve struct {
	Unit     string    `json:"unit"`
	Key      string    `json:"key"`
	FromZero bool      `json:"fromzero"`
	Centre   float64   `json:"centre"`
	Scale    float64   `json:"scale"`
	C        []float64 `json:"c"`
	Low      float64   `json:"low"` // the calibrated range, N
	High     float64   `json:"high"`
}

// curveOf returns nil where there is no calibration.
func curveOf(k *rig.Calibration) *curve {
	if k == nil {
		return nil
	}
	return &curve{k.ShownUnit, k.Key(), k.FromZero, k.Curve.Centre, k.Curve.Scale, k.Curve.C, k.LowN, k.HighN}
}

// takeBroken readies a form for the correction of a break: it is read again as it was
// read before.
func (f *form) takeBroken(t *record.Trial, b record.Broken, things *record.Things, day string) error {
	switch {
	case b.Calibration != "":
		if f.Cal = things.Calibration(b.Calibration); f.Cal == nil {
			return errors.New("the logbook lacks the calibration of a break: check it with bondtrial check")
		}
		f.Zero = number(b.Zero)
	case b.Peak == 0 && b.Strength == 0:
		f.calibrate(t, things, day)
	}
	return nil
}
