package schedule_test

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/plan/schedule"
)

// at reads a time in the zone of a request.
func at(t testing.TB, r schedule.Request, s string) time.Time {
	t.Helper()
	v, err := time.ParseInLocation("2006-01-02 15:04", s, r.Hours.Location)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// one is a trial of specimens A1, A2, … of one adhesive, broken in the same order:
// 6 min of glue-up (3 spreading, 2 joining, 1 clamping), 10 min a break, 1 min a
// release, weekdays 8:00 to 16:00 in Berlin.
func one(t testing.TB, n, clamps int, press, cure time.Duration, start schedule.Date) schedule.Request {
	r := schedule.Request{
		Adhesives: []schedule.Adhesive{{Name: "Pemmet white", ClampTime: press, FullCure: cure, OpenAssembly: 5 * minute, ClosedAssembly: minute, LowestC: 10}},
		Clamps:    clamps, Hands: schedule.Hands{Spread: 3 * minute, Join: 2 * minute, Clamp: minute}, Break: 10 * minute,
		Hours: schedule.Hours{Location: zone(t, "Europe/Berlin"), Week: workweek(8*hour, 16*hour)}, Start: start,
	}
	for i := range n {
		r.Specimens = append(r.Specimens, schedule.Specimen{Code: "A" + strconv.Itoa(i+1)})
		r.BreakOrder = append(r.BreakOrder, "A"+strconv.Itoa(i+1))
	}
	return r
}

// Worked by hand. Two specimens, one clamp, 30 min in it, Monday 2027-03-01:
//
//	8:00 spread A1, 8:05 faces meet, 8:06 full pressure
//	8:36 30 min later, off by 8:37
//	8:37 spread A2, 8:42, 8:43 full pressure; 9:13 off, 9:14
//	cured Tuesday 8:06 and 8:43; broken 8:06–8:16 and 8:43–8:53
func TestOneClampByHand(t *testing.T) {
	r := one(t, 2, 1, 30*minute, day, schedule.Date{Year: 2027, Month: 3, Day: 1})
	p, err := schedule.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][8]string{
		{"03-01 08:00", "03-01 08:05", "03-01 08:06", "03-01 08:36", "03-01 08:37", "03-02 08:06", "03-02 08:06", "03-02 08:16"},
		{"03-01 08:37", "03-01 08:42", "03-01 08:43", "03-01 09:13", "03-01 09:14", "03-02 08:43", "03-02 08:43", "03-02 08:53"},
	} {
		e := p.Times[i]
		for k, got := range []time.Time{e.Spread, e.Joined, e.Clamped, e.Release, e.Unclamped, e.Cured, e.Break, e.Broken} {
			if !got.Equal(at(t, r, "2027-"+want[k])) {
				t.Errorf("A%d, event %d: %v, want %s", i+1, k, got, want[k])
			}
		}
		if e.Clamp != 1 {
			t.Errorf("A%d in clamp %d, want 1", i+1, e.Clamp)
		}
	}
	// From Monday 8:00 to Tuesday 8:53. Nothing can be left out: the bound is the same.
	if p.Span() != 24*hour+53*minute || p.Excess() != 0 || p.Bound.Binding() != "the number of clamps" {
		t.Errorf("span %v, %v longer than the bound, by %s", p.Span(), p.Excess(), p.Bound.Binding())
	}
	// With two clamps A2 follows at 8:06, is under pressure at 8:12, and broken at
	// 8:16 on Tuesday, when A1 is done: over at 8:26.
	r.Clamps = 2
	if p, err = schedule.Make(r); err != nil {
		t.Fatal(err)
	}
	if want := at(t, r, "2027-03-02 08:26"); !p.End.Equal(want) || !p.Bound.End().Equal(want) || p.Bound.Binding() != "cure and the working hours" {
		t.Errorf("ends %v, bound %v by %s, want %v", p.End, p.Bound.End(), p.Bound.Binding(), want)
	}
}

