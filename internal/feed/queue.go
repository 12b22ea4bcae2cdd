package feed

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"
)

// SideFile takes lines that the sink has not taken in time; *os.File is one. It is
// empty when it is handed over, has the form of a journal, and is read back as the
// sink catches up.
type SideFile interface {
	io.ReaderAt
	io.WriterAt
	Sync() error
	Close() error
}

const (
	lineCost   = 64      // what a line takes in memory beside its text
	batchLines = 4096    // the greatest number of lines handed over at once
	textBlock  = 1 << 14 // bytes of text that are allocated together
)

// queue holds lines between the source and the sink: the oldest with the sink, then
// those in the side file, the rest in memory. Two locks keep the reader of the source
// from waiting for a disk: side is for the file, mu for the memory; who needs both
// takes side first.
type queue struct {
	mu      sync.Mutex
	lines   []Line
	text    []byte // the block that new texts go into
	bytes   int
	limit   int
	number  int64
	held    []Line    // those with the sink
	oldest  time.Time // when the first of lines was put in, or earlier
	heldOld time.Time // the same of held
	lost    int64
	unsaid  int64 // lost lines that no line of the kind Lost speaks of yet
	started time.Time

	side     sync.Mutex
	header   []byte
	openSide func() (SideFile, error)
	file     SideFile
	written  int64        // length of the side file
	read     int64        // up to where it was read back
	inSide   atomic.Int64 // lines in it that were not read back
	lastSide int64        // the greatest number of a line in it
	broken   error        // the file cannot be read back: it is left alone
}

// put takes a line, gives it its number, and returns it with a text of its own, and
// before it the line that speaks of lost ones, where some were lost.
func (q *queue) put(l Line, now time.Time) []Line {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.lines) == 0 {
		q.oldest = now
	}
	var out []Line
	if q.bytes >= q.limit {
		q.drop()
	}
	if q.unsaid > 0 {
		words := fmt.Appendf(nil, "%d lines are lost: they are not taken, and there is no more room for them", q.unsaid)
		out = append(out, q.append(Line{At: l.At, Kind: Lost, Text: words}))
		q.unsaid = 0
	}
	return append(out, q.append(l))
}

func (q *queue) append(l Line) Line {
	q.number++
	l.Number = q.number
	if len(q.text)+len(l.Text) > cap(q.text) {
		q.text = make([]byte, 0, max(textBlock, len(l.Text)))
	}
	start := len(q.text)
	q.text = append(q.text, l.Text...)
	l.Text = q.text[start:len(q.text):len(q.text)]
	q.lines = append(q.lines, l)
	q.bytes += len(l.Text) + lineCost
	return l
}

// drop loses the older half of the lines in memory.
func (q *queue) drop() {
	n := (len(q.lines) + 1) / 2
	for _, l := range q.lines[:n] {
		q.bytes -= len(l.Text) + lineCost
		if !l.Kind.Event() {
			q.lost++
			q.unsaid++
		}
	}
	q.lines = append([]Line(nil), q.lines[n:]...)
}

// take returns the oldest lines, at most batchLines; none where there are none. They
// are with the sink until taken is called. The error is that the side file cannot be
// read back; it comes once, and lines in memory are given after it.
func (q *queue) take() ([]Line, error) {
	q.side.Lock()
	defer q.side.Unlock()
	if q.inSide.Load() > 0 && q.broken == nil {
		lines, err := q.takeSide()
		if err != nil {
			q.broken = err
		}
		q.mu.Lock()
		q.held = lines
		q.mu.Unlock()
		return lines, err
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	n := min(len(q.lines), batchLines)
	out := q.lines[:n:n]
	q.lines = q.lines[n:]
	if len(q.lines) == 0 {
		q.lines = nil
	}
	for _, l := range out {
		q.bytes -= len(l.Text) + lineCost
	}
	q.held, q.heldOld = out, q.oldest
	return out, nil
}

// taken says that the sink has what take returned.
func (q *queue) taken() {
	q.mu.Lock()
	q.held = nil
	q.mu.Unlock()
}

// takeSide reads the next lines back from the side file.
func (q *queue) takeSide() ([]Line, error) {
	buf := make([]byte, min(q.written-q.read, 1<<18))
	if n, err := q.file.ReadAt(buf, q.read); n < len(buf) {
		return nil, fmt.Errorf("the side file cannot be read back: %w", err)
	}
	var out []Line
	for len(out) < batchLines {
		s, rest, ok := bytes.Cut(buf, []byte{'\n'})
		if !ok {
			break
		}
		l, good := decodeLine(s, q.started)
		if !good {
			return nil, fmt.Errorf("the side file cannot be read back: it was changed at byte %d", q.read)
		}
		out = append(out, l)
		q.read += int64(len(s)) + 1
		buf = rest
	}
	q.inSide.Add(-int64(len(out)))
	return out, nil
}

// late reports whether a line has waited for the sink longer than d.
func (q *queue) late(now time.Time, d time.Duration) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.held) > 0 && now.Sub(q.heldOld) > d || len(q.lines) > 0 && now.Sub(q.oldest) > d
}

