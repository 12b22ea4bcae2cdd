package answers

import (
	"container/list"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"
)

// Limits bound what a Keeper holds, and how much it does at a time. A zero is the
// usual limit.
type Limits struct {
	Answers int   // kept at most; 64
	Bytes   int64 // that they take together, about; 64 MB. One larger answer is kept alone.
	AtOnce  int   // computations at a time, the others wait; 1
}

// Key is the SHA-256 of what an answer depends on, hexadecimal.
type Key string

// State says how far an answer is.
type State string

// The states of an answer.
const (
	Unknown State = "none"    // nobody asked for it, or it was dropped
	Waiting State = "waiting" // for another computation to end
	Working State = "working"
	Stopped State = "stopped" // somebody stopped it
	Failed  State = "failed"  // there is none: see Kept.Err
	Done    State = "done"
)

// Keeper computes answers in the background and keeps the latest used ones. It may
// be used from any number of goroutines. Its methods Show, Run, Stop, Progress,
// Readings, Table, JSON and Report are the handlers of the station.
type Keeper struct {
	ctx    context.Context
	cancel context.CancelFunc
	limits Limits
	slots  chan struct{} // one for each computation that is going on
	work   worker
	clock  func() time.Time

	mu      sync.Mutex
	order   *list.List // of *Kept, the latest used first
	kept    map[Key]*list.Element
	bytes   int64
	running map[Key]*job
	done    sync.WaitGroup // counts running
}

// worker computes an answer; tell is told how far it is and may be called from
// several goroutines.
type worker func(ctx context.Context, o *order, tell func(stage string, done, of int)) (*Kept, error)

// job is a computation that waits or is going on.
type job struct {
	stop  context.CancelCauseFunc
	ended chan struct{} // closed when what came of it is kept

	mu       sync.Mutex
	state    State
	begun    time.Time // zero: it waits
	stage    string
	done, of int
}

// errStopped is the cause of a computation's end that a person asked for.
var errStopped = errors.New("stopped")

// NewKeeper returns a Keeper whose computations end with ctx.
func NewKeeper(ctx context.Context, clock func() time.Time, limits Limits) *Keeper {
	return newKeeper(ctx, clock, limits, compute)
}

func newKeeper(ctx context.Context, clock func() time.Time, limits Limits, work worker) *Keeper {
	if limits.Answers <= 0 {
		limits.Answers = 64
	}
	if limits.Bytes <= 0 {
		limits.Bytes = 64 << 20
	}
	if limits.AtOnce <= 0 {
		limits.AtOnce = 1
	}
	k := &Keeper{limits: limits, slots: make(chan struct{}, limits.AtOnce), work: work, clock: clock,
		order: list.New(), kept: make(map[Key]*list.Element), running: make(map[Key]*job)}
	k.ctx, k.cancel = context.WithCancel(ctx)
	return k
}

// Close stops every computation and waits until all have ended.
func (k *Keeper) Close() {
	k.mu.Lock()
	k.cancel()
	k.mu.Unlock()
	k.done.Wait()
}

// run begins to compute what was ordered, unless that is going on or done. What was
// stopped or failed is begun again.
func (k *Keeper) run(o *order) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.ctx.Err() != nil || k.running[o.key] != nil {
		return
	}
	if e := k.kept[o.key]; e != nil {
		if e.Value.(*Kept).Err == nil {
			return
		}
		k.drop(e)
	}
	ctx, stop := context.WithCancelCause(k.ctx)
	j := &job{stop: stop, ended: make(chan struct{}), state: Waiting}
	k.running[o.key] = j
	k.done.Add(1)
	go k.carryOut(ctx, o, j)
}

// carryOut computes what was ordered once there is room, and keeps it.
func (k *Keeper) carryOut(ctx context.Context, o *order, j *job) {
	defer k.done.Done()
	defer j.stop(nil)
	kept := k.answer(ctx, o, j)
	k.mu.Lock()
	defer k.mu.Unlock()
	delete(k.running, o.key)
	close(j.ended)
	if kept != nil {
		k.keep(kept)
	}
}

// answer returns what is to be kept of a computation; nil where the server's end
// ended it.
func (k *Keeper) answer(ctx context.Context, o *order, j *job) (kept *Kept) {
	select {
	case k.slots <- struct{}{}:
		defer func() { <-k.slots }()
	case <-ctx.Done():
	}
	defer func() {
		if fault := recover(); fault != nil {
			kept = o.failed(fmt.Errorf("the program failed at this (%v): the readings are safe; try other settings, and report it", fault))
		}
	}()
	j.begin(k.clock())
	err := ctx.Err()
	if err == nil {
		kept, err = k.work(ctx, o, j.tell)
	}
	switch {
	case err == nil:
		return kept
	case errors.Is(context.Cause(ctx), errStopped):
		return o.failed(errStopped)
	case ctx.Err() != nil:
		return nil
	}
	return o.failed(err)
}