// Cure runs through weekends and days off; breaks, releases and checks wait for
// working hours. By hand: Friday 8:06 full pressure, two days of cure end on Sunday
// 8:06, the break is on Monday 8:00. The look after 24 h is due on Saturday 8:06, as
// is the one at half cure, and both are taken together as the break begins on Monday.
func TestOverTheWeekend(t *testing.T) {
	r := one(t, 1, 1, 12*hour, 2*day, schedule.Date{Year: 2027, Month: 3, Day: 5})
	p, err := schedule.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	e := p.Times[0]
	for _, c := range []struct {
		what string
		got  time.Time
		want string
	}{
		{"full pressure", e.Clamped, "2027-03-05 08:06"},
		{"off the clamp, due on Friday 20:06", e.Release, "2027-03-08 08:00"},
		{"cured", e.Cured, "2027-03-07 08:06"},
		{"broken, after the clamp is off", e.Break, "2027-03-08 08:01"},
		{"looked at", p.Checks[0].At, "2027-03-08 08:00"},
		{"looked at before breaking", p.Checks[1].At, "2027-03-08 08:01"},
	} {
		if !c.got.Equal(at(t, r, c.want)) {
			t.Errorf("%s: %v, want %s", c.what, c.got, c.want)
		}
	}
	if len(p.Checks) != 2 || p.Checks[0].Reasons() != "24 h, half cure" || p.Checks[1].Reasons() != "before breaking" {
		t.Errorf("checks %+v", p.Checks)
	}
	// With the Monday off it is Tuesday.
	r.Hours.DaysOff = []schedule.Date{{Year: 2027, Month: 3, Day: 8}}
	if p, err = schedule.Make(r); err != nil {
		t.Fatal(err)
	}
	if want := at(t, r, "2027-03-09 08:01"); !p.Times[0].Break.Equal(want) {
		t.Errorf("broken %v, want %v", p.Times[0].Break, want)
	}
}

// Clocks in Berlin go forward on 2027-03-28 at 2:00 and back on 2027-10-31 at 3:00.
// By hand: pressure on Friday at 8:06, 72 h of cure end on Monday, at 9:06 after the
// change to summer time and at 7:06 after the change back, before work begins.
func TestClocksAreChanged(t *testing.T) {
	for _, c := range []struct {
		start         schedule.Date
		cured, broken string
	}{
		{schedule.Date{Year: 2027, Month: 3, Day: 26}, "2027-03-29 09:06", "2027-03-29 09:06"},
		{schedule.Date{Year: 2027, Month: 10, Day: 29}, "2027-11-01 07:06", "2027-11-01 08:00"},
	} {
		r := one(t, 1, 1, hour, 3*day, c.start)
		p, err := schedule.Make(r)
		if err != nil {
			t.Fatal(err)
		}
		if e := p.Times[0]; !e.Cured.Equal(at(t, r, c.cured)) || !e.Break.Equal(at(t, r, c.broken)) {
			t.Errorf("from %v: cured %v, broken %v; want %s, %s", c.start, e.Cured, e.Break, c.cured, c.broken)
		}
	}
	// Night work from 0:00 to 6:00 on the Sundays of the change has 5 and 7 hours: 50
	// and 70 glue-ups of 6 min without clamps, all others a week later.
	for _, c := range []struct {
		start schedule.Date
		fit   int
	}{{schedule.Date{Year: 2027, Month: 3, Day: 28}, 50}, {schedule.Date{Year: 2027, Month: 10, Day: 31}, 70}} {
		r := one(t, 80, 0, 0, day, c.start)
		r.Hours.Week = [7][]schedule.Span{time.Sunday: spans(0, 6*hour)}
		if n := onFirstDay(t, r); n != c.fit {
			t.Errorf("%v: %d glue-ups, want %d", c.start, n, c.fit)
		}
	}
	// With a span until 2:30 and one from then on. In March 2:30 is not shown: the spans
	// have 0:00 to 2:00 and 3:00 to 6:00, 20 and 30 glue-ups. In October it is shown
	// twice, and nobody knows which is meant: they have 0:00 to the first 2:30 and the
	// second to 6:00, 25 and 35.
	for _, c := range []struct {
		start schedule.Date
		fit   int
	}{{schedule.Date{Year: 2027, Month: 3, Day: 28}, 50}, {schedule.Date{Year: 2027, Month: 10, Day: 31}, 60}} {
		r := one(t, 80, 0, 0, day, c.start)
		r.Hours.Week = [7][]schedule.Span{time.Sunday: spans(0, 2*hour+30*minute, 2*hour+30*minute, 6*hour)}
		if n := onFirstDay(t, r); n != c.fit {
			t.Errorf("%v, two spans: %d glue-ups, want %d", c.start, n, c.fit)
		}
	}
}

