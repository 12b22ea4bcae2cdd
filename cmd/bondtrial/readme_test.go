//go:build unix

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestREADME runs every command that README.md shows, in their order in one empty
// folder, as somebody would who has the program installed. Those that serve pages are
// ended once these are there.
func TestREADME(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	table := "specimen,adhesive,wood,board,strength_mpa,wood_failure_pct,set_aside\n" +
		"A1,Pemmet white,ash,1,6.4,10,\nA2,Pemmet white,ash,2,5.9,0,\nA3,Pemmet white,ash,3,6.1,5,\n" +
		"B1,Tolmar paste,ash,1,12.2,80,\nB2,Tolmar paste,ash,2,,,slipped in the grips\nB3,Tolmar paste,ash,3,11.1,20,\nB4,Tolmar paste,ash,4,11.9,30,\n"
	if err := os.WriteFile(filepath.Join(dir, "readings.csv"), []byte(table), 0o644); err != nil {
		t.Fatal(err)
	}
	for name, script := range map[string]string{"weights.csv": "rig.txt", "break.csv": "trace.txt"} {
		if err := os.WriteFile(filepath.Join(dir, name), fileOf(t, script, name), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	const begins = "    go run ./cmd/bondtrial "
	ran := make(map[string]bool)
	for line := range strings.Lines(string(text)) {
		args, ok := strings.CutPrefix(strings.TrimSuffix(line, "\n"), begins)
		if !ok {
			continue
		}
		verb := strings.Fields(args)[0]
		ran[verb] = true
		if verb == "open" || verb == "demo" && !strings.Contains(args, "--text") {
			serves(t, dir, strings.Fields(args))
			continue
		}
		c := exec.Command("sh", "-c", `"$0" `+args, program(t)) // README shows redirections
		c.Dir = dir
		if said, err := c.CombinedOutput(); err != nil {
			t.Errorf("%s: %v: %s", args, err, said)
		}
	}
	for _, verb := range []string{"demo", "open", "plan", "answer"} {
		if !ran[verb] {
			t.Errorf("README.md shows no %q", verb)
		}
	}
	for _, name := range []string{"trials.bondtrial", "bondtrial-demo/demo.bondtrial", "trial.toml", "report.html"} {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Error(err)
		}
	}
}

// fileOf returns a file that a script in testdata comes with.
func fileOf(t *testing.T, script, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", script))
	if err != nil {
		t.Fatal(err)
	}
	_, after, ok := strings.Cut(string(text), "\n-- "+name+" --\n")
	if !ok {
		t.Fatalf("%s has no %s", script, name)
	}
	content, _, _ := strings.Cut(after, "\n-- ")
	return []byte(content + "\n")
}

// serves runs a command that serves pages until these are there.
func serves(t *testing.T, dir string, args []string) {
	t.Helper()
	o := open(t, func(c *exec.Cmd) {
		c.Dir = dir
		c.Args = append([]string{c.Path}, args...) // in the place of "open"
	})
	c := client()
	defer c.CloseIdleConnections()
	resp, err := c.Get(o.address + "/")
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != 200 {
		t.Errorf("%v: %s", args, resp.Status)
	}
	if err := o.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if status := o.wait(t, 30*time.Second); status != 0 {
		t.Errorf("%v: exit status %d: %s", args, status, o.stderr)
	}
}
