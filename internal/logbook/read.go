package logbook

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/klauspost/compress/zstd"
)

const entryColumns = `SELECT seq, at, behind_ns, trial, kind, subject, content, by_whom, device, said, key,
  coalesce(replaces, 0), coalesce(undoes, 0), claim, sum FROM entry `

func scanEntry(scan func(...any) error) (row, error) {
	var r row
	var content string
	var behind int64
	err := scan(&r.Seq, &r.at, &behind, &r.Trial, &r.Kind, &r.Subject, &content, &r.By, &r.Device, &r.said, &r.Key,
		&r.Replaces, &r.Undoes, &r.Claim, &r.sum)
	r.Behind = time.Duration(behind)
	r.Content = json.RawMessage(content)
	return r, err
}

// Entries returns the entries of a trial whose Seq is greater than after, in order of
// Seq.
func (l *Logbook) Entries(ctx context.Context, trial string, after int64) ([]Entry, error) {
	return l.entries(ctx, "WHERE trial = ? AND seq > ? ORDER BY seq", trial, after)
}

// Since returns the entries of all trials and of the logbook at large whose Seq is
// greater than after, in order of Seq.
func (l *Logbook) Since(ctx context.Context, after int64) ([]Entry, error) {
	return l.entries(ctx, "WHERE seq > ? ORDER BY seq", after)
}

func (l *Logbook) entries(ctx context.Context, where string, args ...any) ([]Entry, error) {
	var entries []Entry
	err := l.reading(ctx, func(tx *sql.Tx) error {
		return eachEntry(ctx, tx, l.version, where, args, func(r row) error {
			if err := r.parse(); err != nil {
				return &Damaged{Path: l.path, Problems: []Problem{{Seq: r.Seq, What: err.Error()}}}
			}
			entries = append(entries, r.Entry)
			return nil
		})
	})
	if err != nil {
		return nil, explained("reading entries", l.path, err)
	}
	return entries, nil
}

// reading runs f on one state of the logbook.
func (l *Logbook) reading(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := l.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return f(tx)
}

// eachEntry calls f with each entry, its files with it, its times still texts. The
// where clause ends in an order by seq.
func eachEntry(ctx context.Context, q querier, version int, where string, args []any, f func(row) error) error {
	files := func(int64) ([]FileRef, error) { return nil, nil }
	if version >= versionFiles {
		refs, err := q.QueryContext(ctx, `SELECT e.seq, e.role, e.name, e.media_type, coalesce(f.size, -1), e.sum
			FROM entry_file e LEFT JOIN file f ON f.sum = e.sum
			WHERE e.seq IN (SELECT seq FROM entry `+where+`) ORDER BY e.seq, e.place`, args...)
		if err != nil {
			return err
		}
		defer refs.Close()
		files = filesInOrder(refs)
	}
	rows, err := q.QueryContext(ctx, entryColumns+where, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		r, err := scanEntry(rows.Scan)
		if err != nil {
			return err
		}
		if r.Files, err = files(r.Seq); err != nil {
			return err
		}
		if err := f(r); err != nil {
			return err
		}
	}
	return rows.Err()
}

// filesInOrder returns a function that is called with one Seq after another and
// returns the files of each.
func filesInOrder(rows *sql.Rows) func(seq int64) ([]FileRef, error) {
	var next FileRef
	var of int64
	advance := func() error {
		of = 0
		if !rows.Next() {
			return rows.Err()
		}
		return rows.Scan(&of, &next.Role, &next.Name, &next.MediaType, &next.Size, &next.Sum)
	}
	begun := false
	return func(seq int64) ([]FileRef, error) {
		if !begun {
			begun = true
			if err := advance(); err != nil {
				return nil, err
			}
		}
		var files []FileRef
		for of != 0 && of <= seq {
			if of == seq {
				files = append(files, next)
			}
			if err := advance(); err != nil {
				return nil, err
			}
		}
		return files, nil
	}
}

