// Package invent makes up breaks of glued joints as a rig would record them: for the
// demo and for tests, with what is true known. Randomness is handed in; one seed gives
// one record, on every platform to rounding. No real adhesive or machine is meant. What is drawn
// is common practice, no source.
package invent

import (
	"math"

	"bondtrial/internal/trace"
)

// Knot is a point of a joint's curve.
type Knot struct {
	Travel float64 // mm, of the joint alone
	Force  float64 // N
}

// Joint is a glued joint to be broken: the load it carries over travel. Between knots
// the curve is straight; two knots at one travel are a drop.
type Joint struct {
	Curve []Knot     // from 0, 0; travel never falls
	Word  trace.Word // how it fails, by how it was made
}

// Peak returns the largest force of the curve, N, and the travel there, mm.
func (j Joint) Peak() (force, travel float64) {
	for _, k := range j.Curve {
		if k.Force > force {
			force, travel = k.Force, k.Travel
		}
	}
	return force, travel
}

// Energy returns the area in J under the curve up to a travel in mm. What lies at that
// travel behind a drop is not counted twice, because a drop has no width.
func (j Joint) Energy(travel float64) float64 {
	sum := 0.0
	for i := 1; i < len(j.Curve); i++ {
		a, b := j.Curve[i-1], j.Curve[i]
		if a.Travel >= travel {
			break
		}
		if b.Travel > travel {
			u := (travel - a.Travel) / (b.Travel - a.Travel)
			b = Knot{travel, a.Force + u*(b.Force-a.Force)}
		}
		sum += (b.Travel - a.Travel) * (a.Force + b.Force) / 2
	}
	return sum / 1000
}

// end returns the travel at which the last of the load is lost, mm.
func (j Joint) end() float64 {
	peak, _ := j.Peak()
	last := 0.0
	for _, k := range j.Curve {
		if k.Force > 0.2*peak {
			last = k.Travel
		}
	}
	return last
}

// Shape is how a joint rises to its peak.
type Shape struct {
	Peak    float64 // N
	Elastic float64 // mm, where a straight rise would reach the peak
	Toe     float64 // mm, of a quadratic beginning, before the straight rise
	Bend    float64 // mm, by which the peak comes later than a straight rise would
}

// curvePieces is how many straight pieces a bent part of a curve is made of.
const curvePieces = 24

// rise returns the curve up to the peak: a quadratic toe, a straight part, and from
// 65 % of the peak a bend.
func (s Shape) rise() []Knot {
	k := s.Peak / s.Elastic
	curve := []Knot{{0, 0}}
	x0 := 0.0 // where the straight part would start from
	if s.Toe > 0 {
		// F = k·x²/(2·toe) meets F = k·(x − toe/2) at toe, slope and all.
		x0 = s.Toe / 2
		for i := 1; i <= curvePieces; i++ {
			x := s.Toe * float64(i) / curvePieces
			curve = append(curve, Knot{x, k * x * x / (2 * s.Toe)})
		}
	}
	if !(s.Bend > 0) {
		return append(curve, Knot{x0 + s.Elastic, s.Peak})
	}
	const from = 0.65
	xa, xb := x0+from*s.Elastic, x0+s.Elastic+s.Bend
	curve = append(curve, Knot{xa, from * s.Peak})
	// The rest is c − (c)(1−u)^p with the slope k at its beginning and 0 at its end.
	height, width := (1-from)*s.Peak, xb-xa
	p := max(1, k*width/height)
	for i := 1; i <= curvePieces; i++ {
		u := float64(i) / curvePieces
		curve = append(curve, Knot{xa + u*width, from*s.Peak + height*(1-math.Pow(1-u, p))})
	}
	return curve
}

// Sudden is a joint that carries its peak over a plateau, mm, and then keeps only the
// share left of it. With a plateau above about the elastic travel it is no plain snap.
func Sudden(s Shape, plateau, left float64) Joint {
	curve := s.rise()
	x := curve[len(curve)-1].Travel
	if plateau > 0 {
		x += plateau
		curve = append(curve, Knot{x, 0.99 * s.Peak})
	}
	word := trace.Snap
	if plateau > 0.1*s.Elastic {
		word = trace.Unclear
	}
	return Joint{append(curve, Knot{x, left * s.Peak}), word}
}

// Tooth is one partial drop and the rise after it.
type Tooth struct {
	Drop  float64 // share of the peak that goes
	Rise  float64 // share of the peak that comes back until the next
	Width float64 // mm until the next
}

// Stepwise is a joint that loses its load in teeth, and the rest at the end of the
// last. early is the share of the peak at which a first drop comes before the peak, 0
// for none; earlyDrop what it takes.
func Stepwise(s Shape, early, earlyDrop float64, teeth []Tooth) Joint {
	var curve []Knot
	k := s.Peak / s.Elastic
	shift := 0.0
	for _, p := range s.rise() {
		if early > 0 && p.Force >= early*s.Peak {
			last := curve[len(curve)-1]
			x := last.Travel + (p.Travel-last.Travel)*(early*s.Peak-last.Force)/(p.Force-last.Force)
			curve = append(curve, Knot{x, early * s.Peak}, Knot{x, (early - earlyDrop) * s.Peak})
			shift = earlyDrop * s.Peak / k
			curve = append(curve, Knot{x + shift, early * s.Peak})
			early = 0
		}
		curve = append(curve, Knot{p.Travel + shift, p.Force})
	}
	x, level := curve[len(curve)-1].Travel, 1.0
	for _, t := range teeth {
		level = max(0.02, level-t.Drop)
		curve = append(curve, Knot{x, level * s.Peak})
		x += t.Width
		level = min(level+t.Rise, 0.98)
		curve = append(curve, Knot{x, level * s.Peak})
	}
	return Joint{append(curve, Knot{x, 0.02 * s.Peak}), trace.Step}
}

// Yielding is a joint that falls from its peak, after a plateau, to a share of it over
// a width in mm: straight, or bent like an exponential. What is left then goes at
// once, unless it is nearly nothing.
func Yielding(s Shape, plateau, width, to float64, bent bool) Joint {
	curve := s.rise()
	x := curve[len(curve)-1].Travel
	if plateau > 0 {
		x += plateau
		curve = append(curve, Knot{x, 0.985 * s.Peak})
	}
	start := curve[len(curve)-1].Force / s.Peak
	pieces := 1
	if bent {
		pieces = curvePieces
	}
	for i := 1; i <= pieces; i++ {
		u := float64(i) / float64(pieces)
		f := start + (to-start)*u
		if bent {
			f = to + (start-to)*(math.Exp(-3*u)-math.Exp(-3))/(1-math.Exp(-3))
		}
		curve = append(curve, Knot{x + u*width, f * s.Peak})
	}
	return Joint{append(curve, Knot{x + width, min(to, 0.01) * s.Peak}), trace.SlowYield}
}
