package chrome

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Screen is what a page is looked at on. Width and Height are CSS pixels. Phone
// stands for a screen that is touched: mobile layout, touch events, two device
// pixels to a CSS pixel. Dark asks for the dark colours.
type Screen struct {
	Width, Height int
	Phone, Dark   bool
}

// The screens that pages are made for. The tablet is touched too.
var (
	Phone  = Screen{Width: 390, Height: 844, Phone: true}
	Tablet = Screen{Width: 820, Height: 1180, Phone: true}
	Laptop = Screen{Width: 1366, Height: 768}
)

// Page is one page in a browser context of its own: it shares no cookie and no
// storage with other pages. It is not safe for use by several goroutines at once.
type Page struct {
	// Patience is how long each method waits for what is to come on the page; 15 s at
	// first. It looks at least once.
	Patience time.Duration

	ctx    context.Context
	cancel context.CancelFunc
	screen Screen
	frame  cdp.FrameID

	mu       sync.Mutex
	loading  bool
	status   int
	requests []string
	console  []string
}

const (
	retryAfter = 20 * time.Millisecond // the pause between two looks at a page
	answerWait = 30 * time.Second      // how long the browser may take to answer
)

// until looks again and again until the look is done, and reports whether it was
// within the page's patience. An error ends it early.
func (p *Page) until(look func() (done bool, err error)) (bool, error) {
	for start := time.Now(); ; {
		done, err := look()
		if done || err != nil {
			return done, err
		}
		if time.Since(start) > p.Patience {
			return false, nil
		}
		select {
		case <-p.ctx.Done():
			return false, p.ctx.Err()
		case <-time.After(retryAfter):
		}
	}
}

// answer runs an action within the time that the browser may take.
func answer[T any](p *Page, a chromedp.Action[T]) (T, error) {
	ctx, cancel := context.WithTimeout(p.ctx, answerWait)
	defer cancel()
	return chromedp.Run(ctx, a)
}

// Page opens an empty page.
func (b *Browser) Page(s Screen) (*Page, error) {
	p := &Page{Patience: 15 * time.Second, screen: s}
	p.ctx, p.cancel = chromedp.NewContext(b.ctx, chromedp.WithNewBrowserContext(), chromedp.WithListener(p.note))
	if err := chromedp.Do(p.ctx); err != nil { // binds the page's life to p.ctx
		p.cancel()
		return nil, fmt.Errorf("opening a page: %w", err)
	}
	target := chromedp.FromContext(p.ctx).Target
	p.mu.Lock()
	p.frame = cdp.FrameID(target.TargetID)
	p.mu.Unlock()
	var options []chromedp.EmulateViewportOption
	if s.Phone {
		options = append(options, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulateScale(2), chromedp.EmulatePortrait)
	}
	scheme := "light"
	if s.Dark {
		scheme = "dark"
	}
	err := p.do(
		chromedp.EmulateViewport(int64(s.Width), int64(s.Height), options...),
		command(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
		}),
		// Every page behaves as the one in front, or only one would get the focus.
		command(emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true}),
	)
	if err != nil {
		p.cancel()
		return nil, fmt.Errorf("setting up a page of %d × %d: %w", s.Width, s.Height, err)
	}
	return p, nil
}

// Close closes the page and forgets its cookies and storage.
func (p *Page) Close() { p.cancel() }

// Screen returns what the page is looked at on.
func (p *Page) Screen() Screen { return p.screen }

func command[P, R any](c cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, c, params)
		return err
	})
}

func (p *Page) do(steps ...chromedp.Action[chromedp.Void]) error {
	_, err := answer(p, chromedp.Steps(steps...))
	return err
}

