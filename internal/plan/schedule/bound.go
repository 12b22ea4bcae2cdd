package schedule

import (
	"sort"
	"time"
)

// Bound says when the last break can be over at the earliest, whatever the
// schedule, as long as the two orders, the working hours and the clamps are kept.
// Each part leaves something out, so none can be too late; the best is the latest.
type Bound struct {
	// Work: all glue-ups, releases and breaks one after the other, as if work could
	// be split anywhere and nothing had to be waited for.
	Work time.Time
	// Cure: every cure kept, with a clamp for every specimen. Glue-ups, releases and
	// breaks get in each other's way only so far that nothing is over before one pair
	// of hands can have done all that must come before it.
	Cure time.Time
	// Clamps: as Cure, with the clamps there are.
	Clamps time.Time
}

// End returns the latest of the three.
func (b Bound) End() time.Time { return later(b.Work, later(b.Cure, b.Clamps)) }

// Binding says in a few words what keeps the trial from ending sooner.
func (b Bound) Binding() string {
	switch end := b.End(); {
	case !b.Cure.Before(end):
		return "cure and the working hours"
	case !b.Clamps.Before(end):
		return "the number of clamps"
	}
	return "the work of one pair of hands"
}

// Excess returns by which share of the bound's span the plan's span is longer: 0
// where the plan cannot be improved, 0.1 where it takes a tenth longer.
func (p *Plan) Excess() float64 {
	return float64(p.End.Sub(p.Bound.End())) / float64(p.Bound.End().Sub(p.Opening))
}

func bound(j *job, c *almanac, opening time.Time) Bound {
	var work time.Duration
	for _, s := range j.Specimens {
		work += j.hands[s.Adhesive].Total() + j.Break
		if j.Adhesives[s.Adhesive].ClampTime > 0 {
			work += j.Release
		}
	}
	all, _ := c.work(opening, work)
	return Bound{
		Work:   all.In(j.Hours.Location),
		Cure:   relaxed(j, c, opening, len(j.Specimens)).In(j.Hours.Location),
		Clamps: relaxed(j, c, opening, max(j.Clamps, 1)).In(j.Hours.Location),
	}
}

// relaxed returns when the last break can be over at the earliest if there are so
// many clamps. Each thing is done as early as these allow: the one ahead of it in
// its order; a clamp that is free; the cure; a place within working hours; and that
// one pair of hands has first done all that must come before it. A release waits for
// the clamp time and the working hours alone. By induction nothing can be over
// earlier in any schedule, since a later glue-up frees no clamp sooner.
//
// A schedule exists, so every piece of work fits somewhere, and neither fit nor work
// is asked whether it does.
func relaxed(j *job, c *almanac, opening time.Time, clamps int) time.Time {
	n := len(j.Specimens)
	ready := make([]time.Time, n)       // for the break
	glueing := make([]time.Duration, n) // work on the glue-ups up to this one
	forced := make([]int, n)            // releases that must be over by then
	var free []time.Time                // when the clamps taken so far came off, ascending
	var work time.Duration
	now := opening
	for i, s := range j.Specimens {
		h, a := j.hands[s.Adhesive], j.Adhesives[s.Adhesive]
		if len(free) >= clamps && a.ClampTime > 0 {
			// All but clamps-1 of the clamps taken before have to be off again, and
			// before spreading begins, since from then on the hands are not free.
			now = later(now, free[len(free)-clamps])
			forced[i] = len(free) - clamps + 1
		} else {
			forced[i] = max(0, len(free)-clamps)
		}
		now, _ = c.fit(now, h.Total())
		work += h.Total()
		glueing[i] = work
		one, _ := c.work(opening, work+time.Duration(forced[i])*j.Release)
		now = later(now.Add(h.Total()), one)
		ready[i] = now.Add(a.FullCure)
		if a.ClampTime > 0 {
			off, _ := c.fit(now.Add(a.ClampTime), j.Release)
			off = off.Add(j.Release)
			ready[i] = later(ready[i], off)
			k := sort.Search(len(free), func(k int) bool { return free[k].After(off) })
			free = append(free, time.Time{})
			copy(free[k+1:], free[k:])
			free[k] = off
		}
	}
	now = opening
	if j.Together {
		for _, t := range ready {
			now = later(now, t)
		}
	}
	last, released := 0, 0 // the latest glued of those broken, and how many of them were in clamps
	for b, i := range j.breaking {
		last = max(last, i)
		if j.Adhesives[j.Specimens[i].Adhesive].ClampTime > 0 {
			released++
		}
		now, _ = c.fit(later(now, ready[i]), j.Break)
		one, _ := c.work(opening, glueing[last]+time.Duration(max(released, forced[last]))*j.Release+time.Duration(b+1)*j.Break)
		now = later(now.Add(j.Break), one)
	}
	return now
}
