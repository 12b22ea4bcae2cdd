package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/logbook"
)

// How the kill test is run.
const (
	kills      = 500
	checkEvery = 50
	perTrial   = 60 // specimens of a trial
	justBefore = 5 * time.Millisecond
)

// TestKill writes through the pages while the program is killed again and again, at
// any moment: what was acknowledged is in the logbook, nothing is in it twice, and
// the logbook is whole.
func TestKill(t *testing.T) {
	t.Parallel()
	k := &killing{t: t, bin: program(t), path: filepath.Join(t.TempDir(), "bench.bondtrial"), random: rand.New(rand.NewPCG(11, 25)), acked: make(map[string]bool)}
	began := time.Now()
	for n := 1; n <= kills; n++ {
		k.round()
		if n%checkEvery == 0 {
			k.check()
		}
	}
	k.finish()
	t.Logf("%d kills in %.0f s, %d of them before the pages were there; %d entries acknowledged, %d of them sent more than once; after %d kills the last acknowledgement was less than %v old; from the start to the address: median %v, 95 %% below %v",
		kills, time.Since(began).Seconds(), k.early, len(k.acked), k.again, k.close, justBefore, quantile(k.ready, 0.5), quantile(k.ready, 0.95))
	if k.close < 20 || k.again < 20 || k.early < 20 {
		t.Error("too few kills came at the moments that matter: the test says little")
	}
}

func quantile(x []time.Duration, q float64) time.Duration {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	return x[int(q*float64(len(x)-1))].Round(100 * time.Microsecond)
}

// killing is a bench whose program dies.
type killing struct {
	t      *testing.T
	bin    string
	path   string
	random *rand.Rand

	count   int    // of specimens
	trial   string // address of the trial, "/trials/..."
	pending *entry // sent and not acknowledged
	acked   map[string]bool
	lastAck time.Time

	early, again, close int
	ready               []time.Duration
}

// entry is what is sent until it is acknowledged, always under the same key.
type entry struct {
	path   string
	fields url.Values
	tries  int
}

// round starts the program, writes, and kills it.
func (k *killing) round() {
	began := time.Now()
	o, lines, err := start(k.bin, nil, k.path, "--port", freePort(k.t))
	if err != nil {
		k.t.Fatal(err)
	}
	if k.random.IntN(6) == 0 { // while it starts
		time.Sleep(time.Duration(k.random.Int64N(int64(40 * time.Millisecond))))
		k.kill(o)
		k.early++
		return
	}
	for line := range lines {
		if o.address = addressIn(line); o.address != "" {
			break
		}
	}
	if o.address == "" {
		<-o.ended
		k.t.Fatalf("it did not start again: %v: %s", o.err, o.stderr)
	}
	k.ready = append(k.ready, time.Since(began))
	ctx, stop := context.WithCancel(k.t.Context())
	done := make(chan error, 1)
	lives := time.Duration(k.random.Int64N(int64(60 * time.Millisecond))) // drawn before the recorder draws
	go func() { done <- k.record(ctx, o.address) }()
	select {
	case <-time.After(lives):
	case err := <-done:
		k.t.Fatalf("the recorder stopped: %v", err)
	}
	killed := time.Now()
	k.kill(o)
	stop()
	<-done
	if d := killed.Sub(k.lastAck); d < justBefore {
		k.close++
	}
}

func (k *killing) kill(o *opened) {
	if err := o.cmd.Process.Kill(); err != nil {
		k.t.Fatal(err)
	}
	<-o.ended
	if !strings.Contains(o.err.Error(), "kill") && !strings.Contains(o.err.Error(), "exit status 1") { // the latter on Windows
		k.t.Fatalf("it ended by itself: %v: %s", o.err, o.stderr)
	}
}

// record sends entries one after the other until the program is gone. It returns an
// error only where an entry is refused.
func (k *killing) record(ctx context.Context, address string) error {
	c := client()
	defer c.CloseIdleConnections()
	for {
		if k.pending == nil {
			k.pending = k.next()
		}
		e := k.pending
		e.tries++
		status, location, body, err := send(ctx, c, address+e.path, e.fields)
		if err != nil {
			<-ctx.Done() // it is being killed
			return nil
		}
		if status != http.StatusOK && status != http.StatusSeeOther {
			return fmt.Errorf("%s %v: status %d: %s", e.path, e.fields, status, body)
		}
		k.lastAck = time.Now()
		key := e.fields.Get("key")
		k.acked[key] = true
		if e.tries > 1 {
			k.again++
		}
		if e.path == "/trials" {
			k.trial = strings.TrimSuffix(location, "/ask")
		}
		k.pending = nil
	}
}

// next is what the recorder writes next: a trial, then specimens, each added and
// broken.
func (k *killing) next() *entry {
	n := len(k.acked)
	key := fmt.Sprintf("KEY%06d", n)
	if k.trial == "" || k.count == 2*perTrial {
		k.count = 0
		k.trial = ""
		return &entry{path: "/trials", fields: url.Values{"name": {"Benches"}, "key": {key}}}
	}
	code := fmt.Sprint(1000 + k.count/2)
	k.count++
	if k.count%2 == 1 {
		return &entry{path: k.trial + "/specimens", fields: url.Values{"code": {code}, "new": {code}, "adhesive": {"Tarn"}, "wood": {"ash"}, "key": {key}}}
	}
	return &entry{path: k.trial + "/break", fields: url.Values{"code": {code}, "peak": {fmt.Sprintf("%.2f", 6+k.random.Float64())}, "unit": {"MPa"},
		"wood": {"20"}, "failure": {"CF"}, "key": {key}}}
}

// check verifies the logbook as the last kill left it.
func (k *killing) check() {
	k.t.Helper()
	r, err := logbook.Check(k.t.Context(), k.path)
	if err != nil {
		k.t.Fatal(err)
	}
	if len(r.Problems) > 0 {
		k.t.Fatalf("the logbook is not whole: %v", r.Problems)
	}
}

// finish compares what is in the logbook with what was acknowledged.
func (k *killing) finish() {
	k.check()
	l, err := logbook.Open(k.t.Context(), k.path, logbook.Options{Clock: time.Now})
	if err != nil {
		k.t.Fatal(err)
	}
	defer l.Close()
	entries, err := l.Since(k.t.Context(), 0)
	if err != nil {
		k.t.Fatal(err)
	}
	times := make(map[string]int)
	subjects := make(map[string]int)
	for _, e := range entries {
		times[e.Key]++
		subjects[e.Trial+" "+e.Kind+" "+e.Subject]++
	}
	for key := range k.acked {
		if times[key] == 0 {
			k.t.Errorf("%s was acknowledged and is not in the logbook", key)
		}
	}
	for key, n := range times {
		if n > 1 || key == "" {
			k.t.Errorf("%q is in the logbook %d times", key, n)
		}
		if !k.acked[key] && (k.pending == nil || k.pending.fields.Get("key") != key) {
			k.t.Errorf("%q is in the logbook and nobody knows of it", key)
		}
	}
	for s, n := range subjects {
		if n > 1 {
			k.t.Errorf("%s is in the logbook %d times", s, n)
		}
	}
	if copies, err := filepath.Glob(k.path + ".daily-*"); err != nil || len(copies) > 2 { // of two days where midnight was between
		k.t.Errorf("copies of the day, one a start: %v", copies)
	}
}
