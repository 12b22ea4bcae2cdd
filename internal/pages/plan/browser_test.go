package plan_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
)

// A plan is made at a touch, shows how far it is, and appears by itself; the key is
// opened with a warning before.
func TestBrowserPlan(t *testing.T) {
	b := newBench(t)
	b.serve(500) // half a second or more, so that the progress is seen
	id := b.begin("Benches", benches(true))
	url := b.Server.URL + "/trials/" + id + "/plan"
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
	p.NoDefects("plan-phone")
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
		p.NoDefects("plan-" + s.name)
	}
}
