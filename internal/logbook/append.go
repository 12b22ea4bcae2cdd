package logbook

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Append writes drafts as entries, all or none, and returns them in the same order.
// When it returns without an error they are on the disk to stay. A draft whose key
// and content are those of an earlier entry is not written again: its place in the
// result has the earlier entry. All drafts of one call get the same time.
//
// It returns *Taken, *Superseded, *KeyUsed or *NoEntry where a draft does not go with
// what stands in the logbook, ErrFull or ErrReadOnly where it cannot be written, and
// *Damaged where the end of the logbook is missing. Cancelling ctx ends the wait for
// the turn to write, and never the writing itself.
func (l *Logbook) Append(ctx context.Context, drafts ...Draft) ([]Entry, error) {
	if len(drafts) == 0 {
		return nil, nil
	}
	prepared := make([]prepared, len(drafts))
	for i, d := range drafts {
		var err error
		if prepared[i], err = prepare(d); err != nil {
			return nil, fmt.Errorf("appending %s: %w", label(d), err)
		}
	}
	conn, err := l.write.Conn(ctx)
	if err != nil {
		return nil, explained("appending an entry", l.path, err)
	}
	defer conn.Close()
	ctx = context.WithoutCancel(ctx)
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return nil, explained("appending an entry", l.path, err)
	}
	defer tx.Rollback()
	w := &writing{ctx: ctx, tx: tx, version: l.version, now: l.clock().Round(0)}
	if !yearFits(w.now) {
		return nil, fmt.Errorf("the clock says year %d: set it", w.now.Year())
	}
	if w.last, err = last(ctx, tx, l.path); err != nil {
		return nil, explained("appending an entry", l.path, err)
	}
	entries := make([]Entry, len(drafts))
	for i, p := range prepared {
		if entries[i], err = w.append(p); err != nil {
			return nil, explained("appending "+label(p.Draft), l.path, err)
		}
	}
	if err := tx.Commit(); err != nil {
		return nil, explained("appending an entry", l.path, err)
	}
	return entries, nil
}

func label(d Draft) string {
	if d.Subject == "" {
		return fmt.Sprintf("%q", d.Kind)
	}
	return fmt.Sprintf("%q of %s", d.Kind, d.Subject)
}

// prepared is a draft that has been checked, its files packed outside of the
// transaction.
type prepared struct {
	Draft
	refs []FileRef
	form []string
	kept [][]byte
}

func prepare(d Draft) (prepared, error) {
	d, err := d.checked()
	if err != nil {
		return prepared{}, err
	}
	p := prepared{Draft: d}
	for _, f := range d.Files {
		form, kept := closeFile(f.Content)
		if kept == nil {
			kept = []byte{}
		}
		p.refs = append(p.refs, FileRef{Role: f.Role, Name: f.Name, MediaType: f.MediaType, Size: int64(len(f.Content)), Sum: contentSum(f.Content)})
		p.form = append(p.form, form)
		p.kept = append(p.kept, kept)
	}
	return p, nil
}

// same reports whether an entry says what the draft says.
func (p *prepared) same(e *Entry) bool {
	return p.Trial == e.Trial && p.Kind == e.Kind && p.Subject == e.Subject && bytes.Equal(p.Content, e.Content) &&
		p.By == e.By && p.Replaces == e.Replaces && p.Undoes == e.Undoes && p.Claim == e.Claim && slices.Equal(p.refs, e.Files)
}

