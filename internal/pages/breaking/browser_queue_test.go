package breaking

import (
	"html"
	"slices"
	"strings"
	"testing"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/record"
)

// sentByItself lets the connection come back while the page stays: what was kept is
// sent, and nothing says any more that it is kept.
func sentByItself(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Phone)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	l.cut.Store(true)
	l.CloseClientConnections()
	p.Press("2140", "Enter", "Enter")
	p.WaitText("#break-kept-list", left[0].Code)
	p.WaitText("#break-told", "Kept on this device")
	l.cut.Store(false)
	waitBroken(t, b, id, 1)
	p.Gone("#break-kept")
	p.WaitText("#break-told", "Written: "+left[0].Code)
	p.WaitText("#break-count", "1 broken, 15 left")
	p.Gone("#line-state")
}

// askedOffline is asked by the page itself, in the words of the logbook, and what is said
// then needs no further question when it is sent.
func askedOffline(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "", record.Rig{Name: "Press", Unit: "N", Limit: 2200}); err != nil {
		t.Fatal(err)
	}
	b.GlueAll(id)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	logbook := post(t, s.URL+"/trials/"+id+"/break", "", "code", left[0].Code, "peak", "2140", "unit", "N")
	p := br.Page(browsertest.Phone)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	p.WaitText("#break-early", "Not cured yet: glued 0 min ago")
	l.cut.Store(true)
	l.CloseClientConnections()
	p.Press("2140", "Enter")
	for place, words := range map[string]string{"early": "It was not cured yet", "failure": "Nothing is said of the faces", "unloaded": "That is 97 %"} { // 2140 of 2200 N by hand
		p.WaitText(`[data-wrong="`+place+`"]`, words)
		wantWords(t, logbook, html.EscapeString(strings.TrimSuffix(p.Text(`[data-wrong="`+place+`"]`), "."))) // it asks in the same words
	}
	var top float64
	p.Eval(`document.querySelector("[data-wrong=early]").getBoundingClientRect().top`, &top)
	if top < 0 || top > 700 {
		t.Errorf("the first question stands at %v px, out of sight", top)
	}
	p.Tap(`.break-way:has([value=SF])`)
	p.Tap(`[data-share="0"]`)
	p.Tap("#break-unload input")
	p.Tap("#break-save")
	p.WaitText(`[data-wrong="woodshare"]`, "says the wood failed, the share says none did")
	p.Tap("#break-save")
	p.WaitText("#break-code", left[1].Code)
	l.cut.Store(false)
	waitBroken(t, b, id, 1)
	p.Gone("#line-state")
	if p.Has("#queue-refused") {
		t.Error("it was asked again when it was sent")
	}
}

func secondBreak(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Laptop)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	l.cut.Store(true)
	l.CloseClientConnections()
	p.Press("2140", "Enter", "Enter")
	p.WaitText("#break-code", left[1].Code)
	p.Press("2050", "Enter", "Enter")
	p.WaitText("#break-code", left[2].Code)
	// Meanwhile both are broken elsewhere.
	b.Break(id, left[0].Code, 1111, 10)
	b.Break(id, left[1].Code, 1222, 10)
	l.cut.Store(false)
	p.WaitText("#queue-refused", "2 entries are not written")
	p.WaitText("#queue-refused", "1111 N, 10 % wood, recorded by Ida")
	// They outlive the page.
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitText("#queue-refused", left[0].Code+": 2140 N")
	p.Eval(`window.confirm = () => true`, nil)
	var labels []string
	p.Eval(`Array.from(document.querySelectorAll("#queue-refused li:nth-child(1) button"), (b) => b.textContent)`, &labels)
	if want := []string{"Keep the one recorded, throw mine away", "Put mine in its place", "Mine is of another specimen"}; !slices.Equal(labels, want) {
		t.Errorf("the buttons are %q, want %q", labels, want)
	}
	p.Click(`#queue-refused li:nth-child(1) button:nth-child(2)`) // put mine in its place
	p.WaitText("#break-told", "Corrected: "+left[0].Code)
	p.WaitText("#queue-refused", "1 entry is not written")
	if got, _ := b.Trial(id).Specimen(left[0].Code); got.Broken.Peak != 2140 {
		t.Errorf("%v N is recorded, want the corrected 2140", got.Broken.Peak)
	}
	p.Click(`#queue-refused li:nth-child(1) button:nth-child(3)`) // another specimen
	p.WaitText("#peak", "2050")
	p.Fill("#choose", left[5].Code)
	p.Press("Enter")
	p.WaitText("#break-code", left[5].Code)
	p.Click("#break-save")
	p.WaitText("#break-not-saved", "Not saved yet")
	p.Click("#break-save")
	p.Gone("#queue-refused")
	waitBroken(t, b, id, 3)
	if got, _ := b.Trial(id).Specimen(left[5].Code); got.Broken == nil || got.Broken.Peak != 2050 {
		t.Errorf("%+v is recorded of the other specimen", got.Broken)
	}
	if got, _ := b.Trial(id).Specimen(left[1].Code); got.Broken.Peak != 1222 {
		t.Errorf("%v N is recorded, want 1222 left alone", got.Broken.Peak)
	}
}
