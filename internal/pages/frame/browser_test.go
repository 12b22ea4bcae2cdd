package frame_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"testing/fstest"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
)

var livePage = fstest.MapFS{"page.html": {Data: []byte(`{{define "main"}}<h1>Live</h1><p id="count" data-live>{{.Data}} entries</p>
<div id="form" data-live><label for="f">Remark</label><input id="f" value=""><span id="inside">{{.Data}}</span></div>{{end}}`)}}

// A page shows what others write, catches up when its stream was cut or it was out
// of sight, hears of each entry once, and leaves what somebody types alone until
// they are done.
func TestBrowserFollow(t *testing.T) {
	page := frame.Page(livePage, "page.html")
	b := frametest.New(t)
	id := b.Benches(false)
	s := b.Serve(map[string]frame.Handler{"GET /trials/{trial}": func(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
		tr, err := d.Trial(r)
		if err != nil {
			return err
		}
		v := d.View(r, tr, "ask")
		v.Data = len(tr.Entries)
		return d.Show(w, r, page, v)
	}})
	n := len(b.Trial(id).Entries)
	entry := func() { t.Helper(); climate(t, b, id); n++ }
	shown := func(p *browsertest.Page) { t.Helper(); p.WaitText("#count", fmt.Sprint(n, " entries")) }

	p := browsertest.Start(t).Page(browsertest.Phone)
	p.Open(s.URL + "/trials/" + id)
	p.Eval(`window.heard = []; document.addEventListener("entry", (e) => heard.push(e.detail.seq)); 0`, nil)
	entry()
	shown(p)

	s.CloseClientConnections()
	entry()
	shown(p)
	p.Gone("#line-state:not([hidden])")

	// Out of sight: no stream is held, and what was written is caught up with.
	hide := func(hidden bool) {
		p.Eval(fmt.Sprintf(`Object.defineProperty(document, "hidden", {configurable: true, get: () => %t}); document.dispatchEvent(new Event("visibilitychange")); 0`, hidden), nil)
	}
	hide(true)
	entry()
	entry()
	hide(false)
	shown(p)

	// Somebody types: their part stays as it is until they leave it.
	p.Fill("#f", "half a wor")
	p.Eval(`document.getElementById("f").focus(); 0`, nil)
	before := p.Text("#inside")
	entry()
	shown(p)
	var typed string
	p.Eval(`document.getElementById("f").value`, &typed)
	if typed != "half a wor" || p.Text("#inside") != before {
		t.Errorf("what was being typed is %q now, beside %s", typed, p.Text("#inside"))
	}
	p.Eval(`document.activeElement.blur(); 0`, nil)
	p.WaitText("#inside", fmt.Sprint(n))

	var heard []int64
	p.Eval(`heard`, &heard)
	last := b.Book.Last()
	if len(heard) != 5 || heard[0] != last-4 || heard[4] != last {
		t.Errorf("heard of entries %v, want the five up to %d, each once", heard, last)
	}
	for _, line := range p.Console() {
		if !strings.Contains(line, "ERR_") { // that the connection was cut is said there
			t.Errorf("the page complains: %s", line)
		}
	}
}
