package feed

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/google/go-cmp/cmp"
)

var long = flag.Duration("feed.long", 0, "how long to send 1,000 lines a second through a pseudo-terminal, instead of 5 s")

// board is the far end of a serial cable: a pseudo-terminal under a name of its own
// that stays the same when it is unplugged and plugged in again.
type board struct {
	t    *testing.T
	name string
	far  *os.File
}

func newBoard(t *testing.T) *board {
	b := &board{t: t, name: filepath.Join(t.TempDir(), "ttyTEST0")}
	b.plug()
	t.Cleanup(func() {
		if b.far != nil {
			b.far.Close()
		}
	})
	return b
}

func (b *board) plug() {
	b.t.Helper()
	far, near, err := pty.Open()
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.Symlink(near.Name(), b.name); err != nil {
		b.t.Fatal(err)
	}
	near.Close()
	b.far = far
}

func (b *board) unplug() {
	b.t.Helper()
	if err := errors.Join(os.Remove(b.name), b.far.Close()); err != nil {
		b.t.Fatal(err)
	}
	b.far = nil
}

func (b *board) send(text string) {
	b.t.Helper()
	if _, err := b.far.WriteString(text); err != nil {
		b.t.Fatal(err)
	}
}

func TestSerialConforms(t *testing.T) {
	conform(t, subject{first: true, waits: true, source: func(t *testing.T, text string) Source {
		b := newBoard(t)
		// The port must be open, and so raw, before anything is sent.
		return &sendsWhenOpen{Serial: NewSerial(b.name, 0, SystemClock{}), send: func() { b.send(text) }}
	}})
}

type sendsWhenOpen struct {
	*Serial
	send func()
}

func (s *sendsWhenOpen) Open() error {
	err := s.Serial.Open()
	if err == nil {
		s.send()
	}
	return err
}

func TestSerialThatIsMissing(t *testing.T) {
	err := NewSerial("/dev/ttyNONE7", 9600, SystemClock{}).Open()
	if err == nil || !strings.Contains(err.Error(), "there is no serial port /dev/ttyNONE7: there") {
		t.Errorf("error %v", err)
	}
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := NewSerial(file, 9600, SystemClock{}).Open(); err == nil || !strings.Contains(err.Error(), "is no serial port") {
		t.Errorf("error %v", err)
	}
	if got := portsInWords(nil); got != "there is none at all; plug the board in" {
		t.Errorf("said %q", got)
	}
}

