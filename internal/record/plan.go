package record

import (
	"fmt"
	"slices"
	"strings"

	"bondtrial/internal/plan"
)

// PlannedFrom returns what the bench needs of a plan. file is the trial file it was
// made from, version the program's.
func PlannedFrom(p *plan.Plan, file, version string) Planned {
	t := p.Trial
	out := Planned{File: file, Made: version, Zone: t.Work.Location.String(), Blind: t.Blind, Control: t.Control,
		AreaMM2: float64(t.Specimen.Area), Joint: string(t.Specimen.Joint), PerCell: p.PerCell, Ends: p.Schedule.End}
	for _, f := range t.Factors {
		out.Factors = append(out.Factors, f.Name)
	}
	for i, a := range t.Adhesives {
		out.Adhesives = append(out.Adhesives, PlannedAdhesive{Name: a.Name, Label: p.Names[i], Family: string(a.Family),
			Open: a.Open, Closed: a.Closed, Clamp: a.Clamp, Cure: a.Cure})
	}
	for i, s := range p.Specimens {
		times := p.Schedule.Times[i]
		out.Specimens = append(out.Specimens, PlannedSpecimen{Code: s.Code, Adhesive: s.Adhesive, Wood: s.Wood, Levels: slices.Clone(s.Levels), Board: s.Board,
			Pieces: s.Pieces, Pair: s.Pair, Batch: s.Batch, BreakTurn: s.BreakTurn, GlueAt: times.Spread, BreakAt: times.Break})
	}
	for _, c := range p.Schedule.Checks {
		out.Checks = append(out.Checks, PlannedCheck{At: c.At, Why: c.Reasons(), Adhesive: c.Adhesive, Batch: c.Batch, GluedOn: c.GluedOn.String(),
			Specimens: slices.Clone(c.Specimens)})
	}
	return out
}

// CheckSubject names a planned look, for the entry of what was seen.
func CheckSubject(number int) string { return fmt.Sprintf("check %d", number+1) }

// Check is a planned look while an adhesive cures, and what was seen.
type Check struct {
	PlannedCheck
	Number  int    // index into Planned.Checks
	Subject string // of the entry that says what was seen
	Label   string // of the adhesive, as pages may call it
	Codes   []string
	Seen    *Looked // nil: not yet
}

// Checks returns the planned looks in the order of their times.
func (t *Trial) Checks() []Check {
	if t.Plan == nil {
		return nil
	}
	seen := make(map[string]*Looked)
	for i := range t.Cures {
		seen[t.Cures[i].Subject] = &t.Cures[i]
	}
	var out []Check
	for i, c := range t.Plan.Checks {
		a := t.Plan.Adhesives[c.Adhesive]
		k := Check{PlannedCheck: c, Number: i, Subject: CheckSubject(i), Label: a.Name, Seen: seen[CheckSubject(i)]}
		if t.Sealed() {
			k.Label = a.Label
		}
		for _, s := range c.Specimens {
			k.Codes = append(k.Codes, t.Plan.Specimens[s].Code)
		}
		out = append(out, k)
	}
	return out
}

// Slug turns a name into what may stand in an address: letters of ASCII, digits and
// hyphens, "trial" where nothing is left.
func Slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case 'a' <= r && r <= 'z' || '0' <= r && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= 40 {
			break
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s
	}
	return "trial"
}
