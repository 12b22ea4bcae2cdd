package breaking

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
)

// routes are those of the station, with a place for photos to come from.
func routes() map[string]frame.Handler {
	return map[string]frame.Handler{
		"GET /trials/{trial}/break":        Show,
		"POST /trials/{trial}/break":       Save,
		"GET /trials/{trial}/break/{seq}":  Entry,
		"POST /trials/{trial}/break/{seq}": Correct,
		"POST /trials/{trial}/specimens":   Add,
		"GET /files/{sum}": func(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
			content, ref, err := d.Book.Logbook().File(r.Context(), r.PathValue("sum"))
			if err != nil {
				return frame.NotFound("no such file")
			}
			w.Header().Set("Content-Type", ref.MediaType)
			_, err = w.Write(content)
			return err
		},
	}
}

// serve returns a bench with a planned trial, and its pages.
func serve(t *testing.T, blind bool) (b *frametest.Bench, s *httptest.Server, id string) {
	t.Helper()
	b = frametest.New(t)
	id = b.Benches(blind)
	return b, b.Serve(routes()), id
}

// answer is what came back from a handler.
type answer struct {
	status   int
	body     string
	location string
}

func send(t *testing.T, r *http.Request, as string) answer {
	t.Helper()
	if as != "" {
		r.AddCookie(&http.Cookie{Name: "name", Value: url.QueryEscape(as)})
	}
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer{resp.StatusCode, string(body), resp.Header.Get("Location")}
}

func get(t *testing.T, address string) answer {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	return send(t, r, "")
}

// post sends a form; fields are names and values in turn.
func post(t *testing.T, address, as string, fields ...string) answer {
	t.Helper()
	return posted(t, address, as, "text/html", fields)
}

// postJSON sends a form as a module does.
func postJSON(t *testing.T, address, as string, fields ...string) answer {
	t.Helper()
	return posted(t, address, as, "application/json", fields)
}

func posted(t *testing.T, address, as, accept string, fields []string) answer {
	t.Helper()
	form := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, address, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", accept)
	return send(t, r, as)
}

func wantStatus(t *testing.T, a answer, want int) {
	t.Helper()
	if a.status != want {
		t.Fatalf("status %d, want %d:\n%s", a.status, want, main(a.body))
	}
}

func wantWords(t *testing.T, a answer, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(a.body, w) {
			t.Errorf("no %q in:\n%s", w, main(a.body))
		}
	}
}

func wantNone(t *testing.T, a answer, words ...string) {
	t.Helper()
	for _, w := range words {
		if strings.Contains(a.body, w) {
			t.Errorf("%q in:\n%s", w, main(a.body))
		}
	}
}

// main is the part of a page between its head and its foot.
func main(page string) string {
	_, after, _ := strings.Cut(page, "<main")
	before, _, _ := strings.Cut(after, "</main>")
	if before == "" {
		return page
	}
	return before
}
