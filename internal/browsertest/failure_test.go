package browsertest

import (
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
)

// witness is a test that fails on purpose and keeps what was said.
type witness struct {
	testing.TB
	said string
}

func (w *witness) Helper()      {}
func (w *witness) Name() string { return "Test/a failure" }
func (w *witness) Fatal(args ...any) {
	w.said = fmt.Sprint(args...)
	runtime.Goexit()
}
func (w *witness) Fatalf(format string, args ...any) { w.Fatal(fmt.Sprintf(format, args...)) }

// failed runs something that is to end its test, and returns what it says.
func failed(t *testing.T, do func(testing.TB)) string {
	w := &witness{TB: t}
	done := make(chan bool, 1)
	go func() {
		ended := true
		defer func() { done <- ended }()
		do(w)
		ended = false
	}()
	if !<-done {
		t.Error("nothing failed")
	}
	return w.said
}

func failure(t *testing.T, b desk, bench *bench) {
	p := b.laptop.For(t)
	address := bench.page("fails", "<main><h1>Glue-up</h1></main>", "", "console.error('a fault')")
	p.Open(address)
	hurry(t, p)
	said := failed(t, func(w testing.TB) { p.For(w).WaitText("h1", "Break") })
	for _, want := range []string{`no h1 contains "Break"`, `it says "Glue-up"`, address, "a fault", "text of the page:\nGlue-up", "bondtrial-failed-Test-a-failure.png"} {
		if !strings.Contains(said, want) {
			t.Errorf("the failure does not say %q:\n%s", want, said)
		}
	}
	_, picture, _ := strings.Cut(said, "picture: ")
	picture, _, _ = strings.Cut(picture, "\n")
	if _, err := os.Stat(picture); err != nil {
		t.Errorf("the picture of the failure: %v", err)
	}
	os.Remove(picture)
}

func TestNoChromium(t *testing.T) {
	t.Setenv("BONDTRIAL_CHROMIUM", "")
	t.Setenv("PATH", t.TempDir())
	if _, err := os.Stat("/usr/lib/chromium/chromium"); err == nil {
		t.Setenv("BONDTRIAL_CHROMIUM", "no-such-chromium")
	}
	said := failed(t, func(w testing.TB) { Start(w) })
	if !strings.Contains(said, "apt-get install chromium") && !strings.Contains(said, "BONDTRIAL_CHROMIUM") {
		t.Errorf("without a browser it says %q", said)
	}
}
