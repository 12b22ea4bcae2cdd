package logbook

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// roles are what a test process that was started by a test does.
var roles = map[string]func(){}

func TestMain(m *testing.M) {
	if name := os.Getenv("LOGBOOK_TEST_ROLE"); name != "" {
		roles[name]()
		return
	}
	os.Exit(m.Run())
}

// bench is a clock that stands still until it is set.
type bench struct {
	mu sync.Mutex
	t  time.Time
}

func (b *bench) now() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.t
}

func (b *bench) set(t time.Time) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.t = t
}

var morning = time.Date(2027, 4, 12, 8, 30, 0, 123456789, time.FixedZone("", 2*60*60))

// made opens a new logbook in a folder of its own.
func made(t testing.TB) (*Logbook, *bench) {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "bench.logbook"))
}

func openAt(t testing.TB, path string) (*Logbook, *bench) {
	t.Helper()
	clock := &bench{t: morning}
	l, err := Open(context.Background(), path, Options{Clock: clock.now, Create: true, Holder: "http://127.0.0.1:8420"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	})
	return l, clock
}

// appended appends drafts that must go in.
func appended(t testing.TB, l *Logbook, drafts ...Draft) []Entry {
	t.Helper()
	entries, err := l.Append(context.Background(), drafts...)
	if err != nil {
		t.Fatal(err)
	}
	return entries
}

func note(trial, text string) Draft {
	content, err := json.Marshal(map[string]string{"text": text})
	if err != nil {
		panic(err)
	}
	return Draft{Trial: trial, Kind: "note", Content: content}
}

// checked checks a logbook that must be as it was written.
func checked(t testing.TB, path string) Report {
	t.Helper()
	r, err := Check(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Err(); err != nil {
		t.Fatalf("%v: %v", err, r.Problems)
	}
	return r
}

// copied copies a logbook with the files beside it as they lie, as a power cut would
// leave them.
func copied(t testing.TB, from, to string) {
	t.Helper()
	for _, ending := range []string{"", "-wal"} {
		b, err := os.ReadFile(from + ending)
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to+ending, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// filesIn returns the names of the files in a folder.
func filesIn(t testing.TB, folder string) []string {
	t.Helper()
	list, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{}
	for _, f := range list {
		names = append(names, f.Name())
	}
	return names
}

// kinds of error, for tables of tests.
func kindOf(err error) string {
	if err == nil {
		return ""
	}
	for {
		switch e := err.(type) {
		case *Taken, *Superseded, *KeyUsed, *InUse, *Newer, *NotLogbook, *NoEntry, *NoFile, *Damaged:
			return fmt.Sprintf("%T", e)[len("*logbook."):]
		}
		next, ok := err.(interface{ Unwrap() error })
		if !ok {
			return "other"
		}
		err = next.Unwrap()
	}
}
