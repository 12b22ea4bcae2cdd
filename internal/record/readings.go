package record

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"bondtrial"
	"bondtrial/internal/table"
)

// notNamed stands where some readings of a trial name something and another does
// not: a table of readings takes no blank there.
const notNamed = "not named"

// facesNotRecorded is added to the remark of a reading that says nothing of its
// broken faces where others do. Such a reading counts as a bond that broke.
const facesNotRecorded = "faces not recorded, counted as no wood"

// Readings returns the readings of the trial, in the order in which they were
// broken, as package answer takes them: named as pages may name the adhesives, with
// the orders of the work as they came to pass where they were recorded, else as
// planned. The session of a break is the day it was made on, in the trial's zone.
//
// Package table reads what it writes of them, and the same comes out. So names have
// one spelling each; a wood, session, trial or level that is missing is "not named"
// where others are named, a batch is 1 where the plan has none, and a board that is
// not named is the specimen's own; a used reading without a word on its faces counts
// as without wood, which its remark says, where others tell of theirs.
func (t *Trial) Readings() []bondtrial.Reading {
	return t.readingsOf(t.keep(func(s *Specimen) bool { return s.Broken != nil }))
}

// readingsOf returns the readings of specimens that all have a break.
func (t *Trial) readingsOf(broken []*Specimen) []bondtrial.Reading {
	slices.SortStableFunc(broken, func(a, b *Specimen) int { return cmp.Compare(a.Broken.First, b.Broken.First) })
	glued := t.glueOrder(broken)
	factors := t.Factors()
	out := make([]bondtrial.Reading, 0, len(broken))
	var glue, place int // orders of a table that was taken in are gone on from
	for _, s := range broken {
		glue, place = max(glue, s.Broken.GlueOrder), max(place, s.Broken.BreakOrder)
	}
	for _, s := range broken {
		b := s.Broken
		failure, _ := bondtrial.ParseFailure(b.Failure)
		r := bondtrial.Reading{
			Specimen: bondtrial.Specimen{Code: s.Code, Adhesive: t.Shown(s), Wood: s.Wood, Board: s.Board, Batch: s.Batch,
				Session: s.Session, Trial: s.Trial},
			Strength: bondtrial.Megapascal(b.Strength), WoodFailure: share(b.WoodShare), Failure: failure, RigLimited: b.RigLimited,
			SetAside: b.SetAside, Note: b.Note, MoisturePct: share(b.Moisture), Line: b.Line,
			GlueOrder: b.GlueOrder, BreakOrder: b.BreakOrder,
		}
		if len(factors) > 0 {
			r.Factors = make(map[string]string, len(factors))
			for _, f := range factors {
				r.Factors[f] = s.Factors[f]
			}
		}
		if b.Joint == nil {
			place++
			r.GlueOrder, r.BreakOrder = 0, place
			if k := glued[s.Code]; k > 0 {
				r.GlueOrder = glue + k
			}
			if r.Session == "" {
				r.Session = b.FirstWhen.In(t.Zone).Format(time.DateOnly)
			}
		}
		out = append(out, r)
	}
	t.fill(out, factors)
	return out
}

// fill fills in what a table must not leave blank, see Readings.
func (t *Trial) fill(rs []bondtrial.Reading, factors []string) {
	var wood, board, batch, session, trial, faces bool
	for i := range rs {
		r := &rs[i]
		wood, board, batch = wood || r.Wood != "", board || r.Board != "", batch || r.Batch != ""
		session, trial = session || r.Session != "", trial || r.Trial != ""
		faces = faces || !math.IsNaN(float64(r.WoodFailure)) || r.Failure != ""
	}
	own := notNamed
	if n := table.Name(t.Asked.Name); n != "" {
		own = n
	}
	spelt := make(spellings)
	for i := range rs {
		r := &rs[i]
		r.Wood = spelt.keep("wood", "", filled(r.Wood, wood, notNamed))
		r.Board = spelt.keep("board", r.Wood, filled(r.Board, board, notNamed+", "+r.Code))
		unnumbered := notNamed
		if s := t.byCode[r.Code]; s != nil && s.GlueTurn > 0 {
			unnumbered = "1"
		}
		r.Batch = spelt.keep("batch", r.Adhesive, filled(r.Batch, batch, unnumbered))
		r.Session = spelt.keep("session", "", filled(r.Session, session, notNamed))
		r.Trial = spelt.keep("trial", "", filled(r.Trial, trial, own))
		for _, f := range factors {
			r.Factors[f] = spelt.keep("level", f, filled(r.Factors[f], true, notNamed))
		}
		if faces && r.SetAside == "" && !r.RigLimited && r.Failure == "" && math.IsNaN(float64(r.WoodFailure)) {
			r.WoodFailure = 0
			if r.Note != "" {
				r.Note += "; "
			}
			r.Note += facesNotRecorded
		}
	}
}

func filled(name string, wanted bool, with string) string {
	if name == "" && wanted {
		return with
	}
	return name
}

// glueOrder returns the places of the specimens in the glue-up: as they came to
// pass where the glue-up of each is recorded, else as planned.
func (t *Trial) glueOrder(broken []*Specimen) map[string]int {
	places := make(map[string]int)
	all := true
	for _, s := range broken {
		places[s.Code] = s.GlueTurn
		all = all && s.Glued != nil
	}
	if !all {
		return places
	}
	glued := t.keep(func(s *Specimen) bool { return s.Glued != nil })
	slices.SortStableFunc(glued, func(a, b *Specimen) int { return cmp.Compare(a.Glued.First, b.Glued.First) })
	for i, s := range glued {
		places[s.Code] = i + 1
	}
	return places
}

func share(v *float64) bondtrial.Percent {
	if v == nil {
		return bondtrial.Percent(math.NaN())
	}
	return bondtrial.Percent(*v)
}

// brokenOf returns the content of an entry for a reading from elsewhere.
func brokenOf(r *bondtrial.Reading) Broken {
	b := Broken{Strength: float64(r.Strength), Failure: string(r.Failure), RigLimited: r.RigLimited, SetAside: r.SetAside, Note: r.Note,
		GlueOrder: r.GlueOrder, BreakOrder: r.BreakOrder, Line: r.Line,
		Joint: &Joint{Adhesive: r.Adhesive, Wood: r.Wood, Board: r.Board, Batch: r.Batch, Session: r.Session, Trial: r.Trial, Factors: r.Factors}}
	if v := float64(r.WoodFailure); !math.IsNaN(v) {
		b.WoodShare = &v
	}
	if v := float64(r.MoisturePct); !math.IsNaN(v) {
		b.Moisture = &v
	}
	return b
}

// FacesUnknown returns the codes of the readings that count as bonds that broke for
// want of a word on their faces, where others have one.
func (t *Trial) FacesUnknown() []string {
	var codes []string
	for _, r := range t.Readings() {
		if strings.HasSuffix(r.Note, facesNotRecorded) {
			codes = append(codes, r.Code)
		}
	}
	return codes
}
