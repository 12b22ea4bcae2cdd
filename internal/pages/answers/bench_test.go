package answers

import (
	"io"
	"net/http"
	"net/http/httptest"
	"testing"

	"bondtrial/internal/pages/frame"
)

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
