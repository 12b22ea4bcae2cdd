package record

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"bondtrial/internal/logbook"
)

// Book is a logbook read as trials, a shelf, a rack and a rig. It may be used from
// any number of goroutines. Entries are written one after the other, and told in
// that order.
type Book struct {
	log  *logbook.Logbook
	turn chan struct{} // held by who writes

	mu     sync.Mutex
	trials map[string]*shelfmark
	order  []string
	subs   map[chan Event]struct{}
	closed bool
	lastAt time.Time // when the last entry was written, by the clock of then
	told   int64     // the last entry that was told of, or that was there at first
}

// shelfmark holds a trial in memory. The empty name holds the logbook at large.
type shelfmark struct {
	mu    sync.Mutex
	trial *Trial // nil: not folded yet
	stale bool   // there are entries that trial lacks
}

// Event is told to subscribers when an entry has been written.
type Event struct {
	Entry
	Words string // what it says, see Words
}

// Who says who writes an entry, from which device, and when by that device's clock.
type Who struct {
	By, Device string
	Said       time.Time
	Key        string // of this one entry, so that it is written once however often it is sent
}

// Open reads a logbook's trials.
func Open(ctx context.Context, l *logbook.Logbook) (*Book, error) {
	b := &Book{log: l, turn: make(chan struct{}, 1), trials: make(map[string]*shelfmark), subs: make(map[chan Event]struct{})}
	ids, err := l.Trials(ctx)
	if err != nil {
		return nil, err
	}
	b.order = ids
	last, ok, err := l.Last(ctx)
	if err != nil {
		return nil, err
	}
	if ok {
		b.lastAt, b.told = last.At, last.Seq
	}
	for _, id := range append([]string{""}, ids...) {
		b.trials[id] = new(shelfmark)
	}
	return b, nil
}

// Logbook returns the file underneath.
func (b *Book) Logbook() *logbook.Logbook { return b.log }

// mark returns what holds a trial, nil where the logbook does not have it.
func (b *Book) mark(id string) *shelfmark {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.trials[id]
}

// refresh reads what was written since and folds it. It returns the trial.
func (b *Book) refresh(ctx context.Context, id string, m *shelfmark) (*Trial, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.trial != nil && !m.stale {
		return m.trial, nil
	}
	var known []Entry
	var last int64
	if m.trial != nil {
		known = slices.Clip(m.trial.Entries)
		if n := len(known); n > 0 {
			last = known[n-1].Seq
		}
	}
	fresh, err := b.log.Entries(ctx, id, last)
	if err != nil {
		return nil, err
	}
	if len(fresh) > 0 || m.trial == nil {
		m.trial = Fold(id, append(known, read(fresh)...))
	}
	m.stale = false
	return m.trial, nil
}

// ErrNoTrial is the error of a trial that the logbook does not have.
var ErrNoTrial = errors.New("the logbook has no such trial")

// Trial returns a trial as it stands.
func (b *Book) Trial(ctx context.Context, id string) (*Trial, error) {
	m := b.mark(id)
	if m == nil || id == "" {
		return nil, ErrNoTrial
	}
	return b.refresh(ctx, id, m)
}

// Trials returns all trials, the one written to last first; those put away are left
// out unless all is set.
func (b *Book) Trials(ctx context.Context, all bool) ([]*Trial, error) {
	b.mu.Lock()
	ids := slices.Clone(b.order)
	b.mu.Unlock()
	var out []*Trial
	for _, id := range ids {
		t, err := b.Trial(ctx, id)
		if err != nil {
			return nil, err
		}
		if len(t.Entries) > 0 && (all || t.PutAway == nil) {
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, func(a, c *Trial) int {
		return cmp.Compare(c.Entries[len(c.Entries)-1].Seq, a.Entries[len(a.Entries)-1].Seq)
	})
	return out, nil
}

// Subscribe returns a channel on which every entry is told, and what ends it. Who
// does not keep up misses events: the channel is closed, and the reader begins
// anew from the entries. After Close the channel is closed from the beginning.
func (b *Book) Subscribe() (<-chan Event, func()) {
	ch := make(chan Event, 64)
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		close(ch)
		return ch, func() {}
	}
	b.subs[ch] = struct{}{}
	return ch, func() { b.drop(ch) }
}

func (b *Book) drop(ch chan Event) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if _, ok := b.subs[ch]; ok {
		delete(b.subs, ch)
		close(ch)
	}
}

// tell tells subscribers of an entry, once. Who writes holds the turn meanwhile.
func (b *Book) tell(t *Trial, e Entry) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if e.Seq <= b.told {
		return // it was sent again, and has been told
	}
	b.told, b.lastAt = e.Seq, e.At
	ev := Event{e, Words(t, e)}
	for ch := range b.subs {
		select {
		case ch <- ev:
		default:
			delete(b.subs, ch)
			close(ch)
		}
	}
}

// Close closes the channels of all subscribers, and of those to come. Trials can be
// read and entries written still.
func (b *Book) Close() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.closed = true
	for ch := range b.subs {
		delete(b.subs, ch)
		close(ch)
	}
}

// Since returns the entries after one, of all trials, as they would have been told.
func (b *Book) Since(ctx context.Context, after int64) ([]Event, error) {
	entries, err := b.log.Since(ctx, after)
	if err != nil {
		return nil, err
	}
	out := make([]Event, 0, len(entries))
	for _, e := range read(entries) {
		var t *Trial
		if e.Trial != "" {
			if t, err = b.Trial(ctx, e.Trial); err != nil {
				return nil, err
			}
		}
		out = append(out, Event{e, Words(t, e)})
	}
	return out, nil
}

// Last is the number of the last entry that was told of, 0 where there is none.
func (b *Book) Last() int64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.told
}

// LastAt is when the last entry was written, zero where there is none.
func (b *Book) LastAt() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.lastAt
}
