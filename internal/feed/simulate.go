package feed

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"sync"
	"time"
)

// Simulation says what a simulated rig does. It breaks glued lap joints, one after
// the other: a quiet start, the load, the failure, a quiet end. Sizes are in the range
// of small shop rigs (common practice, no source).
type Simulation struct {
	Seed     uint64
	Rate     float64 // lines a second; 0 stands for 80
	Breaks   int     // number of joints; 0: without end
	Noise    float64 // standard deviation, N
	Drift    float64 // of the zero, N a minute
	Spikes   float64 // share of lines with a reading far off
	Garbage  float64 // share of lines that are no text, or not a reading
	Halves   float64 // share of lines whose end is missing: the next is joined to them
	Travel   bool    // a third number: travel, mm
	FullPace bool    // as fast as it goes, and not as a real rig would
}

// CountsPerNewton and ZeroCounts are what the simulated amplifier makes of force.
const (
	CountsPerNewton = 250.0
	ZeroCounts      = 84210.0
)

// SimulatedBreak is what truly happens to one simulated joint. Times are seconds
// after the simulation began.
type SimulatedBreak struct {
	Start, PeakAt, End float64
	Peak               float64 // N
	Way                string  // "snap", "step" or "slow yield"
	slack, fall        float64 // s
	seat               float64 // share of the peak at which a step seats
	rising             float64 // s from the end of the slack to the peak
}

// Break returns what happens to the i-th joint, from 0. It depends on the seed alone,
// and begins where the one before it ends.
func (s Simulation) Break(i int) SimulatedBreak {
	at := 0.0
	for j := range i {
		at = s.draw(j, at).End
	}
	return s.draw(i, at)
}

// draw makes the i-th joint, which begins at a time.
func (s Simulation) draw(i int, at float64) SimulatedBreak {
	rng := rand.New(rand.NewPCG(s.Seed, 0x6a6f696e74<<24+uint64(i)))
	b := SimulatedBreak{Way: []string{"snap", "step", "slow yield"}[rng.IntN(3)]}
	b.Peak = 1800 * math.Exp(0.25*rng.NormFloat64())
	b.slack = 0.3 + 0.5*rng.Float64()
	b.rising = 3 + 2*rng.Float64()
	b.seat = 0.35 + 0.3*rng.Float64()
	b.Start = at + 2 + rng.Float64()
	b.PeakAt = b.Start + b.slack + b.rising
	b.fall = map[string]float64{"snap": 0.002, "step": 1.2, "slow yield": 3}[b.Way]
	b.End = b.PeakAt + b.fall + 1.5
	return b
}

// force returns the true force at a time, N.
func (b SimulatedBreak) force(t float64) float64 {
	switch {
	case t <= b.Start:
		return 0
	case t < b.PeakAt:
		return b.Peak * b.load(t-b.Start)
	}
	x := (t - b.PeakAt) / b.fall
	ring := 0.03 * b.Peak * math.Exp(-(t-b.PeakAt-b.fall)/0.04) * math.Sin((t-b.PeakAt-b.fall)*2*math.Pi*25)
	switch {
	case b.Way == "slow yield":
		return b.Peak * math.Exp(-4*x*x/(1+x))
	case x >= 1:
		return ring
	case b.Way == "step":
		return b.Peak * stepShare(x, b.seat)
	}
	return b.Peak * (1 - x)
}

// load is the share of the peak a time after the start: the slack is taken up, then
// the joint is stretched, a little softer towards the end.
func (b SimulatedBreak) load(t float64) float64 {
	const taken = 0.04 // share of the peak when the slack is gone
	if t < b.slack {
		x := t / b.slack
		return taken * x * x
	}
	x := (t - b.slack) / b.rising
	return taken + (1-taken)*(1.15*x-0.15*x*x)
}

// stepShare is the share of the peak in a failure of three drops, with loading in
// between.
func stepShare(x, seat float64) float64 {
	switch {
	case x < 0.35:
		return seat + 0.25*seat*x/0.35
	case x < 0.75:
		return 0.6*seat + 0.2*seat*(x-0.35)/0.4
	}
	return 0.25 * seat * (1 - (x-0.75)/0.25)
}

