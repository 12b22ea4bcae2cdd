package schedule

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// job is a request that has been checked, with its defaults filled in.
type job struct {
	Request
	hands    []Hands // by adhesive
	breaking []int   // indices of specimens in break order
}

// check fills in the defaults and returns every reason why the request cannot be
// scheduled, joined.
func check(r Request) (*job, error) {
	if r.Hours.Location == nil {
		panic("schedule: working hours without a location")
	}
	for _, s := range r.Specimens {
		if s.Adhesive < 0 || s.Adhesive >= len(r.Adhesives) {
			panic("schedule: adhesive index out of range")
		}
	}
	if r.Release == 0 {
		r.Release = DefaultRelease
	}
	j := &job{Request: r}
	for _, a := range r.Adhesives {
		if a.Hands == (Hands{}) {
			a.Hands = r.Hands
		}
		j.hands = append(j.hands, a.Hands)
	}
	var errs []error
	errs = append(errs, j.checkSpecimens()...)
	errs = append(errs, j.checkHours()...)
	for i, a := range r.Adhesives {
		if j.used(i) {
			errs = append(errs, checkAdhesive(a, j.hands[i])...)
		}
	}
	errs = append(errs, j.checkClamps()...)
	return j, errors.Join(errs...)
}

func (j *job) checkSpecimens() (errs []error) {
	if len(j.Specimens) == 0 {
		errs = append(errs, errors.New("there are no specimens to schedule"))
	}
	index := make(map[string]int)
	for i, s := range j.Specimens {
		if s.Code == "" {
			errs = append(errs, fmt.Errorf("the specimen at place %d of the glue-up order has no code", i+1))
			continue
		}
		if first, ok := index[s.Code]; ok {
			errs = append(errs, fmt.Errorf("specimen code %s stands at places %d and %d of the glue-up order: every specimen needs a code of its own", s.Code, first+1, i+1))
			continue
		}
		index[s.Code] = i
	}
	at := make(map[string]int)
	for k, code := range j.BreakOrder {
		i, ok := index[code]
		if first, twice := at[code]; twice {
			errs = append(errs, fmt.Errorf("specimen %s stands at places %d and %d of the break order: it can be broken once", code, first+1, k+1))
		} else if !ok {
			errs = append(errs, fmt.Errorf("specimen %s is in the break order and not in the glue-up order", code))
		} else {
			j.breaking = append(j.breaking, i)
		}
		at[code] = k
	}
	var missing []string
	for _, s := range j.Specimens {
		if _, ok := at[s.Code]; !ok {
			missing = append(missing, s.Code)
		}
	}
	if len(missing) > 0 {
		errs = append(errs, fmt.Errorf("the break order is short of %d of %d specimens: %s", len(missing), len(j.Specimens), strings.Join(missing, ", ")))
	}
	return append(errs, j.checkBatches()...)
}

// checkBatches sees to it that no batch is taken up again after another was opened.
func (j *job) checkBatches() (errs []error) {
	type batch struct {
		adhesive int
		name     string
	}
	closed := make(map[batch]string) // to the specimen that closed it
	var open batch
	for _, s := range j.Specimens {
		b := batch{s.Adhesive, s.Batch}
		if s.Batch == "" || b == open {
			continue
		}
		if by, ok := closed[b]; ok {
			errs = append(errs, fmt.Errorf("specimen %s needs batch %s of %s again after specimen %s opened another: one is open at a time, so put the specimens of a batch together in the glue-up order",
				s.Code, s.Batch, j.Adhesives[s.Adhesive].Name, by))
		}
		if open.name != "" {
			closed[open] = s.Code
		}
		open = b
	}
	return errs
}

func (j *job) checkHours() (errs []error) {
	var longest time.Duration
	for weekday, spans := range j.Hours.Week {
		errs = append(errs, checkSpans(time.Weekday(weekday), spans)...)
		for _, s := range spans {
			longest = max(longest, s.To-s.From)
		}
	}
	if longest <= 0 {
		return append(errs, errors.New("there are no working hours on any day of the week: give at least one day from when until when"))
	}
	if j.Start.Year < 1900 || j.Start.Year > 9000 || j.Start.add(0) != j.Start {
		errs = append(errs, fmt.Errorf("the start %d-%02d-%02d is not a date between the years 1900 and 9000", j.Start.Year, j.Start.Month, j.Start.Day))
	}
	fits := func(what string, work time.Duration) {
		if work > longest {
			errs = append(errs, fmt.Errorf("%s takes %s and must not straddle the end of working hours, but the longest span of them has %s: %s short", what, say(work), say(longest), say(work-longest)))
		}
	}
	if j.Break <= 0 {
		errs = append(errs, errors.New("the work on one break is not stated: give the minutes it takes"))
	}
	if j.Release < 0 {
		errs = append(errs, fmt.Errorf("the work of a release is %s: it cannot be negative", say(j.Release)))
	}
	fits("one break", j.Break)
	fits("taking off one clamp", j.Release)
	for i, a := range j.Adhesives {
		if j.used(i) {
			fits("one glue-up with "+a.Name, j.hands[i].Total())
		}
	}
	return errs
}

