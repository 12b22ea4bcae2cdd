package trace

import (
	"fmt"
	"math"
)

// Zero says where zero force was taken to be.
type Zero struct {
	Found     bool    // the record has a quiet start, or the zero was given
	Given     bool    // by [Options.Zero]
	Force     float64 // N as recorded, in the middle of the quiet start; 0 where not found
	Noise     float64 // N, standard deviation in the quiet start; of neighbouring samples where there is none
	Samples   int     // in the quiet start
	Drift     float64 // N/s, slope of the quiet start
	DriftUsed bool    // the drift was subtracted over the whole record
	Onset     int     // first sample after the quiet start
}

// The quiet start; common practice, no source.
const (
	quietShare     = 0.005 // share of the peak that a quiet block may be off
	quietTimes     = 5     // standard deviations of a block's mean that it may be off
	quietBlocks    = 5     // blocks that a quiet start has at least
	driftTimes     = 4     // standard errors from which a drift is real
	driftMost      = 0.03  // share of the peak that a drift may come to at the peak and be subtracted
	driftUncertain = 0.003 // the same for its standard error
)

// quiet is the quiet start: a straight line through it.
type quiet struct {
	n               int     // samples
	mean, midTime   float64 // of the line, N and s
	slope, slopeErr float64 // N/s
	sd              float64 // about the line
	halves          float64 // difference of the slopes of its two halves, N/s
}

// findQuiet looks for the quiet start before the sample at top, which the load has
// risen to from about base. ok is false where the record begins under load.
func findQuiet(t, f []float64, top int, base, noise float64) (q quiet, ok bool) {
	m := min(max(1, top/200), 4096)
	blocks := top / m
	rise := math.Abs(f[top] - base)
	limit := max(quietTimes*noise/math.Sqrt(float64(m)), quietShare*rise)
	sum, n := 0.0, 0
	for b := 0; b < blocks; b++ {
		mean := meanOf(f[b*m : (b+1)*m])
		if n > 0 && math.Abs(mean-sum/float64(n)) > limit {
			break
		}
		sum += mean
		n++
	}
	if n < quietBlocks {
		return quiet{}, false
	}
	q = lineThrough(t, f, quietSamples(n, m))
	// A drifting zero leaves the mean of its start; it does not leave its line.
	if math.Abs(q.slope) > driftTimes*q.slopeErr {
		for ; n < blocks; n++ {
			mid := n*m + m/2
			expected := q.mean + q.slope*(t[mid]-q.midTime)
			if math.Abs(meanOf(f[n*m:(n+1)*m])-expected) > limit {
				break
			}
		}
		q = lineThrough(t, f, quietSamples(n, m))
	}
	return q, true
}

// quietSamples leaves out the last tenth of the quiet blocks, and two at least where
// there are enough, because the load begins to rise somewhere in them.
func quietSamples(blocks, m int) int {
	drop := max(blocks/10, min(2, blocks-quietBlocks+2))
	return max(blocks-drop, 3) * m
}

// lineThrough fits a straight line to the first n samples.
func lineThrough(t, f []float64, n int) quiet {
	q := quiet{n: n, mean: meanOf(f[:n]), midTime: meanOf(t[:n])}
	var sxx float64
	q.slope, sxx = slopeOf(t[:n], f[:n])
	ss := 0.0
	for i := range n {
		r := f[i] - q.mean - q.slope*(t[i]-q.midTime)
		ss += r * r
	}
	q.sd = math.Sqrt(ss / float64(max(1, n-2)))
	if sxx > 0 {
		q.slopeErr = q.sd / math.Sqrt(sxx)
	}
	if n >= 20 {
		a, _ := slopeOf(t[:n/2], f[:n/2])
		b, _ := slopeOf(t[n/2:n], f[n/2:n])
		q.halves = b - a
	}
	return q
}

