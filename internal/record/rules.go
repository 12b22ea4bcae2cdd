package record

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"bondtrial/internal/logbook"
	"bondtrial/internal/table"
)

// Conflict is the error of an entry that is not written because something else is
// recorded: the same specimen broken twice, or a correction of what somebody else
// has corrected meanwhile.
type Conflict struct {
	Subject  string
	Recorded Entry  // what is there
	Words    string // the same in words
	err      error
}

func (c *Conflict) Error() string { return c.Words }
func (c *Conflict) Unwrap() error { return c.err }

// conflict turns an error of the logbook about another entry into a *Conflict.
func (b *Book) conflict(ctx context.Context, subject string, err error) error {
	var taken *logbook.Taken
	var superseded *logbook.Superseded
	var used *logbook.KeyUsed
	var by logbook.Entry
	var words string
	switch {
	case errors.As(err, &taken):
		by, words = taken.By, "recorded already: %s; correct that entry, or take it back first"
	case errors.As(err, &superseded):
		by, words = superseded.By, "changed meanwhile: %s; look at the page again"
	case errors.As(err, &used):
		by, words = used.By, "sent twice with different content; the first is kept: %s"
	default:
		return err
	}
	var t *Trial
	if m := b.mark(by.Trial); m != nil {
		var terr error
		if t, terr = b.refresh(ctx, by.Trial, m); terr != nil {
			return errors.Join(err, terr)
		}
	}
	e := read([]logbook.Entry{by})[0]
	said := Words(t, e) + ", " + ByWords(t, e)
	if subject != "" {
		said = subject + ": " + said
	}
	return &Conflict{Subject: subject, Recorded: e, Words: fmt.Sprintf(words, said), err: err}
}

// allows returns an error where the content does not go with the trial. What other
// entries forbid (a second break) is for the logbook, which decides in one go, and
// what the trial would come to for stays.
func (t *Trial) allows(subject string, c Content, replaces int64) error {
	switch c := c.(type) {
	case Glued:
		return t.known(subject)
	case Broken:
		return t.allowsBreak(subject, c, replaces)
	case Planned:
		if n := t.CountGlued() + t.CountSpoiled() + t.CountBroken(); n > 0 {
			return refuse("", "%d specimens of the plan are glued or broken: another plan would take their labels away; begin another trial instead", n)
		}
	case Added:
		if err := errors.Join(name("code", subject), text("code", subject, 40)); err != nil {
			return err
		}
		if s, ok := t.byCode[subject]; ok && replaces == 0 && (s.GlueTurn > 0 || s.Broken != nil && s.Broken.Joint != nil) {
			return refuse("code", "the trial has a specimen %s: choose another code", subject)
		}
		return t.staysSealed(c.Adhesive)
	case Marks:
		return errors.Join(name("adhesive", subject), t.staysSealed(subject))
	case Cured:
		return t.staysSealed(c.Adhesive)
	case OnShelf:
		return name("name", subject)
	}
	return nil
}

func (t *Trial) allowsBreak(subject string, c Broken, replaces int64) error {
	s, known := t.byCode[subject]
	switch {
	case !known && c.Joint == nil:
		return t.known(subject)
	case !known:
		return errors.Join(name("code", subject), text("code", subject, 40), t.staysSealed(c.Joint.Adhesive))
	case c.Joint != nil && replaces == 0 && s.Broken == nil:
		return refuse("code", "the trial has a specimen %s already: it cannot come from a table too", subject)
	case s.Glued != nil && s.Glued.Spoiled != "" && replaces == 0 && c.SetAside == "":
		return refuse("code", "%s was spoiled at the glue-up (%s): set it aside with a reason, or take that entry back", subject, s.Glued.Spoiled)
	}
	return nil
}

