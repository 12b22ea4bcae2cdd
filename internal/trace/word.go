package trace

import (
	"fmt"
	"math"
)

// yieldSlopes is at how many places of the rise the slope is looked at.
const yieldSlopes = 200

// yield finds the load at which the slope, by Savitzky–Golay over force and axis,
// falls below half the stiffness for good before the peak.
func (w *work) yield() {
	if !w.fit.ok {
		w.fig.YieldLoad = Number{Reason: w.fit.why}
		return
	}
	rise := w.peak - w.onset
	half := max(2, rise/60)
	w.fig.YieldLoad = exactly(w.top)
	if rise < 4*half {
		w.fig.YieldLoad = none("the load rises in too few samples to tell")
		return
	}
	c := SavitzkyGolay(2*half+1, 2, 1)
	step := max(1, rise/yieldSlopes)
	for i := w.peak - half; i-half >= w.onset && i > w.fit.lo; i -= step {
		df, ds := weigh(c, w.f, i), weigh(c, w.s, i)
		if ds <= 0 || df >= 0.5*w.fit.slope*ds {
			return
		}
		w.fig.YieldLoad = exactly(max(0, w.f[i]))
	}
}

// keptAt is the multiple of the travel at the peak at which the load kept is read.
const keptAt = 1.5

// afterPeak reads how the load falls: ratios of the axis, and the load kept.
func (w *work) afterPeak() {
	g := &w.fig
	toPeak := w.s[w.peak] - w.origin
	if !(toPeak > 0) {
		why := none("%s does not grow up to the peak", g.Over)
		g.FallRatio, g.Spread, g.LoadKept, g.YieldRatio = why, why, why, why
		return
	}
	ends := none("the record ends before the load has fallen that far")
	g.FallRatio, g.Spread = ends, ends
	if c := w.fallsTo(0.8); c.ok {
		g.FallRatio = exactly((c.s - w.origin) / toPeak)
	}
	if c := w.fallsTo(0.5); c.ok {
		g.Spread = exactly((c.s - w.s[w.peak]) / toPeak)
	}
	g.YieldRatio = Number{Reason: w.fit.why}
	if w.fit.ok {
		g.YieldRatio = exactly((w.s[w.letsGo()] - w.origin) / (w.top / w.fit.slope))
	}
	g.LoadKept = w.kept(toPeak)
}

// letsGo is where the largest drop begins, the peak where it is no drop.
func (w *work) letsGo() int {
	if d, ok := w.largest(); ok && d.At >= w.peak {
		return d.At
	}
	return w.peak
}

// largest returns the drop that took most within the short time.
func (w *work) largest() (Drop, bool) {
	var best Drop
	for _, d := range w.fig.Drops {
		if d.Within > best.Within {
			best = d
		}
	}
	return best, best.Within > 0
}

// kept reads the load at 1.5 times the axis at the peak, in % of the peak.
func (w *work) kept(toPeak float64) Number {
	target, near := w.origin+keptAt*toPeak, 0.02*toPeak
	sum, n := 0.0, 0
	last := w.peak
	for i := w.peak + 1; i < len(w.f); i++ {
		d := w.s[i] - target
		if math.Abs(d) <= near {
			sum, n = sum+w.f[i], n+1
		} else if n == 0 && d > 0 { // between two samples
			u := (target - w.s[i-1]) / (w.s[i] - w.s[i-1])
			sum, n = w.f[i-1]+u*(w.f[i]-w.f[i-1]), 1
		}
		if d > near {
			break
		}
		last = i
	}
	if n == 0 {
		tail := w.f[max(w.peak, last-4):]
		end := meanOf(tail) / w.top
		if w.fig.FailureAt < 0 || end > w.limits.Gone {
			return none("the record ends at %.3g times the %s at the peak, before %.3g times", (w.s[last]-w.origin)/toPeak, w.fig.Over, keptAt)
		}
		return exactly(100 * max(0, end))
	}
	return exactly(100 * max(0, sum/float64(n)/w.top))
}

// shape is what the word is chosen from.
type shape struct {
	big      Drop    // the drop that took most at once
	hasBig   bool    // it took at least AtOnce
	startsAt float64 // load at its beginning over the peak
	ratio    float64 // axis there over that at the peak
	partial  int     // drops that took less than AtOnce
	shed     float64 // what those took, over the peak
	loss     float64 // what was lost in all, over the peak
	jump     int     // the sample of the first jump there and back before the load is gone; −1 for none
	plateau  float64 // share of the time to the peak above 90 % of it
	within   float64 // the largest fall within the short time, over the peak
}

