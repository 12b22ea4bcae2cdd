package feed

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// keeper is a sink that remembers what it was handed, and can fail.
type keeper struct {
	mu      sync.Mutex
	lines   []Line
	samples []Sample
	events  []Event
	at      []time.Time // when each line was handed over
	batches int
	err     error
}

func (k *keeper) take(b *Batch) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.err != nil {
		return k.err
	}
	now := time.Now()
	k.batches++
	for _, l := range b.Lines {
		l.Text = append([]byte(nil), l.Text...)
		k.lines = append(k.lines, l)
		k.at = append(k.at, now)
	}
	k.samples = append(k.samples, b.Samples...)
	k.events = append(k.events, b.Events...)
	return nil
}

func (k *keeper) fail(err error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.err = err
}

func (k *keeper) texts() []string {
	k.mu.Lock()
	defer k.mu.Unlock()
	var out []string
	for _, l := range k.lines {
		out = append(out, string(l.Text))
	}
	return out
}

// running starts a recorder of a pipe; stop ends the pipe and returns what Run gave.
func running(t *testing.T, sink Sink, o Options) (r *Recorder, w *io.PipeWriter, stop func() error) {
	t.Helper()
	pr, pw := io.Pipe()
	o.Clock = SystemClock{}
	r = NewRecorder(NewPipe("test", pr, SystemClock{}), sink, o)
	done := make(chan error, 1)
	go func() { done <- r.Run(context.Background()) }()
	return r, pw, func() error {
		pw.Close()
		return <-done
	}
}

func send(t *testing.T, w io.Writer, format string, args ...any) {
	t.Helper()
	if _, err := fmt.Fprintf(w, format, args...); err != nil {
		t.Fatal(err)
	}
}

func TestRecorderHandsOverWithinATenthOfASecond(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var k keeper
		r, w, stop := running(t, k.take, Options{})
		for i := range 200 {
			send(t, w, "%d,%d\n", time.Now().UnixMilli(), wobble(i))
			time.Sleep(time.Duration(1+i%7) * 17 * time.Millisecond)
		}
		if s := r.Status(); s.Counts.Samples != 200 || s.Last.Force != float64(wobble(199)) || s.Waiting != 0 || !s.Connected {
			t.Errorf("status %+v", s)
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		if len(k.lines) != 200 || len(k.samples) != 200 {
			t.Fatalf("%d lines and %d samples, want 200", len(k.lines), len(k.samples))
		}
		for i, l := range k.lines {
			if late := k.at[i].Sub(l.At); late > 25*time.Millisecond || l.Number != int64(i+1) {
				t.Errorf("line %d, number %d, was handed over after %v", i+1, l.Number, late)
			}
		}
		if s := r.Status(); s.Open || s.Connected {
			t.Errorf("after the end: %+v", s)
		}
	})
}

// What comes before the format is known is handed over at once; its samples follow.
func TestLinesDoNotWaitForTheFormat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var k keeper
		_, w, stop := running(t, k.take, Options{})
		send(t, w, "1;5\n")
		time.Sleep(50 * time.Millisecond)
		if len(k.texts()) != 1 || len(k.samples) != 0 {
			t.Errorf("%d lines and %d samples, want 1 and 0", len(k.lines), len(k.samples))
		}
		send(t, w, "2;7\n")
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		if len(k.samples) != 2 || k.samples[0].Line != 1 {
			t.Errorf("samples %+v, want 2", k.samples)
		}
	})
}

func TestSilenceIsSaid(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var k keeper
		r, w, stop := running(t, k.take, Options{Silence: time.Second, Pattern: mustPattern(t, "{counts}")})
		began := time.Now()
		time.Sleep(500 * time.Millisecond)
		send(t, w, "1\n")
		time.Sleep(3 * time.Second)
		if s := r.Status(); !s.SilentSince.Equal(began.Add(500 * time.Millisecond)) {
			t.Errorf("silent since %v after the start, want 0.5 s", s.SilentSince.Sub(began))
		}
		send(t, w, "2\n")
		time.Sleep(100 * time.Millisecond)
		if s := r.Status(); !s.SilentSince.IsZero() || len(s.RecentEvents) != 2 {
			t.Errorf("after a line: silent since %v, events %v", s.SilentSince, s.RecentEvents)
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		want := []string{"1", "silent since " + began.Add(500*time.Millisecond).Format("15:04:05.0") + ": nothing arrives", "lines arrive again, after 3s", "2"}
		if d := cmp.Diff(want, k.texts()); d != "" {
			t.Error(d)
		}
		if late := k.lines[1].At.Sub(began); late < 1500*time.Millisecond || late > 1550*time.Millisecond {
			t.Errorf("silence is said after %v, want 1.5 s", late)
		}
		if len(k.samples) != 2 || k.samples[1].Segment != 0 {
			t.Errorf("samples %+v", k.samples)
		}
	})
}

// sideFile opens a side file in the test's folder and says where it is.
func sideFile(t *testing.T) (open func() (SideFile, error), path string) {
	path = filepath.Join(t.TempDir(), "side.journal")
	return func() (SideFile, error) { return os.Create(path) }, path
}

