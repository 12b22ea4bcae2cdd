package ask_test

import (
	"fmt"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"bondtrial/internal/pages/ask"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
)

// bench is a logbook with the pages of the station.
type bench struct {
	*frametest.Bench
	*httptest.Server
	t *testing.T
}

func newBench(t *testing.T) *bench {
	b := frametest.New(t)
	return &bench{b, b.Serve(map[string]frame.Handler{
		"GET /trials/{trial}/ask": ask.Show, "POST /trials/{trial}/ask": ask.Save,
		"GET /trials/{trial}/trial.toml": ask.File, "POST /trials/{trial}/trial.toml": ask.Take,
	}), t}
}

// begin begins a trial with a file; an empty one is none.
func (b *bench) begin(name, file string) string {
	b.t.Helper()
	a := record.Asked{Name: name, File: file}
	if f, err := form.Parse([]byte(file)); err == nil {
		a.Question = f.Question
	}
	id, err := b.Book.New(b.t.Context(), record.Who{By: "Ida"}, a)
	if err != nil {
		b.t.Fatal(err)
	}
	return id
}

// get fetches a page, and fails where its status is not the one wanted.
func (b *bench) get(want int, path string) string {
	b.t.Helper()
	resp, err := http.Get(b.URL + path)
	return b.read(want, resp, err)
}

// post sends a form without following where it leads.
func (b *bench) post(want int, path string, v url.Values) (page, location string) {
	b.t.Helper()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.PostForm(b.URL+path, v)
	page = b.read(want, resp, err)
	return page, resp.Header.Get("Location")
}

func (b *bench) read(want int, resp *http.Response, err error) string {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	if resp.StatusCode != want {
		b.t.Fatalf("%s: status %d, want %d:\n%s", resp.Request.URL, resp.StatusCode, want, text)
	}
	return string(text)
}

func (b *bench) shows(page string, wanted ...string) {
	b.t.Helper()
	for _, w := range wanted {
		if !strings.Contains(page, w) {
			b.t.Errorf("the page does not show %q:\n%s", w, page)
		}
	}
}

var (
	fieldTag = regexp.MustCompile(`<(?:input|select|textarea)[^>]*>`)
	template = regexp.MustCompile(`(?s)<template.*?</template>`)
	option   = regexp.MustCompile(`(?s)^.*?</select>`)
	chosen   = regexp.MustCompile(`<option value="([^"]*)" selected`)
	attr     = regexp.MustCompile(`(name|value|id|aria-invalid)="([^"]*)"`)
)

// values are what a browser would send back of the first form of a page.
func values(page string) url.Values {
	_, page, _ = strings.Cut(page, `id="ask"`)
	page, _, _ = strings.Cut(template.ReplaceAllString(page, ""), "</form>")
	v := url.Values{}
	for _, at := range fieldTag.FindAllStringIndex(page, -1) {
		tag := page[at[0]:at[1]]
		has := map[string]string{}
		for _, m := range attr.FindAllStringSubmatch(tag, -1) {
			has[m[1]] = html.UnescapeString(m[2])
		}
		value := has["value"]
		switch {
		case strings.HasPrefix(tag, "<textarea"):
			value, _, _ = strings.Cut(page[at[1]:], "</textarea>")
			value = html.UnescapeString(strings.TrimPrefix(value, "\n"))
		case strings.HasPrefix(tag, "<select"):
			value = ""
			if m := chosen.FindStringSubmatch(option.FindString(page[at[1]:])); m != nil {
				value = html.UnescapeString(m[1])
			}
		case strings.Contains(tag, `type="checkbox"`) && !strings.Contains(tag, " checked"):
			continue
		}
		if has["name"] != "" {
			v.Add(has["name"], value)
		}
	}
	return v
}

func benches() string { return fmt.Sprintf(frametest.BenchesFile, true) }
