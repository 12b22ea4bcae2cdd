package frame_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"
	"unicode/utf8"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/pages/guard"
	"bondtrial/internal/pages/photo"
	"bondtrial/internal/record"
)

var onePage = fstest.MapFS{"page.html": {Data: []byte(`{{define "main"}}<h1>{{.Title}}</h1>{{end}}`)}}

func get(t *testing.T, s *httptest.Server, path string, status int) string {
	t.Helper()
	r, err := http.Get(s.URL + path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	if r.StatusCode != status {
		t.Fatalf("%s: status %d, want %d: %s", path, r.StatusCode, status, b)
	}
	return string(b)
}

// Every error has its status and words that a person can act on, and none tells
// where files lie on the machine.
func TestTell(t *testing.T) {
	b := frametest.New(t)
	folder := filepath.Dir(b.Book.Logbook().Path())
	path := filepath.Join(folder, "bench.logbook")
	_, tooLarge := io.ReadAll(http.MaxBytesReader(nil, io.NopCloser(strings.NewReader("abc")), 1))
	if _, ok := guard.TooLarge(tooLarge); !ok {
		t.Fatal("that should be too large")
	}
	for _, c := range []struct {
		err    error
		status int
		words  string
	}{
		{&record.Refused{Field: "peak", Message: "a break needs a force above 0"}, 422, "A break needs a force above 0."},
		{fmt.Errorf("x.csv, line 3: %w", &record.Refused{Field: "peak", Message: "too much"}), 422, "X.csv, line 3: too much."},
		{errors.Join(&record.Refused{Message: "one"}, &record.Refused{Message: "two"}), 422, "One; two."},
		{&record.Conflict{Words: "recorded already: 8 MPa"}, 409, "Recorded already: 8 MPa."},
		{record.ErrNoTrial, 404, "no such trial"},
		{fmt.Errorf("reading an entry: %w", &logbook.NoEntry{Seq: 7}), 404, "no entry 7"},
		{fmt.Errorf("reading a file: %w", &logbook.NoFile{Sum: "00"}), 404, "no such file"},
		{frame.NotFound("there is no such page"), 404, "There is no such page."},
		{frame.BadRequest("send it again"), 400, "Send it again."},
		{frame.Unusable("mend the table"), 422, "Mend the table."},
		{tooLarge, 413, "larger than is taken"},
		{fmt.Errorf("reading: %w", tooLarge), 413, "larger than is taken"},
		{&photo.Refused{Why: photo.TooLarge, Words: "the photo is too large"}, 413, "The photo is too large."},
		{&photo.Refused{Why: photo.WrongFormat, Words: "not a photo"}, 415, "Not a photo."},
		{&photo.Refused{Why: photo.Broken, Words: "cut off"}, 422, "Cut off."},
		{fmt.Errorf("appending in %s: %w (database or disk is full)", path, logbook.ErrFull), 507, "The disk is full"},
		{fmt.Errorf("appending in %s: %w", path, logbook.ErrReadOnly), 507, "may not be written to"},
		{&logbook.InUse{Path: path, PID: 4711, Holder: "http://127.0.0.1:7843"}, 503, "The logbook bench.logbook is open elsewhere"},
		{fmt.Errorf("reading: %w", &logbook.Damaged{Path: path, Problems: []logbook.Problem{{Seq: 3, What: "gone"}}}), 500, "The logbook bench.logbook is damaged"},
		{context.Canceled, 499, "Stopped."},
		{fmt.Errorf("waiting: %w", context.DeadlineExceeded), 503, "took too long"},
		{&fs.PathError{Op: "open", Path: path, Err: fs.ErrNotExist}, 500, "open bench.logbook: file does not exist"},
		{fmt.Errorf("reading in %s: odd", path), 500, "reading in bench.logbook: odd"},
		{fmt.Errorf(`opening C:\Users\ida\trials.bondtrial: odd`), 500, "opening trials.bondtrial: odd"},
		{fmt.Errorf("looking at /home/ida/a/b.txt, /etc/passwd: odd"), 500, "b.txt, passwd: odd"},
		{errors.New("<script>alert(1)</script>"), 500, "&lt;script&gt;"},
	} {
		for _, accept := range []string{"text/html", "application/json"} {
			w := httptest.NewRecorder()
			r := httptest.NewRequest("GET", "/trials/x", nil)
			r.Header.Set("Accept", accept)
			b.Desk.Tell(w, r, c.err)
			text := w.Body.String()
			words := c.words
			if accept == "application/json" {
				words = strings.NewReplacer("&lt;", `\u003c`, "&gt;", `\u003e`).Replace(words)
			}
			if w.Code != c.status || !strings.Contains(text, words) {
				t.Errorf("%v: status %d, want %d with %q: %s", c.err, w.Code, c.status, words, text)
			}
			if strings.Contains(text, folder) || strings.Contains(text, "/home/") || strings.Contains(text, "Users") || strings.Contains(text, "goroutine") {
				t.Errorf("%v: tells where things lie: %s", c.err, text)
			}
			if accept == "text/html" {
				for _, f := range frametest.Faults(text) {
					t.Errorf("%v: %s", c.err, f)
				}
			}
		}
	}
}

// A handler that fails midway is told of in words, not cut off, and shows no stack.
func TestPanicIsTold(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(map[string]frame.Handler{
		"GET /panics": func(*frame.Desk, http.ResponseWriter, *http.Request) error { panic("secret detail") },
		"GET /late": func(_ *frame.Desk, w http.ResponseWriter, _ *http.Request) error {
			_, _ = io.WriteString(w, "half of it")
			panic(http.ErrAbortHandler)
		},
	})
	text := get(t, s, "/panics", 500)
	if strings.Contains(text, "secret") || strings.Contains(text, "goroutine") || !strings.Contains(text, "a mistake in the program") {
		t.Error(text)
	}
	r, err := http.Get(s.URL + "/late")
	if err == nil {
		_, err = io.ReadAll(r.Body)
		r.Body.Close()
	}
	if err == nil {
		t.Error("half an answer passes for a whole one")
	}
}

func TestCleanName(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "  ": "", " Ida  Berg\t": "Ida Berg", "a\x00b\x1fc": "a b c", "a\u0085b\u00a0c\u2028d": "a b c d", "\u202eadI": "adI", "Zoë": "Zoë", "a\xffb": "ab",
		"\ufeffIda": "Ida", strings.Repeat("ä", 50): strings.Repeat("ä", 40), strings.Repeat("a", 39) + " b": strings.Repeat("a", 39), "<b>": "<b>", "O'Neil; x": "O'Neil; x",
	} {
		if got := frame.CleanName(in); got != want || frame.CleanName(got) != got {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func FuzzCleanName(f *testing.F) {
	f.Add("Ida \u202e")
	f.Fuzz(func(t *testing.T, s string) {
		got := frame.CleanName(s)
		if frame.CleanName(got) != got || !utf8.ValidString(got) || utf8.RuneCountInString(got) > 40 || got != strings.TrimSpace(got) {
			t.Errorf("%q: %q", s, got)
		}
	})
}

// The name goes to the device and comes back, whatever letters it has; what else
// stands in the cookie does no harm.
func TestNameIsKept(t *testing.T) {
	b := frametest.New(t)
	for _, name := range []string{"Ida", "Zoë; \"x\"=1, 木", "a b"} {
		w := httptest.NewRecorder()
		frame.SetName(w, name)
		c := w.Result().Cookies()[0]
		if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode {
			t.Errorf("%+v", c)
		}
		r := httptest.NewRequest("GET", "/", nil)
		r.AddCookie(c)
		if got := b.Desk.Name(r); got != name {
			t.Errorf("%q comes back as %q", name, got)
		}
	}
	for _, value := range []string{"%zz", "%FF%FE", "%00"} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Header.Set("Cookie", "name="+value)
		if got := b.Desk.Name(r); !utf8.ValidString(got) || strings.Contains(got, "\x00") {
			t.Errorf("%q: %q", value, got)
		}
	}
}

func TestWho(t *testing.T) {
	b := frametest.New(t)
	for _, c := range []struct {
		said, key string
		at        time.Time
		want      string
	}{
		{"1807434000000", "K1", time.UnixMilli(1807434000000).UTC(), "K1"}, {"", "", time.Time{}, ""}, {"x", "K1", time.Time{}, "K1"}, {"-5", "K1", time.Time{}, "K1"},
		{"12 monkeys", "K1", time.Time{}, "K1"}, {"9999999999999999", strings.Repeat("k", 81), time.Time{}, ""}, {"1e12", "a\x00b", time.Time{}, ""}, {"", "ключ", time.Time{}, ""},
	} {
		r := httptest.NewRequest("POST", "/", strings.NewReader(url.Values{"said": {c.said}, "key": {c.key}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("X-Test-Device", "phone 2")
		if w := b.Desk.Who(r); !w.Said.Equal(c.at) || w.Key != c.want || w.Device != "phone 2" {
			t.Errorf("%q, %q: %+v", c.said, c.key, w)
		}
	}
}

func TestNewKey(t *testing.T) {
	b := frametest.New(t)
	seen := make(chan string, 400)
	for range 4 {
		go func() {
			for range 100 {
				seen <- b.Desk.NewKey()
			}
		}()
	}
	keys := make(map[string]bool)
	for range 400 {
		k := <-seen
		if len(k) != 24 || keys[k] {
			t.Fatalf("key %q", k)
		}
		keys[k] = true
	}
	d := *b.Desk
	d.Random = strings.NewReader("short")
	if k := d.NewKey(); k != "" {
		t.Errorf("key %q of a source that failed", k)
	}
	d.Random = nil
	if len(d.NewKey()) != 24 {
		t.Error("no key of the system's source")
	}
}

func TestStatic(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(nil)
	for name, kind := range map[string]string{"frame.css": "text/css; charset=utf-8", "frame.js": "text/javascript; charset=utf-8", "follow.js": "text/javascript; charset=utf-8",
		"mark.svg": "image/svg+xml", "figures.css": "text/css; charset=utf-8"} {
		r, err := http.Get(s.URL + frame.StaticPath(name))
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r.Body)
		r.Body.Close()
		if err != nil || r.StatusCode != 200 || r.Header.Get("Content-Type") != kind || !strings.Contains(r.Header.Get("Cache-Control"), "immutable") || len(text) == 0 {
			t.Errorf("%s: %d, %v, %v", name, r.StatusCode, r.Header, err)
		}
		if strings.HasSuffix(name, "s") && (strings.Contains(string(text), "http://") || strings.Contains(string(text), "https://")) {
			t.Errorf("%s names an address outside", name)
		}
	}
	edition := strings.Split(frame.StaticPath("frame.css"), "/")[2]
	for _, path := range []string{"/static/frame.css", "/static/0123456789ab/frame.css", "/static/" + edition + "/", "/static/" + edition + "/nothing.css", "/static/" + edition + "/..%2fstatic.go"} {
		get(t, s, path, 404)
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the address of a file that is not there")
			}
		}()
		frame.StaticPath("nothing.css")
	}()
}

func TestSentence(t *testing.T) {
	for in, want := range map[string]string{"": "", "no": "No.", "no.": "No.", "why?": "Why?", "one\ntwo": "One; two.", "élan": "élan."} {
		if got := frame.Sentence(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
