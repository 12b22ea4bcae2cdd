package feed

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func mustPattern(t testing.TB, s string) *Pattern {
	t.Helper()
	p, err := ParsePattern(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// parse runs lines through a parser.
func parse(p *Pattern, lines []Line) (*Batch, *Parser) {
	var b Batch
	parser := NewParser(p, 0)
	for _, l := range lines {
		parser.Add(l, &b)
	}
	parser.Finish(&b)
	return &b, parser
}

func forces(b *Batch) []float64 {
	var out []float64
	for _, s := range b.Samples {
		out = append(out, s.Force)
	}
	return out
}

func whats(b *Batch) []What {
	var out []What
	for _, e := range b.Events {
		out = append(out, e.What)
	}
	return out
}

func TestParserFindsTheFormatAndKeepsTheFirstLines(t *testing.T) {
	b, p := parse(nil, arriving(10, series(20, func(i int) string { return fmt.Sprintf("%d,%d", 5000+100*i, i) })...))
	if len(b.Samples) != 20 || b.Samples[0].Force != 0 || b.Samples[0].Device != 5 || b.Samples[19].Line != 20 {
		t.Errorf("%d samples, the first %+v", len(b.Samples), b.Samples[0])
	}
	if d := cmp.Diff([]What{WhatFormat}, whats(b)); d != "" {
		t.Error(d)
	}
	if want := "time in milliseconds, then force as counts; pattern {time_ms},{counts}"; b.Events[0].Words != want {
		t.Errorf("said %q, want %q", b.Events[0].Words, want)
	}
	if c := p.Counts(); c != (Counts{Lines: 20, Samples: 20}) {
		t.Errorf("counts %+v", c)
	}
}

// A fixed number of lines is enough, and a slow device is not waited for longer.
func TestParserSettlesSoon(t *testing.T) {
	for _, c := range []struct {
		rate float64
		line string
		most int64 // lines
	}{
		{10, "%[1]d", 5},               // nothing to learn about a clock
		{10, "%[2]d,%[1]d", 6},         // 0.5 s of a clock
		{1000, "%[2]d,%[1]d", 512},     // 0.5 s of a clock, rounded up to the next look
		{1, "%[2]d,%[1]d", 5},          //
		{1000, "%[1]d;%[1]d;x", 5 * 2}, // no clock: the next power of two
	} {
		parser := NewParser(nil, 0)
		var b Batch
		n := int64(0)
		for i := 0; parser.Pattern() == nil && i < 2000; i++ {
			n++
			at := float64(i) / c.rate
			parser.Add(Line{Number: n, At: start.Add(time.Duration(at * 1e9)), Text: fmt.Appendf(nil, c.line, wobble(i), int(at*1000))}, &b)
		}
		if n > c.most {
			t.Errorf("%s at %v a second: %d lines until the format was found, want at most %d", c.line, c.rate, n, c.most)
		}
	}
}

func TestParserNeverUsesWhatMayBeIncomplete(t *testing.T) {
	lines := arriving(10, "34,99", "100,1", "200,2", "300,33333", "", "# remark", "what?", "400,4")
	lines[0].Kind, lines[3].Kind = First, Half
	b, p := parse(mustPattern(t, "{time_ms},{counts}"), lines)
	if d := cmp.Diff([]float64{1, 2, 4}, forces(b)); d != "" {
		t.Error(d)
	}
	if want := (Counts{Lines: 8, Samples: 3, Garbage: 1, Unsure: 2, Remarks: 2}); p.Counts() != want {
		t.Errorf("counts %+v, want %+v", p.Counts(), want)
	}
	if string(p.Example()) != "what?" {
		t.Errorf("the example is %q", p.Example())
	}
	if d := cmp.Diff([]What{WhatGarbage}, whats(b)); d != "" {
		t.Error(d)
	}
	if !strings.Contains(b.Events[0].Words, `"what?"`) {
		t.Errorf("said %q", b.Events[0].Words)
	}
}

func TestParserHasAByteOrderMarkAndAHeader(t *testing.T) {
	b, p := parse(nil, arriving(10, append([]string{"\ufefftime_ms,force_n"}, series(6, func(i int) string { return fmt.Sprintf("%d,%d", 5*i, i) })...)...))
	if len(b.Samples) != 6 || p.Counts().Remarks != 1 || p.Counts().Garbage != 0 || p.Pattern().String() != "{time_ms},{force_n}" {
		t.Errorf("%d samples by %v, counts %+v", len(b.Samples), p.Pattern(), p.Counts())
	}
}

// 2³² ms and 2³² µs: where a counter of 32 bits begins again.
func TestDeviceClock(t *testing.T) {
	for name, c := range map[string]struct {
		pattern   string
		sent      []string
		device    []float64
		segment   int
		restarted int
	}{
		"restart":           {"{time_ms},{counts}", []string{"90000,1", "91000,1", "100,1", "200,1"}, []float64{90, 91, 0.1, 0.2}, 1, 1},
		"32 bits of µs end": {"{time_us},{counts}", []string{"4294960000,1", "4294965000,1", "2704,1", "7704,1"}, []float64{4294.96, 4294.965, 4294.97, 4294.975}, 0, 0},
		"32 bits of ms end": {"{time_ms},{counts}", []string{"4294967000,1", "204,1"}, []float64{4294967, 4294967.5}, 0, 0},
		"seconds have none": {"{time_s},{counts}", []string{"4294.9,1", "0.1,1"}, []float64{4294.9, 0.1}, 1, 1},
		"no clock":          {"{counts}", []string{"3", "2"}, []float64{nan, nan}, 0, 0},
	} {
		b, p := parse(mustPattern(t, c.pattern), arriving(10, c.sent...))
		var device []float64
		for _, s := range b.Samples {
			device = append(device, s.Device)
		}
		// 1e-9 s: sums of numbers of up to 4.3e6 s in float64.
		if d := cmp.Diff(c.device, device, cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-9)); d != "" {
			t.Errorf("%s:\n%s", name, d)
		}
		if got := b.Samples[len(b.Samples)-1].Segment; got != c.segment || p.Counts().Segments != c.segment {
			t.Errorf("%s: segment %d, want %d", name, got, c.segment)
		}
		if len(b.Events) != c.restarted {
			t.Errorf("%s: events %v, want %d", name, whats(b), c.restarted)
		}
	}
}

func TestPluggingBeginsASegment(t *testing.T) {
	lines := arriving(10, "1", "gone", "back", "2")
	lines[1].Kind, lines[2].Kind = Unplugged, Back
	b, _ := parse(mustPattern(t, "{counts}"), lines)
	if len(b.Samples) != 2 || b.Samples[0].Segment != 0 || b.Samples[1].Segment != 1 {
		t.Errorf("samples %+v", b.Samples)
	}
	if d := cmp.Diff([]What{WhatUnplugged, WhatBack}, whats(b)); d != "" {
		t.Error(d)
	}
}

func TestNoCommonForm(t *testing.T) {
	b, p := parse(nil, arriving(100, series(600, func(i int) string { return strings.Repeat("a1", 1+i%40) })...))
	if p.Pattern() != nil || len(b.Events) == 0 || b.Events[0].What != WhatNoFormat || p.Counts().Garbage != 600 {
		t.Errorf("pattern %v, events %v, counts %+v", p.Pattern(), b.Events, p.Counts())
	}
}

// Garbage is spoken of at once, and then at most every 10 s.
func TestGarbageIsNotRepeated(t *testing.T) {
	lines := arriving(10, series(400, func(i int) string {
		if i%10 == 5 {
			return "??"
		}
		return fmt.Sprint(i)
	})...)
	b, p := parse(mustPattern(t, "{counts}"), lines)
	if p.Counts().Garbage != 40 || len(b.Events) != 4 {
		t.Errorf("%d unreadable lines in 40 s, spoken of %d times: %v", p.Counts().Garbage, len(b.Events), b.Events)
	}
}

// Whatever arrives, every line is counted once, and every sample has a number.
func FuzzParser(f *testing.F) {
	f.Add([]byte("1,2\n2,3\n3,4\n4,5\n5,6\n"), "", uint16(100))
	f.Add([]byte("# x\n1;2,5\n2;2,75\n\x80\x90\n3;3,5\n"), "", uint16(1000))
	f.Add([]byte("t=1 F=2\nt=0 F=3\n12\nt=5 F"), "t={time_ms} F={counts}", uint16(3))
	f.Fuzz(func(t *testing.T, data []byte, pattern string, millis uint16) {
		p, err := ParsePattern(pattern)
		if err != nil {
			p = nil
		}
		var s splitter
		s.restart(len(data)%2 == 0)
		s.fill(data, start)
		var b Batch
		parser := NewParser(p, 9600)
		n := int64(0)
		add := func(l Line) {
			n++
			l.Number, l.At = n, start.Add(time.Duration(n)*time.Duration(millis)*time.Millisecond)
			parser.Add(l, &b)
		}
		for l, ok := s.next(); ok; l, ok = s.next() {
			add(l)
		}
		if l, ok := s.rest(); ok {
			add(l)
		}
		parser.Finish(&b)
		c := parser.Counts()
		if c.Lines != n || c.Lines != c.Samples+c.Garbage+c.Unsure+c.Remarks+c.Waiting || c.Samples != int64(len(b.Samples)) {
			t.Fatalf("%d lines, %d samples, counts %+v", n, len(b.Samples), c)
		}
		last := int64(0)
		for _, s := range b.Samples {
			if s.Line <= last || math.IsNaN(s.Force) || math.IsInf(s.Force, 0) {
				t.Fatalf("sample %+v after line %d", s, last)
			}
			last = s.Line
		}
	})
}

func TestParserAllocatesLittle(t *testing.T) {
	parser := NewParser(mustPattern(t, "{time_ms},{counts}"), 0)
	b := Batch{Samples: make([]Sample, 0, 8)}
	line := Line{Number: 1, At: start, Text: []byte("123456,8388607")}
	n := testing.AllocsPerRun(100, func() {
		b.Samples = b.Samples[:0]
		parser.Add(line, &b)
	})
	if n != 0 {
		t.Errorf("a line allocates %v times", n)
	}
}
