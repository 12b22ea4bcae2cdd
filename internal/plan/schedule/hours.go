package schedule

import (
	"sort"
	"time"
)

const day = 24 * time.Hour

// window is one span of work on one day. It holds its end: a piece of work may end
// at it.
type window struct {
	date        Date
	open, close time.Time
}

// farthest is how many days are looked at from the start. A trial that has not
// ended by then is refused.
const farthest = 20 * 366

// almanac lists the working windows of a trial as far as they have been asked for.
type almanac struct {
	hours   Hours
	off     map[Date]bool
	start   Date
	days    int      // days looked at
	windows []window // ascending; all those of a day are added at once
}

func newAlmanac(h Hours, start Date) *almanac {
	c := &almanac{hours: h, start: start, off: make(map[Date]bool)}
	for _, d := range h.DaysOff {
		c.off[d.add(0)] = true
	}
	return c
}

// more adds the windows of the next day that has any; false: there is none as far
// as is looked.
func (c *almanac) more() bool {
	for c.days < farthest {
		d := c.start.add(c.days)
		c.days++
		if c.off[d] {
			continue
		}
		added := false
		for _, span := range c.hours.Week[d.Weekday()] {
			w := window{d, wall(d, span.From, c.hours.Location, true), wall(d, span.To, c.hours.Location, false)}
			if n := len(c.windows); n > 0 && w.open.Before(c.windows[n-1].close) {
				w.open = c.windows[n-1].close
			}
			if w.close.After(w.open) {
				c.windows = append(c.windows, w)
				added = true
			}
		}
		if added {
			return true
		}
	}
	return false
}

// wall returns the instant at which clocks show the given time of day. Where they
// are set forward past it, that is the instant of the change. Where they show it
// twice, it is the later one for late and the earlier one otherwise, so that work
// from the later to the earlier lies within working hours on either reading.
func wall(d Date, since time.Duration, loc *time.Location, late bool) time.Time {
	// As a time of day and not as an elapsed time: on a day of change they differ.
	shown := time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC).Add(since)
	show := func(t time.Time) time.Time {
		y, m, d := t.Date()
		h, min, s := t.Clock()
		return time.Date(y, m, d, h, min, s, t.Nanosecond(), time.UTC)
	}
	y, m, dd := shown.Date()
	hh, mm, ss := shown.Clock()
	t := time.Date(y, m, dd, hh, mm, ss, shown.Nanosecond(), loc)
	from, to := t.ZoneBounds()
	switch {
	case show(t).After(shown): // the library took the offset before the change
		return from
	case show(t).Before(shown): // or the one after it
		return to
	}
	_, offset := t.Zone()
	if late && !to.IsZero() {
		_, next := to.Zone()
		if u := t.Add(time.Duration(offset-next) * time.Second); u.After(t) && !u.Before(to) {
			return u
		}
	}
	if !late && !from.IsZero() {
		_, last := from.Add(-time.Second).Zone()
		if u := t.Add(time.Duration(offset-last) * time.Second); u.Before(t) && u.Before(from) {
			return u
		}
	}
	return t
}

// fit returns the earliest start at or after t of a piece of work that must lie
// within one window; false: it fits nowhere as far as is looked.
func (c *almanac) fit(t time.Time, work time.Duration) (time.Time, bool) {
	for i := c.from(t); i < len(c.windows) || c.more(); i++ {
		w := c.windows[i]
		s := w.open
		if t.After(s) {
			s = t
		}
		if !s.Add(work).After(w.close) {
			return s, true
		}
	}
	return time.Time{}, false
}

// work returns the instant by which so much work can have been done from t on, if
// it could be split anywhere.
func (c *almanac) work(t time.Time, work time.Duration) (time.Time, bool) {
	for i := c.from(t); i < len(c.windows) || c.more(); i++ {
		w := c.windows[i]
		s := w.open
		if t.After(s) {
			s = t
		}
		if e := s.Add(work); !e.After(w.close) {
			return e, true
		}
		if w.close.After(s) {
			work -= w.close.Sub(s)
		}
	}
	return time.Time{}, false
}

// from returns the index of the first window that ends after t.
func (c *almanac) from(t time.Time) int {
	for len(c.windows) == 0 || !c.windows[len(c.windows)-1].close.After(t) {
		if !c.more() {
			return len(c.windows)
		}
	}
	return sort.Search(len(c.windows), func(i int) bool { return c.windows[i].close.After(t) })
}

// workday returns the day on which something beginning at t is done, from the
// opening of its first window to the close of its last.
func (c *almanac) workday(t time.Time) window {
	i := c.from(t)
	w := c.windows[i]
	for k := i; k >= 0 && c.windows[k].date == w.date; k-- {
		w.open = c.windows[k].open
	}
	for k := i; k < len(c.windows) && c.windows[k].date == w.date; k++ {
		w.close = c.windows[k].close
	}
	return w
}