// onFirstDay counts the glue-ups of the first day.
func onFirstDay(t *testing.T, r schedule.Request) (n int) {
	p, err := schedule.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range p.Times {
		if e.Spread.Sub(p.Opening) < day {
			n++
		}
	}
	return n
}

// A glue-up that would not be done by closing time waits for the next day. By hand:
// 8 hours hold 80 glue-ups of 6 min; with 7 min, 68 (476 min), and 4 min stay idle.
func TestNothingStraddlesClosingTime(t *testing.T) {
	r := one(t, 90, 0, 0, 30*day, schedule.Date{Year: 2027, Month: 3, Day: 1})
	r.Hands.Clamp = 2 * minute
	r.Adhesives[0].ClosedAssembly = 2 * minute
	p, err := schedule.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := p.Times[67].Clamped, at(t, r, "2027-03-01 15:56"); !got.Equal(want) {
		t.Errorf("the 68th is under pressure at %v, want %v", got, want)
	}
	if got, want := p.Times[68].Spread, at(t, r, "2027-03-02 08:00"); !got.Equal(want) {
		t.Errorf("the 69th is begun at %v, want %v", got, want)
	}
	if got := p.Days[0].Work; got != 476*minute {
		t.Errorf("%v of work on the first day, want 476 min", got)
	}
}

// A lunch break is straddled by no work, and what is grouped by day stays so. By
// hand, weekdays 8:00 to 12:00 and 13:00 to 17:00, 40 glue-ups of 7 min without clamps:
//
//	Monday 8:00–11:58 34 of them (238 min), 13:00–13:42 the other 6
//	cured from Tuesday 8:07 to 13:42; breaks of 10 min, 8:07–11:57 23 of them,
//	13:00–15:50 the other 17
//	checks of all as one group: at half cure (due Tuesday 1:42) at 8:00, before
//	breaking at 8:07, 24 h after the last at 13:42, when the breaks of 13:00 to
//	13:40 are begun and A29 to A40 are left
func TestLunchBreak(t *testing.T) {
	r := one(t, 40, 0, 0, day, schedule.Date{Year: 2027, Month: 3, Day: 1})
	r.Hours.Week = workweek(8*hour, 12*hour, 13*hour, 17*hour)
	r.Hands.Clamp, r.Adhesives[0].ClosedAssembly = 2*minute, 2*minute
	p, err := schedule.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what string
		got  time.Time
		want string
	}{
		{"34th under pressure", p.Times[33].Clamped, "2027-03-01 11:58"},
		{"35th begun", p.Times[34].Spread, "2027-03-01 13:00"},
		{"40th under pressure", p.Times[39].Clamped, "2027-03-01 13:42"},
		{"23rd broken", p.Times[22].Broken, "2027-03-02 11:57"},
		{"24th mounted", p.Times[23].Break, "2027-03-02 13:00"},
		{"last broken", p.End, "2027-03-02 15:50"},
		{"bound", p.Bound.End(), "2027-03-02 15:50"},
	} {
		if !c.got.Equal(at(t, r, c.want)) {
			t.Errorf("%s: %v, want %s", c.what, c.got, c.want)
		}
	}
	if len(p.Days) != 2 {
		t.Fatalf("%d days, want 2", len(p.Days))
	}
	for k, d := range p.Days {
		date := []string{"2027-03-01", "2027-03-02"}[k]
		if d.Date.String() != date || !d.Open.Equal(at(t, r, date+" 08:00")) || !d.Close.Equal(at(t, r, date+" 17:00")) || len(d.Steps) != 40 || len(d.Blocks()) != 2 {
			t.Errorf("%v from %v to %v with %d steps in %d blocks, want %s from 8 to 17 with 40 in 2", d.Date, d.Open, d.Close, len(d.Steps), len(d.Blocks()), date)
		}
	}
	if got := p.Days[0].Work; got != 280*minute {
		t.Errorf("%v of work on Monday, want 280 min", got)
	}
	if len(p.Checks) != 3 || len(p.Days[1].Checks) != 3 {
		t.Fatalf("checks %+v, want 3", p.Checks)
	}
	for n, c := range []struct {
		reason, at string
		from       int
	}{{"half cure", "08:00", 0}, {"before breaking", "08:07", 0}, {"24 h", "13:42", 28}} {
		k := p.Checks[n]
		var left []int
		for i := c.from; i < 40; i++ {
			left = append(left, i)
		}
		if k.Reasons() != c.reason || !k.At.Equal(at(t, r, "2027-03-02 "+c.at)) || k.GluedOn.String() != "2027-03-01" || !slices.Equal(k.Specimens, left) {
			t.Errorf("check %d: %+v, want %+v", n, k, c)
		}
	}
	// The calendar numbers the blocks of a kind through the day.
	file := string(write(t, p, schedule.Calendar{Trial: "benches", Stamp: stamp}))
	for _, uid := range []string{"20270301-glue-up-1-", "20270301-glue-up-2-", "20270302-break-1-", "20270302-break-2-", "20270302-check-3-"} {
		if strings.Count(file, "UID:"+uid) != 1 {
			t.Errorf("no event %s, or several", uid)
		}
	}
}

