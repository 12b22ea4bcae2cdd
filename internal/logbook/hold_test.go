package logbook

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func init() {
	roles["write on and on"] = func() {
		l, err := Open(ctx, os.Getenv("LOGBOOK_TEST_PATH"), Options{Clock: time.Now, Create: true, Holder: "http://127.0.0.1:8420"})
		if err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		fmt.Println("open")
		for {
			entries, err := l.Append(ctx, Draft{Trial: "t", Kind: "break", Files: []File{{Name: "trace", Content: make([]byte, 20000)}}}, note("t", "with it"))
			if err != nil {
				fmt.Println("error", err)
				os.Exit(1)
			}
			fmt.Println(entries[1].Seq)
		}
	}
}

// another starts a process that plays a role on a logbook, and waits for its first
// line. The process is killed at the end of the test if it is still there.
func another(t *testing.T, role, path string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), "LOGBOOK_TEST_ROLE="+role, "LOGBOOK_TEST_PATH="+path)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	c.Stderr = os.Stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Process.Kill(); c.Wait() })
	lines := bufio.NewScanner(out)
	if !lines.Scan() || lines.Text() != "open" {
		t.Fatalf("the other process says %q", lines.Text())
	}
	return c, lines
}

func TestSecondProcess(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	c, lines := another(t, "write on and on", path)
	clock := (&bench{t: morning}).now
	_, err := Open(ctx, path, Options{Clock: clock})
	var inUse *InUse
	if !errors.As(err, &inUse) {
		t.Fatalf("error %v, want InUse", err)
	}
	if inUse.Holder != "http://127.0.0.1:8420" || inUse.PID != c.Process.Pid || time.Since(inUse.Since) > time.Minute {
		t.Errorf("in use by %+v, want process %d", inUse, c.Process.Pid)
	}
	if !strings.Contains(err.Error(), "http://127.0.0.1:8420") {
		t.Errorf("error %v does not say where", err)
	}
	if _, err := Restore(ctx, path, path, morning); err == nil {
		t.Error("restored onto itself")
	}
	// Reading goes on beside the writing.
	copy := filepath.Join(t.TempDir(), "copy.logbook")
	if err := Backup(ctx, path, copy); err != nil {
		t.Fatal(err)
	}
	checked(t, path)
	if _, err := Restore(ctx, copy, path, morning); kindOf(err) != "InUse" {
		t.Errorf("restore: error %v, want InUse", err)
	}

	// It is killed in the middle of writing.
	last := int64(0)
	for lines.Scan() {
		if _, err := fmt.Sscan(lines.Text(), &last); err != nil {
			t.Fatalf("the other process says %q", lines.Text())
		}
		if last > 20 {
			c.Process.Kill()
			break
		}
	}
	for lines.Scan() { // what it had said before it was gone
		fmt.Sscan(lines.Text(), &last)
	}
	c.Wait()
	l, err := Open(ctx, path, Options{Clock: clock})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	r := checked(t, path)
	// All that was said to be written is there. One more call may have been written
	// and not said.
	if r.Last < last || r.Last > last+2 || r.Last%2 != 0 {
		t.Errorf("the last entry is %d, the last that was said %d", r.Last, last)
	}
	appended(t, l, note("t", "goes on"))
}

func TestOpenTwiceInOneProcess(t *testing.T) {
	l, clock := made(t)
	_, err := Open(ctx, l.Path(), Options{Clock: clock.now, Holder: "second"})
	var inUse *InUse
	if !errors.As(err, &inUse) || inUse.Holder != "http://127.0.0.1:8420" || inUse.PID != os.Getpid() || !inUse.Since.Equal(morning) {
		t.Errorf("error %v, want InUse by the first", err)
	}
	appended(t, l, note("t", "1"))
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := Open(ctx, l.Path(), Options{Clock: clock.now})
	if err != nil {
		t.Fatal(err)
	}
	appended(t, again, note("t", "2"))
	again.Close()
}

