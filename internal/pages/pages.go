// Package pages serves a logbook's pages: the list of all routes (routes.go), who
// may talk to them (site.go), and the stations put together. Each station is a
// package beneath this one.
package pages

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bondtrial/internal/pages/answers"
	"bondtrial/internal/pages/beside"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/guard"
	"bondtrial/internal/pages/plan"
	"bondtrial/internal/pages/publishing"
	"bondtrial/internal/record"
)

// Config says what is served and to whom.
type Config struct {
	Book    *record.Book
	Clock   func() time.Time
	Random  io.Reader // of the quality of crypto/rand
	Log     *slog.Logger
	Version string
	Port    int  // that the pages are reached at
	Share   bool // devices on the local network may come in with a code
	// Addresses are those of this machine on local networks, the likeliest first; nil:
	// what the system says.
	Addresses func() ([]string, error)
	Demo      bool // the logbook is the demo's
	// OpenDemo begins to serve the demo's logbook and returns its address; nil where
	// there is none to open.
	OpenDemo func() (address string, err error)
}

// Site is the pages of a logbook. Close ends it.
type Site struct {
	config     Config
	desk       *frame.Desk
	guard      *guard.Guard
	answers    *answers.Keeper
	plans      *plan.Maker
	publishing *publishing.Pages
	sharing    beside.Sharing
	handler    http.Handler
	cancel     context.CancelFunc
}

// New returns the pages of a logbook. The error is that of reading the devices that
// were let in.
func New(c Config) (*Site, error) {
	ctx, cancel := context.WithCancel(context.Background())
	s := &Site{config: c, cancel: cancel, answers: answers.NewKeeper(ctx, c.Clock, answers.Limits{}), plans: plan.NewMaker(ctx)}
	s.publishing = publishing.New(s.answers)
	s.desk = &frame.Desk{Book: c.Book, Clock: c.Clock, Random: c.Random, Log: c.Log, Version: c.Version, Demo: c.Demo, Device: device, Notices: s.notices}
	if err := s.protect(); err != nil {
		cancel()
		return nil, err
	}
	mux := http.NewServeMux()
	mux.Handle("GET /static/", frame.Static())
	for _, r := range s.routes() {
		mux.Handle(r.pattern, s.desk.Serve(r.handler))
	}
	mux.Handle("/", s.desk.Serve(func(*frame.Desk, http.ResponseWriter, *http.Request) error {
		return frame.NotFound("there is no such page: perhaps the address was copied in part")
	}))
	s.handler = s.guard.Wrap(mux)
	return s, nil
}

// ServeHTTP serves the pages.
func (s *Site) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Close ends what runs in the background, and the streams of entries.
func (s *Site) Close() {
	s.cancel()
	s.config.Book.Close()
	s.answers.Close()
	s.plans.Wait()
}

// setBack is how far the clock must be behind the last entry to be spoken of.
const setBack = 2 * time.Second

// notices says what every page should say.
func (s *Site) notices() []string {
	last, now := s.config.Book.LastAt(), s.config.Clock()
	if last.Sub(now) < setBack {
		return nil
	}
	return []string{"The clock of the machine reads " + frame.When(now, time.Local) + ", which is before the last entry (" + frame.When(last, time.Local) +
		"). Entries keep their order and nothing is lost; set the clock right, or times will be wrong."}
}

// demo opens the demo's logbook, on the machine itself only.
func (s *Site) demo(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	if _, itself := d.Device(r); !itself || s.config.OpenDemo == nil {
		return &frame.Problem{Status: http.StatusForbidden, Words: "the demo opens on the machine itself: write bondtrial demo in a terminal there"}
	}
	address, err := s.config.OpenDemo()
	if err != nil {
		return err
	}
	v := d.View(r, nil, "")
	v.Title, v.Data = "The demo is open", address
	return d.Show(w, r, demoPage, v)
}

// DemoFolder is where the demo's logbook is kept: beside the others of the user, or
// where things are kept for a while.
func DemoFolder() string {
	if dir, err := os.UserCacheDir(); err == nil {
		return filepath.Join(dir, "bondtrial")
	}
	return filepath.Join(os.TempDir(), "bondtrial")
}

// device names where a request comes from.
func device(r *http.Request) (name string, itself bool) {
	d, itself := guard.Who(r)
	if itself {
		return "this machine", true
	}
	return strings.TrimSpace(d.Name), false
}
