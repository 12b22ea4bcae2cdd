package guard

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/netip"
	"path"
	"strconv"
	"strings"
	"sync"
	"time"
)

// DefaultLimit is how many bytes the body of a request may have where Config
// says nothing else: a form.
const DefaultLimit = 1 << 20

// PairPath is where a device is paired. Wrap serves it.
const PairPath = "/pair"

// mostDrained is how much of a body that is too large is read all the same, so
// that the browser gets to reading the answer.
const mostDrained = 64 << 20

// Config says what a Guard works with. Clock, Random and Port are needed.
type Config struct {
	Clock  func() time.Time
	Random io.Reader // for codes and tokens: of the quality of crypto/rand
	Port   int       // that the pages are reached at
	Hosts  []string  // names and addresses, without port, under which others may reach the machine; loopback always may

	// Load, Save and Drop keep the paired devices: all three or none. Without them
	// devices are forgotten when the program ends. Save and Drop are given the
	// context of the request; when they fail nothing has changed.
	Load func() ([]Device, error)
	Save func(context.Context, Device) error
	Drop func(ctx context.Context, id string) error

	// Limit returns how many bytes the body of a request may have; 0 or no
	// function: DefaultLimit.
	Limit func(*http.Request) int64
	// Open are the beginnings of paths, each ending in a slash, that anybody on the
	// network may fetch: what the pairing page is dressed in.
	Open []string
	// PairPage writes the pairing page; nil: a plain one.
	PairPage func(io.Writer, PairView) error
	// Refuse answers with a status and a sentence; nil: as plain text.
	Refuse func(w http.ResponseWriter, r *http.Request, status int, words string)
}

// Guard decides who may talk to the pages. Its methods may be called from
// several goroutines at once. It starts none.
type Guard struct {
	config Config
	origin *http.CrossOriginProtection

	mu      sync.RWMutex // of what follows; never held while the logbook is written
	hosts   map[string]bool
	devices map[[32]byte]*paired

	pairing    pairing
	forgetting sync.Mutex // held through the writing, so that a device is dropped once
}

// New returns a Guard with the devices that Load gives; its error is Load's. It
// panics when Clock or Random is missing, Port is none, only some of Load, Save
// and Drop are given, or a path of Open does not begin and end with a slash.
func New(c Config) (*Guard, error) {
	if c.Clock == nil || c.Random == nil {
		panic("guard: no clock or no source of chance")
	}
	if c.Port < 1 || c.Port > 65535 {
		panic("guard: port outside 1 to 65535")
	}
	if (c.Load == nil) != (c.Save == nil) || (c.Load == nil) != (c.Drop == nil) {
		panic("guard: Load, Save and Drop go together")
	}
	for _, p := range c.Open {
		if !strings.HasPrefix(p, "/") || !strings.HasSuffix(p, "/") {
			panic("guard: an open path does not begin and end with a slash")
		}
	}
	if c.Refuse == nil {
		c.Refuse = func(w http.ResponseWriter, _ *http.Request, status int, words string) { http.Error(w, words, status) }
	}
	if c.PairPage == nil {
		c.PairPage = plainPairPage
	}
	g := &Guard{config: c, origin: http.NewCrossOriginProtection(), devices: make(map[[32]byte]*paired)}
	g.SetHosts(c.Hosts)
	if c.Load != nil {
		known, err := c.Load()
		if err != nil {
			return nil, fmt.Errorf("loading the paired devices: %w", err)
		}
		for _, d := range known {
			if !d.Dropped {
				g.admit(d)
			}
		}
	}
	return g, nil
}

// Policy is what every page may load: what comes from here, and nothing inline.
const Policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// setHeaders sets what every response says. A handler may set another
// Cache-Control for what is not a page.
//
// The referrer is kept for our own pages: under no-referrer browsers send forms
// with the Origin null (Fetch standard, "append a request Origin header"; seen
// with Chromium 156), and a phone on plain http sends nothing else to tell our
// forms from a foreign site's.
func setHeaders(h http.Header) {
	h.Set("Content-Security-Policy", Policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), serial=(), usb=()")
	h.Set("Cache-Control", "no-store")
}

