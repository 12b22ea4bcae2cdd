// Package simulate invents trials whose truth is known: for the demo, for tests,
// and for the study of how often the answers hold.
//
// Each specimen has a bond and the wood around it, both with a strength of its
// own; the weaker of the two ends the break. The logarithm of each is normal about
// its typical value, and pieces of one board share a shift. Given the boards, bond
// and wood are independent.
package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"bondtrial"
)

// Adhesive is the truth about one adhesive.
type Adhesive struct {
	Name     string
	Strength []float64 // typical strength of the bond on each wood, MPa
	SD       float64   // standard deviation of log strength within a board
}

// Wood is the truth about one wood.
type Wood struct {
	Name     string
	Strength float64 // typical strength of the wood in the joint, MPa
	SD       float64 // standard deviation of its log within a board
	Boards   int
}

// Factor is a further condition with its effect on every bond.
type Factor struct {
	Name   string
	Levels []string
	Ratio  []float64 // typical strength at each level over that at the first
}

// Truth is a trial to simulate.
type Truth struct {
	Adhesives []Adhesive
	Woods     []Wood
	Factor    *Factor // nil: none
	BoardSD   float64 // standard deviation of the shift, in log strength, that the pieces of a board share
	Sessions  int     // the breaks are spread over so many sessions; 0 or 1: none are named
	SessionSD float64 // standard deviation of the shift that breaks of a session share
	RigLimit  float64 // strength at which the rig stops, MPa; 0: none
	Least     int     // specimens of each adhesive in each condition: at least
	Most      int     // and at most
}

// Readings draws one trial. Boards are dealt in turn to the specimens of a wood
// after shuffling, glue-up and breaking orders are random.
func (t *Truth) Readings(rng *rand.Rand) []bondtrial.Reading {
	var rs []bondtrial.Reading
	for w := range t.Woods {
		rs = append(rs, t.onWood(w, rng)...)
	}
	for _, order := range []func(r *bondtrial.Reading, k int){
		func(r *bondtrial.Reading, k int) { r.GlueOrder = k },
		func(r *bondtrial.Reading, k int) { r.BreakOrder = k },
	} {
		for k, i := range rng.Perm(len(rs)) {
			order(&rs[i], k+1)
		}
	}
	for i := range rs {
		rs[i].Code = fmt.Sprintf("S%03d", rs[i].GlueOrder)
	}
	t.breakInSessions(rs, rng)
	return rs
}

// breakInSessions cuts the breaking order into sessions with a shift each, and
// stops the rig at its limit.
func (t *Truth) breakInSessions(rs []bondtrial.Reading, rng *rand.Rand) {
	if t.Sessions > 1 {
		shift := make([]float64, t.Sessions)
		for s := range shift {
			shift[s] = math.Exp(t.SessionSD * rng.NormFloat64())
		}
		for i := range rs {
			s := (rs[i].BreakOrder - 1) * t.Sessions / len(rs)
			rs[i].Session = fmt.Sprint(s + 1)
			rs[i].Strength *= bondtrial.Megapascal(shift[s])
		}
	}
	if limit := bondtrial.Megapascal(t.RigLimit); limit > 0 {
		for i := range rs {
			if r := &rs[i]; r.Strength >= limit {
				r.Strength, r.RigLimited, r.WoodFailure = limit, true, bondtrial.Percent(math.NaN())
			}
		}
	}
}

func (t *Truth) onWood(w int, rng *rand.Rand) []bondtrial.Reading {
	wood := t.Woods[w]
	bond, own := make([]float64, wood.Boards), make([]float64, wood.Boards)
	for b := range bond {
		bond[b] = t.BoardSD * rng.NormFloat64()
		own[b] = t.BoardSD * rng.NormFloat64()
	}
	levels, ratios := []string{""}, []float64{1}
	if t.Factor != nil {
		levels, ratios = t.Factor.Levels, t.Factor.Ratio
	}
	var rs []bondtrial.Reading
	next := 0
	deck := rng.Perm(wood.Boards)
	for l, level := range levels {
		for _, a := range t.Adhesives {
			for range t.Least + rng.IntN(t.Most-t.Least+1) {
				if next == len(deck) {
					deck, next = rng.Perm(wood.Boards), 0
				}
				b := deck[next]
				next++
				r := bondtrial.Reading{Specimen: bondtrial.Specimen{
					Adhesive: a.Name, Wood: wood.Name, Board: fmt.Sprint(b + 1),
				}}
				if t.Factor != nil {
					r.Factors = map[string]string{t.Factor.Name: level}
				}
				atBond := math.Log(a.Strength[w]*ratios[l]) + bond[b] + a.SD*rng.NormFloat64()
				atWood := math.Log(wood.Strength) + own[b] + wood.SD*rng.NormFloat64()
				r.MoisturePct = bondtrial.Percent(math.NaN())
				r.Strength = bondtrial.Megapascal(math.Exp(min(atBond, atWood)))
				r.WoodFailure = woodShare(atWood < atBond, rng)
				rs = append(rs, r)
			}
		}
	}
	return rs
}

// woodShare invents the share of wood on the broken faces, in steps of 5 %: 75
// and more where the wood failed, 70 and less where the bond did, mostly little.
func woodShare(woodFailed bool, rng *rand.Rand) bondtrial.Percent {
	u := rng.Float64()
	if woodFailed {
		return bondtrial.Percent(75 + 5*math.Floor(6*math.Sqrt(u)))
	}
	return bondtrial.Percent(5 * math.Floor(15*u*u*u))
}

// ShareLimited is the expected share of specimens that the wood ends.
func (t *Truth) ShareLimited() float64 {
	ratios := []float64{1}
	if t.Factor != nil {
		ratios = t.Factor.Ratio
	}
	sum, n := 0.0, 0
	for w, wood := range t.Woods {
		for _, a := range t.Adhesives {
			sd := math.Sqrt(a.SD*a.SD + wood.SD*wood.SD + 2*t.BoardSD*t.BoardSD)
			for _, r := range ratios {
				sum += 0.5 * math.Erfc((math.Log(wood.Strength)-math.Log(a.Strength[w]*r))/(sd*math.Sqrt2))
				n++
			}
		}
	}
	return sum / float64(n)
}

// LimitShare sets the strengths of the woods, all by one factor, so that the
// expected share of specimens the wood ends is the given one. A share of 0 makes
// the woods too strong to break.
func (t *Truth) LimitShare(share float64) {
	scale := func(by float64) {
		for w := range t.Woods {
			t.Woods[w].Strength *= by
		}
	}
	if share <= 0 {
		scale(1e6)
		return
	}
	lo, hi := -20.0, 20.0
	for range 60 {
		mid := 0.5 * (lo + hi)
		scale(math.Exp(mid))
		if t.ShareLimited() > share {
			lo = mid
		} else {
			hi = mid
		}
		scale(math.Exp(-mid))
	}
	scale(math.Exp(lo))
}

// Ratio is the true ratio of the typical strengths of two adhesives on a wood. It
// panics where one of them is not in the trial.
func (t *Truth) Ratio(a, b, wood string) float64 {
	return t.strength(a, wood) / t.strength(b, wood)
}

func (t *Truth) strength(adhesive, wood string) float64 {
	for w := range t.Woods {
		if t.Woods[w].Name != wood {
			continue
		}
		for _, a := range t.Adhesives {
			if a.Name == adhesive {
				return a.Strength[w]
			}
		}
	}
	panic("simulate: no such adhesive or wood: " + adhesive + ", " + wood)
}
