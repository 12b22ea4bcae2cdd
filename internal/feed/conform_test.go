package feed

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// subject is a source that the conformance test may ask of.
type subject struct {
	// source makes a source that will give the text, and then waits or ends; the text
	// is ignored by one that makes its own.
	source func(t *testing.T, text string) Source
	makes  bool // makes its own lines: those of the text are not to be expected
	first  bool // its first line counts as First
	waits  bool // after the text it waits for more, and does not end
}

// conform is what every source passes.
func conform(t *testing.T, s subject) {
	t.Run("lines", func(t *testing.T) { noneLeft(t); s.givesLines(t) })
	t.Run("close ends a read that waits", func(t *testing.T) { noneLeft(t); s.closes(t) })
	t.Run("closed before it was opened", func(t *testing.T) {
		noneLeft(t)
		source := s.source(t, "1\n")
		source.Close()
		if err := source.Open(); !errors.Is(err, ErrClosed) {
			t.Errorf("opening: %v, want ErrClosed", err)
		}
	})
	t.Run("description and mistakes", func(t *testing.T) {
		noneLeft(t)
		source := s.source(t, "1\n")
		defer source.Close()
		if d := source.Describe(); d.Kind == "" || d.Name == "" || !strings.Contains(d.String(), d.Name) {
			t.Errorf("described as %+v, %q", d, d)
		}
		panics(t, "read before it was opened", func() { source.Read() })
		if err := source.Open(); err != nil {
			t.Fatal(err)
		}
		panics(t, "opened twice", func() { source.Open() })
	})
}

// givesLines checks that lines come as they were written, with their times.
func (s subject) givesLines(t *testing.T) {
	long := strings.Repeat("7", MaxLine+10)
	source := s.source(t, "1,2\r\n\n-3.5;x\n"+long+"\n\x80\xff\nlast\n")
	want := []piece{{Whole, "1,2"}, {Whole, ""}, {Whole, "-3.5;x"}, {Cut, long[:MaxLine]}, {Cut, long[MaxLine:]}, {Whole, "\x80\xff"}, {Whole, "last"}}
	if s.first {
		want[0].Kind = First
	}
	defer source.Close()
	before := time.Now()
	if err := source.Open(); err != nil {
		t.Fatal(err)
	}
	last := time.Time{}
	for i := range want {
		l, err := source.Read()
		if err != nil {
			t.Fatal(err)
		}
		if !s.makes {
			if d := cmp.Diff(want[i], piece{l.Kind, string(l.Text)}); d != "" {
				t.Errorf("line %d:\n%s", i+1, d)
			}
		}
		if l.At.Before(before) || l.At.Before(last) || l.At.After(time.Now()) || l.Number != 0 || len(l.Text) > MaxLine {
			t.Errorf("line %d: number %d, %d bytes, arrived %v after the start", i+1, l.Number, len(l.Text), l.At.Sub(before))
		}
		last = l.At
	}
	if s.waits {
		return
	}
	for range 2 {
		if l, err := source.Read(); !errors.Is(err, io.EOF) {
			t.Fatalf("after the last line: %q, %v, want io.EOF", l.Text, err)
		}
	}
}

// closes checks that Close ends a Read that waits in another goroutine.
func (s subject) closes(t *testing.T) {
	source := s.source(t, "1\n2\n")
	if err := source.Open(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() {
		for {
			if _, err := source.Read(); err != nil {
				ended <- err
				return
			}
		}
	}()
	time.Sleep(30 * time.Millisecond)
	if err := source.Close(); err != nil {
		t.Errorf("closing: %v", err)
	}
	select {
	case err := <-ended:
		if !errors.Is(err, ErrClosed) && !(errors.Is(err, io.EOF) && !s.waits) {
			t.Errorf("read: %v, want ErrClosed", err)
		}
	case <-time.After(2 * time.Second):
		t.Fatal("the read still waits")
	}
	if err := source.Close(); err != nil {
		t.Errorf("closing again: %v", err)
	}
	if _, err := source.Read(); !errors.Is(err, ErrClosed) {
		t.Errorf("reading after that: %v, want ErrClosed", err)
	}
}

func panics(t *testing.T, what string, f func()) {
	t.Helper()
	defer func() {
		if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "feed: ") {
			t.Errorf("%s: %q, want a panic of this package", what, s)
		}
	}()
	f()
}

