// Package demobook fills the demo's logbook: an invented crew with a finished trial
// of last year, this year's trial planned, glued and broken, and a small blind one
// half broken, to go on with. Everything follows from the truth of package simulate
// and one seed.
package demobook

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"bondtrial"
	"bondtrial/internal/logbook"
	pages "bondtrial/internal/pages/plan"
	"bondtrial/internal/plan"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/record"
	"bondtrial/internal/simulate"
	"bondtrial/internal/table"
)

// Seed is the seed of what is broken.
const Seed = 11

// rigLimit is where the rig of the demo stops, N: the limit of the truth, MPa, over the
// bonded area of the plans, 20 mm by 12.5 mm.
var rigLimit = simulate.Demo().RigLimit * 20 * 12.5

// planTrials is how many trials are simulated for each number of specimens of the
// demo's plans: their numbers are given, so that few will do.
const planTrials = 50

// Clock tells the time of the entries while the logbook is filled.
type Clock struct{ now time.Time }

// NewClock returns a clock that stands at a moment.
func NewClock(at time.Time) *Clock { return &Clock{at} }

// Now returns the time.
func (c *Clock) Now() time.Time { return c.now }

// to sets the clock forward to a moment.
func (c *Clock) to(t time.Time) {
	if t.After(c.now) {
		c.now = t
	}
}

// filler writes the entries of the demo.
type filler struct {
	ctx   context.Context
	book  *record.Book
	clock *Clock
	rng   *rand.Rand
	who   record.Who

	// Entries that wait to be written in one go, of one trial.
	trial   string
	waiting []record.Item
}

// Entries of one sitting are written in goes of at most so many, as a phone that is
// out of reach for a while sends them: each go is one wait for the disk.
const (
	mostWaiting = 24
	sitting     = 2 * time.Hour
)

// Fill writes the demo into an empty logbook whose clock is the one given. today is
// the day on which somebody looks at it: what is finished lies before it.
func Fill(ctx context.Context, book *record.Book, clock *Clock, today time.Time, version string) error {
	f := &filler{ctx: ctx, book: book, clock: clock, rng: rand.New(rand.NewPCG(Seed, 0xb00c)), who: record.Who{By: "Ida", Device: "this machine"}}
	for _, step := range []func() error{
		f.beside,
		f.lastYear,
		func() error { return f.benches(today.AddDate(0, 0, -75), version) },
		func() error { return f.doors(today.AddDate(0, 0, -26), version) },
	} {
		if err := errors.Join(step(), f.flush()); err != nil {
			return fmt.Errorf("filling the demo: %w", err)
		}
	}
	return nil
}

// add writes an entry soon, dated now.
func (f *filler) add(trial, subject string, c record.Content, files ...logbook.File) error {
	if trial != f.trial || len(f.waiting) == mostWaiting || len(f.waiting) > 0 && f.clock.now.Sub(f.waiting[0].Said) > sitting {
		if err := f.flush(); err != nil {
			return err
		}
	}
	f.trial = trial
	f.waiting = append(f.waiting, record.Item{Subject: subject, Content: c, Files: files, Said: f.clock.now})
	return nil
}

// flush writes what waits, as of the last of it.
func (f *filler) flush() error {
	if len(f.waiting) == 0 {
		return nil
	}
	items := f.waiting
	f.waiting = nil
	now := f.clock.now
	f.clock.now = items[len(items)-1].Said
	defer func() { f.clock.now = now }()
	_, err := f.book.AddAll(f.ctx, f.who, f.trial, items)
	return err
}

