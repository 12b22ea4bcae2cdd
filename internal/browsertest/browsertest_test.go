package browsertest

import (
	"bytes"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// One browser serves all parts, as starting one takes longer than most of them.
func TestPages(t *testing.T) {
	browser := Start(t)
	shared := desk{laptop: browser.Page(Laptop), phone: browser.Page(Phone)}
	served := newBench(t)
	for _, part := range []struct {
		name string
		test func(*testing.T, desk, *bench)
	}{
		{"a form by pointer", formByPointer},
		{"a form by finger", formByFinger},
		{"keys are trusted", keysAreTrusted},
		{"waiting", waiting},
		{"a covered button", coveredButton},
		{"upload", upload},
		{"requests to others", requestsToOthers},
		{"console", console},
		{"offline", offline},
		{"cookies are apart", cookiesApart},
		{"screens", screens},
		{"pictures and paper", picturesAndPaper},
		{"failure", failure},
		{"barriers", barriers},
		{"a good layout", goodLayout},
		{"a bad layout", badLayout},
		{"overlaps", overlaps},
	} {
		t.Run(part.name, func(t *testing.T) {
			d := shared
			d.Browser = browser.For(t)
			part.test(t, d, served)
		})
	}
}

// desk is what a part of the test works with: two pages for all that do not mind what
// was on them before, and the browser for pages of its own.
type desk struct {
	*Browser
	laptop, phone *Page
}

// hurry makes a page give up soon, for the rest of the part.
func hurry(t *testing.T, p *Page) {
	before := p.Page.Patience
	p.Page.Patience = 100 * time.Millisecond
	t.Cleanup(func() { p.Page.Patience = before })
}

const form = `<main><h1>A break</h1><form method="post" action="/sent">
<label for="code">Specimen</label> <input id="code" name="code" value="A1">
<label for="wood">Wood</label> <select id="wood" name="wood"><option value="">choose</option><option value="beech">Beech</option><option value="oak">Oak</option></select>
<fieldset><legend>Way of failing</legend>
<label><input type="radio" name="failing" value="bond line"> bond line</label>
<label><input type="radio" name="failing" value="wood" class="unseen"> wood</label></fieldset>
<label for="day">Day</label> <input id="day" type="date" name="day">
<button id="done">Done</button></form></main>`

func fillForm(p *Page) {
	p.Fill("#code", "B7")
	p.Choose("#wood", "beech")
	p.Choose("[name=failing]", "wood")
	p.Fill("#day", "2026-03-01")
}

func formByPointer(t *testing.T, b desk, bench *bench) {
	p := b.laptop.For(t)
	p.Open(bench.page("form", form, ".unseen { position: absolute; opacity: 0 }", ""))
	if got := p.Status(); got != http.StatusOK {
		t.Errorf("status %d, want 200", got)
	}
	fillForm(p)
	if got, want := p.Text("#wood"), "Beech"; got != want {
		t.Errorf("the select shows %q, want %q", got, want)
	}
	p.Click("#done")
	// No waiting: a click waits for the document that it asks for.
	if got, want := p.Text("main p"), "B7 beech wood 2026-03-01"; got != want {
		t.Errorf("the form sent %q, want %q", got, want)
	}
	if got, want := p.URL(), bench.URL+"/sent"; got != want {
		t.Errorf("at %s, want %s", got, want)
	}
	p.Open(bench.URL + "/nowhere")
	if got := p.Status(); got != http.StatusNotFound {
		t.Errorf("status %d, want 404", got)
	}
}

func formByFinger(t *testing.T, b desk, bench *bench) {
	p := b.phone.For(t)
	p.Open(bench.page("touch", form+`<p id="said"></p>`, "form { margin-top: 1500px } .unseen { position: absolute; opacity: 0 }",
		`document.querySelector('#done').addEventListener('touchstart', (e) => sessionStorage.setItem('touch', String(e.isTrusted)));`))
	fillForm(p)
	p.Tap("#done")
	if got, want := p.Text("main p"), "B7 beech wood 2026-03-01"; got != want {
		t.Errorf("the form sent %q, want %q", got, want)
	}
	var touched string
	p.Eval("sessionStorage.getItem('touch')", &touched)
	if touched != "true" {
		t.Errorf("touchstart trusted: %q, want true", touched)
	}
	laptop := b.laptop.For(t)
	laptop.Open(bench.URL + "/touch")
	if err := laptop.Page.Tap("#done"); err == nil {
		t.Error("a laptop's screen was tapped without an error")
	}
}

func keysAreTrusted(t *testing.T, b desk, bench *bench) {
	p := b.laptop.For(t)
	p.Open(bench.page("keys", `<main><h1>Keys</h1><a href="/form">Back</a> <label>Reading <input name="reading"></label> <button>Done</button><p id="log"></p></main>`, "",
		`addEventListener('keydown', (e) => document.querySelector('#log').append((e.shiftKey && e.key.length > 1 ? 'Shift+' : '') + e.key + (e.isTrusted ? ' ' : '? ')));`))
	if got, want := p.Focused(), "the page"; got != want {
		t.Errorf("focused: %s, want %s", got, want)
	}
	p.Press("Tab", "Tab")
	if got, want := p.Focused(), "input[name=reading]"; got != want {
		t.Errorf("focused: %s, want %s", got, want)
	}
	p.Press("42.5", "Backspace", "Control+a", "17", "Tab")
	if got, want := p.Text("input"), "17"; got != want {
		t.Errorf("the field holds %q, want %q", got, want)
	}
	if got, want := p.Focused(), "button “Done”"; got != want {
		t.Errorf("focused: %s, want %s", got, want)
	}
	p.Press("Space", "Shift+Tab", "Shift+Tab")
	if got, want := p.Text("#log"), "Tab Tab 4 2 . 5 Backspace a 1 7 Tab Shift+Tab Shift+Tab"; strings.Join(strings.Fields(got), " ") != want {
		t.Errorf("keys %q, want %q", got, want)
	}
	p.Press("Enter")
	if got, want := p.URL(), bench.URL+"/form"; got != want {
		t.Errorf("Enter on the link leads to %s, want %s", got, want)
	}
	if err := p.Page.Press("Shift+Tabb"); err == nil {
		t.Error("Shift+Tabb is no key, and was pressed")
	}
}

func waiting(t *testing.T, b desk, bench *bench) {
	p := b.laptop.For(t)
	p.Open(bench.page("late", `<main><h1>Late</h1><button id="go">Go</button><p id="old">old</p></main>`, "", `
		document.querySelector('#go').addEventListener('click', () => setTimeout(() => {
			document.querySelector('#old').remove();
			const p = document.createElement('p');
			p.id = 'new';
			p.textContent = 'reading\n  12.5 N';
			document.querySelector('main').append(p);
		}, 60));`))
	if p.Has("#new") {
		t.Error("#new is there before the click")
	}
	p.Click("#go")
	p.WaitFor("#new")
	p.WaitText("p", "12.5 N")
	p.Gone("#old")
	if got, want := p.Text("#new"), "reading 12.5 N"; got != want {
		t.Errorf("text %q, want %q", got, want)
	}
}

func coveredButton(t *testing.T, b desk, bench *bench) {
	p := b.laptop.For(t)
	p.Open(bench.page("covered", `<main><h1>Covered</h1><button id="go">Go</button><button id="off" disabled>Off</button><div id="over"></div></main>`,
		"#over { position: fixed; inset: 0 }", ""))
	hurry(t, p)
	for selector, want := range map[string]string{
		"#go":      "#go cannot be pressed: it is covered by div#over",
		"#off":     "#off cannot be pressed: it is disabled",
		"#nowhere": "#nowhere cannot be pressed: there is none",
	} {
		if err := p.Page.Click(selector); err == nil || err.Error() != want {
			t.Errorf("clicking %s: %v, want %s", selector, err, want)
		}
	}
	if err := p.Page.Fill("h1", "x"); err == nil {
		t.Error("a heading was filled in")
	}
	if err := p.Page.WaitFor("p:::"); err == nil || !strings.Contains(err.Error(), "not a valid selector") {
		t.Errorf("a selector that is none: %v", err)
	}
}

func upload(t *testing.T, b desk, bench *bench) {
	p := b.phone.For(t)
	p.Open(bench.page("photo", `<main><h1>Photo</h1><form method="post" action="/sent" enctype="multipart/form-data"><label>Photo <input type="file" name="photo"></label> <button>Send</button></form></main>`, "", ""))
	file := filepath.Join(t.TempDir(), "face.png")
	if err := os.WriteFile(file, []byte("12345"), 0o600); err != nil {
		t.Fatal(err)
	}
	p.Upload("[name=photo]", file)
	p.Click("button")
	if got, want := p.Text("main p"), "face.png of 5 bytes"; got != want {
		t.Errorf("received %q, want %q", got, want)
	}
	if err := p.Page.Upload("[name=photo]", file+".gone"); err == nil {
		t.Error("a file that is not there was uploaded")
	}
}

func requestsToOthers(t *testing.T, b desk, bench *bench) {
	p := b.Page(Laptop)
	address := bench.page("others", `<main><h1>Others</h1><img alt="" src="http://pictures.example/a.png"><img alt="" src="data:image/gif;base64,R0lGODlhAQABAAAAACw="></main>`, "",
		`fetch('https://fetched.example/b').catch(() => {});`)
	p.Open(address)
	want := []string{address, address + ".css", address + ".js", "http://pictures.example/a.png"}
	slices.Sort(want)
	got := p.Requests()
	slices.Sort(got)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("requests (-want +got):\n%s", diff)
	}
	if said := strings.Join(p.Console(), "\n"); !strings.Contains(said, "https://fetched.example/b") {
		t.Errorf("the fetch that the policy forbids is not in the console:\n%s", said)
	}
	// Without a policy the request is sent, and no host but this machine is found.
	p.Open(bench.free("<main><h1>Free</h1></main>"))
	for _, host := range []string{"pictures.example", "192.0.2.1"} { // RFC 5737: 192.0.2.0/24 is for documentation
		var said string
		p.Eval("fetch('http://"+host+"/', { mode: 'no-cors' }).then(() => 'answered', () => 'nothing')", &said)
		if said != "nothing" || !slices.Contains(p.Requests(), "http://"+host+"/") {
			t.Errorf("%s: %s; requests %q", host, said, p.Requests())
		}
	}
	if said := strings.Join(p.Console(), "\n"); strings.Count(said, "ERR_NAME_NOT_RESOLVED") != 2 {
		t.Errorf("both hosts should have no address; console:\n%s", said)
	}
}

