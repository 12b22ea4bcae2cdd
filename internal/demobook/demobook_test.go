package demobook_test

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/demobook"
	"bondtrial/internal/logbook"
	"bondtrial/internal/record"
	"bondtrial/internal/simulate"
)

// day is when somebody looks at the demo.
var day = time.Date(2027, 4, 12, 10, 30, 0, 0, time.UTC)

// sameNumbers takes two shares that are not recorded as equal.
var sameNumbers = cmp.Comparer(func(a, b bondtrial.Percent) bool { return a == b || a != a && b != b })

// filled is a demo's logbook, and how long it took to fill it.
type filled struct {
	*record.Book
	path   string
	trials map[string]*record.Trial // by name
	took   time.Duration
}

func fill(t testing.TB, today time.Time) filled {
	t.Helper()
	f := filled{path: filepath.Join(t.TempDir(), "demo.bondtrial"), trials: make(map[string]*record.Trial)}
	clock := demobook.NewClock(today.AddDate(-1, 0, 0))
	l, err := logbook.Open(t.Context(), f.path, logbook.Options{Clock: clock.Now, Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	})
	if f.Book, err = record.Open(t.Context(), l); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(f.Book.Close)
	start := time.Now()
	if err := demobook.Fill(t.Context(), f.Book, clock, today, "(test)"); err != nil {
		t.Fatal(err)
	}
	f.took = time.Since(start)
	all, err := f.Book.Trials(t.Context(), true)
	if err != nil {
		t.Fatal(err)
	}
	for _, tr := range all {
		f.trials[tr.Asked.Name] = tr
	}
	return f
}

func TestFill(t *testing.T) {
	f := fill(t, day)
	again := fill(t, day)
	t.Logf("filled in %v and %v", f.took, again.took)
	t.Run("trials", func(t *testing.T) { checkTrials(t, f) })
	t.Run("whole", func(t *testing.T) {
		r, err := logbook.Check(t.Context(), f.path)
		if err != nil || len(r.Problems) > 0 {
			t.Errorf("%v, %v", r.Problems, err)
		}
	})
	t.Run("same seed", func(t *testing.T) {
		for name, tr := range f.trials {
			if d := cmp.Diff(tr.Readings(), again.trials[name].Readings(), sameNumbers); d != "" {
				t.Errorf("%s: filled twice it differs:\n%s", name, d)
			}
		}
	})
	t.Run("dates", func(t *testing.T) { checkDates(t, f, day) })
	t.Run("temperatures", func(t *testing.T) { checkTemperatures(t, f) })
	t.Run("rig", func(t *testing.T) { checkRig(t, f) })
	t.Run("answers", func(t *testing.T) { checkAnswers(t, f) })
}

func checkTrials(t *testing.T, f filled) {
	for _, c := range []struct {
		name             string
		specimens, glued int
		least, most      int // broken
		sealed           bool
	}{
		{"Benches, last year", 36, 0, 36, 36, false}, // 3 adhesives on 2 woods, 6 each
		{"School benches", 96, 96, 96, 96, false},    // 6 adhesives on 2 woods at 2 levels, 4 each
		{"Door frames", 16, 16, 6, 10, true},         // 2 adhesives, 8 each, about half broken
	} {
		tr := f.trials[c.name]
		if tr == nil {
			t.Fatalf("there is no %s among %d trials", c.name, len(f.trials))
		}
		if n := tr.CountBroken(); len(tr.Specimens) != c.specimens || tr.CountGlued() != c.glued || n < c.least || n > c.most || tr.Sealed() != c.sealed {
			t.Errorf("%s: %d specimens, %d glued, %d broken, sealed %v", c.name, len(tr.Specimens), tr.CountGlued(), n, tr.Sealed())
		}
	}
	if len(f.trials) != 3 {
		t.Errorf("%d trials, want 3", len(f.trials))
	}
	for _, name := range []string{"School benches", "Door frames"} {
		tr := f.trials[name]
		for _, k := range tr.Checks() {
			if k.Seen == nil {
				t.Errorf("%s: nobody looked at %s", name, k.Subject)
			}
		}
		if len(tr.Climates) == 0 || len(tr.Marks) == 0 {
			t.Errorf("%s: %d climates, %d marks", name, len(tr.Climates), len(tr.Marks))
		}
	}
	doors := f.trials["Door frames"]
	for _, s := range doors.Specimens {
		if shown := doors.Shown(s); shown == s.Adhesive {
			t.Errorf("%s shows its adhesive, %s, while the key is sealed", s.Code, shown)
		}
	}
	aside := slices.DeleteFunc(f.trials["School benches"].Readings(), func(r bondtrial.Reading) bool { return r.SetAside == "" })
	if len(aside) != 1 {
		t.Errorf("%d readings set aside, want one to look at", len(aside))
	}
}

