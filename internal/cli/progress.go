package cli

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"golang.org/x/term"
)

// progress shows on one line how far long work is. On anything but a terminal it
// shows nothing.
type progress struct {
	w     io.Writer
	now   func() time.Time
	mu    sync.Mutex
	start time.Time
	last  time.Time
	shown bool
}

// newProgress returns nil where w is no terminal.
func newProgress(w io.Writer) *progress {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	return &progress{w: w, now: time.Now}
}

// show may be called from several goroutines. Short work shows nothing.
func (p *progress) show(stage string, done, of int) {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	t := p.now()
	if p.start.IsZero() {
		p.start = t
	}
	if t.Sub(p.start) < 300*time.Millisecond || t.Sub(p.last) < 100*time.Millisecond {
		return
	}
	p.last, p.shown = t, true
	fmt.Fprintf(p.w, "\r\x1b[K%s: %d %% (^C stops)", stage, min(100, 100*done/max(of, 1)))
}

// done clears the line.
func (p *progress) done() {
	if p != nil && p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