func console(t *testing.T, b desk, bench *bench) {
	p := b.Page(Laptop)
	p.Open(bench.page("fine", `<main><h1>Fine</h1></main>`, "", "console.log('not an error');"))
	if got := p.Console(); len(got) != 0 {
		t.Errorf("a page without a fault complains: %q", got)
	}
	p.Open(bench.page("wrong", `<main><h1>Wrong</h1><p style="color: red">styled</p><script>1</script></main>`, "",
		"console.error('of my own', 3); setTimeout(() => { throw new Error('thrown') }); fetch('/nowhere')"))
	p.Press("Tab") // lets the tasks above go by
	for start := time.Now(); len(p.Console()) < 5 && time.Since(start) < 5*time.Second; {
		p.Has("main")
	}
	all := strings.Join(p.Console(), "\n")
	for _, want := range []string{"of my own 3", "Error: thrown", "inline style", "inline script", "404"} {
		if !strings.Contains(all, want) {
			t.Errorf("the console does not say %q:\n%s", want, all)
		}
	}
}

func offline(t *testing.T, b desk, bench *bench) {
	p := b.Page(Phone)
	address := bench.page("line", `<main><h1>Line</h1></main>`, "", "")
	p.Open(address)
	state := func() string {
		var said string
		p.Eval("fetch('/line', { cache: 'no-store' }).then(() => 'answered', () => 'nothing').then((s) => s + ', ' + navigator.onLine)", &said)
		return said
	}
	for _, step := range []struct {
		off  bool
		want string
	}{{false, "answered, true"}, {true, "nothing, false"}, {false, "answered, true"}} {
		p.Offline(step.off)
		if got := state(); got != step.want {
			t.Errorf("offline %t: %s, want %s", step.off, got, step.want)
		}
	}
}

