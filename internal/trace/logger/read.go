package logger

import (
	"bytes"
	"fmt"
	"io"
	"runtime"
	"slices"

	"bondtrial/internal/handwritten"
	"bondtrial/internal/trace"
)

const (
	blockSize  = 1 << 20
	mostRecord = 100_000_000 // samples, of 24 bytes each
)

// Read reads a whole file; name is for messages. An error of type *Errors lists what
// is wrong with the file; any other comes from the reader.
func Read(r io.Reader, name string, opt Options) (*Result, error) {
	most := opt.MaxSamples
	if most <= 0 {
		most = mostRecord
	}
	// Parts are put together at the end, a column at a time, so that nothing is copied
	// over and over, and little is held twice.
	var parts [3][][]float64
	n := 0
	res, err := Stream(r, name, opt, func(part trace.Record) error {
		n += part.Len()
		if n > most {
			return whole(name, 0, "holds more than %d samples: cut it into files of one session each, or raise the limit", most)
		}
		for k, column := range [][]float64{part.Time, part.Force, part.Travel} {
			if column != nil {
				parts[k] = append(parts[k], slices.Clone(column))
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for k, column := range []*[]float64{&res.Time, &res.Force, &res.Travel} {
		if len(parts[k]) == 1 {
			*column = parts[k][0]
		} else {
			*column = slices.Concat(parts[k]...)
		}
		parts[k] = nil
	}
	return res, nil
}

// Stream reads a file and hands on its samples, some ten thousand at a time, in order;
// their memory is used again after each call. The record of the result is empty. What
// is wrong with a file is known only at its end: until then take may have been called
// with what is right. An error of take ends the reading and is returned.
func Stream(r io.Reader, name string, opt Options, take func(part trace.Record) error) (*Result, error) {
	if opt.Separator != "" && opt.Separator != "tab" && opt.Separator != "space" && (len(opt.Separator) != 1 || !bytes.Contains(separators, []byte(opt.Separator))) {
		return nil, fmt.Errorf("unknown separator %s: write , or ; or | or tab or space", handwritten.Quoted(opt.Separator))
	}
	if opt.Decimal != "" && opt.Decimal != "." && opt.Decimal != "," {
		return nil, fmt.Errorf("unknown decimal mark %s: write . or ,", handwritten.Quoted(opt.Decimal))
	}
	head := make([]byte, headSize)
	n, err := io.ReadFull(r, head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	ends := err != nil
	head = head[:n]
	if what := handwritten.NotText(string(head[:min(n, 64)])); what != "" {
		return nil, whole(name, 0, "is %s, not text: export the readings as CSV and give that file", what)
	}
	rest := io.Reader(bytes.NewReader(head))
	if !ends {
		rest = io.MultiReader(rest, r)
	}
	res := &Result{Name: name}
	if utf16 := utf16Reader(head, rest); utf16 != nil {
		res.note("encoded in UTF-16")
		head = make([]byte, headSize)
		n, err = io.ReadFull(utf16, head)
		if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
			return nil, fmt.Errorf("reading %s: %w", name, err)
		}
		ends, head = err != nil, head[:n]
		rest = io.Reader(bytes.NewReader(head))
		if !ends {
			rest = io.MultiReader(rest, utf16)
		}
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		copy(head, "   ") // spaces in its place keep every offset
	}
	if handwritten.Markup(string(head[:min(len(head), 400)])) {
		return nil, whole(name, 0, "is a web page or XML, not readings: export the readings as CSV and give that file")
	}
	l, err := understand(name, head, ends, opt)
	if err != nil {
		return nil, err
	}
	row := head[l.dataAt:]
	if i := bytes.IndexByte(row, l.eol); i >= 0 {
		row = row[:i]
	}
	p := newParser(l, opt, bytes.TrimRight(row, "\r "))
	if _, err := io.CopyN(io.Discard, rest, int64(l.dataAt)); err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	m := &merger{res: res, layout: l, opt: opt, take: take}
	res.Lines = l.dataLine - 1
	if err := run(rest, p, m, opt); err != nil {
		return nil, err
	}
	return m.finish()
}

func (r *Result) note(format string, args ...any) {
	r.Notes = append(r.Notes, fmt.Sprintf(format, args...))
}

// run reads blocks, has them understood, and merges them in order.
func run(r io.Reader, p *parser, m *merger, opt Options) error {
	workers := opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	size := opt.block
	if size <= 0 {
		size = blockSize
	}
	work, order := make(chan *block, workers), make(chan *block, workers+1)
	free := make(chan *block, 2*workers+4)
	quit := make(chan struct{})
	var failed error
	finished := make(chan struct{})
	go func() {
		defer close(finished)
		defer close(order)
		defer close(work)
		failed = cut(r, m.res.Name, p.eol, size, free, func(b *block) bool {
			select {
			case order <- b:
			case <-quit:
				return false
			}
			select {
			case work <- b:
				return true
			case <-quit:
				close(b.done)
				return false
			}
		})
	}()
	stopped := make(chan struct{}, workers)
	for range workers {
		go func() {
			for b := range work {
				p.parse(b)
				close(b.done)
			}
			stopped <- struct{}{}
		}()
	}
	var err error
	for b := range order {
		<-b.done
		if err == nil {
			if err = m.add(b); err != nil {
				close(quit)
			}
		}
		select {
		case free <- b:
		default:
		}
	}
	<-finished
	for range workers {
		<-stopped
	}
	if err != nil {
		return err
	}
	return failed
}

// mostLine is how long a line may be.
const mostLine = 16 << 20

// cut reads blocks that end at the end of a line and gives them to next until that
// says no.
func cut(r io.Reader, name string, eol byte, size int, free chan *block, next func(*block) bool) error {
	var carry []byte
	for ended := false; !ended; {
		var b *block
		select {
		case b = <-free:
			*b = block{text: b.text[:0], time: b.time[:0], force: b.force[:0], travel: b.travel[:0], problems: b.problems[:0]}
		default:
			b = &block{}
		}
		b.done = make(chan struct{})
		b.text = append(b.text, carry...)
		from := len(b.text)
		b.text = slices.Grow(b.text, size)[:from+size]
		n, err := io.ReadFull(r, b.text[from:])
		b.text = b.text[:from+n]
		switch err {
		case nil:
		case io.EOF, io.ErrUnexpectedEOF:
			ended = true
		default:
			return fmt.Errorf("reading %s: %w", name, err)
		}
		end := len(b.text)
		if !ended {
			end = bytes.LastIndexByte(b.text, eol) + 1
			if end == 0 && len(b.text) > mostLine {
				return whole(name, 0, "has a line of more than %d bytes: it is no list of readings", mostLine)
			}
		}
		carry = append(carry[:0], b.text[end:]...)
		b.text, b.last = b.text[:end], ended
		if !next(b) {
			return nil
		}
	}
	return nil
}

// merger puts blocks together in order.
type merger struct {
	res      *Result
	layout   *layout
	opt      Options
	take     func(trace.Record) error
	errs     Errors
	samples  int
	day      float64 // s added for midnights passed
	lastTime float64
	start    float64
	decimals int // at the end of the last whole line, 0 unknown
}

func (m *merger) add(b *block) error {
	for _, p := range b.problems {
		if len(m.errs.Problems) < MaxProblems {
			p.Line += m.res.Lines
			m.errs.Problems = append(m.errs.Problems, p)
		}
	}
	m.res.Bad += b.bad
	m.res.Lines += b.lines
	m.res.Comment += b.comments
	m.res.Blank += b.blanks
	m.res.Headers += b.same
	m.res.Cut = m.res.Cut || b.cut
	if b.decimals != noLine {
		m.decimals = b.decimals
	}
	n := len(b.force)
	if b.open && m.decimals > 0 && b.openDecimals < m.decimals {
		// It ends in fewer digits than the line before: the rest did not come.
		m.res.Cut = true
		n--
		b.time, b.force = b.time[:min(n, len(b.time))], b.force[:n]
		b.travel = b.travel[:min(n, len(b.travel))]
	}
	if n == 0 {
		return nil
	}
	if m.layout.columns[0].at < 0 {
		for i := range n {
			b.time = append(b.time, float64(m.samples+i)/m.opt.Rate)
		}
	} else if m.layout.columns[0].scale.clock {
		m.clock(b.time)
	}
	m.samples += n
	part := trace.Record{Time: b.time, Force: b.force}
	if m.layout.columns[2].at >= 0 {
		part.Travel = b.travel
	}
	return m.take(part)
}

// clock turns times of day into seconds from the first; one that goes back by half a
// day has passed midnight.
func (m *merger) clock(t []float64) {
	if m.samples == 0 {
		m.start, m.lastTime = t[0], t[0]
	}
	for i, v := range t {
		if m.layout.day < 0 && v < m.lastTime-43200 {
			m.day += 86400
		}
		m.lastTime = v
		t[i] = v + m.day - m.start
	}
}

// finish makes the result, or the error, of a file that was read to its end.
func (m *merger) finish() (*Result, error) {
	r := m.res
	if r.Bad > 0 && !m.opt.SkipBad {
		m.errs.Name, m.errs.More = r.Name, r.Bad-len(m.errs.Problems)
		return nil, &m.errs
	}
	if m.samples == 0 {
		return nil, whole(r.Name, 0, "holds no line that could be read")
	}
	m.describe()
	return r, nil
}

// describe writes the notes on how the file was read.
func (m *merger) describe() {
	l, r := m.layout, m.res
	decimal := "decimal point"
	if l.mark == ',' {
		decimal = "decimal comma"
	}
	r.note("columns separated by %s, %s, numbers from line %d", separatorName(l.sep), decimal, l.dataLine)
	for k, what := range []role{timeRole, forceRole, travelRole} {
		c := l.columns[k]
		switch {
		case c.at >= 0 && c.found:
			r.note("%s from column %s, in %s", what, handwritten.Quoted(c.name), c.scale.unit)
		case c.at >= 0:
			r.note("%s from column %s, in %s as given", what, handwritten.Quoted(c.name), c.scale.unit)
		case what == timeRole:
			r.note("time from the samples' order, %g a second", m.opt.Rate)
		case what == travelRole && !m.opt.NoTravel:
			r.note("no column of travel")
		}
	}
	if m.day > 0 {
		r.note("the clock passes midnight")
	}
	for _, n := range []struct {
		count int
		what  string
	}{{r.Comment, "comment line"}, {r.Blank, "blank line"}, {r.Headers, "repeated header"}} {
		if n.count > 0 {
			r.note("left out between the numbers: %s", count(n.count, n.what))
		}
	}
	if r.Bad > 0 {
		p := m.errs.Problems[0]
		r.note("left out as unreadable: %s, the first on line %d, which %s", count(r.Bad, "line"), p.Line, p.Message)
	}
	if r.Cut {
		r.note("the last line is cut off and was left out")
	}
}