// Simulator is a source that stands for a rig. It says that it is simulated.
type Simulator struct {
	state
	o     Simulation
	clock Clock
	once  sync.Once
	rng   *rand.Rand
	began time.Time
	now   SimulatedBreak
	index int
	line  int
	text  []byte
}

// NewSimulator returns a simulated rig. A rate that is negative or above 100,000
// lines a second panics.
func NewSimulator(o Simulation, clock Clock) *Simulator {
	if o.Rate < 0 || o.Rate > 1e5 {
		panic("feed: a simulated rig sends more than 0 and at most 100,000 lines a second")
	}
	if o.Rate == 0 {
		o.Rate = 80
	}
	return &Simulator{o: o, clock: clock, state: state{done: make(chan struct{})}}
}

// Open starts the simulated rig.
func (s *Simulator) Open() error {
	s.open()
	if closed(s.done) {
		return ErrClosed
	}
	s.rng = rand.New(rand.NewPCG(s.o.Seed, 0x6e6f697365))
	s.began = s.clock.Now()
	s.now = s.o.draw(0, 0)
	return nil
}

// Read returns the next line, at its time unless FullPace is set: then lines say the
// times at which they would have arrived.
func (s *Simulator) Read() (Line, error) {
	s.reading()
	if closed(s.done) {
		return Line{}, ErrClosed
	}
	s.line++
	t := float64(s.line) / s.o.Rate
	for t > s.now.End {
		s.index++
		if s.o.Breaks > 0 && s.index >= s.o.Breaks {
			s.line--
			return Line{}, io.EOF
		}
		s.now = s.o.draw(s.index, s.now.End)
	}
	due := s.began.Add(time.Duration(t * float64(time.Second)))
	l := Line{At: due, Kind: Whole, Text: s.write(t)}
	if s.o.FullPace {
		return l, nil
	}
	if left := due.Sub(s.clock.Now()); left > 0 {
		select {
		case <-s.clock.After(left):
		case <-s.done:
			return Line{}, ErrClosed
		}
	}
	l.At = s.clock.Now()
	return l, nil
}

// write returns the line of a time.
func (s *Simulator) write(t float64) []byte {
	s.text = s.text[:0]
	dice := s.rng.Float64()
	switch {
	case dice < s.o.Garbage:
		return s.garble()
	case dice < s.o.Garbage+s.o.Halves:
		s.text = s.sample(s.text, t)
		s.text = s.text[:1+s.rng.IntN(len(s.text)-1)]
		s.line++
		t = float64(s.line) / s.o.Rate
	}
	s.text = s.sample(s.text, t)
	return s.text
}

// garble returns a line that is no reading: bytes at random, or words.
func (s *Simulator) garble() []byte {
	if s.rng.IntN(2) == 0 {
		s.text = append(s.text, "amplifier not ready"...)
		return s.text
	}
	for range 4 + s.rng.IntN(12) {
		s.text = append(s.text, byte(0x80|s.rng.IntN(0x80)))
	}
	return s.text
}

func (s *Simulator) sample(b []byte, t float64) []byte {
	force := s.now.force(t) + s.o.Noise*s.rng.NormFloat64() + s.o.Drift*t/60
	if s.rng.Float64() < s.o.Spikes {
		force += (s.rng.Float64() - 0.5) * 8000
	}
	counts := math.Round(ZeroCounts + CountsPerNewton*force)
	b = strconv.AppendInt(b, int64(math.Round(t*1000)), 10)
	b = append(b, ',')
	b = strconv.AppendInt(b, int64(max(min(counts, 1<<23-1), -1<<23)), 10)
	if s.o.Travel {
		b = append(b, ',')
		b = strconv.AppendFloat(b, max(t-s.now.Start, 0)*0.25, 'f', 3, 64)
	}
	return b
}

// Close ends the simulated rig, and a Read that waits.
func (s *Simulator) Close() error {
	s.once.Do(func() { close(s.done) })
	return nil
}

// Describe says that this is simulated.
func (s *Simulator) Describe() Description {
	return Description{Kind: "simulated rig", Name: fmt.Sprintf("seed %d, %g lines a second", s.o.Seed, s.o.Rate), Simulated: true, Waits: s.o.FullPace}
}
