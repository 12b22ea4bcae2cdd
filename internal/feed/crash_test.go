package feed

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// TestMain lets the test program stand for the program that is killed.
func TestMain(m *testing.M) {
	if path := os.Getenv("FEED_TEST_RECORD"); path != "" {
		if err := recordInto(path, os.Stdin); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// recordInto records lines into a journal until they end.
func recordInto(path string, in io.Reader) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	var j *Journal
	r := NewRecorder(NewPipe("standard input", in, SystemClock{}), func(b *Batch) error { return j.Keep(b) }, Options{Clock: SystemClock{}})
	if j, err = NewJournal(f, r.Header(time.Now())); err != nil {
		return err
	}
	fmt.Println("ready")
	if err := r.Run(context.Background()); err != nil {
		return err
	}
	if err := j.End(); err != nil {
		return err
	}
	return f.Close()
}

// A program that is killed while 1,000 lines a second arrive loses at most the lines
// of the last 0.2 s, and none before them.
func TestKilledProgram(t *testing.T) {
	for i, lives := range []time.Duration{37 * time.Millisecond, 400 * time.Millisecond, 1203 * time.Millisecond} {
		path := filepath.Join(folder(t), "run.journal")
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), "FEED_TEST_RECORD="+path)
		in, err := child.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		out, err := child.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		child.Stderr = os.Stderr
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadFull(out, make([]byte, len("ready\n"))); err != nil {
			t.Fatal(err)
		}
		var sent []time.Time // when each line had been handed to the system
		began := time.Now()
		for time.Since(began) < lives {
			if _, err := fmt.Fprintf(in, "%d,%d\n", len(sent), wobble(len(sent))); err != nil {
				t.Fatal(err)
			}
			sent = append(sent, time.Now())
			time.Sleep(time.Until(began.Add(time.Duration(len(sent)) * time.Millisecond)))
		}
		killed := time.Now()
		if err := child.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		if err := child.Wait(); err == nil {
			t.Fatal("the program ended in order, and was to be killed")
		}
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		rec, err := ReadJournal(bytes.NewReader(data))
		if err != nil || rec.Damaged > 0 || rec.Missing > 0 || rec.Ended {
			t.Fatalf("run %d: %v, %d damaged, %d missing, ended %v", i, err, rec.Damaged, rec.Missing, rec.Ended)
		}
		for n, l := range rec.Lines {
			if want := fmt.Sprintf("%d,%d", n, wobble(n)); string(l.Text) != want {
				t.Fatalf("run %d: line %d is %q, want %q", i, n, l.Text, want)
			}
		}
		kept := len(rec.Lines)
		if kept > len(sent) {
			t.Fatalf("run %d: %d lines kept of %d", i, kept, len(sent))
		}
		lost, stood := time.Duration(0), time.Duration(0)
		if kept < len(sent) {
			lost, stood = killed.Sub(sent[kept]), standstill(append(sent[kept:], killed))
		}
		t.Logf("killed after %v: %d of %d lines kept, the oldest lost one had arrived %v before, of which the computer stood still for %v",
			lives, kept, len(sent), lost.Round(time.Millisecond), stood.Round(time.Millisecond))
		if lost-stood > 200*time.Millisecond {
			t.Errorf("run %d: a line that arrived %v before the end is lost", i, lost)
		}
	}
}

// folder is a new folder, in memory where the system has such a place: what was
// written outlives a killed program wherever it lies, so how busy the disk of the
// computer is that runs the test has nothing to do with what is tested.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "feed-test-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

// standstill is how long a computer had no time for the program that sends: it sends
// each millisecond, so what is beyond 20 ms between two times is none of the
// recorder's.
func standstill(sent []time.Time) time.Duration {
	sum := time.Duration(0)
	for i := 1; i < len(sent); i++ {
		if gap := sent[i].Sub(sent[i-1]); gap > 20*time.Millisecond {
			sum += gap
		}
	}
	return sum
}

// A program that is not killed ends its journal in order.
func TestProgramThatEnds(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run.journal")
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), "FEED_TEST_RECORD="+path)
	child.Stdin = bytes.NewReader([]byte("5\n6\n7"))
	if out, err := child.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := ReadJournal(bytes.NewReader(data))
	if err != nil || len(rec.Lines) != 3 || !rec.Ended || rec.Found != "{counts}" || rec.Lines[2].Kind != Half {
		t.Errorf("%v, %+v", err, rec)
	}
}
