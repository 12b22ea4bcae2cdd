package guard

import (
	"bufio"
	"embed"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

//go:embed testdata/static
var embedded embed.FS

// Paths are sent as they stand, since a client would clean them.
func TestPathsThatLeaveTheOpenFolder(t *testing.T) {
	files, err := fs.Sub(embedded, "testdata/static")
	if err != nil {
		t.Fatal(err)
	}
	b := newBench(t, nil)
	mux := http.NewServeMux()
	mux.Handle("GET /static/", http.StripPrefix("/static", http.FileServerFS(files)))
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		if _, itself := Who(r); !itself {
			t.Errorf("a stranger came to %q", r.URL.Path)
		}
		fmt.Fprint(w, "a trial")
	})
	s := httptest.NewServer(b.Wrap(mux))
	defer s.Close()
	ask := func(target, header string) *http.Response {
		t.Helper()
		c, err := net.Dial("tcp", s.Listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: localhost:8321\r\nConnection: close\r\n%s\r\n", target, header)
		r, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			t.Fatalf("%s: %v", target, err)
		}
		text, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		r.Body = io.NopCloser(strings.NewReader(string(text)))
		return r
	}
	const stranger = "X-Forwarded-For: 203.0.113.5\r\n"
	if r := ask("/static/page.css", stranger); r.StatusCode != 200 || !strings.Contains(body(t, r), "color: black") {
		t.Errorf("the style sheet: status %d", r.StatusCode)
	}
	for _, target := range []string{
		"/static/../../etc/passwd", "/static/../trial", "/static/./../trial", "/static//../trial", "/static/%2e%2e/trial", "/static/%2E%2E/%2e%2e/etc/passwd",
		"/static/..%2ftrial", "/static/..%2f..%2fetc%2fpasswd", "/static/..%5c..%5cetc%5cpasswd", `/static/..\..\etc\passwd`, "/static/%252e%252e/%252e%252e/etc/passwd",
		"/static/....//....//etc/passwd", "/static/..;/trial", "/static/%00/../trial", "/static/page.css%00", "/static/%c0%ae%c0%ae/etc/passwd", "//static/../trial",
		"/static/../guard_test.go", "/static/page.css/../../../guard.go", "http://localhost:8321/static/../trial",
	} {
		for _, header := range []string{stranger, ""} {
			r := ask(target, header)
			text := body(t, r)
			switch {
			case strings.Contains(text, "root:"), strings.Contains(text, "package guard"):
				t.Errorf("%s reads %q", target, text)
			case header == stranger && r.StatusCode == 200:
				t.Errorf("%s gives a stranger %q", target, text)
			case r.Header.Get("Content-Security-Policy") != Policy && r.StatusCode != 400: // what net/http itself cannot read never gets here
				t.Errorf("%s: status %d without Policy", target, r.StatusCode)
			}
		}
	}
}
