//go:build unix

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"bondtrial/internal/logbook"
)

// wait waits until a program has ended and returns its exit status.
func (o *opened) wait(t *testing.T, atMost time.Duration) int {
	t.Helper()
	select {
	case <-o.ended:
	case <-time.After(atMost):
		t.Fatalf("it has not ended after %v", atMost)
	}
	var exit *exec.ExitError
	if o.err != nil && !errors.As(o.err, &exit) {
		t.Fatal(o.err)
	}
	return o.cmd.ProcessState.ExitCode()
}

// begin begins a trial through the pages and returns its address.
func begin(t *testing.T, c *http.Client, o *opened) string {
	t.Helper()
	return o.address + strings.TrimSuffix(must(t, c, o.address+"/trials", url.Values{"name": {"Benches"}, "key": {"first"}}), "/ask")
}

func whole(t *testing.T, path string) logbook.Report {
	t.Helper()
	r, err := logbook.Check(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Err(); err != nil {
		t.Fatalf("%v: %v", err, r.Problems)
	}
	return r
}

// A second program is told where the first one has the logbook open, and ends.
func TestOpenTwice(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.bondtrial")
	first := open(t, nil, path, "--port", freePort(t))
	began := time.Now()
	second, _, err := start(program(t), nil, path)
	if err != nil {
		t.Fatal(err)
	}
	if status := second.wait(t, 30*time.Second); status != 2 {
		t.Errorf("exit status %d, want 2", status)
	}
	if took := time.Since(began); took > 10*time.Second {
		t.Errorf("it took %v to say so", took)
	}
	said := second.stderr.String()
	if !strings.Contains(said, first.address) || !strings.Contains(said, "is open elsewhere") || strings.Count(said, "\n") != 1 {
		t.Errorf("it said %q, want one line with %s", said, first.address)
	}
	c := client()
	defer c.CloseIdleConnections()
	begin(t, c, first) // the first one works as before
}

// A logbook, or a folder, that may not be written is not opened, and says so. The
// program runs as somebody who owns nothing here, also where tests are run by root.
func TestOpenReadOnly(t *testing.T) {
	t.Parallel()
	folder, err := os.MkdirTemp("", "bondtrial-read-only-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = os.Chmod(folder, 0o700)
		os.RemoveAll(folder)
	})
	path := filepath.Join(folder, "bench.bondtrial")
	l, err := logbook.Open(t.Context(), path, logbook.Options{Clock: time.Now, Create: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	for name, mode := range map[string]os.FileMode{path: 0o444, folder: 0o555} {
		if err := os.Chmod(name, mode); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{path, filepath.Join(folder, "new.bondtrial")} {
		o, _, err := start(program(t), func(c *exec.Cmd) {
			c.Dir = "/"
			if os.Getuid() == 0 {
				c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
			}
		}, name)
		if err != nil {
			t.Fatal(err)
		}
		if status := o.wait(t, 30*time.Second); status != 2 {
			t.Errorf("%s: exit status %d, want 2", name, status)
		}
		if said := o.stderr.String(); !strings.Contains(said, ": change its permissions") {
			t.Errorf("%s: it said %q", name, said)
		}
	}
	list, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range list {
		if f.Name() != "bench.bondtrial" && f.Name() != "bench.bondtrial-writer" {
			t.Errorf("left behind: %s", f.Name())
		}
	}
	whole(t, path)
}

// A limit on how large files may get is met in the midst of writing. Nothing of what
// was acknowledged is lost, and with room the same entry is taken.
func TestOpenFileTooLarge(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.bondtrial")
	const blocks = 800 // of 512 bytes, as POSIX has it; some shells count in 1024
	o := open(t, func(c *exec.Cmd) {
		c.Args = append([]string{"sh", "-c", fmt.Sprintf(`ulimit -f %d && exec "$@"`, blocks), "sh", c.Path}, c.Args[1:]...)
		c.Path = "/bin/sh"
	}, path, "--port", freePort(t))
	c := client()
	defer c.CloseIdleConnections()
	trial := begin(t, c, o)
	note := strings.Repeat("frost on the boards ", 150)
	var taken []string
	refused := ""
	for n := 100; refused == ""; n++ {
		if n == 400 {
			t.Fatal("the limit is never met")
		}
		code := fmt.Sprint(n)
		for _, e := range []struct {
			at     string
			fields url.Values
		}{
			{"/specimens", url.Values{"code": {code}, "new": {code}, "adhesive": {"Tarn"}, "key": {"A" + code}}},
			{"/break", url.Values{"code": {code}, "peak": {"6.5"}, "unit": {"MPa"}, "failure": {"CF"}, "note": {note}, "key": {"B" + code}}},
		} {
			status, _, body, err := send(t.Context(), c, trial+e.at, e.fields)
			if err != nil {
				t.Fatalf("it is gone: %v: %s", err, o.stderr)
			}
			if status >= 400 {
				if status < 500 || !strings.Contains(body, "full") && !strings.Contains(body, "could not") {
					t.Errorf("status %d: %s", status, body)
				}
				t.Logf("after %d entries it says, with status %d, %s", len(taken), status, strings.TrimSpace(body))
				refused = e.fields.Get("key")
				break
			}
			taken = append(taken, e.fields.Get("key"))
		}
	}
	if resp, err := c.Get(trial + "/break"); err != nil || resp.StatusCode != http.StatusOK {
		t.Errorf("the page cannot be looked at: %v", err)
	} else {
		resp.Body.Close()
	}
	if err := o.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	o.wait(t, 10*time.Second)
	whole(t, path)
	l, err := logbook.Open(t.Context(), path, logbook.Options{Clock: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	entries, err := l.Since(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	times := make(map[string]int)
	for _, e := range entries {
		times[e.Key]++
	}
	for _, key := range taken {
		if times[key] != 1 {
			t.Errorf("%s was acknowledged and is there %d times", key, times[key])
		}
	}
	if times[refused] != 0 {
		t.Errorf("%s was refused and is there", refused)
	}
	if len(taken) < 10 {
		t.Errorf("only %d entries before the limit", len(taken))
	}
}

// readings is a table of readings that takes a while to answer.
func readings(n int) string {
	var b strings.Builder
	b.WriteString("specimen,adhesive,wood,board,strength_mpa,wood_failure_pct\n")
	for i := range n {
		fmt.Fprintf(&b, "%d,Adhesive %c,ash,%d,%.3f,%d\n", i+1, 'A'+rune(i%8), i%40, 5+float64(i%8)*0.3+float64(i*7919%1000)/700, i*104729%90)
	}
	return b.String()
}

// ^C ends the pages soon and in order, also while devices listen and an answer is
// being computed.
func TestOpenInterrupted(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.bondtrial")
	o := open(t, nil, path, "--port", freePort(t))
	c := client()
	defer c.CloseIdleConnections()

	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	part, err := form.CreateFormFile("table", "old.csv")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(part, readings(20_000)); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(form.WriteField("name", "Old readings"), form.Close()); err != nil {
		t.Fatal(err)
	}
	resp, err := c.Post(o.address+"/take-in", form.FormDataContentType(), &b)
	if err != nil {
		t.Fatal(err)
	}
	said, _ := io.ReadAll(resp.Body)
	resp.Body.Close()
	trial := "/trials/old-readings"
	if resp.StatusCode != http.StatusSeeOther && !bytes.Contains(said, []byte(trial)) {
		t.Fatalf("status %d: %.2000s", resp.StatusCode, said)
	}
	must(t, c, o.address+trial+"/answer/run", nil)
	stream, err := c.Get(o.address + "/events")
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Body.Close()
	if _, _, progress, err := send(t.Context(), c, o.address+trial+"/answer/run", nil); err != nil || !strings.Contains(progress, "working") {
		t.Errorf("nothing is computed: %s, %v", progress, err)
	}
	began := time.Now()
	if err := o.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if status := o.wait(t, 30*time.Second); status != 0 {
		t.Errorf("exit status %d, want 0: %s", status, o.stderr)
	}
	took := time.Since(began)
	if took > 6*time.Second {
		t.Errorf("it ended after %v, want 6 s", took)
	}
	t.Logf("ended after %v", took)
	if !strings.HasSuffix(o.stderr.String(), "bondtrial: closed\n") {
		t.Errorf("it said %q", o.stderr)
	}
	if _, err := io.Copy(io.Discard, stream.Body); err != nil {
		t.Errorf("the stream did not end in order: %v", err)
	}
	if r := whole(t, path); r.Trials != 1 {
		t.Errorf("%+v", r)
	}
	left, err := filepath.Glob(path + "*")
	if err != nil || len(left) != 2 { // and the file that says who had it open
		t.Errorf("left behind: %v", left)
	}
}