// beside writes the shelf, the rack and the rig.
func (f *filler) beside() error {
	shelf := []struct {
		name string
		s    record.OnShelf
	}{
		{"Ombrin two-part", record.OnShelf{Family: "epoxy", Open: "30 min", Clamp: "12 h", Lowest: "15 °C", Price: "11.40 EUR", Content: "50 ml"}},
		{"Pemmet white", record.OnShelf{Family: "pva", Open: "5 min", Clamp: "1 h", Lowest: "10 °C", Price: "6.20 EUR", Content: "750 g", Note: "Last year's favourite. Not for frost."}},
		{"Quavik foam", record.OnShelf{Family: "polyurethane", Open: "10 min", Clamp: "4 h", Lowest: "5 °C", Price: "9.80 EUR", Content: "250 g"}},
		{"Rastel flex", record.OnShelf{Family: "construction", Open: "10 min", Clamp: "24 h", Lowest: "-10 °C", Price: "7.10 EUR", Content: "290 ml"}},
		{"Sundrel flex", record.OnShelf{Family: "hybrid", Open: "10 min", Clamp: "24 h", Lowest: "5 °C", Price: "8.90 EUR", Content: "290 ml"}},
		{"Tolmar paste", record.OnShelf{Family: "epoxy", Open: "30 min", Clamp: "12 h", Lowest: "10 °C", Price: "24.00 EUR", Content: "400 g"}},
	}
	for _, a := range shelf {
		if err := f.add("", a.name, a.s); err != nil {
			return err
		}
	}
	for _, wood := range []string{"ash", "larch"} {
		for b := 1; b <= 6; b++ {
			name := fmt.Sprint(b)
			if err := f.add("", wood+" "+name, record.OnRack{Wood: wood, Name: name, LengthMM: 900, WidthMM: 120, ThickMM: 25}); err != nil {
				return err
			}
		}
	}
	if err := f.add("", "", record.Rig{Name: "Lever rig under the stairs", Force: "lever 8 : 1 on a load cell", Unit: "N", Resolution: 1, Limit: rigLimit,
		Calibrated: f.clock.Now().Format("2006-01-02"), How: "dead weights up and down, three times"}); err != nil {
		return err
	}
	return f.add("", "", record.RigCheck{MassKG: 20, Shown: 197, Unit: "N"})
}

// lastYear takes in a finished trial from a table.
func (f *filler) lastYear() error {
	truth := simulate.Demo()
	truth.Adhesives = []simulate.Adhesive{
		{Name: "Nevik yellow", Strength: []float64{7.9, 7.2}, SD: 0.12},
		truth.Adhesives[1], truth.Adhesives[2],
	}
	truth.Factor = nil
	truth.Least, truth.Most = 6, 6
	rs := truth.Readings(f.rng)
	for i := range rs {
		rs[i].Strength = bondtrial.Megapascal(math.Round(float64(rs[i].Strength)*100) / 100)
	}
	var csv bytes.Buffer
	if err := table.Write(&csv, rs, nil); err != nil {
		return err
	}
	_, _, err := f.book.TakeIn(f.ctx, f.who, record.Asked{Name: "Benches, last year", Question: "Which of three adhesives held best on the benches?"},
		"benches-last-year.csv", csv.Bytes(), table.Options{})
	return err
}

// benches plans, glues, watches and breaks this year's trial.
func (f *filler) benches(start time.Time, version string) error {
	text := simulate.DemoTrialFile(start.Year(), int(start.Month()), start.Day())
	id, p, err := f.plan(text, version)
	if err != nil {
		return err
	}
	return f.work(id, p, simulate.Demo(), len(p.Specimens))
}

// doors plans and glues a small blind trial and breaks some of it.
func (f *filler) doors(start time.Time, version string) error {
	text := fmt.Appendf(nil, doorsFile, start.Year(), int(start.Month()), start.Day())
	id, p, err := f.plan(text, version)
	if err != nil {
		return err
	}
	truth := simulate.Demo()
	truth.Factor = nil
	return f.work(id, p, truth, 7)
}

// plan writes the question and the plan of a trial.
func (f *filler) plan(text []byte, version string) (id string, p *plan.Plan, err error) {
	t, err := trialfile.Read(bytes.NewReader(text), "trial.toml")
	if err != nil {
		return "", nil, err
	}
	if p, err = plan.Make(f.ctx, t, plan.Options{Trials: planTrials}); err != nil {
		return "", nil, err
	}
	if err := f.flush(); err != nil {
		return "", nil, err
	}
	f.clock.to(t.Work.Start.At(0, t.Work.Location).AddDate(0, 0, -2).Add(19 * time.Hour))
	if id, err = f.book.New(f.ctx, f.who, record.Asked{Name: t.Name, Question: t.Question, File: string(text)}); err != nil {
		return "", nil, err
	}
	papers, err := pages.Papers(p)
	if err != nil {
		return "", nil, err
	}
	return id, p, f.add(id, "", record.PlannedFrom(p, string(text), version), papers...)
}

