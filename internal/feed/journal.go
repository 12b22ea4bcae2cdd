package feed

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// A journal is a text file that only grows:
//
//	bondtrial journal 1
//	source: serial port /dev/ttyACM0 at 115200 baud
//	started: 2026-03-01T09:30:00.000000000Z
//
//	=1<tab>0.012345<tab>5012,8388607
//	.2<tab>2.100000<tab>nothing has arrived since 09:30:00
//	#pattern<tab>{time_ms},{counts}
//	#end
//
// After an empty line each line is one [Line]: a sign for its kind (= whole, ^ first,
// ~ half, > over-long, - unplugged, + back, . silent, : heard again, x lines lost),
// its number, the seconds since the start, and its text, in which a backslash, and
// whatever is no text, is written \\ or as \x and two hexadecimal digits. Lines with
// # say which pattern was found, and that the feed ended in order. What a crash left
// is whatever lines have their end.
const (
	journalMark    = "bondtrial journal "
	journalVersion = 1
)

// JournalFile is what a journal is written to; *os.File is one. Sync returns once
// what was written would survive a loss of power.
type JournalFile interface {
	io.Writer
	Sync() error
}

// Header says what a journal is of.
type Header struct {
	Source    string // in words
	Simulated bool
	Started   time.Time
	Pattern   string // the pattern that was given; empty where it was to be found
}

// Journal writes lines to a file so that they survive a crash. It is a sink: after
// Keep has returned nil, the lines are on disk.
type Journal struct {
	file    JournalFile
	started time.Time
	pending []byte // encoded, not yet written
	last    int64  // the number of the last line encoded
	pattern string // the last one written
}

// NewJournal writes the header to a new, empty file.
func NewJournal(f JournalFile, h Header) (*Journal, error) {
	j := &Journal{file: f, started: h.Started, pending: encodeHeader(h), pattern: h.Pattern}
	return j, j.flush()
}

func encodeHeader(h Header) []byte {
	b := fmt.Appendf(nil, "%s%d\nsource: %s\nstarted: %s\n", journalMark, journalVersion, escape(nil, []byte(h.Source)), h.Started.Format(time.RFC3339Nano))
	if h.Simulated {
		b = append(b, "simulated: yes\n"...)
	}
	if h.Pattern != "" {
		b = fmt.Appendf(b, "pattern: %s\n", escape(nil, []byte(h.Pattern)))
	}
	return append(b, '\n')
}

// Keep writes the lines of a batch and waits until they are on disk. After an error
// the same batch may be given again: what was written is not written twice.
func (j *Journal) Keep(b *Batch) error {
	for _, l := range b.Lines {
		if l.Number > j.last {
			j.pending = encodeLine(j.pending, l, j.started)
			j.last = l.Number
		}
	}
	if b.Pattern != nil && b.Pattern.String() != j.pattern {
		j.pattern = b.Pattern.String()
		j.pending = fmt.Appendf(j.pending, "#pattern\t%s\n", escape(nil, []byte(j.pattern)))
	}
	return j.flush()
}

// End writes that the feed ended in order. The file stays open.
func (j *Journal) End() error {
	j.pending = append(j.pending, "#end\n"...)
	return j.flush()
}

// flush writes what is pending, going on where an earlier try stopped.
func (j *Journal) flush() error {
	if len(j.pending) > 0 {
		n, err := j.file.Write(j.pending)
		j.pending = append(j.pending[:0], j.pending[max(n, 0):]...)
		if err != nil {
			return fmt.Errorf("writing the journal: %w", err)
		}
	}
	if err := j.file.Sync(); err != nil {
		return fmt.Errorf("getting the journal onto the disk: %w", err)
	}
	return nil
}

// encodeLine appends a line as it stands in a journal.
func encodeLine(b []byte, l Line, started time.Time) []byte {
	b = append(b, kindMarks[l.Kind])
	b = strconv.AppendInt(b, l.Number, 10)
	b = append(b, '\t')
	micros := l.At.Sub(started).Microseconds()
	if micros < 0 {
		b = append(b, '-')
		micros = -micros
	}
	b = strconv.AppendInt(b, micros/1e6, 10)
	b = append(b, '.')
	digits := strconv.AppendInt(nil, micros%1e6, 10)
	b = append(b, "000000"[len(digits):]...)
	b = append(b, digits...)
	b = append(b, '\t')
	b = escape(b, l.Text)
	return append(b, '\n')
}

// decodeLine reads a line of a journal, without its end.
func decodeLine(s []byte, started time.Time) (l Line, ok bool) {
	if len(s) == 0 {
		return l, false
	}
	kind := strings.IndexByte(kindMarks, s[0])
	n, rest, ok1 := bytes.Cut(s[1:], []byte{'\t'})
	seconds, text, ok2 := bytes.Cut(rest, []byte{'\t'})
	if kind < 0 || !ok1 || !ok2 {
		return l, false
	}
	l.Kind = Kind(kind)
	var err error
	if l.Number, err = strconv.ParseInt(string(n), 10, 64); err != nil || l.Number < 1 || n[0] == '+' {
		return l, false
	}
	micros, ok := decodeSeconds(string(seconds))
	if !ok {
		return l, false
	}
	l.At = started.Add(time.Duration(micros) * time.Microsecond)
	l.Text, ok = unescape(text)
	return l, ok && len(l.Text) <= MaxLine
}

// decodeSeconds reads seconds with six decimals and returns microseconds.
func decodeSeconds(s string) (int64, bool) {
	whole, part, ok := strings.Cut(s, ".")
	digits, negative := strings.CutPrefix(whole, "-")
	if !ok || len(part) != 6 || digits == "" || len(digits) > 10 {
		return 0, false
	}
	for _, c := range digits + part {
		if c < '0' || c > '9' {
			return 0, false
		}
	}
	micros, err := strconv.ParseInt(digits+part, 10, 64)
	if negative {
		micros = -micros
	}
	return micros, err == nil && micros < 9e15 && micros > -9e15
}

// escape appends text with every byte that is no text, and every backslash, escaped.
// Tabs stay.
func escape(b, text []byte) []byte {
	const hex = "0123456789abcdef"
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		switch {
		case r == '\\':
			b = append(b, '\\', '\\')
		case r == utf8.RuneError && size == 1, r < ' ' && r != '\t', r == 0x7f:
			b = append(b, '\\', 'x', hex[text[i]>>4], hex[text[i]&15])
		default:
			b = append(b, text[i:i+size]...)
		}
		i += size
	}
	return b
}

// unescape undoes escape; ok is false for what escape never writes.
func unescape(s []byte) (text []byte, ok bool) {
	text = make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] < ' ' && s[i] != '\t' || s[i] == 0x7f:
			return nil, false
		case s[i] != '\\':
			text = append(text, s[i])
			continue
		case i+1 < len(s) && s[i+1] == '\\':
			text = append(text, '\\')
			i++
			continue
		case i+3 >= len(s) || s[i+1] != 'x':
			return nil, false
		}
		v, err := strconv.ParseUint(string(s[i+2:i+4]), 16, 8)
		if err != nil {
			return nil, false
		}
		text = append(text, byte(v))
		i += 3
	}
	return text, true
}
