package trace

import (
	"math"
	"slices"
)

// dropNoise is how many standard deviations of the noise a drop is at least; common
// practice, no source.
const dropNoise = 10

// fall is the largest fall of load from one sample within the short time.
type fall struct{ from, to int }

// findDrops finds the largest fall within the short time, and the drops.
func (w *work) findDrops() {
	rise := w.t[w.peak] - w.t[w.onset]
	if w.fit.ok && w.rig == nil {
		rise = w.t[w.peak] - math.Max(w.origin, w.t[w.onset])
	}
	step := w.fig.Sampling.Step
	w.short = max(min(w.limits.ShortTime, w.limits.ShortShare*rise), 2*step) * (1 + 1e-9)
	w.lag = 1
	if step > 0 {
		w.lag = max(1, int(w.short/step))
	}
	w.fig.ShortTime = w.short
	falls := w.falls(max(w.limits.Partial*w.top, dropNoise*w.noise, w.limits.Quicker*w.quickRise()))
	for k := 0; k < len(falls); {
		lo, hi := falls[k].from, falls[k].to
		e := k
		for e < len(falls) && falls[e].from <= hi {
			hi = max(hi, falls[e].to)
			e++
		}
		w.fig.Drops = append(w.fig.Drops, w.dropIn(lo, hi, falls[k:e]))
		k = e
	}
}

// dropIn makes one drop of overlapping falls.
func (w *work) dropIn(lo, hi int, falls []fall) Drop {
	d := Drop{At: lo, End: hi}
	for i := lo; i <= hi; i++ {
		if w.f[i] > w.f[d.At] {
			d.At = i
		}
	}
	d.End = d.At
	for i := d.At; i <= hi; i++ {
		if w.f[i] < w.f[d.End] {
			d.End = i
		}
	}
	for _, x := range falls {
		d.Within = max(d.Within, w.f[x.from]-w.f[x.to])
	}
	d.From, d.To = w.f[d.At], w.f[d.End]
	d.Jump = w.jumps(d)
	rest, n := 0.0, 0
	for i := d.End + 1; i < len(w.f) && w.t[i]-w.t[d.End] <= w.short; i++ {
		rest, n = rest+w.f[i], n+1
	}
	if n > 0 {
		d.To = max(d.To, rest/float64(n))
		d.Within = min(d.Within, d.Size())
	}
	return d
}

// quickRise returns what the load rises by within the short time where it rises
// quickly: the largest but a tenth of such rises on the way to the peak. A hand pump
// lets the load go in strokes, up and down alike.
func (w *work) quickRise() float64 {
	lag := max(1, w.lag)
	stride := max(1, (w.peak-w.onset)/2000)
	var rises []float64
	for i := w.onset; i+lag <= w.peak; i += stride {
		rises = append(rises, w.f[i+lag]-w.f[i])
	}
	if len(rises) == 0 {
		return 0
	}
	slices.Sort(rises)
	return max(0, rises[len(rises)*9/10])
}

// Shares of a drop from which it is no drop: what the load rose by within the short
// time before it, or from one sample to the next near it; and what came back. A cell
// that swings gives back less. Common practice, no source.
const (
	jumpBefore = 0.5
	jumpAfter  = 0.6
	jumpStep   = 0.4
	jumpUp     = 0.2 // of the peak, within the width of a spike, before a drop
	jumpNear   = 8   // samples
)

// jumps reports whether a load cannot have moved as this drop says: machines do not
// load at once, and what is broken does not carry again at once.
func (w *work) jumps(d Drop) bool {
	low, high := d.From, d.To
	for i := d.At - 1; i >= 0 && w.t[d.At]-w.t[i] <= w.short; i-- {
		low = min(low, w.f[i])
	}
	for i := d.End + 1; i < len(w.f) && w.t[i]-w.t[d.End] <= w.short; i++ {
		high = max(high, w.f[i])
	}
	for i := max(1, d.At-jumpNear); i <= d.At; i++ {
		if w.f[i]-w.f[max(0, i-spikeWidth)] >= jumpUp*w.top {
			return true
		}
	}
	step := 0.0
	for i := max(1, d.At-jumpNear); i < min(len(w.f), d.End+jumpNear); i++ {
		step = max(step, w.f[i]-w.f[i-1])
	}
	return d.From-low >= jumpBefore*d.Size() || high-d.To >= jumpAfter*d.Size() || step >= jumpStep*d.Size()
}

