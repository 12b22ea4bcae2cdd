package glue_test

import (
	"os"
	"strings"
	"testing"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

func TestBrowserGlueUp(t *testing.T) {
	b := frametest.New(t)
	id := b.Benches(true)
	site := b.Serve(routes)
	browser := browsertest.Start(t)
	specimens := b.Trial(id).Specimens
	codes := make([]string, len(specimens))
	for i, s := range specimens {
		codes[i] = s.Code
	}

	p := browser.Page(browsertest.Phone)
	p.Open(site.URL + "/trials/" + id + "/glue")
	p.WaitText("#glue-code", codes[0])

	// The clock runs, and goes on when the page is loaded anew.
	p.Tap("#glue-on")
	p.WaitText("#glue-words", "open time left")
	p.Open(site.URL + "/trials/" + id + "/glue")
	p.WaitText("#glue-words", "open time left")
	p.Eval(`Object.keys(localStorage).filter((k) => k.startsWith("bondtrial glue")).forEach((k) => localStorage.setItem(k, Date.now() - 3600e3))`, nil)
	p.Open(site.URL + "/trials/" + id + "/glue")
	p.WaitText("#glue-warn", "The open time is over")
	p.Tap("#glue-done button")
	p.WaitText("#glue-code", codes[1])
	p.WaitText("#glue-sent", codes[0]+" under the clamp: in the logbook")
	p.WaitText("#glue-last", "open time was over")
	p.WaitText("#glue-progress", "1 of 16 glued")
	if g := b.Trial(id).Specimens[0].Glued; g == nil || !g.OverOpen || g.Spread.IsZero() || g.Clamped.Sub(g.Spread).Hours() < 1 {
		t.Fatalf("recorded %+v", g)
	}

	// Without a connection the work goes on; nothing is lost.
	p.Offline(true)
	p.Tap("#glue-done button")
	p.WaitText("#glue-code", codes[2])
	p.WaitText("#glue-sent", "kept on this device")
	p.Tap("#glue-spoiling summary")
	p.Tap("[name=why]")
	p.Tap("#glue-spoiled button")
	p.WaitText("#glue-code", codes[3])
	p.WaitText("#line-state", "2 entries wait")
	p.Offline(false)
	p.WaitText("#glue-progress", "2 of 16 glued, 1 spoiled")
	if s := b.Trial(id).Specimens[2]; s.Glued == nil || s.Glued.Spoiled == "" {
		t.Errorf("%s is recorded as %+v", s.Code, s.Glued)
	}

	// What is written down without a connection can be taken back without one.
	p.Eval(`(window.confirm = () => true)()`, nil)
	p.Offline(true)
	p.Tap("#glue-done button")
	p.WaitText("#glue-code", codes[4])
	p.WaitText("#glue-sent", codes[3]+" under the clamp: kept on this device")
	p.Tap("#glue-sent button")
	p.WaitText("#line-state", "2 entries wait")
	p.Offline(false)
	p.WaitText("#glue-next", codes[3])
	if s := b.Trial(id).Specimens[3]; s.Glued != nil {
		t.Errorf("%s is not taken back: %+v", s.Code, s.Glued)
	}

	// What another device writes down is not glued a second time.
	if _, err := b.Book.Add(t.Context(), record.Who{By: "Ana", Device: "tablet"}, id, codes[4], record.Glued{}); err != nil {
		t.Fatal(err)
	}
	p.WaitText("#glue-code", codes[3])
	p.WaitText("#glue-sent", "Ana on tablet has written "+codes[4]+" down")

	// Slips in the other forms are shown beside what was typed.
	p.Fill("#glue-temperature", "warm")
	p.Tap("[data-keep='temperature and humidity'] button")
	p.WaitText(".glue-said", "write a number of degrees")
	p.Fill("#glue-temperature", "21")
	p.Tap("[data-keep='temperature and humidity'] button")
	p.WaitText("#glue-air-last", "21 °C")

	// A form that was refused and the lines that were cut are told there; nothing else.
	for _, line := range p.Console() {
		if !strings.Contains(line, "422") && !strings.Contains(line, "ERR_INTERNET_DISCONNECTED") {
			t.Error(line)
		}
	}
}

func TestBrowserLookOfGlue(t *testing.T) {
	b := frametest.New(t)
	id := b.Benches(false)
	batches := planned(t, b)
	bare, err := b.Book.New(t.Context(), record.Who{}, record.Asked{Name: "Quick look"})
	if err != nil {
		t.Fatal(err)
	}
	humidity := 45.0
	for i, s := range b.Trial(id).Specimens[:9] {
		g := record.Glued{}
		if i == 4 {
			g.Spoiled = "faces slid out of place"
		}
		if _, err := b.Book.Add(t.Context(), record.Who{By: "Ida", Device: "phone 2"}, id, s.Code, g); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := b.Book.Add(t.Context(), record.Who{By: "Ida"}, id, "", record.Climate{Celsius: 9, Humidity: &humidity}); err != nil {
		t.Fatal(err)
	}
	site := b.Serve(routes)
	browser := browsertest.Start(t)
	for _, look := range []struct {
		name   string
		screen browsertest.Screen
		dark   bool
	}{{"phone", browsertest.Phone, false}, {"tablet", browsertest.Tablet, true}, {"laptop", browsertest.Laptop, false}} {
		look.screen.Dark = look.dark
		p := browser.Page(look.screen)
		check := func(what string) {
			t.Helper()
			for _, d := range p.Overflow() {
				t.Errorf("%s, %s: %s", look.name, what, d)
			}
			if look.name != "laptop" { // the barriers there are those of the tablet
				for _, v := range p.Axe() {
					t.Errorf("%s, %s: %s", look.name, what, v)
				}
			}
			keepPicture(t, p, "glue "+look.name+" "+what)
		}
		p.Open(site.URL + "/trials/" + id + "/glue")
		p.WaitFor("#glue-on")
		p.Click("#glue-on")
		p.WaitText("#glue-words", "left")
		p.Click("#glue-spoiling summary")
		p.Click("#glue-marking summary")
		check("running")
		p.Open(site.URL + "/trials/" + batches + "/glue")
		p.WaitFor("#glue-on")
		p.Eval(`localStorage.setItem("bondtrial glue `+batches+` A1", Date.now() - 260e3)`, nil)
		p.Open(site.URL + "/trials/" + batches + "/glue")
		p.WaitText("#glue-warn", "Join the faces now")
		check("soon over")
		p.Open(site.URL + "/trials/" + bare + "/glue")
		check("no plan")
	}
}

// keepPicture writes a picture of the page where the environment asks for them.
func keepPicture(t *testing.T, p *browsertest.Page, name string) {
	t.Helper()
	if dir := pictures(); dir != "" {
		p.Screenshot(dir + "/" + name + ".png")
	}
}

// pictures is the folder for pictures of pages; empty: none are wanted.
func pictures() string { return os.Getenv("BONDTRIAL_PICTURES") }
