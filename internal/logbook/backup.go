package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"modernc.org/sqlite"
)

// Backup writes a copy of the logbook to a new file while it stays open, and reads
// the copy back ([Check]) before it gets its name. It returns an error that is
// fs.ErrExist where there is a file of that name. The copy holds all entries of one
// moment, and is one plain file.
func (l *Logbook) Backup(ctx context.Context, to string) error {
	_, err := backup(ctx, l.read, l.path, to)
	return err
}

// Backup writes a copy of a logbook that another process may have open, as
// [Logbook.Backup] does.
func Backup(ctx context.Context, path, to string) error {
	path, err := mustBeThere(path)
	if err != nil {
		return explained("backing up", path, err)
	}
	db, err := openReader(ctx, path)
	if err != nil {
		return explained("backing up", path, err)
	}
	defer db.Close()
	if version, err := identify(ctx, db, path); err != nil {
		return explained("backing up", path, err)
	} else if version == 0 {
		return explained("backing up", path, &NotLogbook{Path: path, What: empty})
	}
	_, err = backup(ctx, db, path, to)
	return err
}

// backup copies, checks and names.
func backup(ctx context.Context, db *sql.DB, path, to string) (Report, error) {
	to, err := filepath.Abs(to)
	if err != nil {
		return Report{}, explained("backing up", path, err)
	}
	if _, err := os.Lstat(to); err == nil {
		return Report{}, exists(to)
	}
	part, report, err := copyBeside(ctx, db, path, to)
	if err != nil {
		return Report{}, err
	}
	defer os.Remove(part)
	if err := giveName(part, to); err != nil {
		return Report{}, explained("backing up", to, err)
	}
	report.Path = to
	return report, nil
}

func exists(to string) error {
	return &fs.PathError{Op: "there is a file already, name a new one: back up to", Path: to, Err: fs.ErrExist}
}

// copyBeside writes a checked copy of a logbook under a passing name in the folder
// of another file, and returns that name. After an error nothing is left.
func copyBeside(ctx context.Context, db *sql.DB, path, to string) (part string, report Report, err error) {
	f, err := os.CreateTemp(filepath.Dir(to), filepath.Base(to)+".part-*")
	if err != nil {
		return "", Report{}, explained("writing a copy", to, err)
	}
	part = f.Name()
	defer func() {
		if err != nil {
			for _, ending := range []string{"", "-journal", "-wal", "-shm"} {
				os.Remove(f.Name() + ending)
			}
		}
	}()
	if err := f.Close(); err != nil {
		return "", Report{}, explained("writing a copy", to, err)
	}
	if s, err := os.Stat(path); err == nil {
		os.Chmod(part, s.Mode().Perm()|0o600)
	}
	if err := copyPages(ctx, db, part); err != nil {
		return "", Report{}, explained("copying "+path, to, err)
	}
	if err := makePlain(ctx, part); err != nil {
		return "", Report{}, explained("writing a copy", to, err)
	}
	if report, err = Check(ctx, part); err == nil {
		err = report.Err()
	}
	if err != nil {
		return "", Report{}, fmt.Errorf("reading back a copy of %s: %w", path, err)
	}
	if err := syncFile(part); err != nil {
		return "", Report{}, explained("writing a copy", to, err)
	}
	return part, report, nil
}

// copyPages copies one state of a database, some pages at a time.
func copyPages(ctx context.Context, db *sql.DB, to string) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	// What is copied is what this transaction sees, whatever is written meanwhile.
	tx, err := conn.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback()
	var n int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&n); err != nil {
		return err
	}
	return conn.Raw(func(c any) error {
		b, err := c.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		}).NewBackup(dsn(to, "rw", "_pragma=synchronous(FULL)"))
		if err != nil {
			return err
		}
		for more := true; more && err == nil; {
			if err = ctx.Err(); err == nil {
				more, err = b.Step(1000)
			}
			if isBusy(err) {
				time.Sleep(10 * time.Millisecond)
				err = nil
			}
		}
		return errors.Join(err, b.Finish())
	})
}

// makePlain turns a database that nobody else has open into one file that needs none
// beside it.
func makePlain(ctx context.Context, path string) error {
	db, err := sql.Open("sqlite", dsn(path, "rw", "_pragma=busy_timeout(500)", "_pragma=synchronous(FULL)"))
	if err != nil {
		return err
	}
	defer db.Close()
	var mode string
	if err := db.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode); err != nil {
		return err
	}
	if mode != "delete" {
		return fmt.Errorf("%s stays in mode %s: make sure that nobody has it open", path, mode)
	}
	return nil
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// giveName gives a file a name that no file has yet.
func giveName(part, to string) error {
	err := os.Link(part, to)
	switch {
	case err == nil:
		os.Remove(part)
	case errors.Is(err, fs.ErrExist):
		return exists(to)
	default: // the file system knows no second names
		if _, err := os.Lstat(to); err == nil {
			return exists(to)
		}
		if err := os.Rename(part, to); err != nil {
			return err
		}
	}
	syncFolder(to)
	return nil
}

// secondName gives a file a further name that no file has yet, or where the file
// system knows no such thing, copies it.
func secondName(file, to string) error {
	err := os.Link(file, to)
	if err == nil || errors.Is(err, fs.ErrExist) || errors.Is(err, fs.ErrNotExist) {
		return err
	}
	in, err := os.Open(file)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	if err = errors.Join(err, out.Sync(), out.Close()); err != nil {
		os.Remove(to)
	}
	return err
}