// What falls due in the break waits for its end, and what would straddle its begin
// too. By hand: full pressure at 8:06; out of the clamp is due after 4 h at 12:06, so
// 13:00; half of 7 h 44 min is over at 11:58, where a look of 5 min would straddle
// noon, so 13:00; cured at 15:50.
func TestDueInTheBreak(t *testing.T) {
	r := one(t, 1, 1, 4*hour, 7*hour+44*minute, schedule.Date{Year: 2027, Month: 3, Day: 1})
	r.Hours.Week = workweek(8*hour, 12*hour, 13*hour, 17*hour)
	p, err := schedule.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	e := p.Times[0]
	if !e.Release.Equal(at(t, r, "2027-03-01 13:00")) || !e.Break.Equal(at(t, r, "2027-03-01 15:50")) {
		t.Errorf("off the clamp %v, broken %v", e.Release, e.Break)
	}
	if len(p.Checks) != 2 || p.Checks[0].Reasons() != "half cure" || !p.Checks[0].At.Equal(at(t, r, "2027-03-01 13:00")) {
		t.Errorf("checks %+v", p.Checks)
	}
	if len(p.Days) != 1 || len(p.Days[0].Steps) != 3 || len(p.Days[0].Checks) != 2 {
		t.Errorf("days %+v, want one", p.Days)
	}
	// Cured after 30 h at 14:06 on Tuesday, which begins at 8:00 all the same.
	r.Adhesives[0].FullCure = 30 * hour
	if p, err = schedule.Make(r); err != nil {
		t.Fatal(err)
	}
	d := p.Days[len(p.Days)-1]
	if !p.Times[0].Break.Equal(at(t, r, "2027-03-02 14:06")) || len(p.Days) != 2 || !d.Open.Equal(at(t, r, "2027-03-02 08:00")) || !d.Close.Equal(at(t, r, "2027-03-02 17:00")) {
		t.Errorf("broken %v on a day from %v to %v", p.Times[0].Break, d.Open, d.Close)
	}
}

