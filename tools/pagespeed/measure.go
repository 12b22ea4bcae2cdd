package main

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"bondtrial/internal/pages"
)

// answered is how many trials have their answer computed.
const answered = 5

// host is the pages of the full logbook on a real listener.
type host struct {
	*filled
	site    *pages.Site
	server  *http.Server
	address string
	of      map[string]map[string][]string // what parameters of an address may be, by trial
}

func serve(f *filled) (*host, error) {
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	port := l.Addr().(*net.TCPAddr).Port
	site, err := pages.New(pages.Config{Book: f.book, Clock: f.clock.Now, Random: rand.Reader, Log: slog.New(slog.DiscardHandler), Version: "(speed)", Port: port})
	if err != nil {
		return nil, err
	}
	h := &host{filled: f, site: site, server: &http.Server{Handler: site}, address: fmt.Sprintf("http://127.0.0.1:%d", port), of: make(map[string]map[string][]string)}
	go func() { _ = h.server.Serve(l) }()
	return h, nil
}

func (h *host) close() {
	h.site.Close()
	_ = h.server.Close()
}

func client() *http.Client {
	return &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 1}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// get fetches a page whole and returns how long that took.
func (h *host) get(ctx context.Context, c *http.Client, path string) (took time.Duration, status int, body []byte, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, h.address+path, nil)
	if err != nil {
		return 0, 0, nil, err
	}
	began := time.Now()
	resp, err := c.Do(r)
	if err != nil {
		return 0, 0, nil, err
	}
	defer resp.Body.Close()
	body, err = io.ReadAll(resp.Body)
	return time.Since(began), resp.StatusCode, body, err
}

func (h *host) post(ctx context.Context, c *http.Client, path string, fields url.Values) (status int, body []byte, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, h.address+path, strings.NewReader(fields.Encode()))
	if err != nil {
		return 0, nil, err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	resp, err := c.Do(r)
	if err != nil {
		return 0, nil, err
	}
	defer resp.Body.Close()
	body, err = io.ReadAll(resp.Body)
	return resp.StatusCode, body, err
}

// answer has the answer of a trial computed and returns how long that took.
func (h *host) answer(ctx context.Context, c *http.Client, id string) (time.Duration, error) {
	began := time.Now()
	if _, _, err := h.post(ctx, c, "/trials/"+id+"/answer/run", nil); err != nil {
		return 0, err
	}
	for {
		_, _, body, err := h.get(ctx, c, "/trials/"+id+"/answer/progress")
		if err != nil {
			return 0, err
		}
		var how struct{ State string }
		if err := json.Unmarshal(body, &how); err != nil {
			return 0, fmt.Errorf("how far the answer is: %w", err)
		}
		switch how.State {
		case "done":
			return time.Since(began), nil
		case "working", "waiting":
			time.Sleep(5 * time.Millisecond)
		default:
			return 0, fmt.Errorf("the answer of %s is %q", id, how.State)
		}
	}
}

// examples are what parameters may be in addresses of a trial.
func (h *host) examples(ctx context.Context, id string) (map[string][]string, error) {
	if of := h.of[id]; of != nil {
		return of, nil
	}
	t, err := h.book.Trial(ctx, id)
	if err != nil {
		return nil, err
	}
	of := map[string][]string{"trial": {id}, "file": {"strength.svg"}, "calibration": {h.calibration}}
	for _, f := range t.PlanAt.Files {
		if f.Role == "plan" {
			of["name"] = append(of["name"], f.Name)
		}
	}
	for _, s := range t.Specimens {
		of["seq"] = append(of["seq"], fmt.Sprint(s.Broken.Seq))
		for _, f := range s.Broken.Photos() {
			of["sum"] = append(of["sum"], f.Sum)
		}
	}
	h.of[id] = of
	return of, nil
}

var param = regexp.MustCompile(`\{(\w+)\}`)

// addresses are those of a pattern: of several trials, and several of each.
func (h *host) addresses(ctx context.Context, pattern string) ([]string, error) {
	var out []string
	for i, id := range h.finished[:min(answered, len(h.finished))] {
		of, err := h.examples(ctx, id)
		if err != nil {
			return nil, err
		}
		for k := range 4 {
			at := param.ReplaceAllStringFunc(strings.TrimSuffix(pattern, "{$}"), func(p string) string {
				good := of[p[1:len(p)-1]]
				if len(good) == 0 {
					err = fmt.Errorf("no example of %s for %s", p, pattern)
					return ""
				}
				return url.PathEscape(good[(i+k)%len(good)])
			})
			if err != nil {
				return nil, err
			}
			if !slices.Contains(out, at) {
				out = append(out, at)
			}
		}
	}
	return out, nil
}

// timed are the requests of one page.
type timed struct {
	p50, p95 float64 // ms
	bytes    int     // of the largest
}

// time sends requests by several clients at once, each going through the addresses.
func (h *host) time(ctx context.Context, at []string, clients, requests int) (timed, error) {
	var mu sync.Mutex
	var wait sync.WaitGroup
	var all []float64
	var failed error
	largest := 0
	for n := range clients {
		wait.Go(func() {
			c := client()
			defer c.CloseIdleConnections()
			for i := range requests {
				path := at[(i*clients+n)%len(at)]
				took, status, body, err := h.get(ctx, c, path)
				if err == nil && status != http.StatusOK {
					err = fmt.Errorf("%s: status %d: %.300s", path, status, body)
				}
				mu.Lock()
				if err != nil {
					failed = err
				}
				if i > 0 { // the first one makes the connection
					all = append(all, took.Seconds()*1000)
				}
				largest = max(largest, len(body))
				mu.Unlock()
				if err != nil {
					return
				}
			}
		})
	}
	wait.Wait()
	if failed != nil {
		return timed{}, failed
	}
	slices.Sort(all)
	q := func(p float64) float64 { return all[int(p*float64(len(all)-1))] }
	return timed{q(0.5), q(0.95), largest}, nil
}

