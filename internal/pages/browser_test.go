package pages_test

import (
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/pages"
)

// What people do in a browser over the whole of the pages.
func TestBrowser(t *testing.T) {
	b := browsertest.Start(t)
	for _, c := range []struct {
		name string
		test func(*testing.T, *browsertest.Browser)
	}{
		{"a blind trial by tapping", func(t *testing.T, b *browsertest.Browser) {
			wholeTrial(t, finger{t, b.Page(browsertest.Phone)}, true)
		}},
		{"a trial by keyboard", func(t *testing.T, b *browsertest.Browser) {
			wholeTrial(t, keyboard{t, b.Page(browsertest.Laptop)}, false)
		}},
		{"the program ends meanwhile", programEnds},
		{"two at the rig", twoAtTheRig},
		{"a paired phone", pairedPhone},
		{"every page", everyPage},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, b.For(t)) })
	}
}

// tick lets the clock of the pages run with the machine's, from which browsers have
// theirs.
func (h *house) tick() {
	h.clock.set(time.Now())
	ended := make(chan struct{})
	go func() {
		for {
			select {
			case <-ended:
				return
			case <-time.After(5 * time.Millisecond):
				h.clock.set(time.Now())
			}
		}
	}()
	h.t.Cleanup(func() { close(ended) })
}

// breakOf puts a reading into the form at Break and saves it.
func breakOf(p *browsertest.Page, code, peak string) {
	p.WaitText("#break-code", code)
	p.Choose("#unit", "MPa")
	p.Fill("#peak", peak)
	p.Choose("[name=failure]", "CF")
	p.Click("#break-save")
}

// A break that is entered while the program is not there is kept, and written once when
// it is back.
func programEnds(t *testing.T, b *browsertest.Browser) {
	h := newHouse(t)
	h.tick()
	trial := h.trial(6)
	p := b.Page(browsertest.Tablet)
	p.Open(h.address + trial + "/break")
	breakOf(p, "100", "6.5")
	p.WaitText("#break-count", "1 broken, 5 left")
	h.close()
	breakOf(p, "101", "5.75")
	p.WaitText("#break-kept", "101: 5.75 MPa")
	breakOf(p, "102", "7.25")
	p.WaitText("#break-kept", "102: 7.25 MPa")
	p.WaitText("#line-state", "2 entries wait")
	h.open()
	p.WaitText("#break-count", "3 broken, 3 left")
	p.Gone("#break-kept")
	p.Gone("#line-state")
	// It goes on from there, and nothing is sent again.
	breakOf(p, "103", "6.25")
	p.WaitText("#break-count", "4 broken, 2 left")
	tr := h.trialNow(strings.TrimPrefix(trial, "/trials/"))
	for code, want := range map[string]float64{"100": 6.5, "101": 5.75, "102": 7.25, "103": 6.25} {
		s, _ := tr.Specimen(code)
		n := 0
		for _, e := range tr.Entries {
			if e.Subject == code && e.Kind == "broken" {
				n++
			}
		}
		if s.Broken == nil || s.Broken.Peak != want || n != 1 {
			t.Errorf("%s: %d breaks, %+v, want one of %v MPa", code, n, s.Broken, want)
		}
	}
	calm(t, p, h.address, "ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING", "ERR_CONNECTION_RESET", "ERR_EMPTY_RESPONSE")
	h.whole()
}

// Two browsers at one trial: each sees what the other enters, and a second break of a
// specimen is refused with what is recorded.
func twoAtTheRig(t *testing.T, b *browsertest.Browser) {
	h := newHouse(t)
	h.tick()
	trial := h.trial(12)
	var devices []*browsertest.Page
	for _, d := range []struct {
		name   string
		screen browsertest.Screen
	}{{"Ana", browsertest.Laptop}, {"Ben", browsertest.Phone}} {
		p := b.Page(d.screen)
		p.Open(h.address + "/logbook")
		p.Fill("#you-name", d.name)
		p.Click("#you form button")
		p.WaitText(".writer", d.name+" writes")
		p.Open(h.address + trial + "/break")
		p.WaitFor(".break-pad")
		devices = append(devices, p)
	}
	ana, ben := devices[0], devices[1]
	var took []time.Duration
	for n := range 5 {
		writer, reader := devices[n%2], devices[1-n%2]
		breakOf(writer, fmt.Sprint(100+n), "6.5")
		began := time.Now()
		reader.WaitText("#break-recent", fmt.Sprint(100+n))
		took = append(took, time.Since(began))
		reader.WaitText("#break-code", fmt.Sprint(101+n))
	}
	slices.Sort(took)
	t.Logf("from saving on one page to seeing it on another, 5 entries: median %v, longest %v", took[2], took[4])
	if took[2] > time.Second {
		t.Errorf("the half of the entries took more than %v to the other page, want a second at most", took[2])
	}
	ben.Offline(true)
	breakOf(ben, "105", "6.75")
	ben.WaitText("#break-kept", "105: 6.75 MPa")
	breakOf(ana, "105", "7")
	ana.WaitText("#break-count", "6 broken")
	ben.Offline(false)
	ben.WaitText("#queue-refused", "105: 6.75 MPa")
	ben.WaitText("#queue-refused", "7 MPa")
	ben.WaitText("#queue-refused", "recorded by Ana")
	s, _ := h.trialNow(strings.TrimPrefix(trial, "/trials/")).Specimen("105")
	if s.Broken == nil || s.Broken.Peak != 7 || s.Broken.By != "Ana" || s.Broken.First != s.Broken.Seq {
		t.Errorf("105: %+v, want the 7 MPa of Ana", s.Broken)
	}
	calm(t, ana, h.address)
	calm(t, ben, h.address, "ERR_INTERNET_DISCONNECTED", "with a status of 409")
}

