package guard

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// Device is a device that was paired.
type Device struct {
	ID       string   // 16 characters of 0-9 and a-f, drawn at pairing
	Name     string   // what its owner calls it, at most 60 characters
	TokenSum [32]byte // SHA-256 of its token; the token itself is on the device only
	Paired   time.Time
	Dropped  bool // no longer let in
}

const mostName = 60

// cookieAge is as long as browsers keep a cookie: 400 days (the successor of RFC
// 6265 in draft; from memory, unconfirmed).
const cookieAge = 400 * 24 * time.Hour

// paired is a device that is let in.
type paired struct {
	Device
	gone context.Context // done when it is dropped
	drop context.CancelFunc
}

// visitor is who a request is of.
type visitor struct {
	device Device
	itself bool
	gone   context.Context // done when the device is dropped; nil for the machine itself
}

type visitorKey struct{}

// Who returns the paired device that a request is of, or that it is of the
// machine itself. For a request that nobody was asked about it is neither.
func Who(r *http.Request) (device Device, itself bool) {
	v, _ := r.Context().Value(visitorKey{}).(visitor)
	return v.device, v.itself
}

// visitor finds out who a request is of; known is false for a stranger.
func (g *Guard) visitor(r *http.Request) (v visitor, known bool) {
	if itself(r) {
		return visitor{itself: true}, true
	}
	for _, c := range r.CookiesNamed(g.cookieName()) {
		sum := sha256.Sum256([]byte(c.Value))
		g.mu.RLock()
		p, ok := g.devices[sum]
		g.mu.RUnlock()
		if ok {
			return visitor{device: p.Device, gone: p.gone}, true
		}
	}
	return visitor{}, false
}

// cookieName tells logbooks apart that are served from one machine, since cookies
// do not know ports.
func (g *Guard) cookieName() string { return "logbook-device-" + strconv.Itoa(g.config.Port) }

func (g *Guard) cookie(token string, secure bool) *http.Cookie {
	return &http.Cookie{Name: g.cookieName(), Value: token, Path: "/", MaxAge: int(cookieAge / time.Second),
		HttpOnly: true, Secure: secure, SameSite: http.SameSiteStrictMode}
}

// admit lets a device in from now on.
func (g *Guard) admit(d Device) {
	ctx, cancel := context.WithCancel(context.Background())
	g.mu.Lock()
	defer g.mu.Unlock()
	g.devices[d.TokenSum] = &paired{d, ctx, cancel}
}

// Devices returns the devices that are let in, the one that was paired last
// first.
func (g *Guard) Devices() []Device {
	g.mu.RLock()
	defer g.mu.RUnlock()
	list := make([]Device, 0, len(g.devices))
	for _, p := range g.devices {
		list = append(list, p.Device)
	}
	slices.SortFunc(list, func(a, b Device) int {
		if c := b.Paired.Compare(a.Paired); c != 0 {
			return c
		}
		return strings.Compare(a.ID, b.ID)
	})
	return list
}

// ErrNoDevice is the error of Forget for a device that is not let in.
var ErrNoDevice = errors.New("no device of this kind is paired; reload the list of devices")

// Forget lets a device in no longer and ends what it has open. The error is
// ErrNoDevice or that of Config's Drop; the device then stays paired.
func (g *Guard) Forget(ctx context.Context, id string) error {
	g.forgetting.Lock()
	defer g.forgetting.Unlock()
	g.mu.RLock()
	var found *paired
	for _, p := range g.devices {
		if p.ID == id {
			found = p
		}
	}
	g.mu.RUnlock()
	if found == nil {
		return fmt.Errorf("device %q: %w", id, ErrNoDevice)
	}
	if g.config.Drop != nil {
		if err := g.config.Drop(ctx, id); err != nil {
			return fmt.Errorf("forgetting the device %q: %w", found.Name, err)
		}
	}
	g.mu.Lock()
	delete(g.devices, found.TokenSum)
	g.mu.Unlock()
	found.drop()
	return nil
}

// cleanName makes a name of what was typed; it may be empty.
func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsPrint(r), r == unicode.ReplacementChar:
			return -1
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > mostName {
		s = strings.TrimSpace(string(r[:mostName]))
	}
	return s
}