func meanOf(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// slopeOf fits y against x and returns the slope, 0 where x does not change, and the
// sum of squares of x about its mean.
func slopeOf(x, y []float64) (slope, sxx float64) {
	mx, my := meanOf(x), meanOf(y)
	sxy := 0.0
	for i := range x {
		d := x[i] - mx
		sxx += d * d
		sxy += d * (y[i] - my)
	}
	if !(sxx > 0) {
		return 0, 0
	}
	return sxy / sxx, sxx
}

// zeroed returns forces with zero taken off, positive where the load pushes, and
// whether they were turned round for it. The record has at least three samples.
func (w *work) zeroed(f []float64, opt Options) {
	n := len(f)
	w.noise = roughNoise(f)
	base := baseOf(f)
	top, low := extremes(f)
	w.flat = max(f[top]-base, base-f[low]) <= w.limits.Risen*w.noise
	if turned(f, base, top, low, w.noise) {
		w.fig.Turned = true
		flipped := make([]float64, n)
		for i, v := range f {
			flipped[i] = -v
		}
		f, base, top = flipped, -base, low
	}
	z := Zero{Noise: w.noise}
	q, ok := findQuiet(w.t, f, top, base, w.noise)
	if ok {
		z.Found, z.Force, z.Samples, z.Onset, z.Drift = true, q.mean, q.n, q.n, q.slope
		z.Noise = max(q.sd, w.noise)
		w.noise = z.Noise
		w.drift(&z, q, top, f[top]-q.mean, opt)
	}
	if opt.Zero != nil {
		z.Found, z.Given, z.DriftUsed, z.Force = true, true, false, *opt.Zero
		if w.fig.Turned {
			z.Force = -z.Force
		}
	}
	out := make([]float64, n)
	for i, v := range f {
		out[i] = v - z.Force
	}
	if z.DriftUsed {
		for i := range out {
			out[i] -= z.Drift * (w.t[i] - q.midTime)
		}
	}
	w.f = out
	if w.fig.Turned {
		z.Force, z.Drift = -z.Force, -z.Drift
	}
	w.fig.Zero = z
	if !z.Found {
		w.note("the record begins under load: forces stand as recorded, no zero was taken")
	}
}

// drift decides whether the drift of the quiet start is taken off.
func (w *work) drift(z *Zero, q quiet, top int, rise float64, opt Options) {
	if !(math.Abs(q.slope) > driftTimes*q.slopeErr) || q.n < 30 {
		return
	}
	ahead := w.t[top] - q.midTime
	size, doubt := math.Abs(q.slope*ahead)/rise, q.slopeErr*ahead/rise
	bent := math.Abs(q.halves) > driftTimes*4*q.slopeErr // the halves' slopes differ with 4 times the error of the whole
	switch {
	case opt.KeepDrift, size < 1e-4:
	case size <= driftMost && doubt <= driftUncertain && !bent:
		z.DriftUsed = true
	case size > 0.005:
		why := "that is too much to be a drift alone"
		if bent {
			why = "it does not drift evenly"
		} else if doubt > driftUncertain {
			why = "the quiet start is too short to tell"
		}
		w.note("zero moves by %.2g N/s at the start, which would be %.2g %% of the peak there; it was not taken off, because %s", q.slope, 100*size, why)
	}
}

// baseOf returns the median of the start of a record.
func baseOf(f []float64) float64 {
	n := min(len(f), min(max(len(f)/50, 5), 1000))
	return median(append([]float64(nil), f[:n]...))
}

// extremes returns the places of the largest and the smallest value.
func extremes(f []float64) (top, low int) {
	for i, v := range f {
		if v > f[top] {
			top = i
		}
		if v < f[low] {
			low = i
		}
	}
	return top, low
}

// turned reports whether the load is recorded as negative: from a flat start it goes
// down much further than up, and not back to a zero that the start was far from.
func turned(f []float64, base float64, top, low int, noise float64) bool {
	up, down := f[top]-base, base-f[low]
	if !(down > 1.5*up) || f[low] >= 0 && base <= 0 {
		return false
	}
	n := min(len(f), min(max(len(f)/50, 5), 1000))
	t, l := extremes(f[:n])
	if f[t]-f[l] > max(12*noise, 0.02*down) {
		return false
	}
	tail := f[len(f)-n:]
	end := median(append([]float64(nil), tail...))
	return !(math.Abs(base) > 0.5*down && math.Abs(end) < 0.2*math.Abs(base))
}

func (w *work) note(format string, args ...any) {
	w.fig.Notes = append(w.fig.Notes, fmt.Sprintf(format, args...))
}
