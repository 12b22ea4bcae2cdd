package record

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/table"
)

// firstClaim is held by the first entry of a trial, or by what corrects it.
const firstClaim = "trial"

// Item is one of several entries that are written together.
type Item struct {
	Subject string
	Content Content
	Files   []logbook.File
	Said    time.Time // when it happened, where that is not when all of them are said
}

// begin waits for the turn to write. Cancelling ctx ends the wait.
func (b *Book) begin(ctx context.Context) error {
	select {
	case b.turn <- struct{}{}:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("waiting to write: %w", ctx.Err())
	}
}

func (b *Book) end() { <-b.turn }

func draft(who Who, id, subject string, c Content) (logbook.Draft, error) {
	content, err := json.Marshal(c)
	if err != nil {
		return logbook.Draft{}, fmt.Errorf("writing down: %w", err)
	}
	return logbook.Draft{Trial: id, Kind: c.kind(), Subject: subject, Content: content, By: who.By, Device: who.Device, Said: who.Said, Key: who.Key,
		Claim: c.claim(subject)}, nil
}

// write appends drafts of one trial and tells subscribers. The turn is held.
func (b *Book) write(ctx context.Context, id string, drafts ...logbook.Draft) ([]Entry, error) {
	written, err := b.log.Append(ctx, drafts...)
	if err != nil {
		return nil, err
	}
	b.mu.Lock()
	m, ok := b.trials[id]
	if !ok {
		m = new(shelfmark)
		b.trials[id] = m
		b.order = append(b.order, id)
	}
	b.mu.Unlock()
	m.mu.Lock()
	m.stale = true
	m.mu.Unlock()
	// The entries are on the disk to stay, whether or not they can be read again now:
	// if not, whoever looks at the trial next is told.
	t, _ := b.refresh(context.WithoutCancel(ctx), id, m)
	entries := read(written)
	for _, e := range entries {
		b.tell(t, e)
	}
	return entries, nil
}

// wrote reports whether an entry of the trial has a key.
func (t *Trial) wrote(key string) bool {
	return key != "" && slices.ContainsFunc(t.Entries, func(e Entry) bool { return e.Key == key })
}

// live reports whether an entry counts.
func (t *Trial) live(seq int64) bool {
	return slices.ContainsFunc(t.Entries, func(e Entry) bool { return e.Seq == seq && e.Live })
}

// New writes the first entry of a trial and returns its name in the logbook.
func (b *Book) New(ctx context.Context, who Who, a Asked) (string, error) {
	return b.open(ctx, who, a, nil, nil)
}

// open begins a trial with its first entry and others. The name is made from the
// question's and is free; where the first entry was written before, with the same
// key, it is that one's.
func (b *Book) open(ctx context.Context, who Who, a Asked, files []logbook.File, others []Item) (string, error) {
	a = tidied(a).(Asked)
	if err := a.check(); err != nil {
		return "", err
	}
	if err := b.begin(ctx); err != nil {
		return "", err
	}
	defer b.end()
	for n := 1; ; n++ {
		id := Slug(a.Name)
		if n > 1 {
			id = fmt.Sprintf("%s-%d", id, n)
		}
		sentBefore := false
		if m := b.mark(id); m != nil {
			t, err := b.refresh(ctx, id, m)
			if err != nil {
				return "", err
			}
			if sentBefore = t.wrote(who.Key); !sentBefore {
				continue
			}
		}
		first, err := draft(who, id, "", a)
		if err != nil {
			return "", err
		}
		first.Claim, first.Files = firstClaim, files
		drafts := []logbook.Draft{first}
		if !sentBefore { // all were written in one go
			more, err := drafted(who, id, others, "")
			if err != nil {
				return "", err
			}
			drafts = append(drafts, more...)
		}
		entries, err := b.write(ctx, id, drafts...)
		if err != nil {
			return "", b.conflict(ctx, "", err)
		}
		return entries[0].Trial, nil
	}
}

