package trace

import (
	"math"
	"slices"
)

// The spike filter; common practice, no source.
const (
	spikeWidth  = 3     // samples that a spike lasts at most
	spikeWindow = 5     // samples on each side that it is compared with
	spikeTimes  = 5     // standard deviations of the window that a spike stands out
	spikeNoise  = 6     // standard deviations of the record's noise that it stands out
	spikePasses = 4     // a spike beside another may hide it until that is gone
	spikeShare  = 0.005 // share of the record's range that it stands out
	madToSD     = 1.4826
)

// roughNoise returns a standard deviation of the noise from second differences, which
// neither a steady slope nor a few spikes or drops move: 1.4826 times their median
// size over √6.
func roughNoise(y []float64) float64 {
	if len(y) < 3 {
		return 0
	}
	stride := max(1, (len(y)-2)/mostSteps)
	d := make([]float64, 0, min(len(y), 2*mostSteps))
	for i := 1; i+1 < len(y); i += stride {
		d = append(d, math.Abs(y[i-1]-2*y[i]+y[i+1]))
	}
	return madToSD * median(d) / math.Sqrt(6)
}

// rangeWithoutSpikes returns the range of the medians of three neighbours.
func rangeWithoutSpikes(y []float64) float64 {
	if len(y) < 3 {
		return 0
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := 1; i+1 < len(y); i++ {
		a, b, c := y[i-1], y[i], y[i+1]
		m := max(min(a, b), min(max(a, b), c))
		lo, hi = min(lo, m), max(hi, m)
	}
	return hi - lo
}

// despike returns y with spikes replaced by straight lines between their neighbours,
// and how many samples that were. A spike is a sample that the Hampel rule finds in
// its window and that stands out from both sides the same way, so that neither edge
// of a drop is one. The result is y itself where there are none.
func despike(y []float64) (clean []float64, spikes int) {
	clean = y
	for range spikePasses {
		floor := max(spikeNoise*roughNoise(clean), spikeShare*rangeWithoutSpikes(clean))
		at := findSpikes(clean, floor)
		at = append(atStart(clean, floor), at...)
		at = append(at, atEnd(clean, floor)...)
		if len(at) == 0 {
			break
		}
		slices.Sort(at)
		at = slices.Compact(at)
		if spikes == 0 {
			clean = slices.Clone(clean)
		}
		spikes += len(at)
		bridge(clean, at)
	}
	return clean, spikes
}

// atStart returns those of the first samples that stand out from flat ones after them.
func atStart(y []float64, floor float64) []int {
	if len(y) < spikeWidth+2*spikeWindow {
		return nil
	}
	var buf [2 * spikeWindow]float64
	w := append(buf[:0], y[spikeWidth:spikeWidth+2*spikeWindow]...)
	m := middle(w)
	for k := range w {
		w[k] = math.Abs(w[k] - m)
	}
	limit := max(floor, 2*spikeTimes*madToSD*middle(w))
	var at []int
	for i := range spikeWidth {
		if math.Abs(y[i]-m) > limit {
			at = append(at, i)
		}
	}
	return at
}

// atEnd returns those of the last samples that leave the range of all others: a load
// that goes at the very end stays within it.
func atEnd(y []float64, floor float64) []int {
	n := len(y) - spikeWidth
	if n < 2*spikeWindow {
		return nil
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := 1; i+1 < n; i++ {
		a, b, c := y[i-1], y[i], y[i+1]
		m := max(min(a, b), min(max(a, b), c))
		lo, hi = min(lo, m), max(hi, m)
	}
	limit := max(floor, 0.05*(hi-lo))
	var at []int
	for i := n; i < len(y); i++ {
		if y[i] > hi+limit && y[i] > y[n-1]+0.1*(hi-lo) || y[i] < lo-limit && y[i] < y[n-1]-0.1*(hi-lo) {
			at = append(at, i)
		}
	}
	return at
}

// findSpikes returns the samples that are spikes and stand out by more than floor.
func findSpikes(y []float64, floor float64) []int {
	var at []int
	for i := 1; i+1 < len(y); i++ {
		v := y[i]
		// The cheap question first: does it stand out from a neighbour on each side,
		// the same way?
		l, r := v-y[i-1], v-y[i+1]
		if l <= floor && l >= -floor && r <= floor && r >= -floor {
			continue
		}
		if isSpike(y, i, floor) {
			at = append(at, i)
		}
	}
	return widen(y, at, floor)
}

// widen adds the inner samples of spikes of three samples, whose neighbours are as
// high as they are.
func widen(y []float64, at []int, floor float64) []int {
	out := at[:0:0]
	for k, i := range at {
		out = append(out, i)
		if k+1 < len(at) && at[k+1] == i+2 && isSpike(y, i+1, floor) {
			out = append(out, i+1)
		}
	}
	return out
}

// isSpike applies the Hampel rule to the sample at i: its distance from a line through
// the medians of the two sides is held against the median distance of the window, so
// that a steep rise does not hide a spike. It must stand out from the median of each
// side in the same direction, and the record must be back within a spike's width.
func isSpike(y []float64, i int, floor float64) bool {
	lo, hi := max(0, i-spikeWindow), min(len(y), i+spikeWindow+1)
	if i == lo || i+1 == hi {
		return false
	}
	var buf [2*spikeWindow + 1]float64
	left := middle(append(buf[:0], y[lo:i]...))
	right := middle(append(buf[:0], y[i+1:hi]...))
	if (y[i]-left)*(y[i]-right) <= 0 || math.Abs(y[i]-left) <= floor || math.Abs(y[i]-right) <= floor {
		return false
	}
	leftAt, rightAt := float64(lo+i-1)/2, float64(i+hi)/2
	slope := (right - left) / (rightAt - leftAt)
	line := func(j int) float64 { return left + slope*(float64(j)-leftAt) }
	w := buf[:0]
	for j := lo; j < hi; j++ {
		w = append(w, math.Abs(y[j]-line(j)))
	}
	limit := max(floor, spikeTimes*madToSD*middle(w))
	if math.Abs(y[i]-line(i)) <= limit {
		return false
	}
	back := func(from, to int) bool {
		for j := max(from, lo); j <= min(to, hi-1); j++ {
			if math.Abs(y[j]-line(j)) <= limit {
				return true
			}
		}
		return false
	}
	return back(i-spikeWidth, i-1) && back(i+1, i+spikeWidth)
}

// middle is the median of a few values by insertion; it orders them.
func middle(v []float64) float64 {
	for i := 1; i < len(v); i++ {
		x, j := v[i], i
		for ; j > 0 && v[j-1] > x; j-- {
			v[j] = v[j-1]
		}
		v[j] = x
	}
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

// bridge replaces the samples at the ascending places by straight lines between what
// is left beside them.
func bridge(y []float64, at []int) {
	for k := 0; k < len(at); {
		e := k
		for e+1 < len(at) && at[e+1] == at[e]+1 {
			e++
		}
		l, r := at[k]-1, at[e]+1
		if l < 0 {
			l = r
		}
		if r == len(y) {
			r = l
		}
		for i := at[k]; i <= at[e]; i++ {
			if l == r {
				y[i] = y[l]
				continue
			}
			y[i] = y[l] + (y[r]-y[l])*float64(i-l)/float64(r-l)
		}
		k = e + 1
	}
}
