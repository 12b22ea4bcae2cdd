package invent

import (
	"math"
	"math/rand/v2"

	"bondtrial/internal/trace"
)

// Rig is what breaks a joint and records it.
type Rig struct {
	Rate       float64 // Hz
	Speed      float64 // mm/s, of the machine while it moves
	Quiet      float64 // s before it moves
	Tail       float64 // s recorded after the load is gone
	Stroke     float64 // s from stroke to stroke of a hand pump, moving six tenths of it; 0: it moves steadily
	Compliance float64 // mm/N of the frame, cell and fixture
	StopAt     float64 // mm of the machine where the record ends; 0: it does not
	LetBackAt  float64 // mm of the machine from where it goes back; 0: it does not

	Zero       float64 // N, where the cell stands without load
	Drift      float64 // N/s
	Noise      float64 // N, standard deviation
	Hum        float64 // N, half the height of a 50 Hz wave
	Resolution float64 // N; 0: none
	Filter     float64 // s, time constant of the amplifier; 0: none
	Ring       float64 // share of a drop that the cell swings by after it
	Spikes     float64 // a second
	SpikeSize  float64 // N

	Travel           bool // travel is recorded
	TravelNoise      float64
	TravelResolution float64
	Slow             float64 // s, step of the clock that times are written with; 0: as fine as it takes
}

// Run is a break that goes on: a source of samples.
type Run struct {
	joint    Joint
	rig      Rig
	rng      *rand.Rand
	machine  []Knot // the curve over the travel of the machine
	peak     float64
	endAt    float64 // mm of the machine, behind which the load is gone
	at       int     // piece of the curve
	sample   int
	shown    float64 // what the amplifier's filter holds
	follow   float64 // the share of a change that it takes on in a sample
	before   float64 // the load one sample before
	ring     float64
	rang     float64 // when the last swing began
	spike    int     // samples that it goes on
	size     float64
	gone     float64 // when the load went; +Inf until then
	turned   bool
	backFrom float64 // the load where the machine turned
}

// ringFrequency and ringDecay are of the swing of a cell after a drop.
const (
	ringFrequency = 110.0 // Hz
	ringDecay     = 0.015 // s
)

// Start sets a joint on a rig. It panics where the rate or the speed is not above 0.
func Start(j Joint, rig Rig, rng *rand.Rand) *Run {
	if !(rig.Rate > 0) || !(rig.Speed > 0) {
		panic("invent: a rig needs a rate and a speed")
	}
	r := &Run{joint: j, rig: rig, rng: rng, gone: math.Inf(1)}
	r.peak, _ = j.Peak()
	r.endAt = rig.Compliance*r.peak + j.end()
	if rig.Filter > 0 {
		r.follow = 1 - math.Exp(-1/(rig.Rate*rig.Filter))
	}
	for _, k := range j.Curve {
		r.machine = append(r.machine, Knot{k.Travel + rig.Compliance*k.Force, k.Force})
	}
	return r
}

// moved returns the travel of the machine after a time of moving, and for how long it
// has been standing.
func (r *Run) moved(t float64) (travel, standing float64) {
	if t <= 0 {
		return 0, 0
	}
	if r.rig.Stroke <= 0 {
		return r.rig.Speed * t, 0
	}
	const moving = 0.6
	whole := math.Floor(t / r.rig.Stroke)
	part := t - whole*r.rig.Stroke
	return r.rig.Speed * (whole*moving*r.rig.Stroke + min(part, moving*r.rig.Stroke)), max(0, part-moving*r.rig.Stroke)
}

// load returns the force at a travel of the machine, N.
func (r *Run) load(m float64) float64 {
	c := r.machine
	for r.at+1 < len(c) && c[r.at+1].Travel < m {
		r.at++
	}
	if r.at+1 == len(c) {
		return c[r.at].Force
	}
	a, b := c[r.at], c[r.at+1]
	if m <= a.Travel {
		return a.Force
	}
	return a.Force + (b.Force-a.Force)*(m-a.Travel)/(b.Travel-a.Travel)
}

