package schedule_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/emersion/go-ical"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bondtrial/internal/plan/schedule"
)

var stamp = time.Date(2027, 2, 20, 9, 30, 0, 0, time.FixedZone("", 3600))

// write returns the calendar file of a plan.
func write(t testing.TB, p *schedule.Plan, c schedule.Calendar) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := schedule.WriteCalendar(&b, p, c); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// event is what one event of a calendar says.
type event struct {
	Start, End           time.Time
	Summary, Description string
}

// parse reads a calendar file with another library than it was written with, and
// checks what every event must have.
func parse(t testing.TB, file []byte) (events []event) {
	t.Helper()
	cal, err := ical.NewDecoder(bytes.NewReader(file)).Decode()
	if err != nil {
		t.Fatal(err)
	}
	if v := cal.Props.Get("VERSION"); v == nil || v.Value != "2.0" {
		t.Errorf("VERSION %v, want 2.0 (RFC 5545, 3.7.4)", v)
	}
	uids := make(map[string]bool)
	for _, child := range cal.Children {
		if child.Name != "VEVENT" {
			t.Errorf("a component %s", child.Name)
			continue
		}
		e := ical.Event{Component: child}
		var got event
		if got.Start, err = e.DateTimeStart(time.UTC); err != nil {
			t.Error(err)
		}
		if got.End, err = e.DateTimeEnd(time.UTC); err != nil {
			t.Error(err)
		}
		if got.Summary, err = e.Props.Text("SUMMARY"); err != nil {
			t.Error(err)
		}
		if got.Description, err = e.Props.Text("DESCRIPTION"); err != nil {
			t.Error(err)
		}
		made, err := e.Props.DateTime("DTSTAMP", time.UTC)
		if err != nil || !made.Equal(stamp) {
			t.Errorf("DTSTAMP %v (%v), want %v", made, err, stamp)
		}
		uid, err := e.Props.Text("UID")
		if err != nil || uid == "" || uids[uid] {
			t.Errorf("UID %q (%v) is missing or not its own", uid, err)
		}
		uids[uid] = true
		for _, name := range []string{"DTSTART", "DTEND", "DTSTAMP"} {
			if p := e.Props.Get(name); !strings.HasSuffix(p.Value, "Z") || len(p.Params) > 0 {
				t.Errorf("%s is %s %v, want UTC", name, p.Value, p.Params)
			}
		}
		for name := range e.Props {
			switch name {
			case "UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION":
			default:
				t.Errorf("a property %s, which nobody asked for", name)
			}
		}
		events = append(events, got)
	}
	return events
}

// expected makes the events from the times of the plan alone: not from its days and
// blocks.
func expected(p *schedule.Plan, c schedule.Calendar) (events []event) {
	loc := p.Location
	type work struct {
		from, to time.Time
		i        int
	}
	for kind, words := range []string{": glue up ", ": take the clamps off ", ": break "} {
		var all []work
		for i, e := range p.Times {
			switch {
			case kind == 0:
				all = append(all, work{e.Spread, e.Clamped, i})
			case kind == 1 && e.Clamp > 0:
				all = append(all, work{e.Release, e.Unclamped, i})
			case kind == 2:
				all = append(all, work{e.Break, e.Broken, i})
			}
		}
		sort.Slice(all, func(a, b int) bool { return all[a].from.Before(all[b].from) })
		for len(all) > 0 {
			n := 1
			for n < len(all) && all[n].from.Sub(all[n-1].to) <= 30*time.Minute && all[n].from.In(loc).Day() == all[0].from.In(loc).Day() {
				n++
			}
			e := event{Start: all[0].from, End: all[n-1].to, Summary: c.Trial + words + count(n)}
			var lines []string
			switch kind {
			case 0:
				lines = append(lines, schedule.GlueUpCaution)
				told := make(map[int]bool)
				for _, w := range all[:n] {
					a := p.Specimens[w.i].Adhesive
					if !c.Blind && !told[a] && !math.IsNaN(p.Adhesives[a].LowestC) {
						lines = append(lines, fmt.Sprintf("%s: not below %v °C.", p.Adhesives[a].Name, p.Adhesives[a].LowestC))
					}
					told[a] = true
				}
			case 2:
				lines = append(lines, schedule.BreakCaution)
			}
			for _, w := range all[:n] {
				line := w.from.In(loc).Format("15:04") + " " + p.Specimens[w.i].Code
				if p.Times[w.i].Clamp > 0 && kind < 2 {
					line += fmt.Sprint(", clamp ", p.Times[w.i].Clamp)
				}
				if kind == 0 && !c.Blind {
					line += ", " + label(p, w.i)
				}
				lines = append(lines, line)
			}
			e.Description = strings.Join(lines, "\n")
			events = append(events, e)
			all = all[n:]
		}
	}
	return append(events, expectedChecks(p, c)...)
}

