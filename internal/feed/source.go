package feed

import (
	"errors"
	"fmt"
	"time"
)

// Source is where lines come from. One goroutine opens and reads it; Close may be
// called from any other.
type Source interface {
	// Open makes the source ready to be read. Its error says what is missing and
	// what to do. Opening twice panics.
	Open() error
	// Read returns the next line, and waits until there is one. The text stays valid
	// until the next Read. The error is io.EOF after the last line, ErrClosed once
	// Close was called, and another where the source cannot go on. A source that can
	// come back by itself gives no error but lines of the kinds Unplugged and Back.
	// Reading a source that was not opened panics.
	Read() (Line, error)
	// Close ends the source, and a Read that waits. Closing twice is no mistake.
	Close() error
	// Describe says what the source is, opened or not.
	Describe() Description
}

// ErrClosed is what Read returns once the source was closed.
var ErrClosed = errors.New("the source is closed")

// MaxLine is the greatest number of bytes in the text of a line. What is longer, or
// long and mostly no text, comes in pieces of the kind Cut.
const MaxLine = 512

// Kind says what a line is.
type Kind uint8

// The first four carry the text that arrived, the others say in words what happened.
const (
	Whole     Kind = iota // a line with its end
	First                 // the first after a port was opened: its beginning may be missing
	Half                  // the end is missing: the source ended or was unplugged
	Cut                   // a piece of a line that is longer than MaxLine, or long and no text
	Unplugged             // the port is gone
	Back                  // the port is there again
	Silent                // nothing has arrived for a while
	Heard                 // something arrives again
	Lost                  // lines could not be kept, and are lost
)

// kindMarks are the kinds' letters in a journal, and kindWords their words.
const kindMarks = "=^~>-+.:x"

var kindWords = [...]string{"line", "first line", "half line", "over-long line", "unplugged", "back", "silent", "heard again", "lines lost"}

// String returns the kind in words.
func (k Kind) String() string {
	if int(k) < len(kindWords) {
		return kindWords[k]
	}
	return "unknown kind"
}

// Event reports whether the line says what happened, and is none that arrived.
func (k Kind) Event() bool { return k >= Unplugged }

// Line is one line of text and when it arrived.
type Line struct {
	Number int64     // from 1, given by the recorder; 0 as a source gives it
	At     time.Time // when its end arrived, by the clock of the computer
	Kind   Kind
	Text   []byte // without its end; at most MaxLine bytes
}

// Description says what a source is.
type Description struct {
	Kind      string // "serial port", "pipe", "recorded file", "simulated rig"
	Name      string // the port, the file, or what is simulated
	Speed     int    // baud; 0 where there is none
	Simulated bool   // nothing real is measured
	Waits     bool   // nothing is lost where it is not read for a while
}

// String returns the description in words.
func (d Description) String() string {
	s := d.Kind + " " + d.Name
	if d.Speed > 0 {
		s += fmt.Sprintf(" at %d baud", d.Speed)
	}
	if d.Simulated {
		s += " (simulated: nothing is measured)"
	}
	return s
}

// Clock tells the time and waits.
type Clock interface {
	Now() time.Time
	After(d time.Duration) <-chan time.Time
}

// SystemClock is the computer's own clock.
type SystemClock struct{}

// Now returns the time, with its monotonic part.
func (SystemClock) Now() time.Time { return time.Now() }

// After returns a channel that gives the time once d has passed.
func (SystemClock) After(d time.Duration) <-chan time.Time { return time.After(d) }

// state is what every source keeps to answer for the order of calls.
type state struct {
	opened bool
	done   chan struct{} // closed by Close
}

func (s *state) open() {
	if s.opened {
		panic("feed: a source is opened twice")
	}
	s.opened = true
}

func (s *state) reading() {
	if !s.opened {
		panic("feed: a source is read that is not open")
	}
}

// closed reports whether the channel is closed.
func closed(done <-chan struct{}) bool {
	select {
	case <-done:
		return true
	default:
		return false
	}
}
