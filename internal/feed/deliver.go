package feed

import (
	"errors"
	"fmt"
	"time"
)

// retryEvery is how long the sink is left alone after an error.
const retryEvery = 100 * time.Millisecond

// deliver hands lines to the sink until the source has ended and the sink has taken
// all, or has not for as long as there is patience.
func (r *Recorder) deliver() error {
	parser := NewParser(r.o.Pattern, r.source.Describe().Speed)
	var b Batch
	var sideErr error
	for {
		last := r.waitForLines()
		for {
			lines, err := r.queue.take()
			if err != nil {
				sideErr = err
				r.note(WhatSinkFailed, err.Error())
				continue
			}
			if len(lines) == 0 && !last {
				break
			}
			b = Batch{Lines: lines, Samples: b.Samples[:0], Events: b.Events[:0]}
			for _, l := range lines {
				parser.Add(l, &b)
			}
			if len(lines) == 0 {
				parser.Finish(&b)
			}
			b.Pattern = parser.Pattern()
			if len(lines)+len(b.Samples)+len(b.Events) > 0 {
				if err := r.hand(&b); err != nil {
					return errors.Join(sideErr, err)
				}
				r.queue.taken()
			}
			if len(lines) == 0 {
				return sideErr
			}
		}
	}
}

// waitForLines waits until lines have been gathered for a batch, or the source has
// ended: then it returns true.
func (r *Recorder) waitForLines() (last bool) {
	select {
	case <-r.ended:
		return true
	case <-r.wake:
	}
	select {
	case <-r.clock.After(r.o.Every):
	case <-r.ended:
	}
	return false
}

// hand gives a batch to the sink until it takes it.
func (r *Recorder) hand(b *Batch) error {
	var endedAt time.Time
	for {
		err := r.sink(b)
		if err == nil {
			r.sinkWorks()
			return nil
		}
		r.sinkFails(err)
		if !closed(r.ended) {
			select {
			case <-r.clock.After(retryEvery):
			case <-r.ended:
			}
			continue
		}
		now := r.clock.Now()
		if endedAt.IsZero() {
			endedAt = now
		}
		if now.Sub(endedAt) >= r.o.Patience {
			return r.leave(err)
		}
		<-r.clock.After(retryEvery)
	}
}

// leave puts what the sink did not take into the side file, and says so.
func (r *Recorder) leave(why error) error {
	err := r.queue.secure()
	n, _, _ := r.queue.waiting()
	if err != nil {
		return fmt.Errorf("%d lines were not kept: %w; and %w", n, why, err)
	}
	return fmt.Errorf("%d lines were not kept where they belong and are in the side file: %w", n, why)
}

// Lines that the sink has not taken lateAfter their arrival go to the side file; that
// is looked at every guardEvery. Together they leave room for a slow disk within
// 0.2 s.
const (
	lateAfter  = 100 * time.Millisecond
	guardEvery = 40 * time.Millisecond
)

// guard brings lines to safety that the sink does not take, and says when nothing
// arrives, until the source has ended.
func (r *Recorder) guard(opened time.Time) {
	for {
		select {
		case <-r.clock.After(min(guardEvery, r.o.Silence/4)):
		case <-r.ended:
			return
		}
		r.watchSilence(opened)
		if r.o.SideFile != nil && !r.status.Source.Waits && r.queue.late(r.clock.Now(), lateAfter) {
			r.sideState(r.queue.secure())
		}
	}
}

// sideState remembers whether the side file works.
func (r *Recorder) sideState(err error) {
	words := ""
	if err != nil {
		words = err.Error()
	}
	r.mu.Lock()
	changed := words != r.status.SideError
	r.status.SideError = words
	r.mu.Unlock()
	if changed && err != nil {
		r.note(WhatSinkFailed, words)
	}
}

// watchSilence says when nothing has arrived for a while.
func (r *Recorder) watchSilence(opened time.Time) {
	r.mu.Lock()
	defer r.mu.Unlock()
	since := r.status.LastLine
	if since.Before(opened) {
		since = opened
	}
	if since.Before(r.status.changed) {
		since = r.status.changed
	}
	now := r.clock.Now()
	if !r.status.Connected || !r.status.SilentSince.IsZero() || now.Sub(since) < r.o.Silence {
		return
	}
	r.status.SilentSince = since
	r.keep(Line{At: now, Kind: Silent, Text: fmt.Appendf(nil, "silent since %s: nothing arrives", since.Format("15:04:05.0"))})
}

func (r *Recorder) sinkFails(err error) {
	r.mu.Lock()
	first := r.status.SinkError == ""
	if first {
		r.status.SinkFailing = r.clock.Now()
	}
	r.status.SinkError = err.Error()
	r.mu.Unlock()
	if first {
		r.note(WhatSinkFailed, fmt.Sprintf("lines are not kept yet, and are held and tried again: %v", err))
	}
}

func (r *Recorder) sinkWorks() {
	r.mu.Lock()
	since := r.status.SinkFailing
	failed := r.status.SinkError != ""
	r.status.SinkError, r.status.SinkFailing = "", time.Time{}
	r.mu.Unlock()
	if failed {
		r.note(WhatSinkWorking, fmt.Sprintf("lines are kept again, after %v", r.clock.Now().Sub(since).Round(10*time.Millisecond)))
	}
}

// note remembers an event that has no line.
func (r *Recorder) note(what What, words string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.remember(Event{At: r.clock.Now(), What: what, Words: words})
}
