package breaking

import (
	"bytes"
	"image"
	"image/png"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// line is the way between a browser and the pages, which can fail.
type line struct {
	*httptest.Server
	cut  atomic.Bool // no request comes through
	lose atomic.Bool // requests come through, their answers do not
	// other is the status that somebody on the way answers with; 0: nobody does.
	other atomic.Int64
	lost  atomic.Int64
}

func newLine(t *testing.T, to string) *line {
	t.Helper()
	u, err := url.Parse(to)
	if err != nil {
		t.Fatal(err)
	}
	l := new(line)
	proxy := httputil.NewSingleHostReverseProxy(u)
	proxy.FlushInterval = -1
	proxy.ErrorLog = log.New(io.Discard, "", 0)
	l.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case l.cut.Load():
			panic(http.ErrAbortHandler)
		case l.lose.Load() && r.Method == http.MethodPost:
			proxy.ServeHTTP(httptest.NewRecorder(), r)
			l.lost.Add(1)
			panic(http.ErrAbortHandler)
		case l.other.Load() != 0 && r.Method == http.MethodPost:
			w.Header().Set("Content-Type", "text/html")
			w.WriteHeader(int(l.other.Load()))
			l.lost.Add(1)
			return
		}
		proxy.ServeHTTP(w, r)
	}))
	t.Cleanup(l.CloseClientConnections)
	t.Cleanup(l.Close)
	t.Cleanup(func() { l.cut.Store(true); l.CloseClientConnections() })
	return l
}

func TestBrowser(t *testing.T) {
	br := browsertest.Start(t)
	for _, part := range []struct {
		name string
		run  func(*testing.T, *browsertest.Browser)
	}{
		{"tapped on a phone", tapped}, {"keyboard alone", byKeyboard}, {"connection cut", cutOff}, {"sent by itself", sentByItself}, {"asked without a connection", askedOffline}, {"answer lost", answerLost},
		{"two devices", twoDevices}, {"second break", secondBreak}, {"chosen by code", chosen}, {"photo kept", photoKept}, {"somebody on the way", onTheWay}, {"no room", noRoom}, {"looks", looks},
	} {
		t.Run(part.name, func(t *testing.T) { part.run(t, br.For(t)) })
	}
}

func tapped(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Phone)
	p.Open(s.URL + "/trials/" + id + "/break")
	for _, key := range []string{"2", "1", "4", "1", "⌫", "0", ".", "5", "."} {
		p.Tap(`[data-pad="` + key + `"]`)
	}
	p.WaitText("#peak-said", "10.7 MPa nominal") // 2140.5 N over 200 mm²: 10.7025 MPa by hand
	p.Tap(`.break-way:has([value=CSF])`)
	p.Tap(`[data-share="75"]`)
	p.Tap(`[data-share="+5"]`)
	p.WaitText("#wood-said", "80 %")
	p.Tap("#break-save")
	p.WaitText("#break-code", left[1].Code)
	p.WaitText("#break-told", "Written: "+left[0].Code+": 2140.5 N, 80 % wood, CSF.")
	got, _ := b.Trial(id).Specimen(left[0].Code)
	if got.Broken == nil || got.Broken.Peak != 2140.5 || *got.Broken.WoodShare != 80 || got.Broken.Failure != "CSF" || got.Broken.Said.IsZero() {
		t.Fatalf("written: %+v", got.Broken)
	}
	if typed := p.Text("#peak"); typed != "" {
		t.Errorf("the value %q is still in the form", typed)
	}
	// Taken back, and it is next again.
	p.WaitText("#break-last", left[0].Code)
	p.Tap("#break-last [data-undo] button")
	p.WaitText("#break-count", "0 broken, 16 left")
	p.WaitText("#break-code", left[1].Code)
	p.WaitText("#break-next", left[0].Code)
	if errors := p.Console(); len(errors) > 0 {
		t.Errorf("console: %q", errors)
	}
}

