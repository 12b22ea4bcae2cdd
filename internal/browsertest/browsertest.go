// Package browsertest lets a test use pages as a person does: in a real browser, on a
// phone, a tablet and a laptop, with fingers, pointer and keys. Whatever cannot be
// done ends the test with the page's address, its text and a picture of it. Only
// tests may import it; it is a thin helper over package chrome.
package browsertest

import (
	_ "embed"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bondtrial/internal/browsertest/chrome"
)

// axe is axe-core: see testdata/README.md.
//
//go:embed testdata/axe.min.js
var axe string

// Screen is what a page is looked at on: see chrome.Screen.
type Screen = chrome.Screen

// The screens that pages are made for.
var (
	Phone  = chrome.Phone
	Tablet = chrome.Tablet
	Laptop = chrome.Laptop
)

// Browser is a running Chromium that belongs to one test.
type Browser struct {
	t       testing.TB
	browser *chrome.Browser
}

// Start starts a Chromium with an empty profile that reaches only this machine, and
// closes it when the test ends. Without a Chromium the test fails and says what to
// install. Starting takes a second or more: share one among the parts of a test.
func Start(t testing.TB) *Browser {
	t.Helper()
	b, err := chrome.Start()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return &Browser{t: t, browser: b}
}

// Page opens an empty page that shares no cookie and no storage with others. Its
// methods wait for what they need, and end the test if it does not come.
func (b *Browser) Page(s Screen) *Page {
	b.t.Helper()
	p, err := b.browser.Page(s)
	if err != nil {
		b.t.Fatal(err)
	}
	b.t.Cleanup(p.Close)
	return &Page{Page: p, t: b.t}
}

// For returns the same browser for a part of the test: failures end that part, and its
// pages are closed with it.
func (b *Browser) For(t testing.TB) *Browser { return &Browser{t: t, browser: b.browser} }

// Page is a page whose failures end the test. What it does is in Page.Page, whose
// Patience is how long a method waits.
type Page struct {
	Page *chrome.Page
	t    testing.TB
}

// For returns the same page for a part of the test: failures end that part.
func (p *Page) For(t testing.TB) *Page { return &Page{Page: p.Page, t: t} }

// must ends the test if there is an error, with what a person needs to see.
func (p *Page) must(err error) {
	p.t.Helper()
	if err == nil {
		return
	}
	url, _ := p.Page.URL()
	picture := filepath.Join(os.TempDir(), "bondtrial-failed-"+strings.Map(plain, p.t.Name())+".png")
	if failed := p.Page.Screenshot(picture); failed != nil {
		picture = failed.Error()
	}
	var text string
	_ = p.Page.Eval("document.body.innerText", &text)
	p.t.Fatalf("%v\non %s (%+v, status %d)\npicture: %s\nconsole: %s\ntext of the page:\n%s",
		err, url, p.Page.Screen(), p.Page.Status(), picture, strings.Join(p.Page.Console(), "\n         "), text)
}

// plain keeps what every system allows in the name of a file.
func plain(r rune) rune {
	if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' {
		return r
	}
	return '-'
}

// get returns a value that was got without an error.
func get[T any](p *Page, value T, err error) T {
	p.t.Helper()
	p.must(err)
	return value
}

// Open goes to the URL and waits until the page is loaded. A status of 404 or 500 does
// not end the test: see Status.
func (p *Page) Open(url string) { p.t.Helper(); p.must(p.Page.Open(url)) }

// Status returns the HTTP status of the document that was last received; 0: none yet.
func (p *Page) Status() int { return p.Page.Status() }

// URL returns the page's address.
func (p *Page) URL() string {
	p.t.Helper()
	url, err := p.Page.URL()
	return get(p, url, err)
}

// Text waits for an element of the selector and returns what a reader sees of the
// first, with one blank for any white space; of a field, its value.
func (p *Page) Text(selector string) string {
	p.t.Helper()
	text, err := p.Page.Text(selector)
	return get(p, text, err)
}

// Has reports whether the selector has an element now.
func (p *Page) Has(selector string) bool {
	p.t.Helper()
	has, err := p.Page.Has(selector)
	return get(p, has, err)
}

// WaitFor waits until the first element of the selector is there and visible.
func (p *Page) WaitFor(selector string) { p.t.Helper(); p.must(p.Page.WaitFor(selector)) }

// WaitText waits until an element of the selector contains the text.
func (p *Page) WaitText(selector, substring string) {
	p.t.Helper()
	p.must(p.Page.WaitText(selector, substring))
}

// Gone waits until no element of the selector is visible.
func (p *Page) Gone(selector string) { p.t.Helper(); p.must(p.Page.Gone(selector)) }

