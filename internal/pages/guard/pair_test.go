package guard

import (
	"bytes"
	"crypto/sha256"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/netip"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"
	"time"
)

func newCode(t *testing.T, b *bench) Code {
	t.Helper()
	c, err := b.NewCode()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// other is a code that is not the right one.
func other(c Code) string {
	return strings.Map(func(r rune) rune { return '0' + (r-'0'+1)%10 }, c.Digits)
}

func TestCookieAndToken(t *testing.T) {
	b := newBench(t, nil)
	c := b.pairPhone(t, "  my \u202e phone\x00\n ")
	if !c.HttpOnly || c.Secure || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.MaxAge != 34_560_000 { // 400 × 86,400 s
		t.Errorf("cookie %v", c)
	}
	if len(c.Value) != 43 { // 32 bytes, 6 bits a character
		t.Errorf("token of %d characters", len(c.Value))
	}
	if len(b.saved) != 1 {
		t.Fatalf("%d devices saved", len(b.saved))
	}
	d := b.saved[0]
	if d.TokenSum != sha256.Sum256([]byte(c.Value)) || d.Name != "my phone" || !d.Paired.Equal(someTime) || len(d.ID) != 16 || d.Dropped {
		t.Errorf("saved %+v", d)
	}
	if text := fmt.Sprintf("%+v %s %+v", d, d.TokenSum, b.Devices()); strings.Contains(text, c.Value) {
		t.Errorf("the token is kept: %s", text)
	}

	code := newCode(t, b)
	r := request("POST", PairPath, lanHost, phone, "Content-Type", "application/x-www-form-urlencoded")
	r.TLS = &tls.ConnectionState{}
	r.Body = io.NopCloser(strings.NewReader("code=" + code.Digits))
	if cookies := b.do(r).Cookies(); len(cookies) != 1 || !cookies[0].Secure {
		t.Errorf("under TLS: cookies %v", cookies)
	}
	if name := b.Devices()[0].Name + b.Devices()[1].Name; !strings.Contains(name, "device ") {
		t.Errorf("a device without name is called %q", name)
	}
}

func TestPairedTwiceWithOneCode(t *testing.T) {
	b := newBench(t, nil)
	c := newCode(t, b)
	if _, err := b.Pair(t.Context(), c.Digits, "", one); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Pair(t.Context(), c.Digits, "", one); !errors.Is(err, ErrUsed) {
		t.Errorf("error %v", err)
	}
	wants(t, b.form(phone, "code", c.Digits, "name", "<b>tablet</b>"), 403, "The pairing code was used already; ask for a new one on the machine.")
	if len(b.Devices()) != 1 {
		t.Errorf("%d devices", len(b.Devices()))
	}
}

func TestCodesThatAreNotGood(t *testing.T) {
	b := newBench(t, nil)
	pair := func(code string) error {
		_, err := b.Pair(t.Context(), code, "", one)
		return err
	}
	if err := pair("12345678"); !errors.Is(err, ErrNoCode) {
		t.Errorf("before any: %v", err)
	}
	c := newCode(t, b)
	if !c.Until.Equal(someTime.Add(10*time.Minute)) || len(c.Digits) != 8 || c.String() != c.Digits[:4]+" "+c.Digits[4:] {
		t.Errorf("code %+v, shown as %s", c, c)
	}
	if err := pair(other(c)); !errors.Is(err, ErrWrongCode) {
		t.Errorf("wrong: %v", err)
	}
	b.now = c.Until
	if err := pair(c.Digits); !errors.Is(err, ErrExpired) {
		t.Errorf("late: %v", err)
	}
	b.now = c.Until.Add(-1)
	second := newCode(t, b)
	if err := pair(c.Digits); !errors.Is(err, ErrWrongCode) {
		t.Errorf("replaced: %v", err)
	}
	b.now = second.Until.Add(-1)
	if err := pair(second.Digits); err != nil {
		t.Errorf("at the last moment: %v", err)
	}
	if err := pair("1234 567"); err == nil || !strings.Contains(err.Error(), "8 digits, and there are 7") {
		t.Errorf("short: %v", err)
	}
	wants(t, b.form(phone, "code", "12x45678"), 400, "A pairing code has digits only")
	wants(t, b.form(phone, "code", strings.Repeat("1", 3000)), 400, "and there are more")
}

func TestWrongCodesAreLimited(t *testing.T) {
	b := newBench(t, nil)
	c := newCode(t, b)
	for range WrongByOne {
		wants(t, b.form(phone, "code", other(c)), 403, "This is not the pairing code")
		b.now = b.now.Add(time.Second)
	}
	// The right one is not taken either, and tells nothing.
	r := b.form(phone, "code", c.Digits)
	if got := r.Header.Get("Retry-After"); got != "55" { // the first of the five is 5 s old
		t.Errorf("Retry-After %q", got)
	}
	wants(t, r, 429, "wait 55 seconds and try again")
	// Neither another address nor a while later are bound by it.
	if _, err := b.Pair(t.Context(), other(c), "", netip.MustParseAddr("192.168.7.45")); !errors.Is(err, ErrWrongCode) {
		t.Errorf("another address: %v", err)
	}
	b.now = someTime.Add(WrongWithin)
	if _, err := b.Pair(t.Context(), c.Digits, "", one); err != nil {
		t.Errorf("a minute later: %v", err)
	}
}

func TestWrongCodesFromEverybodyVoidTheCode(t *testing.T) {
	b := newBench(t, nil)
	before := runtime.NumGoroutine()
	for range 50 {
		c := newCode(t, b)
		a := netip.MustParseAddr("10.0.0.1")
		for i := range WrongAll {
			if i == WrongAll-1 {
				if _, err := b.Pair(t.Context(), "xx", "", a); err == nil { // a slip, no try
					t.Fatal("no error")
				}
			}
			if _, err := b.Pair(t.Context(), other(c), "", a); !errors.Is(err, ErrWrongCode) {
				t.Fatalf("try %d: %v", i+1, err)
			}
			a = a.Next()
		}
		if _, err := b.Pair(t.Context(), c.Digits, "", a); !errors.Is(err, ErrVoid) {
			t.Fatalf("after %d: %v", WrongAll, err)
		}
		b.now = b.now.Add(WrongWithin / 2)
	}
	// The tries of a minute are kept, which is two codes here, and nothing runs on.
	if n := len(b.pairing.wrong); n > 2*WrongAll {
		t.Errorf("%d tries are kept", n)
	}
	if after := runtime.NumGoroutine(); after > before {
		t.Errorf("%d goroutines, %d before", after, before)
	}
}

func TestFailuresLeaveTheCodeGood(t *testing.T) {
	b := newBench(t, nil)
	c := newCode(t, b)
	b.fail = errDisk
	wants(t, b.form(phone, "code", c.Digits, "name", "phone"), 500, "the disk is full")
	if len(b.Devices()) != 0 {
		t.Error("let in, and not saved")
	}
	b.fail = nil
	random := b.config.Random
	b.config.Random = iotest.ErrReader(errDisk)
	if _, err := b.Pair(t.Context(), c.Digits, "", one); !errors.Is(err, errDisk) {
		t.Errorf("error %v", err)
	}
	if _, err := b.NewCode(); !errors.Is(err, errDisk) {
		t.Errorf("error %v", err)
	}
	b.config.Random = random
	if _, err := b.Pair(t.Context(), c.Digits, "", one); err != nil {
		t.Error(err)
	}
}

// Numbers that would make low codes likelier are drawn again.
func TestCodesAreDrawnEvenly(t *testing.T) {
	b := newBench(t, func(c *Config) {
		c.Random = bytes.NewReader([]byte{0xff, 0xff, 0xff, 0xff, 0xfa, 0x56, 0xea, 0x00, 0xfa, 0x56, 0xe9, 0xff})
	})
	// 42 × 10⁸ is 0xfa56ea00, by hand; the number below it ends in eight nines.
	if c := newCode(t, b); c.Digits != "99999999" {
		t.Errorf("code %s", c.Digits)
	}
	b = newBench(t, func(c *Config) { c.Random = rand.NewChaCha8([32]byte{1}) })
	counts := [CodeDigits][10]int{}
	const n = 5000
	for range n {
		for i, r := range newCode(t, b).Digits {
			counts[i][r-'0']++
		}
	}
	for i := range counts {
		for digit, k := range counts[i] {
			if k < 380 || k > 620 { // 500 ± 5.7 standard deviations of 21.2 (binomial)
				t.Errorf("digit %d is %d times at place %d of %d codes", digit, k, i+1, n)
			}
		}
	}
}

func TestPairingPage(t *testing.T) {
	b := newBench(t, nil)
	r := b.do(request("GET", `/pair?code=1234%205678&name=%3Cb%3E&next=/trial/3`, lanHost, phone))
	text := body(t, r)
	for _, want := range []string{`value="1234 5678"`, `value="&lt;b&gt;"`, `name="next" value="/trial/3"`, `inputmode="numeric"`, `href="/trial/3"`} {
		if !strings.Contains(text, want) {
			t.Errorf("no %s in %s", want, text)
		}
	}
	for _, bad := range []string{"style=", "<script", "onload"} {
		if strings.Contains(text, bad) {
			t.Errorf("%s in the page", bad)
		}
	}
	if r.StatusCode != 200 || r.Header.Get("Content-Type") != "text/html; charset=utf-8" {
		t.Errorf("status %d, %s", r.StatusCode, r.Header.Get("Content-Type"))
	}
	wants(t, b.do(request("PUT", PairPath, lanHost, phone)), 405, "nothing else")

	cookie := b.pairPhone(t, "phone")
	res := b.do(withCookie(request("GET", "/pair?next=/x", lanHost, phone), cookie))
	if res.StatusCode != 303 || res.Header.Get("Location") != "/x" {
		t.Errorf("paired already: status %d to %q", res.StatusCode, res.Header.Get("Location"))
	}
	res = b.do(request("POST", "/pair", "localhost:8321", "127.0.0.1:40000"))
	if res.StatusCode != 303 || res.Header.Get("Location") != "/" {
		t.Errorf("the machine itself: status %d to %q", res.StatusCode, res.Header.Get("Location"))
	}

	b = newBench(t, func(c *Config) {
		c.PairPage = func(io.Writer, PairView) error { return errDisk }
	})
	wants(t, b.do(request("GET", PairPath, lanHost, phone)), 500, "could not be made")
}

func TestNextIsAPathOfOurs(t *testing.T) {
	for given, want := range map[string]string{
		"": "/", "/": "/", "/trial/3?at=glue": "/trial/3?at=glue", "trial": "/", "//evil.example": "/", "/\\evil.example": "/", "https://evil.example/": "/",
		"/\t/evil.example": "/", "/\n/evil.example": "/", "javascript:alert(1)": "/", "/pair": "/", "/pair?next=/pair": "/", "/%zz": "/", "/a//b": "/a//b",
		"/%2f/evil.example": "/", "/a b": "/a%20b",
	} {
		if got := ownPath(given); got != want {
			t.Errorf("%q gives %q, want %q", given, got, want)
		}
	}
}

func TestPairURL(t *testing.T) {
	c := Code{Digits: "01234567"}
	for host, want := range map[string]string{
		"192.168.7.20": "http://192.168.7.20:8321/pair?code=01234567", "fd00::7": "http://[fd00::7]:8321/pair?code=01234567",
		"[fd00::7]": "http://[fd00::7]:8321/pair?code=01234567", "bench.local": "http://bench.local:8321/pair?code=01234567",
	} {
		if got := PairURL(host, port, c); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

func TestParseCode(t *testing.T) {
	for given, want := range map[string]string{
		"12345678": "12345678", " 1234 5678\n": "12345678", "1234-56.78": "12345678", "1234–5678": "12345678",
		"l2O4567I": "12045671", "१२३४५६७८": "12345678", "１２３４５６７８": "12345678", "𝟗𝟘𝟣𝟬𝟿𝟎𝟡𝟢": "90109090",
	} {
		if got, err := ParseCode(given); err != nil || got != want {
			t.Errorf("%q gives %q, %v; want %q", given, got, err, want)
		}
	}
	for given, want := range map[string]string{
		"": "there are 0", "1234567": "there are 7", "123456789": "there are more", "1234567a": `there is 'a'`, "\xff2345678": "there is",
	} {
		if got, err := ParseCode(given); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q gives %q, %v; want an error with %q", given, got, err, want)
		}
	}
}

func FuzzParseCode(f *testing.F) {
	for _, s := range []string{"12345678", "1234 5678", "1234-567", "l2O4567I", "१२३४५६७८", "\xff", "1234567a"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseCode(s)
		if err != nil {
			if got != "" || err.Error() == "" {
				t.Fatalf("%q with error %v", got, err)
			}
			return
		}
		if len(got) != CodeDigits || strings.Trim(got, "0123456789") != "" {
			t.Fatalf("%q gives %q", s, got)
		}
		if again, err := ParseCode(Code{Digits: got}.String()); again != got || err != nil {
			t.Fatalf("%q, as shown, gives %q, %v", got, again, err)
		}
	})
}