// work glues all specimens of a plan, looks at them while they cure, and breaks the
// first so many in breaking order.
func (f *filler) work(id string, p *plan.Plan, truth *simulate.Truth, breaks int) error {
	if err := f.glue(id, p); err != nil {
		return err
	}
	if err := f.looks(id, p); err != nil {
		return err
	}
	breaker := truth.Breaker(f.rng)
	area := float64(p.Trial.Specimen.Area)
	for turn, i := range p.BreakOrder[:breaks] {
		s := p.Specimens[i]
		f.clock.to(p.Schedule.Times[i].Broken)
		level := ""
		if truth.Factor != nil {
			level = s.Levels[0]
		}
		mpa, share, limited := breaker.Break(p.Trial.Adhesives[s.Adhesive].Name, s.Wood, s.Board, level)
		newton := math.Round(mpa * area)
		b := record.Broken{Peak: newton, Unit: "N", AreaMM2: area, Strength: newton / area, RigLimited: limited, Failure: "CF"}
		if !limited {
			v := float64(share)
			b.WoodShare = &v
			if v >= 75 {
				b.Failure = "CSF"
			}
		} else {
			b.Failure = ""
		}
		if turn == 20 {
			b = record.Broken{SetAside: "slipped in the grips"}
		}
		if err := f.add(id, s.Code, b); err != nil {
			return err
		}
	}
	return nil
}

func (f *filler) glue(id string, p *plan.Plan) error {
	marked := make(map[string]bool)
	day := ""
	for i, s := range p.Specimens {
		times := p.Schedule.Times[i]
		f.clock.to(times.Clamped)
		if today := times.Spread.Format("2006-01-02"); today != day {
			day = today
			humidity := 52 + math.Round(8*f.rng.Float64())
			if err := f.add(id, "", record.Climate{Station: "glue", Celsius: 17 + math.Round(6*f.rng.Float64())/2, Humidity: &humidity}); err != nil {
				return err
			}
		}
		g := record.Glued{Spread: times.Spread, Clamped: times.Clamped}
		if i == 9 {
			g.Note = "squeezed out on one side only"
		}
		if err := f.add(id, s.Code, g); err != nil {
			return err
		}
		label := p.Names[s.Adhesive]
		if m, ok := handling[p.Trial.Adhesives[s.Adhesive].Family]; ok && !marked[label] {
			marked[label] = true
			m.Batch = batch(s.Batch)
			if err := f.add(id, label, m); err != nil {
				return err
			}
		}
	}
	return nil
}

func batch(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

func (f *filler) looks(id string, p *plan.Plan) error {
	for i, c := range p.Schedule.Checks {
		f.clock.to(c.At)
		a := p.Trial.Adhesives[c.Adhesive]
		cured := record.Cured{Adhesive: p.Names[c.Adhesive], Hardness: 5, Flexible: flexible[a.Family]}
		if cured.Flexible == 0 {
			cured.Flexible = 1
		}
		if c.Kinds[0] == 0 { // 24 h
			cured.Hardness = 4
			if a.Family == "polyurethane" || a.Family == "construction" || a.Family == "hybrid" {
				cured.Hardness = 2
			}
		}
		if err := f.add(id, record.CheckSubject(i), cured); err != nil {
			return err
		}
	}
	return nil
}

// handling are marks as families are known for them (common practice, no source).
var handling = map[trialfile.Family]record.Marks{
	"pva":          {Spreads: 5, Squeezes: 5, HoldsGap: 1},
	"polyurethane": {Spreads: 3, Squeezes: 4, HoldsGap: 3, Note: "foams out of the joint"},
	"epoxy":        {Spreads: 3, Squeezes: 3, HoldsGap: 5},
	"construction": {Spreads: 2, Squeezes: 2, HoldsGap: 5},
	"hybrid":       {Spreads: 2, Squeezes: 2, HoldsGap: 5},
}

var flexible = map[trialfile.Family]int{"construction": 5, "hybrid": 5, "polyurethane": 2}

const doorsFile = `name = "Door frames"
question = "Is the white glue enough for door frames, or is the foam worth the mess?"
seed = 3
specimens_per_cell = 8

[[adhesive]]
name = "Pemmet white"
family = "pva"

[[adhesive]]
name = "Quavik foam"
family = "polyurethane"

[[wood]]
name = "larch"
strength = "9.2 MPa"
boards = 4
length_mm = 900
width_mm = 120
thickness_mm = 25

[specimen]
joint = "lap"
length_mm = 80
width_mm = 20
thickness_mm = 8
overlap_mm = 12.5

[work]
start = %04d-%02d-%02d
time_zone = "Europe/Berlin"
clamps = 16
`
