package logbook

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// ErrFull is what errors are, by errors.Is, when there is no room on the disk.
// Nothing of what was to be written is in the logbook; after room has been made the
// same call works.
var ErrFull = errors.New("no room left on the disk: make room and try again")

// ErrReadOnly is what errors are, by errors.Is, when the logbook or its folder may
// not be written, or not even be read.
var ErrReadOnly = errors.New("the file or its folder may not be read or written as is needed: change its permissions, or copy the logbook to a folder of your own")

// Taken says that a live entry of the trial holds the claim already.
type Taken struct {
	Claim string
	By    Entry // who holds it
}

func (e *Taken) Error() string {
	return fmt.Sprintf("%q is taken by entry %d of %s: correct or undo that entry instead", e.Claim, e.By.Seq, e.By.At.Format(whenText))
}

// Superseded says that an entry that was to be replaced or taken back is no longer
// live, or that a redo would bring back what has been superseded since.
type Superseded struct {
	Seq int64 // what was superseded
	By  Entry // what did
}

func (e *Superseded) Error() string {
	did := "replaced"
	if e.By.Undoes == e.Seq {
		did = "undone"
	}
	return fmt.Sprintf("entry %d has been %s by entry %d of %s: look at the newer one and decide again", e.Seq, did, e.By.Seq, e.By.At.Format(whenText))
}

// KeyUsed says that an entry with the same key and another content is there.
type KeyUsed struct {
	By Entry
}

func (e *KeyUsed) Error() string {
	return fmt.Sprintf("key %q was used for entry %d with another content: send it again under a new key", e.By.Key, e.By.Seq)
}

// InUse says that another process, or this one, has the logbook open for writing.
type InUse struct {
	Path   string
	Holder string    // what it said of itself, such as an address; may be empty
	PID    int       // its process; 0: not known
	Since  time.Time // zero: not known
}

func (e *InUse) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "logbook %s is open elsewhere", e.Path)
	if e.PID != 0 {
		fmt.Fprintf(&b, ", by process %d since %s", e.PID, e.Since.Format(whenText))
	}
	if e.Holder != "" {
		fmt.Fprintf(&b, ": use it at %s, or close it there first", e.Holder)
	} else {
		b.WriteString(": close it there first")
	}
	return b.String()
}

// Newer says that a logbook was written by a newer version of the program.
type Newer struct {
	Path           string
	Version, Known int
}

func (e *Newer) Error() string {
	return fmt.Sprintf("logbook %s has version %d and this program knows up to %d: use a newer version of the program; nothing was changed", e.Path, e.Version, e.Known)
}

// NotLogbook says that a file is something else.
type NotLogbook struct {
	Path string
	What string // what it seems to be instead
}

// empty is what a file seems to be in which there is nothing.
const empty = "empty"

func (e *NotLogbook) Error() string {
	if e.What == empty {
		return fmt.Sprintf("%s is not a logbook but empty: was it copied while it was open? copy with bondtrial backup, or name a file that is not there to begin a logbook; nothing was changed", e.Path)
	}
	return fmt.Sprintf("%s is not a logbook but %s: name another file; nothing was changed", e.Path, e.What)
}

// NoEntry says that there is no such entry, or none in this trial.
type NoEntry struct {
	Seq   int64
	Trial string // where it was looked for; empty when anywhere or in the logbook at large
}

func (e *NoEntry) Error() string {
	if e.Trial != "" {
		return fmt.Sprintf("there is no entry %d in trial %q: name one of that trial", e.Seq, e.Trial)
	}
	return fmt.Sprintf("there is no entry %d here: name one that is in the logbook", e.Seq)
}

// NoFile says that there is no file with this sum.
type NoFile struct {
	Sum string
}

func (e *NoFile) Error() string {
	return fmt.Sprintf("there is no file with the sum %q: take the sum from an entry", e.Sum)
}

// Damaged says that a logbook is not as it was written.
type Damaged struct {
	Path     string
	Problems []Problem // at least one
}

func (e *Damaged) Error() string {
	more := ""
	if n := len(e.Problems) - 1; n > 0 {
		more = fmt.Sprintf(" (and %d more)", n)
	}
	return fmt.Sprintf("logbook %s is damaged: %v%s: restore a backup; the damaged file is kept", e.Path, e.Problems[0], more)
}

const whenText = "2006-01-02 15:04:05"

// code returns SQLite's extended result code, 0 where err is of another kind.
func code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}

// explained adds to an error from SQLite or the file system what a person can do
// about it, and what was being done to which file.
func explained(doing, path string, err error) error {
	if err == nil {
		return nil
	}
	c := code(err)
	where := doing + " in " + path
	if path == "" { // the error names what is not there
		where = doing
	}
	switch {
	case errors.Is(err, ErrFull), errors.Is(err, ErrReadOnly), isOurs(err):
		return fmt.Errorf("%s: %w", doing, err)
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("%s: %w", doing, err)
	case c&0xff == sqlite3.SQLITE_FULL, c == sqlite3.SQLITE_IOERR_SHMSIZE, errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("%s: %w (%w)", where, ErrFull, err)
	case c&0xff == sqlite3.SQLITE_READONLY, c&0xff == sqlite3.SQLITE_PERM, c&0xff == sqlite3.SQLITE_CANTOPEN,
		errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("%s: %w (%w)", where, ErrReadOnly, err)
	case c&0xff == sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%s: %w", doing, &NotLogbook{Path: path, What: "a file of another kind"})
	case c&0xff == sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("%s: %w", doing, &Damaged{Path: path, Problems: []Problem{{What: err.Error()}}})
	case c&0xff == sqlite3.SQLITE_IOERR:
		return fmt.Errorf("%s: the disk did not do it: see whether it has room and is sound: %w", where, err)
	}
	return fmt.Errorf("%s: %w", where, err)
}

func isOurs(err error) bool {
	var (
		taken      *Taken
		superseded *Superseded
		used       *KeyUsed
		inUse      *InUse
		newer      *Newer
		not        *NotLogbook
		noEntry    *NoEntry
		noFile     *NoFile
		damaged    *Damaged
	)
	for _, target := range []any{&taken, &superseded, &used, &inUse, &newer, &not, &noEntry, &noFile, &damaged} {
		if errors.As(err, target) {
			return true
		}
	}
	return false
}
