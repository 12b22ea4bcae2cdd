package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/logbook/packed"
	planpages "bondtrial/internal/pages/plan"
	"bondtrial/internal/plan"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/record"
	"bondtrial/internal/rig"
)

// trialText is a trial of 100 specimens: five adhesives on two woods, ten each.
const trialText = `name = "Trial %d"
question = "Which of five holds best on damp benches?"
specimens_per_cell = 10
blind = false
control = "Tarn"

[[adhesive]]
name = "Tarn"
family = "pva"

[[adhesive]]
name = "Fell"
family = "polyurethane"

[[adhesive]]
name = "Beck"
family = "epoxy"

[[adhesive]]
name = "Scar"
family = "pva"

[[adhesive]]
name = "Garth"
family = "pva"

[[wood]]
name = "ash"
boards = 10
length_mm = 900
width_mm = 120
thickness_mm = 25

[[wood]]
name = "larch"
boards = 10
length_mm = 900
width_mm = 120
thickness_mm = 25

[specimen]
joint = "lap"
length_mm = 80
width_mm = 20
thickness_mm = 8
overlap_mm = 10

[work]
start = 2027-04-12
time_zone = "Europe/Berlin"
clamps = 24
`

// clock goes on by a minute whenever it is looked at while the logbook is filled, and
// then with the machine's.
type clock struct {
	mu   sync.Mutex
	now  time.Time
	live time.Time // when it was set going; zero: not yet
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.live.IsZero() {
		c.now = c.now.Add(time.Minute)
		return c.now
	}
	return c.now.Add(time.Since(c.live))
}

// filled is a logbook full of trials.
type filled struct {
	log      *logbook.Logbook
	book     *record.Book
	clock    *clock
	finished []string // trials whose specimens are broken
	fresh    []string // trials whose specimens are glued
	traceLen int      // bytes of all traces as they are kept

	calibration string // key of the rig's
	took        time.Duration
}

// fill fills a logbook with so many finished trials, and some more to break.
func fill(ctx context.Context, dir string, trials, fresh int) (*filled, error) {
	began := time.Now()
	f := &filled{clock: &clock{now: time.Date(2027, 4, 10, 9, 0, 0, 0, time.UTC)}}
	var err error
	if f.log, err = logbook.Open(ctx, filepath.Join(dir, "full.bondtrial"), logbook.Options{Clock: f.clock.Now, Create: true}); err != nil {
		return nil, err
	}
	if f.book, err = record.Open(ctx, f.log); err != nil {
		return nil, err
	}
	text := fmt.Sprintf(trialText, 0)
	t, err := trialfile.Read(bytes.NewReader([]byte(text)), "trial.toml")
	if err != nil {
		return nil, err
	}
	p, err := plan.Make(ctx, t, plan.Options{Trials: 100})
	if err != nil {
		return nil, err
	}
	files, err := planpages.Papers(p)
	if err != nil {
		return nil, err
	}
	if err := f.calibrate(ctx); err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(11, 2027))
	for n := range trials + fresh {
		id, err := f.trial(ctx, n, p, files, rng, n < trials)
		if err != nil {
			return nil, fmt.Errorf("trial %d: %w", n, err)
		}
		if n < trials {
			f.finished = append(f.finished, id)
		} else {
			f.fresh = append(f.fresh, id)
		}
	}
	f.took = time.Since(began)
	f.clock.mu.Lock()
	f.clock.live = time.Now()
	f.clock.mu.Unlock()
	// Read anew, as by a program that has just started.
	f.book.Close()
	f.book, err = record.Open(ctx, f.log)
	return f, err
}