// What is impossible is refused with what is short and by how much. The amounts are
// worked by hand from the numbers in each case.
func TestImpossible(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*schedule.Request)
		want  string
	}{
		{"no clamps", func(r *schedule.Request) { r.Clamps = 0 }, "no clamps and 2 of 2 specimens need one: 1 clamp short"},
		{"fewer than none", func(r *schedule.Request) { r.Clamps = -1 }, "number of clamps is -1"},
		{"no hours", func(r *schedule.Request) { r.Hours.Week = [7][]schedule.Span{} }, "no working hours on any day"},
		{"hours that end before they begin", func(r *schedule.Request) { r.Hours.Week[1] = spans(9*hour, 8*hour) }, "working hours of Monday from 9:00 to 8:00 end 1 h before they begin"},
		{"hours that end as they begin", func(r *schedule.Request) { r.Hours.Week[3] = spans(9*hour, 9*hour) }, "working hours of Wednesday from 9:00 to 9:00 end as they begin"},
		{"hours beyond midnight", func(r *schedule.Request) { r.Hours.Week[1] = spans(8*hour, 12*hour, 13*hour, 25*hour) }, "working hours of Monday from 13:00 to 25:00 must lie between 0:00 and 24:00"},
		{"hours before midnight", func(r *schedule.Request) { r.Hours.Week[1] = spans(-hour, 12*hour) }, "working hours of Monday from -1:00 to 12:00 must lie between 0:00 and 24:00"},
		{"hours that overlap", func(r *schedule.Request) { r.Hours.Week[2] = spans(8*hour, 12*hour, 11*hour+30*minute, 17*hour) }, "working hours of Tuesday from 11:30 to 17:00 begin 30 min before those from 8:00 to 12:00 are over"},
		{"hours out of order", func(r *schedule.Request) { r.Hours.Week[5] = spans(13*hour, 17*hour, 8*hour, 12*hour) }, "working hours of Friday from 8:00 to 12:00 begin 9 h before those from 13:00 to 17:00 are over"},
		{"open time", func(r *schedule.Request) { r.Adhesives[0].OpenAssembly = 4*minute + 30*time.Second }, "takes 5 min and the open assembly time is 4 min 30 s: 30 s short"},
		{"closed time", func(r *schedule.Request) { r.Hands.Clamp = 9 * minute }, "takes 9 min and the closed assembly time is 1 min: 8 min short"},
		{"clamp time longer than cure", func(r *schedule.Request) { r.Adhesives[0].ClampTime = 25 * hour }, "clamp time of 1 d 1 h is 1 h longer than the time to full cure of 1 d (label)"},
		{"clamp time longer than a cure from elsewhere", func(r *schedule.Request) {
			r.Adhesives[0].ClampTime, r.Adhesives[0].CureSource = 25*hour, "usual for white glue"
		}, "1 h longer than the time to full cure of 1 d (usual for white glue)"},
		{"negative time", func(r *schedule.Request) { r.Adhesives[0].FullCure = -hour }, "a time is negative"},
		{"a glue-up longer than a day", func(r *schedule.Request) {
			r.Hours.Week = workweek(8*hour, 8*hour+5*minute)
		}, "one glue-up with Pemmet white takes 6 min and must not straddle the end of working hours, but the longest span of them has 5 min: 1 min short"},
		{"a glue-up longer than each part of a day", func(r *schedule.Request) {
			r.Hours.Week = workweek(8*hour, 8*hour+4*minute, 9*hour, 9*hour+5*minute)
		}, "one glue-up with Pemmet white takes 6 min and must not straddle the end of working hours, but the longest span of them has 5 min: 1 min short"},
		{"a break longer than a day", func(r *schedule.Request) { r.Break = 9 * hour }, "one break takes 9 h and must not straddle the end of working hours, but the longest span of them has 8 h: 1 h short"},
		{"a release longer than a day", func(r *schedule.Request) { r.Release = 9 * hour }, "taking off one clamp takes 9 h"},
		{"a negative release", func(r *schedule.Request) { r.Release = -minute }, "work of a release is -1 min"},
		{"no work in a break", func(r *schedule.Request) { r.Break = 0 }, "work on one break is not stated"},
		{"no work in a glue-up", func(r *schedule.Request) { r.Hands = schedule.Hands{} }, "spreading must take some time"},
		{"no cure", func(r *schedule.Request) { r.Adhesives[0].FullCure = 0 }, "adhesive Pemmet white has no time to full cure: write its full cure"},
		{"no date", func(r *schedule.Request) { r.Start = schedule.Date{Year: 2027, Month: 2, Day: 29} }, "2027-02-29 is not a date"},
		{"nothing to do", func(r *schedule.Request) { r.Specimens, r.BreakOrder = nil, nil }, "no specimens"},
		{"no code", func(r *schedule.Request) { r.Specimens[0].Code = "" }, "place 1 of the glue-up order has no code"},
		{"a code twice", func(r *schedule.Request) { r.Specimens[1].Code = "A1" }, "code A1 stands at places 1 and 2"},
		{"broken twice", func(r *schedule.Request) { r.BreakOrder[1] = "A1" }, "A1 stands at places 1 and 2 of the break order"},
		{"not in the trial", func(r *schedule.Request) { r.BreakOrder[1] = "B7" }, "B7 is in the break order and not in the glue-up order"},
		{"not broken", func(r *schedule.Request) { r.BreakOrder = r.BreakOrder[:1] }, "short of 1 of 2 specimens: A2"},
		{"for ever", func(r *schedule.Request) { r.Adhesives[0].FullCure = 30 * 365 * day }, "does not end within 20 years"},
		{"a batch taken up again", func(r *schedule.Request) {
			r.Specimens = append(r.Specimens, schedule.Specimen{Code: "A3", Batch: "b1"})
			r.BreakOrder = append(r.BreakOrder, "A3")
			r.Specimens[0].Batch, r.Specimens[1].Batch = "b1", "b2"
		}, "specimen A3 needs batch b1 of Pemmet white again after specimen A2 opened another"},
	} {
		r := one(t, 2, 1, hour, day, schedule.Date{Year: 2027, Month: 3, Day: 1})
		c.spoil(&r)
		p, err := schedule.Make(r)
		if err == nil || p != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want it to say %q", c.name, err, c.want)
		}
	}
	// Every reason at once.
	r := one(t, 2, 0, hour, day, schedule.Date{Year: 2027, Month: 3, Day: 1})
	r.Adhesives[0].OpenAssembly = minute
	if _, err := schedule.Make(r); err == nil || strings.Count(err.Error(), "\n") != 1 {
		t.Errorf("two reasons: %v", err)
	}
}

