package home

import (
	"net/http"
	"slices"
	"strconv"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

var historyPage = frame.Page(templates, "templates/history.html")

// perPage is the number of entries on one page of a history.
const perPage = 200

// history is the page of all entries of a trial, the latest first.
type history struct {
	Entries []line
	Then    *record.Trial // the trial as it stood, where a moment was asked for
	At      *line         // that moment
	Older   int64         // the entry that the next page begins before; 0: none
}

type line struct {
	record.Entry
	Stamp record.Stamp
	Words string
	// What became of it: the entry that replaced it or took it back; nil: it stands.
	By *record.Entry
}

// Stays reports whether the entry is never taken back: what a trial began with, the
// opening of a key, and what another version wrote.
func (l line) Stays() bool {
	switch l.Content.(type) {
	case nil, record.KeyOpened:
		return true
	case record.Asked:
		return l.Claim != "" && l.Replaces == 0
	}
	return false
}

// History shows every entry of a trial, and the trial as it stood at one of them.
func History(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	before, err := number(r, "before")
	if err != nil {
		return err
	}
	at, err := number(r, "at")
	if err != nil {
		return err
	}
	var data history
	ends := make(map[int64]*record.Entry)
	for i := range t.Entries {
		if e := &t.Entries[i]; e.Stands && e.Replaces+e.Undoes != 0 {
			ends[e.Replaces+e.Undoes] = e
		}
	}
	for _, e := range slices.Backward(t.Entries) {
		l := line{Entry: e, Stamp: record.Stamp{Seq: e.Seq, At: e.At, Said: e.Said, By: e.By, Device: e.Device, Files: e.Files}, Words: record.Words(t, e), By: ends[e.Seq]}
		if e.Seq == at {
			data.At = &l
			data.Then = t.At(at)
		}
		if before > 0 && e.Seq >= before {
			continue
		}
		if len(data.Entries) == perPage {
			data.Older = data.Entries[perPage-1].Seq
			break
		}
		data.Entries = append(data.Entries, l)
	}
	v := d.View(r, t, "")
	v.Data = data
	return d.Show(w, r, historyPage, v)
}

func number(r *http.Request, name string) (int64, error) {
	s := r.URL.Query().Get(name)
	if s == "" {
		return 0, nil
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 {
		return 0, frame.BadRequest("the address holds no number of an entry where one is expected")
	}
	return n, nil
}
