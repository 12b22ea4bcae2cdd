package guard

import (
	"bytes"
	"context"
	"crypto/tls"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestTheMachineItselfNeedsNoPairing(t *testing.T) {
	b := newBench(t, nil)
	for _, c := range []struct{ host, from string }{
		{"localhost:8321", "127.0.0.1:40000"}, {"LOCALHOST:8321", "127.0.0.1:40000"}, {"127.0.0.1:8321", "127.0.0.1:40000"},
		{"[::1]:8321", "[::1]:40000"}, {"localhost:8321", "[::1]:40000"}, {"127.0.0.1:8321", "[::ffff:127.0.0.1]:40000"},
	} {
		wants(t, b.do(request("GET", "/", c.host, c.from)), 200, `page for "" itself true`)
		wants(t, b.do(request("POST", "/", c.host, c.from, "Origin", "http://"+strings.ToLower(c.host), "Sec-Fetch-Site", "same-origin")), 200, "itself true")
	}
}

func TestOthersAreNotTheMachineItself(t *testing.T) {
	b := newBench(t, nil)
	for name, r := range map[string]*http.Request{
		"a phone":                    request("GET", "/", lanHost, phone),
		"a phone that says it is":    request("GET", "/", "127.0.0.1:8321", phone),
		"the machine by its address": request("GET", "/", lanHost, lan+":50000"),
		"a tunnel":                   request("GET", "/", lanHost, "127.0.0.1:40000"),
		"a proxy":                    request("GET", "/", "localhost:8321", "127.0.0.1:40000", "X-Forwarded-For", "203.0.113.5"),
		"a proxy that says nothing":  request("GET", "/", "localhost:8321", "127.0.0.1:40000", "X-Forwarded-For", ""),
		"a proxy of the standard":    request("GET", "/", "localhost:8321", "127.0.0.1:40000", "forwarded", "for=203.0.113.5"),
		"another proxy":              request("GET", "/", "localhost:8321", "127.0.0.1:40000", "x-real-ip", "203.0.113.5"),
		"nobody knows who":           request("GET", "/", "localhost:8321", "@"),
	} {
		t.Run(name, func(t *testing.T) { wants(t, b.do(r), 401, "not paired") })
	}
	if len(b.seen) != 0 {
		t.Errorf("pages %q were asked for", b.seen)
	}
}

func TestForeignHostsAreRefused(t *testing.T) {
	b := newBench(t, nil)
	cookie := b.pairPhone(t, "phone")
	for _, host := range []string{"evil.example:8321", "evil.example", "localhost", "localhost:80", "localhost:8322", "localhost.:8321", "localhost.evil.example:8321",
		"127.0.0.2:8321", "127.1:8321", "[::1]", "[::1%25lo]:8321", "::1:8321", "0.0.0.0:8321", "192.168.7.21:8321", "", ":8321", "localhost:8321:8321", "localhost:+8321",
		"user@localhost:8321"} {
		for _, method := range []string{"GET", "POST", "HEAD", "OPTIONS"} {
			for _, from := range []string{"127.0.0.1:40000", phone} {
				// Origin null and an empty Host are alike to who compares only the two.
				for _, origin := range []string{"http://" + host, "null"} {
					wants(t, b.do(withCookie(request(method, "/", host, from, "Origin", origin), cookie)), 421, "does not belong to the logbook")
				}
			}
		}
	}
	if len(b.seen) != 0 {
		t.Errorf("pages %q were asked for", b.seen)
	}
	for _, host := range []string{lanHost, "bench.local:8321", "BENCH.local:8321"} {
		wants(t, b.do(withCookie(request("GET", "/", host, phone), cookie)), 200, "phone")
	}
	b.SetHosts([]string{"fd00::7"})
	wants(t, b.do(withCookie(request("GET", "/", lanHost, phone), cookie)), 421, "does not belong")
	wants(t, b.do(withCookie(request("GET", "/", "[FD00:0::7]:8321", phone), cookie)), 200, "phone")
	wants(t, b.do(request("GET", "/", "localhost:8321", "127.0.0.1:40000")), 200, "itself true")
}

func TestPortsThatBrowsersLeaveOut(t *testing.T) {
	b := newBench(t, func(c *Config) { c.Port = 443 })
	r := request("GET", "/", "localhost", "127.0.0.1:40000")
	wants(t, b.do(r), 421, "does not belong")
	r.TLS = &tls.ConnectionState{}
	wants(t, b.do(r), 200, "itself true")
}

func TestRequestsOfOtherSitesAreRefused(t *testing.T) {
	b := newBench(t, nil)
	cookie := b.pairPhone(t, "phone")
	for name, headers := range map[string][]string{
		"cross-site":                  {"Sec-Fetch-Site", "cross-site", "Origin", "http://evil.example"},
		"cross-site, no origin":       {"Sec-Fetch-Site", "cross-site"},
		"another port of the machine": {"Sec-Fetch-Site", "same-site", "Origin", "http://localhost:3000"},
		"origin only":                 {"Origin", "http://evil.example"},
		"origin with another port":    {"Origin", "http://" + lan + ":3000"},
		"origin without port":         {"Origin", "http://" + lan},
		"origin null":                 {"Origin", "null"},
		"origin null from elsewhere":  {"Origin", "null", "Sec-Fetch-Site", "cross-site"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, method := range []string{"POST", "PUT", "PATCH", "DELETE", "post"} {
				wants(t, b.do(request(method, "/", "localhost:8321", "127.0.0.1:40000", headers...)), 403, "another site")
				wants(t, b.do(withCookie(request(method, "/", lanHost, phone, headers...), cookie)), 403, "another site")
				wants(t, b.do(request(method, PairPath, lanHost, phone, headers...)), 403, "another site")
			}
		})
	}
	for name, headers := range map[string][]string{
		"a picture": {"Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "no-cors", "Sec-Fetch-Dest", "image"},
		"a script":  {"Sec-Fetch-Site", "same-site", "Sec-Fetch-Mode", "no-cors", "Sec-Fetch-Dest", "script"},
		"a frame":   {"Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate", "Sec-Fetch-Dest", "iframe"},
		"a fetch":   {"Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "cors", "Sec-Fetch-Dest", "empty"},
	} {
		t.Run(name, func(t *testing.T) {
			wants(t, b.do(request("GET", "/figure.svg", "localhost:8321", "127.0.0.1:40000", headers...)), 403, "another site")
		})
	}
	if len(b.seen) != 0 {
		t.Errorf("pages %q were asked for", b.seen)
	}
	// What must go on working: a link to us, our own forms, a phone on plain http.
	wants(t, b.do(request("GET", "/", "localhost:8321", "127.0.0.1:40000", "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate", "Sec-Fetch-Dest", "document")), 200, "page")
	wants(t, b.do(request("POST", "/", "localhost:8321", "127.0.0.1:40000", "Sec-Fetch-Site", "same-origin", "Origin", "http://localhost:8321")), 200, "page")
	wants(t, b.do(withCookie(request("POST", "/", lanHost, phone, "Origin", "http://"+lanHost), cookie)), 200, "page")
}

func TestStrangersAreSentToPairing(t *testing.T) {
	b := newBench(t, nil)
	const browser = "text/html,application/xhtml+xml,*/*;q=0.8"
	for target, want := range map[string]string{
		"/": "/pair", "/trial/3?at=glue": "/pair?next=%2Ftrial%2F3%3Fat%3Dglue", "//evil.example/": "/pair", "/pair/": "/pair?next=%2Fpair%2F",
	} {
		r := request("GET", "http://"+lanHost+target, lanHost, phone, "Accept", browser)
		res := b.do(r)
		if got := res.Header.Get("Location"); res.StatusCode != 303 || got != want {
			t.Errorf("%s: status %d to %q, want 303 to %q", target, res.StatusCode, got, want)
		}
		wants(t, res, 303, "")
	}
	wants(t, b.do(request("GET", "/events", lanHost, phone, "Accept", "text/event-stream")), 401, "enter the pairing code")
	wants(t, b.do(request("POST", "/", lanHost, phone, "Accept", browser, "Origin", "http://"+lanHost)), 401, "enter the pairing code")
	bad := &http.Cookie{Name: b.cookieName(), Value: strings.Repeat("A", 43)}
	wants(t, b.do(withCookie(request("GET", "/", lanHost, phone), bad)), 401, "not paired")
	if len(b.seen) != 0 {
		t.Errorf("pages %q were asked for", b.seen)
	}
	wants(t, b.do(request("GET", "/static/page.css", lanHost, phone)), 200, `page for "" itself false`)
	wants(t, b.do(request("POST", "/static/page.css", lanHost, phone)), 401, "not paired")
	wants(t, b.do(request("GET", "/statics", lanHost, phone)), 401, "not paired")
}

func TestBodiesThatAreTooLarge(t *testing.T) {
	b := newBench(t, func(c *Config) {
		c.Limit = func(r *http.Request) int64 {
			if r.URL.Path == "/photo" {
				return 3_000_000
			}
			return 0
		}
	})
	for _, c := range []struct {
		path   string
		size   int
		status int
		words  string
	}{
		{"/", DefaultLimit, 200, "1048576 bytes"},
		{"/", DefaultLimit + 1, 413, "at most 1.05 MB go through here"},
		{"/photo", 3_000_000, 200, "3000000 bytes"},
		{"/photo", 3_000_001, 413, "at most 3 MB go through here"},
		{PairPath, mostPairForm + 1, 413, "at most 4.1 kB go through here"},
	} {
		for _, known := range []bool{true, false} {
			r := request("POST", c.path, "localhost:8321", "127.0.0.1:40000", "Content-Type", "application/x-www-form-urlencoded")
			r.Body = io.NopCloser(bytes.NewReader(make([]byte, c.size)))
			r.ContentLength = -1
			if known {
				r.ContentLength = int64(c.size)
			}
			wants(t, b.do(r), c.status, c.words)
		}
	}
	if slices.Contains(b.seen, PairPath) {
		t.Error("the pairing page was asked for behind the guard")
	}
}

// A browser that is still sending gets to reading the answer.
func TestAnswerToALargeBodyArrives(t *testing.T) {
	b := newBench(t, nil)
	s := httptest.NewServer(b)
	defer s.Close()
	r, err := http.NewRequest("POST", s.URL, bytes.NewReader(make([]byte, 20<<20)))
	if err != nil {
		t.Fatal(err)
	}
	r.Host = "localhost:8321"
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	wants(t, res, 413, "at most 1.05 MB go through here")
}

func TestDroppedDevicesAreRefused(t *testing.T) {
	b := newBench(t, nil)
	cookie := b.pairPhone(t, "phone at the bench")
	ask := func() *http.Response { return b.do(withCookie(request("GET", "/", lanHost, phone), cookie)) }
	wants(t, ask(), 200, `page for "phone at the bench" itself false`)

	// What the device has open ends with it.
	started, ended := make(chan bool), make(chan bool)
	long := b.Wrap(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		close(started)
		<-r.Context().Done()
	}))
	go func() {
		long.ServeHTTP(httptest.NewRecorder(), withCookie(request("GET", "/events", lanHost, phone), cookie))
		close(ended)
	}()
	<-started
	id := b.Devices()[0].ID
	b.fail = errDisk
	if err := b.Forget(t.Context(), id); err == nil || !strings.Contains(err.Error(), "phone at the bench") {
		t.Errorf("error %v", err)
	}
	wants(t, ask(), 200, "phone at the bench")
	b.fail = nil
	if err := b.Forget(t.Context(), id); err != nil {
		t.Fatal(err)
	}
	select {
	case <-ended:
	case <-time.After(5 * time.Second):
		t.Fatal("what the device had open goes on")
	}
	wants(t, ask(), 401, "not paired")
	if len(b.Devices()) != 0 {
		t.Errorf("devices %v", b.Devices())
	}
	if err := b.Forget(t.Context(), id); err == nil || !strings.Contains(err.Error(), "no device of this kind is paired") {
		t.Errorf("error %v", err)
	}

	// Nor is it let in by the next run of the program, and others are.
	other := b.pairPhone(t, "tablet")
	b.reopen(t, b.config)
	wants(t, ask(), 401, "not paired")
	wants(t, b.do(withCookie(request("GET", "/", lanHost, phone), other)), 200, "tablet")
}

func TestNewTellsOfLoad(t *testing.T) {
	b := newBench(t, nil)
	c := b.config
	c.Load = func() ([]Device, error) { return nil, errDisk }
	if _, err := New(c); err == nil || !strings.Contains(err.Error(), "loading the paired devices: the disk is full") {
		t.Errorf("error %v", err)
	}
}

func TestCallersMistakesPanic(t *testing.T) {
	for want, change := range map[string]func(*Config){
		"guard: no clock or no source of chance":                  func(c *Config) { c.Random = nil },
		"guard: port outside 1 to 65535":                          func(c *Config) { c.Port = 0 },
		"guard: Load, Save and Drop go together":                  func(c *Config) { c.Save = func(context.Context, Device) error { return nil } },
		"guard: an open path does not begin and end with a slash": func(c *Config) { c.Open = []string{"/static"} },
	} {
		func() {
			defer func() {
				if r := recover(); r != want {
					t.Errorf("panic %v, want %q", r, want)
				}
			}()
			c := Config{Clock: time.Now, Random: strings.NewReader(""), Port: port}
			change(&c)
			_, _ = New(c)
		}()
	}
}
