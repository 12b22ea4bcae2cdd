package schedule

import (
	"fmt"
	"time"
)

// Plan says when what is done. Times are told in the location of the working hours.
type Plan struct {
	Location   *time.Location
	Adhesives  []Adhesive
	Specimens  []Specimen // in glue-up order
	Times      []Times    // by specimen, in glue-up order
	BreakOrder []int      // indices of specimens
	Checks     []Check    // by time
	Days       []Day      // by date, those on which there is something to do
	Opening    time.Time  // the first moment at which there could have been work
	End        time.Time  // when the last specimen is broken
	Bound      Bound
	Notes      []string // what the label does not state, and what is taken instead
}

// Times are the events in the life of one specimen.
type Times struct {
	Spread    time.Time // the first adhesive on the wood
	Joined    time.Time // the faces meet; a clamp is taken from here on
	Clamped   time.Time // full pressure; clamp time and cure run from here
	Release   time.Time // hands begin to take the clamp off; Clamped where none is taken
	Unclamped time.Time // the clamp is off and free; Clamped where none is taken
	Cured     time.Time // full cure; not before Clamped plus the cure
	Break     time.Time // mounting begins
	Broken    time.Time // the break is noted
	Clamp     int       // which clamp, from 1; 0: none
}

// Span returns the time from the opening to the last break, nights and days off
// included.
func (p *Plan) Span() time.Duration { return p.End.Sub(p.Opening) }

// Make schedules a request. It panics where working hours have no location or an
// adhesive index is out of range, and otherwise returns every reason why the
// request is impossible, joined: what is short and by how much.
func Make(r Request) (*Plan, error) {
	j, err := check(r)
	if err != nil {
		return nil, err
	}
	c := newAlmanac(j.Hours, j.Start)
	opening, ok := c.fit(j.Start.noon().Add(-3*day), 0)
	if !ok {
		return nil, tooLate(j)
	}
	var best *run
	for _, rank := range ranks {
		if s, ok := list(j, c, rank); ok && (best == nil || s.end.Before(best.end)) {
			best = s
		}
	}
	if best == nil {
		return nil, tooLate(j)
	}
	p := &Plan{
		Location:   j.Hours.Location,
		Adhesives:  append([]Adhesive(nil), j.Adhesives...),
		Specimens:  append([]Specimen(nil), j.Specimens...),
		Times:      best.times,
		BreakOrder: j.breaking,
		Opening:    opening,
		End:        best.end,
		Notes:      j.notStated(),
	}
	p.Checks = cureChecks(p, c)
	p.Days = days(p, c)
	p.Bound = bound(j, c, opening)
	return p, nil
}

func tooLate(j *job) error {
	return fmt.Errorf("the trial of %d specimens from %s does not end within %d years: give more working hours or clamps, fewer days off, or a shorter cure",
		len(j.Specimens), j.Start, farthest/366)
}