func byKeyboard(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Laptop)
	p.Open(s.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	if at := p.Focused(); !strings.Contains(at, "peak") {
		t.Fatalf("%s has the keyboard, want the value", at)
	}
	p.Press("1", "9", "8", "0", "Enter")
	p.WaitText("#failure-wrong", "Nothing is said of the faces")
	if n := b.Trial(id).CountBroken(); n != 0 {
		t.Errorf("%d written before the answer", n)
	}
	p.Press("Enter")
	p.WaitText("#break-code", left[1].Code)
	p.Press("2", "0", "1", "0")
	for range 40 { // to the ways of failing
		p.Press("Tab")
		if strings.Contains(p.Focused(), "failure") {
			break
		}
	}
	p.Press("ArrowUp", "Tab") // the last drawing, then the share
	p.Press("Tab", "3", "0", "Enter")
	p.WaitText("#break-code", left[2].Code)
	first, _ := b.Trial(id).Specimen(left[0].Code)
	second, _ := b.Trial(id).Specimen(left[1].Code)
	if first.Broken == nil || first.Broken.Peak != 1980 || first.Broken.WoodShare != nil {
		t.Errorf("first: %+v", first.Broken)
	}
	if second.Broken == nil || second.Broken.Peak != 2010 || second.Broken.Failure != "DF" || second.Broken.WoodShare == nil || *second.Broken.WoodShare != 30 {
		t.Errorf("second: %+v", second.Broken)
	}
	// A digit goes to the value wherever the keyboard is; nothing typed is told.
	p.Click("#break-count")
	p.Press("7")
	p.WaitText("#peak-said", "0.04 MPa") // 7 N over 200 mm²: 0.035 MPa by hand
	p.Fill("#peak", "")
	p.Press("Enter")
	p.WaitText("#peak-wrong", "Type what the display showed")
}

// wantOnce fails unless each specimen was broken by exactly one entry, at its force.
func wantOnce(t *testing.T, b *frametest.Bench, id string, want map[string]float64) {
	t.Helper()
	got := make(map[string][]float64)
	for _, e := range breaks(b, id) {
		got[e.Subject] = append(got[e.Subject], e.Content.(record.Broken).Peak)
	}
	for code, peak := range want {
		if len(got[code]) != 1 || got[code][0] != peak {
			t.Errorf("%s has the entries %v, want one of %v N", code, got[code], peak)
		}
	}
	if len(got) != len(want) {
		t.Errorf("entries of %d specimens, want %d", len(got), len(want))
	}
}

func waitBroken(t *testing.T, b *frametest.Bench, id string, n int) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); b.Trial(id).CountBroken() != n; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%d broken, want %d", b.Trial(id).CountBroken(), n)
		}
	}
}

func cutOff(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Phone)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	want := make(map[string]float64)
	p.Press("2", "1") // in the middle of an entry
	l.cut.Store(true)
	l.CloseClientConnections()
	p.WaitText("#line-state", "No connection to the logbook")
	if typed := p.Text("#peak"); typed != "21" {
		t.Fatalf("%q is typed, want what was typed before the connection was cut", typed)
	}
	for i, rest := range []string{"40", "2050", "2060"} {
		p.Press(rest, "Enter", "Enter")
		p.WaitText("#break-code", left[i+1].Code)
		want[left[i].Code] = []float64{2140, 2050, 2060}[i]
	}
	p.WaitText("#line-state", "3 entries wait on this device")
	p.WaitText("#break-kept-list", left[2].Code+": 2060 N")
	if n := b.Trial(id).CountBroken(); n != 0 {
		t.Fatalf("%d written while the connection was cut", n)
	}
	// One that waits is taken back, and broken again.
	p.Tap("#break-kept-list li:nth-child(2) button")
	p.WaitText("#break-told", left[1].Code+" is taken back")
	// What waits outlives the page: another page of the same browser sends it.
	l.cut.Store(false)
	p.Open(l.URL + "/trials/" + id + "/break")
	waitBroken(t, b, id, 2)
	p.WaitText("#break-count", "2 broken, 14 left")
	p.Gone("#break-kept")
	p.Gone("#line-state")
	p.Click("#break-left-box summary")
	p.WaitText("#break-left", left[1].Code)
	wantOnce(t, b, id, want)
	if got, _ := b.Trial(id).Specimen(left[1].Code); got.Broken != nil {
		t.Error("what was taken back while it waited counts")
	}
	var stored int
	p.Eval(`Object.keys(localStorage).filter((k) => k.startsWith("bondtrial waiting") || k.startsWith("bondtrial refused")).length`, &stored)
	if stored != 0 {
		t.Errorf("%d entries are still kept", stored)
	}
}

