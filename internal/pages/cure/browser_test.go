package cure_test

import (
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

func TestBrowserCure(t *testing.T) {
	b := frametest.New(t)
	s := &station{b, t, b.Benches(false), b.Serve(routes)}
	s.GlueAll(s.id)
	checks := s.trial().Checks()
	s.until(checks[0].At.Add(25 * time.Minute))
	photo := filepath.Join(t.TempDir(), "bead.png")
	if err := os.WriteFile(photo, picture(t, 180), 0o600); err != nil {
		t.Fatal(err)
	}
	browser := browsertest.Start(t)
	p := browser.Page(browsertest.Phone)
	p.Open(s.site.URL + "/trials/" + s.id + "/cure")

	// A slip is shown beside what was typed.
	p.Fill("#check-0-note", "")
	p.Tap("#check-0 form button")
	p.WaitText("#check-0 .cure-said", "Give at least one mark or a remark.")
	p.Choose("#check-0 [name=hardness]", "3")
	p.Fill("#check-0-note", "smells still")
	p.Upload("#check-0-photo", photo)
	// Without a connection nothing is lost, the photo neither.
	p.Offline(true)
	p.Tap("#check-0 form button")
	p.WaitText("#line-state", "1 entry waits")
	p.Offline(false)
	p.WaitText("#cure-done", "smells still")
	p.WaitText("#cure-soft", "is not hard")
	l := s.trial().Cures
	if len(l) != 1 || l[0].Cured.Hardness != 3 || len(l[0].Photos()) != 1 {
		t.Fatalf("recorded %+v", l)
	}
	var seen bool
	p.Eval(`(async () => { const i = document.querySelector("#cure-done .photo"); i.loading = "eager"; await i.decode(); return i.naturalWidth > 0; })()`, &seen)
	if !seen {
		t.Error("the photo does not show")
	}
	p.Fill("#remark-text", "night at 12 °C")
	p.Tap("#remark form button")
	p.WaitText("#cure-remarks", "night at 12 °C")

	// What others write is shown as well.
	if _, err := b.Book.Add(t.Context(), record.Who{By: "Ana", Device: "tablet"}, s.id, record.CheckSubject(1), record.Cured{Adhesive: checks[1].Label, Hardness: 5, Note: "seen by Ana"}); err != nil {
		t.Fatal(err)
	}
	p.WaitText("#cure-done", "seen by Ana")
	for _, line := range p.Console() {
		if !strings.Contains(line, "422") && !strings.Contains(line, "ERR_INTERNET_DISCONNECTED") {
			t.Error(line)
		}
	}
}

func TestBrowserLookOfCure(t *testing.T) {
	b := frametest.New(t)
	s := &station{b, t, b.Benches(false), b.Serve(routes)}
	s.GlueAll(s.id)
	for i, hardness := range []string{"1", "2", "3"} {
		b.Clock.Add(time.Duration(2+3*i) * time.Hour)
		for _, name := range []string{"Tarn", "Fell"} {
			s.post(http.StatusOK, picture(t, 120), "about", "free", "adhesive", name, "hardness", hardness, "note", "the drop on the paper, "+strconv.Itoa(i))
		}
	}
	checks := s.trial().Checks()
	s.until(checks[0].At.Add(time.Minute))
	s.post(http.StatusOK, nil, "about", "check 0", "hardness", "3", "flexible", "4")
	s.post(http.StatusOK, picture(t, 80), "about", "remark", "text", "The shop was cold over night.")
	s.until(checks[1].At.Add(26 * time.Hour))
	browser := browsertest.Start(t)
	for _, look := range []struct {
		name   string
		screen browsertest.Screen
		dark   bool
	}{{"phone", browsertest.Phone, false}, {"tablet", browsertest.Tablet, true}, {"laptop", browsertest.Laptop, false}} {
		look.screen.Dark = look.dark
		p := browser.Page(look.screen)
		p.Open(s.site.URL + "/trials/" + s.id + "/cure")
		p.WaitFor("#cure-figure")
		for _, d := range p.Overflow() {
			t.Errorf("%s: %s", look.name, d)
		}
		for _, v := range p.Axe() {
			t.Errorf("%s: %s", look.name, v)
		}
		if dir := os.Getenv("BONDTRIAL_PICTURES"); dir != "" {
			p.Eval(`Promise.all([...document.querySelectorAll(".photo")].map((i) => { i.loading = "eager"; return i.decode(); })).then(() => true)`, nil)
			p.Screenshot(filepath.Join(dir, "cure "+look.name+".png"))
		}
	}
}
