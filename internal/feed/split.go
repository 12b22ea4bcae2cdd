package feed

import (
	"bytes"
	"time"
)

// splitter cuts what arrives into lines. A line ends with a line feed, a carriage
// return, or both.
type splitter struct {
	part   []byte    // of the line that has begun
	began  time.Time // when its first byte arrived
	chunk  []byte    // not yet looked at
	at     time.Time // when the chunk arrived
	looked bool      // its first strangePiece bytes were looked at
	long   bool      // the line that has begun gave a piece already
	first  bool      // the line that has begun may lack its beginning
	skipLF bool      // a carriage return ended the last line: a line feed belongs to it
}

// restart forgets the line that has begun. Where joined is true the next one may
// lack its beginning.
func (s *splitter) restart(joined bool) { *s = splitter{part: s.part[:0], first: joined} }

// fill takes what arrived at a time. The last chunk must have been used up.
func (s *splitter) fill(chunk []byte, at time.Time) { s.chunk, s.at = chunk, at }

// next returns the next line of the chunk, valid until the following call, or
// ok = false where it holds no further line's end.
func (s *splitter) next() (l Line, ok bool) {
	if s.part == nil {
		s.part = make([]byte, 0, MaxLine)
	}
	if s.skipLF && len(s.chunk) > 0 {
		s.skipLF = false
		if s.chunk[0] == '\n' {
			s.chunk = s.chunk[1:]
		}
	}
	if len(s.part) == 0 {
		s.began = s.at
	}
	for {
		limit := MaxLine
		if !s.looked {
			limit = strangePiece
		}
		room := limit - len(s.part)
		window := s.chunk[:min(len(s.chunk), room+1)]
		if i := bytes.IndexAny(window, "\r\n"); i >= 0 {
			s.skipLF = window[i] == '\r'
			s.part = append(s.part, window[:i]...)
			s.chunk = s.chunk[i+1:]
			return s.give(Whole), true
		}
		if len(window) <= room {
			s.part = append(s.part, window...)
			s.chunk = nil
			if s.at.Sub(s.began) >= strangeTime && s.odd() {
				return s.cut(), true
			}
			return Line{}, false
		}
		s.part = append(s.part, window[:room]...)
		s.chunk = s.chunk[room:]
		s.looked = true
		if limit == MaxLine || strangeShare(s.part) >= strangeFrom {
			return s.cut(), true
		}
	}
}

// A port that is read at the wrong speed gives bytes that are no text, or only signs,
// and hardly ever a line's end. They are given on in pieces: strangePiece bytes of
// which strangeFrom in 100 are no text; or, where strangeTime has gone by since the
// first, strangeLeast of such, or strangePiece of any.
const (
	strangePiece = 64
	strangeLeast = 4
	strangeTime  = time.Second
	strangeFrom  = 25
)

func (s *splitter) odd() bool {
	return len(s.part) >= strangePiece || len(s.part) >= strangeLeast && strangeShare(s.part) >= strangeFrom
}

// cut gives a piece of a line that goes on.
func (s *splitter) cut() Line {
	l := s.give(Cut)
	s.long, s.began = true, s.at
	return l
}

// rest returns the line that has begun and will not end; ok = false where there is
// none.
func (s *splitter) rest() (l Line, ok bool) {
	if len(s.part) == 0 {
		return Line{}, false
	}
	return s.give(Half), true
}

func (s *splitter) give(k Kind) Line {
	switch {
	case s.long:
		k = Cut
	case s.first && k == Whole:
		k = First
	}
	s.long, s.first, s.looked = false, false, false
	l := Line{At: s.at, Kind: k, Text: s.part}
	s.part = s.part[:0]
	return l
}
