package schedule

import "time"

// Kind is a kind of work for the hands.
type Kind int

const (
	GlueUp  Kind = iota // spreading, joining, clamping
	Release             // taking a clamp off
	Break               // mounting, breaking, noting
)

// String returns the kind in the words of the trade.
func (k Kind) String() string {
	switch k {
	case GlueUp:
		return "glue-up"
	case Release:
		return "release"
	case Break:
		return "break"
	}
	return "unknown kind of work"
}

// ranks are the orders in which the three kinds go before each other.
var ranks = [][3]Kind{
	{GlueUp, Release, Break},
	{Release, GlueUp, Break},
	{GlueUp, Break, Release},
	{Release, Break, GlueUp},
	{Break, GlueUp, Release},
	{Break, Release, GlueUp},
}

// run is a schedule while it is being made.
type run struct {
	*job
	*almanac
	times   []Times
	glued   int       // how many of the glue-up order are done
	broken  int       // how many of the break order are done
	pressed []int     // specimens in a clamp, in the order they were put in
	now     time.Time // from when the hands are free
	end     time.Time
}

// list makes the schedule that one ranking gives; false: it does not end as far
// as is looked.
func list(j *job, c *almanac, rank [3]Kind) (*run, bool) {
	s := &run{job: j, almanac: c, times: make([]Times, len(j.Specimens)), now: j.Start.noon().Add(-3 * day)}
	for s.broken < len(s.breaking) {
		var start [3]time.Time
		var can [3]bool
		var which int // the specimen whose clamp would come off
		start[GlueUp], can[GlueUp] = s.nextGlueUp()
		which, start[Release], can[Release] = s.nextRelease()
		start[Break], can[Break] = s.nextBreak()
		next, any := GlueUp, false
		for _, k := range rank {
			if can[k] && (!any || start[k].Before(start[next])) {
				next, any = k, true
			}
		}
		if !any {
			return nil, false
		}
		switch next {
		case GlueUp:
			s.glueUp(start[GlueUp])
		case Release:
			s.release(which, start[Release])
		case Break:
			s.breakNext(start[Break])
		}
	}
	return s, true
}

// nextGlueUp returns when the next glue-up can begin, if there is a clamp for it.
func (s *run) nextGlueUp() (time.Time, bool) {
	if s.glued == len(s.Specimens) {
		return time.Time{}, false
	}
	a := s.Specimens[s.glued].Adhesive
	if s.Adhesives[a].ClampTime > 0 && len(s.pressed) == s.Clamps {
		return time.Time{}, false
	}
	return s.fit(s.now, s.hands[a].Total())
}

// nextRelease returns the specimen that has been due for release the longest, its
// place among those in clamps, and when its clamp can come off.
func (s *run) nextRelease() (int, time.Time, bool) {
	var due time.Time
	which := -1
	for k, i := range s.pressed {
		d := s.times[i].Clamped.Add(s.Adhesives[s.Specimens[i].Adhesive].ClampTime)
		if which < 0 || d.Before(due) {
			which, due = k, d
		}
	}
	if which < 0 {
		return which, time.Time{}, false
	}
	t, ok := s.fit(later(s.now, due), s.Release)
	return which, t, ok
}

// nextBreak returns when the next specimen in break order can be broken, if it is
// glued and out of its clamp.
func (s *run) nextBreak() (time.Time, bool) {
	i := s.breaking[s.broken]
	if s.times[i].Unclamped.IsZero() {
		return time.Time{}, false
	}
	cured := s.times[i].Cured
	if s.Together {
		if s.glued < len(s.Specimens) || len(s.pressed) > 0 {
			return time.Time{}, false
		}
		for k := range s.times {
			cured = later(cured, s.times[k].Cured)
		}
	}
	return s.fit(later(s.now, cured), s.Break)
}

func (s *run) glueUp(t time.Time) {
	i := s.glued
	a := s.Specimens[i].Adhesive
	h := s.hands[a]
	e := &s.times[i]
	e.Spread = s.told(t)
	e.Joined = e.Spread.Add(h.Spread + h.Join)
	e.Clamped = e.Joined.Add(h.Clamp)
	e.Cured = e.Clamped.Add(s.Adhesives[a].FullCure)
	if s.Adhesives[a].ClampTime > 0 {
		e.Clamp = s.freeClamp()
		s.pressed = append(s.pressed, i)
	} else {
		e.Release, e.Unclamped = e.Clamped, e.Clamped
	}
	s.glued++
	s.now = e.Clamped
}

// freeClamp returns the lowest number of a clamp that is not taken.
func (s *run) freeClamp() int {
	taken := make(map[int]bool, len(s.pressed))
	for _, i := range s.pressed {
		taken[s.times[i].Clamp] = true
	}
	n := 1
	for taken[n] {
		n++
	}
	return n
}

func (s *run) release(which int, t time.Time) {
	i := s.pressed[which]
	s.pressed = append(s.pressed[:which], s.pressed[which+1:]...)
	e := &s.times[i]
	e.Release = s.told(t)
	e.Unclamped = e.Release.Add(s.Release)
	s.now = e.Unclamped
}

func (s *run) breakNext(t time.Time) {
	e := &s.times[s.breaking[s.broken]]
	e.Break = s.told(t)
	e.Broken = e.Break.Add(s.Break)
	s.broken++
	s.now, s.end = e.Broken, e.Broken
}

func (s *run) told(t time.Time) time.Time { return t.In(s.Hours.Location) }

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
