package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// built builds the program once for all tests, as it is released: without cgo.
var built = sync.OnceValues(func() (bin string, err error) {
	dir, err := os.MkdirTemp("", "bondtrial-program-")
	if err != nil {
		return "", err
	}
	programDir = dir
	bin = filepath.Join(dir, "bondtrial.exe") // a name that works on every system
	c := exec.Command("go", "build", "-o", bin, ".")
	c.Env = append(os.Environ(), "CGO_ENABLED=0")
	if said, err := c.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w: %s", err, said)
	}
	return bin, os.Chmod(dir, 0o755)
})

// programDir holds the program; empty: it has not been built.
var programDir string

func program(t *testing.T) string {
	t.Helper()
	bin, err := built()
	if err != nil {
		t.Fatal(err)
	}
	return bin
}

// opened is a program that serves the pages of a logbook.
type opened struct {
	cmd     *exec.Cmd
	address string
	stderr  *bytes.Buffer
	ready   time.Duration // from the start to the line with the address
	ended   chan struct{}
	err     error // of the program, once ended is closed
}

// start starts "open" with arguments and returns without waiting for the pages; lines
// is told the lines of standard output.
func start(bin string, change func(*exec.Cmd), args ...string) (*opened, <-chan string, error) {
	o := &opened{stderr: new(bytes.Buffer), ended: make(chan struct{})}
	o.cmd = exec.Command(bin, append([]string{"open", "--browser=false"}, args...)...)
	o.cmd.Stderr = o.stderr
	if change != nil {
		change(o.cmd)
	}
	out, err := o.cmd.StdoutPipe()
	if err != nil {
		return nil, nil, err
	}
	if err := o.cmd.Start(); err != nil {
		return nil, nil, err
	}
	lines := make(chan string, 100)
	go func() {
		s := bufio.NewScanner(out)
		for s.Scan() {
			lines <- s.Text()
		}
		close(lines)
		o.err = o.cmd.Wait()
		close(o.ended)
	}()
	return o, lines, nil
}

var address = regexp.MustCompile(`http://127\.0\.0\.1:\d+`)

// addressIn returns the address in what the program prints, or "".
func addressIn(said string) string { return address.FindString(said) }

// open starts "open" and waits until the pages can be reached. It is ended with the
// test.
func open(t *testing.T, change func(*exec.Cmd), args ...string) *opened {
	t.Helper()
	began := time.Now()
	o, lines, err := start(program(t), change, args...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = o.cmd.Process.Kill()
		<-o.ended
	})
	for line := range lines {
		if o.address = addressIn(line); o.address != "" {
			o.ready = time.Since(began)
			go func() {
				for range lines {
				}
			}()
			return o
		}
	}
	<-o.ended
	t.Fatalf("the pages were never there: %v: %s", o.err, o.stderr)
	return nil
}

// freePort returns a port that nobody listens on.
func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return fmt.Sprint(l.Addr().(*net.TCPAddr).Port)
}

// client follows no redirect, so that a test sees what a form was answered.
func client() *http.Client {
	return &http.Client{Transport: &http.Transport{DialContext: (&net.Dialer{Timeout: 5 * time.Second}).DialContext}, Timeout: time.Minute,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// send posts a form as a module does. Where the program does not answer, err says so.
func send(ctx context.Context, c *http.Client, address string, form url.Values) (status int, location, body string, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address, strings.NewReader(form.Encode()))
	if err != nil {
		return 0, "", "", err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	resp, err := c.Do(r)
	if err != nil {
		return 0, "", "", err
	}
	defer resp.Body.Close()
	var b bytes.Buffer
	if _, err := b.ReadFrom(resp.Body); err != nil {
		return 0, "", "", err
	}
	return resp.StatusCode, resp.Header.Get("Location"), b.String(), nil
}

// must posts a form that must be taken.
func must(t *testing.T, c *http.Client, address string, form url.Values) (location string) {
	t.Helper()
	status, location, body, err := send(t.Context(), c, address, form)
	if err != nil {
		t.Fatal(err)
	}
	if status != http.StatusOK && status != http.StatusSeeOther {
		t.Fatalf("%s %v: status %d: %.500s", address, form, status, body)
	}
	return location
}
