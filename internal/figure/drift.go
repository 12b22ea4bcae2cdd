package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/show"
)

// driftPlot is what is shown of one order of work.
type driftPlot struct {
	drift  answer.Drift
	points []driftPoint
	of     int     // specimens, of which points may be a part
	pivot  float64 // the middle of the order, about which the fitted line turns
}

// driftPoint is a specimen: its place in the order, and its strength over the
// typical one of its cell.
type driftPoint struct {
	order int
	ratio float64
	state bondtrial.State
}

func driftIn(a *answer.Answer, order string) (d driftPlot, ok bool) {
	for _, k := range a.Drifts {
		if k.Order == order {
			d.drift, ok = k, true
		}
	}
	if !ok || !d.drift.Ratio.Exists() {
		return d, false
	}
	sum := 0
	for k := range a.Cells {
		c := &a.Cells[k]
		if c.OnlyAtLeast || !c.Typical.Exists() {
			continue
		}
		for _, i := range c.Readings {
			r := &a.Readings[i]
			at := r.GlueOrder
			if order == "breaking" {
				at = r.BreakOrder
			}
			if at == 0 {
				continue
			}
			d.points = append(d.points, driftPoint{at, float64(r.Strength) / float64(c.Typical), r.State(a.Settings.Threshold)})
			sum += at
		}
	}
	if d.drift.Last <= d.drift.First {
		return d, false
	}
	d.pivot = float64(sum) / float64(len(d.points))
	d.of = len(d.points)
	slices.SortStableFunc(d.points, func(p, q driftPoint) int { return cmp.Compare(p.order, q.order) })
	d.points = thinned(d.points, mostPoints)
	return d, true
}

// mostPoints is the number of specimens up to which every one has a mark.
const mostPoints = 600

// along is the ratio at a place in the order, where the last is the given ratio
// of the first and the middle of the order is 1.
func (d *driftPlot) along(lastOverFirst answer.Value, at float64) float64 {
	return math.Pow(float64(lastOverFirst), (at-d.pivot)/float64(d.drift.Last-d.drift.First))
}

// statement says what the change is.
func (d *driftPlot) statement() string {
	s := fmt.Sprintf("last / first %s", show.Ratio(d.drift.Ratio))
	if d.bounded() {
		s += fmt.Sprintf(" (%s–%s, 95 %%)", show.Ratio(d.drift.Low), show.Ratio(d.drift.High))
	}
	switch {
	case d.drift.Flag:
		return s + ": strength changed along the order"
	case d.bounded():
		return s + ": no change is shown"
	}
	return s
}

func (d *driftPlot) bounded() bool { return d.drift.Low.Exists() && d.drift.High.Exists() }

func (d *driftPlot) alt() string {
	s := fmt.Sprintf("Strength of %d specimens over the typical strength of their adhesive and condition, in the order of %s. The last is %s times the first",
		len(d.points), d.drift.Order, show.Ratio(d.drift.Ratio))
	if d.bounded() {
		s += fmt.Sprintf(" (95 %% range %s to %s)", show.Ratio(d.drift.Low), show.Ratio(d.drift.High))
	}
	if d.drift.Flag {
		return s + ": strength changed along the order."
	}
	return s + "."
}

// limits are the ends of the axis of ratios: all points and the fitted line, and
// the band unless it is so wide that it would press the rest together.
func (d *driftPlot) limits() (low, high float64) {
	low, high = 0.9, 1.1
	reach := func(v float64) { low, high = min(low, v), max(high, v) }
	for _, p := range d.points {
		reach(p.ratio)
	}
	reach(d.along(d.drift.Ratio, float64(d.drift.First)))
	reach(d.along(d.drift.Ratio, float64(d.drift.Last)))
	if d.bounded() {
		l, h := low/1.5, high*1.5
		for _, v := range []answer.Value{d.drift.Low, d.drift.High} {
			reach(min(max(d.along(v, float64(d.drift.First)), l), h))
			reach(min(max(d.along(v, float64(d.drift.Last)), l), h))
		}
	}
	around := math.Exp(0.06 * math.Log(high/low))
	return low / around, high * around
}