// trial writes one trial: its question and its plan, its glue-ups, its breaks.
func (f *filled) trial(ctx context.Context, n int, p *plan.Plan, files []logbook.File, rng *rand.Rand, breaks bool) (string, error) {
	who := record.Who{By: "Ida", Device: "this machine"}
	text := fmt.Sprintf(trialText, n)
	id, err := f.book.New(ctx, who, record.Asked{Name: fmt.Sprint("Trial ", n), Question: p.Trial.Question, File: text})
	if err != nil {
		return "", err
	}
	planned := record.PlannedFrom(p, text, "(speed)")
	if _, err := f.book.Add(ctx, who, id, "", planned, files...); err != nil {
		return "", err
	}
	var glue, broken []record.Item
	for _, s := range planned.Specimens {
		glue = append(glue, record.Item{Subject: s.Code, Content: record.Glued{Spread: s.GlueAt, Clamped: s.GlueAt.Add(4 * time.Minute)}})
	}
	if _, err := f.book.AddAll(ctx, who, id, glue); err != nil || !breaks {
		return id, err
	}
	for _, i := range p.BreakOrder {
		s := planned.Specimens[i]
		mean := (6 + 0.7*float64(s.Adhesive)) * planned.AreaMM2
		newton := math.Round(mean * math.Exp(0.15*rng.NormFloat64()))
		share := float64(rng.IntN(20) * 5)
		failure := "CF"
		if share >= 75 {
			failure = "CSF"
		}
		trace := packed.Pack(trace(newton, rng))
		f.traceLen += len(trace)
		broken = append(broken, record.Item{Subject: s.Code,
			Content: record.Broken{Peak: newton, Unit: "N", AreaMM2: planned.AreaMM2, Strength: newton / planned.AreaMM2, WoodShare: &share, Failure: failure},
			Files:   []logbook.File{{Role: "trace", Name: s.Code + ".trace", MediaType: "application/octet-stream", Content: trace}}})
	}
	photo := make([]byte, 200_000) // of one specimen: what is in it does not matter here
	for i := range photo {
		photo[i] = byte(rng.Uint32())
	}
	broken[0].Files = append(broken[0].Files, logbook.File{Role: "photo", Name: "faces.jpg", MediaType: "image/jpeg", Content: photo})
	// Two goes: a draft's files are checked and packed one after the other.
	half := len(broken) / 2
	if _, err := f.book.AddAll(ctx, who, id, broken[:half]); err != nil {
		return "", err
	}
	_, err = f.book.AddAll(ctx, who, id, broken[half:])
	return id, err
}

// trace is a break as a rig sends it: 80 readings a second for 10 seconds, force to
// 0.1 N with noise of 0.4 N, travel to 0.001 mm.
func trace(peak float64, rng *rand.Rand) packed.Trace {
	const n = 800
	t := packed.Trace{Time: make([]float64, n), Force: make([]float64, n), Travel: make([]float64, n)}
	for i := range n {
		x := float64(i) / n
		force := peak * x
		if i == n-1 {
			force = 0
		}
		t.Time[i] = math.Round(float64(i)*12.5) / 1000
		t.Force[i] = math.Round(10*(force+0.4*rng.NormFloat64())) / 10
		t.Travel[i] = math.Round(1000*(1.4*x+0.001*rng.NormFloat64())) / 1000
	}
	return t
}

// calibrate writes a calibration of the rig: three series of made-up readings, about
// 10 counts a newton.
func (f *filled) calibrate(ctx context.Context) error {
	var points []rig.Point
	for series := range 3 {
		for _, kg := range []float64{0, 10, 20, 40, 60, 80} {
			points = append(points, rig.Point{Series: fmt.Sprint(series + 1), Direction: rig.Up, Load: kg, Unit: "kg", Shown: math.Round(812 + 98.1*kg + float64(series))})
		}
	}
	g, err := rig.LocalGravity(52, 40)
	if err != nil {
		return err
	}
	k, err := rig.Calibrate(points, rig.Conditions{Sensor: "cell", ShownUnit: "counts", Resolution: 1, Date: "2027-04-01", Gravity: &g})
	if err != nil {
		return err
	}
	f.calibration = k.Key()
	_, err = f.book.Add(ctx, record.Who{By: "Ida"}, "", "", record.Calibrated{Key: f.calibration, Calibration: k},
		logbook.File{Role: "calibration", Name: "weights.csv", MediaType: "text/csv", Content: []byte(rig.FormatPoints(points))})
	return err
}