// note keeps what the browser reports. It runs between the browser's messages, so
// it must be quick.
func (p *Page) note(event any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch e := event.(type) {
	case *page.EventFrameRequestedNavigation:
		p.loading = p.loading || e.FrameID == p.frame && e.Disposition == page.ClientNavigationDispositionCurrentTab
	case *page.EventFrameStartedLoading:
		p.loading = p.loading || e.FrameID == p.frame
	case *page.EventFrameStoppedLoading:
		p.loading = p.loading && e.FrameID != p.frame
	case *network.EventRequestWillBeSent:
		p.requested(e.Request.URL)
	case *network.EventWebSocketCreated:
		p.requested(e.URL)
	case *network.EventResponseReceived:
		if e.Type == network.ResourceTypeDocument && e.FrameID == p.frame {
			p.status = int(e.Response.Status)
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError {
			p.console = append(p.console, strings.TrimSpace(e.Entry.Text+" "+e.Entry.URL))
		}
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeAssert {
			p.console = append(p.console, said(e.Args))
		}
	case *runtime.EventExceptionThrown:
		p.console = append(p.console, (&chromedp.ExceptionError{ExceptionDetails: e.ExceptionDetails}).Error())
	}
}

// requested keeps a URL, unless the page carries what it names.
func (p *Page) requested(url string) {
	if !strings.HasPrefix(url, "data:") && !strings.HasPrefix(url, "blob:") {
		p.requests = append(p.requests, url)
	}
}

func said(args []*runtime.RemoteObject) string {
	var words []string
	for _, a := range args {
		var text string
		switch {
		case json.Unmarshal(a.Value, &text) == nil:
			words = append(words, text)
		case len(a.Value) > 0:
			words = append(words, string(a.Value))
		default:
			words = append(words, a.Description)
		}
	}
	return strings.Join(words, " ")
}

// Requests returns every URL that the page asked for since it was made, in order:
// documents, redirects, pictures, scripts, fetches, sockets, whether or not they were
// answered. Not in it: a fetch that the page's policy forbids (which is never sent, and
// is in Console), what a worker of the page asks for by itself, data: and blob: URLs.
func (p *Page) Requests() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string(nil), p.requests...)
}

// Console returns what the page complained of since it was made: errors of scripts,
// calls of console.error, breaches of its security policy, and requests that failed.
func (p *Page) Console() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string(nil), p.console...)
}

// Status returns the HTTP status of the document that was last received; 0: none yet.
func (p *Page) Status() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.status
}

// Open goes to the URL and waits until the page is loaded, its scripts have run and
// its pictures are there. A status of 404 or 500 is no error; see Status.
func (p *Page) Open(url string) error {
	err := p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		res, err := cdp.Call(ctx, t, page.Navigate, page.NavigateParams{URL: url})
		if err == nil && res.ErrorText != "" {
			err = errors.New(res.ErrorText)
		}
		return err
	}))
	if err == nil {
		err = p.loaded()
	}
	if err != nil {
		return fmt.Errorf("opening %s: %w", url, err)
	}
	return nil
}

// loaded waits until no new document is on its way and the one there is complete.
func (p *Page) loaded() error {
	done, err := p.until(func() (bool, error) {
		state, err := answer(p, chromedp.Evaluate[string]("document.readyState"))
		p.mu.Lock()
		defer p.mu.Unlock()
		// An error says that the document has just been replaced.
		return err == nil && state == "complete" && !p.loading, nil
	})
	if err == nil && !done {
		err = fmt.Errorf("still loading after %v", p.Patience)
	}
	return err
}

// settle lets what an action set off begin, and waits for the new document if that
// was the start of one. A page that only changes itself, later, must be waited for
// by what it should show: see WaitFor and WaitText.
func (p *Page) settle() error {
	// Scripts may act in a task after the event's own, so let two go by. The error, if
	// any, says that the document has just been replaced.
	_, _ = answer(p, chromedp.Evaluate[chromedp.Void](
		"new Promise(done => setTimeout(() => setTimeout(done, 0), 0))", chromedp.EvalAwaitPromise))
	return p.loaded()
}

// Eval evaluates a JavaScript expression on the page, waits for it if it is a
// promise, and decodes its JSON into out, unless out is nil.
func (p *Page) Eval(js string, out any) error {
	value, err := answer(p, chromedp.Evaluate[[]byte](js, chromedp.EvalAwaitPromise))
	if err != nil {
		return err
	}
	if out == nil {
		return nil
	}
	if len(value) == 0 {
		return errors.New("the expression is undefined")
	}
	return json.Unmarshal(value, out)
}