func (w *work) shape() shape {
	g := &w.fig
	s := shape{jump: -1, loss: 1 - g.Left, within: g.LargestDrop / w.top}
	toPeak := w.s[w.peak] - w.origin
	s.big, _ = w.largest()
	s.hasBig = s.big.Within >= w.limits.AtOnce*w.top
	s.startsAt = s.big.From / w.top
	s.ratio = (w.s[s.big.At] - w.origin) / toPeak
	for _, d := range g.Drops {
		before := g.FailureAt < 0 || d.At < g.FailureAt
		if d.Jump && (before || d.At == w.peak) && s.jump < 0 {
			s.jump = d.At
		}
		if before && d.Within < w.limits.AtOnce*w.top && d.Within >= w.limits.Sudden*d.Size() && d.From >= w.limits.Gone*w.top {
			s.partial++
			s.shed += d.Size() / w.top
		}
	}
	for i := max(1, w.peak-jumpNear); i < min(len(w.f), w.peak+jumpNear); i++ {
		if w.f[i]-w.f[i-1] >= jumpStep*w.top && s.jump < 0 {
			s.jump = i
		}
	}
	high, all := 0, 0
	for i := w.onset; i <= w.peak; i++ {
		if w.f[i] > 0.02*w.top {
			all++
			if w.f[i] >= 0.9*w.top {
				high++
			}
		}
	}
	s.plateau = float64(high) / float64(max(1, all))
	return s
}

// name chooses the word.
func (w *work) name() {
	s := w.shape()
	f := Failing{Thresholds: w.limits}
	f.Word, f.Reason = w.choose(s)
	f.Evidence = w.evidence(s)
	w.fig.Failing = f
}

func (w *work) choose(s shape) (Word, string) {
	l, g := w.limits, &w.fig
	switch {
	case g.Clipped:
		return Unclear, "the force sensor was at its limit, so the record does not show the peak"
	case s.jump >= 0:
		return Unclear, fmt.Sprintf("the force jumps there and back at sample %d: spikes are left in the record", s.jump+1)
	case w.unloads(s):
		g.Unloaded = true
		return Unfinished, "the rig was let back before the load was gone"
	case g.Left > l.Unloaded:
		return Unfinished, fmt.Sprintf("the record ends with %.0f %% of the peak still carried", 100*g.Left)
	case w.fallsInGap():
		return Unclear, "the record has a gap while the load falls"
	case s.big.Within > 0 && len(w.f)-1-s.big.At < spikeWidth:
		return Unclear, "the record ends with the drop itself, which may be a spike: record for longer"
	case s.hasBig:
		return w.chooseSudden(s)
	}
	return w.chooseGradual(s)
}

// chooseSudden is for records in which one drop took most of the load.
func (w *work) chooseSudden(s shape) (Word, string) {
	l, g := w.limits, &w.fig
	most := fmt.Sprintf("%.0f %% of the peak went within %.2g s", 100*s.big.Within/w.top, w.short)
	switch {
	case s.big.At < w.peak-w.lag:
		return Unclear, "most of the load went at once, and then more was carried: the joint may have slipped"
	case w.coarse():
		return Unclear, w.tooCoarse()
	case s.partial >= 2:
		return Step, fmt.Sprintf("%d partial drops before the rest went", s.partial)
	case s.partial == 1:
		return Unclear, most + ", after one partial drop"
	case s.startsAt <= l.YieldedLoad && s.ratio >= l.Yielded:
		return SlowYield, fmt.Sprintf("the load fell gradually to %.0f %% of the peak by %.3g times the %s at the peak, then went", 100*s.startsAt, s.ratio, g.Over)
	case s.startsAt < l.Full || s.ratio > l.Promptly:
		return Unclear, most + fmt.Sprintf(", but from %.0f %% of it, at %.3g times the %s at the peak", 100*s.startsAt, s.ratio, g.Over)
	case w.rig != nil && g.YieldRatio.Exists() && g.YieldRatio.Value > l.Straight:
		return Unclear, most + fmt.Sprintf(", but the bond had yielded before, to %.3g times its elastic travel", g.YieldRatio.Value)
	case w.rig != nil && !g.YieldRatio.Exists():
		return Unclear, most + ", but the rise is too short to tell whether the bond had yielded before"
	case w.rig == nil && s.plateau > l.Plateau:
		return Unclear, most + fmt.Sprintf(", but the load had been near it for %.0f %% of the time before", 100*s.plateau)
	}
	return Snap, most
}

