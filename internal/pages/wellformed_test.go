package pages

import (
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// Every page that a GET shows is well formed, of an empty logbook and of trials at
// every station, with script for every text.
func TestEveryPageIsWellFormed(t *testing.T) {
	b := frametest.New(t)
	server := httptest.NewUnstartedServer(nil)
	site, err := New(Config{Book: b.Book, Clock: b.Clock.Now, Random: rand.NewChaCha8([32]byte{2}), Log: slog.New(slog.DiscardHandler), Version: "(test)",
		Port: server.Listener.Addr().(*net.TCPAddr).Port})
	if err != nil {
		t.Fatal(err)
	}
	server.Config.Handler = site
	server.Start()
	t.Cleanup(server.Close)
	t.Cleanup(site.Close)
	look := func(path string) {
		t.Helper()
		answer, err := http.Get(server.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		if !strings.HasPrefix(answer.Header.Get("Content-Type"), "text/html") {
			return
		}
		if answer.StatusCode >= 500 {
			t.Errorf("%s: status %d", path, answer.StatusCode)
		}
		body, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		page := string(body)
		for _, f := range frametest.Faults(page) {
			t.Errorf("%s: %s", path, f)
		}
		if strings.Contains(page, "<script>alert") {
			t.Errorf("%s: holds the script that was typed", path)
		}
	}
	all := func(trial string) {
		t.Helper()
		for _, r := range site.routes() {
			path, get := strings.CutPrefix(r.pattern, "GET ")
			if !get || path == "/events" || strings.HasSuffix(path, "report.html") || strings.HasSuffix(path, "progress") {
				continue // a stream, a page that stands alone, and parts of pages
			}
			path = strings.ReplaceAll(strings.ReplaceAll(path, "{$}", ""), "{trial}", trial)
			look(inBraces.ReplaceAllString(path, "1"))
		}
	}
	all("nobody")
	const script = `"><script>alert(1)</script>`
	who := record.Who{By: script, Device: script}
	begun, err := b.Book.New(t.Context(), who, record.Asked{Name: script, Question: script, File: "name = \"" + "x\n"})
	if err != nil {
		t.Fatal(err)
	}
	all(begun)
	for _, blind := range []bool{false, true} {
		id := b.Benches(blind)
		all(id)
		b.GlueAll(id)
		code := b.Trial(id).Specimens[0].Code
		for _, it := range []record.Item{{Subject: "T1", Content: record.Added{Joint: record.Joint{Adhesive: script, Wood: script, Board: script, Batch: script, Factors: map[string]string{"surface": script}}}},
			{Subject: "T1", Content: record.Glued{Note: script, Batch: script}}, {Subject: script, Content: record.Marks{Spreads: 3, Note: script}}, {Subject: "check 1", Content: record.Cured{Adhesive: script, Hardness: 3, Note: script}},
			{Subject: code, Content: record.Noted{Station: "glue", Text: script}}, {Content: record.Climate{Station: script, Celsius: 18}}} {
			if _, err := b.Book.Add(t.Context(), who, id, it.Subject, it.Content); err != nil {
				t.Fatal(err)
			}
		}
		all(id)
		for _, s := range b.Trial(id).ToBreak()[:6] {
			b.Break(id, s.Code, 2140, 20)
		}
		if _, err := b.Book.Logbook().Append(t.Context(), logbook.Draft{Trial: id, Kind: "hologram", Subject: script}); err != nil {
			t.Fatal(err)
		}
		all(id)
	}
	for subject, c := range map[string]record.Content{script: record.OnShelf{Family: "pva", Note: script, Lowest: script}, "ash " + script: record.OnRack{Wood: "ash", Name: script, Note: script},
		"": record.Rig{Name: script, Unit: "N", Force: script}} {
		if _, err := b.Book.Add(t.Context(), who, "", subject, c); err != nil {
			t.Fatal(err)
		}
	}
	for _, path := range []string{"/", "/shelf", "/rack", "/rig", "/logbook", "/nowhere"} {
		look(path)
	}
}

var inBraces = regexp.MustCompile(`\{[^}]*\}`)
