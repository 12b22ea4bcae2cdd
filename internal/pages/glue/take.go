package glue

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

// reasons why a specimen is spoiled that need no typing.
var reasons = []string{"faces slid out of place", "open time was over", "a piece split or fell", "wrong pieces or wrong adhesive", "too little adhesive"}

// Reasons lists them for the page.
func (page) Reasons() []string { return reasons }

// Done takes down that a specimen is glued, or spoiled. Where a module asks, it
// answers with the number of the entry.
func Done(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	typed := strings.TrimSpace(r.FormValue("code"))
	code := typed
	if s := find(t, typed); s != nil {
		code = s.Code
	}
	g, err := glued(r)
	var e record.Entry
	if err == nil {
		e, err = d.Book.Add(r.Context(), d.Who(r), t.ID, code, g)
	}
	if err != nil {
		p := build(d, r, t, code)
		p.Done = doneForm{Note: r.FormValue("note"), Batch: r.FormValue("batch"), Why: r.FormValue("why"), Other: r.FormValue("other"),
			Over: r.FormValue("over") != "", Spoiling: r.FormValue("outcome") == "spoiled", Spread: r.FormValue("spread"), Clamped: r.FormValue("clamped"),
			Wrong: wrongs(err)}
		return again(d, w, r, t, p, err)
	}
	if frame.WantsJSON(r) {
		return frame.JSON(w, http.StatusOK, map[string]any{"seq": e.Seq, "code": code})
	}
	return frame.Back(w, r, "/trials/"+t.ID+"/glue")
}

func glued(r *http.Request) (g record.Glued, err error) {
	g = record.Glued{OverOpen: r.FormValue("over") != "", Batch: clean(r.FormValue("batch")), Note: strings.TrimSpace(r.FormValue("note"))}
	g.Spread, g.Clamped = moments(r.FormValue("spread"), r.FormValue("clamped"))
	switch r.FormValue("outcome") {
	case "done":
		return g, nil
	case "spoiled":
		var why []string
		for _, s := range []string{r.FormValue("why"), r.FormValue("other")} {
			if s = strings.TrimSpace(s); s != "" {
				why = append(why, s)
			}
		}
		g.Spoiled, g.Clamped = strings.Join(why, "; "), time.Time{}
		if g.Spoiled == "" {
			return g, &record.Refused{Field: "spoiled", Message: "say why it is spoiled: pick a reason or write one"}
		}
		return g, nil
	}
	return g, frame.BadRequest("the form does not say whether the specimen is glued or spoiled: go back and press one of the buttons")
}

// stale is how long a running clock is believed: one that ran longer was forgotten.
const stale = 12 * time.Hour

// moments reads when the adhesive went on and when full pressure was reached, as the
// clock of the device had it in milliseconds since 1970. What cannot be is left out:
// the glue-up is written down all the same.
func moments(spread, clamped string) (s, c time.Time) {
	s, c = moment(spread), moment(clamped)
	if d := c.Sub(s); !s.IsZero() && !c.IsZero() && (d < 0 || d > stale) {
		s = time.Time{}
	}
	return s, c
}

func moment(ms string) time.Time {
	n, err := strconv.ParseInt(strings.TrimSpace(ms), 10, 64)
	if err != nil || n <= 0 || n >= 1<<43 {
		return time.Time{}
	}
	return time.UnixMilli(n).UTC()
}

// clean is a name as it is kept: without white space around it, single spaces.
func clean(s string) string { return strings.Join(strings.Fields(s), " ") }

// wrongs maps the fields at fault to what is wrong with them.
func wrongs(err error) map[string]string {
	out := make(map[string]string)
	var walk func(error)
	walk = func(err error) {
		var refused *record.Refused
		if many, ok := err.(interface{ Unwrap() []error }); ok {
			for _, e := range many.Unwrap() {
				walk(e)
			}
		} else if errors.As(err, &refused) && refused.Field != "" {
			out[refused.Field] = frame.Sentence(refused.Message)
		}
	}
	walk(err)
	return out
}

// sent returns whether an entry with the key is written already: a form that was
// sent twice.
func sent(t *record.Trial, key string) bool {
	return key != "" && slices.ContainsFunc(t.Entries, func(e record.Entry) bool { return e.Key == key })
}
