package logbook

import (
	"database/sql"
	"errors"
	"fmt"
)

// standing answers, within a transaction, which entries stand and which act on
// which, for one state of the logbook.
type standing struct {
	w      *writing
	stands map[int64]bool
}

func newStanding(w *writing) *standing { return &standing{w, make(map[int64]bool)} }

func (s *standing) list(query string, args ...any) ([]int64, error) {
	rows, err := s.w.tx.QueryContext(s.w.ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []int64
	for rows.Next() {
		var n int64
		if err := rows.Scan(&n); err != nil {
			return nil, err
		}
		list = append(list, n)
	}
	return list, rows.Err()
}

// is reports whether an entry stands: no entry that stands undoes it.
func (s *standing) is(seq int64) (bool, error) {
	if known, ok := s.stands[seq]; ok {
		return known, nil
	}
	undoers, err := s.list("SELECT seq FROM entry WHERE undoes = ?", seq)
	if err != nil {
		return false, err
	}
	stands := true
	for _, u := range undoers {
		effective, err := s.is(u)
		if err != nil {
			return false, err
		}
		stands = stands && !effective
	}
	s.stands[seq] = stands
	return stands, nil
}

// actors returns the entries that stand and undo or replace this one. It is live if
// there is none.
func (s *standing) actors(seq int64) ([]int64, error) {
	candidates, err := s.list("SELECT seq FROM entry WHERE undoes = ?1 UNION ALL SELECT seq FROM entry WHERE replaces = ?1 ORDER BY seq", seq)
	if err != nil {
		return nil, err
	}
	var actors []int64
	for _, c := range candidates {
		stands, err := s.is(c)
		if err != nil {
			return nil, err
		}
		if stands {
			actors = append(actors, c)
		}
	}
	return actors, nil
}

// mayActOn returns what keeps a draft from replacing or undoing what it names.
func (s *standing) mayActOn(p prepared) error {
	target := max(p.Replaces, p.Undoes)
	if target == 0 {
		return nil
	}
	var trial string
	var undoes sql.NullInt64
	err := s.w.tx.QueryRowContext(s.w.ctx, "SELECT trial, undoes FROM entry WHERE seq = ?", target).Scan(&trial, &undoes)
	if errors.Is(err, sql.ErrNoRows) || err == nil && trial != p.Trial {
		return &NoEntry{Seq: target, Trial: p.Trial}
	}
	if err != nil {
		return err
	}
	actors, err := s.actors(target)
	if err != nil {
		return err
	}
	if len(actors) > 0 {
		return s.superseded(target, actors[0])
	}
	if p.Replaces != 0 && undoes.Valid {
		return fmt.Errorf("entry %d takes back entry %d and cannot be replaced: undo it instead", target, undoes.Int64)
	}
	return nil
}

func (s *standing) superseded(target, by int64) error {
	e, err := entryIn(s.w.ctx, s.w.tx, s.w.version, by)
	if err != nil {
		return err
	}
	return &Superseded{Seq: target, By: e}
}

// verify returns what an entry that has just been put in brings into disorder. It
// goes along the entries whose standing the new one has changed: two that stand must
// not act on the same one, and two that are live must not hold the same claim.
func (s *standing) verify(e Entry) error {
	if err := s.verifyClaim(e.Seq, e.Trial, e.Claim); err != nil {
		return err
	}
	by, target, undoes := e.Seq, max(e.Replaces, e.Undoes), e.Undoes != 0
	for target != 0 {
		actors, err := s.actors(target)
		if err != nil {
			return err
		}
		if len(actors) > 1 {
			other := actors[0]
			if other == by {
				other = actors[1]
			}
			return s.superseded(target, other)
		}
		var trial, claim string
		var next, nextUndoes int64
		if err := s.w.tx.QueryRowContext(s.w.ctx, "SELECT trial, claim, coalesce(undoes, replaces, 0), coalesce(undoes, 0) FROM entry WHERE seq = ?",
			target).Scan(&trial, &claim, &next, &nextUndoes); err != nil {
			return err
		}
		if len(actors) == 0 {
			if err := s.verifyClaim(target, trial, claim); err != nil {
				return err
			}
		}
		if !undoes {
			return nil // a replaced entry stands, and so does what it did
		}
		by, target, undoes = target, next, nextUndoes != 0
	}
	return nil
}

// verifyClaim returns *Taken where another live entry holds the claim of a live one.
func (s *standing) verifyClaim(seq int64, trial, claim string) error {
	if claim == "" {
		return nil
	}
	others, err := s.list("SELECT seq FROM entry WHERE trial = ? AND claim = ? AND claim <> '' AND seq <> ? ORDER BY seq DESC", trial, claim, seq)
	if err != nil {
		return err
	}
	for _, o := range others {
		actors, err := s.actors(o)
		if err != nil {
			return err
		}
		if len(actors) == 0 {
			e, err := entryIn(s.w.ctx, s.w.tx, s.w.version, o)
			if err != nil {
				return err
			}
			return &Taken{Claim: claim, By: e}
		}
	}
	return nil
}
