package chrome

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"testing"
	"time"
)

// A test may read the new page right after a click, however late the server is.
func TestClickWaitsForTheNextDocument(t *testing.T) {
	b := start(t)
	mux := http.NewServeMux()
	mux.HandleFunc("/{n}", func(w http.ResponseWriter, r *http.Request) {
		var n int
		fmt.Sscan(r.PathValue("n"), &n)
		time.Sleep(time.Duration(n%4) * 20 * time.Millisecond) // the lateness under test
		if r.Method == http.MethodPost {
			http.Redirect(w, r, fmt.Sprintf("/%d", n), http.StatusSeeOther)
			return
		}
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprintf(w, `<!doctype html><meta name="viewport" content="width=device-width"><link rel="icon" href="data:,"><h1>%d</h1>
<div style="width: 900px">wider than the screen</div><div style="height: 1200px"></div><a href="/%d">next</a><form method="post" action="/%d"><button>next</button></form>`, n, n+1, n+1)
	})
	s := httptest.NewServer(mux)
	t.Cleanup(s.Close)
	for _, screen := range []Screen{Phone, Laptop} {
		p, err := b.Page(screen)
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		if err := p.Open(s.URL + "/0"); err != nil {
			t.Fatal(err)
		}
		for n := 1; n <= 8; n++ {
			press := p.Click
			if screen.Phone && n%3 == 0 {
				press = p.Tap
			}
			if err := press([]string{"a", "button"}[n%2]); err != nil {
				t.Fatal(err)
			}
			got, err := p.Text("h1")
			if want := fmt.Sprint(n); err != nil || got != want {
				t.Fatalf("after press %d on %+v: page %q, %v, want %s", n, screen, got, err, want)
			}
		}
	}
}

func start(t *testing.T) *Browser {
	t.Helper()
	b, err := Start()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(b.home); !os.IsNotExist(err) {
			t.Errorf("the browser's folder is still there: %v", err)
		}
	})
	return b
}