// What a label does not state is said, and no more.
func TestNotes(t *testing.T) {
	r := one(t, 1, 1, hour, day, schedule.Date{Year: 2027, Month: 3, Day: 1})
	p, err := schedule.Make(r)
	if err != nil || len(p.Notes) != 0 {
		t.Errorf("notes %q (%v), want none", p.Notes, err)
	}
	r.Adhesives[0] = schedule.Adhesive{Name: "Quavik foam", ClampTime: hour, FullCure: 14 * day, CureSource: "usual for foaming glue", LowestC: math.NaN()}
	if p, err = schedule.Make(r); err != nil || len(p.Notes) != 3 || p.Notes[2] != "Quavik foam: the time to full cure of 14 d is not from the label: usual for foaming glue" {
		t.Errorf("notes %q (%v)", p.Notes, err)
	}
	// An adhesive that is not used is neither checked nor spoken of.
	r = one(t, 1, 1, hour, day, schedule.Date{Year: 2027, Month: 3, Day: 1})
	r.Adhesives = append(r.Adhesives, schedule.Adhesive{Name: "Rastel flex", CureSource: "usual for its kind"})
	if p, err = schedule.Make(r); err != nil || len(p.Notes) != 0 {
		t.Errorf("notes %q (%v), want none", p.Notes, err)
	}
}

// The three parts add up, whatever the total.
func TestSplitHands(t *testing.T) {
	for _, total := range []time.Duration{0, 1, 7 * time.Second, 5 * minute, hour + 1} {
		if h := schedule.SplitHands(total); h.Total() != total || h.Spread < h.Join || h.Join != h.Clamp {
			t.Errorf("%v: %+v", total, h)
		}
	}
}

// Where no span of work has the 5 min of a look, only that before breaking is left,
// which is part of the break.
func TestNoTimeToLook(t *testing.T) {
	r := one(t, 2, 0, 0, 30*hour, schedule.Date{Year: 2027, Month: 3, Day: 1})
	r.Hours.Week = workweek(8*hour, 8*hour+4*minute, 8*hour+4*minute, 8*hour+8*minute)
	r.Hands = schedule.Hands{Spread: minute}
	r.Break = minute
	p, err := schedule.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Checks) != 1 || p.Checks[0].Reasons() != "before breaking" || !p.Checks[0].At.Equal(p.Times[0].Break) {
		t.Errorf("checks %+v", p.Checks)
	}
}

