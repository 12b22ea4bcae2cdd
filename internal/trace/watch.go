package trace

import "math"

// WatchOptions say what a watcher takes for a break. The zero value learns all but
// Least from the record.
type WatchOptions struct {
	Least  float64 // N: what stays below is no break; 0: whatever rises out of the noise
	Quiet  float64 // s that the load must rest for a break to have ended; 0: 1 s
	Lead   float64 // s kept before the load rises; 0: 2 s
	Gap    float64 // s without a sample that end a break; 0: 10 s
	Longer float64 // s that a load may stand still, below half its peak, before the break ends; 0: 5 s
}

// EventKind is what a watcher has seen.
type EventKind int

const (
	Began     EventKind = iota // a load rises
	Ended                      // it has gone, or stands still below half its peak
	Dismissed                  // it never came to WatchOptions.Least, or stood for ten minutes: a touch, or a zero that moved
	CutOff                     // the record stopped for longer than a gap, or ended
)

// String returns the kind in words.
func (k EventKind) String() string {
	switch k {
	case Began:
		return "began"
	case Ended:
		return "ended"
	case Dismissed:
		return "dismissed"
	case CutOff:
		return "cut off"
	}
	return "unknown event"
}

// Event is the beginning or the end of a break. Samples are counted from 0, those that
// are no numbers included.
type Event struct {
	Kind  EventKind
	First int     // the first sample of the break, its quiet lead included
	Last  int     // the last sample that belongs to it; of Began, the sample it was seen at
	Time  float64 // s, of Last as recorded
	Peak  float64 // N over the zero before it, in the direction of the load; of medians of five samples, to know a break by, not its result
}

// Watcher finds breaks in samples that come one by one: quiet, rise, fall, quiet. It
// holds a fixed amount of memory. What is no number is passed over; a clock that goes
// back or stands still counts as one step; single spikes are not looked at; a slow
// drift of zero is followed. The zero value is not ready: use [NewWatcher].
type Watcher struct {
	opt    WatchOptions
	count  int     // samples given
	now    float64 // s, a clock that only goes forward
	last   float64 // s, as recorded
	step   float64 // s, typical
	seen   int     // samples that were numbers
	recent [5]float64
	hist   []mark // blocks of the quiet time before
	block  blockSum
	zero   float64 // N
	noise  float64 // N, standard deviation
	known  bool    // zero and noise are

	loaded   bool
	sign     float64
	first    int
	peak     float64
	quietAt  float64 // s, since when the load is gone
	settling bool    // a break has ended, and the load has neither reached zero nor come to rest
	low      float64 // N, the least load since
	restart  int     // the first sample after the last break
	still    float64 // N, where the load stands still
	stillAt  float64 // s, since when
}

// mark is a block of quiet samples.
type mark struct {
	first    int
	time     float64 // s, of its first sample
	mean, sd float64
}

type blockSum struct {
	first, n  int
	time      float64
	sum, diff float64
	before    float64
}

// Sizes of a watcher; common practice, no source.
const (
	watchBlock   = 5    // samples of a block at least
	watchSpan    = 0.1  // s of a block at least
	watchBlocks  = 128  // blocks remembered
	watchZero    = 100  // blocks that zero is taken from, a slow rise being no drift,
	watchNewest  = 10   // without the newest of them
	watchTimes   = 10.0 // standard deviations from which a load rises
	watchGone    = 0.05 // share of the peak at which the load is gone
	watchHalf    = 0.5  // share of the peak under which a load that stands still has ended
	watchStill   = 0.02 // share of the peak that a load standing still moves by
	watchFewest  = 5    // blocks before anything is known
	watchSlow    = 3.0  // times the quick noise that the slow one counts for
	watchCoarsen = 1e-9
	watchForever = 600.0 // s that a load may stand anywhere before it is taken for a zero that moved
)

