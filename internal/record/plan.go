package record

import (
	"fmt"
	"slices"
	"strings"
	"time"

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

// Check is a planned look while an adhesive cures, and what was seen. Its At goes by
// the glue-up as it was recorded, where that is known: the look comes as long after the
// last clamping as the plan meant it to.
type Check struct {
	PlannedCheck
	PlannedAt time.Time // as the plan has it
	Glued     time.Time // the last clamping of its specimens, recorded or else planned
	Number    int       // index into Planned.Checks
	Subject   string    // of the entry that says what was seen
	Label     string    // of the adhesive, as pages may call it
	Codes     []string
	Seen      *Looked // nil: not yet
}

// beforeBreaking is in the reasons of a look that goes by the break, not by the glue-up.
const beforeBreaking = "before breaking"

// Checks returns the planned looks in the order of their times. The list is shared by
// all who ask for it, like the trial: it is not to be changed.
func (t *Trial) Checks() []Check {
	t.checksOnce.Do(func() { t.checks = t.planChecks() })
	return t.checks
}

func (t *Trial) planChecks() []Check {
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
		k := Check{PlannedCheck: c, PlannedAt: c.At, Number: i, Subject: CheckSubject(i), Label: a.Name, Seen: seen[CheckSubject(i)]}
		if t.Sealed() {
			k.Label = a.Label
		}
		for _, s := range c.Specimens {
			k.Codes = append(k.Codes, t.Plan.Specimens[s].Code)
		}
		late := t.lateness(&k)
		if !strings.Contains(c.Why, beforeBreaking) {
			k.At = c.At.Add(late)
		}
		out = append(out, k)
	}
	slices.SortStableFunc(out, func(a, b Check) int { return a.At.Compare(b.At) })
	return out
}

// lateness fills in the last clamping of a look's specimens, and returns how much later
// than planned it was; 0 where none of them is recorded as glued. What is spoiled is not
// waited for.
func (t *Trial) lateness(k *Check) time.Duration {
	var planned time.Time
	recorded := false
	for _, code := range k.Codes {
		s, ok := t.byCode[code]
		if !ok || s.Glued != nil && s.Glued.Spoiled != "" {
			continue
		}
		at := s.GlueAt
		if s.Glued != nil {
			at, recorded = s.Glued.ClampedAt(), true
		}
		if at.After(k.Glued) {
			k.Glued = at
		}
		if s.GlueAt.After(planned) {
			planned = s.GlueAt
		}
	}
	if !recorded {
		return 0
	}
	return k.Glued.Sub(planned)
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