func TestFailingSinkLosesNothing(t *testing.T) {
	open, path := sideFile(t)
	synctest.Test(t, func(t *testing.T) {
		var k keeper
		r, w, stop := running(t, k.take, Options{Pattern: mustPattern(t, "{counts}"), SideFile: open})
		var want []string
		for i := range 300 {
			switch i {
			case 50, 200:
				k.fail(errors.New("logbook is locked"))
			case 150, 250:
				k.fail(nil)
			}
			text := fmt.Sprint(i)
			want = append(want, text)
			send(t, w, "%s\n", text)
			time.Sleep(10 * time.Millisecond)
			if i == 140 {
				s := r.Status()
				if s.SinkError != "logbook is locked" || s.SinkFailing.IsZero() || s.Waiting < 85 || s.SideError != "" {
					t.Errorf("while the sink fails: %+v", s)
				}
				// All that has not been taken for 0.2 s is in the side file, as a journal.
				f, err := os.Open(path)
				if err != nil {
					t.Fatal(err)
				}
				rec, err := ReadJournal(f)
				f.Close()
				if n := len(rec.Lines); err != nil || n == 0 || rec.Lines[0].Number > 51 || rec.Lines[n-1].Number < 141-20 || rec.Missing > 0 {
					t.Errorf("side file: %v, %d lines, %d missing", err, n, rec.Missing)
				}
			}
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, k.texts()); d != "" {
			t.Error(d)
		}
		if len(k.samples) != 300 {
			t.Errorf("%d samples", len(k.samples))
		}
		s := r.Status()
		if s.SinkError != "" || s.Waiting != 0 || s.InSideFile != 0 || s.Lost != 0 {
			t.Errorf("at the end: %+v", s)
		}
		var said []What
		for _, e := range s.RecentEvents {
			said = append(said, e.What)
		}
		if d := cmp.Diff([]What{WhatSinkFailed, WhatSinkWorking, WhatSinkFailed, WhatSinkWorking}, said); d != "" {
			t.Error(d)
		}
	})
}

