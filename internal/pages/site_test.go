package pages_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bondtrial/internal/demobook"
	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// demoFile is the demo's logbook with a photo besides, filled once.
var demoFile = sync.OnceValues(func() (content []byte, err error) {
	dir, err := os.MkdirTemp("", "pages-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "demo.bondtrial")
	clock := demobook.NewClock(morning.AddDate(-1, 0, 0))
	ctx := context.Background()
	l, err := logbook.Open(ctx, path, logbook.Options{Clock: clock.Now, Create: true})
	if err != nil {
		return nil, err
	}
	defer l.Close()
	book, err := record.Open(ctx, l)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	if err := demobook.Fill(ctx, book, clock, morning, "(test)"); err != nil {
		return nil, err
	}
	id, err := book.New(ctx, record.Who{}, record.Asked{Name: "With a photo"})
	if err != nil {
		return nil, err
	}
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		return nil, err
	}
	if _, err := book.Add(ctx, record.Who{}, id, "", record.Noted{Station: "break", Text: "The faces"},
		logbook.File{Role: "photo", Name: "faces.png", MediaType: "image/png", Content: picture.Bytes()}); err != nil {
		return nil, err
	}
	if err := l.Close(); err != nil { // now the file holds everything
		return nil, err
	}
	return os.ReadFile(path)
})

