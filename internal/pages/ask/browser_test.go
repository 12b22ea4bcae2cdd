package ask_test

import (
	"strings"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/record"
)

// A trial is written with a finger on a phone: the shelf fills in, rows come and go,
// and lists of names follow.
func TestBrowserAsk(t *testing.T) {
	b := newBench(t)
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "Tarn", record.OnShelf{Family: "pva", Open: "8 min"}); err != nil {
		t.Fatal(err)
	}
	id := b.begin("Gates", "")
	url := b.Server.URL + "/trials/" + id + "/ask"
	browser := browsertest.Start(t)
	p := browser.Page(browsertest.Phone)
	p.Page.Patience = time.Minute // other tests may keep the machine busy
	p.Open(url)
	p.Fill("#f-adhesive-0-name", "Tarn")
	p.Press("Tab")
	var got string
	p.Eval(`document.getElementById("f-adhesive-0-family").value + " " + document.getElementById("f-adhesive-0-open").value`, &got)
	if got != "pva 8 min" {
		t.Errorf("the shelf fills in %q", got)
	}
	p.Choose("#f-adhesive-1-family", "polyurethane")
	p.Eval(`document.getElementById("f-adhesive-1-open-help").textContent`, &got)
	if want := "As in 10 min. Left alone: 10 min, usual for one-part polyurethane."; got != want { // trialfile's table of families
		t.Errorf("left alone says %q, want %q", got, want)
	}
	p.Tap("#add-adhesive")
	if f := p.Focused(); f == "the page" {
		t.Error("a new row does not have the keyboard")
	}
	p.Press("Beck")
	p.Tap(`[data-row="adhesive"][data-number="1"] [data-remove]`)
	p.Eval(`[...document.querySelectorAll('[data-rows="adhesive"] legend')].map((l) => l.textContent).join()`, &got)
	if got != "Adhesive 1,Adhesive 2" {
		t.Errorf("the rows are called %q", got)
	}
	p.Eval(`document.querySelectorAll("details").forEach((d) => (d.open = true))`, nil)
	p.Choose("#f-control", "Beck")
	p.Fill("#f-wood-0-name", "ash")
	p.Tap("#add-board")
	p.Choose(`[data-row="board"] select`, "ash")
	p.NoDefects("ask-typed-phone")
	p.Fill("#f-name", "Gates of the yard")
	p.Press("Enter") // sends the form: no button of a row is pressed
	p.WaitText("#ask-state", "Still to do for a plan")
	file := b.Trial(id).Asked.File
	for _, want := range []string{`name = "Gates of the yard"`, `control = "Beck"`, `open = "8 min"`, `wood = "ash"`} {
		if !strings.Contains(file, want) {
			t.Errorf("written is\n%s\nwithout %s", file, want)
		}
	}
	p.NoDefects("ask-missing-phone")
	p.Click(`a.ask-to[href="#f-specimen-joint"]`)
	if f := p.Focused(); !strings.Contains(f, "f-specimen-joint") {
		t.Errorf("the link leads to %s", f)
	}
	full := b.begin("Benches", benches())
	for _, s := range []struct {
		name   string
		screen browsertest.Screen
	}{{"tablet-dark", browsertest.Screen{Width: 820, Height: 1180, Phone: true, Dark: true}}, {"laptop", browsertest.Laptop}} {
		p := browser.Page(s.screen)
		p.Open(url[:len(url)-len(id+"/ask")] + full + "/ask")
		p.Eval(`document.querySelectorAll("details").forEach((d) => (d.open = true))`, nil)
		p.NoDefects("ask-full-" + s.name)
	}
}
