package answers

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
	"bondtrial/internal/table"
)

// order is an answer to be computed: from which readings, with which settings.
type order struct {
	key     Key
	alike   string // what answers of one trial with the same settings have in common
	asked   asked
	table   []byte // readings.csv
	sum     string // its SHA-256, hexadecimal
	last    int64  // the trial's last entry
	trial   *record.Trial
	now     time.Time
	version string
	demo    bool
}

// newOrder returns the order of an answer from the trial as it stands.
func newOrder(d *frame.Desk, t *record.Trial, a asked) (*order, error) {
	o := &order{asked: a, trial: t, now: d.Clock().In(t.Zone), version: d.Version, demo: d.Demo, last: t.Entries[len(t.Entries)-1].Seq}
	var b bytes.Buffer
	if err := table.Write(&b, t.Readings(), t.Factors()); err != nil {
		return nil, fmt.Errorf("writing the table of readings: %w", err)
	}
	o.table = b.Bytes()
	sum := sha256.Sum256(o.table)
	o.sum = hex.EncodeToString(sum[:])
	settings, err := json.Marshal(a.Settings)
	if err != nil {
		return nil, fmt.Errorf("naming an answer: %w", err)
	}
	o.alike = fmt.Sprintf("%q %s %q %v", t.ID, settings, d.Version, t.Sealed())
	key := sha256.Sum256(fmt.Appendf(nil, "%s\n%s\n%q", o.sum, settings, d.Version))
	o.key = Key(hex.EncodeToString(key[:]))
	return o, nil
}

// read returns the readings as whoever takes readings.csv gets them, and what is to
// be said about how they were read.
func (o *order) read() (readings []bondtrial.Reading, warnings []string, err error) {
	t, err := table.Read(bytes.NewReader(o.table), "readings.csv", table.Options{Factors: o.asked.Settings.Factors})
	if err != nil {
		return nil, nil, err
	}
	for _, w := range t.Warnings {
		warnings = append(warnings, frame.Sentence(w))
	}
	return t.Readings, warnings, nil
}

// enough returns what is missing for an answer, before any work is done; nil where
// nothing is.
func (o *order) enough() error {
	readings, _, err := o.read()
	if err != nil {
		return err
	}
	return answer.Enough(readings, o.asked.Settings)
}

// failed is what is kept of an order that came to nothing.
func (o *order) failed(err error) *Kept {
	return &Kept{key: o.key, alike: o.alike, last: o.last, bytes: 1000, Err: err, Sum: o.sum, Date: o.now}
}

// Kept is an answer that is kept, or why there is none. It is not to be changed.
type Kept struct {
	key   Key
	alike string
	last  int64
	bytes int64

	Err     error // why there is no answer; the rest but Sum and Date is empty then
	Answer  *answer.Answer
	Table   []byte    // readings.csv that it was computed from
	Sum     string    // SHA-256 of Table, hexadecimal
	Date    time.Time // when it was ordered, in the trial's time zone
	Version string    // of the program
	Remarks []string  // on where the readings come from, for the fine print

	figures func() []Figure // found out once

	mu    sync.Mutex
	drawn map[bondtrial.Units]*pictures
}

// compute answers an order, draws the figures, and returns what is to be kept.
func compute(ctx context.Context, o *order, tell func(stage string, done, of int)) (*Kept, error) {
	readings, warnings, err := o.read()
	if err != nil {
		return nil, err
	}
	set := o.asked.Settings
	set.Progress = tell
	a, err := answer.Compute(ctx, readings, set)
	if err != nil {
		return nil, err
	}
	a.Settings.Progress = nil
	a.Warnings = append(warnings, a.Warnings...)
	kept := &Kept{key: o.key, alike: o.alike, last: o.last, Answer: a, Table: o.table, Sum: o.sum, Date: o.now, Version: o.version,
		Remarks: append(remarks(o.trial, o.demo), dated(o)),
		figures: sync.OnceValue(func() []Figure { return figuresOf(a) }), drawn: make(map[bondtrial.Units]*pictures)}
	p := kept.pictures(o.asked.Units)
	// Two systems of units may be asked for; a reading takes some 300 bytes beside its
	// row in the table, a comparison or a cell some 400 with its strings.
	kept.bytes = int64(2*p.size() + 2*len(o.table) + 300*len(readings) + 400*(len(a.Pairs)+len(a.Cells)+len(a.Best)))
	return kept, nil
}

