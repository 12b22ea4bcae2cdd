package feed

import (
	"io"
	"sync"
	"time"
)

// Pipe is a source that reads what another program writes.
type Pipe struct {
	state
	name   string
	r      io.Reader
	clock  Clock
	once   sync.Once
	chunks chan pipeChunk // from the goroutine that reads
	free   chan []byte    // back to it
	split  splitter
	used   []byte // the chunk that is being split
	err    error
}

type pipeChunk struct {
	data []byte
	at   time.Time
	err  error
}

// NewPipe returns a source of the lines of r, under a name such as "standard input".
// Close closes r too where it can be closed. A reader whose Close does not end a Read
// that waits, such as a terminal, keeps one goroutine until something arrives.
func NewPipe(name string, r io.Reader, clock Clock) *Pipe {
	return &Pipe{name: name, r: r, clock: clock, state: state{done: make(chan struct{})}}
}

// Open begins to read. It returns ErrClosed where the pipe was closed before.
func (p *Pipe) Open() error {
	p.open()
	if closed(p.done) {
		return ErrClosed
	}
	p.chunks, p.free = make(chan pipeChunk), make(chan []byte, 1)
	p.free <- make([]byte, 1<<14)
	go p.pump()
	return nil
}

// pump reads until the end, an error, or Close.
func (p *Pipe) pump() {
	for {
		var buf []byte
		select {
		case buf = <-p.free:
		case <-p.done:
			return
		}
		n, err := p.r.Read(buf[:cap(buf)])
		select {
		case p.chunks <- pipeChunk{buf[:n], p.clock.Now(), err}:
		case <-p.done:
			return
		}
		if err != nil {
			return
		}
	}
}

// Read returns the next line.
func (p *Pipe) Read() (Line, error) {
	p.reading()
	for {
		if closed(p.done) {
			return Line{}, ErrClosed
		}
		if l, ok := p.split.next(); ok {
			return l, nil
		}
		if p.err != nil {
			if l, ok := p.split.rest(); ok {
				return l, nil
			}
			return Line{}, p.err
		}
		if p.used != nil {
			p.free <- p.used
			p.used = nil
		}
		select {
		case c := <-p.chunks:
			p.err = c.err
			p.used = c.data
			p.split.fill(c.data, c.at)
		case <-p.done:
		}
	}
}

// Close ends the pipe.
func (p *Pipe) Close() error {
	var err error
	p.once.Do(func() {
		close(p.done)
		if c, ok := p.r.(io.Closer); ok {
			err = c.Close()
		}
	})
	return err
}

// Describe says what the pipe is.
func (p *Pipe) Describe() Description { return Description{Kind: "pipe", Name: p.name} }
