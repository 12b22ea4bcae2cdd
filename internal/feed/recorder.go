package feed

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"
)

// Batch is what a sink is handed. It is the sink's only until the sink returns: what
// it keeps it must copy.
type Batch struct {
	Lines   []Line   // in the order in which they arrived; events are among them
	Samples []Sample // also of earlier lines, where the format was only just found
	Events  []Event
	Pattern *Pattern // nil until it is found
}

// Sink takes a batch. After an error it is handed the same batch again, until it
// takes it; it must return in the end.
type Sink func(*Batch) error

// Options say how a recorder works. Zero values stand for the defaults.
type Options struct {
	Clock    Clock                    // must be given
	Pattern  *Pattern                 // nil: found by looking at the first lines
	Every    time.Duration            // how long lines are gathered for one batch: 25 ms, at most 100 ms
	Silence  time.Duration            // how long nothing arrives before that is said: 2 s
	Memory   int                      // bytes of lines kept in memory for a sink that does not keep up: 8 MiB
	SideFile func() (SideFile, error) // opens a file for what the sink does not take in time; nil: none, and beyond Memory the oldest lines are lost. It is closed and not removed; after Run without an error nothing in it is needed
	Watch    func([]Sample, []Event)  // is shown what arrives at once, for a live picture; it must not block, call the recorder, or keep what it is shown; may be nil
	Patience time.Duration            // how long a failing sink is tried after the source ended: 5 s
}

// Recorder reads a source and hands what it gives to a sink.
type Recorder struct {
	source Source
	sink   Sink
	o      Options
	clock  Clock
	queue  queue
	wake   chan struct{} // something is in the queue
	ended  chan struct{} // closed when nothing will be put into it any more

	mu     sync.Mutex
	status Status
	live   *Parser
	batch  Batch // of the live parser
}

// Status is how a recorder stands.
type Status struct {
	Source       Description
	Started      time.Time
	Open         bool // the source was opened and has not ended
	Connected    bool // and is there
	Counts       Counts
	Found        Detected  // what looking at lines found; Pattern nil before, and where it was given
	Pattern      *Pattern  // nil until it is found
	Last         Sample    // the latest; Line 0 before the first
	LastLine     time.Time // when the latest line arrived; zero before the first
	SilentSince  time.Time // zero while lines arrive
	Example      string    // a line that did not fit, quoted; empty where all fit
	Advice       string    // what to do about lines that do not fit; empty where most do
	Waiting      int64     // lines that the sink has not taken
	InSideFile   int64     // of those, the ones in the side file
	Lost         int64     // lines that could not be kept
	SinkError    string    // why the sink does not take lines; empty while it does
	SinkFailing  time.Time // since when; zero while it takes them
	SideError    string    // why lines that the sink does not take are not safe in the side file either
	RecentEvents []Event   // the latest, oldest first
	changed      time.Time // when the source was unplugged or came back
}

// recentEvents is the number of events in a Status.
const recentEvents = 50

// NewRecorder returns a recorder for a source that is not open yet. It panics where
// the source, the sink or the clock is missing, or Every is above 100 ms.
func NewRecorder(s Source, sink Sink, o Options) *Recorder {
	if s == nil || sink == nil || o.Clock == nil {
		panic("feed: a recorder needs a source, a sink and a clock")
	}
	if o.Every > 100*time.Millisecond {
		panic("feed: a recorder hands over lines at least every 100 ms")
	}
	o.Every = orDefault(o.Every, 25*time.Millisecond)
	o.Silence = orDefault(o.Silence, 2*time.Second)
	o.Patience = orDefault(o.Patience, 5*time.Second)
	if o.Memory <= 0 {
		o.Memory = 8 << 20
	}
	return &Recorder{source: s, sink: sink, o: o, clock: o.Clock,
		wake: make(chan struct{}, 1), ended: make(chan struct{}),
		live:   NewParser(o.Pattern, s.Describe().Speed),
		status: Status{Source: s.Describe()},
	}
}

func orDefault(d, otherwise time.Duration) time.Duration {
	if d <= 0 {
		return otherwise
	}
	return d
}

// Header returns what a journal of this recorder begins with.
func (r *Recorder) Header(started time.Time) Header {
	d := r.source.Describe()
	h := Header{Source: d.String(), Simulated: d.Simulated, Started: started}
	if r.o.Pattern != nil {
		h.Pattern = r.o.Pattern.String()
	}
	return h
}

