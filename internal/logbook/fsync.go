package logbook

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"
)

// Fsync measures how often in a second the disk under the logbook makes 4 KiB last,
// which bounds how many entries can be appended one by one. It writes n times to a
// file beside the logbook and removes it. It panics where n is not above 0.
func (l *Logbook) Fsync(ctx context.Context, n int) (perSecond float64, err error) {
	if n <= 0 {
		panic("logbook: disk to be measured with no writing at all")
	}
	f, err := os.CreateTemp(filepath.Dir(l.path), filepath.Base(l.path)+".fsync-*")
	if err != nil {
		return 0, explained("measuring the disk", l.path, err)
	}
	defer func() {
		err = explained("measuring the disk", l.path, errors.Join(err, f.Close(), os.Remove(f.Name())))
	}()
	block := make([]byte, 4096)
	// A stopwatch, not the logbook's clock: no entry is dated by it.
	start := time.Now()
	for range n {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if _, err := f.Write(block); err != nil {
			return 0, err
		}
		if err := f.Sync(); err != nil {
			return 0, err
		}
	}
	return float64(n) / time.Since(start).Seconds(), nil
}
