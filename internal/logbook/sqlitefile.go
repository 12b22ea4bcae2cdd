package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	_ "modernc.org/sqlite" // the driver
	sqlite3 "modernc.org/sqlite/lib"
)

// applicationID marks a SQLite database as a logbook: "bond" as four bytes.
const applicationID = 0x626f6e64

// minSize is the size in bytes of SQLite's smallest page, and so of its smallest
// database in which there is something.
const minSize = 512

// dsn names a file to the driver: mode is one of SQLite's, "ro", "rw" or "rwc".
func dsn(path, mode string, more ...string) string {
	p := filepath.ToSlash(path)
	if !strings.HasPrefix(p, "/") { // a drive letter
		p = "/" + p
	}
	u := url.URL{Path: p}
	return "file://" + u.EscapedPath() + "?" + strings.Join(append([]string{"mode=" + mode}, more...), "&")
}

// openWriter opens the one connection that entries are written by.
func openWriter(path string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, "rwc", "_pragma=busy_timeout(5000)", "_pragma=journal_mode(WAL)",
		"_pragma=synchronous(FULL)", "_pragma=foreign_keys(1)", "_txlock=immediate", "_dqs=0", "_defensive=1"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// openReader opens a file for reading, whoever else has it open. The file is there; if
// it is too short for a database, it is *NotLogbook.
func openReader(ctx context.Context, path string) (*sql.DB, error) {
	// SQLite takes a file of a few bytes for an empty database: it would remove the
	// file with what was written last from beside it, and write over it.
	if size := sizeOf(path); size < minSize {
		what := "a file of another kind"
		if size == 0 {
			what = empty
		}
		return nil, &NotLogbook{Path: path, What: what}
	}
	db, err := trialReader(ctx, path, "ro")
	switch {
	case code(err) == sqlite3.SQLITE_READONLY_ROLLBACK:
		// A change was cut short. SQLite takes it back before it reads.
		return trialReader(ctx, path, "rw")
	case code(err)&0xff != sqlite3.SQLITE_CANTOPEN && code(err)&0xff != sqlite3.SQLITE_READONLY,
		sizeOf(path+"-wal") > 0, sizeOf(path+"-journal") > 0:
		return db, err
	}
	// On a medium that may not be written nobody writes: the file is read as it is.
	return trialReader(ctx, path, "ro", "immutable=1")
}

// trialReader opens a file and reads a little of it.
func trialReader(ctx context.Context, path, mode string, more ...string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, mode, append(more, "_pragma=busy_timeout(5000)", "_pragma=query_only(1)", "_dqs=0")...))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(4)
	var n int
	err = db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&n)
	switch code(err) & 0xff {
	case sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY:
		db.Close()
		return nil, err
	}
	return db, nil // what else may be wrong with it shows when it is read
}

// sizeOf returns the size of a file in bytes, 0 where there is none.
func sizeOf(path string) int64 {
	s, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return s.Size()
}

// querier is a connection, a transaction or a set of connections.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// identify returns the version of a logbook, 0 for a database in which there is
// nothing yet, or *NotLogbook, or *Newer.
func identify(ctx context.Context, q querier, path string) (version int, err error) {
	var id, tables int
	if err := q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return 0, err
	}
	if err := q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return 0, err
	}
	if id == applicationID {
		if version > latest {
			return version, &Newer{Path: path, Version: version, Known: latest}
		}
		if version < 1 {
			return version, &NotLogbook{Path: path, What: "a database without a version"}
		}
		return version, nil
	}
	if err := q.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables); err != nil {
		return 0, err
	}
	if id != 0 || version != 0 || tables != 0 {
		return 0, &NotLogbook{Path: path, What: "a database of another program"}
	}
	return 0, nil
}

// resolve returns the one absolute path of a file, whether it is there or not, so
// that two names of one logbook meet at the same file beside it.
func resolve(path string) (full string, there bool, err error) {
	full, err = filepath.Abs(path)
	if err != nil {
		return "", false, err
	}
	real, err := filepath.EvalSymlinks(full)
	if err == nil {
		s, err := os.Stat(real)
		if err != nil {
			return "", false, err
		}
		if !s.Mode().IsRegular() {
			return "", false, &NotLogbook{Path: real, What: "a folder or a device"}
		}
		return real, true, nil
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return "", false, err
	}
	if _, err := os.Lstat(full); err == nil {
		return "", false, fmt.Errorf("%s is a link to a file that is not there: name the file itself: %w", full, fs.ErrNotExist)
	}
	folder, err := filepath.EvalSymlinks(filepath.Dir(full))
	if err != nil {
		return "", false, fmt.Errorf("there is no folder %s: make it first: %w", filepath.Dir(full), err)
	}
	return filepath.Join(folder, filepath.Base(full)), false, nil
}

// mustBeThere resolves the path of a logbook that is to be read.
func mustBeThere(path string) (string, error) {
	full, there, err := resolve(path)
	if err != nil {
		return "", err
	}
	if !there {
		return "", &fs.PathError{Op: "there is no logbook, name one that is there: open", Path: full, Err: fs.ErrNotExist}
	}
	return full, nil
}

// syncFolder makes renamed files in a folder last through a power cut, where the
// system knows such a thing.
func syncFolder(file string) {
	if d, err := os.Open(filepath.Dir(file)); err == nil {
		d.Sync()
		d.Close()
	}
}