// drafted makes drafts of items. Their keys are key with a number each; empty: none.
func drafted(who Who, id string, items []Item, key string) ([]logbook.Draft, error) {
	var out []logbook.Draft
	said := who.Said
	for i, it := range items {
		who.Key, who.Said = "", said
		if !it.Said.IsZero() {
			who.Said = it.Said
		}
		if key != "" {
			who.Key = fmt.Sprintf("%s.%d", key, i)
		}
		d, err := draft(who, id, it.Subject, it.Content)
		if err != nil {
			return nil, err
		}
		d.Files = it.Files
		out = append(out, d)
	}
	return out, nil
}

// Add writes an entry about a subject of a trial; the empty trial is the logbook at
// large. The error is a *Refused where the content cannot be right, a *Conflict where
// something is recorded already, and of package logbook else. An entry whose key was
// written before is that entry, whatever was written since.
func (b *Book) Add(ctx context.Context, who Who, id, subject string, c Content, files ...logbook.File) (Entry, error) {
	entries, err := b.add(ctx, who, id, who.Key, []Item{{Subject: subject, Content: c, Files: files}})
	if err != nil {
		return Entry{}, err
	}
	return entries[0], nil
}

// AddAll writes entries of a trial in one go, all or none, with one time of writing.
// Errors are those of Add. Sent again with the same key and the same items, nothing is
// written twice.
func (b *Book) AddAll(ctx context.Context, who Who, id string, items []Item) ([]Entry, error) {
	if len(items) == 0 {
		return nil, nil
	}
	if who.Key != "" {
		who.Key += ".0"
	}
	return b.add(ctx, who, id, who.Key, items)
}

// add writes items; key is that of the first.
func (b *Book) add(ctx context.Context, who Who, id, key string, items []Item) ([]Entry, error) {
	items = slices.Clone(items)
	for i := range items {
		it := &items[i]
		it.Subject, it.Content = table.Name(it.Subject), tidied(it.Content)
		if err := errors.Join(text("subject", it.Subject, 2*longestName+1), it.Content.check()); err != nil {
			return nil, err
		}
		if err := b.agrees(ctx, it.Content); err != nil {
			return nil, err
		}
	}
	t, end, err := b.reading(ctx, id)
	if err != nil {
		return nil, err
	}
	defer end()
	if !t.wrote(key) {
		if err := t.admits(items); err != nil {
			return nil, err
		}
	}
	var drafts []logbook.Draft
	if len(items) == 1 {
		drafts, err = drafted(who, id, items, "")
		if err == nil {
			drafts[0].Key = key
		}
	} else {
		drafts, err = drafted(who, id, items, trimDot(key))
	}
	if err != nil {
		return nil, err
	}
	entries, err := b.write(ctx, id, drafts...)
	if err != nil {
		return nil, b.conflict(ctx, items[0].Subject, err)
	}
	return entries, nil
}

// trimDot returns the key of several entries of the key of the first.
func trimDot(key string) string {
	return string(bytes.TrimSuffix([]byte(key), []byte(".0")))
}

// reading waits for the turn to write and returns a trial as it stands, and what
// gives the turn back.
func (b *Book) reading(ctx context.Context, id string) (t *Trial, end func(), err error) {
	m := b.mark(id)
	if m == nil {
		return nil, nil, ErrNoTrial
	}
	if err := b.begin(ctx); err != nil {
		return nil, nil, err
	}
	if t, err = b.refresh(ctx, id, m); err != nil {
		b.end()
		return nil, nil, err
	}
	return t, b.end, nil
}

// admits returns an error where items do not go with the trial.
func (t *Trial) admits(items []Item) error {
	now := t
	var fresh []Entry
	for i, it := range items {
		if _, ok := it.Content.(Added); ok && i > 0 && len(fresh) == 0 {
			now = t
		}
		if err := now.allows(it.Subject, it.Content, 0); err != nil {
			return err
		}
		if bearsOnSpecimens(it.Content) {
			fresh = append(fresh, t.next(it.Subject, it.Content, i))
		}
		if _, ok := it.Content.(Added); ok && i < len(items)-1 {
			now = Fold(t.ID, append(slices.Clip(t.Entries), fresh...)) // what follows may be about it
		}
	}
	if len(fresh) == 0 {
		return nil
	}
	return t.stays(fresh...)
}