// Trials returns the trials that entries name, in order of first mention.
func (l *Logbook) Trials(ctx context.Context) ([]string, error) {
	trials, err := trialsOf(ctx, l.read)
	if err != nil {
		return nil, explained("reading the trials", l.path, err)
	}
	return trials, nil
}

func trialsOf(ctx context.Context, q querier) ([]string, error) {
	rows, err := q.QueryContext(ctx, "SELECT trial FROM entry WHERE trial <> '' GROUP BY trial ORDER BY min(seq)")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var trials []string
	for rows.Next() {
		var trial string
		if err := rows.Scan(&trial); err != nil {
			return nil, err
		}
		trials = append(trials, trial)
	}
	return trials, rows.Err()
}

// Entry returns one entry, or *NoEntry.
func (l *Logbook) Entry(ctx context.Context, seq int64) (Entry, error) {
	var e Entry
	err := l.reading(ctx, func(tx *sql.Tx) (err error) {
		e, err = entryIn(ctx, tx, l.version, seq)
		return err
	})
	return e, explained("reading an entry", l.path, err)
}

func entryIn(ctx context.Context, q querier, version int, seq int64) (Entry, error) {
	var found *row
	err := eachEntry(ctx, q, version, "WHERE seq = ? ORDER BY seq", []any{seq}, func(r row) error {
		found = &r
		return r.parse()
	})
	if err != nil {
		return Entry{}, err
	}
	if found == nil {
		return Entry{}, &NoEntry{Seq: seq}
	}
	return found.Entry, nil
}

// File returns the content of a file as it came, and the name under which it came
// first. A file that no longer has its sum is *Damaged, one that is not there
// *NoFile.
func (l *Logbook) File(ctx context.Context, sum string) ([]byte, FileRef, error) {
	var content []byte
	ref := FileRef{Sum: sum}
	err := l.reading(ctx, func(tx *sql.Tx) error {
		var form string
		err := tx.QueryRowContext(ctx, `SELECT f.size, f.form, f.content, e.role, e.name, e.media_type
			FROM file f JOIN entry_file e ON e.sum = f.sum WHERE f.sum = ? ORDER BY e.seq, e.place LIMIT 1`, sum).
			Scan(&ref.Size, &form, &content, &ref.Role, &ref.Name, &ref.MediaType)
		if errors.Is(err, sql.ErrNoRows) {
			return &NoFile{Sum: sum}
		}
		if err != nil {
			return err
		}
		content, err = openFile(form, content, ref.Size, sum)
		if err != nil {
			return &Damaged{Path: l.path, Problems: []Problem{{File: sum, What: err.Error()}}}
		}
		return nil
	})
	if err != nil {
		return nil, FileRef{}, explained("reading a file", l.path, err)
	}
	return content, ref, nil
}

// Forms in which files are kept.
const (
	plain  = "plain"
	packed = "zstd"
)

var (
	pack, _   = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1))
	unpack, _ = zstd.NewReader(nil, zstd.WithDecoderConcurrency(0), zstd.WithDecoderMaxMemory(MaxFile))
)

// closeFile returns the form in which a content is kept, and the content in it.
func closeFile(content []byte) (form string, kept []byte) {
	if kept = pack.EncodeAll(content, nil); len(kept) < len(content) {
		return packed, kept
	}
	return plain, content
}

// openFile returns a content as it came, verified.
func openFile(form string, kept []byte, size int64, sum string) ([]byte, error) {
	content := kept
	if form == packed {
		var err error
		if content, err = unpack.DecodeAll(kept, nil); err != nil {
			return nil, fmt.Errorf("the file cannot be unpacked: %w", err)
		}
	}
	if int64(len(content)) != size || contentSum(content) != sum {
		return nil, errors.New("the file is not what came in: its sum differs")
	}
	if content == nil {
		content = []byte{}
	}
	return content, nil
}