// staysSealed returns an error where an adhesive is called by its name while it goes
// by a letter: a specimen, a mark or a look would tell which letter it has.
func (t *Trial) staysSealed(called string) error {
	if !t.Sealed() || called == "" {
		return nil
	}
	if a := t.plannedAdhesive(called); a != nil && table.Spelling(a.Label) != table.Spelling(called) {
		return refuse("adhesive", "adhesive: call it by its letter; names stay sealed until the key is opened")
	}
	return nil
}

// allowsUndo returns an error where an entry is not to be taken back.
func (t *Trial) allowsUndo(old Entry) error {
	switch old.Content.(type) {
	case nil:
		return refuse("", "this entry is of another version: take it back with the version that wrote it")
	case Asked:
		if old.Claim == firstClaim && old.Replaces == 0 {
			return refuse("", "with this entry the trial %s began: put the trial away instead", t.Asked.Name)
		}
	case KeyOpened:
		return refuse("", "what was seen cannot be unseen: the key stays open, and the answer says when it was opened")
	case Planned:
		if n := t.CountGlued() + t.CountSpoiled() + t.CountBroken(); n > 0 {
			return refuse("", "%d specimens of the plan are glued or broken and would be lost without it: begin another trial instead", n)
		}
	}
	return nil
}

// stays returns an error where entries that are about to be written would take a
// specimen away from under what was done to it, or would make readings that no table
// can hold.
func (t *Trial) stays(fresh ...Entry) error {
	then := Fold(t.ID, append(slices.Clip(t.Entries), fresh...))
	before := t.lost()
	for _, code := range then.lost() {
		if !slices.Contains(before, code) {
			return refuse("code", "%s is glued or broken, and that would be lost: take those entries back first", code)
		}
	}
	if err := then.readable(); err != nil && t.readable() == nil {
		return err
	}
	return nil
}

// lost returns the codes that live glue-ups and breaks have and no specimen.
func (t *Trial) lost() []string {
	var out []string
	for _, e := range t.Entries {
		if e.Kind != (Glued{}).kind() && e.Kind != (Broken{}).kind() {
			continue
		}
		if _, ok := t.byCode[e.Subject]; e.Live && !ok {
			out = append(out, e.Subject)
		}
	}
	return out
}

// readable returns nil where package table would read what it writes of the trial
// once all of its specimens are broken, else what would be wrong.
func (t *Trial) readable() error {
	none := 0.0
	all := make([]*Specimen, 0, len(t.Specimens))
	for _, s := range t.Specimens {
		if s.Broken == nil {
			c := *s
			c.Broken = &Break{Stamp{First: math.MaxInt64}, Broken{Strength: 1, WoodShare: &none}}
			s = &c
		}
		all = append(all, s)
	}
	if len(all) == 0 {
		return nil
	}
	var b bytes.Buffer
	if err := table.Write(&b, t.readingsOf(all), t.Factors()); err != nil {
		return err
	}
	_, err := table.Read(&b, "readings", table.Options{Factors: t.Factors()})
	var wrong *table.Errors
	if !errors.As(err, &wrong) {
		return err
	}
	p := wrong.Problems[0]
	field, ok := fieldOf[p.Column]
	if !ok {
		field = p.Column
	}
	words := p.Message
	if p.Value != "" {
		words = fmt.Sprintf("%q: %s", p.Value, words)
	}
	if p.Column != "" {
		words = strings.ReplaceAll(p.Column, "_", " ") + ": " + words
	}
	return refuse(field, "%s", words)
}

// fieldOf are the fields of entries for columns of a table.
var fieldOf = map[string]string{"specimen": "code", "set_aside": "setaside", "strength_mpa": "peak", "wood_failure_pct": "woodshare", "moisture_pct": "moisture", "": "code"}

func (t *Trial) known(code string) error {
	if _, ok := t.byCode[code]; ok {
		return nil
	}
	msg := fmt.Sprintf("no specimen of this trial is called %q", code)
	for other := range t.byCode {
		if strings.EqualFold(other, code) {
			msg += ": is it " + other + "?"
		}
	}
	return refuse("code", "%s", msg)
}
