package invent

import (
	"math"
	"math/rand/v2"

	"bondtrial/internal/trace"
)

// Specimen is a joint on a rig with what the record of its break should be called.
type Specimen struct {
	Joint Joint
	Rig   Rig
	Word  trace.Word
	Kind  string // in words, for a table of what was taken for what
}

func between(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }

// alike draws between two values on a log scale.
func alike(rng *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(rng.Float64()*math.Log(hi/lo))
}

func chance(rng *rand.Rand, p float64) bool { return rng.Float64() < p }

// Draw draws a specimen and a rig at realistic noise. The ways of failing are those of
// [trace.Words], and records that show none plainly.
func Draw(rng *rand.Rand) Specimen {
	s := Shape{Peak: alike(rng, 300, 25000), Elastic: alike(rng, 0.3, 3)}
	if chance(rng, 0.6) {
		s.Toe = s.Elastic * between(rng, 0.02, 0.4)
	}
	if chance(rng, 0.7) {
		s.Bend = s.Elastic * between(rng, 0.02, 0.25)
	}
	p := rng.Float64()
	switch {
	case p < 0.34:
		return drawSnap(s, rng)
	case p < 0.54:
		return drawStep(s, rng)
	case p < 0.80:
		return drawYield(s, rng)
	case p < 0.92:
		return drawUnfinished(s, rng)
	}
	return drawUnclear(s, rng)
}

// drawRig draws a rig for a joint, fast enough for its word to be seen.
func drawRig(j Joint, rng *rand.Rand) Rig {
	peak, x := j.Peak()
	rise := alike(rng, 4, 60)
	rate := []float64{10, 20, 40, 80, 100, 200}[rng.IntN(6)]
	rate = min(rate, 6000/rise)
	r := Rig{
		Rate: rate, Speed: x / rise, Quiet: between(rng, 0.1, 0.6) * rise, Tail: between(rng, 0.05, 0.5) * rise,
		Zero: peak * between(rng, -0.3, 0.3), Noise: peak * alike(rng, 0.0002, 0.008),
		Ring: between(rng, 0, 0.25), Travel: chance(rng, 0.7),
	}
	r.Quiet = max(r.Quiet, 12/rate)
	if chance(rng, 0.4) {
		r.Drift = peak * between(rng, -0.01, 0.01) / rise
	}
	if chance(rng, 0.5) {
		r.Resolution = peak * alike(rng, 0.0001, 0.003)
	}
	if chance(rng, 0.3) {
		r.Hum = peak * between(rng, 0.0002, 0.003)
	}
	if chance(rng, 0.3) {
		r.Filter = between(rng, 0.001, 0.01)
	}
	if chance(rng, 0.3) {
		r.Spikes, r.SpikeSize = between(rng, 0.3, 4)/rise, peak*between(rng, 0.1, 1.5)
	}
	if chance(rng, 0.3) {
		r.Compliance = between(rng, 0.02, 0.4) * x / peak
	}
	if chance(rng, 0.2) {
		r.Stroke = rise / between(rng, 12, 40)
		r.Speed /= 0.6
	}
	if r.Travel {
		r.TravelNoise = x * alike(rng, 0.0001, 0.002)
		if chance(rng, 0.5) {
			r.TravelResolution = x * alike(rng, 0.0003, 0.005)
		}
	}
	if chance(rng, 0.1) {
		r.Slow = max(0.01, 3/rate)
	}
	return r
}

func drawSnap(s Shape, rng *rand.Rand) Specimen {
	left := 0.0
	if chance(rng, 0.5) {
		left = between(rng, 0, 0.15)
	}
	j := Sudden(s, 0, left)
	return Specimen{j, drawRig(j, rng), trace.Snap, "snap"}
}

func drawStep(s Shape, rng *rand.Rand) Specimen {
	early, earlyDrop := 0.0, 0.0
	kind := "steps"
	if chance(rng, 0.3) {
		early, earlyDrop = between(rng, 0.7, 0.9), between(rng, 0.16, 0.3)
		kind = "steps, one before the peak"
	}
	var teeth []Tooth
	level := 1.0
	for {
		t := Tooth{Drop: between(rng, 0.16, 0.38), Width: s.Elastic * between(rng, 0.15, 0.6)}
		t.Rise = between(rng, 0, 0.6) * t.Drop
		teeth = append(teeth, t)
		level += t.Rise - t.Drop
		if level < 0.45 && len(teeth) >= 2 || len(teeth) == 6 {
			break
		}
	}
	j := Stepwise(s, early, earlyDrop, teeth)
	return Specimen{j, drawRig(j, rng), trace.Step, kind}
}