func TestPortsAreListed(t *testing.T) {
	root := t.TempDir()
	for _, f := range []string{"dev/ttyACM0", "dev/ttyUSB1", "dev/ttyS0", "dev/ttyS1", "dev/tty3", "dev/null", "dev/cu.usbmodem14", "dev/tty.usbmodem14", "dev/cu.Bluetooth-Incoming-Port"} {
		if err := errors.Join(os.MkdirAll(filepath.Join(root, "dev"), 0o700), os.WriteFile(filepath.Join(root, f), nil, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	for port, kind := range map[string]string{"ttyS0": "4\n", "ttyS1": "0\n"} {
		dir := filepath.Join(root, "sys/class/tty", port)
		if err := errors.Join(os.MkdirAll(dir, 0o700), os.WriteFile(filepath.Join(dir, "type"), []byte(kind), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	for system, want := range map[string][]string{
		"linux":  {"dev/ttyACM0", "dev/ttyUSB1", "dev/ttyS0"},
		"darwin": {"dev/cu.usbmodem14"},
		"plan9":  nil,
	} {
		var full []string
		for _, p := range want {
			full = append(full, filepath.Join(root, p))
		}
		if d := cmp.Diff(full, portsUnder(root, system)); d != "" {
			t.Errorf("%s:\n%s", system, d)
		}
	}
}

// Unplugged in the middle of a line, and plugged in again twice: the half line is no
// reading, what happened is said, and recording goes on.
func TestUnplugging(t *testing.T) {
	noneLeft(t)
	b := newBoard(t)
	var k keeper
	r := NewRecorder(NewSerial(b.name, 9600, SystemClock{}), k.take, Options{Clock: SystemClock{}, Pattern: mustPattern(t, "{time_ms},{counts}")})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	until(t, "connected", func() bool { return r.Status().Connected })
	b.send("\n100,1\n200,2\n300,33")
	until(t, "two samples", func() bool { return r.Status().Counts.Samples == 2 })
	for i := range 2 {
		b.unplug()
		until(t, "unplugged", func() bool { return !r.Status().Connected })
		b.plug()
		until(t, "back", func() bool { return r.Status().Connected })
		b.send(fmt.Sprintf("34\n50,%d\n", i+3))
		until(t, "a further sample", func() bool { return r.Status().Counts.Samples == int64(i+3) })
	}
	cancel()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, l := range k.lines {
		text := string(l.Text)
		if l.Kind.Event() {
			text = ""
		}
		got = append(got, l.Kind.String()+" "+text)
	}
	want := []string{"first line ", "line 100,1", "line 200,2", "half line 300,33", "unplugged ", "back ", "first line 34", "line 50,3", "unplugged ", "back ", "first line 34", "line 50,4"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if len(k.samples) != 4 || k.samples[1].Segment == k.samples[2].Segment || k.samples[2].Segment == k.samples[3].Segment {
		t.Errorf("samples %+v", k.samples)
	}
	if words := k.events[0].Words; !strings.Contains(words, "ttyTEST0 is unplugged") {
		t.Errorf("said %q", words)
	}
}

// Closing ends the wait for a port to come back, too.
func TestCloseWhileUnplugged(t *testing.T) {
	noneLeft(t)
	b := newBoard(t)
	s := NewSerial(b.name, 9600, SystemClock{})
	if err := s.Open(); err != nil {
		t.Fatal(err)
	}
	b.unplug()
	if l, err := s.Read(); err != nil || l.Kind != Unplugged {
		t.Fatalf("read %v %q, %v", l.Kind, l.Text, err)
	}
	go func() {
		time.Sleep(50 * time.Millisecond)
		s.Close()
	}()
	if _, err := s.Read(); !errors.Is(err, ErrClosed) {
		t.Errorf("read: %v, want ErrClosed", err)
	}
}

// A name that goes, or comes to stand for another device, while the old one stays
// silent and open.
func TestPortThatIsReplaced(t *testing.T) {
	noneLeft(t)
	b := newBoard(t)
	old := b.far
	defer old.Close()
	s := NewSerial(b.name, 9600, SystemClock{})
	defer s.Close()
	if err := s.Open(); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(b.name); err != nil {
		t.Fatal(err)
	}
	b.plug()
	for _, want := range []Kind{Unplugged, Back} {
		if l, err := s.Read(); err != nil || l.Kind != want {
			t.Fatalf("read %v %q, %v; want %v", l.Kind, l.Text, err, want)
		}
	}
	b.send("x\n7\n")
	s.Read()
	if l, err := s.Read(); err != nil || string(l.Text) != "7" {
		t.Errorf("read %q, %v", l.Text, err)
	}
}

func until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for range 1000 {
		if ok() {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Fatalf("not %s within 5 s", what)
}

// 1,000 lines a second through a pseudo-terminal into a journal on disk, and none
// lost. Of 100 lines 95 are handed to a sink that is free within 50 ms of the computer's
// attention; how long the system's terminal and its disk take on top is said. The flag -feed.long says how long, as in:
// go test -run Thousand -feed.long 10m -timeout 11m.
func TestThousandLinesASecond(t *testing.T) {
	noneLeft(t)
	seconds := 5
	if *long > 0 {
		seconds = int(long.Seconds())
	}
	b := newBoard(t)
	f, err := os.Create(filepath.Join(t.TempDir(), "run.journal"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var k delays
	r := NewRecorder(NewSerial(b.name, 115200, SystemClock{}), k.take, Options{Clock: SystemClock{}, Watch: k.watch})
	if k.journal, err = NewJournal(f, r.Header(time.Now())); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	until(t, "connected", func() bool { return r.Status().Connected })
	b.send("\n")
	w := watchComputer()
	began := time.Now()
	var sent []time.Time
	for i := range 1000 * seconds {
		time.Sleep(time.Until(began.Add(time.Duration(i) * time.Millisecond)))
		sent = append(sent, time.Now())
		b.send(fmt.Sprintf("%d,%d\n", i, 84210+wobble(i)))
	}
	took := time.Since(began)
	until(t, "all arrived", func() bool { return r.Status().Counts.Samples == int64(1000*seconds) })
	cancel()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	w.end()
	if err := k.journal.End(); err != nil {
		t.Fatal(err)
	}
	noneLost(t, f, 1000*seconds)
	t.Logf("%d lines in %v; format: %s", 1000*seconds, took.Round(time.Millisecond), r.Status().Found.Words)
	var shows []span
	for _, s := range k.shown {
		shows = append(shows, span{sent[int(math.Round(s.device*1e3))], s.at})
	}
	w.said(t, "from sending until shown", shows)
	if handed := w.said(t, "from arrival until with the sink, once it is free", k.handed); handed >= 50 {
		t.Errorf("95 of 100 lines are with a free sink within %.1f ms, want 50", handed)
	}
	w.said(t, "from arrival until on disk", k.kept)
}

// noneLost reads the journal back and checks every sample.
func noneLost(t *testing.T, f *os.File, want int) {
	t.Helper()
	if _, err := f.Seek(0, 0); err != nil {
		t.Fatal(err)
	}
	rec, err := ReadJournal(f)
	if err != nil {
		t.Fatal(err)
	}
	back, _, err := rec.Batch(nil)
	if err != nil || len(back.Samples) != want {
		t.Fatalf("%d samples read back of %d, %v", len(back.Samples), want, err)
	}
	for i, s := range back.Samples {
		if s.Device != float64(i)*1e-3 || s.Force != float64(84210+wobble(i)) || s.Segment != 0 {
			t.Fatalf("sample %d is %+v by %s", i, s, back.Pattern)
		}
	}
}

// delays is a sink that keeps a journal, and notes from when to when lines were under
// way.
type delays struct {
	journal      *Journal
	free         time.Time // when the sink was done with the last batch
	handed, kept []span
	shown        []shown
}

// shown is when a sample was shown, and its device's time, s.
type shown struct {
	device float64
	at     time.Time
}

// watch leaves out the lines that waited for the format.
func (d *delays) watch(samples []Sample, events []Event) {
	if slices.ContainsFunc(events, func(e Event) bool { return e.What == WhatFormat }) {
		return
	}
	now := time.Now()
	for _, s := range samples {
		d.shown = append(d.shown, shown{s.Device, now})
	}
}

func (d *delays) take(b *Batch) error {
	now := time.Now()
	for _, l := range b.Lines {
		d.handed = append(d.handed, span{later(l.At, d.free), now})
	}
	if err := d.journal.Keep(b); err != nil {
		return err
	}
	d.free = time.Now()
	for _, l := range b.Lines {
		d.kept = append(d.kept, span{l.At, d.free})
	}
	return nil
}
