package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sync"
	"time"
)

// Options say how a logbook is opened.
type Options struct {
	Clock  func() time.Time // required
	Create bool             // make the file where there is none; without it that is an error
	Holder string           // what another process that wants to write is told, such as an address
}

// Logbook is one that is open for writing. Its methods may be called from several
// goroutines.
type Logbook struct {
	path    string
	clock   func() time.Time
	version int // of the file; the latest, tests of older ones excepted
	write   *sql.DB
	read    *sql.DB
	hold    *hold
	close   sync.Once
	closed  error
	dailyMu sync.Mutex // one daily backup is made at a time
}

// Open opens a logbook for writing. Where it is of an older version, a backup is put
// beside it and it is brought to this one. It returns an error that is fs.ErrNotExist
// where there is none and none is to be made, *InUse where another process has it,
// *NotLogbook, *Newer or *Damaged where the file is not what it should be, and
// ErrReadOnly where it may not be written. It panics without a clock.
func Open(ctx context.Context, path string, o Options) (*Logbook, error) {
	return openVersion(ctx, path, o, latest)
}

// openVersion is Open of a file of a version that may be older than the latest.
func openVersion(ctx context.Context, path string, o Options, version int) (l *Logbook, err error) {
	if o.Clock == nil {
		panic("logbook: opened without a clock")
	}
	path, there, err := resolve(path)
	if err != nil {
		return nil, explained("opening a logbook", path, err)
	}
	if err := mayOpen(ctx, path, there, o.Create); err != nil {
		return nil, explained("opening a logbook", path, err)
	}
	hold, err := takeHold(ctx, path, o.Holder, o.Clock())
	if err != nil {
		return nil, err
	}
	l = &Logbook{path: path, clock: o.Clock, version: version, hold: hold}
	defer func() {
		if err != nil {
			l.Close()
			l = nil
		}
	}()
	if err := begin(ctx, path, version); err != nil {
		return l, explained("beginning a logbook", path, err)
	}
	if l.write, err = openWriter(path); err != nil {
		return l, explained("opening a logbook", path, err)
	}
	if err := l.bringUp(ctx, version); err != nil {
		return l, explained("opening a logbook", path, err)
	}
	if l.read, err = openReader(ctx, path); err != nil {
		return l, explained("opening a logbook", path, err)
	}
	if _, err := last(ctx, l.read, path); err != nil {
		return l, explained("opening a logbook", path, err)
	}
	return l, nil
}

// mayOpen looks at a file before anything is written.
func mayOpen(ctx context.Context, path string, there, create bool) error {
	if !there && !create {
		return &fs.PathError{Op: "there is no logbook, name one that is there or make a new one: open", Path: path, Err: fs.ErrNotExist}
	}
	if sizeOf(path) == 0 && sizeOf(path+"-wal") > 0 {
		return fmt.Errorf("%s-wal belongs to a logbook %s that is gone or emptied: bring that back, or restore a backup", path, path)
	}
	if !there {
		return nil
	}
	db, err := openReader(ctx, path)
	if err != nil {
		return err
	}
	defer db.Close()
	version, err := identify(ctx, db, path)
	if err == nil && version == 0 {
		err = &NotLogbook{Path: path, What: empty}
	}
	return err
}

// begin makes a logbook with nothing in it, where there is no file of its name: under
// another name first, so that an empty file never is one that was being made. The
// right to write is held.
func begin(ctx context.Context, path string, version int) error {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	part := nameBeside(path, "begun")
	clear := func() {
		for _, ending := range []string{"", "-wal", "-shm", "-journal"} {
			os.Remove(part + ending)
		}
	}
	clear() // of a making that was cut short
	defer clear()
	db, err := openWriter(part)
	if err != nil {
		return err
	}
	err = migrate(ctx, db, 0, version)
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	if err := makePlain(ctx, part); err != nil {
		return err
	}
	if err := syncFile(part); err != nil {
		return err
	}
	return giveName(part, path)
}

// bringUp brings the file to a version, after a backup of what was there.
func (l *Logbook) bringUp(ctx context.Context, version int) error {
	have, err := identify(ctx, l.write, l.path)
	if err != nil {
		return err
	}
	if have >= version {
		// Whether it may be written shows when writing is begun.
		tx, err := l.write.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		return tx.Rollback()
	}
	if have == 0 {
		return &NotLogbook{Path: l.path, What: empty}
	}
	to, err := freeName(nameBeside(l.path, fmt.Sprintf("version-%d", have)))
	if err != nil {
		return err
	}
	if err := Backup(ctx, l.path, to); err != nil {
		return fmt.Errorf("backing up version %d first: %w", have, err)
	}
	return migrate(ctx, l.write, have, version)
}

// freeName returns name, or name-2, name-3 and so on: the first that no file has.
func freeName(name string) (string, error) {
	for n := 1; n < 10000; n++ {
		free := name
		if n > 1 {
			free = fmt.Sprintf("%s-%d", name, n)
		}
		if _, err := os.Lstat(free); errors.Is(err, fs.ErrNotExist) {
			return free, nil
		} else if err != nil {
			return "", err
		}
	}
	return "", fmt.Errorf("there are too many files named %s: move some away", name)
}

// Settle moves what was written last from the file beside the logbook into the
// logbook's own, as far as nobody reads an older state, and waits for nobody. Nothing
// depends on it but how little a copy by hand would miss. It is quick where there is
// nothing to move.
func (l *Logbook) Settle(ctx context.Context) error {
	var busy, pages, moved int
	err := l.write.QueryRowContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &pages, &moved)
	return explained("settling the logbook", l.path, err)
}

// Path returns the file's absolute path, without symbolic links.
func (l *Logbook) Path() string { return l.path }

// Close ends the right to write, after what is being written has been. The file then
// holds everything, unless somebody is reading it: then some of it may still be in
// the file beside it whose name ends in -wal.
func (l *Logbook) Close() error {
	l.close.Do(func() {
		var errs []error
		if l.read != nil {
			errs = append(errs, l.read.Close())
		}
		if l.write != nil {
			// One plain file, that can be read where nothing can be written. While
			// another process reads, this fails, and does no harm.
			l.write.Exec("PRAGMA busy_timeout = 100; PRAGMA journal_mode = DELETE")
			errs = append(errs, l.write.Close())
		}
		l.hold.release()
		if err := errors.Join(errs...); err != nil {
			l.closed = explained("closing a logbook", l.path, err)
		}
	})
	return l.closed
}
