package logbook

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Limits of what one draft may hold. They keep a slip, such as a film in place of a
// photo, out of the logbook.
const (
	MaxContent = 1 << 20  // bytes of a draft's content
	MaxFile    = 64 << 20 // bytes of one file
	MaxFiles   = 100      // files of one draft
	MaxText    = 1000     // bytes of any other text of a draft or file
)

// Draft is an entry that is to be written.
type Draft struct {
	Trial   string          // "": the logbook at large
	Kind    string          // never empty
	Subject string          // what it is about, such as a specimen's code
	Content json.RawMessage // a JSON object; empty counts as {}

	By, Device string
	Said       time.Time // what the device's own clock said; zero: not said

	// Key makes sending again harmless: a draft whose key and content are those of
	// an entry is that entry, and nothing is appended. Said and Device, which may
	// differ between two tries, do not count as content. "": none.
	Key string

	Replaces, Undoes int64 // entry that it takes the place of, or takes back; 0: none; never both

	// Claim is a name that one live entry of the trial may hold. An entry that
	// replaces another may take over its claim. "": none.
	Claim string

	Files []File
}

// File is a file that comes with a draft.
type File struct {
	Role      string // what it is to the entry, such as "photo" or "trace"
	Name      string // as the person named it; not necessarily unique
	MediaType string
	Content   []byte
}

// Entry is what stands in the logbook.
type Entry struct {
	Seq     int64         // 1 for the first, without gaps
	At      time.Time     // what the clock said, to the nanosecond, with its distance from UTC
	Behind  time.Duration // how far the clock was behind the entry before; 0: it was not
	Trial   string
	Kind    string
	Subject string
	Content json.RawMessage // without the white space between its parts

	By, Device string
	Said       time.Time // zero: not said

	Key              string
	Replaces, Undoes int64
	Claim            string
	Files            []FileRef // nil where there are none
}

// FileRef names a file in the logbook.
type FileRef struct {
	Role, Name, MediaType string

	Size int64  // bytes, as it came
	Sum  string // SHA-256 of the content as it came, 64 hexadecimal digits
}

// Live returns those of entries that are live, in the same order. Entries must be all
// those of a trial, or of the logbook, in order of Seq; with some left out the result
// is of no use.
func Live(entries []Entry) []Entry {
	undone := make(map[int64]bool)
	replaced := make(map[int64]bool)
	n := 0
	for i := len(entries) - 1; i >= 0; i-- {
		e := &entries[i]
		if undone[e.Seq] {
			continue
		}
		if !replaced[e.Seq] {
			n++
		}
		if e.Undoes != 0 {
			undone[e.Undoes] = true
		}
		if e.Replaces != 0 {
			replaced[e.Replaces] = true
		}
	}
	live := make([]Entry, 0, n)
	for _, e := range entries {
		if !undone[e.Seq] && !replaced[e.Seq] {
			live = append(live, e)
		}
	}
	return live
}

// checked returns the draft with its content compacted, or what is wrong with it.
func (d Draft) checked() (Draft, error) {
	for _, s := range []struct{ name, text string }{
		{"trial", d.Trial}, {"kind", d.Kind}, {"subject", d.Subject}, {"by", d.By},
		{"device", d.Device}, {"key", d.Key}, {"claim", d.Claim},
	} {
		if err := checkText(s.name, s.text); err != nil {
			return d, err
		}
	}
	if d.Kind == "" {
		return d, fmt.Errorf("the entry has no kind: name one")
	}
	if d.Replaces < 0 || d.Undoes < 0 || d.Replaces != 0 && d.Undoes != 0 {
		return d, fmt.Errorf("the entry replaces %d and undoes %d: name one entry, to replace or to undo", d.Replaces, d.Undoes)
	}
	if !yearFits(d.Said) {
		return d, fmt.Errorf("the device's clock says year %d: set it", d.Said.Year())
	}
	if len(d.Content) > MaxContent {
		return d, fmt.Errorf("the content has %d bytes, more than %d: send large things as files", len(d.Content), MaxContent)
	}
	if len(bytes.TrimSpace(d.Content)) == 0 {
		d.Content = json.RawMessage("{}")
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, d.Content); err != nil {
		return d, fmt.Errorf("the content is not JSON: %w", err)
	}
	if !utf8.Valid(compact.Bytes()) || compact.Bytes()[0] != '{' {
		return d, fmt.Errorf("the content is not a JSON object in UTF-8: send it as {...}")
	}
	d.Content = compact.Bytes()
	if len(d.Files) > MaxFiles {
		return d, fmt.Errorf("the entry has %d files, more than %d: write several entries", len(d.Files), MaxFiles)
	}
	for _, f := range d.Files {
		if err := f.check(); err != nil {
			return d, err
		}
	}
	return d, nil
}

func (f File) check() error {
	for _, s := range []struct{ name, text string }{{"role", f.Role}, {"name", f.Name}, {"media type", f.MediaType}} {
		if err := checkText("file's "+s.name, s.text); err != nil {
			return err
		}
	}
	if len(f.Content) > MaxFile {
		return fmt.Errorf("file %q has %d bytes, more than %d: make it smaller", f.Name, len(f.Content), MaxFile)
	}
	return nil
}

func checkText(name, s string) error {
	switch {
	case len(s) > MaxText:
		return fmt.Errorf("the %s has %d bytes, more than %d: shorten it", name, len(s), MaxText)
	case !utf8.ValidString(s), strings.ContainsRune(s, 0):
		return fmt.Errorf("the %s %q is not text in UTF-8: write it anew", name, s)
	}
	return nil
}

// row is an entry with its times as they stand in the file, and its sum.
type row struct {
	Entry
	at, said string
	sum      string
}

// timeText is how times are written: what the clock said and how far that was from
// UTC.
func timeText(t time.Time) string {
	if _, offset := t.Zone(); offset%60 != 0 {
		t = t.UTC()
	}
	return t.Format(time.RFC3339Nano)
}

// parse sets the times from their texts.
func (r *row) parse() error {
	var err error
	if r.At, err = time.Parse(time.RFC3339Nano, r.at); err != nil {
		return fmt.Errorf("entry %d: %w", r.Seq, err)
	}
	if r.said == "" {
		return nil
	}
	if r.Said, err = time.Parse(time.RFC3339Nano, r.said); err != nil {
		return fmt.Errorf("entry %d: %w", r.Seq, err)
	}
	return nil
}

func yearFits(t time.Time) bool { return t.Year() >= 1 && t.Year() <= 9999 }