// Of many that open at once, one gets the logbook and the others are told so.
func TestOpenAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	clock := (&bench{t: morning}).now
	got := make(chan *Logbook)
	const n = 6
	for i := range n {
		go func() {
			l, err := Open(ctx, path, Options{Clock: clock, Holder: fmt.Sprint(i)})
			if err != nil && kindOf(err) != "InUse" {
				t.Error(err)
			}
			got <- l
		}()
	}
	open := 0
	for range n {
		if l := <-got; l != nil {
			open++
			defer l.Close()
		}
	}
	if open != 1 {
		t.Errorf("%d have it open", open)
	}
}

// Two that open at the same moment, step by step: whoever holds the right in the end
// is who is named.
func TestHoldSteps(t *testing.T) {
	beside := filepath.Join(t.TempDir(), "x-writer")
	open := func() *hold {
		h, err := openHold(ctx, beside)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(h.release)
		return h
	}
	a, b := open(), open()
	numberA, numberB := holds.Add(1), holds.Add(1)
	if err := a.announce(ctx, "a", morning, numberA); err != nil {
		t.Fatal(err)
	}
	if err := b.announce(ctx, "b", morning, numberB); err != nil {
		t.Fatal(err)
	}
	if held, err := a.keep(ctx, numberA); held || err != nil {
		t.Errorf("a holds it in b's name: %v, %v", held, err)
	}
	if held, err := b.keep(ctx, numberB); !held || err != nil {
		t.Errorf("b does not hold it: %v, %v", held, err)
	}
	if held, err := a.keep(ctx, numberA); held || !isBusy(err) {
		t.Errorf("a holds it too: %v, %v", held, err)
	}
	var who InUse
	if err := a.read(ctx, &who); err != nil || who.Holder != "b" {
		t.Errorf("held by %+v, %v, want b", who, err)
	}
}

// A file beside the logbook that cannot be read is named, with what to do.
func TestHoldFileDamaged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	if err := os.WriteFile(path+"-writer", []byte(strings.Repeat("x", 5000)), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Open(ctx, path, Options{Clock: (&bench{t: morning}).now})
	if err == nil || !strings.Contains(err.Error(), path+"-writer") || !strings.Contains(err.Error(), "delete this one file") {
		t.Errorf("error %v, want one that names the file and what to do", err)
	}
}

// A closed logbook is one plain file.
func TestClosed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	if names := strings.Join(filesIn(t, filepath.Dir(path)), " "); names != "bench.logbook bench.logbook-writer" {
		t.Errorf("files %s", names)
	}
	before := contents(t, filepath.Dir(path))
	checked(t, path)
	if after := contents(t, filepath.Dir(path)); fmt.Sprint(after) != fmt.Sprint(before) {
		t.Errorf("checking changed files: %v, before %v", after, before)
	}
}

func TestFullDisk(t *testing.T) {
	l, _ := made(t)
	appended(t, l, note("t", "1"))
	pages := func(n int) {
		t.Helper()
		if _, err := l.write.Exec(fmt.Sprint("PRAGMA max_page_count = ", n)); err != nil {
			t.Fatal(err)
		}
	}
	var have int
	if err := l.write.QueryRow("PRAGMA page_count").Scan(&have); err != nil {
		t.Fatal(err)
	}
	pages(have)
	photo := Draft{Trial: "t", Kind: "photo", Key: "k", Files: []File{{Name: "photo", Content: noise(1 << 20)}}}
	for range 3 {
		_, err := l.Append(ctx, note("t", "goes with it"), photo)
		if !errors.Is(err, ErrFull) || !strings.Contains(err.Error(), "make room") {
			t.Fatalf("error %v, want ErrFull with what to do", err)
		}
	}
	if r := checked(t, l.Path()); r.Entries != 1 {
		t.Errorf("%d entries after failing, want 1", r.Entries)
	}
	pages(1 << 30)
	appended(t, l, note("t", "goes with it"), photo)
	if r := checked(t, l.Path()); r.Entries != 3 || r.Files != 1 {
		t.Errorf("%+v after room was made", r)
	}
}

// noise is what does not get smaller by packing.
func noise(n int) []byte {
	b := make([]byte, n)
	x := uint64(88172645463325252)
	for i := range b { // Marsaglia's xorshift, from memory: any noise will do
		x ^= x << 13
		x ^= x >> 7
		x ^= x << 17
		b[i] = byte(x)
	}
	return b
}
