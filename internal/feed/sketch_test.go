package feed

import (
	"errors"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The sketch in docs runs on a bench of our own, which speaks as the sketch says that
// the amplifier does; a C compiler is needed, as for the race detector. The readings
// are those in testdata/bench.c: both ends, both signs, alternating bits.
func TestSketch(t *testing.T) {
	compiler := ""
	for _, name := range []string{"cc", "gcc", "clang"} {
		if path, err := exec.LookPath(name); err == nil {
			compiler = path
			break
		}
	}
	if compiler == "" {
		t.Fatal("no C compiler: install gcc or clang, as the race detector needs one too")
	}
	sketch, err := filepath.Abs("../../docs/bridge/bridge.ino")
	if err != nil {
		t.Fatal(err)
	}
	bench := filepath.Join(t.TempDir(), "bench")
	out, err := exec.Command(compiler, "-std=gnu11", "-Wall", "-Wno-strict-prototypes", "-o", bench, `-DSKETCH="`+sketch+`"`, "testdata/bench.c").CombinedOutput()
	if err != nil || len(out) > 0 {
		t.Fatalf("%v\n%s", err, out)
	}
	out, err = exec.Command(bench).Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("the sketch did what it must not: exit %d in testdata/bench.c", exit.ExitCode())
		}
		t.Fatal(err)
	}
	var s splitter
	s.fill(out, start)
	var b Batch
	parser := NewParser(mustPattern(t, "{time_ms},{counts}"), 0)
	for l, ok := s.next(); ok; l, ok = s.next() {
		parser.Add(l, &b)
	}
	if d := cmp.Diff([]float64{0, 1, -1, 8388607, -8388608, 84210, -84210, 5592405, -5592406}, forces(&b)); d != "" {
		t.Errorf("%s\nfrom\n%s", d, out)
	}
	for i := 1; i < len(b.Samples); i++ {
		// 12.5 ms, in whole milliseconds; 1e-5 s for float64 sums near 4.3e6 s.
		if step := b.Samples[i].Device - b.Samples[i-1].Device; step < 0.012-1e-5 || step > 0.013+1e-5 {
			t.Errorf("reading %d comes %v s after the one before", i, step)
		}
	}
	// The first line is a remark, and so are the two that say that no reading comes.
	if c := parser.Counts(); c.Remarks != 3 || c.Garbage != 0 || !strings.Contains(string(out), "no reading") {
		t.Errorf("counts %+v from\n%s", c, out)
	}
}
