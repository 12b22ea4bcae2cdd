package record

import (
	"slices"
	"sync"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/plan/trialfile"
)

// Stamp says which entry something is from, when it was, and who wrote it.
type Stamp struct {
	Seq        int64
	At         time.Time // when the logbook got it
	Said       time.Time // what the device's clock said; zero: not said
	By, Device string
	Files      []logbook.FileRef
	// First is the entry that this one corrects, or its own number: what was
	// corrected keeps its place in the order of the work.
	First int64
	// FirstWhen is when that one happened.
	FirstWhen time.Time
}

// latest is how far a device's clock is believed: an entry that waited longer for
// its connection is dated by the logbook's own.
const latest = 7 * 24 * time.Hour

// When is when it happened: what the device's clock said, where that is before the
// logbook got the entry and not a week before, else when the logbook got it.
func (s Stamp) When() time.Time {
	if d := s.At.Sub(s.Said); !s.Said.IsZero() && d >= 0 && d < latest {
		return s.Said
	}
	return s.At
}

// Photos are the pictures that came with an entry.
func (s Stamp) Photos() []logbook.FileRef {
	var out []logbook.FileRef
	for _, f := range s.Files {
		if f.Role == "photo" {
			out = append(out, f)
		}
	}
	return out
}

// Entry is an entry of a trial with its content read.
type Entry struct {
	logbook.Entry
	Content Content // nil: of a kind that this version does not know
	Live    bool    // it counts
	Stands  bool    // it was not taken back, though a later one may have replaced it
}

// Trial is what the entries of a trial come to. It is not to be changed: all who
// look at a trial share it.
type Trial struct {
	ID      string
	Asked   Asked
	AskedAt Stamp
	File    *trialfile.Trial // what Asked.File says, nil where it is not complete
	Plan    *Planned         // nil: none
	PlanAt  Stamp
	Zone    *time.Location

	Specimens []*Specimen // in glue-up order; those in no plan after them
	Marks     []Marked
	Climates  []Aired
	Cures     []Looked
	Notes     []Remark
	KeyOpened *Stamp // nil: the blind letters are sealed
	PutAway   *Stamp // nil: the trial is on the list

	Entries []Entry // all, in their order
	byCode  map[string]*Specimen

	checksOnce sync.Once
	checks     []Check
}

// Specimen is one joint of a trial and what happened to it.
type Specimen struct {
	Code      string
	Adhesive  string
	Label     string // what labels and sheets call the adhesive
	Wood      string
	Factors   map[string]string
	Board     string
	Pieces    [2]int // 0, 0: not known
	Batch     string // empty: none named
	Session   string // empty: the day it was broken on
	Trial     string
	GlueTurn  int // planned, from 1; 0: in no plan
	BreakTurn int
	GlueAt    time.Time // planned
	BreakAt   time.Time
	Planned   *PlannedAdhesive // nil: in no plan

	Glued   *Glue // nil: not yet
	Broken  *Break
	AddedAt Stamp // where it is in no plan
}

// Glue is a glue-up with its entry.
type Glue struct {
	Stamp
	Glued
}

// clockOff is how far a device's clock may be off from the logbook's and be believed.
const clockOff = 12 * time.Hour

// ClampedAt is when the specimen came under its clamp, as far as that is recorded, else
// when the glue-up was. A device whose clock is off by half a day is not believed.
func (g *Glue) ClampedAt() time.Time {
	if d := g.FirstWhen.Sub(g.Clamped); !g.Clamped.IsZero() && d.Abs() <= clockOff {
		return g.Clamped
	}
	return g.FirstWhen
}

// Break is a break with its entry.
type Break struct {
	Stamp
	Broken
}

// Marked are marks with their entry.
type Marked struct {
	Stamp
	Adhesive string // as its labels have it
	Marks
}

// Aired is a climate with its entry.
type Aired struct {
	Stamp
	Climate
}

// Looked is a look while an adhesive cured, with its entry.
type Looked struct {
	Stamp
	Subject string
	Cured
}

// Remark is a note with its entry.
type Remark struct {
	Stamp
	Subject string
	Noted
}

// Specimen returns the specimen of a code.
func (t *Trial) Specimen(code string) (*Specimen, bool) {
	s, ok := t.byCode[code]
	return s, ok
}

