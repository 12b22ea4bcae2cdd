package frame

import (
	"testing"
	"time"
)

// SetBeat sets for a test how often a silent stream is kept alive.
func SetBeat(t *testing.T, d time.Duration) {
	old := beat
	beat = d
	t.Cleanup(func() { beat = old })
}