// falls returns, in the order of the record, the samples from which the load falls by
// at least a load within the short time, and where it is lowest then. It keeps the
// largest fall of all in the figures. One pass with a queue of minima.
func (w *work) falls(least float64) []fall {
	n := len(w.f)
	var out []fall
	queue := make([]int, 0, 1024) // places of rising value toward its beginning
	head := 0
	w.fig.DropAt = w.peak
	// From the end: the queue holds the minima of the window after i, the nearest last.
	for i := n - 2; i >= w.onset; i-- {
		v := w.f[i+1]
		for len(queue) > head && w.f[queue[len(queue)-1]] >= v {
			queue = queue[:len(queue)-1]
		}
		queue = append(queue, i+1)
		for head < len(queue) && w.t[queue[head]] > w.t[i]+w.short {
			head++
		}
		if head == len(queue) {
			continue
		}
		if head > 4096 && head > len(queue)/2 {
			queue = append(queue[:0], queue[head:]...)
			head = 0
		}
		d := w.f[i] - w.f[queue[head]]
		if d > w.fig.LargestDrop {
			w.fig.LargestDrop, w.fig.DropAt = d, i
		}
		if d >= least {
			out = append(out, fall{i, queue[head]})
		}
	}
	slices.Reverse(out)
	return out
}

// crossing is where the load has fallen to a level.
type crossing struct {
	ok bool
	at int     // the first sample at or below the level
	s  float64 // of the axis, between that sample and the one before
}

// fallsTo finds where the load, after the peak, falls to a share of the peak and stays
// about there for some time: a swing of the cell after a drop is no fall.
func (w *work) fallsTo(share float64) crossing {
	n, level := len(w.f), share*w.top
	h := max(1, (n-w.peak)/1000)
	stay := max(5*w.lag, (w.peak-w.onset)/100, 2)
	for i := w.peak + 1; i < n; i += h {
		end := min(i+h, n)
		if meanOf(w.f[i:end]) > level {
			continue
		}
		at := max(i-h, w.peak+1)
		for at < end-1 && !(w.f[at] <= level && (at+1 == n || w.f[at+1] <= level+w.noise)) {
			at++
		}
		if meanOf(w.f[at:min(at+stay, n)]) > level+0.05*w.top {
			continue
		}
		return crossing{ok: true, at: at, s: w.crosses(at, level)}
	}
	return crossing{}
}

// crosses returns where on the axis the load falls to a level, between a sample and
// the one before. While a drop lasts that is where the rig is: its recoil is not
// counted as travel of the joint.
func (w *work) crosses(at int, level float64) float64 {
	s, shift := w.s, 0.0
	for _, d := range w.fig.Drops {
		if d.At < at && at <= d.End && w.rig != nil {
			s, shift = w.rig, w.s[d.At]-w.rig[d.At]
		}
	}
	a, b := w.f[at-1], w.f[at]
	if !(a > level && a > b) {
		return s[at] + shift
	}
	return s[at-1] + (s[at]-s[at-1])*(a-level)/(a-b) + shift
}

// findFailure finds where the load is gone.
func (w *work) findFailure() {
	if c := w.fallsTo(w.limits.Gone); c.ok {
		w.fig.FailureAt = c.at
	}
	n := len(w.f)
	w.fig.Left = 1
	block := max(1, w.lag)
	for i := w.peak + 1; i < n; i += block {
		w.fig.Left = min(w.fig.Left, meanOf(w.f[i:min(i+block, n)])/w.top)
	}
	w.fig.Left = max(0, w.fig.Left)
}

// energies adds up the trapezoids under the load. Up to the beginning of the fitted
// line the toe is replaced by that line. While a drop lasts the recoil of the rig is
// not counted: what it gives back then, the bond has not taken before it let go.
func (w *work) energies(opt Options) {
	g := &w.fig
	g.TimeToPeak = exactly(w.t[w.peak] - w.t[w.onset])
	if w.rig == nil {
		if w.fit.ok {
			g.TimeToPeak = exactly(w.t[w.peak] - w.origin)
		}
		why := none("travel was not recorded")
		g.TravelAtPeak, g.EnergyToPeak, g.EnergyTaken, g.ToFailure = why, why, why, why
		return
	}
	g.TravelAtPeak = exactly(w.x[w.peak] - w.origin)
	begin, sum := w.onset, 0.0
	straight := w.fit.ok && !math.IsNaN(w.fit.zero) && !opt.KeepToe
	if len(g.Drops) > 0 && g.Drops[0].At < w.fit.lo {
		straight = false
	}
	if straight {
		begin = w.fit.lo
		d := w.x[begin] - w.origin
		sum = 0.5 * w.fit.slope * d * d
	}
	drop := 0
	end := g.FailureAt
	if end < 0 {
		end = len(w.f) - 1
	}
	for i := begin + 1; i <= end; i++ {
		x := w.x
		for drop < len(g.Drops) && g.Drops[drop].End < i {
			drop++
		}
		if drop < len(g.Drops) && g.Drops[drop].At < i {
			x = w.rig
		}
		sum += 0.5 * (w.f[i] + w.f[i-1]) * (x[i] - x[i-1])
		if i == w.peak {
			g.EnergyToPeak = exactly(sum / 1000)
		}
	}
	if begin >= w.peak {
		g.EnergyToPeak = exactly(sum / 1000)
	}
	g.EnergyTaken = exactly(sum / 1000)
	g.ToFailure = g.EnergyTaken
	if g.FailureAt < 0 {
		g.ToFailure = none("the record ends before the load is gone")
	}
}