// next is an entry that is not written yet, the k-th from 0.
func (t *Trial) next(subject string, c Content, k int) Entry {
	var last int64
	if n := len(t.Entries); n > 0 {
		last = t.Entries[n-1].Seq
	}
	e := Entry{Content: c}
	e.Trial, e.Kind, e.Subject, e.Seq = t.ID, c.kind(), subject, last+1+int64(k)
	return e
}

func bearsOnSpecimens(c Content) bool {
	switch c.(type) {
	case Planned, Added, Glued, Broken, TookBack:
		return true
	}
	return false
}

// Correct writes an entry that takes the place of another. Files of the earlier one
// are kept where the new one brings none, and so is where a reading of a table came
// from.
func (b *Book) Correct(ctx context.Context, who Who, id string, seq int64, c Content, files ...logbook.File) (Entry, error) {
	c = tidied(c)
	old, err := b.entry(ctx, id, seq)
	if err != nil {
		return Entry{}, err
	}
	if old.Kind != c.kind() || old.Content == nil {
		return Entry{}, refuse("", "entry %d is no such entry: it cannot be corrected by this one", seq)
	}
	if was, ok := old.Content.(Broken); ok {
		now := c.(Broken)
		now.Joint, now.GlueOrder, now.BreakOrder, now.Line = was.Joint, was.GlueOrder, was.BreakOrder, was.Line
		c = now
	}
	if err := c.check(); err != nil {
		return Entry{}, err
	}
	if err := b.agrees(ctx, c); err != nil {
		return Entry{}, err
	}
	t, end, err := b.reading(ctx, id)
	if err != nil {
		return Entry{}, err
	}
	defer end()
	if t.live(seq) && !t.wrote(who.Key) {
		if err := t.allows(old.Subject, c, seq); err != nil {
			return Entry{}, err
		}
		if bearsOnSpecimens(c) {
			e := t.next(old.Subject, c, 0)
			e.Replaces = seq
			if err := t.stays(e); err != nil {
				return Entry{}, err
			}
		}
	}
	d, err := draft(who, id, old.Subject, c)
	if err != nil {
		return Entry{}, err
	}
	d.Replaces, d.Files = seq, files
	if old.Claim == firstClaim {
		d.Claim = firstClaim
	}
	return b.writeOne(ctx, id, d)
}

// Undo takes an entry back. Undoing that entry in turn brings it back. What was seen
// or done at the bench cannot be lost by it: see *Refused.
func (b *Book) Undo(ctx context.Context, who Who, id string, seq int64, why string) (Entry, error) {
	c := TookBack{Why: lines(why)}
	if err := c.check(); err != nil {
		return Entry{}, err
	}
	old, err := b.entry(ctx, id, seq)
	if err != nil {
		return Entry{}, err
	}
	t, end, err := b.reading(ctx, id)
	if err != nil {
		return Entry{}, err
	}
	defer end()
	if t.live(seq) && !t.wrote(who.Key) {
		if err := t.allowsUndo(old); err != nil {
			return Entry{}, err
		}
		e := t.next(old.Subject, c, 0)
		e.Undoes = seq
		if err := t.stays(e); err != nil {
			return Entry{}, err
		}
	}
	d, err := draft(who, id, old.Subject, c)
	if err != nil {
		return Entry{}, err
	}
	d.Undoes = seq
	return b.writeOne(ctx, id, d)
}

func (b *Book) writeOne(ctx context.Context, id string, d logbook.Draft) (Entry, error) {
	entries, err := b.write(ctx, id, d)
	if err != nil {
		return Entry{}, b.conflict(ctx, d.Subject, err)
	}
	return entries[0], nil
}

func (b *Book) entry(ctx context.Context, id string, seq int64) (Entry, error) {
	e, err := b.log.Entry(ctx, seq)
	if err != nil {
		return Entry{}, err
	}
	if e.Trial != id {
		return Entry{}, refuse("", "entry %d is of another trial", seq)
	}
	return read([]logbook.Entry{e})[0], nil
}
