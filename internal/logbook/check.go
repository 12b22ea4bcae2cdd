package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"time"

	sqlite3 "modernc.org/sqlite/lib"
)

// Report is what Check found.
type Report struct {
	Path     string
	Version  int
	Entries  int
	Trials   int
	Files    int
	Last     int64     // Seq of the last entry; 0: none
	LastAt   time.Time // zero: none
	Sum      string    // of the last entry, which stands for all before it too; "": none
	Problems []Problem // empty when all is as it was written; at most 100
}

// Problem is one thing that is not as it was written.
type Problem struct {
	Seq  int64  // the entry; 0: none in particular
	File string // the sum of the file; "": none in particular
	What string
}

// String returns the problem with what it is about.
func (p Problem) String() string {
	switch {
	case p.Seq != 0:
		return fmt.Sprintf("entry %d: %s", p.Seq, p.What)
	case p.File != "":
		return fmt.Sprintf("file %s: %s", p.File, p.What)
	}
	return p.What
}

// Err returns nil where there are no problems, and *Damaged with them otherwise.
func (r Report) Err() error {
	if len(r.Problems) == 0 {
		return nil
	}
	return &Damaged{Path: r.Path, Problems: r.Problems}
}

const maxProblems = 100

// Check reads a whole logbook and reports what is not as it was written: pages of the
// file, its tables and their rules, the order, the fields and the sums of all
// entries, what replaces and undoes what, who holds which claim, and every file. It
// writes nothing, sees one state of the logbook, and works while another process
// writes. It returns an error, and not a report, where there is nothing to check:
// no file, *NotLogbook, *Newer, or a file that may not be read.
func Check(ctx context.Context, path string) (Report, error) {
	path, err := mustBeThere(path)
	if err != nil {
		return Report{}, explained("checking", path, err)
	}
	db, err := openReader(ctx, path)
	if err != nil {
		return Report{}, explained("checking", path, err)
	}
	defer db.Close()
	c := &checking{ctx: ctx, r: Report{Path: path}}
	if err := c.run(db); err != nil {
		return Report{}, explained("checking", path, err)
	}
	return c.r, nil
}

type checking struct {
	ctx context.Context
	tx  *sql.Tx
	r   Report
}

func (c *checking) found(p Problem) {
	if len(c.r.Problems) < maxProblems {
		c.r.Problems = append(c.r.Problems, p)
	}
}

func (c *checking) run(db *sql.DB) error {
	tx, err := db.BeginTx(c.ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback()
	c.tx = tx
	c.r.Version, err = identify(c.ctx, tx, c.r.Path)
	if err == nil && c.r.Version == 0 {
		return &NotLogbook{Path: c.r.Path, What: empty}
	}
	if unreadable(err) {
		c.found(Problem{What: err.Error()})
		return nil
	}
	if err != nil {
		return err
	}
	for _, step := range []func() error{c.pages, c.rules, c.entries, c.files} {
		if err := step(); unreadable(err) {
			c.found(Problem{What: err.Error()})
		} else if err != nil {
			return err
		}
	}
	return nil
}

// unreadable tells an error that says how the file is from one of another kind.
func unreadable(err error) bool {
	switch code(err) & 0xff {
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_ERROR, sqlite3.SQLITE_MISMATCH:
		return true
	}
	return false
}

// pages compares the size of the file with what it says of it, and lets SQLite check
// its own structure.
func (c *checking) pages() error {
	var says int64
	if err := c.tx.QueryRowContext(c.ctx, "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size").Scan(&says); err != nil {
		return err
	}
	// What is still in the file beside it stays there at least until this has ended.
	if wal, err := os.Stat(c.r.Path + "-wal"); err != nil || wal.Size() == 0 {
		if s, err := os.Stat(c.r.Path); err != nil {
			return err
		} else if s.Size() < says {
			c.found(Problem{What: fmt.Sprintf("the file has %d bytes and should have %d: its end is missing", s.Size(), says)})
		}
	}
	rows, err := c.tx.QueryContext(c.ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var said string
		if err := rows.Scan(&said); err != nil {
			return err
		}
		if said != "ok" {
			c.found(Problem{What: said})
		}
	}
	return rows.Err()
}

// rules compares tables, indexes and triggers with those that the migrations make.
// What somebody added, such as a view, is left alone.
func (c *checking) rules() error {
	made, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return err
	}
	defer made.Close()
	made.SetMaxOpenConns(1)
	if err := migrate(c.ctx, made, 0, c.r.Version); err != nil {
		return err
	}
	want, err := schema(c.ctx, made)
	if err != nil {
		return err
	}
	got, err := schema(c.ctx, c.tx)
	if err != nil {
		return err
	}
	for _, name := range want.names {
		if got.sql[name] == "" && want.sql[name] != "" {
			c.found(Problem{What: fmt.Sprintf("the %s is missing", name)})
		} else if got.sql[name] != want.sql[name] {
			c.found(Problem{What: fmt.Sprintf("the %s has been altered", name)})
		}
	}
	return nil
}

type schemaText struct {
	names []string
	sql   map[string]string
}

func schema(ctx context.Context, q querier) (schemaText, error) {
	s := schemaText{sql: make(map[string]string)}
	rows, err := q.QueryContext(ctx, "SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_schema ORDER BY rowid")
	if err != nil {
		return s, err
	}
	defer rows.Close()
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return s, err
		}
		s.names = append(s.names, name)
		s.sql[name] = text
	}
	return s, rows.Err()
}