// demoHouse is a house whose logbook is that of the demo, which has something for
// every page to show, and a photo.
func demoHouse(t testing.TB) *house {
	t.Helper()
	content, err := demoFile()
	if err != nil {
		t.Fatal(err)
	}
	h := &house{t: t, path: filepath.Join(t.TempDir(), "demo.bondtrial"), clock: &clock{now: morning}}
	if err := os.WriteFile(h.path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	h.open()
	t.Cleanup(h.close)
	return h
}

// answer computes the answer of every trial that has enough readings.
func (h *house) answer() {
	h.t.Helper()
	c := device(h.t)
	for _, id := range h.examples()["trial"] {
		h.post(c, "/trials/"+id+"/answer/run")
		for {
			s := h.get(c, "/trials/"+id+"/answer/progress").body
			if !strings.Contains(s, `"working"`) && !strings.Contains(s, `"waiting"`) {
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
	}
}

var param = regexp.MustCompile(`\{(\w+)(\.\.\.)?\}`)

// examples are things that each parameter of an address may be.
func (h *house) examples() (of map[string][]string) {
	h.t.Helper()
	all, err := h.book.Trials(context.Background(), true)
	if err != nil {
		h.t.Fatal(err)
	}
	of = map[string][]string{"file": {"strength.svg", "strength.png"}, "calibration": {h.calibrated()}}
	slices.Reverse(all) // those that were begun first have most to show
	for _, tr := range all {
		for _, e := range tr.Entries {
			for _, f := range e.Files {
				if f.Role == "photo" {
					of["sum"] = append(of["sum"], f.Sum)
				}
			}
		}
		of["trial"] = append(of["trial"], tr.ID)
		if tr.Plan == nil || tr.LastBroken() == nil {
			continue
		}
		of["seq"] = append(of["seq"], fmt.Sprint(tr.LastBroken().Broken.Seq))
		for _, f := range tr.PlanAt.Files {
			if f.Role == "plan" {
				of["name"] = append(of["name"], f.Name)
			}
		}
	}
	return of
}

// calibrated returns the key of the rig's calibration, and makes one where there is
// none.
func (h *house) calibrated() string {
	h.t.Helper()
	things, err := h.book.Things(context.Background())
	if err != nil {
		h.t.Fatal(err)
	}
	if len(things.Calibrations) > 0 {
		return things.Calibrations[0].Key
	}
	c := frametest.CalibrationOf(h.t, "2027-04-01")
	table := logbook.File{Role: "calibration", Name: "weights.csv", MediaType: "text/csv", Content: []byte(frametest.CalibrationTable)}
	if _, err := h.book.Add(context.Background(), record.Who{By: "Ida"}, "", "", c, table); err != nil {
		h.t.Fatal(err)
	}
	return c.Key
}

// filled puts a value in the place of every parameter of a pattern's path.
func filled(t testing.TB, path string, of map[string][]string, value func(name string, good []string) string) string {
	t.Helper()
	path = strings.TrimSuffix(path, "{$}")
	return param.ReplaceAllStringFunc(path, func(p string) string {
		name := param.FindStringSubmatch(p)[1]
		if len(of[name]) == 0 {
			t.Fatalf("no example of {%s} for %s: the demo's logbook has none", name, path)
		}
		return value(name, of[name])
	})
}

func first(_ string, good []string) string { return url.PathEscape(good[0]) }

// request makes a request as it comes from the machine itself.
func (h *house) request(method, path string) *http.Request {
	r := httptest.NewRequest(method, path, strings.NewReader(""))
	r.Host = fmt.Sprintf("127.0.0.1:%d", h.port)
	r.RemoteAddr = "127.0.0.1:40000"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return r
}

// answered hands a request to the pages without a connection. A stream is read for a
// moment only.
func (h *house) answered(r *http.Request) *httptest.ResponseRecorder {
	ctx, cancel := context.WithCancel(r.Context())
	defer cancel()
	if r.URL.Path == "/events" {
		time.AfterFunc(50*time.Millisecond, cancel)
	}
	w := &stream{httptest.NewRecorder()}
	h.site.ServeHTTP(w, r.WithContext(ctx))
	return w.ResponseRecorder
}

// stream is a recorder that takes the deadlines of a stream.
type stream struct{ *httptest.ResponseRecorder }

func (stream) SetWriteDeadline(time.Time) error { return nil }

// What pages may load, and what a report may, which brings its own style and no more.
const (
	pagePolicy   = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
	reportPolicy = "default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; frame-ancestors 'none'; base-uri 'none'"
)

// dressed checks what every answer must say.
func dressed(t *testing.T, what string, w *httptest.ResponseRecorder) {
	t.Helper()
	policy := pagePolicy
	if strings.HasSuffix(what, "/report.html") && w.Code == http.StatusOK {
		policy = reportPolicy
	}
	for name, want := range map[string]string{"Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin"} {
		if got := w.Header().Get(name); got != want {
			t.Errorf("%s: %s is %q, want %q", what, name, got, want)
		}
	}
}

// Every address is guarded: against other sites, other names, and devices that are
// not paired.
func TestEveryRouteIsGuarded(t *testing.T) {
	h := demoHouse(t)
	examples := h.examples()
	before := h.last()
	patterns := append(h.site.Patterns(), "GET /static/x/frame.css", "GET /nowhere", "POST /nowhere")
	if len(patterns) < 40 {
		t.Fatalf("only %d addresses: %v", len(patterns), patterns)
	}
	for _, p := range patterns {
		method, path, ok := strings.Cut(p, " ")
		if !ok || method != http.MethodGet && method != http.MethodPost {
			t.Errorf("%q: addresses begin with GET or POST", p)
			continue
		}
		at := filled(t, path, examples, first)
		for _, c := range []struct {
			what   string
			change func(*http.Request)
			status map[string]int
		}{
			{"of another name", func(r *http.Request) { r.Host = fmt.Sprintf("logbook.example:%d", h.port) }, map[string]int{"GET": 421, "POST": 421}},
			{"of another port", func(r *http.Request) { r.Host = "127.0.0.1:1" }, map[string]int{"GET": 421, "POST": 421}},
			{"from another site's form", func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") }, map[string]int{"POST": 403}},
			{"from another site's script", func(r *http.Request) {
				r.Header.Set("Sec-Fetch-Site", "cross-site")
				r.Header.Set("Sec-Fetch-Mode", "no-cors")
				r.Header.Set("Sec-Fetch-Dest", "script")
			}, map[string]int{"GET": 403, "POST": 403}},
			{"from a form that hides where it is", func(r *http.Request) { r.Header.Set("Origin", "null") }, map[string]int{"POST": 403}},
			{"from a device's page that is not paired", func(r *http.Request) {
				r.RemoteAddr = "192.168.1.20:50000"
				r.Header.Set("Accept", "text/html")
			}, map[string]int{"GET": 303, "POST": 401}},
			{"from a device's module that is not paired", func(r *http.Request) {
				r.RemoteAddr = "192.168.1.20:50000"
				r.Header.Set("Accept", "application/json")
			}, map[string]int{"GET": 401, "POST": 401}},
			{"through a proxy", func(r *http.Request) { r.Header.Set("X-Forwarded-For", "192.168.1.20") }, map[string]int{"GET": 401, "POST": 401}},
			{"with somebody else's cookie", func(r *http.Request) {
				r.RemoteAddr = "192.168.1.20:50000"
				r.AddCookie(&http.Cookie{Name: fmt.Sprintf("logbook-device-%d", h.port), Value: "guessed"})
			}, map[string]int{"GET": 401, "POST": 401}},
		} {
			want, ok := c.status[method]
			if !ok {
				continue
			}
			if strings.HasPrefix(path, "/static/") && (want == 401 || want == 303) {
				want = 404 // what the pairing page is dressed in; of this edition there is no such file
			}
			r := h.request(method, at)
			c.change(r)
			w := h.answered(r)
			what := p + " " + c.what
			if w.Code != want {
				t.Errorf("%s: status %d, want %d: %.200s", what, w.Code, want, w.Body)
			}
			if to := w.Header().Get("Location"); want == 303 && !strings.HasPrefix(to, "/pair") {
				t.Errorf("%s: sent to %q, want the pairing page", what, to)
			}
			dressed(t, what, w)
		}
	}
	if after := h.last(); after != before {
		t.Errorf("what was refused has written entries %d to %d", before+1, after)
	}
}

// A GET writes nothing, whoever follows a link or loads a page ahead, and every page
// of the demo's logbook is there.
func TestGETsChangeNothing(t *testing.T) {
	h := demoHouse(t)
	h.answer()
	examples := h.examples()
	before := h.last()
	walked, notThere := 0, make(map[string]string)
	for _, p := range h.site.Patterns() {
		method, path, _ := strings.Cut(p, " ")
		if method != http.MethodGet {
			continue
		}
		there := false
		for _, at := range every(t, path, examples) {
			for _, method := range []string{http.MethodGet, http.MethodHead} {
				w := h.answered(h.request(method, at))
				dressed(t, method+" "+at, w)
				walked++
				there = there || w.Code == http.StatusOK
				if w.Code >= 500 {
					t.Errorf("%s %s: status %d: %.300s", method, at, w.Code, w.Body)
				} else if w.Code != http.StatusOK {
					notThere[p] = fmt.Sprintf("%s: status %d: %.300s", at, w.Code, w.Body)
				}
				if now := h.last(); now != before {
					t.Fatalf("%s %s wrote entries up to %d", method, at, now)
				}
			}
		}
		if !there {
			t.Errorf("%s is there for nothing in the demo's logbook: %s", p, notThere[p])
		}
	}
	if walked < 100 {
		t.Errorf("only %d pages looked at", walked)
	}
}

// every returns the addresses of a pattern with every trial, and with some of the
// rest.
func every(t testing.TB, path string, examples map[string][]string) []string {
	var out []string
	for i := range 12 {
		for _, trial := range examples["trial"] {
			at := filled(t, path, examples, func(name string, good []string) string {
				if name == "trial" {
					return trial
				}
				return url.PathEscape(good[i%len(good)])
			})
			if !strings.Contains(strings.Join(out, "\n")+"\n", at+"\n") {
				out = append(out, at)
			}
		}
	}
	return out
}

// What stands in the place of a name in an address leads nowhere else, breaks
// nothing and comes out escaped.
func TestStrangeNames(t *testing.T) {
	h := demoHouse(t)
	examples := h.examples()
	before := h.last()
	strange := []string{"..", "%2e%2e", "..%2f..%2f..%2f..%2f..%2fetc%2fpasswd", "..%5c..%5cbench.bondtrial", "%2fetc%2fpasswd", "%00", "a%00.svg", "-1", "99999999999999999999",
		"%3Cscript%3Ealert(1)%3C%2Fscript%3E", "%22%3E%3Cscript%3Ealert(1)%3C%2Fscript%3E", "%ff%fe", strings.Repeat("a", 8000), "'%20OR%201=1--", "%E2%80%AE", "NUL", "."}
	for _, p := range h.site.Patterns() {
		method, path, _ := strings.Cut(p, " ")
		for _, m := range param.FindAllStringSubmatch(path, -1) {
			for _, s := range strange {
				at := filled(t, path, examples, func(name string, good []string) string {
					if name == m[1] {
						return s
					}
					return first(name, good)
				})
				w := h.answered(h.request(method, at))
				what := fmt.Sprintf("%s with %.40s", p, s)
				dressed(t, what, w)
				if w.Code < 300 || w.Code >= 500 {
					t.Errorf("%s: status %d: %.200s", what, w.Code, w.Body)
				}
				if to := w.Header().Get("Location"); w.Code < 400 && (!strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//")) {
					t.Errorf("%s: sent to %q", what, to)
				}
				if strings.Contains(w.Body.String(), "<script>alert") || strings.Contains(w.Body.String(), "root:") {
					t.Errorf("%s: %.300s", what, w.Body)
				}
			}
		}
	}
	if after := h.last(); after != before {
		t.Errorf("entries %d to %d were written", before+1, after)
	}
}
