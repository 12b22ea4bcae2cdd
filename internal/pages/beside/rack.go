package beside

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

var rackPage = frame.Page(templates, "templates/rack.html", "templates/field.html")

// rack is the page of the boards.
type rack struct {
	Boards []board
	Woods  []string
	Form   page
}

type board struct {
	record.Board
	Used []use
}

// use is a trial with specimens from a board.
type use struct {
	*record.Trial
	Specimens, Broken int
}

// Rack shows the boards on the rack.
func Rack(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	return showRack(d, w, r, nil)
}

func showRack(d *frame.Desk, w http.ResponseWriter, r *http.Request, wrong error) error {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return err
	}
	trials, err := d.Book.Trials(r.Context(), false)
	if err != nil {
		return err
	}
	var data rack
	seen := make(map[string]bool)
	for _, b := range things.Rack {
		row := board{Board: b}
		for _, t := range trials {
			if u := usedIn(t, b); u.Specimens > 0 {
				row.Used = append(row.Used, u)
			}
		}
		data.Boards = append(data.Boards, row)
		if !seen[b.Wood] {
			seen[b.Wood] = true
			data.Woods = append(data.Woods, b.Wood)
		}
	}
	v := d.View(r, nil, "rack")
	v.Title = "Rack"
	if wrong != nil {
		data.Form = sent(r, wrong)
		v.Data, v.Key = data, r.PostFormValue("key")
		return d.ShowAgain(w, r, rackPage, v, wrong)
	}
	for _, b := range things.Rack {
		if b.Seq == edited(r) {
			data.Form = page{Seq: b.Seq, Values: url.Values{"wood": {b.Wood}, "name": {b.Name}, "lengthmm": {number(b.LengthMM)}, "widthmm": {number(b.WidthMM)}, "thickmm": {number(b.ThickMM)},
				"pieces": {number(float64(b.Pieces))}, "uses": {number(float64(b.Uses))}, "note": {b.Note}, "finished": {ticked(b.Finished)}}}
		}
	}
	v.Data = data
	return d.Show(w, r, rackPage, v)
}

// usedIn counts the specimens of a trial that come from a board of that wood and
// name.
func usedIn(t *record.Trial, b record.Board) use {
	u := use{Trial: t}
	for _, s := range t.Specimens {
		if s.Wood == b.Wood && s.Board == b.Name {
			u.Specimens++
			if s.Broken != nil {
				u.Broken++
			}
		}
	}
	return u
}

// PutOnRack writes a board, or corrects one.
func PutOnRack(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	b, err := boardOf(r)
	if err == nil {
		err = put(d, r, b.Wood+" "+b.Name, b)
		var conflict *record.Conflict
		if errors.As(err, &conflict) && r.PostFormValue("seq") == "" {
			err = errors.Join(&record.Refused{Field: "name", Message: "board " + b.Name + " of " + b.Wood + " is on the rack already: correct it there"}, err)
		}
	}
	if err != nil {
		return showRack(d, w, r, err)
	}
	return frame.Back(w, r, "/rack")
}

func boardOf(r *http.Request) (record.OnRack, error) {
	b := record.OnRack{Wood: value(r, "wood"), Name: value(r, "name"), Note: value(r, "note"), Finished: value(r, "finished") != ""}
	var errs []error
	for _, q := range []struct {
		field, what string
		to          *float64
	}{{"lengthmm", "length", &b.LengthMM}, {"widthmm", "width", &b.WidthMM}, {"thickmm", "thickness", &b.ThickMM}} {
		x, err := quantity(r, q.field, q.what)
		*q.to = x
		errs = append(errs, err)
	}
	for _, q := range []struct {
		field, what string
		to          *int
	}{{"pieces", "pieces", &b.Pieces}, {"uses", "uses", &b.Uses}} {
		if s := value(r, q.field); s != "" {
			n, err := strconv.Atoi(s)
			if err != nil {
				errs = append(errs, &record.Refused{Field: q.field, Message: q.what + ": " + strconv.Quote(s) + " is no count: write a whole number"})
			}
			*q.to = n
		}
	}
	return b, errors.Join(errs...)
}
