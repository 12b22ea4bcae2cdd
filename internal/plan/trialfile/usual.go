package trialfile

import "math"

// Usual is what is usual for a family of adhesives, each time and temperature
// written as a trial file writes it. A text is empty where nothing is usual, so
// that the file must say it; without a Lowest, no temperature is checked.
type Usual struct {
	What        string // the family in plain words
	Open, Clamp string // "5 min"; Clamp is "none" where none is needed
	Cure        string // as it is taken, at least [LeastCure]
	Lowest      string // °C
	Source      string // of all but Cure; empty where nothing is usual
	CureSource  string
}

// Usual returns what is usual for f; ok is false where there is no such family.
func (f Family) Usual() (u Usual, ok bool) {
	p, ok := practiceOf(f)
	if !ok {
		return Usual{}, false
	}
	u = Usual{What: p.what, Source: p.source}
	if p.open >= 0 {
		u.Open = plainTime(p.open)
	}
	switch {
	case p.clamp == 0:
		u.Clamp = "none"
	case p.clamp > 0:
		u.Clamp = plainTime(p.clamp)
	}
	if cure, source, known := p.curing(); known {
		u.Cure, u.CureSource = plainTime(cure), source
	}
	if lowest := float64(p.lowest); !math.IsNaN(lowest) {
		u.Lowest = plainNumber(lowest)
	}
	return u, true
}
