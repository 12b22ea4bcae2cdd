package breaking

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
)

// timesApart is how many times above or below the middle of the others a strength is
// asked about, and leastOthers how many others there must be. Common practice, no
// source: bonds of one adhesive on one wood seldom differ by a factor of two, and a
// misplaced point is a factor of ten.
const (
	timesApart  = 3
	leastOthers = 3
)

// middle is the median of n strengths, MPa.
type middle struct {
	value float64
	n     int
}

// groupOf names those that a specimen is held against: of the same adhesive and wood,
// in a sealed trial of the same wood, so that nothing is told of the adhesives.
func groupOf(t *record.Trial, s *record.Specimen) string {
	if t.Sealed() {
		return s.Wood
	}
	return s.Adhesive + "\x00" + s.Wood
}

// middles returns the medians of the groups that have enough breaks.
func middles(t *record.Trial) map[string]middle {
	return middlesWithout(t, "")
}

// middlesWithout leaves a specimen out, as one that is corrected is.
func middlesWithout(t *record.Trial, code string) map[string]middle {
	all := make(map[string][]float64)
	for _, s := range t.Specimens {
		if s.Code != code && s.Broken != nil && s.Broken.SetAside == "" && s.Broken.Strength > 0 {
			g := groupOf(t, s)
			all[g] = append(all[g], s.Broken.Strength)
		}
	}
	out := make(map[string]middle)
	for g, x := range all {
		if len(x) < leastOthers {
			continue
		}
		slices.Sort(x)
		n := len(x)
		out[g] = middle{(x[(n-1)/2] + x[n/2]) / 2, n}
	}
	return out
}

// asks returns what a person is asked about a break before it is written; empty:
// nothing.
func asks(t *record.Trial, s *record.Specimen, b record.Broken, rig *record.RigAt) string {
	if b.SetAside != "" || b.Strength == 0 {
		return ""
	}
	said := peakWords(b)
	if share, ok := shareOfLimit(b, rig); ok && share > 1 {
		return fmt.Sprintf("%s is more than the rig is rated for (%s): is the number right, and its unit?", said, quantity(rig.Limit, rig.Unit))
	}
	m, ok := middlesWithout(t, s.Code)[groupOf(t, s)]
	if !ok {
		return ""
	}
	mid := fmt.Sprintf("%d others (%s)", m.n, quantity(inUnit(m.value, b), unitOf(b)))
	switch times := b.Strength / m.value; {
	case times > timesApart:
		return fmt.Sprintf("%s is %s times the middle of the %s: is the point in its place?", said, show.Trim(rounded(times, 2)), mid)
	case times < 1.0/timesApart:
		return fmt.Sprintf("%s is 1/%s of the middle of the %s: is the point in its place?", said, show.Trim(rounded(1/times, 2)), mid)
	}
	return ""
}

// rounded has so many significant digits.
func rounded(x float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	if err != nil {
		panic("breaking: a number that was written cannot be read")
	}
	return r
}

// inUnit turns a strength into the unit that a break was read off in.
func inUnit(mpa float64, b record.Broken) float64 {
	if b.Calibration != "" {
		return rounded(mpa*b.AreaMM2, 3)
	}
	return rounded(mpa*b.Peak/b.Strength, 3)
}

// unitOf is the unit that breaks are compared in: N for what a calibration reads.
func unitOf(b record.Broken) string {
	if b.Calibration != "" {
		return "N"
	}
	return b.Unit
}

// nearLimit warns of a break near the rig's rated maximum; empty: it was not.
func nearLimit(b record.Broken, rig *record.RigAt) string {
	share, ok := shareOfLimit(b, rig)
	if !ok {
		return ""
	}
	limit := quantity(rig.Limit, rig.Unit)
	switch {
	case share > 1:
		return fmt.Sprintf("%s is above the rig's rated maximum of %s. Stop: look at the rig before the next one.", peakWords(b), limit)
	case share >= 0.95:
		return fmt.Sprintf("%s is %.0f %% of the rig's rated maximum (%s). Do not go higher: if nothing has broken there, unload and tick “rig at its limit”.", peakWords(b), 100*share, limit)
	case share >= 0.8:
		return fmt.Sprintf("%s is %.0f %% of the rig's rated maximum (%s): stronger ones may reach it.", peakWords(b), 100*share, limit)
	}
	return ""
}

