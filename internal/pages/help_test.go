package pages_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages"
	"bondtrial/internal/record"
)

// clock is a clock that is set by hand.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

var morning = time.Date(2027, 4, 12, 9, 0, 0, 0, time.UTC)

// house is the pages of a logbook on a real listener. It is closed with the test; a
// test may close and open it before.
type house struct {
	t       testing.TB
	path    string
	clock   *clock
	port    int
	address string

	log    *logbook.Logbook
	book   *record.Book
	site   *pages.Site
	server *http.Server
	served chan error
}

// newHouse opens a new logbook and serves its pages.
func newHouse(t testing.TB) *house {
	t.Helper()
	h := &house{t: t, path: filepath.Join(t.TempDir(), "bench.bondtrial"), clock: &clock{now: morning}}
	h.open()
	t.Cleanup(h.close)
	return h
}

func (h *house) open() {
	h.t.Helper()
	ctx := context.Background()
	l, err := net.Listen("tcp4", fmt.Sprintf("127.0.0.1:%d", h.port))
	if err != nil {
		h.t.Fatal(err)
	}
	h.port = l.Addr().(*net.TCPAddr).Port
	h.address = fmt.Sprintf("http://127.0.0.1:%d", h.port)
	if h.log, err = logbook.Open(ctx, h.path, logbook.Options{Clock: h.clock.Now, Create: true, Holder: h.address}); err != nil {
		h.t.Fatal(err)
	}
	if h.book, err = record.Open(ctx, h.log); err != nil {
		h.t.Fatal(err)
	}
	h.site, err = pages.New(pages.Config{Book: h.book, Clock: h.clock.Now, Random: rand.NewChaCha8([32]byte{7}), Log: slog.New(slog.DiscardHandler),
		Version: "(test)", Port: h.port})
	if err != nil {
		h.t.Fatal(err)
	}
	h.server = &http.Server{Handler: h.site}
	h.served = make(chan error, 1)
	go func() { h.served <- h.server.Serve(l) }()
}

// close ends the pages as the program does.
func (h *house) close() {
	if h.server == nil {
		return
	}
	h.site.Close()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := h.server.Shutdown(ctx); err != nil {
		h.t.Errorf("a request did not end with the pages: %v", err)
	}
	<-h.served
	h.server = nil
	if err := h.log.Close(); err != nil {
		h.t.Error(err)
	}
}

// last is the number of the last entry.
func (h *house) last() int64 {
	h.t.Helper()
	e, _, err := h.log.Last(context.Background())
	if err != nil {
		h.t.Fatal(err)
	}
	return e.Seq
}

// said is what a request was answered.
type said struct {
	status int
	header http.Header
	body   string
}

// device is a browser on its own connections, that follows no redirect.
func device(t testing.TB) *http.Client {
	tr := &http.Transport{}
	t.Cleanup(tr.CloseIdleConnections)
	return &http.Client{Transport: tr, Timeout: time.Minute, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func (h *house) do(c *http.Client, r *http.Request) said {
	h.t.Helper()
	resp, err := c.Do(r)
	if err != nil {
		h.t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		h.t.Fatal(err)
	}
	return said{resp.StatusCode, resp.Header, string(b)}
}

func (h *house) get(c *http.Client, path string) said {
	h.t.Helper()
	r, err := http.NewRequest(http.MethodGet, h.address+path, nil)
	if err != nil {
		h.t.Fatal(err)
	}
	return h.do(c, r)
}

// post sends a form as a browser without scripts does; fields are names and values
// in turn.
func (h *house) post(c *http.Client, path string, fields ...string) said {
	h.t.Helper()
	form := make(url.Values)
	for i := 0; i < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	r, err := http.NewRequest(http.MethodPost, h.address+path, strings.NewReader(form.Encode()))
	if err != nil {
		h.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", h.address)
	return h.do(c, r)
}

// trial begins a trial with so many specimens that are in no plan, 100 to 100 + n-1,
// and returns its address.
func (h *house) trial(n int) string {
	h.t.Helper()
	ctx := context.Background()
	id, err := h.book.New(ctx, record.Who{}, record.Asked{Name: "Benches"})
	if err != nil {
		h.t.Fatal(err)
	}
	for i := range n {
		adhesive := []string{"Tarn", "Fell"}[i%2]
		if _, err := h.book.Add(ctx, record.Who{}, id, fmt.Sprint(100+i), record.Added{Joint: record.Joint{Adhesive: adhesive, Wood: "ash"}}); err != nil {
			h.t.Fatal(err)
		}
	}
	return "/trials/" + id
}

// breaks are the fields of a break.
func breaks(code, key string) []string {
	return []string{"code", code, "peak", "6.5", "unit", "MPa", "wood", "20", "failure", "CF", "key", key}
}

// keys counts the entries of each key.
func (h *house) keys() map[string]int {
	h.t.Helper()
	entries, err := h.log.Since(context.Background(), 0)
	if err != nil {
		h.t.Fatal(err)
	}
	out := make(map[string]int)
	for _, e := range entries {
		out[e.Key]++
	}
	return out
}

// whole verifies the logbook.
func (h *house) whole() {
	h.t.Helper()
	r, err := logbook.Check(context.Background(), h.path)
	if err != nil {
		h.t.Fatal(err)
	}
	if err := r.Err(); err != nil {
		h.t.Errorf("%v: %v", err, r.Problems)
	}
}

func contains(t testing.TB, s said, words ...string) {
	t.Helper()
	for _, w := range words {
		if !bytes.Contains([]byte(s.body), []byte(w)) {
			t.Errorf("status %d, without %q:\n%.3000s", s.status, w, s.body)
		}
	}
}
