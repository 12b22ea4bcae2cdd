package schedule_test

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bondtrial/internal/plan/schedule"
)

// spans are the working hours of a day: from, to, from, to, …
func spans(ends ...time.Duration) (list []schedule.Span) {
	for i := 0; i < len(ends); i += 2 {
		list = append(list, schedule.Span{From: ends[i], To: ends[i+1]})
	}
	return list
}

// workweek is Monday to Friday, the same hours each day.
func workweek(ends ...time.Duration) (week [7][]schedule.Span) {
	for d := time.Monday; d <= time.Friday; d++ {
		week[d] = spans(ends...)
	}
	return week
}

// Zones with summer time (both hemispheres), with a change by half an hour, with a
// change at midnight, and without any; and days about their changes.
var zones = []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Santiago", "Africa/Cairo", "Asia/Kolkata", "UTC"}

var starts = []schedule.Date{
	{Year: 2026, Month: 3, Day: 27}, {Year: 2026, Month: 10, Day: 23}, {Year: 2026, Month: 3, Day: 6}, {Year: 2026, Month: 10, Day: 30},
	{Year: 2026, Month: 4, Day: 3}, {Year: 2026, Month: 9, Day: 4}, {Year: 2026, Month: 10, Day: 2}, {Year: 2026, Month: 4, Day: 22},
	{Year: 2028, Month: 2, Day: 28}, {Year: 2026, Month: 12, Day: 30},
}

// drawSpans draws the working hours of a day: a span with room for any piece of work,
// and perhaps another before or after it, which may be short and follow at once.
func drawSpans(t *rapid.T) []schedule.Span {
	from := rapid.IntRange(0, 22*60).Draw(t, "from")
	to := rapid.IntRange(from+60, 24*60).Draw(t, "to")
	if rapid.IntRange(0, 5).Draw(t, "night") == 0 {
		from, to = 0, rapid.IntRange(2*60, 24*60).Draw(t, "to of a night")
	}
	list := spans(time.Duration(from)*time.Minute, time.Duration(to)*time.Minute)
	if to < 24*60 && rapid.Bool().Draw(t, "a span after") {
		begin := rapid.IntRange(to, 24*60-1).Draw(t, "its begin")
		end := rapid.IntRange(begin+1, 24*60).Draw(t, "its end")
		list = append(list, spans(time.Duration(begin)*time.Minute, time.Duration(end)*time.Minute)...)
	} else if from > 0 && rapid.Bool().Draw(t, "a span before") {
		end := rapid.IntRange(1, from).Draw(t, "its end")
		begin := rapid.IntRange(0, end-1).Draw(t, "its begin")
		list = append(spans(time.Duration(begin)*time.Minute, time.Duration(end)*time.Minute), list...)
	}
	return list
}

// drawRequest draws a request that is possible.
func drawRequest(t *rapid.T) schedule.Request {
	loc, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
	if err != nil {
		t.Fatal(err)
	}
	r := schedule.Request{
		Clamps:   rapid.IntRange(1, 6).Draw(t, "clamps"),
		Together: rapid.Bool().Draw(t, "breaks together"),
		Hands:    schedule.SplitHands(time.Duration(rapid.IntRange(1, 40).Draw(t, "glue-up min")) * time.Minute),
		Release:  time.Duration(rapid.IntRange(0, 5).Draw(t, "release min")) * time.Minute,
		Break:    time.Duration(rapid.IntRange(1, 40).Draw(t, "break min")) * time.Minute,
		Start:    rapid.SampledFrom(starts).Draw(t, "start"),
		Hours:    schedule.Hours{Location: loc},
	}
	works := false
	for d := range r.Hours.Week {
		if rapid.IntRange(0, 3).Draw(t, "rest") == 0 {
			continue
		}
		r.Hours.Week[d] = drawSpans(t)
		works = true
	}
	if !works {
		r.Hours.Week[time.Tuesday] = spans(9*time.Hour, 12*time.Hour, 12*time.Hour+30*time.Minute, 13*time.Hour)
	}
	for range rapid.IntRange(0, 3).Draw(t, "days off") {
		r.Hours.DaysOff = append(r.Hours.DaysOff, schedule.Date{Year: r.Start.Year, Month: r.Start.Month, Day: rapid.IntRange(1, 28).Draw(t, "off")})
	}
	for n := range rapid.IntRange(1, 4).Draw(t, "adhesives") {
		a := schedule.Adhesive{Name: fmt.Sprintf("adhesive %d", n+1), LowestC: 10} // not NaN, so that plans can be compared
		a.ClampTime = time.Duration(rapid.SampledFrom([]int{0, 10, 60, 240, 600, 720}).Draw(t, "clamp time")) * time.Minute
		if rapid.Bool().Draw(t, "label says cure") {
			a.FullCure = a.ClampTime + time.Duration(rapid.IntRange(1, 72*60).Draw(t, "cure"))*time.Minute
		} else {
			a.FullCure = time.Duration(rapid.SampledFrom([]int{1, 7, 14}).Draw(t, "days of cure")) * 24 * time.Hour
			a.CureSource = "usual for its kind"
		}
		h := r.Hands
		if rapid.Bool().Draw(t, "own hands") {
			h = schedule.Hands{Spread: 3 * time.Minute, Join: 2 * time.Minute, Clamp: 4 * time.Minute}
			a.Hands = h
		}
		if rapid.Bool().Draw(t, "open stated") {
			a.OpenAssembly = h.Spread + h.Join
			a.ClosedAssembly = h.Clamp + time.Minute
		}
		r.Adhesives = append(r.Adhesives, a)
	}
	n := rapid.IntRange(1, 25).Draw(t, "specimens")
	batched := rapid.Bool().Draw(t, "batches")
	for i := range n {
		s := schedule.Specimen{Code: fmt.Sprintf("S%02d", i+1), Adhesive: rapid.IntRange(0, len(r.Adhesives)-1).Draw(t, "adhesive")}
		if batched { // batches of up to four, each of one adhesive
			s.Batch = fmt.Sprintf("b%d", i/4)
			if i%4 > 0 {
				s.Adhesive = r.Specimens[i-1].Adhesive
			}
		}
		r.Specimens = append(r.Specimens, s)
		r.BreakOrder = append(r.BreakOrder, s.Code)
	}
	r.BreakOrder = rapid.Permutation(r.BreakOrder).Draw(t, "break order")
	return r
}