// Wrap returns a handler that lets those through to next who may talk to the
// pages, and tells next through [Who] who it is.
func (g *Guard) Wrap(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		setHeaders(w.Header())
		if !g.ours(r) {
			g.config.Refuse(w, r, http.StatusMisdirectedRequest,
				"This address does not belong to the logbook. Open the address that the logbook shows, with its port.")
			return
		}
		if g.origin.Check(r) != nil || foreign(r) {
			g.config.Refuse(w, r, http.StatusForbidden,
				"This request came from another site's page, so nothing was done. Open the logbook's own page and try there.")
			return
		}
		v, known := g.visitor(r)
		switch {
		case r.URL.Path == PairPath:
			g.servePair(w, r, known)
		case known:
			g.serve(w, r, v, next)
		case g.open(r):
			r.Body = http.MaxBytesReader(w, r.Body, DefaultLimit)
			next.ServeHTTP(w, r)
		default:
			g.turnAway(w, r)
		}
	})
}

// foreign reports whether another site's page fetched something that is not a
// page to look at: a picture, a script, a frame. Browsers say so wherever no cookie
// is asked for, that is on loopback; elsewhere on plain http they may not, and
// there they do not send the device's cookie along.
func foreign(r *http.Request) bool {
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
		return false
	}
	return r.Header.Get("Sec-Fetch-Mode") != "navigate" || r.Header.Get("Sec-Fetch-Dest") != "document"
}

// open reports whether anybody may fetch what is asked for.
func (g *Guard) open(r *http.Request) bool {
	if !reads(r) {
		return false
	}
	p := r.URL.Path
	if path.Clean(p) != p || strings.ContainsAny(p, "\\\x00") {
		return false
	}
	for _, prefix := range g.config.Open {
		if strings.HasPrefix(p, prefix) {
			return true
		}
	}
	return false
}

func reads(r *http.Request) bool { return r.Method == http.MethodGet || r.Method == http.MethodHead }

// turnAway sends a person to the pairing page and tells a program.
func (g *Guard) turnAway(w http.ResponseWriter, r *http.Request) {
	if reads(r) && strings.Contains(r.Header.Get("Accept"), "text/html") {
		http.Redirect(w, r, pairURL(r.URL.RequestURI()), http.StatusSeeOther)
		return
	}
	w.Header().Set("WWW-Authenticate", "Pairing")
	g.config.Refuse(w, r, http.StatusUnauthorized,
		"This device is not paired with the logbook. Open the logbook's page on it and enter the pairing code that the machine shows.")
}

// serve lets a known visitor through, within the limit of the route, for as long
// as its device is paired.
func (g *Guard) serve(w http.ResponseWriter, r *http.Request, v visitor, next http.Handler) {
	limit := int64(0)
	if g.config.Limit != nil {
		limit = g.config.Limit(r)
	}
	if limit <= 0 {
		limit = DefaultLimit
	}
	if r.ContentLength > limit {
		if r.Header.Get("Expect") == "" {
			_, _ = io.CopyN(io.Discard, r.Body, mostDrained) // what cannot be read is not wanted either
		}
		w.Header().Set("Connection", "close")
		g.config.Refuse(w, r, http.StatusRequestEntityTooLarge, tooLarge(limit))
		return
	}
	ctx, cancel := context.WithCancel(context.WithValue(r.Context(), visitorKey{}, v))
	defer cancel()
	if v.gone != nil {
		defer context.AfterFunc(v.gone, cancel)()
	}
	r = r.WithContext(ctx)
	r.Body = http.MaxBytesReader(w, r.Body, limit)
	next.ServeHTTP(w, r)
}

func tooLarge(limit int64) string {
	return "What was sent is too large: at most " + bytesInWords(limit) + " go through here. Send less, or a smaller photo."
}

func bytesInWords(n int64) string {
	switch {
	case n >= 1_000_000:
		return strconv.FormatFloat(float64(n)/1e6, 'g', 3, 64) + " MB"
	case n >= 1000:
		return strconv.FormatFloat(float64(n)/1e3, 'g', 3, 64) + " kB"
	}
	return strconv.FormatInt(n, 10) + " bytes"
}

// TooLarge reports whether an error of reading a request's body means that the
// body is larger than its route takes, and what to tell the sender with status
// 413. Bodies that give their length beforehand never get as far.
func TooLarge(err error) (words string, ok bool) {
	var e *http.MaxBytesError
	if !errors.As(err, &e) {
		return "", false
	}
	return tooLarge(e.Limit), true
}

// remote is the address that a request comes from, the zero Addr if unknown.
func remote(r *http.Request) netip.Addr {
	a, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return a.Addr().Unmap().WithZone("")
}