// noneLeft fails the test where it leaves a goroutine running.
func noneLeft(t *testing.T) {
	t.Helper()
	before := runtime.NumGoroutine()
	t.Cleanup(func() {
		for range 200 {
			if runtime.NumGoroutine() <= before {
				return
			}
			time.Sleep(10 * time.Millisecond)
		}
		stacks := make([]byte, 1<<16)
		t.Errorf("%d goroutines before, %d now:\n%s", before, runtime.NumGoroutine(), stacks[:runtime.Stack(stacks, true)])
	})
}

func TestPipeConforms(t *testing.T) {
	conform(t, subject{source: func(t *testing.T, text string) Source {
		return NewPipe("text", strings.NewReader(text), SystemClock{})
	}})
}

// A pipe of the system whose writer stays open and silent.
func TestPipeThatWaitsConforms(t *testing.T) {
	conform(t, subject{waits: true, source: func(t *testing.T, text string) Source {
		r, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { w.Close() })
		if _, err := w.WriteString(text); err != nil {
			t.Fatal(err)
		}
		return NewPipe("pipe", r, SystemClock{})
	}})
}

func TestReplayConforms(t *testing.T) {
	conform(t, subject{source: func(t *testing.T, text string) Source {
		return NewReplay("run.csv", strings.NewReader(text), ReplayOptions{}, SystemClock{})
	}})
}

func TestReplayAtItsOwnPaceConforms(t *testing.T) {
	conform(t, subject{source: func(t *testing.T, text string) Source {
		path := filepath.Join(t.TempDir(), "run.csv")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		return NewReplay("run.csv", f, ReplayOptions{OwnPace: true, Rate: 200}, SystemClock{})
	}})
}

func TestReplayOfAJournalConforms(t *testing.T) {
	conform(t, subject{source: func(t *testing.T, text string) Source {
		now := time.Now()
		var lines []Line
		for i, l := range linesOf([]byte(text), 100) {
			l.Number, l.At = int64(i+1), now.Add(time.Duration(i)*5*time.Millisecond)
			lines = append(lines, l)
		}
		f := &memoryFile{room: -1}
		j, err := NewJournal(f, Header{Source: "pipe", Started: now})
		if err != nil {
			t.Fatal(err)
		}
		if err := j.Keep(&Batch{Lines: lines}); err != nil {
			t.Fatal(err)
		}
		return NewReplay("run.journal", bytes.NewReader(f.Bytes()), ReplayOptions{OwnPace: true}, SystemClock{})
	}})
}

func TestSimulatorConforms(t *testing.T) {
	conform(t, subject{makes: true, waits: true, source: func(t *testing.T, text string) Source {
		return NewSimulator(Simulation{Seed: 1, Rate: 200}, SystemClock{})
	}})
}

func TestReplayNeedsATime(t *testing.T) {
	r := NewReplay("run.csv", strings.NewReader("5\n6\n7\n"), ReplayOptions{OwnPace: true}, SystemClock{})
	err := r.Open()
	if err == nil || !strings.Contains(err.Error(), "run.csv") || !strings.Contains(err.Error(), "lines a second") {
		t.Errorf("error %v, want one that names the file and says what to give", err)
	}
}

func TestReplayOfADamagedJournal(t *testing.T) {
	r := NewReplay("run.journal", strings.NewReader("bondtrial journal 9\n"), ReplayOptions{}, SystemClock{})
	if err := r.Open(); err == nil || !strings.Contains(err.Error(), "run.journal: this journal is of version 9") {
		t.Errorf("error %v", err)
	}
}

func ExampleDescription() {
	fmt.Println(NewSerial("/dev/ttyACM0", 0, SystemClock{}).Describe())
	fmt.Println(NewSimulator(Simulation{Seed: 7}, SystemClock{}).Describe())
	// Output:
	// serial port /dev/ttyACM0 at 115200 baud
	// simulated rig seed 7, 80 lines a second (simulated: nothing is measured)
}
