package cli

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages"
	"bondtrial/internal/pages/guard"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
)

// host serves the pages of one logbook.
type host struct {
	path       string
	demo       bool
	port       int // 0: the usual one, or any
	share      bool
	out, notes io.Writer
	ready      func(address string) // called once the pages can be reached

	demos sync.WaitGroup // the demo's host, where it was opened from the pages
}

// serve opens the logbook and serves until ctx ends.
func (h *host) serve(ctx context.Context) (err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer h.demos.Wait()
	defer cancel()
	listener, err := h.listen()
	if err != nil {
		return err
	}
	defer listener.Close()
	address := fmt.Sprintf("http://127.0.0.1:%d", port(listener))
	_, missing := os.Stat(h.path)
	l, err := logbook.Open(ctx, h.path, logbook.Options{Clock: time.Now, Create: true, Holder: address})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	if errors.Is(missing, fs.ErrNotExist) {
		fmt.Fprintf(h.notes, "began a logbook: %s\n", h.path)
	}
	defer h.every(ctx, time.Hour, true, func(ctx context.Context) error { _, err := l.Daily(ctx); return err }, "no copy of the day could be made")()
	defer h.every(ctx, settleEvery, false, l.Settle, "what was written last stays in the file beside the logbook")()
	book, err := record.Open(ctx, l)
	if err != nil {
		return err
	}
	site, err := pages.New(pages.Config{Book: book, Clock: time.Now, Random: rand.Reader, Log: slog.New(slog.NewTextHandler(h.notes, nil)),
		Version: publish.Version(), Port: port(listener), Share: h.share, Demo: h.demo, OpenDemo: h.openDemo(ctx)})
	if err != nil {
		return err
	}
	defer site.Close()
	fmt.Fprintf(h.out, "%s: %s\nEnd with ^C; everything is written already.\n", filepath.Base(h.path), address)
	if h.share {
		if err := h.printSharing(site); err != nil {
			return err
		}
	}
	return h.run(ctx, site, listener, func() { h.ready(address) })
}

// run serves until ctx ends, and lets what is being written finish.
func (h *host) run(ctx context.Context, site *pages.Site, listener net.Listener, ready func()) error {
	server := &http.Server{Handler: site, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 5 * time.Minute, WriteTimeout: 5 * time.Minute,
		IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10, ErrorLog: slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)}
	done := make(chan error, 1)
	go func() { done <- server.Serve(listener) }()
	ready()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	site.Close() // ends streams, which else would hold the server
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if server.Shutdown(grace) != nil {
		_ = server.Close() // somebody does not let go of a connection
	}
	if err := <-done; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// listen takes the port that was asked for, or the usual one, or any.
func (h *host) listen() (net.Listener, error) {
	network, host := "tcp4", "127.0.0.1"
	if h.share {
		network, host = "tcp", "" // every address of the machine
	}
	on := func(port int) (net.Listener, error) { return net.Listen(network, fmt.Sprintf("%s:%d", host, port)) }
	if h.port > 0 {
		l, err := on(h.port)
		if err != nil {
			return nil, fmt.Errorf("port %d is not free, or may not be used: name another with --port, or leave it out: %w", h.port, err)
		}
		return l, nil
	}
	l, err := on(defaultPort)
	if err != nil {
		l, err = on(0)
	}
	return l, err
}

func port(l net.Listener) int { return l.Addr().(*net.TCPAddr).Port }

// printSharing prints the pairing code and how to reach the pages from a phone.
func (h *host) printSharing(site *pages.Site) error {
	links, err := site.Links()
	if err != nil {
		return err
	}
	code, link, err := site.NewCode()
	if err != nil {
		return err
	}
	fmt.Fprintf(h.out, "\nPhones and tablets on this network open %s\n\n", strings.Join(links, " or "))
	if err := guard.QR(h.out, link, isTerminal(h.out)); err != nil {
		return err
	}
	_, err = fmt.Fprintf(h.out, "\nPairing code: %s, until %s, for one device; the page Logbook gives further ones.\n", code, code.Until.Local().Format("15:04"))
	return err
}

// settleEvery is how often what was written last is moved into the logbook's own
// file, so that the file holds nearly everything while it is open too.
const settleEvery = 2 * time.Second

// every does something at once, where it is to, and again and again while the pages
// are open. What goes wrong is noted, once where it stays the same. It returns what
// ends it.
func (h *host) every(ctx context.Context, pause time.Duration, atOnce bool, do func(context.Context) error, wrong string) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	said := ""
	once := func() {
		err := do(ctx)
		if err == nil || ctx.Err() != nil {
			said = ""
			return
		}
		if note := fmt.Sprintf("%s: %v\n", wrong, err); note != said {
			fmt.Fprint(h.notes, note)
			said = note
		}
	}
	if atOnce {
		once()
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(pause)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				once()
			}
		}
	}()
	return func() { cancel(); <-done }
}

// openDemo returns what opens the demo beside this logbook, at an address of its
// own; nil in the demo itself.
func (h *host) openDemo(ctx context.Context) func() (string, error) {
	if h.demo {
		return nil
	}
	return sync.OnceValues(func() (string, error) {
		path, err := demoLogbook(ctx, pages.DemoFolder())
		if err != nil {
			return "", err
		}
		address, failed := make(chan string, 1), make(chan error, 1)
		d := &host{path: path, demo: true, out: io.Discard, notes: h.notes, ready: func(a string) { address <- a }}
		h.demos.Go(func() { failed <- d.serve(ctx) })
		select {
		case a := <-address:
			return a, nil
		case err := <-failed:
			return "", err
		}
	})
}