// A sink that does not return is no error, and its lines are as safe.
func TestSlowSinkLosesNothing(t *testing.T) {
	open, path := sideFile(t)
	synctest.Test(t, func(t *testing.T) {
		var k keeper
		first := true
		slow := func(b *Batch) error {
			if first {
				first = false
				time.Sleep(2 * time.Second)
			}
			return k.take(b)
		}
		r, w, stop := running(t, slow, Options{Pattern: mustPattern(t, "{counts}"), SideFile: open})
		for i := range 100 {
			send(t, w, "%d\n", i)
			time.Sleep(10 * time.Millisecond)
		}
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		rec, err := ReadJournal(f)
		f.Close()
		if err != nil || len(rec.Lines) < 80 || rec.Lines[0].Number != 1 || r.Status().SinkError != "" {
			t.Errorf("side file: %v, %d lines; sink error %q", err, len(rec.Lines), r.Status().SinkError)
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(series(100, func(i int) string { return fmt.Sprint(i) }), k.texts()); d != "" {
			t.Error(d)
		}
	})
}

func TestSinkThatNeverRecovers(t *testing.T) {
	open, path := sideFile(t)
	synctest.Test(t, func(t *testing.T) {
		k := keeper{err: errors.New("disk full")}
		_, w, stop := running(t, k.take, Options{SideFile: open, Patience: time.Second})
		send(t, w, "1\n2\n")
		time.Sleep(500 * time.Millisecond)
		send(t, w, "3\n")
		err := stop()
		if err == nil || !strings.Contains(err.Error(), "3 lines were not kept") || !strings.Contains(err.Error(), "disk full") || !strings.Contains(err.Error(), "side file") {
			t.Errorf("error %v", err)
		}
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rec, err := ReadJournal(f)
		if err != nil || len(rec.Lines) != 3 || rec.Source != "pipe test" {
			t.Errorf("side file: %v, %+v", err, rec)
		}
	})
}

// Without a side file memory is bounded: the oldest lines are lost, and that is said.
func TestBoundedMemory(t *testing.T) {
	for name, open := range map[string]func() (SideFile, error){
		"no side file":   nil,
		"one that fails": func() (SideFile, error) { return nil, errFull },
	} {
		synctest.Test(t, func(t *testing.T) {
			k := keeper{err: errors.New("logbook is locked")}
			r, w, stop := running(t, k.take, Options{Pattern: mustPattern(t, "{counts}"), Memory: 6600, SideFile: open})
			for i := range 1000 {
				send(t, w, "%d\n", i)
				time.Sleep(time.Millisecond)
			}
			s := r.Status()
			if s.Lost < 800 || s.Waiting > 150 || s.Lost+s.Waiting < 1000 {
				t.Errorf("%s: %d lost, %d waiting", name, s.Lost, s.Waiting)
			}
			if open != nil && !strings.Contains(s.SideError, errFull.Error()) {
				t.Errorf("%s: side error %q", name, s.SideError)
			}
			k.fail(nil)
			if err := stop(); err != nil {
				t.Fatal(err)
			}
			texts := k.texts()
			if texts[len(texts)-1] != "999" || !strings.Contains(strings.Join(texts, "\n"), "lines are lost") {
				t.Errorf("%s: kept %q", name, texts)
			}
			arrived := 0
			for _, l := range k.lines {
				if !l.Kind.Event() {
					arrived++
				}
			}
			if int64(arrived)+r.Status().Lost != 1000 {
				t.Errorf("%s: %d kept and %d lost of 1000", name, arrived, r.Status().Lost)
			}
		})
	}
}

// A side file that someone changes is left alone, what it holds counts as waiting, and
// recording goes on.
func TestChangedSideFile(t *testing.T) {
	open, path := sideFile(t)
	synctest.Test(t, func(t *testing.T) {
		k := keeper{err: errors.New("logbook is locked")}
		r, w, stop := running(t, k.take, Options{Pattern: mustPattern(t, "{counts}"), SideFile: open})
		for i := range 50 {
			send(t, w, "%d\n", i)
			time.Sleep(10 * time.Millisecond)
		}
		if err := os.Truncate(path, 0); err != nil {
			t.Fatal(err)
		}
		k.fail(nil)
		time.Sleep(time.Second)
		send(t, w, "last\n")
		time.Sleep(time.Second)
		s := r.Status()
		if s.InSideFile == 0 || s.Waiting != s.InSideFile {
			t.Errorf("status %+v", s)
		}
		err := stop()
		if err == nil || !strings.Contains(err.Error(), "side file cannot be read back") {
			t.Errorf("error %v", err)
		}
		if texts := k.texts(); texts[len(texts)-1] != "last" {
			t.Errorf("kept %q", texts)
		}
	})
}

// A source that can wait is made to, and neither lost nor put aside.
func TestFastReplayWaitsForTheSink(t *testing.T) {
	noneLeft(t)
	var text strings.Builder
	const lines = 30000
	for i := range lines {
		fmt.Fprintf(&text, "%d,%d\n", i, wobble(i))
	}
	var k keeper
	slow := func(b *Batch) error {
		time.Sleep(time.Millisecond)
		return k.take(b)
	}
	source := NewReplay("run.csv", strings.NewReader(text.String()), ReplayOptions{}, SystemClock{})
	r := NewRecorder(source, slow, Options{Clock: SystemClock{}, Memory: 1 << 17, Pattern: mustPattern(t, "{time_ms},{counts}"),
		SideFile: func() (SideFile, error) { return nil, errors.New("not wanted") }})
	if err := r.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	if s := r.Status(); len(k.samples) != lines || s.Lost != 0 || s.SideError != "" {
		t.Errorf("%d of %d samples, %d lost, side error %q", len(k.samples), lines, s.Lost, s.SideError)
	}
}

// What the status says was made of lines is what the sink was handed.
func TestStatusAgreesWithTheSink(t *testing.T) {
	noneLeft(t)
	var k keeper
	source := NewSimulator(Simulation{Seed: 9, Breaks: 4, Noise: 3, Garbage: 0.03, Halves: 0.01, FullPace: true}, SystemClock{})
	r := NewRecorder(source, k.take, Options{Clock: SystemClock{}})
	if err := r.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	s := r.Status()
	if !s.Source.Simulated || s.Pattern.String() != "{time_ms},{counts}" || s.Example == "" {
		t.Errorf("status %+v", s)
	}
	if s.Counts.Samples != int64(len(k.samples)) || s.Counts.Lines != int64(len(k.lines)) || s.Counts.Garbage == 0 {
		t.Errorf("counts %+v; the sink has %d samples of %d lines", s.Counts, len(k.samples), len(k.lines))
	}
	if d := cmp.Diff(s.Last, k.samples[len(k.samples)-1], cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(s.RecentEvents, k.events); d != "" {
		t.Error(d)
	}
}

func TestRunEndsWithItsContext(t *testing.T) {
	noneLeft(t)
	var k keeper
	pr, pw := io.Pipe()
	defer pw.Close()
	r := NewRecorder(NewPipe("test", pr, SystemClock{}), k.take, Options{Clock: SystemClock{}})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error)
	go func() { done <- r.Run(ctx) }()
	send(t, pw, "1\n")
	time.Sleep(10 * time.Millisecond)
	cancel()
	if err := <-done; err != nil || len(k.lines) != 1 {
		t.Errorf("error %v, %d lines", err, len(k.lines))
	}
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, errors.New("cable on fire") }

func TestRecorderMistakes(t *testing.T) {
	var k keeper
	source := func() Source { return NewPipe("test", brokenReader{}, SystemClock{}) }
	err := NewRecorder(source(), k.take, Options{Clock: SystemClock{}}).Run(context.Background())
	if err == nil || !strings.Contains(err.Error(), "reading from the pipe test: cable on fire") {
		t.Errorf("error %v", err)
	}
	panics(t, "no clock", func() { NewRecorder(source(), k.take, Options{}) })
	panics(t, "too slow", func() { NewRecorder(source(), k.take, Options{Clock: SystemClock{}, Every: time.Second}) })
}