// What happened lies before the day of looking, in order, and on the logbook's clock
// no earlier than it happened.
func checkDates(t *testing.T, f filled, today time.Time) {
	all, err := f.Logbook().Since(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		if e.Behind != 0 {
			t.Errorf("entry %d: the clock was set back by %v", e.Seq, e.Behind)
		}
		if !e.At.Before(today) {
			t.Errorf("entry %d is of %v, and it is %v", e.Seq, e.At, today)
		}
		if s := (record.Stamp{At: e.At, Said: e.Said}); !e.Said.IsZero() && !s.When().Equal(e.Said) {
			t.Errorf("entry %d: said %v, written %v: not believed", e.Seq, e.Said, e.At)
		}
	}
	for _, name := range []string{"School benches", "Door frames"} {
		for _, s := range f.trials[name].Specimens {
			if s.Broken == nil {
				continue
			}
			cured := s.Glued.Clamped.Add(s.Planned.Cure)
			if s.Broken.When().Before(cured) {
				t.Errorf("%s of %s was broken at %v, before it was cured at %v", s.Code, name, s.Broken.When(), cured)
			}
			if !s.Glued.When().Equal(s.Glued.Clamped) {
				t.Errorf("%s: glued at %v, clamped at %v", s.Code, s.Glued.When(), s.Glued.Clamped)
			}
		}
	}
}

// The shop is as warm as shops are, and no adhesive was used below the temperature
// on its label.
func checkTemperatures(t *testing.T, f filled) {
	things, err := f.Things(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	lowest := make(map[string]float64)
	for _, a := range things.Shelf {
		v, err := strconv.ParseFloat(strings.TrimSuffix(a.Lowest, " °C"), 64)
		if err != nil {
			t.Fatalf("%s: %v", a.Name, err)
		}
		lowest[a.Name] = v
	}
	for _, name := range []string{"School benches", "Door frames"} {
		tr := f.trials[name]
		for _, c := range tr.Climates {
			if c.Celsius < 15 || c.Celsius > 25 || c.Humidity == nil || *c.Humidity < 40 || *c.Humidity > 70 {
				t.Errorf("%s: %v °C, %v %%", name, c.Celsius, c.Humidity)
			}
			for _, a := range tr.Plan.Adhesives {
				if low, ok := lowest[a.Name]; !ok || c.Celsius < low {
					t.Errorf("%s: %s was used at %v °C, its label says %v (on the shelf: %v)", name, a.Name, c.Celsius, low, ok)
				}
			}
		}
	}
}

// Where the rig stopped is its limit, and no break is above it.
func checkRig(t *testing.T, f filled) {
	things, err := f.Things(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"School benches", "Door frames"} {
		for _, s := range f.trials[name].Specimens {
			if s.Broken == nil {
				continue
			}
			if s.Broken.Peak > things.Rig.Limit || s.Broken.RigLimited != (s.Broken.Peak == things.Rig.Limit) {
				t.Errorf("%s: %v N of at most %v, rig limited %v", s.Code, s.Broken.Peak, things.Rig.Limit, s.Broken.RigLimited)
			}
		}
	}
}

// Verdicts agree with the truth the breaks were drawn from, and adhesives of which
// one is at least 1.8 times as strong are told apart.
func checkAnswers(t *testing.T, f filled) {
	set := answer.DefaultSettings()
	set.Draws = 4000
	tr := f.trials["School benches"]
	set.Factors = tr.Factors()
	a, err := answer.Compare(t.Context(), tr.Readings(), set)
	if err != nil {
		t.Fatal(err)
	}
	truth := simulate.Demo()
	clear, told := 0, 0
	for _, p := range a.Pairs {
		r := truth.Ratio(p.A, p.B, p.Wood)
		switch {
		case p.Verdict == answer.Stronger && r <= 1, p.Verdict == answer.Weaker && r >= 1:
			t.Errorf("on %s %s is said to be %v than %s, and the truth is %.2f", p.Wood, p.A, p.Verdict, p.B, r)
		}
		if r >= 1.8 || r <= 1/1.8 {
			clear++
			if p.Verdict == answer.Stronger || p.Verdict == answer.Weaker {
				told++
			}
		}
	}
	if clear == 0 || told < clear*9/10 {
		t.Errorf("of %d pairs that clearly differ %d are told apart", clear, told)
	}
	for _, name := range []string{"Benches, last year", "Door frames"} {
		set.Factors = nil
		if _, err := answer.Compare(t.Context(), f.trials[name].Readings(), set); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// It works on whatever day somebody looks: at the turn of the year, when clocks
// change, on a leap day.
func TestFillOnAnyDay(t *testing.T) {
	for _, today := range []time.Time{time.Date(2027, 1, 1, 0, 5, 0, 0, time.UTC), time.Date(2028, 2, 29, 23, 55, 0, 0, time.UTC), time.Date(2026, 10, 25, 2, 30, 0, 0, time.UTC)} {
		f := fill(t, today)
		checkTrials(t, f)
		checkDates(t, f, today)
	}
}
