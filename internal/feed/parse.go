package feed

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Sample is one reading.
type Sample struct {
	Line    int64     // the number of its line
	At      time.Time // when it arrived
	Device  float64   // s by the device's clock, which starts anywhere; NaN where lines carry none
	Force   float64   // N, or counts: Pattern.Counts says which
	Travel  float64   // mm, or as sent: Pattern.TravelKnown says which; NaN where there is none
	Segment int       // from 0; one more after each gap or restart, where the device's clock may begin anew
}

// What says of an event what happened.
type What string

// What can happen. The first five come from the source and the recorder.
const (
	WhatUnplugged   What = "unplugged"
	WhatBack        What = "back"
	WhatSilent      What = "silent"
	WhatHeard       What = "heard again"
	WhatLost        What = "lines lost"
	WhatFormat      What = "format found"
	WhatNoFormat    What = "no format"
	WhatGarbage     What = "unreadable"
	WhatWrongSpeed  What = "wrong speed"
	WhatClear       What = "readable again"
	WhatRestarted   What = "device restarted"
	WhatSinkFailed  What = "not kept"
	WhatSinkWorking What = "kept again"
)

// Event is something a person should know, in words.
type Event struct {
	Line  int64 // the number of the line at which it happened
	At    time.Time
	What  What
	Words string
}

// Counts of lines, by what became of them. A line is counted once.
type Counts struct {
	Lines    int64 // all that arrived, events apart
	Samples  int64
	Garbage  int64 // did not fit
	Unsure   int64 // first, half or over-long lines
	Remarks  int64 // comments, column names and empty lines
	Waiting  int64 // kept until the format is found
	Segments int   // how often the device's clock may have begun anew
}

// Parser makes samples of lines. Its output depends on nothing but the lines and
// their times, so that a journal read again gives what the live feed gave.
type Parser struct {
	pattern  *Pattern
	found    Detected
	speed    int
	counts   Counts
	example  []byte // of a line that did not fit
	waiting  []Line
	tried    time.Time
	clock    deviceClock
	quality  quality
	reported time.Time // when lines that did not fit were last spoken of
	since    int64     // lines that did not fit since then
	last     time.Time
}

// NewParser returns a parser for lines of the given pattern, or, with nil, one that
// finds it. speed is that of the source in baud, for advice; 0 where it has none.
func NewParser(p *Pattern, speed int) *Parser { return &Parser{pattern: p, speed: speed} }

// Pattern returns the pattern, nil until it is found.
func (p *Parser) Pattern() *Pattern { return p.pattern }

// Found returns what looking at the first lines found; Pattern is nil in it before,
// and where the pattern was given.
func (p *Parser) Found() Detected { return p.found }

// Counts returns what became of the lines so far.
func (p *Parser) Counts() Counts {
	c := p.counts
	c.Waiting = int64(len(p.waiting))
	c.Segments = p.clock.segment
	return c
}

// Example returns a line that did not fit, nil where there is none. It is the latest.
func (p *Parser) Example() []byte { return p.example }

// Advice says what to do about lines that do not fit; empty where most do.
func (p *Parser) Advice() string { return p.quality.advice }

// mostWaiting is the greatest number of lines that wait for the format.
const mostWaiting = 2048

// garbageEvery is how often unreadable lines are spoken of at most.
const garbageEvery = 10 * time.Second

// Add takes the next line and appends what it gives to the batch's samples and
// events.
func (p *Parser) Add(l Line, b *Batch) {
	p.last = l.At
	if l.Kind.Event() {
		if l.Kind == Unplugged || l.Kind == Back {
			p.clock.gap()
		}
		b.Events = append(b.Events, Event{l.Number, l.At, What(l.Kind.String()), string(l.Text)})
		return
	}
	p.counts.Lines++
	text := trimmed(l.Text)
	switch {
	case l.Kind != Whole:
		p.counts.Unsure++
		if l.Kind == Cut || !printable(text) {
			p.judgeQuality(l, text, false, b)
		}
	case len(text) == 0 || remark(text):
		p.counts.Remarks++
	case p.pattern != nil:
		p.match(l, text, b)
	case !printable(text):
		p.garbage(l, text, b)
	default:
		p.judgeQuality(l, text, true, b)
		p.wait(l, b)
	}
}

// Finish settles for the format that the lines so far show, where it was not found
// yet, and appends what they give. It is for the end of a source.
func (p *Parser) Finish(b *Batch) {
	if p.pattern == nil && len(p.waiting) > 0 {
		if d, ok := Detect(p.waiting, 1); ok {
			p.settle(d, b)
		} else {
			p.giveUp(len(p.waiting), b)
		}
	}
}

