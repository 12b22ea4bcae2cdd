package feed

import (
	"slices"
	"testing"
	"time"
)

// span is from one moment to another.
type span struct{ from, to time.Time }

func (s span) ms() float64 { return s.to.Sub(s.from).Seconds() * 1e3 }

// witness notes when the computer had no time for this program at all: a goroutine
// that does nothing but sleep a millisecond wakes up more than 10 ms late. On a
// computer that other programs keep busy such times are none of a recorder's.
type witness struct {
	gaps []span
	stop chan struct{}
	done chan struct{}
}

func watchComputer() *witness {
	w := &witness{stop: make(chan struct{}), done: make(chan struct{})}
	go func() {
		defer close(w.done)
		last := time.Now()
		for !closed(w.stop) {
			time.Sleep(time.Millisecond)
			now := time.Now()
			if now.Sub(last) > 11*time.Millisecond {
				w.gaps = append(w.gaps, span{last, now})
			}
			last = now
		}
	}()
	return w
}

func (w *witness) end() {
	close(w.stop)
	<-w.done
}

// without returns how long a span lasted beside the gaps, ms.
func (w *witness) without(s span) float64 {
	ms := s.ms()
	first, _ := slices.BinarySearchFunc(w.gaps, s.from, func(g span, t time.Time) int { return g.to.Compare(t) })
	for _, g := range w.gaps[first:] {
		if g.from.After(s.to) {
			break
		}
		from, to := later(g.from, s.from), g.to
		if to.After(s.to) {
			to = s.to
		}
		if to.After(from) {
			ms -= span{from, to}.ms()
		}
	}
	return ms
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// said prints how long spans lasted, with the gaps and beside them, and returns the
// time in ms in which 95 of 100 were over beside them.
func (w *witness) said(t *testing.T, what string, spans []span) float64 {
	t.Helper()
	var all, beside []float64
	for _, s := range spans {
		all, beside = append(all, s.ms()), append(beside, w.without(s))
	}
	slices.Sort(all)
	slices.Sort(beside)
	n := len(spans) * 95 / 100
	t.Logf("%s: median %.1f ms, p95 %.1f ms, greatest %.1f ms; beside the times at which the computer stood still p95 %.1f ms",
		what, all[len(all)/2], all[n], all[len(all)-1], beside[n])
	return beside[n]
}
