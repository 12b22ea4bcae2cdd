package trace

import (
	"fmt"
	"math"
)

// fewest is how many samples a record has at least.
const fewest = 10

// work is a record under analysis: copies, cleaned, and what was found so far.
type work struct {
	t      []float64 // s, forward
	f      []float64 // N, without spikes, zeroed, positive under load
	rig    []float64 // mm, travel without jumps, rising with the load; nil without travel
	x      []float64 // mm, the same less the rig's own
	s      []float64 // the axis: x, or t without travel
	noise  float64   // N, standard deviation
	flat   bool      // nothing rises or falls by more than noise
	onset  int       // the first sample that may be loaded
	peak   int
	top    float64 // N, the force at the peak
	origin float64 // of the axis
	fit    line
	short  float64 // s, the short time
	lag    int     // samples in it, one at least
	limits Thresholds
	fig    Figures
}

// line is the steepest line fitted to the rise.
type line struct {
	ok     bool
	why    string // why not
	slope  float64
	zero   float64 // of the axis, where it reaches zero force
	lo, hi int     // samples [lo, hi) that it was fitted to
}

// Analyse returns the figures of a record. An error says that the record cannot be
// analysed at all: it has fewer than ten samples or values that are no numbers. It
// panics where the columns of the record differ in length.
func Analyse(r Record, opt Options) (Figures, error) {
	fig, _, err := analyse(r, opt)
	return fig, err
}

func analyse(r Record, opt Options) (Figures, *work, error) {
	if err := r.check(); err != nil {
		return Figures{}, nil, err
	}
	if r.Len() < fewest {
		return Figures{}, nil, fmt.Errorf("%d samples are no record of a break: it takes %d at least", r.Len(), fewest)
	}
	w := &work{limits: opt.Thresholds}
	if w.limits == (Thresholds{}) {
		w.limits = Defaults()
	}
	w.fig.FailureAt, w.fig.Over = -1, OverTime
	w.fig.Sampling = CheckSampling(r.Time)
	w.fig.Notes = append(w.fig.Notes, w.fig.Sampling.Notes()...)
	w.t = forwardClock(r.Time, w.fig.Sampling)
	f := r.Force
	if !opt.KeepSpikes {
		f, w.fig.Spikes = despike(f)
	}
	w.zeroed(f, opt)
	w.findPeak()
	if r.HasTravel() {
		w.takeTravel(r.Travel, opt)
	} else {
		w.s = w.t
	}
	if w.flat || !(w.top > w.limits.Risen*w.noise) || w.peak == 0 {
		w.nothing("no load rises out of the noise")
		return w.fig, w, nil
	}
	w.fitRise()
	w.setOrigin(opt)
	w.findDrops()
	w.findFailure()
	w.energies(opt)
	w.yield()
	w.afterPeak()
	w.name()
	return w.fig, w, nil
}

// findPeak finds the largest force, and whether the sensor was at its limit there.
func (w *work) findPeak() {
	w.onset = min(w.fig.Zero.Onset, len(w.f)-1)
	w.peak = w.onset
	for i := w.onset; i < len(w.f); i++ {
		if w.f[i] > w.f[w.peak] {
			w.peak = i
		}
	}
	w.top = w.f[w.peak]
	w.fig.Peak, w.fig.PeakAt = w.top, w.peak
	const clipped = 8 // samples at one value; common practice, no source
	run, longest := 0, 0
	for _, v := range w.f[w.peak:] {
		if v == w.top {
			run++
			longest = max(longest, run)
		} else {
			run = 0
		}
	}
	run = longest
	if run >= clipped && roughNoise(w.f) > 0 && !w.fig.Zero.DriftUsed && w.varies() {
		w.fig.Clipped = true
		w.note("the force stands at %.4g N for %d samples: the sensor was at its limit, and the peak was higher", w.top, run)
	}
}

// varies reports whether the force changes from sample to sample where it is flat, in
// the quiet start or else everywhere, so that standing at one value is no matter of
// resolution.
func (w *work) varies() bool {
	flat := w.f
	if q := w.fig.Zero.Samples; q > 0 {
		flat = w.f[:q]
	}
	same := 0
	for i := 1; i < len(flat); i++ {
		if flat[i] == flat[i-1] {
			same++
		}
	}
	return float64(same) < 0.25*float64(len(flat)-1)
}

