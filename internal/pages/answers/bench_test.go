package answers

import (
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"bondtrial/internal/pages/frame"
)

// mostPage is how long a page with an answer that is kept may take, for the demo's
// readings of some hundred specimens.
const mostPage = 50 * time.Millisecond

func shownOnce(t testing.TB, site http.Handler, path string) int {
	w := httptest.NewRecorder()
	site.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	if w.Code != http.StatusOK {
		t.Fatalf("%s: %d", path, w.Code)
	}
	n, err := io.Copy(io.Discard, w.Body)
	if err != nil {
		t.Fatal(err)
	}
	return int(n)
}

func handler(d *desk) http.Handler {
	mux := http.NewServeMux()
	for pattern, h := range routes(d.keeper) {
		mux.Handle(pattern, d.Desk.Serve(frame.Handler(h)))
	}
	return mux
}

// quick fails where a page takes long. The best of some tries counts: what else the
// machine does is not the page's fault.
func quick(t *testing.T, site http.Handler, path string) {
	t.Helper()
	best := time.Hour
	for range 10 {
		begun := time.Now()
		shownOnce(t, site, path)
		best = min(best, time.Since(begun))
	}
	if best > mostPage {
		t.Errorf("a page with a kept answer takes %v, want at most %v", best, mostPage)
	}
}

func BenchmarkShow(b *testing.B) {
	d := newDesk(b)
	id := d.demo()
	d.answered(id, "")
	site, n := handler(d), 0
	for b.Loop() {
		n = shownOnce(b, site, "/trials/"+id+"/answer")
	}
	b.ReportMetric(float64(n)/1e3, "kB/page")
}
