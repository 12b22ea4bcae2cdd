// Package chrome runs Chromium without a window: it opens pages at the size of a
// phone, a tablet or a laptop, acts on them with real pointer, touch and key
// events, and tells what is on them. It reaches no machine but this one. Tests use
// it through package browsertest; no part of the product imports it.
package chrome

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"time"

	"github.com/chromedp/chromedp"
)

// ErrNone says that there is no Chromium on this machine, and what to do.
var ErrNone = errors.New("no Chromium found: install Debian's package (apt-get install chromium), or set BONDTRIAL_CHROMIUM to the path of the program")

// startWait is how long Start and Close wait for the whole browser; on a busy
// machine a start takes several seconds.
const startWait = 60 * time.Second

// Browser is one running Chromium with a fresh, empty profile.
type Browser struct {
	ctx     context.Context
	release context.CancelFunc
	home    string
}

// Find returns the path of the Chromium to use: what BONDTRIAL_CHROMIUM names, or
// else Debian's, or else the first on the path called chromium, chromium-browser or
// chrome. The error is ErrNone, or says that the named program is not there.
func Find() (string, error) {
	if named := os.Getenv("BONDTRIAL_CHROMIUM"); named != "" {
		path, err := exec.LookPath(named)
		if err != nil {
			return "", fmt.Errorf("the program that BONDTRIAL_CHROMIUM names: %w", err)
		}
		return path, nil
	}
	// The first is the program itself; chromium on the path is a script that adds
	// extensions to it.
	for _, name := range []string{"/usr/lib/chromium/chromium", "chromium", "chromium-browser", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", ErrNone
}

// Start starts a Chromium. It resolves no host but this machine, so a page that
// asks for anything else gets nothing. Close it after use. The error wraps ErrNone
// where there is none.
func Start() (*Browser, error) {
	path, err := Find()
	if err != nil {
		return nil, err
	}
	home, err := os.MkdirTemp("", "bondtrial-chromium-")
	if err != nil {
		return nil, fmt.Errorf("a folder for the browser: %w", err)
	}
	flags := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path),
		chromedp.NoSandbox, // containers have no user namespaces; only our own pages are opened
		chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-domain-reliability", true),
		chromedp.Flag("disable-crash-reporter", true),
		chromedp.Flag("disable-field-trial-config", true),
		chromedp.Flag("no-pings", true),
		chromedp.Flag("no-proxy-server", true),
		chromedp.Flag("mute-audio", true),
		chromedp.Flag("hide-scrollbars", true),
		chromedp.Flag("font-render-hinting", "none"),
		chromedp.Flag("disable-features", "Translate,OptimizationHints,MediaRouter,AutofillServerCommunication,CertificateTransparencyComponentUpdater"),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost, EXCLUDE [::1]"),
		// What Chromium keeps outside its profile goes to a fresh folder too. The
		// profile is a fresh folder that chromedp makes and removes.
		chromedp.Env("HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_CACHE_HOME="+home),
	)
	allocator, releaseAllocator := chromedp.NewExecAllocator(context.Background(), flags...)
	ctx, cancel := chromedp.NewContext(allocator,
		chromedp.WithErrorf(func(string, ...any) {}), // events newer than the library's tables
	)
	b := &Browser{ctx: ctx, home: home, release: func() { cancel(); releaseAllocator() }}
	if err := b.begin(); err != nil {
		b.release()
		os.RemoveAll(home)
		return nil, fmt.Errorf("starting %s: %w", path, err)
	}
	return b, nil
}

// begin waits for the browser. The first run binds the browser's life to its
// context, so the limit must not be on that context.
func (b *Browser) begin() error {
	started := make(chan error, 1)
	go func() { started <- chromedp.Do(b.ctx) }()
	select {
	case err := <-started:
		return err
	case <-time.After(startWait):
		return fmt.Errorf("not ready after %v", startWait)
	}
}

// Close ends the browser with all its pages and removes its folders. No process of
// it is left afterwards.
func (b *Browser) Close() error {
	ctx, cancel := context.WithTimeout(b.ctx, startWait)
	defer cancel()
	err := chromedp.Cancel(ctx)
	b.release()
	if removed := os.RemoveAll(b.home); err == nil {
		err = removed
	}
	if err != nil {
		return fmt.Errorf("closing the browser: %w", err)
	}
	return nil
}

// process returns the number of the browser's main process.
func (b *Browser) process() int {
	return chromedp.FromContext(b.ctx).Browser.Process().Pid
}
