package logbook

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	sqlite3 "modernc.org/sqlite/lib"
)

// hold is the right to write a logbook. It is a transaction that has been begun on a
// small database beside the logbook and is never finished: SQLite lets one process
// have that, others can still read who it is, and it ends with the process, however
// that ends.
type hold struct {
	db   *sql.DB
	conn *sql.Conn
}

// holds numbers the holds of this process, to tell its own word from another's.
var holds atomic.Int64

const writerTable = `CREATE TABLE IF NOT EXISTS writer (
  one    INTEGER PRIMARY KEY CHECK (one = 1),
  holder TEXT    NOT NULL,
  pid    INTEGER NOT NULL,
  since  TEXT    NOT NULL, -- RFC 3339
  number INTEGER NOT NULL  -- of the process's holds
) STRICT`

// holdTries is how often two processes that open a logbook at the same moment get
// out of each other's way.
const holdTries = 20

// takeHold takes the right to write the logbook at path, or returns *InUse.
func takeHold(ctx context.Context, path, holder string, now time.Time) (*hold, error) {
	beside := path + "-writer"
	h, err := openHold(ctx, beside)
	if err != nil {
		return nil, holdFailed(beside, err)
	}
	number := holds.Add(1)
	for range holdTries {
		var held bool
		if held, err = h.try(ctx, holder, now, number); held {
			return h, nil
		}
		if err != nil {
			break
		}
	}
	if err == nil || isBusy(err) {
		// An error that is left here would hide who holds it.
		inUse := &InUse{Path: path}
		if h.read(ctx, inUse) != nil {
			*inUse = InUse{Path: path}
		}
		err = inUse
	} else {
		err = holdFailed(beside, err)
	}
	h.release()
	return nil, err
}

// openHold opens the file beside the logbook; nothing is held yet.
func openHold(ctx context.Context, beside string) (*hold, error) {
	db, err := sql.Open("sqlite", dsn(beside, "rwc", "_pragma=busy_timeout(500)", "_pragma=synchronous(FULL)"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	conn, err := db.Conn(ctx)
	if err != nil {
		db.Close()
		return nil, err
	}
	return &hold{db, conn}, nil
}

func holdFailed(beside string, err error) error {
	switch code(err) & 0xff {
	case sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("%s, which says who has the logbook open, cannot be read: make sure that nobody has it open and delete this one file: %w", beside, err)
	}
	return explained("taking the right to write", beside, err)
}

func isBusy(err error) bool { return code(err)&0xff == sqlite3.SQLITE_BUSY }

// try writes who is about to hold the right, and then begins to hold it. Between the
// two another process may do the same: then the word that is read is not ours, and
// nothing is held.
func (h *hold) try(ctx context.Context, holder string, now time.Time, number int64) (held bool, err error) {
	if err := h.announce(ctx, holder, now, number); err != nil {
		return false, err
	}
	return h.keep(ctx, number)
}

// announce writes who is about to hold the right, where nobody holds it.
func (h *hold) announce(ctx context.Context, holder string, now time.Time, number int64) error {
	if _, err := h.conn.ExecContext(ctx, "BEGIN IMMEDIATE"); err != nil {
		return err
	}
	_, err := h.conn.ExecContext(ctx, writerTable)
	if err == nil {
		_, err = h.conn.ExecContext(ctx, "INSERT OR REPLACE INTO writer (one, holder, pid, since, number) VALUES (1, ?, ?, ?, ?)",
			holder, os.Getpid(), timeText(now), number)
	}
	if err == nil {
		_, err = h.conn.ExecContext(ctx, "COMMIT")
	}
	if err != nil {
		h.conn.ExecContext(ctx, "ROLLBACK")
	}
	return err
}

// keep begins to hold the right, if the last word of who holds it is ours. It returns
// false and no error where another try may do better.
func (h *hold) keep(ctx context.Context, number int64) (held bool, err error) {
	_, err = h.conn.ExecContext(ctx, "BEGIN IMMEDIATE")
	busy := isBusy(err)
	if err != nil && !busy {
		return false, err
	}
	var gotPID int
	var gotNumber int64
	scanErr := h.conn.QueryRowContext(ctx, "SELECT pid, number FROM writer").Scan(&gotPID, &gotNumber)
	ours := scanErr == nil && gotPID == os.Getpid() && gotNumber == number
	switch {
	case !busy && ours:
		return true, nil
	case !busy:
		h.conn.ExecContext(ctx, "ROLLBACK")
		return false, scanErr
	case ours:
		return false, nil // whoever has it will find that the word is not theirs
	}
	return false, err
}

// read reads who holds the right.
func (h *hold) read(ctx context.Context, into *InUse) error {
	var since string
	err := h.conn.QueryRowContext(ctx, "SELECT holder, pid, since FROM writer").Scan(&into.Holder, &into.PID, &since)
	if err != nil {
		return err
	}
	into.Since, err = time.Parse(time.RFC3339Nano, since)
	return err
}

// release gives the right back. The file beside the logbook stays: were it removed,
// two processes could each hold a file of that name.
func (h *hold) release() {
	h.conn.Close()
	h.db.Close()
}

// nameBeside returns the path of a file beside the logbook whose name begins with
// the logbook's.
func nameBeside(path, ending string) string {
	return filepath.Join(filepath.Dir(path), filepath.Base(path)+"."+ending)
}