// NewWatcher returns a watcher that has seen nothing yet.
func NewWatcher(opt WatchOptions) *Watcher {
	for _, d := range []struct {
		value *float64
		usual float64
	}{{&opt.Quiet, 1}, {&opt.Lead, 2}, {&opt.Gap, 10}, {&opt.Longer, 5}} {
		if *d.value <= 0 {
			*d.value = d.usual
		}
	}
	return &Watcher{opt: opt}
}

// Add takes the next sample, s and N, and returns what it completes: nothing, one
// event, or the end of one break and the beginning of the next. Travel is not needed
// to find a break and is not looked at.
func (w *Watcher) Add(t, f, travel float64) []Event {
	_ = travel
	at := w.count
	w.count++
	if f-f != 0 || t-t != 0 {
		return nil
	}
	var events []Event
	if w.seen > 0 {
		d := t - w.last
		if d > w.opt.Gap && w.loaded {
			events = append(events, w.end(CutOff, at-1, w.last))
		}
		if !(d > 0) {
			d = w.step
		} else if w.step == 0 || d < 3*w.step {
			w.step += (d - w.step) * max(1/float64(w.seen), 0.01)
		}
		w.now += min(d, w.opt.Gap)
	}
	w.last = t
	copy(w.recent[:], w.recent[1:])
	w.recent[4] = f
	w.seen++
	if w.seen < 5 {
		return events
	}
	m := w.recent
	v := middle(m[:])
	if w.loaded {
		return append(events, w.follow(at, t, v)...)
	}
	return append(events, w.wait(at, t, v, f)...)
}

// Close says that no more samples come, and returns the end of a break that is on.
func (w *Watcher) Close() []Event {
	if !w.loaded {
		return nil
	}
	return []Event{w.end(CutOff, w.count-1, w.last)}
}

// Loaded reports whether a break is on.
func (w *Watcher) Loaded() bool { return w.loaded }

// Zero returns zero force as it is known now, N, and the standard deviation of the
// noise; ok is false while the watcher has not seen enough.
func (w *Watcher) Zero() (force, noise float64, ok bool) { return w.zero, w.noise, w.known }

// limit is the load from which a break may have begun, N.
func (w *Watcher) limit() float64 {
	return max(watchTimes*w.noise, 0.2*w.opt.Least, watchCoarsen*math.Abs(w.zero))
}

// wait looks for the beginning of a break.
func (w *Watcher) wait(at int, t, v, f float64) []Event {
	if w.settling {
		return w.settle(at, t, v)
	}
	if w.known && math.Abs(v-w.zero) > w.limit() {
		return w.begin(at, t, v)
	}
	b := &w.block
	if b.n == 0 {
		*b = blockSum{first: at, time: w.now, before: f}
	}
	b.n++
	b.sum += v
	b.diff += math.Abs(f - b.before)
	b.before = f
	if b.n >= watchBlock && w.now-b.time >= watchSpan {
		// The mean size of a difference of two normal values is 2/√π of their deviation.
		sd := b.diff / float64(b.n-1) * math.Sqrt(math.Pi) / 2
		w.remember(mark{b.first, b.time, b.sum / float64(b.n), sd})
		*b = blockSum{}
	}
	return nil
}

func (w *Watcher) begin(at int, t, v float64) []Event {
	w.loaded, w.settling = true, false
	w.sign = math.Copysign(1, v-w.zero)
	w.peak = math.Abs(v - w.zero)
	w.quietAt, w.stillAt, w.still = math.Inf(1), w.now, w.peak
	w.first = w.lead(at)
	w.block = blockSum{}
	return []Event{{Began, w.first, at, t, w.peak}}
}

// settle waits after a break until the load is at zero, or rests elsewhere, which is
// then zero. A load that rises meanwhile is the next break.
func (w *Watcher) settle(at int, t, v float64) []Event {
	load := w.sign * (v - w.zero)
	w.low = min(w.low, load)
	w.stands(load)
	switch {
	case math.Abs(load) <= w.limit():
		w.settling = false
	case load-w.low > max(w.limit(), watchGone*w.peak):
		return w.begin(at, t, v)
	case w.now-w.stillAt >= w.opt.Longer:
		w.settling, w.known = false, false
	}
	return nil
}

