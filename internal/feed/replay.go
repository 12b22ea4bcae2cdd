package feed

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"time"
)

// Replay is a source that gives a recorded file again: a journal, or any file of
// lines.
type Replay struct {
	state
	name  string
	r     io.Reader
	clock Clock
	o     ReplayOptions
	once  sync.Once

	in      *bufio.Reader
	buf     []byte
	split   splitter
	err     error
	journal *Record // nil where the file is none
	next    int     // the journal's line to be given

	began  time.Time // when the first line was given
	origin float64   // s, the recorded time that stands for began
	latest float64   // s, of the last line that had one
	count  int
}

// ReplayOptions say how a file is given again.
type ReplayOptions struct {
	OwnPace bool     // as fast as it was recorded; otherwise as fast as it goes
	Rate    float64  // lines a second, for OwnPace with lines that carry no time; 0: none given
	Pattern *Pattern // of the lines, for OwnPace; nil: found by looking at the first
}

// NewReplay returns a source of the lines of a file under a name. Lines of a journal
// given as fast as it goes keep the times at which they were recorded; all others
// arrive now. Close closes r too where it can be closed.
func NewReplay(name string, r io.Reader, o ReplayOptions, clock Clock) *Replay {
	return &Replay{name: name, r: r, o: o, clock: clock, state: state{done: make(chan struct{})}}
}

// peekBytes is how much of a file is looked at before it is given.
const peekBytes = 1 << 16

// Open looks at the beginning of the file. The error says that it cannot be read, or
// that its lines carry no time by which to pace them.
func (r *Replay) Open() error {
	r.open()
	if closed(r.done) {
		return ErrClosed
	}
	r.in = bufio.NewReaderSize(r.r, peekBytes)
	start, err := r.in.Peek(peekBytes)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("reading %s: %w", r.name, err)
	}
	if strings.HasPrefix(string(start[:min(len(start), len(journalMark))]), journalMark) {
		rec, err := ReadJournal(r.in)
		if err != nil {
			return fmt.Errorf("%s: %w", r.name, err)
		}
		r.journal = &rec
		return nil
	}
	r.buf = make([]byte, 1<<14)
	if !r.o.OwnPace || r.o.Rate > 0 {
		return nil
	}
	if r.o.Pattern == nil {
		if d, ok := Detect(linesOf(start, mostWaiting), 1); ok {
			r.o.Pattern = d.Pattern
		}
	}
	if r.o.Pattern == nil || !r.o.Pattern.HasTime() {
		return fmt.Errorf("the lines of %s carry no time that is known, so their own pace is not: give a pattern with their time, as in {time_ms},{counts}, or a number of lines a second", r.name)
	}
	return nil
}

// linesOf cuts the start of a file into at most n lines; the last, which may lack its
// end, is left out.
func linesOf(start []byte, n int) []Line {
	var s splitter
	s.fill(start, time.Time{})
	var out []Line
	for len(out) < n {
		l, ok := s.next()
		if !ok {
			break
		}
		l.Text = append([]byte(nil), l.Text...)
		out = append(out, l)
	}
	return out
}

// Read returns the next line, at its time where the file is given at its own pace.
func (r *Replay) Read() (Line, error) {
	r.reading()
	if closed(r.done) {
		return Line{}, ErrClosed
	}
	if r.journal != nil {
		return r.readJournal()
	}
	l, err := r.nextLine()
	if err != nil {
		return l, err
	}
	if r.o.OwnPace && !r.wait(r.recorded(l)) {
		return Line{}, ErrClosed
	}
	l.At = r.clock.Now()
	return l, nil
}

func (r *Replay) readJournal() (Line, error) {
	if r.next == len(r.journal.Lines) {
		return Line{}, io.EOF
	}
	l := r.journal.Lines[r.next]
	r.next++
	l.Number = 0
	if !r.o.OwnPace {
		return l, nil
	}
	if !r.wait(l.At.Sub(r.journal.Started).Seconds()) {
		return Line{}, ErrClosed
	}
	l.At = r.clock.Now()
	return l, nil
}

// nextLine cuts the next line from the file.
func (r *Replay) nextLine() (Line, error) {
	for {
		if l, ok := r.split.next(); ok {
			return l, nil
		}
		if r.err != nil {
			if l, ok := r.split.rest(); ok {
				return l, nil
			}
			if errors.Is(r.err, io.EOF) || closed(r.done) {
				return Line{}, r.err
			}
			return Line{}, fmt.Errorf("reading %s: %w", r.name, r.err)
		}
		var n int
		n, r.err = r.in.Read(r.buf)
		r.split.fill(r.buf[:n], time.Time{})
	}
}

// recorded returns the time of a line, s; NaN for one without.
func (r *Replay) recorded(l Line) float64 {
	r.count++
	if r.o.Rate > 0 {
		return float64(r.count) / r.o.Rate
	}
	if v, ok := r.o.Pattern.Match(trimmed(l.Text)); ok && l.Kind == Whole {
		return v.Time
	}
	return math.NaN()
}

// wait waits until the recorded time t has come; it returns false where Close was
// called. A time that goes back begins a new count.
func (r *Replay) wait(t float64) bool {
	if math.IsNaN(t) {
		return true
	}
	if r.began.IsZero() || t < r.latest {
		r.began, r.origin = r.clock.Now(), t
	}
	r.latest = t
	const longest = 24 * 3600 // s: no duration overflows
	due := time.Duration(min(t-r.origin, longest) * float64(time.Second))
	left := due - r.clock.Now().Sub(r.began)
	if left <= 0 {
		return !closed(r.done)
	}
	select {
	case <-r.clock.After(left):
		return true
	case <-r.done:
		return false
	}
}

// Close ends the replay, and a Read that waits for a line's time.
func (r *Replay) Close() error {
	var err error
	r.once.Do(func() {
		close(r.done)
		if c, ok := r.r.(io.Closer); ok {
			err = c.Close()
		}
	})
	return err
}

// Describe says which file it is, once opened also whether it is simulated.
func (r *Replay) Describe() Description {
	d := Description{Kind: "recorded file", Name: r.name, Waits: !r.o.OwnPace}
	if r.journal != nil {
		d.Simulated = r.journal.Simulated
	}
	return d
}
