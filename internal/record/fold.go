package record

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/table"
)

// Fold returns what the entries of a trial come to. Entries are in their order.
func Fold(id string, entries []Entry) *Trial {
	t := &Trial{ID: id, Zone: time.Local, byCode: make(map[string]*Specimen)}
	t.Entries = alive(entries)
	first := chains(t.Entries)
	spelt := make(spellings)
	// The plan goes before what refers to its specimens. The logbook lets one be live.
	for _, e := range slices.Backward(t.Entries) {
		if p, ok := e.Content.(Planned); ok && e.Live {
			t.planned(p, stampOf(e, first), spelt)
			break
		}
	}
	for _, w := range t.work(first) {
		t.take(*w.entry, w.at, spelt)
	}
	return t
}

// worked is a live entry with its stamp.
type worked struct {
	entry *Entry
	at    Stamp
}

// work returns the live entries in the order of the work: what corrects another has
// the place of what it goes back to. So a specimen whose origin was corrected is
// there before its glue-up.
func (t *Trial) work(first map[int64]Entry) []worked {
	out := make([]worked, 0, len(t.Entries))
	for i := range t.Entries {
		if e := &t.Entries[i]; e.Live {
			out = append(out, worked{e, stampOf(*e, first)})
		}
	}
	if len(first) > 0 {
		slices.SortStableFunc(out, func(a, b worked) int { return cmp.Compare(a.at.First, b.at.First) })
	}
	return out
}

// At returns the trial as it stood when an entry had been written.
func (t *Trial) At(seq int64) *Trial {
	n := 0
	for n < len(t.Entries) && t.Entries[n].Seq <= seq {
		n++
	}
	return Fold(t.ID, t.Entries[:n])
}

// alive marks the live entries. An entry stands unless one that stands takes it
// back; it is live where it stands and none that stands replaces it. So a correction
// that is itself corrected still keeps what it corrected from being live, and one
// that is taken back does not.
func alive(entries []Entry) []Entry {
	out := make([]Entry, len(entries))
	copy(out, entries)
	undone, replaced := make(map[int64]bool), make(map[int64]bool)
	for i := len(out) - 1; i >= 0; i-- {
		e := &out[i]
		e.Stands = !undone[e.Seq]
		e.Live = e.Stands && !replaced[e.Seq]
		if !e.Stands {
			continue
		}
		if e.Undoes != 0 {
			undone[e.Undoes] = true
		}
		if e.Replaces != 0 {
			replaced[e.Replaces] = true
		}
	}
	return out
}

// chains maps every correcting entry to the first one it goes back to.
func chains(entries []Entry) map[int64]Entry {
	first := make(map[int64]Entry)
	at := make(map[int64]Entry, len(entries))
	for _, e := range entries {
		at[e.Seq] = e
		if e.Replaces == 0 {
			continue
		}
		if f, ok := first[e.Replaces]; ok {
			first[e.Seq] = f
		} else {
			first[e.Seq] = at[e.Replaces]
		}
	}
	return first
}

func stampOf(e Entry, first map[int64]Entry) Stamp {
	s := Stamp{Seq: e.Seq, At: e.At, Said: e.Said, By: e.By, Device: e.Device, Files: e.Files, First: e.Seq}
	s.FirstWhen = s.When()
	if f, ok := first[e.Seq]; ok {
		s.First = f.Seq
		s.FirstWhen = Stamp{At: f.At, Said: f.Said}.When()
		if len(s.Files) == 0 {
			s.Files = f.Files // a correction of the number keeps the photo
		}
	}
	return s
}

func (t *Trial) planned(p Planned, at Stamp, spelt spellings) {
	t.Plan, t.PlanAt = &p, at
	if loc, err := time.LoadLocation(p.Zone); err == nil {
		t.Zone = loc
	}
	for i, s := range p.Specimens {
		a := &p.Adhesives[s.Adhesive]
		spelt.keep("wood", "", s.Wood)
		spelt.keep("board", s.Wood, s.Board)
		spec := &Specimen{Code: s.Code, Adhesive: a.Name, Label: a.Label, Wood: s.Wood, Board: s.Board, Pieces: s.Pieces,
			GlueTurn: i + 1, BreakTurn: s.BreakTurn, GlueAt: s.GlueAt, BreakAt: s.BreakAt, Planned: a}
		if s.Batch > 0 {
			spec.Batch = spelt.keep("batch", a.Name, fmt.Sprint(s.Batch))
		}
		if len(p.Factors) > 0 {
			spec.Factors = make(map[string]string, len(p.Factors))
			for k, f := range p.Factors {
				if k < len(s.Levels) {
					spec.Factors[f] = spelt.keep("level", f, s.Levels[k])
				}
			}
		}
		t.Specimens = append(t.Specimens, spec)
		t.byCode[s.Code] = spec
	}
}