func cookiesApart(t *testing.T, b desk, bench *bench) {
	first, second := b.Page(Laptop), b.Page(Laptop)
	address := bench.page("cookie", `<main><h1>Cookie</h1></main>`, "", "")
	first.Open(address)
	second.Open(address)
	first.Eval("document.cookie = 'paired=yes'; localStorage.setItem('paired', 'yes')", nil)
	for _, c := range []struct {
		page *Page
		want string
	}{{first, "paired=yes yes"}, {second, " null"}} {
		var got string
		c.page.Eval("document.cookie + ' ' + localStorage.getItem('paired')", &got)
		if got != c.want {
			t.Errorf("cookie and storage %q, want %q", got, c.want)
		}
	}
}

func screens(t *testing.T, b desk, bench *bench) {
	address := bench.page("screen", `<main><h1>Screen</h1></main>`, "", "")
	dark := Phone
	dark.Dark = true
	var wait sync.WaitGroup
	for _, c := range []struct {
		screen Screen
		want   string
	}{
		{Phone, "390 844 2 coarse light"}, {dark, "390 844 2 coarse dark"}, {Tablet, "820 1180 2 coarse light"}, {Laptop, "1366 768 1 fine light"},
	} {
		p := b.Page(c.screen)
		wait.Go(func() { // several pages at once, as two people would
			if err := p.Page.Open(address); err != nil {
				t.Error(err)
				return
			}
			var got string
			err := p.Page.Eval(`[innerWidth, innerHeight, devicePixelRatio, matchMedia('(pointer: coarse)').matches ? 'coarse' : 'fine',
				matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'].join(' ')`, &got)
			if err != nil || got != c.want {
				t.Errorf("%+v: %q, %v, want %q", c.screen, got, err, c.want)
			}
		})
	}
	wait.Wait()
}

func picturesAndPaper(t *testing.T, b desk, bench *bench) {
	p := b.phone.For(t)
	p.Open(bench.page("long", `<main><h1>Long</h1></main>`, "body { margin: 0 } main { height: 2000px }", ""))
	dir := t.TempDir()
	p.Screenshot(filepath.Join(dir, "long.png"))
	f, err := os.Open(filepath.Join(dir, "long.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	size, err := png.DecodeConfig(f)
	if err != nil {
		t.Fatal(err)
	}
	// Two device pixels to a CSS pixel; an h1's margin, 0.67 em of 32 px, collapses
	// through main and lies above its 2000 px (HTML standard, 15.3.6).
	if size.Width != 2*390 || size.Height < 2*2000 || size.Height > 2*(2000+22) {
		t.Errorf("the picture is %d × %d, want 780 × about 4042", size.Width, size.Height)
	}
	p.PrintPDF(filepath.Join(dir, "long.pdf"))
	pdf, err := os.ReadFile(filepath.Join(dir, "long.pdf"))
	if err != nil || !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		t.Errorf("the PDF begins with %.8q, %v", pdf, err)
	}
}