// checkSpans sees to it that the spans of a day follow one another.
func checkSpans(weekday time.Weekday, spans []Span) (errs []error) {
	for k, s := range spans {
		which := fmt.Sprintf("the working hours of %s from %s to %s", weekday, clock(s.From), clock(s.To))
		switch {
		case s.From < 0 || s.To > day:
			errs = append(errs, fmt.Errorf("%s must lie between 0:00 and 24:00", which))
		case s.To < s.From:
			errs = append(errs, fmt.Errorf("%s end %s before they begin", which, say(s.From-s.To)))
		case s.To == s.From:
			errs = append(errs, fmt.Errorf("%s end as they begin: leave them out, or say until when", which))
		case k > 0 && s.From < spans[k-1].To:
			errs = append(errs, fmt.Errorf("%s begin %s before those from %s to %s are over: give the spans of a day in order, none overlapping another",
				which, say(spans[k-1].To-s.From), clock(spans[k-1].From), clock(spans[k-1].To)))
		}
	}
	return errs
}

// used reports whether any specimen is glued with the adhesive.
func (j *job) used(adhesive int) bool {
	for _, s := range j.Specimens {
		if s.Adhesive == adhesive {
			return true
		}
	}
	return false
}

// checkAdhesive checks an adhesive that is used and the work on one glue-up with it.
func checkAdhesive(a Adhesive, h Hands) (errs []error) {
	if a.FullCure == 0 {
		errs = append(errs, fmt.Errorf("adhesive %s has no time to full cure: write its full cure", a.Name))
	}
	if h.Spread <= 0 || h.Join < 0 || h.Clamp < 0 {
		errs = append(errs, fmt.Errorf("adhesive %s: the work on one glue-up is %s spreading, %s joining, %s clamping: spreading must take some time and the others cannot be negative",
			a.Name, say(h.Spread), say(h.Join), say(h.Clamp)))
	}
	if a.OpenAssembly < 0 || a.ClosedAssembly < 0 || a.ClampTime < 0 || a.FullCure < 0 {
		return append(errs, fmt.Errorf("adhesive %s: a time is negative (open assembly %s, closed assembly %s, clamp time %s, full cure %s)",
			a.Name, say(a.OpenAssembly), say(a.ClosedAssembly), say(a.ClampTime), say(a.FullCure)))
	}
	if open := h.Spread + h.Join; a.OpenAssembly > 0 && open > a.OpenAssembly {
		errs = append(errs, fmt.Errorf("adhesive %s: spreading and joining one glue-up takes %s and the open assembly time is %s: %s short; spread faster, make smaller joints or take two people",
			a.Name, say(open), say(a.OpenAssembly), say(open-a.OpenAssembly)))
	}
	if a.ClosedAssembly > 0 && h.Clamp > a.ClosedAssembly {
		errs = append(errs, fmt.Errorf("adhesive %s: clamping one glue-up takes %s and the closed assembly time is %s: %s short; set the clamps beforehand or take fewer a joint",
			a.Name, say(h.Clamp), say(a.ClosedAssembly), say(h.Clamp-a.ClosedAssembly)))
	}
	if a.FullCure > 0 && a.ClampTime > a.FullCure {
		source := a.CureSource
		if source == "" {
			source = "label"
		}
		errs = append(errs, fmt.Errorf("adhesive %s: the clamp time of %s is %s longer than the time to full cure of %s (%s): one of them is wrong",
			a.Name, say(a.ClampTime), say(a.ClampTime-a.FullCure), say(a.FullCure), source))
	}
	return errs
}

func (j *job) checkClamps() (errs []error) {
	if j.Clamps < 0 {
		return []error{fmt.Errorf("the number of clamps is %d: it cannot be negative", j.Clamps)}
	}
	if j.Clamps > 0 {
		return nil
	}
	needing := 0
	for _, s := range j.Specimens {
		if j.Adhesives[s.Adhesive].ClampTime > 0 {
			needing++
		}
	}
	if needing > 0 {
		errs = append(errs, fmt.Errorf("there are no clamps and %d of %d specimens need one: 1 clamp short, with which they are glued up one after the other", needing, len(j.Specimens)))
	}
	return errs
}

// notStated lists which limits are not stated and so cannot be checked, and which
// cures are not from the label.
func (j *job) notStated() (notes []string) {
	for i, a := range j.Adhesives {
		if !j.used(i) {
			continue
		}
		if a.OpenAssembly == 0 {
			notes = append(notes, fmt.Sprintf("%s: no open assembly time is stated, so it is not checked that %s of spreading and joining keeps within it", a.Name, say(j.hands[i].Spread+j.hands[i].Join)))
		}
		if a.ClosedAssembly == 0 {
			notes = append(notes, fmt.Sprintf("%s: no closed assembly time is stated, so it is not checked that %s of clamping keeps within it", a.Name, say(j.hands[i].Clamp)))
		}
		if a.CureSource != "" {
			notes = append(notes, fmt.Sprintf("%s: the time to full cure of %s is not from the label: %s", a.Name, say(a.FullCure), a.CureSource))
		}
	}
	return notes
}

// say writes a length of time in days, hours, minutes and seconds.
func say(d time.Duration) string {
	if d < 0 {
		return "-" + say(-d)
	}
	var parts []string
	for _, u := range []struct {
		size time.Duration
		name string
	}{{day, "d"}, {time.Hour, "h"}, {time.Minute, "min"}} {
		if n := d / u.size; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, u.name))
			d -= n * u.size
		}
	}
	if d > 0 {
		parts = append(parts, fmt.Sprintf("%g s", d.Seconds()))
	}
	if len(parts) == 0 {
		return "0 min"
	}
	return strings.Join(parts, " ")
}

// clock writes a time of day.
func clock(since time.Duration) string {
	if since < 0 {
		return "-" + clock(-since)
	}
	return fmt.Sprintf("%d:%02d", since/time.Hour, since%time.Hour/time.Minute)
}