func answerLost(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Laptop)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	l.lose.Store(true)
	p.Press("2140", "Enter", "Enter")
	p.WaitText("#break-code", left[1].Code)
	p.Press("2050", "Enter", "Enter")
	p.WaitText("#break-code", left[2].Code)
	p.WaitText("#line-state", "wait")
	waitBroken(t, b, id, 1) // written, though the browser cannot know
	l.lose.Store(false)
	waitBroken(t, b, id, 2)
	p.Gone("#line-state")
	if l.lost.Load() == 0 {
		t.Fatal("no answer was lost")
	}
	wantOnce(t, b, id, map[string]float64{left[0].Code: 2140, left[1].Code: 2050})
	if p.Has("#queue-refused") {
		t.Error("what was sent again was refused")
	}
}

func twoDevices(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	left := b.Trial(id).ToBreak()
	one, two := br.Page(browsertest.Phone), br.Page(browsertest.Tablet)
	for _, p := range []*browsertest.Page{one, two} {
		p.Open(s.URL + "/trials/" + id + "/break")
		p.WaitFor(".break-pad")
	}
	two.Eval(`document.cookie = "name=Bo"`, nil)
	time.Sleep(200 * time.Millisecond) // the streams are open
	two.Press("2140", "Enter", "Enter")
	two.WaitText("#break-code", left[1].Code)
	one.WaitText("#break-told", left[0].Code+" was broken by Bo on this machine just now: 2140 N")
	one.WaitText("#break-code", left[1].Code)
	one.WaitText("#break-recent", "2140 N")
	// With something typed the specimen stays where it is.
	one.Press("19")
	two.Press("2050", "Enter", "Enter")
	one.WaitText("#break-told", "What you typed is still here")
	if code := one.Text("#break-code"); code != left[1].Code {
		t.Errorf("%s is on the rig, want %s", code, left[1].Code)
	}
	if typed := one.Text("#peak"); typed != "19" {
		t.Errorf("%q is typed, want 19", typed)
	}
}

func chosen(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	tr := b.Trial(id)
	for _, sp := range tr.ToBreak()[:8] {
		b.Break(id, sp.Code, 2000, 0)
	}
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Laptop)
	p.Open(s.URL + "/trials/" + id + "/break")
	p.Fill("#choose", slip(left[4].Code, codes(tr)))
	p.Click("#break-choose button")
	p.WaitText("#break-stop", "It is "+left[4].Code)
	var open bool
	p.Eval(`!document.getElementById("break-form").hidden || !document.getElementById("break-rig").hidden`, &open)
	if open {
		t.Error("another specimen is on the rig while it is not settled which one is meant")
	}
	b.Break(id, left[7].Code, 2000, 0) // what others do puts nothing on the rig either
	p.WaitText("#break-count", "9 broken")
	p.Gone("#break-rig")
	p.Click("#break-stop a[data-code='" + left[4].Code + "']")
	p.WaitText("#break-code", left[4].Code)
	p.Gone("#break-stop")
	// Far from the others: asked about once, and kept when saved again.
	p.Fill("#peak", "20000")
	p.Click("#break-save")
	p.WaitText("#peak-wrong", "20,000 N is 10 times the middle of the other")
	if n := b.Trial(id).CountBroken(); n != 9 {
		t.Errorf("%d broken before the answer, want 9", n)
	}
	p.Click("#break-save")
	waitBroken(t, b, id, 10)
	p.WaitText("#break-code", left[0].Code)
	// More than any joint holds is not kept.
	p.Fill("#peak", "200000")
	p.Click("#break-save")
	p.WaitText("#peak-wrong", "no glued joint holds so much")
	// What is typed and not saved outlives a reload.
	p.Fill("#peak", "1999")
	p.Open(s.URL + "/trials/" + id + "/break")
	p.WaitText("#peak", "1999")
}