// remarks are the sentences on a trial that a reader of its answer must know.
func remarks(t *record.Trial, demo bool) []string {
	var s []string
	if demo {
		s = append(s, "The readings are invented: this is the demo.")
	}
	if codes := t.FacesUnknown(); len(codes) > 0 {
		s = append(s, "Nothing is recorded of the faces of "+show.List(codes)+": they count as bonds that broke, though the wood may have failed first.")
	}
	if n := brokenEarly(t); n > 0 {
		s = append(s, fmt.Sprintf("%d %s broken before full cure by the plan.", n, was(n)))
	}
	if words := interim(t); words != "" {
		s = append(s, words)
	}
	if t.Sealed() {
		return append(s, "The adhesives go by blind letters: the key is sealed.")
	}
	if t.KeyOpened == nil {
		return s
	}
	for _, e := range t.Entries {
		if k, ok := e.Content.(record.KeyOpened); ok && e.Seq == t.KeyOpened.Seq {
			when := t.KeyOpened.When().In(t.Zone).Format("2 January 2006")
			if k.Broken < k.Of {
				s = append(s, fmt.Sprintf("The key to the blind letters was opened on %s, when %d of %d specimens were broken: the rest was not broken blind.", when, k.Broken, k.Of))
			} else {
				s = append(s, fmt.Sprintf("The specimens were broken under blind letters; the key was opened on %s, when all were broken.", when))
			}
		}
	}
	return s
}

// dated says when an answer was ordered, and in which time zone dates are.
func dated(o *order) string {
	zone := o.trial.Zone.String()
	words := zone + ", the trial's time zone"
	if zone == "Local" {
		words = "the machine that the program runs on"
	}
	return fmt.Sprintf("Answered on %s; dates and times are those of %s.", o.now.Format("2 January 2006 at 15:04"), words)
}

// brokenEarly counts the readings that are used of specimens that had cured for less
// than planned.
func brokenEarly(t *record.Trial) int {
	n := 0
	for _, s := range t.Specimens {
		if s.Planned == nil || s.Glued == nil || s.Broken == nil || s.Broken.SetAside != "" {
			continue
		}
		if s.Broken.FirstWhen.Before(s.Glued.ClampedAt().Add(s.Planned.Cure)) {
			n++
		}
	}
	return n
}

func was(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// Source says where an answer came from, for what is published of it.
func (k *Kept) Source(name string) publish.Source {
	return publish.Source{Name: name, SHA256: k.Sum, Date: k.Date, Remarks: k.Remarks}
}

// missing says in words why there is no answer, one thing after another, and
// whether it is that readings are missing; nil where there is one.
func missing(err error) (words []string, little bool) {
	var tooLittle *answer.TooLittle
	var control *answer.UnknownControl
	var unread *table.Errors
	switch {
	case err == nil:
		return nil, false
	case errors.As(err, &tooLittle):
		return []string{frame.Sentence(tooLittle.Missing)}, true
	case errors.As(err, &control):
		return []string{frame.Sentence(fmt.Sprintf("the control %s has not been broken yet, so nothing can be compared with it: break it, or choose another control or none under Settings", control.Name))}, true
	case errors.As(err, &unread):
		words = []string{"The table of readings cannot be used as it is. These lines of readings.csv are at fault; correct the readings at Break:"}
		for i, p := range unread.Problems {
			if i == 20 {
				words = append(words, fmt.Sprintf("And %d more.", len(unread.Problems)-i+unread.More))
				break
			}
			one := table.Errors{Name: "readings.csv", Problems: []table.Problem{p}}
			words = append(words, frame.Sentence(one.Error()))
		}
		return words, false
	}
	return []string{frame.Sentence(err.Error())}, false
}