func (t *Trial) take(e Entry, at Stamp, spelt spellings) {
	switch c := e.Content.(type) {
	case Asked:
		if at.Seq < t.AskedAt.Seq {
			break // an earlier question that was corrected; the latest counts
		}
		t.Asked, t.AskedAt, t.File = c, at, nil
		if c.parsed != nil {
			t.File = c.parsed()
		}
	case Added:
		t.add(e.Subject, c.Joint, at, spelt)
	case Glued:
		if s, ok := t.byCode[e.Subject]; ok {
			s.Glued = &Glue{at, c}
			if c.Batch != "" {
				s.Batch = spelt.keep("batch", s.Adhesive, c.Batch)
			}
		}
	case Broken:
		s, ok := t.byCode[e.Subject]
		if !ok && c.Joint != nil {
			s = t.add(e.Subject, *c.Joint, at, spelt)
		}
		if s != nil {
			s.Broken = &Break{at, c}
		}
	case Marks:
		t.Marks = append(t.Marks, Marked{at, e.Subject, c})
	case Climate:
		t.Climates = append(t.Climates, Aired{at, c})
	case Cured:
		t.Cures = append(t.Cures, Looked{at, e.Subject, c})
	case Noted:
		t.Notes = append(t.Notes, Remark{at, e.Subject, c})
	case KeyOpened:
		if t.KeyOpened == nil {
			t.KeyOpened = &at
		}
	case PutAway:
		t.PutAway = &at
	}
}

// add adds a specimen that is in no plan. Its names take the spelling that is in use.
func (t *Trial) add(code string, j Joint, at Stamp, spelt spellings) *Specimen {
	if s, ok := t.byCode[code]; ok {
		return s
	}
	s := &Specimen{Code: code, AddedAt: at}
	if a := t.plannedAdhesive(j.Adhesive); a != nil {
		s.Adhesive, s.Label, s.Planned = a.Name, a.Label, a
	} else {
		s.Adhesive = spelt.keep("adhesive", "", j.Adhesive)
		s.Label = s.Adhesive
	}
	s.Wood = spelt.keep("wood", "", j.Wood)
	s.Board = spelt.keep("board", s.Wood, j.Board)
	s.Batch = spelt.keep("batch", s.Adhesive, j.Batch)
	s.Session, s.Trial = spelt.keep("session", "", j.Session), spelt.keep("trial", "", j.Trial)
	if len(j.Factors) > 0 {
		s.Factors = make(map[string]string, len(j.Factors))
		for f, level := range j.Factors {
			s.Factors[f] = spelt.keep("level", f, level)
		}
	}
	t.Specimens = append(t.Specimens, s)
	t.byCode[code] = s
	return s
}

// plannedAdhesive returns the adhesive of the plan that has a label or a name,
// whatever its spelling; nil: none.
func (t *Trial) plannedAdhesive(called string) *PlannedAdhesive {
	if t.Plan == nil {
		return nil
	}
	want := table.Spelling(called)
	for i := range t.Plan.Adhesives {
		if a := &t.Plan.Adhesives[i]; table.Spelling(a.Label) == want {
			return a
		}
	}
	for i := range t.Plan.Adhesives {
		if a := &t.Plan.Adhesives[i]; table.Spelling(a.Name) == want {
			return a
		}
	}
	return nil
}

// read turns the entries of a logbook into entries with their content.
func read(in []logbook.Entry) []Entry {
	out := make([]Entry, len(in))
	for i, e := range in {
		out[i].Entry = e
		if c, err := decode(e.Kind, e.Content); err == nil {
			out[i].Content = c
			out[i].Entry.Content = nil // what it said is in Content, and it is kept in memory once
		}
	}
	return out
}
