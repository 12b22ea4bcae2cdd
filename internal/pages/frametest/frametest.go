// Package frametest sets up a logbook and a desk for the tests of stations.
package frametest

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/guard"
	"bondtrial/internal/plan"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/record"
)

// Bench is a desk over a logbook of its own.
type Bench struct {
	*frame.Desk
	Clock *Clock
	t     testing.TB
}

// Clock is a clock that stands until it is set.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// Now returns the time.
func (c *Clock) Now() time.Time { c.mu.Lock(); defer c.mu.Unlock(); return c.now }

// Add sets the clock forward, or back.
func (c *Clock) Add(d time.Duration) { c.mu.Lock(); c.now = c.now.Add(d); c.mu.Unlock() }

// New returns a bench whose clock stands at 9:00 UTC on 12 April 2027, the first day
// of Benches.
func New(t testing.TB) *Bench {
	t.Helper()
	clock := &Clock{now: time.Date(2027, 4, 12, 9, 0, 0, 0, time.UTC)}
	l, err := logbook.Open(t.Context(), filepath.Join(t.TempDir(), "test.bondtrial"), logbook.Options{Clock: clock.Now, Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	})
	book, err := record.Open(t.Context(), l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(book.Close)
	return &Bench{t: t, Clock: clock, Desk: &frame.Desk{Book: book, Clock: clock.Now, Random: rand.NewChaCha8([32]byte{1}), Log: slog.New(slog.DiscardHandler), Version: "(test)",
		Device: func(r *http.Request) (string, bool) {
			if d := r.Header.Get("X-Test-Device"); d != "" {
				return d, false
			}
			return "this machine", true
		}}}
}

// Serve serves routes, written as for http.ServeMux, with the static files and the
// stream of entries, under the policy that the product's pages have.
func (b *Bench) Serve(routes map[string]frame.Handler) *httptest.Server {
	b.t.Helper()
	mux := http.NewServeMux()
	mux.Handle("GET /static/", frame.Static())
	mux.Handle("GET /events", b.Desk.Serve(frame.Events))
	for pattern, h := range routes {
		mux.Handle(pattern, b.Desk.Serve(h))
	}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", guard.Policy)
		mux.ServeHTTP(w, r)
	}))
	b.t.Cleanup(s.Close)
	b.t.Cleanup(b.Book.Close) // ends streams, before the server waits for them
	return s
}

// BenchesFile is the trial file of Benches: two adhesives on one wood with a factor,
// 16 specimens.
const BenchesFile = `name = "Benches"
question = "Is Tarn enough for damp ash?"
specimens_per_cell = 4
blind = %t

[[adhesive]]
name = "Tarn"
family = "pva"

[[adhesive]]
name = "Fell"
family = "polyurethane"

[[wood]]
name = "ash"
boards = 4
length_mm = 900
width_mm = 120
thickness_mm = 25

[[factor]]
name = "surface"
levels = ["dry", "damp"]

[specimen]
joint = "lap"
length_mm = 80
width_mm = 20
thickness_mm = 8
overlap_mm = 10

[work]
start = 2027-04-12
time_zone = "Europe/Berlin"
clamps = 12
`

// Benches plans a trial in the book and returns its name there: 16 specimens, bonded
// area 200 mm².
func (b *Bench) Benches(blind bool) string {
	b.t.Helper()
	ctx := context.Background()
	text := fmt.Sprintf(BenchesFile, blind)
	id, err := b.Book.New(ctx, record.Who{By: "Ida"}, record.Asked{Name: "Benches", Question: "Is Tarn enough for damp ash?", File: text})
	if err != nil {
		b.t.Fatal(err)
	}
	tr, err := trialfile.Read(bytes.NewReader([]byte(text)), "benches.toml")
	if err != nil {
		b.t.Fatal(err)
	}
	p, err := plan.Make(ctx, tr, plan.Options{Trials: 50})
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := b.Book.Add(ctx, record.Who{By: "Ida"}, id, "", record.PlannedFrom(p, text, "(test)")); err != nil {
		b.t.Fatal(err)
	}
	return id
}

// Trial returns a trial as it stands.
func (b *Bench) Trial(id string) *record.Trial {
	b.t.Helper()
	t, err := b.Book.Trial(context.Background(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	return t
}

// GlueAll records every specimen of a trial as glued.
func (b *Bench) GlueAll(id string) {
	b.t.Helper()
	for _, s := range b.Trial(id).ToGlue() {
		if _, err := b.Book.Add(context.Background(), record.Who{By: "Ida"}, id, s.Code, record.Glued{}); err != nil {
			b.t.Fatal(err)
		}
	}
}

// Break records a break of a specimen at a force in N.
func (b *Bench) Break(id, code string, newton float64, woodShare float64) record.Entry {
	b.t.Helper()
	area := b.Trial(id).AreaMM2()
	mpa, _, err := record.Strength(newton, "N", area)
	if err != nil {
		b.t.Fatal(err)
	}
	e, err := b.Book.Add(context.Background(), record.Who{By: "Ida"}, id, code, record.Broken{Peak: newton, Unit: "N", AreaMM2: area, Strength: mpa, WoodShare: &woodShare})
	if err != nil {
		b.t.Fatal(err)
	}
	return e
}
