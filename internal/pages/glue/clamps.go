package glue

import (
	"slices"
	"time"

	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/record"
)

// clamps says how many clamps are in use by the clamp times of the plan.
type clamps struct {
	InUse, Of int    // Of 0: not known
	Full      bool   // none is free
	Over      bool   // more are in use than there are
	Next      string // when the next comes free, a clock time
	NextCode  string // and of which specimen
	NextIn    string // and how long that is
}

// Any reports whether there is anything to say of clamps.
func (c clamps) Any() bool { return c.Of > 0 || c.InUse > 0 }

// clampsOf counts the clamps by what is recorded: one is in use from when its
// specimen came under it until the clamp time of its adhesive is over. f may be nil.
func clampsOf(t *record.Trial, f *trialfile.Trial, now time.Time) (c clamps) {
	if f != nil {
		c.Of = f.Work.Clamps
	}
	type use struct {
		free time.Time
		code string
	}
	var uses []use
	for _, s := range t.Specimens {
		if s.Glued == nil || s.Glued.Spoiled != "" || s.Planned == nil || s.Planned.Clamp <= 0 || s.Broken != nil {
			continue
		}
		if free := s.Glued.ClampedAt().Add(s.Planned.Clamp); free.After(now) {
			uses = append(uses, use{free, s.Code})
		}
	}
	if c.InUse = len(uses); c.InUse == 0 {
		return c
	}
	slices.SortStableFunc(uses, func(a, b use) int { return a.free.Compare(b.free) })
	first := uses[0]
	c.Full, c.Over = c.Of > 0 && c.InUse >= c.Of, c.Of > 0 && c.InUse > c.Of
	c.Next, c.NextCode = first.free.In(t.Zone).Format("15:04"), first.code
	if first.free.In(t.Zone).Format(time.DateOnly) != now.In(t.Zone).Format(time.DateOnly) {
		c.Next = dayAndTime(first.free, t.Zone)
	}
	c.NextIn = span((first.free.Sub(now) + time.Minute - 1).Truncate(time.Minute))
	return c
}

func dayAndTime(t time.Time, z *time.Location) string { return t.In(z).Format("15:04, Mon 2 Jan") }
