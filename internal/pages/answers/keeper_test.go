package answers

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/record"
)

// ordered is an order that needs no trial.
func ordered(key string) *order { return &order{key: Key(key), alike: "one trial"} }

// keeping keeps an answer of a size without computing anything.
func keeping(bytes int64) worker {
	return func(_ context.Context, o *order, _ func(string, int, int)) (*Kept, error) {
		return &Kept{key: o.key, alike: o.alike, bytes: bytes, Answer: &answer.Answer{}}, nil
	}
}

func until(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !done(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("never: " + what)
		}
	}
}

// The longest unused answers go first, by number and by size.
func TestLimits(t *testing.T) {
	for _, c := range []struct {
		limits Limits
		bytes  int64
		kept   string
	}{
		{Limits{Answers: 3}, 10, "a d e"},
		{Limits{Answers: 9, Bytes: 25}, 10, "a e"},
		{Limits{Answers: 9, Bytes: 5}, 10, "e"}, // alone, though too large
	} {
		k := newKeeper(t.Context(), time.Now, c.limits, keeping(c.bytes))
		for _, key := range []string{"a", "b", "c", "d", "e"} {
			k.run(ordered(key))
			until(t, key, func() bool { return k.look(Key(key)) != nil })
			k.look("a")
		}
		var got []string
		for _, key := range []string{"a", "b", "c", "d", "e"} {
			if k.look(Key(key)) != nil {
				got = append(got, key)
			}
		}
		if s := strings.Join(got, " "); s != c.kept {
			t.Errorf("%+v: %s are kept, want %s", c.limits, s, c.kept)
		}
		if k.bytes != int64(len(got))*c.bytes {
			t.Errorf("%d bytes are counted, want %d", k.bytes, int64(len(got))*c.bytes)
		}
		k.Close()
	}
}

// Requests for one answer at the same time compute it once; other answers wait.
func TestComputedOnce(t *testing.T) {
	var began, at, most atomic.Int32
	release := make(chan struct{})
	d := deskWith(t, func(ctx context.Context, o *order, tell func(string, int, int)) (*Kept, error) {
		began.Add(1)
		most.Store(max(most.Load(), at.Add(1)))
		defer at.Add(-1)
		<-release
		return compute(ctx, o, tell)
	})
	id := d.small()
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() { d.post("/trials/" + id + "/answer/run") })
	}
	wg.Wait()
	other := d.post("/trials/" + id + "/answer/run?seed=2")
	if other.State != Waiting {
		t.Errorf("%+v: a second answer does not wait", other)
	}
	until(t, "begun", func() bool { return began.Load() == 1 })
	says(t, d.page("/trials/"+id+"/answer?seed=2"), "Waiting for another answer to be done")
	close(release)
	d.answered(id, "")
	d.answered(id, "?seed=2")
	d.answered(id, "")
	if began.Load() != 2 || most.Load() != 1 {
		t.Errorf("%d computations for two answers, %d at a time", began.Load(), most.Load())
	}
}

// A computation can be stopped in the middle; it leaves nothing and can be begun
// again.
func TestStop(t *testing.T) {
	middle := make(chan struct{}, 8)
	d := deskWith(t, func(ctx context.Context, o *order, tell func(string, int, int)) (*Kept, error) {
		return compute(ctx, o, func(stage string, done, of int) {
			tell(stage, done, of)
			select {
			case middle <- struct{}{}:
				<-ctx.Done() // so that it is in the middle when it is stopped
			default:
			}
		})
	})
	id := d.small()
	h := d.post("/trials/" + id + "/answer/run")
	<-middle
	if h = d.keeper.how(h.Job); h.State != Working || h.Stage == "" || h.Percent < 0 || h.Percent > 100 || len(h.ToCome) == 0 {
		t.Errorf("%+v: not in the middle", h)
	}
	page := d.page("/trials/" + id + "/answer")
	says(t, page, "Answering", "The bonds:", "more steps after this", "Stop")
	h = d.post("/trials/" + id + "/answer/stop?job=" + url.QueryEscape(string(h.Job)))
	if h.State != Stopped {
		t.Fatalf("%+v: not stopped", h)
	}
	page = d.page("/trials/" + id + "/answer")
	says(t, page, "Stopped. Nothing of it was kept.", "Answer now")
	for len(middle) < cap(middle) {
		middle <- struct{}{}
	}
	d.answered(id, "")
}