// Run opens the source and records until it ends or the context does, and until the
// sink has taken everything. It closes the source. The error says why the source
// could not be opened or read, or how many lines the sink did not take and where they
// are. Run may be called once.
func (r *Recorder) Run(ctx context.Context) error {
	if err := r.source.Open(); err != nil {
		return err
	}
	now := r.clock.Now()
	q := &r.queue
	q.limit, q.started, q.openSide = r.o.Memory, now, r.o.SideFile
	q.header = encodeHeader(r.Header(now))
	r.mu.Lock()
	r.status.Source = r.source.Describe() // a file says more once it is open
	r.status.Started, r.status.Open, r.status.Connected = now, true, true
	r.mu.Unlock()

	stop := context.AfterFunc(ctx, func() { r.source.Close() })
	var wg sync.WaitGroup
	var sinkErr error
	wg.Go(func() { r.guard(now) })
	wg.Go(func() { sinkErr = r.deliver() })
	readErr := r.read()
	stop()
	closeErr := r.source.Close()
	r.finishLive()
	close(r.ended)
	wg.Wait()
	return errors.Join(readErr, closeErr, sinkErr, q.close())
}

// read puts lines into the queue until the source ends.
func (r *Recorder) read() error {
	waits := r.source.Describe().Waits
	for {
		l, err := r.source.Read()
		switch {
		case err == nil:
			r.arrived(l)
			for waits && r.queue.full() {
				<-r.clock.After(time.Millisecond)
			}
		case errors.Is(err, io.EOF), errors.Is(err, ErrClosed):
			return nil
		default:
			return fmt.Errorf("reading from the %s: %w", r.source.Describe(), err)
		}
	}
}

// arrived takes a line, or an event from the source.
func (r *Recorder) arrived(l Line) {
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case l.Kind == Unplugged || l.Kind == Back:
		r.status.Connected, r.status.changed, r.status.SilentSince = l.Kind == Back, l.At, time.Time{}
	case !l.Kind.Event():
		if since := r.status.SilentSince; !since.IsZero() {
			r.status.SilentSince = time.Time{}
			r.keep(Line{At: l.At, Kind: Heard, Text: fmt.Appendf(nil, "lines arrive again, after %v", l.At.Sub(since).Round(10*time.Millisecond))})
		}
		r.status.LastLine = l.At
	}
	r.keep(l)
}

// keep puts a line into the queue and wakes who delivers. The caller holds the lock.
func (r *Recorder) keep(l Line) {
	for _, l := range r.queue.put(l, r.clock.Now()) {
		r.live.Add(l, &r.batch)
	}
	r.takeLive()
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

// takeLive shows what the live parser gave and moves it into the status.
func (r *Recorder) takeLive() {
	if r.o.Watch != nil && len(r.batch.Samples)+len(r.batch.Events) > 0 {
		r.o.Watch(r.batch.Samples, r.batch.Events)
	}
	if n := len(r.batch.Samples); n > 0 {
		r.status.Last = r.batch.Samples[n-1]
	}
	r.remember(r.batch.Events...)
	r.batch.Samples, r.batch.Events = r.batch.Samples[:0], r.batch.Events[:0]
}

func (r *Recorder) remember(events ...Event) {
	r.status.RecentEvents = append(r.status.RecentEvents, events...)
	if n := len(r.status.RecentEvents); n > recentEvents {
		r.status.RecentEvents = append(r.status.RecentEvents[:0], r.status.RecentEvents[n-recentEvents:]...)
	}
}

func (r *Recorder) finishLive() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.live.Finish(&r.batch)
	r.takeLive()
	r.status.Open, r.status.Connected = false, false
}

// Status returns how the recorder stands.
func (r *Recorder) Status() Status {
	waiting, side, lost := r.queue.waiting()
	r.mu.Lock()
	defer r.mu.Unlock()
	s := r.status
	s.Waiting, s.InSideFile, s.Lost = waiting, side, lost
	s.Counts, s.Found, s.Pattern, s.Advice = r.live.Counts(), r.live.Found(), r.live.Pattern(), r.live.Advice()
	if e := r.live.Example(); e != nil {
		s.Example = quoteLine(e)
	}
	s.RecentEvents = append([]Event(nil), s.RecentEvents...)
	return s
}
