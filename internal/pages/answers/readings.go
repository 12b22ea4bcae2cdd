package answers

import (
	"fmt"
	"math"
	"net/http"
	"net/url"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
)

// readings is the page of the readings behind a number.
type readings struct {
	Title     string
	Threshold string
	Rows      []reading
	All       string // address of all readings, empty on that page
	Back      string // address of the answer
}

// reading is a reading with what led to it.
type reading struct {
	Code, Adhesive, Where, Board, Batch, Session string
	Strength                                     string
	Raw                                          string // as it was read off
	Faces                                        string // what the broken faces show
	State                                        string
	SetAside, Note                               string
	Glued                                        *record.Glue
	Broken                                       *record.Break
	Photos                                       []photo
	Earlier                                      []earlier // entries that were corrected or taken back, the latest first
	Correct                                      string    // address where it is corrected
}

// photo is a picture of the broken faces.
type photo struct{ Thumb, Full, Name string }

// earlier is an entry that no longer counts.
type earlier struct {
	Stamp  record.Stamp
	Words  string
	Became string
}

// Readings shows the readings that an address chooses, with who recorded them, their
// photos, and the history of their corrections.
func (k *Keeper) Readings(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, a, _, err := request(d, r)
	if err != nil {
		return err
	}
	c := chosen(r.URL.Query(), t)
	data := readings{Title: c.Words(t.Factors()), Threshold: show.Trim(float64(a.Threshold)), Back: address(t, "answer", a)}
	if data.Title != "All readings" {
		data.All = readingsPath(t, a, choice{})
	}
	past := pastBreaks(t)
	for _, x := range t.Readings() {
		if c.has(&x, a.Threshold) {
			s, _ := t.Specimen(x.Code)
			data.Rows = append(data.Rows, readingOf(t, s, &x, a, past[x.Code]))
		}
	}
	v := d.View(r, t, "answer")
	v.Units, v.Data, v.Styles = a.Units, data, []string{"answer.css"}
	return d.Show(w, r, readingsPage, v)
}

func readingOf(t *record.Trial, s *record.Specimen, x *bondtrial.Reading, a asked, past []earlier) reading {
	b := s.Broken
	where := answer.Condition{Wood: x.Wood, Factors: x.Factors}
	out := reading{Code: x.Code, Adhesive: x.Adhesive, Where: where.String(), Board: x.Board, Batch: x.Batch, Session: x.Session,
		Strength: show.None, State: stateWords(x.State(a.Threshold)), SetAside: x.SetAside, Note: x.Note,
		Glued: s.Glued, Broken: b, Photos: photosOf(b.Files), Earlier: past,
		Correct: fmt.Sprintf("/trials/%s/break/%d", url.PathEscape(t.ID), b.Seq)}
	if x.Strength > 0 {
		out.Strength = show.WithUnit(a.Units, answer.Value(x.Strength))
	}
	if b.Unit != "" {
		out.Raw = show.Trim(b.Peak) + " " + b.Unit
	}
	if !math.IsNaN(float64(x.WoodFailure)) {
		out.Faces = show.Trim(float64(x.WoodFailure)) + " % wood"
	}
	if x.Failure != "" {
		if out.Faces != "" {
			out.Faces += ", "
		}
		out.Faces += string(x.Failure)
	}
	return out
}

// photosOf are the pictures of an entry, each with its thumbnail where it came with
// one: a file with the role of a thumbnail goes with the photo before it.
func photosOf(files []logbook.FileRef) []photo {
	var out []photo
	for _, f := range files {
		path := "/files/" + f.Sum
		switch {
		case f.Role == "photo":
			out = append(out, photo{path, path, f.Name})
		case f.Role == "thumb" && len(out) > 0:
			out[len(out)-1].Thumb = path
		}
	}
	return out
}

// pastBreaks are the breaks of each specimen that no longer count, the latest first.
func pastBreaks(t *record.Trial) map[string][]earlier {
	ends := make(map[int64]*record.Entry)
	for i := range t.Entries {
		if e := &t.Entries[i]; e.Live && e.Replaces+e.Undoes != 0 {
			ends[e.Replaces+e.Undoes] = e
		}
	}
	out := make(map[string][]earlier)
	for i := len(t.Entries) - 1; i >= 0; i-- {
		e := t.Entries[i]
		if _, ok := e.Content.(record.Broken); !ok || e.Live {
			continue
		}
		p := earlier{Stamp: record.Stamp{Seq: e.Seq, At: e.At, Said: e.Said, By: e.By, Device: e.Device}, Words: record.Words(t, e), Became: "corrected"}
		if end := ends[e.Seq]; end != nil && end.Undoes == e.Seq {
			p.Became = "taken back"
		}
		out[e.Subject] = append(out[e.Subject], p)
	}
	return out
}