// All ends with the server, without a goroutine left behind.
func TestClose(t *testing.T) {
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithCancel(context.Background())
	k := newKeeper(ctx, time.Now, Limits{AtOnce: 2}, func(ctx context.Context, o *order, tell func(string, int, int)) (*Kept, error) {
		<-ctx.Done()
		return nil, ctx.Err()
	})
	for i := range 10 {
		k.run(ordered(fmt.Sprint(i)))
	}
	cancel()
	k.Close()
	k.run(ordered("late"))
	if n := len(k.running) + k.order.Len(); n != 0 {
		t.Errorf("%d are left", n)
	}
	until(t, "goroutines ended", func() bool { return runtime.NumGoroutine() <= before })
}

// A fault in a computation is told, and does not end the server.
func TestFault(t *testing.T) {
	k := newKeeper(t.Context(), time.Now, Limits{}, func(context.Context, *order, func(string, int, int)) (*Kept, error) { panic("slip") })
	defer k.Close()
	k.run(ordered("a"))
	until(t, "failed", func() bool { return k.how("a").State == Failed })
	words, little := missing(k.look("a").Err)
	if little || !strings.Contains(words[0], "slip") {
		t.Errorf("%q", words)
	}
	if words, little := missing(&answer.TooLittle{Missing: "all is missing"}); !little || words[0] != "All is missing." {
		t.Errorf("%q %v", words, little)
	}
	if words, _ := missing(errors.New("odd")); words[0] != "Odd." {
		t.Errorf("%q", words)
	}
}

// The key changes with the readings, the settings and the version, and with nothing
// else.
func TestKey(t *testing.T) {
	d := newDesk(t)
	id := d.broken(false, 8)
	key := func(query string) Key {
		q, err := url.ParseQuery(query)
		if err != nil {
			t.Fatal(err)
		}
		tr := d.Trial(id)
		a, _ := settings(q, tr, bondtrial.SI)
		o, err := newOrder(d.Desk, tr, a)
		if err != nil {
			t.Fatal(err)
		}
		return o.key
	}
	first := key("")
	for _, same := range []string{"units=us", "margin=15", "margin=15+%25", "threshold=75", "seed=0x1", "family=wood", "control="} {
		if key(same) != first {
			t.Errorf("%s gives another key", same)
		}
	}
	seen := map[Key]string{first: ""}
	for _, other := range []string{"margin=10", "threshold=50", "seed=2", "family=all", "control=Fell", "pooled=1", "required=6MPa"} {
		k := key(other)
		if was, ok := seen[k]; ok {
			t.Errorf("%s gives the key of %q", other, was)
		}
		seen[k] = other
	}
	d.Clock.Add(24 * time.Hour)
	if _, err := d.Book.Add(context.Background(), record.Who{}, id, "", record.Noted{Station: "break", Text: "rain"}); err != nil {
		t.Fatal(err)
	}
	if key("") != first {
		t.Error("a remark gives another key")
	}
	d.Version = "(other)"
	if key("") == first {
		t.Error("another version gives the same key")
	}
	d.Version = "(test)"
	s := d.Trial(id).LastBroken()
	b := s.Broken.Broken
	b.Strength += 0.01
	b.Peak += 2
	if _, err := d.Book.Correct(context.Background(), record.Who{}, id, s.Broken.Seq, b); err != nil {
		t.Fatal(err)
	}
	if key("") == first {
		t.Error("a corrected reading gives the same key")
	}
}