// Every plan is feasible, no plan ends before its bound, and the day plan holds
// every piece of work once.
func TestEveryPlanIsFeasible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRequest(t)
		p, err := schedule.Make(r)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range append(feasible(r, p), checksRight(r, p)...) {
			t.Error(f)
		}
		if p.End.Before(p.Bound.End()) {
			t.Errorf("ends at %v, before its bound %v", p.End, p.Bound.End())
		}
		if p.Bound.Clamps.Before(p.Bound.Cure) {
			t.Errorf("fewer clamps lower the bound: %v, %v", p.Bound.Clamps, p.Bound.Cure)
		}
		daysRight(t, r, p)
		again, err := schedule.Make(r)
		if err != nil || !reflect.DeepEqual(p, again) {
			t.Errorf("the same request gives another plan (%v)", err)
		}
	})
}

func daysRight(t *rapid.T, r schedule.Request, p *schedule.Plan) {
	done := make(map[string]int)
	checks := 0
	for k, d := range p.Days {
		if k > 0 && (!d.Open.After(p.Days[k-1].Open) || d.Date.String() <= p.Days[k-1].Date.String()) {
			t.Errorf("day %v follows %v", d.Date, p.Days[k-1].Date)
		}
		hours := r.Hours.Week[d.Date.Weekday()]
		for _, end := range []struct {
			told time.Time
			want time.Duration
		}{{d.Open, hours[0].From}, {d.Close, hours[len(hours)-1].To}} {
			// Where clocks are changed on the day, its ends may be told otherwise, and a
			// short span may fall out.
			_, early := d.Open.Add(-24 * time.Hour).Zone()
			_, late := d.Close.Add(24 * time.Hour).Zone()
			shown := time.Duration(end.told.Hour())*time.Hour + time.Duration(end.told.Minute())*time.Minute
			if early == late && (shown-end.want)%(24*time.Hour) != 0 {
				t.Errorf("day %v begins or ends at %v, want %v", d.Date, shown, end.want)
			}
		}
		var work time.Duration
		for _, s := range d.Steps {
			done[fmt.Sprint(s.Kind, s.Specimen)]++
			work += s.End.Sub(s.Start)
			if s.Start.Before(d.Open) || s.End.After(d.Close) || s.Start.In(r.Hours.Location).Format(time.DateOnly) != d.Date.String() {
				t.Errorf("%v of %d is not within its day %v", s.Kind, s.Specimen, d.Date)
			}
		}
		if work != d.Work {
			t.Errorf("%v: work %v, want %v", d.Date, d.Work, work)
		}
		checks += len(d.Checks)
		steps := 0
		for _, b := range d.Blocks() {
			steps += len(b.Steps)
			if !b.Start.Equal(b.Steps[0].Start) || !b.End.Equal(b.Steps[len(b.Steps)-1].End) {
				t.Errorf("%v: a block does not enclose its steps", d.Date)
			}
		}
		if steps != len(d.Steps) {
			t.Errorf("%v: %d steps in blocks, %d in the day", d.Date, steps, len(d.Steps))
		}
	}
	want := 0
	for i, s := range r.Specimens {
		want += 2
		if done[fmt.Sprint(schedule.GlueUp, i)] != 1 || done[fmt.Sprint(schedule.Break, i)] != 1 {
			t.Errorf("%s is not glued up and broken once in the day plan", s.Code)
		}
		if r.Adhesives[s.Adhesive].ClampTime > 0 {
			want++
			if done[fmt.Sprint(schedule.Release, i)] != 1 {
				t.Errorf("%s is not released once in the day plan", s.Code)
			}
		}
	}
	if len(done) != want || checks != len(p.Checks) {
		t.Errorf("%d pieces of work and %d checks in the day plan, want %d and %d", len(done), checks, want, len(p.Checks))
	}
}

// More clamps never raise the bound, and a bound holds for every schedule: a plan
// made with fewer clamps cannot end before the bound with more.
func TestBoundIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRequest(t)
		few, err := schedule.Make(r)
		if err != nil {
			t.Fatal(err)
		}
		r.Clamps += rapid.IntRange(1, 10).Draw(t, "further clamps")
		many, err := schedule.Make(r)
		if err != nil {
			t.Fatal(err)
		}
		if many.Bound.End().After(few.Bound.End()) || few.End.Before(many.Bound.End()) {
			t.Errorf("bound %v with %d clamps, before it %v (plan %v)", many.Bound.End(), r.Clamps, few.Bound.End(), few.End)
		}
	})
}
