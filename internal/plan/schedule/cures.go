package schedule

import (
	"sort"
	"strings"
	"time"
)

// CheckKind says at what point of the cure a look is taken.
type CheckKind int

const (
	After24h    CheckKind = iota // 24 h after the last clamping of the group
	HalfCure                     // half of the cure after it
	BeforeBreak                  // as the first of the group is about to be broken
)

// String returns the point in words.
func (k CheckKind) String() string {
	switch k {
	case After24h:
		return "24 h"
	case HalfCure:
		return "half cure"
	case BeforeBreak:
		return "before breaking"
	}
	return "unknown check"
}

// CheckLook is how long a cure check is put down for. It is a look and a fingernail
// at what was squeezed out, done beside other work, and is not counted as work.
const CheckLook = 5 * time.Minute

// Check is one look at the specimens of one adhesive and batch that were glued up
// on one day. Days are kept apart because specimens of different days do not come
// to the same point of their cure together. Checks that fall due outside working
// hours are made at the next moment within them, and those of one group that then
// fall together are one.
type Check struct {
	At        time.Time
	Kinds     []CheckKind // ascending
	Adhesive  int
	Batch     string
	GluedOn   Date
	Specimens []int // in glue-up order: those of the group that are not broken by then
}

// Reasons writes the kinds, as in "24 h, half cure".
func (k Check) Reasons() string {
	var words []string
	for _, kind := range k.Kinds {
		words = append(words, kind.String())
	}
	return strings.Join(words, ", ")
}

// group is what is looked at together.
type group struct {
	adhesive int
	batch    string
	glued    Date
}

// cureChecks returns the checks of a plan by time, then in glue-up order. A check
// at which all of its group are broken already is left out, as is one for which no
// span of work is long enough.
func cureChecks(p *Plan, c *almanac) []Check {
	var order []group
	members := make(map[group][]int)
	for i, s := range p.Specimens {
		g := group{s.Adhesive, s.Batch, dateOf(p.Times[i].Spread)}
		if len(members[g]) == 0 {
			order = append(order, g)
		}
		members[g] = append(members[g], i)
	}
	var checks []Check
	for _, g := range order {
		checks = append(checks, groupChecks(p, c, g, members[g])...)
	}
	sort.SliceStable(checks, func(a, b int) bool { return checks[a].At.Before(checks[b].At) })
	return checks
}

func groupChecks(p *Plan, c *almanac, g group, members []int) []Check {
	var last time.Time
	first := p.End
	for _, i := range members {
		last = later(last, p.Times[i].Clamped)
		if p.Times[i].Break.Before(first) {
			first = p.Times[i].Break
		}
	}
	moved := func(after time.Duration) time.Time {
		t, ok := c.fit(last.Add(after), CheckLook)
		if !ok { // no span of work is so long: there is no look
			return p.End
		}
		return t.In(p.Location)
	}
	var checks []Check
	for _, k := range []struct {
		kind CheckKind
		at   time.Time
	}{{After24h, moved(day)}, {HalfCure, moved(p.Adhesives[g.adhesive].FullCure / 2)}, {BeforeBreak, first}} {
		var left []int
		for _, i := range members {
			if !p.Times[i].Break.Before(k.at) {
				left = append(left, i)
			}
		}
		if len(left) == 0 {
			continue
		}
		together := false
		for n := range checks {
			if checks[n].At.Equal(k.at) {
				checks[n].Kinds = append(checks[n].Kinds, k.kind)
				together = true
			}
		}
		if !together {
			checks = append(checks, Check{k.at, []CheckKind{k.kind}, g.adhesive, g.batch, g.glued, left})
		}
	}
	return checks
}
