package schedule_test

import (
	"fmt"
	"sort"
	"testing"
	"time"
	_ "time/tzdata" // the zones used here, wherever the tests run

	"bondtrial/internal/plan/schedule"
)

// zone loads a time zone.
func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// busy is a stretch of time that hands or a clamp are taken for.
type busy struct {
	from, to time.Time
	what     string
}

// feasible checks a plan against its request, from the request alone: it shares
// nothing with the code that made it. It returns every fault.
func feasible(r schedule.Request, p *schedule.Plan) (faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	if r.Release == 0 {
		r.Release = schedule.DefaultRelease
	}
	if len(p.Times) != len(r.Specimens) {
		fault("%d specimens planned of %d", len(p.Times), len(r.Specimens))
		return faults
	}
	var hands []busy
	clamps := make(map[int][]busy)
	byCode := make(map[string]schedule.Times)
	var lastClamped time.Time
	for i, e := range p.Times {
		s := r.Specimens[i]
		a := r.Adhesives[s.Adhesive]
		byCode[s.Code] = e
		faults = append(faults, life(r, s, e)...)
		if e.Spread.Before(lastClamped) {
			fault("%s: glued up before the one ahead of it was done", s.Code)
		}
		lastClamped = e.Clamped
		hands = append(hands, busy{e.Spread, e.Clamped, "glue-up of " + s.Code}, busy{e.Break, e.Broken, "break of " + s.Code})
		if a.ClampTime > 0 {
			hands = append(hands, busy{e.Release, e.Unclamped, "release of " + s.Code})
			clamps[e.Clamp] = append(clamps[e.Clamp], busy{e.Joined, e.Unclamped, s.Code})
		}
	}
	faults = append(faults, apart("hands", hands)...)
	for n, list := range clamps {
		faults = append(faults, apart(fmt.Sprintf("clamp %d", n), list)...)
	}
	for _, b := range hands {
		if why := outside(r, b.from, b.to); why != "" {
			fault("%s: %s", b.what, why)
		}
	}
	var last, cured time.Time
	for _, e := range byCode {
		if e.Cured.After(cured) {
			cured = e.Cured
		}
	}
	for _, code := range r.BreakOrder {
		e := byCode[code]
		if r.Together && e.Break.Before(cured) {
			fault("%s: broken at %v, and the last is cured at %v", code, e.Break, cured)
		}
		if e.Break.Before(last) {
			fault("%s: broken out of order", code)
		}
		last = e.Broken
	}
	if !p.End.Equal(last) {
		fault("the end is %v, the last break is over at %v", p.End, last)
	}
	return faults
}

// life checks the events of one specimen against each other.
func life(r schedule.Request, s schedule.Specimen, e schedule.Times) (faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	a := r.Adhesives[s.Adhesive]
	h := a.Hands
	if h == (schedule.Hands{}) {
		h = r.Hands
	}
	if got, want := e.Joined.Sub(e.Spread), h.Spread+h.Join; got != want {
		fault("%s: %v from spreading to joining, the work is %v", s.Code, got, want)
	}
	if got, want := e.Clamped.Sub(e.Joined), h.Clamp; got != want {
		fault("%s: %v from joining to pressure, the work is %v", s.Code, got, want)
	}
	if a.OpenAssembly > 0 && e.Joined.Sub(e.Spread) > a.OpenAssembly {
		fault("%s: open assembly time exceeded", s.Code)
	}
	if a.ClosedAssembly > 0 && e.Clamped.Sub(e.Joined) > a.ClosedAssembly {
		fault("%s: closed assembly time exceeded", s.Code)
	}
	if got := e.Cured.Sub(e.Clamped); got != a.FullCure {
		fault("%s: cured after %v, want %v", s.Code, got, a.FullCure)
	}
	if e.Break.Before(e.Cured) {
		fault("%s: broken %v before full cure", s.Code, e.Cured.Sub(e.Break))
	}
	if e.Break.Before(e.Unclamped) {
		fault("%s: broken in its clamp", s.Code)
	}
	if got := e.Broken.Sub(e.Break); got != r.Break {
		fault("%s: the break takes %v, want %v", s.Code, got, r.Break)
	}
	if a.ClampTime == 0 {
		if e.Clamp != 0 || !e.Unclamped.Equal(e.Clamped) || !e.Release.Equal(e.Clamped) {
			fault("%s: needs no clamp and has one", s.Code)
		}
		return faults
	}
	if got := e.Release.Sub(e.Clamped); got < a.ClampTime {
		fault("%s: %v in the clamp, want %v", s.Code, got, a.ClampTime)
	}
	if got := e.Unclamped.Sub(e.Release); got != r.Release {
		fault("%s: the release takes %v, want %v", s.Code, got, r.Release)
	}
	if e.Clamp < 1 || e.Clamp > r.Clamps {
		fault("%s: clamp %d of %d", s.Code, e.Clamp, r.Clamps)
	}
	return faults
}

// apart finds stretches that overlap.
func apart(who string, list []busy) (faults []string) {
	sort.SliceStable(list, func(i, j int) bool { return list[i].from.Before(list[j].from) })
	for i := 1; i < len(list); i++ {
		if list[i].from.Before(list[i-1].to) {
			faults = append(faults, fmt.Sprintf("%s: %s begins before %s is over", who, list[i].what, list[i-1].what))
		}
	}
	return faults
}