func (j *job) begin(now time.Time) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.state, j.begun = Working, now
}

func (j *job) tell(stage string, done, of int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if stage != j.stage {
		j.stage, j.done = stage, 0
	}
	j.done, j.of = max(j.done, min(done, of)), of
}

// stop stops a computation and returns what is closed when it has ended; nil where
// there is none.
func (k *Keeper) stop(key Key) <-chan struct{} {
	k.mu.Lock()
	defer k.mu.Unlock()
	j := k.running[key]
	if j == nil {
		return nil
	}
	j.stop(errStopped)
	return j.ended
}

// keep puts an answer first and drops the longest unused ones beyond the limits.
// k.mu is held.
func (k *Keeper) keep(a *Kept) {
	if e := k.kept[a.key]; e != nil {
		k.drop(e)
	}
	k.kept[a.key] = k.order.PushFront(a)
	k.bytes += a.bytes
	for k.order.Len() > 1 && (k.order.Len() > k.limits.Answers || k.bytes > k.limits.Bytes) {
		k.drop(k.order.Back())
	}
}

func (k *Keeper) drop(e *list.Element) {
	a := k.order.Remove(e).(*Kept)
	delete(k.kept, a.key)
	k.bytes -= a.bytes
}

// look returns what is kept under a key, nil where nothing is.
func (k *Keeper) look(key Key) *Kept {
	k.mu.Lock()
	defer k.mu.Unlock()
	e := k.kept[key]
	if e == nil {
		return nil
	}
	k.order.MoveToFront(e)
	return e.Value.(*Kept)
}

// earlier returns the latest used answer of the same trial, with the same settings,
// that was computed from other readings; nil where none is kept.
func (k *Keeper) earlier(o *order) *Kept {
	k.mu.Lock()
	defer k.mu.Unlock()
	var best *Kept
	for e := k.order.Front(); e != nil; e = e.Next() {
		if a := e.Value.(*Kept); a.Err == nil && a.alike == o.alike && (best == nil || a.last > best.last) {
			best = a
		}
	}
	return best
}

// How is how far an answer is, for people and for modules.
type How struct {
	State   State    `json:"state"`
	Stage   string   `json:"stage,omitempty"`   // what is being done
	Percent int      `json:"percent"`           // of the stage
	Seconds int      `json:"seconds"`           // since it began
	ToCome  []string `json:"to_come,omitempty"` // stages
	Words   string   `json:"words"`
	Job     Key      `json:"job"`
}

// stages are those of an answer, in their order.
var stages = []string{"the bonds", "the comparisons", "the wood's own strength", "again with wood failure from 50 %", "again with wood failure from 90 %"}

// how says how far an answer is.
func (k *Keeper) how(key Key) How {
	k.mu.Lock()
	defer k.mu.Unlock()
	h := How{State: Unknown, Job: key, Words: "Not begun."}
	if j := k.running[key]; j != nil {
		return j.how(h, k.clock())
	}
	e := k.kept[key]
	if e == nil {
		return h
	}
	switch a := e.Value.(*Kept); {
	case a.Err == nil:
		h.State, h.Percent, h.Words = Done, 100, "Answered."
	case errors.Is(a.Err, errStopped):
		h.State, h.Words = Stopped, "Stopped. Nothing of it was kept."
	default:
		h.State, h.Words = Failed, "There is no answer."
	}
	return h
}

func (j *job) how(h How, now time.Time) How {
	j.mu.Lock()
	defer j.mu.Unlock()
	h.State = j.state
	if j.state == Waiting {
		h.Words = "Waiting for another answer to be done."
		return h
	}
	h.Stage, h.Seconds = j.stage, int(now.Sub(j.begun).Seconds())
	if j.stage == "" {
		h.Words = "Beginning."
		return h
	}
	if j.of > 0 {
		h.Percent = 100 * j.done / j.of
	}
	at := -1
	for i, s := range stages {
		if s == j.stage {
			at = i
		}
	}
	if at >= 0 {
		h.ToCome = stages[at+1:]
	}
	h.Words = fmt.Sprintf("%s: %d %% sampled, after %d s.", upperFirst(j.stage), h.Percent, h.Seconds)
	switch len(h.ToCome) {
	case 0:
		h.Words += " This is the last step."
	case 1:
		h.Words += " One more step after this."
	default:
		h.Words += fmt.Sprintf(" At most %d more steps after this.", len(h.ToCome))
	}
	return h
}
