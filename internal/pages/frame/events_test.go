package frame_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

var ida = record.Who{By: "Ida"}

// stream reads server-sent events.
type stream struct {
	t      *testing.T
	news   chan frame.News
	cancel context.CancelFunc
	beats  chan struct{}
	ended  chan struct{}
}

func listen(t *testing.T, s *httptest.Server, query, lastID string) *stream {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, s.URL+"/events"+query, nil)
	if err != nil {
		t.Fatal(err)
	}
	if lastID != "" {
		r.Header.Set("Last-Event-ID", lastID)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if got := answer.Header.Get("Content-Type"); answer.StatusCode != 200 || got != "text/event-stream" {
		t.Fatalf("status %d, %s", answer.StatusCode, got)
	}
	st := &stream{t, make(chan frame.News, 1000), cancel, make(chan struct{}, 1000), make(chan struct{})}
	go func() {
		defer close(st.ended)
		defer answer.Body.Close()
		lines := bufio.NewScanner(answer.Body)
		id := ""
		for lines.Scan() {
			switch line := lines.Text(); {
			case strings.HasPrefix(line, ": "):
				st.beats <- struct{}{}
			case strings.HasPrefix(line, "id: "):
				id = line[4:]
			case strings.HasPrefix(line, "data: "):
				var n frame.News
				if err := json.Unmarshal([]byte(line[6:]), &n); err != nil || fmt.Sprint(n.Seq) != id {
					t.Errorf("id %s with %s: %v", id, line, err)
				}
				st.news <- n
			}
		}
	}()
	t.Cleanup(cancel)
	return st
}

// next returns the next n events.
func (s *stream) next(n int) (seqs []int64) {
	s.t.Helper()
	late := time.After(10 * time.Second)
	for range n {
		select {
		case e := <-s.news:
			seqs = append(seqs, e.Seq)
		case <-s.ended:
			s.t.Fatalf("the stream ended after %v", seqs)
		case <-late:
			s.t.Fatalf("no event after %v", seqs)
		}
	}
	return seqs
}

func climate(t *testing.T, b *frametest.Bench, id string) int64 {
	t.Helper()
	e, err := b.Book.Add(t.Context(), ida, id, "", record.Climate{Celsius: 18})
	if err != nil {
		t.Fatal(err)
	}
	return e.Seq
}

func TestEventsTellWhatWasMissed(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(nil)
	id := b.Benches(false)
	other, err := b.Book.New(t.Context(), ida, record.Asked{Name: "Other"})
	if err != nil {
		t.Fatal(err)
	}
	known := b.Book.Last()
	var mine []int64
	for range 3 {
		mine = append(mine, climate(t, b, id))
		climate(t, b, other)
	}
	after := fmt.Sprint("&after=", known)
	for _, c := range []struct {
		name, query, lastID string
		want                []int64
	}{
		{"last id", "?trial=" + id, fmt.Sprint(known), mine},
		{"after", "?trial=" + id + after, "", mine},
		{"the later of both", "?trial=" + id + after, fmt.Sprint(mine[0]), mine[1:]},
		{"neither", "?trial=" + id, "", nil},
		{"no number", "?trial=" + id + "&after=-4", "x", nil},
		{"from the future", "?trial=" + id, "999999", nil},
		{"all trials", "?trial=" + after, "", []int64{known + 1, known + 2, known + 3, known + 4, known + 5, known + 6}},
		{"no such trial", "?trial=nobody" + after, "", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := listen(t, s, c.query, c.lastID)
			if got := st.next(len(c.want)); !slices.Equal(got, c.want) {
				t.Errorf("told of %v, want %v", got, c.want)
			}
			if len(st.news) > 0 {
				t.Errorf("and of %v", <-st.news)
			}
		})
	}
	// Then the news, once, and of this trial only.
	st := listen(t, s, "?trial="+id+after, "")
	climate(t, b, other)
	now := climate(t, b, id)
	if got := st.next(4); !slices.Equal(got, append(mine, now)) {
		t.Errorf("told of %v, want %v and %d", got, mine, now)
	}
}