// secure puts what the sink has not taken into the side file and waits until it is on
// disk. What could not be written stays in memory.
func (q *queue) secure() error {
	q.side.Lock()
	defer q.side.Unlock()
	if q.broken != nil {
		return q.broken
	}
	q.mu.Lock()
	held, lines, bytes, oldest := q.held, q.lines, q.bytes, q.oldest
	q.lines, q.bytes = nil, 0
	q.mu.Unlock()
	err := q.write(held, lines)
	if err != nil {
		q.mu.Lock()
		q.lines = append(lines, q.lines...)
		q.bytes += bytes
		if len(lines) > 0 {
			q.oldest = oldest
		}
		q.mu.Unlock()
	}
	return err
}

// write appends to the side file the lines with the sink, where they are not in it,
// and those that come after them. After an error the file counts as it was before.
func (q *queue) write(held, lines []Line) error {
	if n := len(held); n > 0 && held[n-1].Number <= q.lastSide {
		held = nil
	}
	if len(held)+len(lines) == 0 {
		return nil
	}
	if err := q.open(); err != nil {
		return err
	}
	var b []byte
	last := q.lastSide
	for _, l := range held {
		b = encodeLine(b, l, q.started)
		last = l.Number
	}
	copied := int64(len(b))
	for _, l := range lines {
		b = encodeLine(b, l, q.started)
		last = l.Number
	}
	if _, err := q.file.WriteAt(b, q.written); err != nil {
		return fmt.Errorf("the side file cannot be written: %w", err)
	}
	if err := q.file.Sync(); err != nil {
		return fmt.Errorf("the side file does not get onto the disk: %w", err)
	}
	// Lines with the sink are older than all others: where they were not in the file,
	// nothing in it was left to read back.
	if copied > 0 {
		q.read = q.written + copied
	}
	q.written += int64(len(b))
	q.inSide.Add(int64(len(lines)))
	q.lastSide = last
	return nil
}

func (q *queue) open() error {
	if q.file != nil {
		return nil
	}
	if q.openSide == nil {
		return fmt.Errorf("there is no side file")
	}
	f, err := q.openSide()
	if err != nil {
		return fmt.Errorf("the side file cannot be opened: %w", err)
	}
	if _, err := f.WriteAt(q.header, 0); err != nil {
		return fmt.Errorf("the side file cannot be written: %w", errors.Join(err, f.Close()))
	}
	q.file, q.written, q.read = f, int64(len(q.header)), int64(len(q.header))
	return nil
}

// waiting returns the number of lines that the sink has not taken, and of those the
// number that are in the side file only, and the number of lines that are lost.
func (q *queue) waiting() (all, side, lost int64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	side = q.inSide.Load()
	return int64(len(q.held)+len(q.lines)) + side, side, q.lost
}

// full reports whether a source that can wait should.
func (q *queue) full() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.bytes >= q.limit/2
}

// close closes the side file where there is one.
func (q *queue) close() error {
	q.side.Lock()
	defer q.side.Unlock()
	if q.file == nil {
		return nil
	}
	return q.file.Close()
}