// takeTravel takes jumps out of the travel, lets it rise with the load, and subtracts
// the rig's own.
func (w *work) takeTravel(travel []float64, opt Options) {
	x := travel
	if !opt.KeepSpikes {
		x, w.fig.Jumps = despike(x)
	}
	sign := 1.0
	if x[w.peak] < x[w.onset] {
		sign = -1
		w.note("travel falls while the load rises: it was turned round")
	}
	w.rig = make([]float64, len(x))
	for i, v := range x {
		w.rig[i] = sign * v
	}
	w.x = w.rig
	if opt.Rig != nil {
		w.x = make([]float64, len(x))
		for i := range x {
			w.x[i] = w.rig[i] - opt.Rig.Travel(w.f[i])
		}
		if h := opt.Rig.Highest(); !opt.Rig.constant() && w.top > 1.02*h {
			w.note("the rig's own travel was measured up to %.4g N: beyond it goes on with its last slope", h)
		}
	}
	w.s, w.fig.Over = w.x, OverTravel
}

// The stretch that the stiffness is fitted in, and the part of it that one line
// covers, as shares of the peak: method.md's "steepest fitted secant between 10 and
// 60 %". The part is common practice, no source.
const (
	fitFrom, fitTo = 0.10, 0.60
	fitSpan        = 0.25
	fitStep        = 0.025
)

// fitRise finds the steepest line, by least squares over a quarter of the peak each.
func (w *work) fitRise() {
	w.fit = w.steepest(w.s)
	rate := w.fit
	if w.rig != nil {
		rate = w.steepest(w.t)
	}
	w.fig.LoadingRate = rate.number()
	if w.rig == nil {
		w.fig.Stiffness = none("travel was not recorded")
		return
	}
	w.fig.Stiffness = w.fit.number()
}

func (l line) number() Number {
	if !l.ok {
		return Number{Reason: l.why}
	}
	return exactly(l.slope)
}

func (w *work) steepest(s []float64) line {
	best := line{why: "the load rises in fewer than three samples between 10 and 60 % of the peak"}
	h := max(1, (w.peak-w.onset)/400)
	levels := int(math.Round((fitTo - fitFrom) / fitStep))
	at := make([]int, levels+1)
	from := w.onset
	for k := range at {
		from = w.risesTo((fitFrom+fitStep*float64(k))*w.top, from, h)
		at[k] = from
	}
	try := func(lo, hi int) {
		hi = min(hi+h, w.peak+1)
		if hi-lo < 3 {
			return
		}
		slope, sxx := slopeOf(s[lo:hi], w.f[lo:hi])
		if !(sxx > 0) || !(slope > 0) {
			if !best.ok {
				best.why = "travel does not grow while the load rises"
			}
			return
		}
		if !best.ok || slope > best.slope {
			zero := meanOf(s[lo:hi]) - meanOf(w.f[lo:hi])/slope
			best = line{ok: true, slope: slope, zero: zero, lo: lo, hi: hi}
		}
	}
	span := int(math.Round(fitSpan / fitStep))
	for k := 0; k+span <= levels; k++ {
		if at[k+span]-at[k] >= 5 {
			try(at[k], at[k+span])
		}
	}
	if !best.ok {
		try(at[0], at[levels])
	}
	return best
}

// risesTo returns the first sample from a place on where the mean of h samples is at
// least level; the peak where there is none before it.
func (w *work) risesTo(level float64, from, h int) int {
	for i := from; i+h <= w.peak; i += h {
		if meanOf(w.f[i:i+h]) >= level {
			return i
		}
	}
	return w.peak
}

// setOrigin takes the toe off: the origin is where the steepest line reaches zero
// force, unless that is before the load begins to rise, as in a curve that bends from
// its start.
func (w *work) setOrigin(opt Options) {
	begin := w.s[w.onset]
	w.origin = begin
	if !w.fit.ok {
		w.fig.Toe = Number{Reason: w.fit.why}
		return
	}
	elastic := w.top / w.fit.slope
	toe := w.fit.zero - begin
	if toe < -0.02*elastic { // 2 %: the quiet start ends a little after the load begins
		toe = 0
		w.fit.zero = math.NaN()
	} else if !opt.KeepToe {
		w.origin = w.fit.zero
	}
	w.fig.Toe = exactly(max(0, toe))
}

// nothing is the result of a record without a break in it.
func (w *work) nothing(why string) {
	n := Number{Reason: why}
	g := &w.fig
	for _, p := range []*Number{&g.TimeToPeak, &g.TravelAtPeak, &g.Stiffness, &g.LoadingRate, &g.Toe, &g.YieldLoad, &g.YieldRatio,
		&g.EnergyToPeak, &g.EnergyTaken, &g.ToFailure, &g.FallRatio, &g.Spread, &g.LoadKept} {
		*p = n
	}
	g.Left = 1
	g.Failing = Failing{Word: Unclear, Reason: why, Thresholds: w.limits, Evidence: []Evidence{{
		Name: "peak over the noise", Value: finite(w.top/w.noise, "there is no noise"), Unit: "times", Limit: fmt.Sprintf("a load: more than %g", w.limits.Risen)}}}
}