// expectedChecks makes the events of the cure checks.
func expectedChecks(p *schedule.Plan, c schedule.Calendar) (events []event) {
	for n := 0; n < len(p.Checks); {
		e := event{Start: p.Checks[n].At, End: p.Checks[n].At.Add(5 * time.Minute)}
		var lines []string
		var all []int
		for ; n < len(p.Checks) && p.Checks[n].At.Equal(e.Start); n++ {
			k := p.Checks[n]
			all = append(all, k.Specimens...)
			var codes []string
			for _, i := range k.Specimens {
				codes = append(codes, p.Specimens[i].Code)
			}
			lines = append(lines, fmt.Sprintf("%s (%s), glued up %s: %s", label(p, k.Specimens[0]), k.Reasons(), k.GluedOn, strings.Join(codes, ", ")))
		}
		if c.Blind {
			sort.Ints(all)
			var codes []string
			for _, i := range all {
				codes = append(codes, p.Specimens[i].Code)
			}
			lines = []string{strings.Join(codes, ", ")}
		}
		e.Summary = c.Trial + ": look at the cure of " + count(len(all))
		e.Description = strings.Join(lines, "\n")
		events = append(events, e)
	}
	return events
}

// label names the adhesive of a specimen.
func label(p *schedule.Plan, i int) string {
	s := p.Specimens[i]
	if s.Batch == "" {
		return p.Adhesives[s.Adhesive].Name
	}
	return p.Adhesives[s.Adhesive].Name + ", batch " + s.Batch
}

func count(n int) string {
	if n == 1 {
		return "1 specimen"
	}
	return fmt.Sprint(n, " specimens")
}

// keys makes events comparable whatever their order.
func keys(events []event) (list []string) {
	for _, e := range events {
		list = append(list, fmt.Sprintf("%s|%s|%s|%q", e.Start.UTC().Format(time.RFC3339), e.End.UTC().Format(time.RFC3339), e.Summary, e.Description))
	}
	sort.Strings(list)
	return list
}

// wellFormed checks the octets: CRLF at the end of every line and nowhere else, at
// most 75 octets before it, no character torn apart (RFC 5545, 3.1).
func wellFormed(t testing.TB, file []byte) {
	t.Helper()
	lines := strings.Split(string(file), "\r\n")
	if lines[len(lines)-1] != "" {
		t.Error("the last line does not end in CRLF")
	}
	for n, l := range lines {
		if len(l) > 75 {
			t.Errorf("line %d has %d octets", n+1, len(l))
		}
		if strings.ContainsAny(l, "\r\n") || !utf8.ValidString(l) {
			t.Errorf("line %d: %q", n+1, l)
		}
	}
}