// away is a listener whose connections come from another device while that is set.
type away struct {
	net.Listener
	now atomic.Bool
}

func (l *away) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err != nil || !l.now.Load() {
		return c, err
	}
	return device20{c}, nil
}

type device20 struct{ net.Conn }

func (device20) RemoteAddr() net.Addr {
	return &net.TCPAddr{IP: net.IPv4(192, 168, 1, 20), Port: 50000}
}

// shared serves a house's logbook to the local network as well. The browser reaches no
// other machine, and this one need not be on a network, so a device's connections are
// made on this machine and only said to come from elsewhere.
func shared(t *testing.T, h *house) (l *away, address string) {
	t.Helper()
	inner, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l = &away{Listener: inner}
	port := inner.Addr().(*net.TCPAddr).Port
	site, err := pages.New(pages.Config{Book: h.book, Clock: h.clock.Now, Random: rand.NewChaCha8([32]byte{8}), Log: slog.New(slog.DiscardHandler),
		Version: "(test)", Port: port, Share: true, Addresses: func() ([]string, error) { return []string{"192.168.1.10"}, nil }})
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{Handler: site}
	go server.Serve(l)
	t.Cleanup(func() {
		site.Close()
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		defer cancel()
		if err := server.Shutdown(ctx); err != nil {
			t.Error(err)
		}
	})
	return l, fmt.Sprintf("http://127.0.0.1:%d", port)
}

// A phone of the local network comes in with the code that the machine shows.
func pairedPhone(t *testing.T, b *browsertest.Browser) {
	h := newHouse(t)
	h.tick()
	trial := h.trial(4)
	l, address := shared(t, h)
	machine := b.Page(browsertest.Laptop)
	machine.Open(address + "/logbook")
	machine.Click("form[action='/logbook/code'] button")
	code := machine.Text(".beside-code")
	machine.WaitText("main", fmt.Sprintf("http://192.168.1.10:%s", address[strings.LastIndex(address, ":")+1:]))
	if !machine.Has("img.beside-qr") {
		t.Error("there is no QR code")
	}
	looks(t, "the code", machine)
	calm(t, machine, address)

	l.now.Store(true)
	p := b.Page(browsertest.Phone)
	p.Open(address + trial + "/break")
	p.WaitText("h1", "Pair this device")
	if p.Has("nav") {
		t.Error("a device that is not let in is shown more than how to come in")
	}
	looks(t, "pairing", p)
	by := finger{t, p}
	by.write("#code", "00000000")
	by.press("button.main")
	p.WaitText(".wrong", "code")
	by.write("#code", code)
	by.write("#name", "phone at the rig")
	by.press("button.main")
	p.WaitText("#break-code", "100")
	looks(t, "Break on a paired phone", p)
	by.choose("#unit", "MPa")
	by.digits("#peak", "6.5")
	by.choose("[name=failure]", "CF")
	by.press("#break-save")
	p.WaitText("#break-last", "100: 6.5 MPa")
	p.WaitText("#break-last", "phone at the rig")
	if s, _ := h.trialNow(strings.TrimPrefix(trial, "/trials/")).Specimen("100"); s.Broken == nil || s.Broken.Peak != 6.5 || s.Broken.Device != "phone at the rig" {
		t.Errorf("100: %+v", s.Broken)
	}
	calm(t, p, address, "with a status of 40") // which the browser says of the wrong code
}
