package logbook

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"
)

// Restore puts a copy of the logbook from, which is checked first, at to. What was at
// to is kept beside it under a name made with now, which is returned, with all that
// had been written; "" where there was nothing. It returns *Damaged where from is
// not as it was written, and *InUse while to is open elsewhere. Until the last step,
// which puts the checked copy in place at once, to is as it was; after an error it
// still is.
func Restore(ctx context.Context, from, to string, now time.Time) (kept string, err error) {
	from, err = mustBeThere(from)
	if err != nil {
		return "", explained("restoring", from, err)
	}
	to, there, err := resolve(to)
	if err != nil {
		return "", explained("restoring", to, err)
	}
	if there && same(from, to) {
		return "", fmt.Errorf("restoring %s onto itself: name a backup and the logbook that it is to become", to)
	}
	report, err := Check(ctx, from)
	if err == nil {
		err = report.Err()
	}
	if err != nil {
		return "", fmt.Errorf("restoring: %w", err)
	}
	hold, err := takeHold(ctx, to, "", now)
	if err != nil {
		return "", fmt.Errorf("restoring: %w", err)
	}
	defer hold.release()
	db, err := openReader(ctx, from)
	if err != nil {
		return "", explained("restoring", from, err)
	}
	defer db.Close()
	part, _, err := copyBeside(ctx, db, from, to)
	if err != nil {
		return "", fmt.Errorf("restoring: %w", err)
	}
	defer os.Remove(part)
	kept, err = replace(ctx, part, to, now)
	return kept, explained("restoring", to, err)
}

func same(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && os.SameFile(x, y)
}

// besides are the files that belong to a logbook while it is open, or after a power
// cut: what is in them is part of it.
var besides = []string{"-wal", "-journal"}

// replace puts part at to, and what was at to under another name.
func replace(ctx context.Context, part, to string, now time.Time) (kept string, err error) {
	was := []string{}
	for _, ending := range append([]string{""}, besides...) {
		if _, err := os.Lstat(to + ending); err == nil {
			was = append(was, ending)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
	}
	if len(was) > 0 && was[0] == "" {
		// A sound logbook is made one file first. One that is not is kept as it lies.
		if report, err := Check(ctx, to); err == nil && report.Err() == nil {
			if err := makePlain(ctx, to); isBusy(err) {
				return "", &InUse{Path: to}
			} else if err != nil {
				return "", err
			}
			was = was[:1]
		}
	}
	if len(was) > 0 {
		if kept, err = freeName(nameBeside(to, "kept-"+now.Format("2006-01-02-150405"))); err != nil {
			return "", err
		}
	}
	var named []string
	takeBack := func(err error) (string, error) {
		for _, ending := range named {
			if _, gone := os.Lstat(to + ending); errors.Is(gone, fs.ErrNotExist) {
				if back := secondName(kept+ending, to+ending); back != nil {
					return kept, fmt.Errorf("%w; what was there is at %s", err, kept+ending)
				}
			}
			os.Remove(kept + ending)
		}
		return "", err
	}
	for _, ending := range was {
		if err := secondName(to+ending, kept+ending); err != nil {
			return takeBack(err)
		}
		named = append(named, ending)
	}
	syncFolder(to)
	// From here on all that was there has its second name.
	for _, ending := range append([]string{"-shm"}, besides...) {
		if err := os.Remove(to + ending); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return takeBack(err)
		}
	}
	if err := os.Rename(part, to); err != nil {
		return takeBack(err)
	}
	syncFolder(to)
	return kept, nil
}
