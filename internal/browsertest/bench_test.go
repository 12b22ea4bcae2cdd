package browsertest

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
)

// policy is the strict policy under which the product's pages stand.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// bench serves small pages: a body by its path, in a frame that is beyond reproach.
type bench struct {
	*httptest.Server
	mu     sync.Mutex
	bodies map[string]string
	style  map[string]string
	script map[string]string
	bare   string
}

const frame = `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Bench</title><link rel="icon" href="data:,"><link rel="stylesheet" href="%[1]s.css"><script type="module" src="%[1]s.js"></script></head><body>%[2]s</body></html>`

func newBench(t *testing.T) *bench {
	b := &bench{bodies: map[string]string{}, style: map[string]string{}, script: map[string]string{}}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{name}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", policy)
		b.mu.Lock()
		defer b.mu.Unlock()
		name := r.PathValue("name")
		if of, ok := strings.CutSuffix(name, ".js"); ok {
			w.Header().Set("Content-Type", "text/javascript")
			fmt.Fprint(w, b.script[of])
			return
		}
		if of, ok := strings.CutSuffix(name, ".css"); ok {
			w.Header().Set("Content-Type", "text/css")
			fmt.Fprint(w, b.style[of])
			return
		}
		body, ok := b.bodies[name]
		if !ok {
			w.WriteHeader(http.StatusNotFound)
		}
		fmt.Fprintf(w, frame, name, body)
	})
	mux.HandleFunc("GET /free/", func(w http.ResponseWriter, r *http.Request) {
		b.mu.Lock()
		defer b.mu.Unlock()
		fmt.Fprint(w, `<!doctype html><html lang="en"><title>Free</title><link rel="icon" href="data:,">`+b.bare+`</html>`)
	})
	mux.HandleFunc("POST /{name}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", policy)
		if r.Header.Get("Content-Type") != "application/x-www-form-urlencoded" {
			_ = r.ParseMultipartForm(1 << 20)
			f, header, err := r.FormFile("photo")
			if err != nil {
				http.Error(w, err.Error(), http.StatusBadRequest)
				return
			}
			defer f.Close()
			fmt.Fprintf(w, frame, "sent", fmt.Sprintf("<main><h1>Received</h1><p>%s of %d bytes</p></main>", header.Filename, header.Size))
			return
		}
		fmt.Fprintf(w, frame, "sent", "<main><h1>Received</h1><p>"+r.FormValue("code")+" "+r.FormValue("wood")+" "+r.FormValue("failing")+" "+r.FormValue("day")+"</p></main>")
	})
	b.Server = httptest.NewServer(mux)
	t.Cleanup(b.Close)
	return b
}

// page puts a page on the bench and returns its address.
func (b *bench) page(name, body, style, script string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.bodies[name], b.style[name], b.script[name] = body, style, script
	return b.URL + "/" + name
}

// free serves a page without a policy and without a viewport, and returns its address.
func (b *bench) free(body string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.bare = body
	return b.URL + "/free/"
}