// shareOfLimit returns a peak over the rig's rated maximum; ok is false where one is
// a force and the other a stress without an area, or no maximum is known.
func shareOfLimit(b record.Broken, rig *record.RigAt) (share float64, ok bool) {
	if rig == nil || rig.Limit <= 0 || b.Peak <= 0 && b.Calibration == "" {
		return 0, false
	}
	if peak, ok := forceOf(b); ok {
		if limit, err := record.Force(rig.Limit, rig.Unit); err == nil {
			return peak / limit, true
		}
	}
	limit, _, err := record.Strength(rig.Limit, rig.Unit, b.AreaMM2)
	if err != nil {
		return 0, false
	}
	return b.Strength / limit, true
}

func peakWords(b record.Broken) string {
	if b.Calibration != "" && b.Strength > 0 {
		return fmt.Sprintf("%s (%s)", quantity(b.Peak, b.Unit), quantity(rounded(b.Strength*b.AreaMM2, 3), "N"))
	}
	return quantity(b.Peak, b.Unit)
}

// quantity writes a number with its unit, thousands apart from 10,000 on.
func quantity(x float64, unit string) string {
	s := show.Trim(x)
	whole, rest, _ := strings.Cut(s, ".")
	if len(whole) > 4 {
		for i := len(whole) - 3; i > 0; i -= 3 {
			whole = whole[:i] + "," + whole[i:]
		}
	}
	if rest != "" {
		whole += "." + rest
	}
	return whole + " " + unit
}

// inert is what the module needs, as data in the page.
type inert struct {
	Trial  string      `json:"trial"`
	Left   []card      `json:"left"`
	Area   float64     `json:"area"` // mm²; 0: typed with each break
	Units  []inertUnit `json:"units"`
	Cal    *curve      `json:"cal"`   // reads its own unit; null: none
	Shown  string      `json:"shown"` // unit of strength
	Per    float64     `json:"per"`   // of it in a MPa
	Tens   bool        `json:"tens"`  // whole tens from 100 on
	Limit  float64     `json:"limit"` // rated maximum of the rig in LimitUnit; 0: not known
	Rated  string      `json:"rated"` // its unit
	Most   float64     `json:"most"`  // MPa; above it is no strength
	Known  []string    `json:"known"` // codes of the trial
	Broken []string    `json:"broken"`
	// Spoiled are the codes of those spoiled at the glue-up.
	Spoiled []string `json:"spoiled"`
	Now     int64    `json:"now"` // of the logbook's clock, milliseconds since 1970
}

type inertUnit struct {
	Name   string  `json:"name"`
	Factor float64 `json:"factor"` // to N, or to MPa
	Stress bool    `json:"stress"`
}

func inertOf(t *record.Trial, u bondtrial.Units, rig *record.RigAt, left []card) inert {
	in := inert{Trial: t.ID, Left: left, Area: t.AreaMM2(), Shown: u.StressUnit(), Per: u.Stress(1), Tens: u == bondtrial.US, Most: record.MostStrength,
		Known: []string{}, Broken: []string{}, Spoiled: []string{}}
	if left == nil {
		in.Left = []card{}
	}
	for _, name := range record.Units() {
		factor, byArea, err := record.Strength(1, name, 1)
		if err == nil {
			in.Units = append(in.Units, inertUnit{name, factor, !byArea})
		}
	}
	if rig != nil {
		in.Limit, in.Rated = rig.Limit, rig.Unit
	}
	for _, s := range t.Specimens {
		in.Known = append(in.Known, s.Code)
		if s.Broken != nil {
			in.Broken = append(in.Broken, s.Code)
		} else if s.Glued != nil && s.Glued.Spoiled != "" {
			in.Spoiled = append(in.Spoiled, s.Code)
		}
	}
	return in
}
