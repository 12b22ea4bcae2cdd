package feed

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// wire is a serial line as it is in time: 8 data bits, least first, between a start
// bit (0) and a stop bit (1), at a speed.
func wire(text string, speed int) func(seconds float64) int {
	var bits []int
	for _, c := range []byte(text) {
		bits = append(bits, 0)
		for i := range 8 {
			bits = append(bits, int(c>>i&1))
		}
		bits = append(bits, 1)
	}
	return func(seconds float64) int {
		i := int(seconds * float64(speed))
		if i < 0 || i >= len(bits) {
			return 1
		}
		return bits[i]
	}
}

// receive is what a receiver at another speed makes of it: from each falling edge it
// looks at the middle of eight bits, and waits for the line to be idle again.
func receive(level func(float64) int, speed int, until float64) []byte {
	var out []byte
	bit := 1 / float64(speed)
	for t := 0.0; t < until; t += bit / 16 {
		if level(t) == 1 {
			continue
		}
		c := byte(0)
		for i := range 8 {
			c |= byte(level(t+(1.5+float64(i))*bit)) << i
		}
		out = append(out, c)
		t += 9.5 * bit
		for t < until && level(t) == 0 {
			t += bit / 16
		}
	}
	return out
}

func TestReceiverAtTheRightSpeed(t *testing.T) {
	const text = "123,8388607\r\n"
	if got := string(receive(wire(text, 9600), 9600, 0.1)); got != text {
		t.Errorf("received %q", got)
	}
}

// Whatever two common speeds are confused, that is said within 4 s, with the right
// one among those to try, and nothing is taken for a reading. A board sends 80 lines
// a second.
func TestWrongSpeed(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	speeds := []int{9600, 19200, 38400, 57600, 115200, 230400}
	for _, sent := range speeds {
		for _, read := range speeds {
			const lines = 320
			parser := NewParser(nil, read)
			var b Batch
			var s splitter
			s.restart(true)
			n := int64(0)
			for i := range lines {
				text := fmt.Sprintf("%d,%d\r\n", 5000+12*i, 84210+rng.IntN(400))
				at := start.Add(time.Duration(i) * 12500 * time.Microsecond)
				s.fill(receive(wire(text, sent), read, float64(10*len(text))/float64(sent)), at)
				for l, ok := s.next(); ok; l, ok = s.next() {
					n++
					l.Number = n
					parser.Add(l, &b)
				}
			}
			var wrong []string
			for _, e := range b.Events {
				if e.What == WhatWrongSpeed {
					wrong = append(wrong, e.Words)
				}
			}
			parser.Finish(&b)
			switch {
			case sent == read && (wrong != nil || len(b.Samples) != lines-1):
				t.Errorf("at the right speed %d: said %q, %d samples", sent, wrong, len(b.Samples))
			case sent != read && len(b.Samples) > 0:
				t.Errorf("%d read at %d: %d samples by %s, such as %+v", sent, read, len(b.Samples), parser.Pattern(), b.Samples[0])
			case sent != read && (len(wrong) != 1 || !strings.Contains(wrong[0], fmt.Sprint(sent)) || parser.Advice() != wrong[0]):
				t.Errorf("%d read at %d: %d lines, said %q, advice %q", sent, read, n, wrong, parser.Advice())
			}
		}
	}
}

// A board that says a few odd lines when it starts is no reason to speak of speed.
func TestStartOfABoardIsNoWrongSpeed(t *testing.T) {
	lines := arriving(10, append([]string{"\x80\xf0\xe0rl", "ready", "\xff"}, series(60, func(i int) string { return fmt.Sprint(i % 7) })...)...)
	b, p := parse(nil, lines)
	if len(b.Samples) != 60 || p.Advice() != "" {
		t.Errorf("%d samples, advice %q, events %v", len(b.Samples), p.Advice(), b.Events)
	}
}