func photoKept(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 64, 48))); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "faces.png")
	if err := os.WriteFile(name, picture.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	p := br.Page(browsertest.Laptop)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	l.cut.Store(true)
	l.CloseClientConnections()
	p.Upload("#photo", name)
	p.Fill("#wood", "0")
	p.Fill("#peak", "2140")
	p.Click("#break-save")
	p.WaitText("#break-code", left[1].Code)
	p.WaitText("#line-state", "1 entry waits")
	l.cut.Store(false)
	p.Open(l.URL + "/trials/" + id + "/break")
	waitBroken(t, b, id, 1)
	got, _ := b.Trial(id).Specimen(left[0].Code)
	if len(got.Broken.Photos()) != 1 || got.Broken.Photos()[0].Name != "faces.png" {
		t.Errorf("files: %+v", got.Broken.Files)
	}
}

// onTheWay lets somebody else answer, as a network does that wants a password first: what
// is entered counts as written only where the logbook says so.
func onTheWay(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Laptop)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	for i, status := range []int64{http.StatusOK, http.StatusUnauthorized, http.StatusTooManyRequests, http.StatusRequestTimeout, http.StatusBadGateway} {
		before := l.lost.Load()
		l.other.Store(status)
		p.Press("2140", "Enter", "Enter")
		p.WaitText("#break-code", left[i+1].Code)
		p.WaitText("#line-state", "1 entry waits")
		l.other.Store(0)
		p.Eval(`dispatchEvent(new Event("online"))`, nil)
		waitBroken(t, b, id, i+1)
		p.Gone("#line-state")
		if l.lost.Load() == before {
			t.Fatalf("nobody answered with %d", status)
		}
	}
	if p.Has("#queue-refused") {
		t.Error("what somebody else answered was taken for a refusal")
	}
}

func noRoom(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	l := newLine(t, s.URL)
	left := b.Trial(id).ToBreak()
	p := br.Page(browsertest.Laptop)
	p.Open(l.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	p.Eval(`Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError") }`, nil)
	l.cut.Store(true)
	l.CloseClientConnections()
	p.Press("2140", "Enter", "Enter")
	p.WaitText("#break-code", left[1].Code)
	p.WaitText("#line-state", "no room left to keep it: leave this page open")
	l.cut.Store(false)
	p.Eval(`dispatchEvent(new Event("online"))`, nil)
	waitBroken(t, b, id, 1)
	p.Gone("#line-state")
}

func looks(t *testing.T, br *browsertest.Browser) {
	b, s, id := serve(t, false)
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "", record.Rig{Name: "Press", Unit: "N", Limit: 5000}); err != nil {
		t.Fatal(err)
	}
	b.GlueAll(id)
	for i, sp := range b.Trial(id).ToBreak()[:6] {
		b.Break(id, sp.Code, 1800+float64(i)*111, float64(i)*20)
	}
	at := s.URL + "/trials/" + id + "/break"
	seq := strconv.FormatInt(b.Trial(id).LastBroken().Broken.Seq, 10)
	dark := browsertest.Laptop
	dark.Dark = true
	for name, screen := range map[string]browsertest.Screen{"phone": browsertest.Phone, "tablet": browsertest.Tablet, "dark laptop": dark} {
		p := br.Page(screen)
		pages := map[string]string{"break": at, "entry": at + "/" + seq}
		if screen != browsertest.Phone {
			delete(pages, "entry") // its form is the bench's
		}
		for page, address := range pages {
			p.Open(address)
			p.WaitFor(".break-pad")
			p.Fill("#peak", "4120")
			p.WaitText("#peak-said", "82 % of the rig's rated maximum")
			for _, defect := range p.Overflow() {
				t.Errorf("%s on a %s: %s", page, name, defect)
			}
			for _, v := range p.Axe() {
				t.Errorf("%s on a %s: %s", page, name, v)
			}
			if keep := os.Getenv("BONDTRIAL_PICTURES"); keep != "" {
				p.Screenshot(filepath.Join(keep, page+"-"+name+".png"))
				p.PrintPDF(filepath.Join(keep, page+"-"+name+".pdf"))
			}
		}
		var small float64
		p.Open(at)
		p.WaitFor(".break-pad")
		p.Eval(`Math.min(...Array.from(document.querySelectorAll(".break-pad button"), (b) => Math.min(b.getBoundingClientRect().width, b.getBoundingClientRect().height)))`, &small)
		if small < 64 { // px, for gloves
			t.Errorf("a key of the pad measures %v px on a %s, want 64 at least", small, name)
		}
	}
}
