package guard

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"
)

const (
	port    = 8321
	lan     = "192.168.7.20"
	lanHost = "192.168.7.20:8321"
	phone   = "192.168.7.44:50123"
)

var someTime = time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)

// bench is a guard with what it is made of.
type bench struct {
	*Guard
	http.Handler
	now   time.Time
	saved []Device
	mu    sync.Mutex
	seen  []string // paths that the pages behind the guard were asked for
	fail  error    // of Save and Drop
}

func newBench(t *testing.T, change func(*Config)) *bench {
	t.Helper()
	b := &bench{now: someTime}
	c := Config{
		Clock: func() time.Time { return b.now }, Random: rand.Reader, Port: port, Hosts: []string{lan, "Bench.local"},
		Load: func() ([]Device, error) { return b.saved, nil },
		Save: func(_ context.Context, d Device) error {
			if b.fail == nil {
				b.saved = append(b.saved, d)
			}
			return b.fail
		},
		Drop: func(_ context.Context, id string) error {
			for i := range b.saved {
				if b.saved[i].ID == id && b.fail == nil {
					b.saved[i].Dropped = true
				}
			}
			return b.fail
		},
		Open: []string{"/static/"},
	}
	if change != nil {
		change(&c)
	}
	b.reopen(t, c)
	return b
}

func (b *bench) reopen(t *testing.T, c Config) {
	t.Helper()
	g, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	b.Guard = g
	b.Handler = g.Wrap(http.HandlerFunc(b.page))
}

// page is a page behind the guard: it says who asks and reads what is sent.
func (b *bench) page(w http.ResponseWriter, r *http.Request) {
	b.mu.Lock()
	b.seen = append(b.seen, r.URL.Path)
	b.mu.Unlock()
	n, err := io.Copy(io.Discard, r.Body)
	if words, ok := TooLarge(err); ok {
		http.Error(w, words, http.StatusRequestEntityTooLarge)
		return
	}
	d, itself := Who(r)
	fmt.Fprintf(w, "page for %q itself %v, %d bytes", d.Name, itself, n)
}

// request makes a request of a device; headers are pairs of name and value.
func request(method, target, host, from string, headers ...string) *http.Request {
	r := httptest.NewRequest(method, target, nil)
	r.Host, r.RemoteAddr = host, from
	for i := 0; i < len(headers); i += 2 {
		r.Header.Add(headers[i], headers[i+1])
	}
	return r
}

func (b *bench) do(r *http.Request) *http.Response {
	w := httptest.NewRecorder()
	b.ServeHTTP(w, r)
	return w.Result()
}

func body(t *testing.T, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// wants checks status and a part of the body, and the headers that everything has.
func wants(t *testing.T, r *http.Response, status int, words string) {
	t.Helper()
	text := body(t, r)
	if r.StatusCode != status || !strings.Contains(text, words) {
		t.Errorf("status %d, %q; want %d with %q", r.StatusCode, text, status, words)
	}
	const csp = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
	for name, want := range map[string]string{
		"Content-Security-Policy": csp, "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin",
		"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin", "Cache-Control": "no-store",
	} {
		if got := r.Header.Values(name); len(got) != 1 || got[0] != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if r.Header.Get("Permissions-Policy") == "" {
		t.Error("no Permissions-Policy")
	}
}

// form posts the pairing page's form from a phone.
func (b *bench) form(from string, fields ...string) *http.Response {
	v := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		v.Set(fields[i], fields[i+1])
	}
	r := request("POST", PairPath, lanHost, from, "Content-Type", "application/x-www-form-urlencoded", "Origin", "http://"+lanHost)
	r.Body = io.NopCloser(strings.NewReader(v.Encode()))
	r.ContentLength = int64(len(v.Encode()))
	return b.do(r)
}

// pairPhone pairs a device and returns its cookie.
func (b *bench) pairPhone(t *testing.T, name string) *http.Cookie {
	t.Helper()
	c, err := b.NewCode()
	if err != nil {
		t.Fatal(err)
	}
	r := b.form(phone, "code", c.String(), "name", name, "next", "/trial/3?at=glue")
	cookies := r.Cookies()
	if r.StatusCode != http.StatusSeeOther || r.Header.Get("Location") != "/trial/3?at=glue" || len(cookies) != 1 {
		t.Fatalf("status %d to %q with %d cookies: %s", r.StatusCode, r.Header.Get("Location"), len(cookies), body(t, r))
	}
	return cookies[0]
}

func withCookie(r *http.Request, c *http.Cookie) *http.Request {
	r.AddCookie(&http.Cookie{Name: c.Name, Value: c.Value})
	return r
}

var (
	errDisk = errors.New("the disk is full")
	one     = netip.MustParseAddr("192.168.7.44")
)