// match makes a sample of a line, or counts it as unreadable.
func (p *Parser) match(l Line, text []byte, b *Batch) {
	v, ok := p.pattern.Match(text)
	if !ok && p.counts.Samples == 0 && headerNames(string(text), len(p.pattern.fields())) != nil {
		p.counts.Remarks++
		return
	}
	if !ok {
		p.garbage(l, text, b)
		return
	}
	p.counts.Samples++
	p.judgeQuality(l, text, true, b)
	device, restarted := p.clock.read(v.Time, p.pattern)
	if restarted {
		b.Events = append(b.Events, Event{l.Number, l.At, WhatRestarted, "the device's clock went back: it has started again"})
	}
	b.Samples = append(b.Samples, Sample{l.Number, l.At, device, v.Force, v.Travel, p.clock.segment})
}

// garbage counts a line that is no reading and keeps it as the example.
func (p *Parser) garbage(l Line, text []byte, b *Batch) {
	p.counts.Garbage++
	p.since++
	p.example = append(p.example[:0], text...)
	if p.reported.IsZero() || l.At.Sub(p.reported) >= garbageEvery {
		words := fmt.Sprintf("a line that is no reading: %s", quoteLine(text))
		if p.since > 1 {
			words = fmt.Sprintf("%d lines that are no readings, the last %s", p.since, quoteLine(text))
		}
		b.Events = append(b.Events, Event{l.Number, l.At, WhatGarbage, words})
		p.reported, p.since = l.At, 0
	}
	p.judgeQuality(l, text, false, b)
}

// wait keeps a line until the format is known, and looks again.
func (p *Parser) wait(l Line, b *Batch) {
	l.Text = append([]byte(nil), l.Text...)
	p.waiting = append(p.waiting, l)
	n := len(p.waiting)
	full := n >= mostWaiting
	if !full && n&(n-1) != 0 && l.At.Sub(p.tried) < 100*time.Millisecond {
		return
	}
	p.tried = l.At
	d, ok := Detect(p.waiting, 3)
	if bad, _ := p.quality.share(); bad >= 40 && !full {
		return // between lines that are no text, some look like numbers by chance
	}
	switch {
	case ok && (d.Sure || full || l.At.Sub(p.waiting[0].At) >= 2*time.Second):
		p.settle(d, b)
	case full:
		p.giveUp(mostWaiting/2, b)
	}
}

// settle takes a format and reads the lines that waited for it.
func (p *Parser) settle(d Detected, b *Batch) {
	p.found, p.pattern = d, d.Pattern
	words := fmt.Sprintf("%s; pattern %s", d.Words, d.Pattern)
	if len(d.Doubts) > 0 {
		words += "; " + strings.Join(d.Doubts, "; ")
	}
	last := p.waiting[len(p.waiting)-1]
	b.Events = append(b.Events, Event{last.Number, last.At, WhatFormat, words})
	waiting := p.waiting
	p.waiting = nil
	for _, l := range waiting {
		p.match(l, trimmed(l.Text), b)
	}
}

// giveUp counts the oldest n waiting lines as unreadable.
func (p *Parser) giveUp(n int, b *Batch) {
	last := p.waiting[len(p.waiting)-1]
	words := fmt.Sprintf("no form is common to the last %d lines, such as %s: give the pattern, as in {time_ms},{counts}",
		len(p.waiting), quoteLine(trimmed(last.Text)))
	b.Events = append(b.Events, Event{last.Number, last.At, WhatNoFormat, words})
	for _, l := range p.waiting[:n] {
		p.counts.Garbage++
		p.example = append(p.example[:0], trimmed(l.Text)...)
	}
	p.waiting = append(p.waiting[:0], p.waiting[n:]...)
}

// deviceClock follows the clock in the lines.
type deviceClock struct {
	last    float64 // as sent, s; NaN before the first
	ahead   float64 // s, for a counter of 32 bits that began again from 0
	segment int
	begun   bool
}

// gap begins a new segment: readings may be missing, and the device may have started
// again.
func (c *deviceClock) gap() {
	if c.begun {
		c.segment++
	}
	c.begun, c.ahead = false, 0
}

// read returns the time of a line on one unbroken scale for its segment. A clock that
// goes back was started again, unless it counts milli- or microseconds in 32 bits and
// came to their end.
func (c *deviceClock) read(t float64, p *Pattern) (device float64, restarted bool) {
	if math.IsNaN(t) {
		c.begun = true
		return t, false
	}
	if c.begun && t < c.last {
		const nearEnd = 0.99
		full := p.fullClock()
		if full > 0 && c.last > nearEnd*full && c.last < full && t < (1-nearEnd)*full {
			c.ahead += full
		} else {
			c.segment++
			c.ahead, restarted = 0, true
		}
	}
	c.begun, c.last = true, t
	return t + c.ahead, restarted
}

// fullClock returns the seconds after which a 32-bit counter in the pattern's unit of
// time begins again; 0 where the unit is not that of a counter.
func (p *Pattern) fullClock() float64 {
	switch {
	case p.has("time_ms"):
		return 1e-3 * (1 << 32)
	case p.has("time_us"):
		return 1e-6 * (1 << 32)
	}
	return 0
}

// fields returns the names in the pattern.
func (p *Pattern) fields() []field {
	var out []field
	for _, pt := range p.parts {
		if pt.isField() {
			out = append(out, pt.field)
		}
	}
	return out
}
