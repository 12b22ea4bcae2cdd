package pages_test

import (
	"bufio"
	"context"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"modernc.org/sqlite"

	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

// writers are the connections that logbooks are written by, by the path of the file.
var writers sync.Map

func TestMain(m *testing.M) {
	sqlite.RegisterConnectionHook(func(c sqlite.ExecQuerierContext, dsn string) error {
		if u, err := url.Parse(dsn); err == nil && u.Query().Get("mode") == "rwc" {
			writers.Store(u.Path, c)
		}
		return nil
	})
	os.Exit(m.Run())
}

// room sets how many pages of the file there is room for; SQLite takes fewer than
// there are for as many as there are, and answers as on a disk that is full.
func (h *house) room(pages int) {
	h.t.Helper()
	c, ok := writers.Load(h.log.Path())
	if !ok {
		h.t.Fatal("the connection that writes is not known")
	}
	rows, err := c.(sqlite.ExecQuerierContext).QueryContext(context.Background(), fmt.Sprint("PRAGMA max_page_count = ", pages), nil)
	if err != nil {
		h.t.Fatal(err)
	}
	if err := rows.Next(make([]driver.Value, 1)); err != nil {
		h.t.Fatal(err)
	}
	rows.Close()
}

// On a full disk the page says so and keeps what was typed; what was taken before is
// there, everything can be looked at, and once there is room the same entry is taken.
func TestDiskFull(t *testing.T) {
	h := newHouse(t)
	trial := h.trial(60)
	c := device(t)
	note := strings.Repeat("frost on the boards ", 150)
	if s := h.post(c, trial+"/break", breaks("100", "K100")...); s.status != http.StatusSeeOther {
		t.Fatalf("status %d: %s", s.status, s.body)
	}
	h.room(1)
	taken := []string{"K100"}
	full := ""
	for n := 101; full == ""; n++ {
		if n == 160 {
			t.Fatal("it is never full")
		}
		code := fmt.Sprint(n)
		switch s := h.post(c, trial+"/break", append(breaks(code, "K"+code), "note", note)...); s.status {
		case http.StatusSeeOther:
			taken = append(taken, "K"+code)
		case http.StatusInsufficientStorage:
			contains(t, s, "disk is full", "make room", note, `value="6.5"`)
			full = code
		default:
			t.Fatalf("status %d: %s", s.status, s.body)
		}
	}
	again := append(breaks(full, "K"+full), "note", note)
	r := h.request(http.MethodPost, trial+"/break?"+form(again).Encode())
	r.Header.Set("Accept", "application/json")
	w := h.answered(r)
	var said struct{ Error string }
	if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || w.Code != http.StatusInsufficientStorage || !strings.Contains(said.Error, "disk is full") {
		t.Errorf("a module is told %d %s, %v", w.Code, w.Body, err)
	}
	for _, path := range []string{"/", trial, trial + "/break", trial + "/history", trial + "/readings.csv"} {
		if s := h.get(c, path); s.status != http.StatusOK {
			t.Errorf("%s on a full disk: status %d", path, s.status)
		}
	}
	h.room(1 << 30)
	if s := h.post(c, trial+"/break", again...); s.status != http.StatusSeeOther {
		t.Errorf("with room: status %d: %s", s.status, s.body)
	}
	keys := h.keys()
	for _, key := range append(taken, "K"+full) {
		if keys[key] != 1 {
			t.Errorf("%s is there %d times", key, keys[key])
		}
	}
	h.whole()
}

func form(fields []string) url.Values {
	f := make(url.Values)
	for i := 0; i < len(fields); i += 2 {
		f.Add(fields[i], fields[i+1])
	}
	return f
}

// A clock that was set back is spoken of on every page; entries keep their order.
func TestClockSetBack(t *testing.T) {
	h := newHouse(t)
	trial := h.trial(3)
	c := device(t)
	h.post(c, trial+"/break", breaks("100", "first")...)
	const words = "which is before the last entry"
	if s := h.get(c, trial+"/break"); strings.Contains(s.body, words) {
		t.Error("the notice is there while the clock is right")
	}
	h.clock.set(morning.Add(-time.Hour))
	for _, path := range []string{"/", trial, trial + "/break", trial + "/glue", trial + "/history", "/shelf", "/logbook"} {
		contains(t, h.get(c, path), words, "set the clock right")
	}
	h.post(c, trial+"/break", breaks("101", "second")...)
	h.clock.set(morning.Add(time.Hour))
	h.post(c, trial+"/break", breaks("102", "third")...)
	if s := h.get(c, trial+"/break"); strings.Contains(s.body, words) {
		t.Error("the notice is there after the clock was set right")
	}
	entries, err := h.log.Since(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	last := entries[len(entries)-3:]
	if last[0].Key != "first" || last[1].Key != "second" || last[2].Key != "third" || last[1].Behind != time.Hour || last[2].Behind != 0 {
		t.Errorf("the last entries are %q, %q (behind %v) and %q", last[0].Key, last[1].Key, last[1].Behind, last[2].Key)
	}
	h.whole()
}

// news is an entry as a page is told of it.
type news struct {
	ID  int64
	Key string
}

// listen opens the stream of a trial's entries, from after an entry where that is not
// negative. What ends it is returned.
func (h *house) listen(c *http.Client, trial string, after int64) (<-chan news, func()) {
	h.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, h.address+"/events?trial="+strings.TrimPrefix(trial, "/trials/"), nil)
	if err != nil {
		h.t.Fatal(err)
	}
	if after >= 0 {
		r.Header.Set("Last-Event-ID", fmt.Sprint(after))
	}
	resp, err := c.Do(r)
	if err != nil {
		h.t.Fatal(err)
	}
	if resp.StatusCode != http.StatusOK || resp.Header.Get("Content-Type") != "text/event-stream" {
		h.t.Fatalf("status %d, %q", resp.StatusCode, resp.Header.Get("Content-Type"))
	}
	out := make(chan news, 1000)
	go func() {
		defer close(out)
		defer resp.Body.Close()
		lines := bufio.NewScanner(resp.Body)
		var n news
		for lines.Scan() {
			name, value, _ := strings.Cut(lines.Text(), ": ")
			switch name {
			case "id":
				n.ID, _ = strconv.ParseInt(value, 10, 64)
			case "data":
				if json.Unmarshal([]byte(value), &n) == nil {
					out <- n
				}
			}
		}
	}()
	return out, cancel
}

func next(t testing.TB, stream <-chan news) news {
	t.Helper()
	select {
	case n, ok := <-stream:
		if !ok {
			t.Fatal("the stream ended")
		}
		return n
	case <-time.After(20 * time.Second):
		t.Fatal("nothing came in 20 seconds")
	}
	return news{}
}

// An entry of one device is at the other in under a second, and what a device missed
// while the program was started anew reaches it once and in order.
func TestTwoDevices(t *testing.T) {
	h := newHouse(t)
	trial := h.trial(200)
	devices := []*http.Client{device(t), device(t)}
	var streams []<-chan news
	var ends []func()
	for _, c := range devices {
		s, end := h.listen(c, trial, -1)
		streams, ends = append(streams, s), append(ends, end)
	}
	var took []time.Duration
	last := h.last()
	write := func(n int) {
		code := fmt.Sprint(100 + n)
		if s := h.post(devices[n%2], trial+"/break", breaks(code, "K"+code)...); s.status != http.StatusSeeOther {
			t.Fatalf("status %d: %s", s.status, s.body)
		}
	}
	for n := range 100 {
		began := time.Now()
		write(n)
		other := next(t, streams[1-n%2])
		took = append(took, time.Since(began))
		own := next(t, streams[n%2])
		last++
		if want := (news{last, fmt.Sprint("K", 100+n)}); other != want || own != want {
			t.Fatalf("told of %v and %v, want %v", other, own, want)
		}
	}
	slices.Sort(took)
	t.Logf("from sending an entry on one device to its arrival on another, 100 entries: median %v, 95 %% below %v, longest %v", took[50], took[95], took[99])
	if took[95] > time.Second {
		t.Errorf("95 %% below %v, want a second", took[95])
	}
	ends[1]()
	for range streams[1] {
	}
	for n := range 5 { // missed before the program ends
		write(100 + 2*n)
	}
	ends[0]()
	h.close()
	h.open()
	for n := range 3 { // and after it was started again
		write(110 + 2*n)
	}
	done := make(chan struct{})
	go func() { // and while the device comes back
		defer close(done)
		for n := 120; n < 150; n++ {
			write(n)
		}
	}()
	s, end := h.listen(devices[1], trial, last)
	defer end()
	for i := range int64(5 + 3 + 30) {
		if n := next(t, s); n.ID != last+1+i {
			t.Fatalf("told of entry %d, want %d", n.ID, last+1+i)
		}
	}
	<-done
	select {
	case n := <-s:
		t.Errorf("told of %v once more", n)
	case <-time.After(100 * time.Millisecond):
	}
}

// readings is a table that takes a while to answer.
func readings(n int) []byte {
	var b strings.Builder
	b.WriteString("specimen,adhesive,wood,board,strength_mpa,wood_failure_pct\n")
	for i := range n {
		fmt.Fprintf(&b, "%d,Adhesive %c,ash,%d,%.3f,%d\n", i+1, 'A'+rune(i%8), i%40, 5+float64(i%8)*0.3+float64(i*7919%1000)/700, i*104729%90)
	}
	return []byte(b.String())
}

// When the pages end nothing of them stays behind, whatever is going on.
func TestNothingStaysBehind(t *testing.T) {
	warm := newHouse(t) // what is kept for good is begun
	warm.get(device(t), "/")
	warm.close()
	http.DefaultClient.CloseIdleConnections()
	before := runtime.NumGoroutine()

	h := newHouse(t)
	id, _, err := h.book.TakeIn(t.Context(), record.Who{}, record.Asked{Name: "Old readings"}, "old.csv", readings(8000), table.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Transport: &http.Transport{}}
	var streams []<-chan news
	for range 3 {
		s, _ := h.listen(c, "", -1)
		streams = append(streams, s)
	}
	h.post(c, "/trials/"+id+"/answer/run")
	state := h.get(c, "/trials/"+id+"/answer/progress")
	if !strings.Contains(state.body, `"working"`) && !strings.Contains(state.body, `"waiting"`) {
		t.Errorf("nothing is computed: %d %s", state.status, state.body)
	}
	began := time.Now()
	h.close()
	if took := time.Since(began); took > 4*time.Second {
		t.Errorf("closing took %v", took)
	}
	for _, s := range streams {
		for range s {
		}
	}
	c.CloseIdleConnections()
	for range 300 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	stacks := make([]byte, 1<<20)
	t.Errorf("%d goroutines, %d before:\n%s", runtime.NumGoroutine(), before, stacks[:runtime.Stack(stacks, true)])
}
