package guard

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// screen draws what a terminal shows of half blocks, so many pixels a module.
func screen(t *testing.T, text string, scale int) image.Image {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	var rows [][]rune
	for _, l := range lines {
		inner, ok := strings.CutPrefix(l, "\x1b[38;5;16;48;5;231m")
		inner, ok2 := strings.CutSuffix(inner, "\x1b[0m")
		if !ok || !ok2 {
			t.Fatalf("the line %q does not set and unset its colours", l)
		}
		rows = append(rows, []rune(inner))
	}
	m := image.NewGray(image.Rect(0, 0, len(rows[0])*scale, 2*len(rows)*scale))
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			line, column := y/(2*scale), x/scale
			if len(rows[line]) != len(rows[0]) {
				t.Fatalf("line %d has %d characters, the first %d", line+1, len(rows[line]), len(rows[0]))
			}
			black := false
			switch rows[line][column] {
			case '█':
				black = true
			case '▀':
				black = y/scale%2 == 0
			case '▄':
				black = y/scale%2 == 1
			case ' ':
			default:
				t.Fatalf("the character %q", rows[line][column])
			}
			if !black {
				m.SetGray(x, y, color.Gray{255})
			}
		}
	}
	return m
}

// readQR reads the QR code of a picture with the program zbarimg, of Debian's
// package zbar-tools.
func readQR(t *testing.T, picture []byte) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "code.png")
	if err := os.WriteFile(name, picture, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("zbarimg", "-q", "--nodbus", "--raw", "-Sdisable", "-Sqrcode.enable", name).Output()
	if err != nil {
		t.Fatalf("zbarimg, of Debian's package zbar-tools: %v", err)
	}
	return strings.TrimSuffix(string(out), "\n")
}

func TestQRIsRead(t *testing.T) {
	text := PairURL("192.168.178.101", port, Code{Digits: "01234567"})
	var b bytes.Buffer
	if err := QR(&b, text, true); err != nil {
		t.Fatal(err)
	}
	m := screen(t, b.String(), 5)
	// 50 bytes need 29 modules, version 3 at the lowest level (ISO/IEC 18004, from memory, unconfirmed), and 8 of border.
	if m.Bounds().Dx() != 37*5 {
		t.Errorf("%d modules wide", m.Bounds().Dx()/5)
	}
	for i := range 37 * 5 { // the border, all round
		for j := range quiet * 5 {
			for _, p := range []image.Point{{i, j}, {j, i}, {i, 37*5 - 1 - j}, {37*5 - 1 - j, i}} {
				if m.At(p.X, p.Y) != (color.Gray{255}) {
					t.Fatalf("the border is not white at %v", p)
				}
			}
		}
	}
	var shot bytes.Buffer
	if err := png.Encode(&shot, m); err != nil {
		t.Fatal(err)
	}
	if got := readQR(t, shot.Bytes()); got != text {
		t.Errorf("the terminal's reads %q", got)
	}
	picture, err := QRPicture(text)
	if err != nil {
		t.Fatal(err)
	}
	if got := readQR(t, picture); got != text {
		t.Errorf("the picture reads %q", got)
	}
}

func TestQRWithoutBlocksIsTheText(t *testing.T) {
	var b bytes.Buffer
	if err := QR(&b, "http://bench.local:8321/", false); err != nil || b.String() != "http://bench.local:8321/\n" {
		t.Errorf("%q, %v", b.String(), err)
	}
	for text, want := range map[string]string{"": "no text", "ä": "does not go into", "a\nb": "does not go into", strings.Repeat("a", 3000): "too long"} {
		b.Reset()
		if err := QR(&b, text, true); err == nil || !strings.Contains(err.Error(), want) || b.Len() > 0 {
			t.Errorf("%.10q: error %v, %d bytes written", text, err, b.Len())
		}
		if _, err := QRPicture(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.10q: error %v", text, err)
		}
	}
}

func TestLocalAddresses(t *testing.T) {
	addrs := func(list ...string) (out []netip.Addr) {
		for _, s := range list {
			out = append(out, netip.MustParseAddr(s))
		}
		return out
	}
	const up = net.FlagUp | net.FlagBroadcast
	interfaces := []Interface{
		{"lo", net.FlagUp | net.FlagLoopback, addrs("127.0.0.1", "::1", "10.9.9.9")},
		{"docker0", up, addrs("172.17.0.1")},
		{"eth0", up, addrs("169.254.3.4", "fe80::1%eth0", "fd00::7", "10.0.0.5", "203.0.113.9")},
		{"wlan0", up, addrs("192.168.7.20", "2001:db8::1")},
		{"eth1", net.FlagBroadcast, addrs("192.168.9.9")},
		{"tunnel", net.FlagUp | net.FlagPointToPoint, addrs("10.8.0.2")},
	}
	show := func(list []Address) (out []string) {
		for _, a := range list {
			out = append(out, a.IP.String()+" "+a.Interface)
		}
		return out
	}
	want := []string{"192.168.7.20 wlan0", "10.0.0.5 eth0", "fd00::7 eth0", "172.17.0.1 docker0", "10.8.0.2 tunnel", "169.254.3.4 eth0"}
	if d := cmp.Diff(want, show(LocalAddresses(interfaces, netip.MustParseAddr("192.168.7.20")))); d != "" {
		t.Error(d)
	}
	// Without a way out the order of the system stands; a tunnel is not where phones are.
	want[0], want[1] = want[1], want[0]
	for _, outbound := range []netip.Addr{{}, netip.MustParseAddr("10.8.0.2")} {
		if d := cmp.Diff(want, show(LocalAddresses(interfaces, outbound))); d != "" {
			t.Error(d)
		}
	}
}

func TestInterfacesOfThisMachine(t *testing.T) {
	interfaces, outbound, err := Interfaces()
	if err != nil {
		t.Fatal(err)
	}
	loopback := false
	for _, i := range interfaces {
		for _, a := range i.Addrs {
			loopback = loopback || a.IsLoopback()
		}
	}
	if !loopback {
		t.Errorf("no loopback address among %v", interfaces)
	}
	for _, a := range LocalAddresses(interfaces, outbound) {
		if a.IP.IsLoopback() || !a.IP.IsPrivate() && !a.IP.IsLinkLocalUnicast() {
			t.Errorf("%v is not of a local network", a)
		}
	}
}