// notPages are GETs that are no pages: a stream, the whole logbook as a file.
var notPages = []string{"/events", "/logbook/copy", "/trials/{trial}/publish/table"}

func (h *host) pages(ctx context.Context, out io.Writer, s settings) error {
	c := client()
	defer c.CloseIdleConnections()
	var first []float64
	for _, id := range h.finished[:min(answered, len(h.finished))] {
		took, err := h.answer(ctx, c, id)
		if err != nil {
			return err
		}
		first = append(first, took.Seconds())
	}
	slices.Sort(first)
	took, _, _, err := h.get(ctx, c, "/")
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "The first look at the list of all trials takes %.1f s, an answer %.1f to %.1f s; what follows is after that.\n", took.Seconds(), first[0], first[len(first)-1])
	fmt.Fprintf(out, "\n| page | kB | median, ms | 95 %%, ms | four at once: median | 95 %% |\n| --- | ---: | ---: | ---: | ---: | ---: |\n")
	var slow []string
	for _, p := range h.site.Patterns() {
		method, path, _ := strings.Cut(p, " ")
		if method != http.MethodGet || slices.Contains(notPages, path) || !strings.Contains(path, s.only) {
			continue
		}
		at, err := h.addresses(ctx, path)
		if err != nil {
			return err
		}
		if _, err := h.time(ctx, at, 1, len(at)+1); err != nil { // warm
			return err
		}
		one, err := h.time(ctx, at, 1, s.requests)
		if err != nil {
			return err
		}
		four, err := h.time(ctx, at, 4, s.requests)
		if err != nil {
			return err
		}
		name := strings.TrimSuffix(path, "{$}")
		fmt.Fprintf(out, "| `%s` | %d | %.1f | %.1f | %.1f | %.1f |\n", name, one.bytes/1000, one.p50, one.p95, four.p50, four.p95)
		if one.p95 > wantMS {
			slow = append(slow, name)
		}
	}
	if len(slow) == 0 {
		fmt.Fprintf(out, "\nWanted: 95 %% of the requests of one client within %d ms. All pages are.\n", wantMS)
	} else {
		fmt.Fprintf(out, "\nWanted: 95 %% of the requests of one client within %d ms. Not so: %s.\n", wantMS, strings.Join(slow, ", "))
	}
	return nil
}

// breaks records breaks through the pages, beside what the disk can do.
func (h *host) breaks(ctx context.Context, out io.Writer) error {
	before, err := h.log.Fsync(ctx, 400)
	if err != nil {
		return err
	}
	one, oneP95, err := h.record(ctx, h.fresh[:4], 1)
	if err != nil {
		return err
	}
	four, fourP95, err := h.record(ctx, h.fresh[4:8], 4)
	if err != nil {
		return err
	}
	after, err := h.log.Fsync(ctx, 400)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, `
**Breaks through the pages**, each on the disk before it is acknowledged: %.0f a second one after the other (95 %% within %.1f ms), %.0f a
second from four devices at once (95 %% within %.1f ms). The disk under the logbook makes 4 KiB last %.0f times a second before
that and %.0f after. Wanted: %d a second where the disk allows.
`, one, oneP95, four, fourP95, before, after, wantBreaks)
	return nil
}

// record breaks the specimens of trials by several clients at once and returns how
// many a second, and the time that 95 % of them took, ms.
func (h *host) record(ctx context.Context, trials []string, clients int) (perSecond, p95 float64, err error) {
	var mu sync.Mutex
	var wait sync.WaitGroup
	var took []float64
	var failed error
	began := time.Now()
	for n := range clients {
		wait.Go(func() {
			c := client()
			defer c.CloseIdleConnections()
			for i := n; i < len(trials); i += clients {
				times, err := h.breakAll(ctx, c, trials[i])
				mu.Lock()
				took = append(took, times...)
				if err != nil {
					failed = err
				}
				mu.Unlock()
			}
		})
	}
	wait.Wait()
	if failed != nil {
		return 0, 0, failed
	}
	perSecond = float64(len(took)) / time.Since(began).Seconds()
	slices.Sort(took)
	return perSecond, took[int(0.95*float64(len(took)-1))], nil
}

func (h *host) breakAll(ctx context.Context, c *http.Client, id string) (ms []float64, err error) {
	t, err := h.book.Trial(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, s := range t.ToBreak() {
		began := time.Now()
		status, body, err := h.post(ctx, c, "/trials/"+id+"/break", url.Values{"code": {s.Code}, "peak": {"1500"}, "unit": {"N"}, "wood": {"20"}, "failure": {"CF"}, "sure": {"early " + s.Code}, "key": {id + " " + s.Code}})
		if err == nil && status != http.StatusOK {
			err = fmt.Errorf("break of %s in %s: status %d: %.300s", s.Code, id, status, body)
		}
		if err != nil {
			return ms, err
		}
		ms = append(ms, time.Since(began).Seconds()*1000)
	}
	return ms, nil
}
