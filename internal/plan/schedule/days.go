package schedule

import (
	"sort"
	"time"
)

// Day is what is to be done on one day.
type Day struct {
	Date        Date
	Open, Close time.Time     // of the first and the last span of work
	Steps       []Step        // by time
	Checks      []int         // indices into Plan.Checks
	Work        time.Duration // of the hands, the checks not counted
}

// Step is one piece of work on one specimen.
type Step struct {
	Kind       Kind
	Start, End time.Time
	Specimen   int
}

// Block is work of one kind on a day, with pauses of at most LongestPause between
// one piece and the next (other work may fall into them, or the time between two
// spans of work).
type Block struct {
	Kind       Kind
	Start, End time.Time
	Steps      []Step
}

// LongestPause is the longest pause within a block (a choice, without a source).
const LongestPause = 30 * time.Minute

// days lays the work of a plan out by days.
func days(p *Plan, c *almanac) []Day {
	var steps []Step
	for i, t := range p.Times {
		steps = append(steps, Step{GlueUp, t.Spread, t.Clamped, i}, Step{Break, t.Break, t.Broken, i})
		if t.Clamp > 0 {
			steps = append(steps, Step{Release, t.Release, t.Unclamped, i})
		}
	}
	sort.SliceStable(steps, func(a, b int) bool { return steps[a].Start.Before(steps[b].Start) })
	var ds []Day
	on := func(t time.Time) *Day {
		w := c.workday(t)
		k := sort.Search(len(ds), func(k int) bool { return !ds[k].Date.before(w.date) })
		if k == len(ds) || ds[k].Date != w.date {
			ds = append(ds, Day{})
			copy(ds[k+1:], ds[k:])
			ds[k] = Day{Date: w.date, Open: w.open.In(p.Location), Close: w.close.In(p.Location)}
		}
		return &ds[k]
	}
	for _, s := range steps {
		d := on(s.Start)
		d.Steps = append(d.Steps, s)
		d.Work += s.End.Sub(s.Start)
	}
	for n, k := range p.Checks {
		d := on(k.At)
		d.Checks = append(d.Checks, n)
	}
	return ds
}

// Blocks returns the work of the day in blocks, by their start; a glue-up block
// before a block of releases and that before one of breaks where they start alike.
func (d Day) Blocks() []Block {
	var blocks []Block
	latest := [3]int{-1, -1, -1} // the block of each kind that is still open
	for _, s := range d.Steps {
		if k := latest[s.Kind]; k >= 0 && s.Start.Sub(blocks[k].End) <= LongestPause {
			blocks[k].End = s.End
			blocks[k].Steps = append(blocks[k].Steps, s)
			continue
		}
		latest[s.Kind] = len(blocks)
		blocks = append(blocks, Block{s.Kind, s.Start, s.End, []Step{s}})
	}
	sort.SliceStable(blocks, func(a, b int) bool {
		if !blocks[a].Start.Equal(blocks[b].Start) {
			return blocks[a].Start.Before(blocks[b].Start)
		}
		return blocks[a].Kind < blocks[b].Kind
	})
	return blocks
}