func drawYield(s Shape, rng *rand.Rand) Specimen {
	var j Joint
	kind := ""
	s.Bend = max(s.Bend, s.Elastic*between(rng, 0.05, 0.6))
	switch rng.IntN(4) {
	case 0:
		j, kind = Yielding(s, 0, s.Elastic*between(rng, 0.7, 3), between(rng, 0, 0.08), false), "straight fall"
	case 1:
		j, kind = Yielding(s, 0, s.Elastic*between(rng, 2, 6), between(rng, 0, 0.08), true), "fall like an exponential"
	case 2:
		j, kind = Yielding(s, s.Elastic*between(rng, 0.3, 2), s.Elastic*between(rng, 0.7, 3), between(rng, 0, 0.08), false), "plateau, then fall"
	case 3:
		j, kind = Yielding(s, 0, s.Elastic*between(rng, 1.2, 3), between(rng, 0.4, 0.75), false), "fall, then gone"
	}
	rig := drawRig(j, rng)
	if p, _ := j.Peak(); rig.Compliance > 0.25*s.Elastic/p {
		// A soft rig would let even a slow joint go at once where its load falls.
		rig.Compliance = 0.25 * s.Elastic / p
	}
	return Specimen{j, rig, trace.SlowYield, kind}
}

func drawUnfinished(s Shape, rng *rand.Rand) Specimen {
	sp := Specimen{Word: trace.Unfinished}
	switch rng.IntN(3) {
	case 0:
		sp.Kind = "ends on the rise"
		sp.Joint = Sudden(s, 0, 0)
		sp.Rig = drawRig(sp.Joint, rng)
		p, x := sp.Joint.Peak()
		sp.Rig.StopAt = between(rng, 0.6, 0.97) * (x + sp.Rig.Compliance*p)
	case 1:
		sp.Kind = "ends while it falls"
		s.Bend = max(s.Bend, 0.1*s.Elastic)
		sp.Joint = Yielding(s, 0, s.Elastic*between(rng, 1, 3), 0, false)
		sp.Rig = drawRig(sp.Joint, rng)
		p, x := sp.Joint.Peak()
		fallen := between(rng, 0.1, 0.4)
		n := len(sp.Joint.Curve)
		width := sp.Joint.Curve[n-1].Travel - x
		sp.Rig.StopAt = x + fallen*width + sp.Rig.Compliance*p*(1-fallen)
	default:
		sp.Kind = "let back"
		sp.Joint = Sudden(s, 0, 0)
		sp.Rig = drawRig(sp.Joint, rng)
		sp.Rig.Travel = true
		p, x := sp.Joint.Peak()
		sp.Rig.TravelNoise, sp.Rig.TravelResolution = 0.001*x, 0
		sp.Rig.LetBackAt = between(rng, 0.6, 0.97) * (x + sp.Rig.Compliance*p)
	}
	return sp
}

func drawUnclear(s Shape, rng *rand.Rand) Specimen {
	sp := Specimen{Word: trace.Unclear}
	switch rng.IntN(3) {
	case 0:
		sp.Kind = "plateau, then gone"
		s.Bend = max(s.Bend, 0.1*s.Elastic)
		sp.Joint = Sudden(s, s.Elastic*between(rng, 1.5, 4), between(rng, 0, 0.1))
		sp.Rig = drawRig(sp.Joint, rng)
	case 1:
		sp.Kind = "one drop, then a slow fall"
		drop := between(rng, 0.3, 0.5)
		sp.Joint = Stepwise(s, 0, 0, []Tooth{{drop, drop - 1, s.Elastic * between(rng, 1, 3)}})
		sp.Rig = drawRig(sp.Joint, rng)
	default:
		sp.Kind = "no load"
		sp.Joint = Sudden(s, 0, 0)
		sp.Rig = drawRig(sp.Joint, rng)
		sp.Rig.Noise = s.Peak * 0.01
		sp.Rig.StopAt, sp.Rig.Quiet = sp.Rig.Speed*0.001, 20
		sp.Rig.Stroke, sp.Rig.Compliance = 0, 0
	}
	return sp
}