// chooseGradual is for records in which no drop took most of the load.
func (w *work) chooseGradual(s shape) (Word, string) {
	l, g := w.limits, &w.fig
	spread := g.Spread.Exists() && g.Spread.Value >= l.GradualFall
	first, drops := Drop{}, s.partial
	if len(g.Drops) > 0 {
		first = g.Drops[0]
	}
	switch {
	case drops >= 2 && w.coarse():
		return Unclear, w.tooCoarse()
	case drops >= 2 && s.shed >= l.Shed*s.loss:
		return Step, fmt.Sprintf("%d partial drops took %.0f %% of the peak", drops, 100*s.shed)
	case drops >= 2:
		return Unclear, fmt.Sprintf("%d partial drops took %.0f %% of the peak, and the rest went gradually", drops, 100*s.shed)
	case drops == 1 && first.From <= l.YieldedLoad*w.top && s.ratio >= l.Yielded && spread:
		return SlowYield, fmt.Sprintf("the load fell gradually to %.0f %% of the peak, then went", 100*first.From/w.top)
	case drops == 1 && s.within > l.Gradual:
		return Unclear, fmt.Sprintf("one drop took %.0f %% of the peak, and the rest went gradually", 100*s.shed)
	case s.within > l.Gradual:
		return Unclear, fmt.Sprintf("%.0f %% of the peak went within %.2g s: too much for a slow yield, too little for a snap", 100*s.within, w.short)
	case !spread:
		return Unclear, "the load fell faster than a slow yield and slower than a snap"
	}
	return SlowYield, fmt.Sprintf("the load fell to half over %.3g times the %s at the peak, with no drop above %.0f %% of it", g.Spread.Value, g.Over, 100*l.Gradual)
}

func (w *work) coarse() bool {
	return w.short > w.limits.Coarse*(w.t[w.peak]-w.t[w.onset])
}

func (w *work) tooCoarse() string {
	return fmt.Sprintf("a step of %.2g s is too coarse to tell how the load went", w.fig.Sampling.Step)
}

// unloads reports whether the travel goes back while the load falls without a drop.
func (w *work) unloads(s shape) bool {
	if w.rig == nil || !w.fit.ok || s.within > w.limits.Gradual {
		return false
	}
	lowest, end := 0.9, -1
	for _, share := range []float64{0.5, 0.7, 0.9} {
		if c := w.fallsTo(share); c.ok {
			lowest, end = share, c.at
			break
		}
	}
	if end < 0 {
		return false
	}
	furthest := w.peak
	for i := w.peak; i <= end; i++ {
		if w.rig[i] > w.rig[furthest] {
			furthest = i
		}
	}
	back := w.rig[furthest] - w.rig[end]
	return back > 0.3*(1-lowest)*w.top/w.fit.slope && w.f[furthest] > (lowest+0.05)*w.top
}

// fallsInGap reports whether a fifth of the peak or more goes between two samples
// that are further apart than the short time.
func (w *work) fallsInGap() bool {
	for i := w.peak; i+1 < len(w.f); i++ {
		if w.t[i+1]-w.t[i] > w.short && w.f[i]-w.f[i+1] > w.limits.Gradual*w.top {
			return true
		}
	}
	return false
}

// evidence lists the figures beside their limits.
func (w *work) evidence(s shape) []Evidence {
	l, g := w.limits, &w.fig
	pc := func(v float64) Number { return exactly(100 * v) }
	e := []Evidence{
		{"largest drop within the short time, of the peak", pc(s.within), "%", fmt.Sprintf("snap: %.0f or more; slow yield: %.0f or less", 100*l.AtOnce, 100*l.Gradual)},
		{"the short time", exactly(w.short), "s", fmt.Sprintf("%g s, or %.0f %% of the time to the peak; two samples at least", l.ShortTime, 100*l.ShortShare)},
		{"partial drops", exactly(float64(s.partial)), "", fmt.Sprintf("step: two or more, each %.0f %% of the peak or more; snap: none", 100*l.Partial)},
		{"load left at the least, of the peak", pc(g.Left), "%", fmt.Sprintf("unfinished: more than %.0f", 100*l.Unloaded)},
		{fmt.Sprintf("%s from the peak to half of it, over that to the peak", g.Over), g.Spread, "times", fmt.Sprintf("slow yield: %g or more", l.GradualFall)},
		{fmt.Sprintf("%s at 80 %% of the peak after it, over that at the peak", g.Over), g.FallRatio, "times", "shown, not used"},
	}
	if s.big.Within > 0 {
		e = append(e,
			Evidence{"load at the beginning of the largest drop, of the peak", pc(s.startsAt), "%", fmt.Sprintf("snap: %.0f or more; slow yield before it: %.0f or less", 100*l.Full, 100*l.YieldedLoad)},
			Evidence{fmt.Sprintf("%s there, over that at the peak", g.Over), finite(s.ratio, "there is none"), "times", fmt.Sprintf("snap: %g or less; slow yield before it: %g or more", l.Promptly, l.Yielded)})
	}
	if w.rig != nil {
		return append(e, Evidence{"travel where the load goes, over the elastic travel", g.YieldRatio, "times", fmt.Sprintf("snap: %g or less", l.Straight)})
	}
	return append(e, Evidence{"share of the time to the peak above 90 % of it", pc(s.plateau), "%", fmt.Sprintf("snap: %.0f or less", 100*l.Plateau)})
}