// Entries that are written while a reader comes in are told once each: none falls
// between what was missed and what is new.
func TestEventsBetweenMissedAndNew(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(nil)
	id := b.Benches(false)
	const n = 60
	first := b.Book.Last() + 1
	written := make(chan struct{})
	go func() {
		defer close(written)
		for range n {
			if _, err := b.Book.Add(t.Context(), ida, id, "", record.Climate{Celsius: 18}); err != nil {
				t.Error(err)
			}
		}
	}()
	var streams []*stream
	for range 6 {
		streams = append(streams, listen(t, s, fmt.Sprint("?trial=", id, "&after=", first-1), ""))
		time.Sleep(5 * time.Millisecond)
	}
	<-written
	for _, st := range streams {
		for i, seq := range st.next(n) {
			if seq != first+int64(i) {
				t.Fatalf("event %d is entry %d, want %d", i, seq, first+int64(i))
			}
		}
		if len(st.news) > 0 {
			t.Errorf("an entry was told twice: %+v", <-st.news)
		}
	}
}

func TestEventsEnd(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(nil)
	id := b.Benches(false)
	st := listen(t, s, "?trial="+id, "")
	away := listen(t, s, "?trial="+id, "")
	away.cancel()
	<-away.ended
	climate(t, b, id)
	st.next(1)
	b.Book.Close()
	select {
	case <-st.ended:
	case <-time.After(10 * time.Second):
		t.Fatal("a stream goes on after the book was closed")
	}
	select { // one that comes later ends too, or a server that stops would wait for it
	case <-listen(t, s, "", "").ended:
	case <-time.After(10 * time.Second):
		t.Fatal("a stream began after the book was closed")
	}
}

func TestEventsBeat(t *testing.T) {
	frame.SetBeat(t, 10*time.Millisecond)
	b := frametest.New(t)
	st := listen(t, b.Serve(nil), "", "")
	for range 3 {
		select {
		case <-st.beats:
		case <-time.After(10 * time.Second):
			t.Fatal("a silent stream has no sign of life")
		}
	}
}

// A reader that stops reading is let go and does not hold up who writes; when it
// comes again it is told of the rest.
func TestEventsSlowReader(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(nil)
	id := b.Benches(false)
	first := b.Book.Last() + 1
	r, err := http.Get(s.URL + "/events?trial=" + id) // and nobody reads on
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	const n = 400
	items := make([]record.Item, n)
	for i := range items {
		items[i] = record.Item{Content: record.Noted{Text: strings.Repeat("long ", 200)}}
	}
	if _, err := b.Book.AddAll(t.Context(), ida, id, items); err != nil {
		t.Fatal(err)
	}
	got := listen(t, s, "?trial="+id, fmt.Sprint(first-1)).next(n)
	if got[0] != first || got[n-1] != first+n-1 {
		t.Errorf("told of %d to %d", got[0], got[n-1])
	}
}

// A page says which entry it knows of, so that what is written while it loads is
// told to it.
func TestPagesSayWhatTheyKnow(t *testing.T) {
	b := frametest.New(t)
	id := b.Benches(false)
	page := frame.Page(onePage, "page.html")
	var between func()
	s := b.Serve(map[string]frame.Handler{
		"GET /all": func(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
			between()
			v := d.View(r, nil, "trials")
			v.Title = "All"
			return d.Show(w, r, page, v)
		},
		"GET /trials/{trial}": func(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
			tr, err := d.Trial(r)
			if err != nil {
				return err
			}
			between()
			return d.Show(w, r, page, d.View(r, tr, "ask"))
		},
	})
	for _, path := range []string{"/all", "/trials/" + id} {
		before := b.Book.Last()
		between = func() { climate(t, b, id) }
		if text := get(t, s, path, 200); !strings.Contains(text, fmt.Sprintf(`data-seq="%d"`, before)) {
			t.Errorf("%s does not say that it knows of entry %d", path, before)
		}
	}
}
