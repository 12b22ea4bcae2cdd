//go:build unix

package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// An interrupt ends long work at once, with status 130 and no file left behind,
// and also while the program waits for its input.
func TestInterrupt(t *testing.T) {
	dir := t.TempDir()
	bin := filepath.Join(dir, "bondtrial")
	if msg, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, msg)
	}
	table := filepath.Join(dir, "readings.csv")
	if err := os.WriteFile(table, []byte("adhesive,strength_mpa,failure\nTarn,5,CF\nTarn,6,CF\nTarn,7,SF\nFell,8,CF\nFell,9,CF\nFell,8.5,CF\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		args []string
	}{
		{"sampling", []string{"answer", table, "--draws", "2000000", "--html", filepath.Join(dir, "report.html")}},
		{"waiting for input", []string{"answer", "-"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out, errs bytes.Buffer
			cmd := exec.Command(bin, c.args...)
			cmd.Stdout, cmd.Stderr = &out, &errs
			in, err := cmd.StdinPipe() // stays open
			if err != nil {
				t.Fatal(err)
			}
			defer in.Close()
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(500 * time.Millisecond) // the program is at work by then, and has more to do than that
			start := time.Now()
			if err := cmd.Process.Signal(syscall.SIGINT); err != nil {
				t.Fatal(err)
			}
			err = cmd.Wait()
			var exit *exec.ExitError
			if !errors.As(err, &exit) || exit.ExitCode() != 130 {
				t.Fatalf("%v, want exit status 130; it said %s", err, errs.String())
			}
			// "At once" to a person, with room for a busy machine.
			if took := time.Since(start); took > 2*time.Second {
				t.Errorf("stopped after %v", took)
			}
			if out.Len() > 0 || !strings.HasSuffix(errs.String(), "bondtrial: stopped\n") {
				t.Errorf("standard output %q, standard error %q", out.String(), errs.String())
			}
		})
	}
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(left) != 2 {
		t.Errorf("left behind: %v", left)
	}
	if hidden, _ := filepath.Glob(filepath.Join(dir, ".*")); len(hidden) > 0 {
		t.Errorf("left behind: %v", hidden)
	}
}