// last returns the last entry, or one with Seq 0 where there is none. An entry that
// is missing at the end is *Damaged.
func last(ctx context.Context, q querier, path string) (row, error) {
	var seq int64
	var sum string
	if err := q.QueryRowContext(ctx, "SELECT seq, sum FROM head").Scan(&seq, &sum); err != nil {
		return row{}, err
	}
	r, err := scanEntry(q.QueryRowContext(ctx, entryColumns+"ORDER BY seq DESC LIMIT 1").Scan)
	if errors.Is(err, sql.ErrNoRows) {
		r, err = row{}, nil
	} else if err == nil {
		err = r.parse()
	}
	if err != nil {
		return row{}, err
	}
	if r.Seq != seq || r.sum != sum {
		return row{}, &Damaged{Path: path, Problems: []Problem{{Seq: seq, What: fmt.Sprintf("the last entry should be %d and is %d, or has another sum", seq, r.Seq)}}}
	}
	return r, nil
}

// writing is one transaction of Append.
type writing struct {
	ctx     context.Context
	tx      *sql.Tx
	version int
	now     time.Time
	last    row
}

func (w *writing) append(p prepared) (Entry, error) {
	if p.Key != "" {
		var seq int64
		err := w.tx.QueryRowContext(w.ctx, "SELECT seq FROM entry WHERE key = ? AND key <> ''", p.Key).Scan(&seq)
		if err == nil {
			first, err := entryIn(w.ctx, w.tx, w.version, seq)
			if err == nil && !p.same(&first) {
				err = &KeyUsed{By: first}
			}
			return first, err
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return Entry{}, err
		}
	}
	s := newStanding(w)
	if err := s.mayActOn(p); err != nil {
		return Entry{}, err
	}
	r := w.next(p)
	if err := w.insert(&r, p); err != nil {
		return Entry{}, err
	}
	if err := newStanding(w).verify(r.Entry); err != nil {
		return Entry{}, err
	}
	w.last = r
	return r.Entry, nil
}

// next returns the draft as the next entry.
func (w *writing) next(p prepared) row {
	r := row{Entry: Entry{
		Seq: w.last.Seq + 1, Trial: p.Trial, Kind: p.Kind, Subject: p.Subject, Content: p.Content, By: p.By, Device: p.Device,
		Key: p.Key, Replaces: p.Replaces, Undoes: p.Undoes, Claim: p.Claim, Files: p.refs,
	}}
	r.at = timeText(w.now)
	if !p.Said.IsZero() {
		r.said = timeText(p.Said)
	}
	// What is returned is what will be read: its times come from their texts, which
	// have just been made.
	if err := r.parse(); err != nil {
		panic("logbook: a time was written that cannot be read")
	}
	if w.last.Seq > 0 {
		r.Behind = max(0, w.last.At.Sub(r.At))
	}
	r.sum = entrySum(w.last.sum, &r)
	return r
}

func (w *writing) insert(r *row, p prepared) error {
	_, err := w.tx.ExecContext(w.ctx, `INSERT INTO entry (seq, at, behind_ns, trial, kind, subject, content, by_whom, device,
		said, key, replaces, undoes, claim, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, nullif(?, 0), nullif(?, 0), ?, ?)`,
		r.Seq, r.at, int64(r.Behind), r.Trial, r.Kind, r.Subject, string(r.Content), r.By, r.Device,
		r.said, r.Key, r.Replaces, r.Undoes, r.Claim, r.sum)
	if err != nil {
		return err
	}
	for i, f := range r.Files {
		var there bool
		if err := w.tx.QueryRowContext(w.ctx, "SELECT EXISTS (SELECT 1 FROM file WHERE sum = ?)", f.Sum).Scan(&there); err != nil {
			return err
		}
		if !there {
			if _, err := w.tx.ExecContext(w.ctx, "INSERT INTO file (sum, size, form, content) VALUES (?, ?, ?, ?)",
				f.Sum, f.Size, p.form[i], p.kept[i]); err != nil {
				return err
			}
		}
		if _, err := w.tx.ExecContext(w.ctx, "INSERT INTO entry_file (seq, place, role, name, media_type, sum) VALUES (?, ?, ?, ?, ?, ?)",
			r.Seq, i, f.Role, f.Name, f.MediaType, f.Sum); err != nil {
			return err
		}
	}
	return nil
}