// Fill puts text into a field in place of what it holds.
func (p *Page) Fill(selector, text string) { p.t.Helper(); p.must(p.Page.Fill(selector, text)) }

// Choose picks the option, radio button or tick box that has the value.
func (p *Page) Choose(selector, value string) { p.t.Helper(); p.must(p.Page.Choose(selector, value)) }

// Click presses an element with the pointer, and waits for the next document if there
// is one. What a script changes later is to be waited for: see WaitText.
func (p *Page) Click(selector string) { p.t.Helper(); p.must(p.Page.Click(selector)) }

// Tap touches an element with a finger; like Click otherwise.
func (p *Page) Tap(selector string) { p.t.Helper(); p.must(p.Page.Tap(selector)) }

// Press presses keys one after another: names such as Tab, Shift+Tab, Enter, Escape or
// ArrowDown, or text that is typed. See chrome.Page.Press for all.
func (p *Page) Press(keys ...string) { p.t.Helper(); p.must(p.Page.Press(keys...)) }

// Focused describes the element that has the keyboard, as in `button#done “Done”`;
// "the page" if none has it.
func (p *Page) Focused() string {
	p.t.Helper()
	what, err := p.Page.Focused()
	return get(p, what, err)
}

// Upload hands files to a file field.
func (p *Page) Upload(selector string, files ...string) {
	p.t.Helper()
	p.must(p.Page.Upload(selector, files...))
}

// Eval evaluates a JavaScript expression, waits for it if it is a promise, and decodes
// its JSON into out, unless out is nil.
func (p *Page) Eval(js string, out any) { p.t.Helper(); p.must(p.Page.Eval(js, out)) }

// Screenshot writes a PNG of the whole page.
func (p *Page) Screenshot(path string) { p.t.Helper(); p.must(p.Page.Screenshot(path)) }

// PrintPDF writes what a printer would get.
func (p *Page) PrintPDF(path string) { p.t.Helper(); p.must(p.Page.PrintPDF(path)) }

// Offline cuts the page off from the network, or connects it again.
func (p *Page) Offline(off bool) { p.t.Helper(); p.must(p.Page.Offline(off)) }

// Requests returns every URL that the page asked for so far.
func (p *Page) Requests() []string { return p.Page.Requests() }

// Console returns the errors and breaches of the security policy so far.
func (p *Page) Console() []string { return p.Page.Console() }

// Overflow returns the defects of the layout, none for a good page: see
// chrome.Page.Overflow.
func (p *Page) Overflow() []string {
	p.t.Helper()
	defects, err := p.Page.Overflow()
	return get(p, defects, err)
}

// Violation is a barrier of impact serious or critical: the rule of axe-core that it
// breaks, what the rule asks for, and the HTML of the elements at fault.
type Violation struct {
	Rule, Impact, Help string
	Nodes              []string
}

// String writes the violation in a few lines.
func (v Violation) String() string {
	return fmt.Sprintf("%s (%s): %s\n\t%s", v.Rule, v.Impact, v.Help, strings.Join(v.Nodes, "\n\t"))
}

// Axe runs axe-core on the page, the rule on the size of targets included, and returns
// the violations of impact serious or critical. It works on pages whose security
// policy allows no such script, as it comes from the debugger.
func (p *Page) Axe() []Violation {
	p.t.Helper()
	var there bool
	p.Eval("typeof window.axe === 'object'", &there)
	if !there {
		p.Eval(axe+"\n;true", nil)
	}
	var found []Violation
	p.Eval(`axe.run({
		resultTypes: ['violations'],
		rules: { 'target-size': { enabled: true } },
	}).then((result) => result.violations
		.filter((v) => v.impact === 'serious' || v.impact === 'critical')
		.map((v) => ({ rule: v.id, impact: v.impact, help: v.help, nodes: v.nodes.map((n) => n.html) })))`, &found)
	return found
}

// NoDefects fails the test where the page has barriers of impact serious or critical,
// defects of its layout, or complaints in the console. name says in the messages what
// is looked at; where BONDTRIAL_LOOK names a folder a picture is kept there under it.
func (p *Page) NoDefects(name string) {
	p.t.Helper()
	if dir := os.Getenv("BONDTRIAL_LOOK"); dir != "" {
		p.Screenshot(filepath.Join(dir, name+".png"))
	}
	for _, v := range p.Axe() {
		p.t.Errorf("%s: %v", name, v)
	}
	for _, o := range p.Overflow() {
		p.t.Errorf("%s: %s", name, o)
	}
	for _, c := range p.Console() {
		p.t.Errorf("%s: console: %s", name, c)
	}
}