// Sealed reports whether adhesives go by blind letters still.
func (t *Trial) Sealed() bool { return t.Plan != nil && t.Plan.Blind && t.KeyOpened == nil }

// Shown is what a page may call the adhesive of a specimen: its name, or its blind
// letter while the key is sealed.
func (t *Trial) Shown(s *Specimen) string {
	if t.Sealed() {
		return s.Label
	}
	return s.Adhesive
}

// ToGlue returns the specimens that are neither glued nor spoiled, in glue-up order.
func (t *Trial) ToGlue() []*Specimen {
	return t.keep(func(s *Specimen) bool { return s.Glued == nil && s.Broken == nil && s.GlueTurn > 0 })
}

// ToBreak returns the specimens that are not broken, in breaking order, those that
// are in no plan last. Spoiled ones are left out. Where glueing is recorded at all,
// those not glued yet are left out too.
func (t *Trial) ToBreak() []*Specimen {
	recorded := t.CountGlued() > 0
	out := t.keep(func(s *Specimen) bool {
		if s.Broken != nil || s.Glued != nil && s.Glued.Spoiled != "" {
			return false
		}
		return s.Glued != nil || !recorded || s.GlueTurn == 0
	})
	slices.SortStableFunc(out, func(a, b *Specimen) int {
		switch {
		case a.BreakTurn == b.BreakTurn:
			return 0
		case b.BreakTurn == 0 || a.BreakTurn != 0 && a.BreakTurn < b.BreakTurn:
			return -1
		}
		return 1
	})
	return out
}

func (t *Trial) keep(yes func(*Specimen) bool) []*Specimen {
	var out []*Specimen
	for _, s := range t.Specimens {
		if yes(s) {
			out = append(out, s)
		}
	}
	return out
}

func (t *Trial) count(yes func(*Specimen) bool) int { return len(t.keep(yes)) }

// CountGlued counts the specimens with a glue-up, spoiled ones left out.
func (t *Trial) CountGlued() int {
	return t.count(func(s *Specimen) bool { return s.Glued != nil && s.Glued.Spoiled == "" })
}

// CountSpoiled counts the specimens spoiled at the glue-up.
func (t *Trial) CountSpoiled() int {
	return t.count(func(s *Specimen) bool { return s.Glued != nil && s.Glued.Spoiled != "" })
}

// CountBroken counts the specimens with a break.
func (t *Trial) CountBroken() int { return t.count(func(s *Specimen) bool { return s.Broken != nil }) }

// LastBroken returns the specimen whose break was written last, nil where there is
// none.
func (t *Trial) LastBroken() *Specimen {
	var last *Specimen
	for _, s := range t.Specimens {
		if s.Broken != nil && (last == nil || s.Broken.Seq > last.Broken.Seq) {
			last = s
		}
	}
	return last
}

// LastGlued returns the specimen whose glue-up was written last, nil where there is
// none.
func (t *Trial) LastGlued() *Specimen {
	var last *Specimen
	for _, s := range t.Specimens {
		if s.Glued != nil && (last == nil || s.Glued.Seq > last.Glued.Seq) {
			last = s
		}
	}
	return last
}

// Adhesives names the adhesives of the trial as pages may call them, in the order
// of the plan, then of first mention.
func (t *Trial) Adhesives() []string {
	var out []string
	if t.Plan != nil {
		for _, a := range t.Plan.Adhesives {
			n := a.Name
			if t.Sealed() {
				n = a.Label
			}
			out = append(out, n)
		}
		if t.Sealed() {
			slices.Sort(out)
		}
	}
	for _, s := range t.Specimens {
		if n := t.Shown(s); !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// Factors names the factors of the trial.
func (t *Trial) Factors() []string {
	if t.Plan != nil {
		return slices.Clone(t.Plan.Factors)
	}
	return slices.Clone(t.Asked.Factors)
}

// Control is the adhesive that others are compared with, as pages may call it;
// empty: each with each.
func (t *Trial) Control() string {
	if t.Plan == nil {
		return t.Asked.Control
	}
	if t.Sealed() {
		return "" // who the control is would tell its letter
	}
	return t.Plan.Control
}

// AreaMM2 is the bonded area of a specimen, mm²; 0 where it is not known.
func (t *Trial) AreaMM2() float64 {
	switch {
	case t.Plan != nil:
		return t.Plan.AreaMM2
	case t.File != nil:
		return float64(t.File.Specimen.Area)
	}
	return 0
}