// Next returns the next sample: time in s, force in N, travel in mm (0 where the rig
// records none). ok is false when the record has ended.
func (r *Run) Next() (t, f, x float64, ok bool) {
	rig := &r.rig
	now := float64(r.sample) / rig.Rate
	r.sample++
	m, standing := r.moved(now - rig.Quiet)
	load := 0.0
	switch {
	case rig.LetBackAt > 0 && m > rig.LetBackAt:
		if !r.turned {
			r.turned, r.backFrom = true, r.load(rig.LetBackAt)
		}
		m = 2*rig.LetBackAt - m
		load = r.backFrom - (rig.LetBackAt-m)*r.slope()
		if load < 0 {
			load = 0
			r.gone = min(r.gone, now)
		}
	default:
		load = r.load(m)
		if m > r.endAt && r.at >= len(r.machine)-2 && load <= 0.2*r.peak {
			r.gone = min(r.gone, now)
		}
	}
	if now > r.gone+rig.Tail || rig.StopAt > 0 && m > rig.StopAt {
		return 0, 0, 0, false
	}
	if standing > 0 { // glue and wood give way a little while the machine stands
		load *= 1 - 0.02*(1-math.Exp(-standing/0.5))
	}
	return r.clock(now), r.measured(now, load), r.travel(m), true
}

// slope is the stiffness of joint and rig together, N/mm.
func (r *Run) slope() float64 {
	best := 0.0
	for i := 1; i < len(r.machine); i++ {
		if d := r.machine[i].Travel - r.machine[i-1].Travel; d > 0.02*r.machine[len(r.machine)-1].Travel {
			best = max(best, (r.machine[i].Force-r.machine[i-1].Force)/d)
		}
	}
	if best == 0 {
		p, x := r.joint.Peak()
		best = p / (x + r.rig.Compliance*p)
	}
	return best
}

func (r *Run) clock(now float64) float64 {
	if r.rig.Slow > 0 {
		return math.Floor(now/r.rig.Slow+1e-9) * r.rig.Slow
	}
	return now
}

// measured is what the cell and its amplifier make of a load.
func (r *Run) measured(now, load float64) float64 {
	rig := &r.rig
	if d := r.before - load; d > 0.08*r.peak && rig.Ring > 0 {
		r.ring, r.rang = rig.Ring*d, now
	}
	r.before = load
	if r.ring > 0 {
		dt := now - r.rang
		load -= r.ring * math.Exp(-dt/ringDecay) * math.Cos(2*math.Pi*ringFrequency*dt)
		if dt > 8*ringDecay {
			r.ring = 0
		}
	}
	if rig.Filter > 0 {
		r.shown += (load - r.shown) * r.follow
		load = r.shown
	}
	f := load + rig.Zero + rig.Drift*now + rig.Noise*r.rng.NormFloat64()
	if rig.Hum != 0 {
		f += rig.Hum * math.Sin(2*math.Pi*50*now)
	}
	if rig.Spikes > 0 && r.spike == 0 && r.rng.Float64() < rig.Spikes/rig.Rate {
		r.spike = 1 + r.rng.IntN(2)
		r.size = rig.SpikeSize * (0.5 + r.rng.Float64())
		if r.rng.IntN(2) == 0 {
			r.size = -r.size
		}
	}
	if r.spike > 0 {
		r.spike--
		f += r.size
	}
	return rounded(f, rig.Resolution)
}

func (r *Run) travel(m float64) float64 {
	if !r.rig.Travel {
		return 0
	}
	return rounded(m+r.rig.TravelNoise*r.rng.NormFloat64(), r.rig.TravelResolution)
}

func rounded(v, to float64) float64 {
	if to > 0 {
		return math.Round(v/to) * to
	}
	return v
}

// longest is how many samples a record has at most.
const longest = 5_000_000

// Break breaks a joint and returns the whole record.
func Break(j Joint, rig Rig, rng *rand.Rand) trace.Record {
	run := Start(j, rig, rng)
	var rec trace.Record
	for len(rec.Time) < longest {
		t, f, x, ok := run.Next()
		if !ok {
			break
		}
		rec.Time, rec.Force = append(rec.Time, t), append(rec.Force, f)
		if rig.Travel {
			rec.Travel = append(rec.Travel, x)
		}
	}
	return rec
}
