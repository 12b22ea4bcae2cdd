package frame

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"bondtrial/internal/record"
)

// beat is how often a silent stream is kept alive. It is set by tests only.
var beat = 15 * time.Second

// patience is how long a reader may take to take in what it is sent. One that is
// gone without a word is let go then; one that is slow comes again for the rest.
const patience = 20 * time.Second

// News is an entry as pages are told of it.
type News struct {
	Seq     int64     `json:"seq"`
	Trial   string    `json:"trial"`
	Kind    string    `json:"kind"`
	Subject string    `json:"subject"`
	Words   string    `json:"words"`
	By      string    `json:"by"`
	Device  string    `json:"device"`
	At      time.Time `json:"at"`
	Key     string    `json:"key"`
}

// Events streams the entries of a trial, or of the logbook at large where no trial
// is named, as server-sent events. What was written after the entry that the reader
// knows (Last-Event-ID, or after in the address) comes first, then news as they
// happen, each entry once and in order.
func Events(d *Desk, w http.ResponseWriter, r *http.Request) error {
	ctl := http.NewResponseController(w)
	if err := ctl.SetWriteDeadline(time.Now().Add(patience)); err != nil {
		return fmt.Errorf("keeping a stream open: %w", err)
	}
	_ = ctl.SetReadDeadline(time.Time{}) // else the stream ends when a request should have been read
	trial := r.URL.Query().Get("trial")
	// News first, then what was missed: nothing falls between the two, and what
	// comes twice is left out by its number.
	news, end := d.Book.Subscribe()
	defer end()
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	fmt.Fprint(w, "retry: 1000\n\n")
	sent := known(r)
	if sent >= 0 {
		missed, err := d.missed(r, trial, sent)
		if err != nil {
			return nil // the stream has begun; the reader comes again
		}
		for _, ev := range missed {
			send(w, trial, ev)
			sent = ev.Seq
		}
	}
	if err := ctl.Flush(); err != nil {
		return nil
	}
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for {
		var ev record.Event
		ok, isNews := true, true
		select {
		case <-r.Context().Done():
			return nil
		case <-tick.C:
			isNews = false
		case ev, ok = <-news:
		}
		if !ok {
			return nil
		}
		_ = ctl.SetWriteDeadline(time.Now().Add(patience))
		switch {
		case !isNews:
			fmt.Fprint(w, ": beat\n\n")
		case ev.Seq > sent:
			send(w, trial, ev)
			sent = ev.Seq
		}
		if err := ctl.Flush(); err != nil {
			return nil
		}
	}
}

// known is the last entry that the reader of a stream knows; -1: it does not say.
func known(r *http.Request) int64 {
	last := int64(-1)
	for _, s := range []string{r.Header.Get("Last-Event-ID"), r.URL.Query().Get("after")} {
		if n, err := strconv.ParseInt(s, 10, 64); err == nil && n >= 0 {
			last = max(last, n)
		}
	}
	return last
}

// missed returns the entries after one, of a trial or of all.
func (d *Desk) missed(r *http.Request, trial string, after int64) ([]record.Event, error) {
	if trial == "" {
		return d.Book.Since(r.Context(), after)
	}
	t, err := d.Book.Trial(r.Context(), trial)
	if errors.Is(err, record.ErrNoTrial) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []record.Event
	for _, e := range t.Entries {
		if e.Seq > after {
			out = append(out, record.Event{Entry: e, Words: record.Words(t, e)})
		}
	}
	return out, nil
}

func send(w http.ResponseWriter, trial string, ev record.Event) {
	if trial != "" && ev.Trial != trial {
		return
	}
	data, err := json.Marshal(News{Seq: ev.Seq, Trial: ev.Trial, Kind: ev.Kind, Subject: ev.Subject, Words: ev.Words, By: ev.By, Device: ev.Device, At: ev.At, Key: ev.Key})
	if err != nil {
		return
	}
	fmt.Fprintf(w, "id: %d\nevent: entry\ndata: %s\n\n", ev.Seq, data)
}
