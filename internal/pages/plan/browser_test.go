package plan_test

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
)

// policy is the policy under which the pages stand: no style and no script within
// them.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// strict serves what a server serves, under the policy.
func strict(t *testing.T, s *httptest.Server) string {
	h := s.Config.Handler
	out := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", policy)
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(out.Close)
	return out.URL
}

// looked fails where a page has barriers or defects, and keeps a picture of it where
// BONDTRIAL_LOOK names a folder.
func looked(t *testing.T, p *browsertest.Page, name string) {
	t.Helper()
	if dir := os.Getenv("BONDTRIAL_LOOK"); dir != "" {
		p.Screenshot(filepath.Join(dir, name+".png"))
	}
	for _, v := range p.Axe() {
		t.Errorf("%s: %v", name, v)
	}
	for _, o := range p.Overflow() {
		t.Errorf("%s: %s", name, o)
	}
	for _, c := range p.Console() {
		t.Errorf("%s: console: %s", name, c)
	}
}

// A plan is made at a touch, shows how far it is, and appears by itself; the key is
// opened with a warning before.
func TestBrowserPlan(t *testing.T) {
	b := newBench(t)
	b.serve(500) // half a second or more, so that the progress is seen
	id := b.begin("Benches", benches(true))
	url := strict(t, b.Server) + "/trials/" + id + "/plan"
	browser := browsertest.Start(t)
	p := browser.Page(browsertest.Phone)
	p.Page.Patience = time.Minute // other tests may keep the machine busy
	p.Open(url)
	p.Tap("button.main")
	p.WaitText("#working", "Working it out")
	if dir := os.Getenv("BONDTRIAL_LOOK"); dir != "" {
		p.Screenshot(filepath.Join(dir, "plan-working-phone.png"))
	}
	p.WaitText("#short", "In short")
	p.Eval(`document.querySelectorAll("details").forEach((d) => (d.open = true))`, nil)
	looked(t, p, "plan-phone")
	var fill string
	p.Eval(`getComputedStyle(document.querySelector("figure.narrow-only path[fill], figure.narrow-only [stroke] path")).stroke`, &fill)
	if fill == "none" || fill == "" {
		t.Errorf("the figure has no colours: %q", fill)
	}
	p.Fill("#by-open", "Ida")
	p.Tap("#sure")
	p.Tap("button.danger")
	p.WaitText("#key", "Opened with 0 of 16 broken")
	p.WaitText("#adhesives ~ .table-box", "Tarn")
	for _, s := range []struct {
		name   string
		screen browsertest.Screen
	}{{"tablet-dark", browsertest.Screen{Width: 820, Height: 1180, Phone: true, Dark: true}}, {"laptop", browsertest.Laptop}} {
		p := browser.Page(s.screen)
		p.Open(url)
		p.Eval(`document.querySelectorAll("details").forEach((d) => (d.open = true))`, nil)
		looked(t, p, "plan-"+s.name)
	}
}
