package logbook

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
)

// dailyKept is how many daily backups are kept.
const dailyKept = 7

// Daily makes a backup beside the logbook unless the newest one is of today, by the
// logbook's clock, or holds all there is. It returns its path, or "" where none was
// due. Of the daily backups that this logbook has made, the seven with the most
// entries stay; others are removed, unless they have been altered or renamed since.
// Files that something else made are never touched.
func (l *Logbook) Daily(ctx context.Context) (made string, err error) {
	l.dailyMu.Lock()
	defer l.dailyMu.Unlock()
	l.clearHalves()
	day := l.clock().Format("2006-01-02")
	known, err := l.dailies(ctx)
	if err != nil {
		return "", explained("making the daily backup", l.path, err)
	}
	var head int64
	if err := l.read.QueryRowContext(ctx, "SELECT seq FROM head").Scan(&head); err != nil {
		return "", explained("making the daily backup", l.path, err)
	}
	if len(known) > 0 && (known[0].day == day || known[0].seq == head) || head == 0 {
		return "", nil
	}
	made, err = freeName(nameBeside(l.path, "daily-"+day))
	if err != nil {
		return "", explained("making the daily backup", l.path, err)
	}
	report, err := backup(ctx, l.read, l.path, made)
	if err != nil {
		return "", fmt.Errorf("making the daily backup: %w", err)
	}
	sum, err := fileSum(made)
	if err == nil {
		_, err = l.write.ExecContext(ctx, "INSERT OR REPLACE INTO daily (name, day, seq, sum) VALUES (?, ?, ?, ?)",
			filepath.Base(made), day, report.Last, sum)
	}
	if err == nil {
		err = l.pruneDaily(ctx)
	}
	return made, explained("noting the daily backup", l.path, err)
}

// half matches what a daily backup is called while it is made.
var half = regexp.MustCompile(`^\.daily-\d{4}-\d{2}-\d{2}[^/\\]*\.part-\d+(-journal|-wal|-shm)?$`)

// clearHalves removes daily backups that were being made when the program was killed.
// Whoever has the right to write is alone in making them.
func (l *Logbook) clearHalves() {
	entries, err := os.ReadDir(filepath.Dir(l.path))
	if err != nil {
		return // nothing depends on it
	}
	for _, e := range entries {
		if rest, ok := strings.CutPrefix(e.Name(), filepath.Base(l.path)); ok && e.Type().IsRegular() && half.MatchString(rest) {
			os.Remove(filepath.Join(filepath.Dir(l.path), e.Name()))
		}
	}
}

// daily is a daily backup that has been made and is still there.
type daily struct {
	id   int64
	name string
	day  string
	seq  int64
	sum  string
}

// dailies returns the daily backups of this logbook that are there, the one with the
// last entry first.
func (l *Logbook) dailies(ctx context.Context) ([]daily, error) {
	rows, err := l.write.QueryContext(ctx, "SELECT id, name, day, seq, sum FROM daily ORDER BY seq DESC, id DESC")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var there []daily
	for rows.Next() {
		var d daily
		if err := rows.Scan(&d.id, &d.name, &d.day, &d.seq, &d.sum); err != nil {
			return nil, err
		}
		// A logbook that was copied knows the backups of the one it was copied from.
		if !strings.HasPrefix(d.name, filepath.Base(l.path)+".daily-") || strings.ContainsAny(d.name, `/\`) {
			continue
		}
		if s, err := os.Lstat(l.dailyPath(d)); err == nil && s.Mode().IsRegular() {
			there = append(there, d)
		}
	}
	return there, rows.Err()
}

func (l *Logbook) dailyPath(d daily) string { return filepath.Join(filepath.Dir(l.path), d.name) }

// pruneDaily removes the daily backups beyond those that are kept.
func (l *Logbook) pruneDaily(ctx context.Context) error {
	there, err := l.dailies(ctx)
	if err != nil {
		return err
	}
	for i, d := range there {
		if i < dailyKept {
			continue
		}
		sum, err := fileSum(l.dailyPath(d))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if err == nil && sum == d.sum {
			if err := os.Remove(l.dailyPath(d)); err != nil {
				return err
			}
		}
		// One that has been altered belongs to whoever did that.
		if _, err := l.write.ExecContext(ctx, "DELETE FROM daily WHERE id = ?", d.id); err != nil {
			return err
		}
	}
	return nil
}

func fileSum(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
