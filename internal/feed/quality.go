package feed

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Speeds are those that boards and amplifiers commonly use, baud, the most common
// first. Common practice, no source.
var Speeds = []int{115200, 9600, 57600, 38400, 19200, 230400, 250000, 500000, 1000000, 4800, 2400}

// quality watches how many of the last lines are readable, and says when most are
// not.
type quality struct {
	bad      [32]bool // ring of the last lines
	signs    [32]int  // share of their bytes that are no text, in per cent; 100 for pieces without an end
	n        int      // lines looked at
	advice   string
	speaking bool
}

// leastJudged is the number of lines from which their share is judged: boards say a
// few odd lines when they start.
const leastJudged = 12

// pieceWeight is the number of lines that a piece without an end stands for.
const pieceWeight = 4

func (q *quality) add(bad bool, strange int) {
	i := q.n % len(q.bad)
	q.bad[i], q.signs[i] = bad, strange
	q.n++
}

// share returns the share of the last lines that are unreadable, and the mean share
// of their bytes that are no text, both in per cent.
func (q *quality) share() (bad, strange int) {
	n := min(q.n, len(q.bad))
	count, sum := 0, 0
	for i := range n {
		if q.bad[i] {
			count++
			sum += q.signs[i]
		}
	}
	if count == 0 {
		return 0, 0
	}
	return 100 * count / n, sum / count
}

// judgeQuality takes one line into account, and says when the lines turn unreadable,
// and when they are readable again.
func (p *Parser) judgeQuality(l Line, text []byte, good bool, b *Batch) {
	q := &p.quality
	if good {
		q.add(false, 0)
	} else {
		strange := strangeShare(text)
		q.add(true, strange)
		for range pieceWeight - 1 {
			if l.Kind == Cut {
				q.add(true, 100)
			}
		}
	}
	if q.n < leastJudged {
		return
	}
	bad, strange := q.share()
	switch {
	case !q.speaking && bad >= 50:
		q.speaking = true
		what := WhatGarbage
		if strange >= 10 && p.speed > 0 {
			what = WhatWrongSpeed
			q.advice = fmt.Sprintf("%d %% of the last lines are no text, or have no end, at %d baud: the speed is probably wrong; try %s", bad, p.speed, otherSpeeds(p.speed))
		} else if p.pattern != nil {
			q.advice = fmt.Sprintf("%d %% of the last lines do not fit the pattern %s, such as %s: look at what the device sends, and give the pattern", bad, p.pattern, quoteLine(text))
		} else {
			q.advice = fmt.Sprintf("%d %% of the last lines are no text, such as %s: look at what the device sends", bad, quoteLine(text))
		}
		b.Events = append(b.Events, Event{l.Number, l.At, what, q.advice})
	case q.speaking && bad < 20:
		q.speaking, q.advice = false, ""
		b.Events = append(b.Events, Event{l.Number, l.At, WhatClear, "lines are readable again"})
	}
}

func otherSpeeds(speed int) string {
	others := slices.DeleteFunc(slices.Clone(Speeds), func(s int) bool { return s == speed })
	var words []string
	for _, s := range others {
		words = append(words, fmt.Sprint(s))
	}
	return strings.Join(words, ", ")
}

// strangeShare returns the share of a line's bytes that no text has, in per cent.
func strangeShare(text []byte) int {
	if len(text) == 0 {
		return 0
	}
	n := 0
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size == 1 || r < ' ' && r != '\t' || r == 0x7f {
			n += size
		}
		i += size
	}
	return 100 * n / len(text)
}
