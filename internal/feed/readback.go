package feed

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Record is a journal that was read back.
type Record struct {
	Header
	Found   string // the pattern that was found while it was written; empty where none was
	Lines   []Line // by number
	Ended   bool   // the feed ended in order, and did not crash
	Torn    bool   // the last line has no end and was left out
	Damaged int    // lines that could not be read and were left out
	Example string // one of them
	Missing int64  // numbers that are lacking between the first and the last
}

// ReadJournal reads a journal, whatever its end looks like. The error says that it is
// no journal, or one of a later version, or that reading failed. Damaged lines are
// left out and counted.
func ReadJournal(r io.Reader) (Record, error) {
	in := journalReader{r: bufio.NewReaderSize(r, 4*MaxLine+128)}
	var rec Record
	if err := in.header(&rec.Header); err != nil {
		return rec, err
	}
	for {
		s, err := in.line()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return rec, fmt.Errorf("reading the journal: %w", err)
		}
		rec.take(s)
	}
	rec.Torn = in.torn
	rec.sort()
	return rec, nil
}

// take reads one line after the header.
func (rec *Record) take(s []byte) {
	if pattern, ok := bytes.CutPrefix(s, []byte("#pattern\t")); ok {
		if text, ok := unescape(pattern); ok {
			rec.Found = string(text)
			return
		}
	}
	if string(s) == "#end" {
		rec.Ended = true
		return
	}
	if l, ok := decodeLine(s, rec.Started); ok {
		rec.Lines = append(rec.Lines, l)
		return
	}
	rec.Damaged++
	rec.Example = string(s[:min(len(s), 60)])
}

// sort orders lines by number; of two with one number the later stays.
func (rec *Record) sort() {
	slices.SortStableFunc(rec.Lines, func(a, b Line) int {
		switch {
		case a.Number < b.Number:
			return -1
		case a.Number > b.Number:
			return 1
		}
		return 0
	})
	kept := rec.Lines[:0]
	for i, l := range rec.Lines {
		if i+1 < len(rec.Lines) && rec.Lines[i+1].Number == l.Number {
			continue
		}
		kept = append(kept, l)
	}
	rec.Lines = kept
	if n := len(kept); n > 0 {
		rec.Missing = kept[n-1].Number - kept[0].Number + 1 - int64(n)
	}
}

// Batch makes samples of the lines: by the given pattern, or with nil by the one that
// the journal names, or by looking where it names none. The error is that of a
// pattern in the journal that is none.
func (rec *Record) Batch(p *Pattern) (*Batch, Counts, error) {
	text := rec.Header.Pattern
	if text == "" {
		text = rec.Found
	}
	if p == nil && text != "" {
		var err error
		if p, err = ParsePattern(text); err != nil {
			return nil, Counts{}, fmt.Errorf("the journal's own pattern: %w", err)
		}
	}
	parser := NewParser(p, 0)
	b := &Batch{Lines: rec.Lines}
	for _, l := range rec.Lines {
		parser.Add(l, b)
	}
	parser.Finish(b)
	b.Pattern = parser.Pattern()
	return b, parser.Counts(), nil
}

// journalReader reads lines of bounded length.
type journalReader struct {
	r    *bufio.Reader
	torn bool
}

// line returns the next line without its end. A line that is too long for a journal
// comes cut, so that it counts as damaged. One without an end is left out.
func (in *journalReader) line() ([]byte, error) {
	s, err := in.r.ReadSlice('\n')
	if err == nil {
		return s[:len(s)-1], nil
	}
	if errors.Is(err, io.EOF) {
		in.torn = len(s) > 0
		return nil, io.EOF
	}
	if !errors.Is(err, bufio.ErrBufferFull) {
		return nil, err
	}
	start := append([]byte("\x00"), s[:60]...) // no journal has this
	for errors.Is(err, bufio.ErrBufferFull) {
		_, err = in.r.ReadSlice('\n')
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	return start, nil
}

// header reads up to the empty line.
func (in *journalReader) header(h *Header) error {
	first, err := in.line()
	version, ok := strings.CutPrefix(string(first), journalMark)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("reading the journal: %w", err)
	}
	n, errVersion := strconv.Atoi(version)
	switch {
	case !ok || errVersion != nil:
		return fmt.Errorf("this is no journal: its first line should be %q", journalMark+strconv.Itoa(journalVersion))
	case n != journalVersion:
		return fmt.Errorf("this journal is of version %d, and this program knows version %d: read it with a later program", n, journalVersion)
	}
	for {
		s, err := in.line()
		if err != nil {
			return fmt.Errorf("the journal ends within its header: nothing was recorded")
		}
		if len(s) == 0 {
			break
		}
		key, value, _ := strings.Cut(string(s), ": ")
		text, ok := unescape([]byte(value))
		if !ok {
			return fmt.Errorf("the journal's header is damaged at %q", key)
		}
		switch key {
		case "source":
			h.Source = string(text)
		case "simulated":
			h.Simulated = string(text) == "yes"
		case "pattern":
			h.Pattern = string(text)
		case "started":
			if h.Started, err = time.Parse(time.RFC3339Nano, string(text)); err != nil {
				return fmt.Errorf("the journal's header says no time of start: %q", text)
			}
		}
	}
	if h.Started.IsZero() {
		return fmt.Errorf("the journal's header lacks the time of its start")
	}
	return nil
}
