// Package plan is the station at which a trial is planned: how many specimens and
// why, from which boards, in which order and when, with the papers for the bench.
// What it shows of a plan comes from what was stored with it, so that it is the same
// after a restart and with a later version.
package plan

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/record"
)

// Maker makes plans in the background, one at a time for each trial.
type Maker struct {
	// Trials are simulated for each number of specimens; 0: the usual.
	Trials int

	ctx  context.Context
	wg   sync.WaitGroup
	mu   sync.Mutex
	runs map[string]*run // by trial; those that failed stay until the next
}

// NewMaker returns a Maker whose work ends when ctx ends: see Wait.
func NewMaker(ctx context.Context) *Maker {
	return &Maker{ctx: ctx, runs: make(map[string]*run)}
}

// Wait returns when nothing is being made any more.
func (m *Maker) Wait() { m.wg.Wait() }

// run is a plan in the making.
type run struct {
	file  string // the trial file that it is made from
	key   string // of the entry that it will be
	began time.Time
	stop  context.CancelFunc
	ended chan struct{}

	mu       sync.Mutex
	stage    string
	done, of int
	err      error // once ended
}

// working reports whether the run goes on.
func (r *run) working() bool {
	if r == nil {
		return false
	}
	select {
	case <-r.ended:
		return false
	default:
		return true
	}
}

func (r *run) progress(stage string, done, of int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.stage, r.done, r.of = stage, done, of
}

// run returns the latest run of a trial, nil where there was none.
func (m *Maker) run(trial string) *run {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.runs[trial]
}

// start begins to plan a trial, unless that is being done.
func (m *Maker) start(d *frame.Desk, t *record.Trial, who record.Who) *run {
	m.mu.Lock()
	defer m.mu.Unlock()
	if old := m.runs[t.ID]; old.working() {
		return old
	}
	ctx, stop := context.WithCancel(m.ctx)
	r := &run{file: t.Asked.File, key: who.Key, began: d.Clock(), stop: stop, ended: make(chan struct{})}
	m.runs[t.ID] = r
	m.wg.Go(func() {
		defer stop()
		defer close(r.ended)
		err := m.work(ctx, d, t.ID, r, who)
		r.mu.Lock()
		r.err = err
		r.mu.Unlock()
	})
	return r
}

// work makes a plan and writes it down with its papers.
func (m *Maker) work(ctx context.Context, d *frame.Desk, trial string, r *run, who record.Who) (err error) {
	defer func() {
		if broke := recover(); broke != nil { // a fault of ours is not to end the bench
			d.Log.Error("a plan broke off", "trial", trial, "why", fmt.Sprint(broke), "stack", string(debug.Stack()))
			err = errors.New("the plan broke off by a fault of the program, and the log says where: nothing else is lost; change something at Ask and try again")
		}
	}()
	file, err := trialfile.Read(bytes.NewReader([]byte(r.file)), "trial file")
	if err != nil {
		return err
	}
	p, err := plan.Make(ctx, file, plan.Options{Trials: m.Trials, Progress: r.progress})
	if err != nil {
		return err
	}
	r.progress("papers", 0, 0)
	files, err := Papers(p)
	if err != nil {
		return err
	}
	t, err := d.Book.Trial(ctx, trial)
	if err != nil {
		return err
	}
	content := record.PlannedFrom(p, r.file, d.Version)
	if t.Plan != nil {
		_, err = d.Book.Correct(ctx, who, trial, t.PlanAt.Seq, content, files...)
	} else {
		_, err = d.Book.Add(ctx, who, trial, "", content, files...)
	}
	return err
}

// state is how a run stands.
type state struct {
	State string `json:"state"` // "working", "failed", "stopped" or "none"
	Stage string `json:"stage,omitempty"`
	Done  int    `json:"done"`
	Of    int    `json:"of"`
	Words string `json:"words,omitempty"`
	Error string `json:"error,omitempty"`
}

// stages are what a plan goes through, in words.
var stages = map[string]string{
	"":            "Beginning",
	"how many":    "How many: simulating trials",
	"which board": "Which board: dealing specimens to boards",
	"papers":      "Drawing labels and sheets",
}

// state returns how the latest run of a trial stands, as far as it is of a file.
func (m *Maker) state(t *record.Trial) state {
	r := m.run(t.ID)
	if r == nil {
		return state{State: "none"}
	}
	working := r.working()
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case working:
		words, ok := stages[r.stage]
		if !ok {
			words = r.stage
		}
		if r.of > 0 {
			words += fmt.Sprintf(", %d %% of this step done", min(100*r.done/r.of, 100))
		}
		return state{State: "working", Stage: r.stage, Done: r.done, Of: r.of, Words: words}
	case r.err == nil, r.file != t.Asked.File:
		return state{State: "none"}
	case errors.Is(r.err, context.Canceled):
		return state{State: "stopped"}
	}
	_, words := frame.Status(r.err)
	var ours *record.Refused
	if !errors.As(r.err, &ours) {
		words = r.err.Error()
	}
	return state{State: "failed", Error: words}
}