// entries goes along the chain, then looks at what acts on what.
func (c *checking) entries() error {
	var before row
	var all []Entry // without contents
	trials := make(map[string]bool)
	err := eachEntry(c.ctx, c.tx, c.r.Version, "ORDER BY seq", nil, func(r row) error {
		c.entry(&before, &r)
		before = r
		c.r.Entries++
		if r.Trial != "" {
			trials[r.Trial] = true
		}
		all = append(all, Entry{Seq: r.Seq, Trial: r.Trial, Replaces: r.Replaces, Undoes: r.Undoes, Claim: r.Claim})
		return nil
	})
	c.r.Trials, c.r.Last, c.r.LastAt, c.r.Sum = len(trials), before.Seq, before.At, before.sum
	if err != nil {
		return err
	}
	var damaged *Damaged
	if _, err := last(c.ctx, c.tx, c.r.Path); errors.As(err, &damaged) {
		c.found(damaged.Problems[0])
	} else if code(err) != 0 {
		return err
	} else if errors.Is(err, sql.ErrNoRows) {
		c.found(Problem{What: "what the last entry should be is missing"})
	}
	c.actions(all)
	return nil
}

// entry checks one entry against the one before it.
func (c *checking) entry(before, r *row) {
	switch missing := r.Seq - before.Seq - 1; {
	case missing == 1:
		c.found(Problem{Seq: r.Seq - 1, What: "it is missing"})
	case missing != 0:
		c.found(Problem{Seq: before.Seq + 1, What: fmt.Sprintf("it and all up to entry %d are missing", r.Seq-1)})
	}
	if entrySum(before.sum, r) != r.sum {
		c.found(Problem{Seq: r.Seq, What: "it or the one before it is not as it was written: its sum differs"})
	}
	if err := r.parse(); err != nil {
		c.found(Problem{Seq: r.Seq, What: "its time cannot be read"})
		return
	}
	if before.Seq != 0 && before.Seq == r.Seq-1 && r.Behind != max(0, before.At.Sub(r.At)) {
		c.found(Problem{Seq: r.Seq, What: "how far the clock was behind the entry before it is wrong"})
	}
}

// actions checks that what is replaced or undone is of the same trial and only once,
// and that no claim is held twice.
func (c *checking) actions(all []Entry) {
	bySeq := make(map[int64]*Entry, len(all))
	for i := range all {
		bySeq[all[i].Seq] = &all[i]
	}
	actor := make(map[int64]int64)
	undone := make(map[int64]bool)
	for i := len(all) - 1; i >= 0; i-- {
		e := &all[i]
		target := max(e.Replaces, e.Undoes)
		if target == 0 {
			continue
		}
		t := bySeq[target]
		if t == nil || t.Trial != e.Trial {
			c.found(Problem{Seq: e.Seq, What: fmt.Sprintf("it replaces or undoes entry %d, which is not in its trial", target)})
		}
		if undone[e.Seq] {
			continue
		}
		if other := actor[target]; other != 0 {
			c.found(Problem{Seq: target, What: fmt.Sprintf("entries %d and %d both replace or undo it", e.Seq, other)})
		}
		actor[target] = e.Seq
		undone[target] = undone[target] || e.Undoes != 0
	}
	type name struct{ trial, claim string }
	holder := make(map[name]int64)
	for _, e := range Live(all) {
		if e.Claim == "" {
			continue
		}
		n := name{e.Trial, e.Claim}
		if first := holder[n]; first != 0 {
			c.found(Problem{Seq: e.Seq, What: fmt.Sprintf("it holds %q, which entry %d holds too", e.Claim, first)})
		}
		holder[n] = e.Seq
	}
}

// files unpacks every file and compares it with its sum.
func (c *checking) files() error {
	if c.r.Version < versionFiles {
		return nil
	}
	rows, err := c.tx.QueryContext(c.ctx, `SELECT sum, size, form, content,
		EXISTS (SELECT 1 FROM entry_file e WHERE e.sum = file.sum) FROM file ORDER BY id`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var sum, form string
		var size int64
		var kept sql.RawBytes
		var named bool
		if err := rows.Scan(&sum, &size, &form, &kept, &named); err != nil {
			return err
		}
		c.r.Files++
		if _, err := openFile(form, kept, size, sum); err != nil {
			c.found(Problem{File: sum, What: err.Error()})
		}
		if !named {
			c.found(Problem{File: sum, What: "it belongs to no entry"})
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	return c.dangling()
}

// dangling finds files that entries name and that are not there, and names of files
// of entries that are not there.
func (c *checking) dangling() error {
	rows, err := c.tx.QueryContext(c.ctx, `SELECT seq, sum, sum NOT IN (SELECT sum FROM file) FROM entry_file
		WHERE sum NOT IN (SELECT sum FROM file) OR seq NOT IN (SELECT seq FROM entry) ORDER BY seq, place`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var seq int64
		var sum string
		var noFile bool
		if err := rows.Scan(&seq, &sum, &noFile); err != nil {
			return err
		}
		if noFile {
			c.found(Problem{Seq: seq, What: "its file " + sum + " is missing"})
		} else {
			c.found(Problem{Seq: seq, What: "it is missing, and its file " + sum + " is there"})
		}
	}
	return rows.Err()
}