// outside says why a piece of work is not within one span of the working hours of
// one day, as the clock on the wall of the workshop shows it.
func outside(r schedule.Request, from, to time.Time) string {
	from, to = from.In(r.Hours.Location), to.In(r.Hours.Location)
	y, m, d := from.Date()
	if first := time.Date(r.Start.Year, r.Start.Month, r.Start.Day, 0, 0, 0, 0, time.UTC); time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Before(first) {
		return "before the start"
	}
	for _, off := range r.Hours.DaysOff {
		if off.Year == y && off.Month == m && off.Day == d {
			return "on a day off"
		}
	}
	shown := func(t time.Time) time.Duration {
		return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute + time.Duration(t.Second())*time.Second
	}
	begin, end := shown(from), shown(from)
	if to.After(from) {
		// The last second, so that an end at midnight or as clocks go forward is told
		// by the time before it. Everything here is in whole seconds.
		last := to.Add(-time.Second)
		end = shown(last) + time.Second
		if y2, m2, d2 := last.Date(); y2 != y || m2 != m || d2 != d {
			return "over midnight"
		}
	}
	for _, span := range r.Hours.Week[from.Weekday()] {
		inside := begin >= span.From && end <= span.To
		for u := from; u.Before(to); u = u.Add(time.Minute) { // clocks set back show more than the ends do
			inside = inside && shown(u) >= span.From && shown(u) <= span.To
		}
		if inside {
			return ""
		}
	}
	return fmt.Sprintf("%v to %v is in no span of %v: %v", begin, end, from.Weekday(), r.Hours.Week[from.Weekday()])
}

// shownTwice reports whether clocks show the time of t twice, so that it may or may
// not be within hours told by the clock.
func shownTwice(t time.Time, loc *time.Location) bool {
	shown := t.In(loc).Format(time.DateTime)
	for _, d := range []time.Duration{-time.Hour, -time.Hour / 2, time.Hour / 2, time.Hour} {
		if t.Add(d).In(loc).Format(time.DateTime) == shown {
			return true
		}
	}
	return false
}

// checksRight checks the cure checks of a plan, from its times alone.
func checksRight(r schedule.Request, p *schedule.Plan) (faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	key := func(i int) string {
		return fmt.Sprint(r.Specimens[i].Adhesive, "/", r.Specimens[i].Batch, "/", p.Times[i].Spread.In(r.Hours.Location).Format(time.DateOnly))
	}
	members := make(map[string][]int)
	for i := range r.Specimens {
		members[key(i)] = append(members[key(i)], i)
	}
	seen := make(map[string]bool)
	for n, k := range p.Checks {
		if got, want := k.GluedOn.String(), p.Times[k.Specimens[0]].Spread.In(r.Hours.Location).Format(time.DateOnly); got != want {
			fault("check of what was glued up on %s says %s", want, got)
		}
		if n > 0 && k.At.Before(p.Checks[n-1].At) {
			fault("checks are not by time")
		}
		group := members[key(k.Specimens[0])]
		var left []int
		var lastClamped time.Time
		firstBreak := p.End
		for _, i := range group {
			e := p.Times[i]
			if !e.Break.Before(k.At) {
				left = append(left, i)
			}
			if e.Clamped.After(lastClamped) {
				lastClamped = e.Clamped
			}
			if e.Break.Before(firstBreak) {
				firstBreak = e.Break
			}
		}
		if fmt.Sprint(left) != fmt.Sprint(k.Specimens) {
			fault("check at %v of %v, want %v", k.At, k.Specimens, left)
		}
		if why := outside(r, k.At, k.At); why != "" {
			fault("check: %s", why)
		}
		cure := r.Adhesives[k.Adhesive].FullCure
		for _, kind := range k.Kinds {
			if point := fmt.Sprint(key(k.Specimens[0]), " ", kind); seen[point] {
				fault("two checks of group %s", point)
			} else {
				seen[point] = true
			}
			due := map[schedule.CheckKind]time.Time{schedule.After24h: lastClamped.Add(24 * time.Hour), schedule.HalfCure: lastClamped.Add(cure / 2), schedule.BeforeBreak: firstBreak}[kind]
			if k.At.Before(due) || kind == schedule.BeforeBreak && !k.At.Equal(due) {
				fault("check %v at %v, due %v", kind, k.At, due)
			}
			// Moved only as far as needed: at no whole minute before could one have looked.
			for u := due; u.Before(k.At) && k.At.Sub(due) < 96*time.Hour; u = u.Add(time.Minute) {
				if e := u.Add(schedule.CheckLook); outside(r, u, e) == "" && !shownTwice(u, r.Hours.Location) && !shownTwice(e, r.Hours.Location) {
					fault("check %v at %v could have been at %v (due %v)", kind, k.At, u, due)
					break
				}
			}
		}
	}
	for g := range members {
		if !seen[fmt.Sprint(g, " ", schedule.BeforeBreak)] {
			fault("group %s has no check before breaking", g)
		}
	}
	return faults
}
