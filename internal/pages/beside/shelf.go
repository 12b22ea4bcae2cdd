package beside

import (
	"errors"
	"net/http"
	"net/url"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
)

var shelfPage = frame.Page(templates, "templates/shelf.html", "templates/field.html")

// shelf is the page of the adhesives.
type shelf struct {
	Adhesives []record.Adhesive
	Families  []form.FamilyInfo
	Form      page
	Trials    map[string][]*record.Trial // that an adhesive was in and whose key is not sealed
}

// Shelf shows the adhesives on the shelf.
func Shelf(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	return showShelf(d, w, r, nil)
}

func showShelf(d *frame.Desk, w http.ResponseWriter, r *http.Request, wrong error) error {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return err
	}
	data := shelf{Adhesives: things.Shelf, Families: form.Families(), Trials: make(map[string][]*record.Trial)}
	trials, err := d.Book.Trials(r.Context(), false)
	if err != nil {
		return err
	}
	for _, t := range trials {
		if t.Sealed() {
			continue
		}
		for _, a := range t.Adhesives() {
			data.Trials[a] = append(data.Trials[a], t)
		}
	}
	v := d.View(r, nil, "shelf")
	v.Title = "Shelf"
	if wrong != nil {
		data.Form = sent(r, wrong)
		v.Data, v.Key = data, r.PostFormValue("key")
		return d.ShowAgain(w, r, shelfPage, v, wrong)
	}
	for _, a := range things.Shelf {
		if a.Seq == edited(r) {
			data.Form = page{Seq: a.Seq, Values: url.Values{"name": {a.Name}, "family": {a.Family}, "open": {a.Open}, "clamp": {a.Clamp}, "cure": {a.Cure}, "lowest": {a.Lowest},
				"price": {a.Price}, "content": {a.Content}, "batch": {a.Batch}, "useby": {a.UseBy}, "opened": {a.Opened}, "note": {a.Note}, "finished": {ticked(a.Finished)}}}
		}
	}
	v.Data = data
	return d.Show(w, r, shelfPage, v)
}

// PutOnShelf writes an adhesive, or corrects one.
func PutOnShelf(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	name := value(r, "name")
	err := put(d, r, name, record.OnShelf{Family: value(r, "family"), Open: value(r, "open"), Clamp: value(r, "clamp"), Cure: value(r, "cure"), Lowest: value(r, "lowest"),
		Price: value(r, "price"), Content: value(r, "content"), Batch: value(r, "batch"), UseBy: value(r, "useby"), Opened: value(r, "opened"), Note: value(r, "note"),
		Finished: value(r, "finished") != ""})
	var conflict *record.Conflict
	if errors.As(err, &conflict) && r.PostFormValue("seq") == "" {
		err = errors.Join(&record.Refused{Field: "name", Message: name + " is on the shelf already: correct it there"}, err)
	}
	if err != nil {
		return showShelf(d, w, r, err)
	}
	return frame.Back(w, r, "/shelf")
}

func ticked(on bool) string {
	if on {
		return "yes"
	}
	return ""
}