// What the checker holds for working hours, by hand: 8:00 to 12:00, 13:00 to 14:00
// and at once 14:00 to 16:00, on weekdays from Monday 2027-03-01, Thursday off.
func TestCheckerKnowsTheHours(t *testing.T) {
	r := schedule.Request{Start: schedule.Date{Year: 2027, Month: 3, Day: 1}, Hours: schedule.Hours{Location: zone(t, "Europe/Berlin"),
		Week: workweek(8*hour, 12*hour, 13*hour, 14*hour, 14*hour, 16*hour), DaysOff: []schedule.Date{{Year: 2027, Month: 3, Day: 4}}}}
	for _, c := range []struct {
		from, to string
		inside   bool
	}{
		{"2027-03-01 08:00", "2027-03-01 12:00", true},
		{"2027-03-01 13:00", "2027-03-01 13:10", true},
		{"2027-03-01 13:50", "2027-03-01 14:00", true},
		{"2027-03-01 14:00", "2027-03-01 16:00", true},
		{"2027-03-01 07:59", "2027-03-01 08:10", false},
		{"2027-03-01 11:55", "2027-03-01 12:05", false}, // into the break
		{"2027-03-01 11:55", "2027-03-01 13:05", false}, // over the break
		{"2027-03-01 12:10", "2027-03-01 12:20", false}, // in the break
		{"2027-03-01 12:55", "2027-03-01 13:05", false}, // out of the break
		{"2027-03-01 13:55", "2027-03-01 14:05", false}, // over a pause of no length
		{"2027-03-01 15:55", "2027-03-01 16:05", false},
		{"2027-03-04 09:00", "2027-03-04 09:10", false}, // off
		{"2027-03-06 09:00", "2027-03-06 09:10", false}, // Saturday
		{"2027-02-26 09:00", "2027-02-26 09:10", false}, // before the start
	} {
		if why := outside(r, at(t, r, c.from), at(t, r, c.to)); (why == "") != c.inside {
			t.Errorf("%s to %s: %q", c.from, c.to, why)
		}
	}
}

// The checker that the other tests rely on finds each fault put into a good plan.
func TestCheckerFindsFaults(t *testing.T) {
	r := trial(t, 4, 2, 6*minute, 10*minute, schedule.Hours{Location: zone(t, "Europe/Berlin"), Week: workweek(8*hour, 12*hour, 13*hour, 16*hour)}, 1, white, yellow, foam)
	for name, spoil := range map[string]func(p *schedule.Plan){
		"glue-up at night":           func(p *schedule.Plan) { shift(&p.Times[11], 12*hour) },
		"glue-up in the lunch break": func(p *schedule.Plan) { shift(&p.Times[11], at(t, r, "2027-03-01 12:10").Sub(p.Times[11].Spread)) },
		"glue-up order":              func(p *schedule.Plan) { p.Times[3], p.Times[4] = p.Times[4], p.Times[3] },
		"two things at once":         func(p *schedule.Plan) { p.Times[0].Release = p.Times[1].Spread },
		"clamp taken twice":          func(p *schedule.Plan) { p.Times[1].Clamp = p.Times[0].Clamp },
		"no such clamp":              func(p *schedule.Plan) { p.Times[1].Clamp = 3 },
		"cure cut short":             func(p *schedule.Plan) { p.Times[2].Cured = p.Times[2].Cured.Add(-minute) },
		"broken before cure":         func(p *schedule.Plan) { p.Times[2].Break = p.Times[2].Cured.Add(-minute) },
		"released too early":         func(p *schedule.Plan) { p.Times[2].Release = p.Times[2].Clamped.Add(minute) },
		"break too short":            func(p *schedule.Plan) { p.Times[2].Broken = p.Times[2].Broken.Add(-minute) },
		"broken out of order": func(p *schedule.Plan) {
			a, b := p.BreakOrder[0], p.BreakOrder[5]
			p.Times[a].Break, p.Times[b].Break = p.Times[b].Break, p.Times[a].Break
		},
		"open time":   func(p *schedule.Plan) { p.Times[0].Joined = p.Times[0].Joined.Add(minute) },
		"another end": func(p *schedule.Plan) { p.End = p.End.Add(minute) },
	} {
		p, err := schedule.Make(r)
		if err != nil {
			t.Fatal(err)
		}
		if faults := feasible(r, p); len(faults) > 0 {
			t.Fatal(faults)
		}
		spoil(p)
		if len(feasible(r, p)) == 0 {
			t.Errorf("%s: not found", name)
		}
	}
}

func shift(e *schedule.Times, d time.Duration) {
	for _, t := range []*time.Time{&e.Spread, &e.Joined, &e.Clamped, &e.Release, &e.Unclamped, &e.Cured} {
		*t = t.Add(d)
	}
}