// Every event of a written calendar is read back as the plan has it, with another
// library, for plans of any kind.
func TestCalendarComesBack(t *testing.T) {
	names := []string{"oak and ash", "Bänke, Frühjahr; \\ „feucht“ 木", "x"}
	rapid.Check(t, func(t *rapid.T) {
		r := drawRequest(t)
		for i := range r.Adhesives {
			if rapid.Bool().Draw(t, "no lowest temperature") {
				r.Adhesives[i].LowestC = math.NaN()
			}
			if rapid.Bool().Draw(t, "marks in the name") {
				r.Adhesives[i].Name = "Ränn; 5, of \\ äöü " + r.Adhesives[i].Name
			}
		}
		p, err := schedule.Make(r)
		if err != nil {
			t.Fatal(err)
		}
		c := schedule.Calendar{Trial: rapid.SampledFrom(names).Draw(t, "trial"), Stamp: stamp, Blind: rapid.Bool().Draw(t, "blind")}
		if err := sameCalendar(p, c); err != nil {
			t.Fatal(err)
		}
	})
	p := largePlan(t)
	for _, blind := range []bool{false, true} {
		c := schedule.Calendar{Trial: names[1], Stamp: stamp, Blind: blind}
		file := write(t, p, c)
		wellFormed(t, file)
		got, want := keys(parse(t, file)), keys(expected(p, c))
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("blind %v: got\n%s\nwant\n%s", blind, strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
		if again := write(t, p, c); !bytes.Equal(file, again) {
			t.Error("written twice, the bytes differ")
		}
		if blind {
			for _, a := range p.Adhesives {
				if bytes.Contains(file, []byte(strings.Fields(a.Name)[0])) {
					t.Errorf("a blind calendar names %s", a.Name)
				}
			}
		}
	}
}

// sameCalendar writes, reads and compares within a property test.
func sameCalendar(p *schedule.Plan, c schedule.Calendar) error {
	t := &collect{}
	file := write(t, p, c)
	wellFormed(t, file)
	got, want := keys(parse(t, file)), keys(expected(p, c))
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	return errors.Join(t.faults...)
}

// collect takes faults found inside a property, where there is no testing.TB.
type collect struct {
	testing.TB
	faults []error
}

func (c *collect) Helper()                      {}
func (c *collect) Error(args ...any)            { c.faults = append(c.faults, errors.New(fmt.Sprint(args...))) }
func (c *collect) Errorf(f string, args ...any) { c.faults = append(c.faults, fmt.Errorf(f, args...)) }
func (c *collect) Fatal(args ...any)            { panic(fmt.Sprint(args...)) }

func largePlan(t testing.TB) *schedule.Plan {
	hours := schedule.Hours{Location: zone(t, "Europe/Berlin"), Week: workweek(8*hour, 17*hour)}
	p, err := schedule.Make(trial(t, 8, 8, 5*minute, 10*minute, hours, 3, white, yellow, foam, slow, flex, contact))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The whole file of the trial worked by hand in TestOneClampByHand, written by hand
// after RFC 5545, lines unfolded. Berlin is an hour ahead of UTC in March; A2 follows A1 with a pause
// of 31 min, and so in a block of its own, and is broken 27 min after it. The looks at
// half cure and after 24 h: A2 is under pressure at 8:43, half a day later is outside
// working hours, so Tuesday 8:00; after 24 h it is about to be broken.
func TestWholeFile(t *testing.T) {
	p, err := schedule.Make(one(t, 2, 1, 30*minute, day, schedule.Date{Year: 2027, Month: 3, Day: 1}))
	if err != nil {
		t.Fatal(err)
	}
	// printf benches | sha256sum | cut -c1-12 (GNU coreutils 9.1)
	const mark = "5a0ac63ebbe2@bondtrial"
	const caution = "DESCRIPTION:Caution: wear gloves\\, air the room\\, and read the label and its safety data before opening.\\nPemmet white: not below 10 °C.\\n"
	var want []string
	add := func(uid, from, to, summary, description string) {
		want = append(want, "BEGIN:VEVENT", "UID:"+uid+mark, "DTSTAMP:20270220T083000Z", "DTSTART:"+from, "DTEND:"+to, "SUMMARY:benches: "+summary, description, "END:VEVENT")
	}
	want = append(want, "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//bondtrial//plan//EN", "NAME:Trial benches", "X-WR-CALNAME:Trial benches")
	add("20270301-glue-up-1-", "20270301T070000Z", "20270301T070600Z", "glue up 1 specimen", caution+"08:00 A1\\, clamp 1\\, Pemmet white")
	add("20270301-release-1-", "20270301T073600Z", "20270301T073700Z", "take the clamps off 1 specimen", "DESCRIPTION:08:36 A1\\, clamp 1")
	add("20270301-glue-up-2-", "20270301T073700Z", "20270301T074300Z", "glue up 1 specimen", caution+"08:37 A2\\, clamp 1\\, Pemmet white")
	add("20270301-release-2-", "20270301T081300Z", "20270301T081400Z", "take the clamps off 1 specimen", "DESCRIPTION:09:13 A2\\, clamp 1")
	add("20270302-break-1-", "20270302T070600Z", "20270302T075300Z", "break 2 specimens",
		"DESCRIPTION:Caution: wear eye protection\\; a joint that breaks throws splinters.\\n08:06 A1\\n08:43 A2")
	add("20270302-check-1-", "20270302T070000Z", "20270302T070500Z", "look at the cure of 2 specimens", "DESCRIPTION:Pemmet white (half cure)\\, glued up 2027-03-01: A1\\, A2")
	add("20270302-check-2-", "20270302T070600Z", "20270302T071100Z", "look at the cure of 2 specimens", "DESCRIPTION:Pemmet white (before breaking)\\, glued up 2027-03-01: A1\\, A2")
	add("20270302-check-3-", "20270302T074300Z", "20270302T074800Z", "look at the cure of 1 specimen", "DESCRIPTION:Pemmet white (24 h)\\, glued up 2027-03-01: A2")
	want = append(want, "END:VCALENDAR", "")
	got := strings.ReplaceAll(string(write(t, p, schedule.Calendar{Trial: "benches", Stamp: stamp})), "\r\n ", "")
	if d := cmp.Diff(want, strings.Split(got, "\r\n")); d != "" {
		t.Error(d)
	}
}

// Cautions stand where they belong, and the break session names no adhesive.
func TestCautions(t *testing.T) {
	p := largePlan(t)
	glue, breaks := 0, 0
	for _, e := range parse(t, write(t, p, schedule.Calendar{Trial: "benches", Stamp: stamp})) {
		switch {
		case strings.HasPrefix(e.Summary, "benches: glue up"):
			glue++
			if !strings.Contains(e.Description, "gloves") || !strings.Contains(e.Description, "air the room") {
				t.Errorf("no caution in %q", e.Description)
			}
		case strings.HasPrefix(e.Summary, "benches: break"):
			breaks++
			if !strings.Contains(e.Description, "eye protection") {
				t.Errorf("no caution in %q", e.Description)
			}
			for _, a := range p.Adhesives {
				if strings.Contains(e.Description, a.Name) {
					t.Errorf("the break session names %s", a.Name)
				}
			}
		}
	}
	if glue == 0 || breaks == 0 {
		t.Errorf("%d glue-up and %d break events", glue, breaks)
	}
}

// An event keeps its identifier when what stands in it changes, and another trial
// has others.
func TestIdentifiers(t *testing.T) {
	uids := func(file []byte) (list []string) {
		for _, l := range strings.Split(strings.ReplaceAll(string(file), "\r\n ", ""), "\r\n") {
			if strings.HasPrefix(l, "UID:") {
				list = append(list, l)
			}
		}
		return list
	}
	p := largePlan(t)
	a := uids(write(t, p, schedule.Calendar{Trial: "a", Stamp: stamp}))
	p.Specimens[0].Code = "Q"
	same := uids(write(t, p, schedule.Calendar{Trial: "a", Stamp: stamp.Add(hour)}))
	other := uids(write(t, p, schedule.Calendar{Trial: "b", Stamp: stamp}))
	if len(a) == 0 || strings.Join(a, " ") != strings.Join(same, " ") {
		t.Errorf("identifiers changed: %v, %v", a, same)
	}
	for _, id := range a {
		if strings.Contains(strings.Join(other, " "), id) {
			t.Errorf("another trial has the identifier %s too", id)
		}
	}
}

// Names with control characters, line breaks or broken UTF-8 spoil no file.
func FuzzCalendarNames(f *testing.F) {
	f.Add("benches", "A1", "Pemmet white")
	f.Add("a\r\nBEGIN:VEVENT", "\x00\x7f", "\xff\xfe;,\\n")
	f.Add(strings.Repeat("ä", 100), strings.Repeat("木", 60), strings.Repeat(" ", 90)+"x")
	f.Fuzz(func(t *testing.T, trial, code, adhesive string) {
		r := one(t, 3, 1, hour, day, schedule.Date{Year: 2027, Month: 3, Day: 1})
		r.Adhesives[0].Name = adhesive
		r.Specimens[1].Code, r.BreakOrder[1] = code, code
		p, err := schedule.Make(r)
		if err != nil { // an empty code, or that of another specimen
			if code != "" && code != "A1" && code != "A3" {
				t.Fatal(err)
			}
			return
		}
		file := write(t, p, schedule.Calendar{Trial: trial, Stamp: stamp})
		wellFormed(t, file)
		if n := len(parse(t, file)); n != len(expected(p, schedule.Calendar{})) {
			t.Errorf("%d events, want %d", n, len(expected(p, schedule.Calendar{})))
		}
	})
}

// An error of the writer is reported.
func TestWriterFails(t *testing.T) {
	err := schedule.WriteCalendar(broken{}, largePlan(t), schedule.Calendar{Trial: "a", Stamp: stamp})
	if !errors.Is(err, errFull) {
		t.Errorf("%v, want %v", err, errFull)
	}
}

var errFull = errors.New("disk full")

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errFull }
