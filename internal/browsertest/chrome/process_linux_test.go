package chrome

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Close leaves no process and no folder.
func TestCloseLeavesNothing(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	b, err := Start()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Page(Phone); err != nil {
		t.Fatal(err)
	}
	family := descendants(t, b.process())
	if len(family) < 3 { // the browser, its picture process and the page's at least
		t.Errorf("only %d processes seen, so this shows little: %v", len(family), family)
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	for start := time.Now(); ; time.Sleep(10 * time.Millisecond) { // until they are gone, not longer than 5 s
		left := running(family)
		if len(left) == 0 {
			break
		}
		if time.Since(start) > 5*time.Second {
			t.Fatalf("still running: %v", left)
		}
	}
	entries, err := os.ReadDir(os.Getenv("TMPDIR"))
	if err != nil || len(entries) != 0 {
		t.Errorf("left in the temporary folder: %v, %v", entries, err)
	}
}

// stat returns a process's parent and start time, and whether it runs: one that has
// ended and waits for its parent to look does not.
func stat(pid string) (parent, started string, runs bool) {
	data, err := os.ReadFile(filepath.Join("/proc", pid, "stat"))
	if err != nil {
		return "", "", false
	}
	// proc(5): the fields after the name in brackets are state, parent, …; the start
	// time is field 22.
	fields := strings.Fields(string(data[strings.LastIndexByte(string(data), ')')+1:]))
	return fields[1], fields[19], fields[0] != "Z" && fields[0] != "X"
}

// descendants returns the process and all below it, by number and start time.
func descendants(t *testing.T, pid int) map[string]string {
	family := map[string]string{}
	_, started, _ := stat(fmt.Sprint(pid))
	family[fmt.Sprint(pid)] = started
	entries, err := os.ReadDir("/proc")
	if err != nil {
		t.Fatal(err)
	}
	for grown := true; grown; {
		grown = false
		for _, e := range entries {
			parent, started, _ := stat(e.Name())
			if family[parent] != "" && family[e.Name()] == "" {
				family[e.Name()], grown = started, true
			}
		}
	}
	return family
}

func running(family map[string]string) []string {
	var left []string
	for pid, began := range family {
		if _, started, runs := stat(pid); runs && started == began {
			left = append(left, pid)
		}
	}
	return left
}