// stands follows how long the load has been standing still.
func (w *Watcher) stands(load float64) {
	if math.Abs(load-w.still) > max(watchStill*w.peak, 8*w.noise) {
		w.still, w.stillAt = load, w.now
	}
}

// remember keeps a quiet block and takes zero and noise from those a little before.
func (w *Watcher) remember(m mark) {
	if len(w.hist) == watchBlocks {
		copy(w.hist, w.hist[1:])
		w.hist = w.hist[:watchBlocks-1]
	}
	w.hist = append(w.hist, m)
	if len(w.hist) < watchFewest {
		return
	}
	use := w.hist[max(0, len(w.hist)-watchZero) : len(w.hist)-min(watchNewest, len(w.hist)/3)]
	var means, sds [watchZero]float64
	for i, b := range use {
		means[i], sds[i] = b.mean, b.sd
	}
	zero, sd := middle(means[:len(use)]), middle(sds[:len(use)])
	for i, b := range use {
		means[i] = math.Abs(b.mean - zero)
	}
	spread := madToSD * middle(means[:len(use)]) // slow noise that neighbouring samples do not show
	w.zero, w.noise, w.known = zero, max(sd, min(spread, watchSlow*sd)), true
}

// lead returns the first sample of a break that is seen at a sample: where the load
// last stood at zero, and the lead before it.
func (w *Watcher) lead(at int) int {
	i := len(w.hist) - 1
	for ; i > 0 && math.Abs(w.hist[i].mean-w.zero) > 3*w.noise; i-- {
	}
	if i < 0 {
		return w.restart
	}
	from := w.hist[i].time - w.opt.Lead
	for ; i > 0 && w.hist[i].time > from; i-- {
	}
	return w.hist[i].first
}

// follow looks for the end of a break.
func (w *Watcher) follow(at int, t, v float64) []Event {
	load := w.sign * (v - w.zero)
	if load > w.peak {
		w.peak = load
	}
	gone := max(w.limit(), watchGone*w.peak)
	switch {
	case load > gone:
		w.quietAt = math.Inf(1)
	case math.IsInf(w.quietAt, 1):
		w.quietAt = w.now
	}
	if math.Abs(load-w.still) > max(watchStill*w.peak, 8*w.noise) {
		w.still, w.stillAt = load, w.now
	}
	rested := w.now-w.quietAt >= w.opt.Quiet
	still := w.now - w.stillAt
	stands := still >= w.opt.Longer && (load < watchHalf*w.peak || w.peak < w.opt.Least)
	moved := still >= watchForever
	if !rested && !stands && !moved {
		return nil
	}
	kind := Ended
	if w.peak < w.opt.Least || moved && load >= watchHalf*w.peak {
		kind = Dismissed
	}
	return []Event{w.end(kind, at, t)}
}

// end closes a break. Zero stays as it was until the load is seen at rest; after a gap
// it is learnt again.
func (w *Watcher) end(kind EventKind, at int, t float64) Event {
	e := Event{kind, w.first, at, t, w.peak}
	w.loaded, w.settling, w.low, w.restart = false, kind != CutOff, math.Inf(1), at+1
	w.known = w.known && kind != CutOff
	w.hist, w.block = w.hist[:0], blockSum{}
	return e
}

// Segment finds the breaks in a record that holds several, each as a slice of it:
// what a watcher finds, without those it dismisses.
func Segment(r Record, opt WatchOptions) []Record {
	w := NewWatcher(opt)
	var out []Record
	take := func(events []Event) {
		for _, e := range events {
			if e.Kind == Ended || e.Kind == CutOff && e.Peak >= opt.Least {
				out = append(out, r.Slice(e.First, e.Last+1))
			}
		}
	}
	for i := range r.Force {
		take(w.Add(r.Time[i], r.Force[i], 0))
	}
	take(w.Close())
	return out
}
