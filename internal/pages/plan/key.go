package plan

import (
	"net/http"
	"slices"
	"strings"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

// stationKey is the station of a remark that says to whom the key was given.
const stationKey = "key"

// keyView is what the page says of the blind letters.
type keyView struct {
	Sealed          bool
	Holders         []record.Remark
	Opened          *record.Stamp
	OpenedBroken    int
	OpenedOf        int
	Letters         []letter
	Broken, Of      int
	By              string // typed
	ByError         string
	SureError       string
	OpenOpen, Asked bool // the part that opens the key is open
}

type letter struct {
	Label, Name string
	Control     bool
}

// letters are the adhesives of a plan in the order of their letters, which tells
// nothing.
func letters(t *record.Trial) []letter {
	var out []letter
	for _, a := range t.Plan.Adhesives {
		out = append(out, letter{a.Label, a.Name, a.Name == t.Plan.Control})
	}
	slices.SortFunc(out, func(a, b letter) int { return strings.Compare(a.Label, b.Label) })
	return out
}

// keyOfTrial says how the key of a trial stands; nil where its plan is not blind.
func keyOfTrial(t *record.Trial, name string) *keyView {
	if t.Plan == nil || !t.Plan.Blind {
		return nil
	}
	k := &keyView{Sealed: t.Sealed(), Opened: t.KeyOpened, Broken: t.CountBroken(), Of: len(t.Specimens) - t.CountSpoiled(), By: name, Letters: letters(t)}
	if k.Sealed {
		for i := range k.Letters {
			k.Letters[i] = letter{Label: k.Letters[i].Label}
		}
	}
	for _, n := range t.Notes {
		if n.Station == stationKey && n.Seq > t.PlanAt.Seq {
			k.Holders = append(k.Holders, n)
		}
	}
	if t.KeyOpened != nil {
		for _, e := range t.Entries {
			if c, ok := e.Content.(record.KeyOpened); ok && e.Seq == t.KeyOpened.Seq {
				k.OpenedBroken, k.OpenedOf = c.Broken, c.Of
			}
		}
	}
	return k
}

// Key opens the key of the blind letters, which is recorded; or gives it to somebody
// who marks the packages with the letters, as a PDF, which is recorded as well and
// leaves all pages blind.
func (m *Maker) Key(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	if t.Plan == nil || !t.Plan.Blind {
		return &frame.Problem{Status: http.StatusConflict, Words: "this trial has no blind letters, and so no key"}
	}
	who := d.Who(r)
	if by := frame.CleanName(r.PostFormValue("by")); by != "" {
		who.By = by
	}
	open := r.PostFormValue("do") == "open"
	back := "/trials/" + t.ID + "/plan#key"
	if !t.Sealed() {
		if open {
			return frame.Back(w, r, back)
		}
		return sendKey(d, w, r, t)
	}
	k := keyOfTrial(t, who.By)
	k.Asked = true
	if r.PostFormValue("by") != "" || who.By == "" {
		k.By = r.PostFormValue("by")
	}
	if who.By == "" {
		k.ByError = "Your name is missing: who has the key is recorded."
	}
	if k.OpenOpen = open; open && r.PostFormValue("sure") != "yes" {
		k.SureError = "Tick this first: once open, the key cannot be sealed again."
	}
	if k.ByError != "" || k.SureError != "" {
		v, verr := m.view(d, r, t)
		if verr != nil {
			return verr
		}
		v.Data.(*page).Key = k
		return d.ShowAgain(w, r, planPage, v, &frame.Problem{Status: http.StatusUnprocessableEntity, Words: strings.TrimSpace(k.ByError + " " + k.SureError)})
	}
	if who.Key != "" { // both forms of the page carry the same
		who.Key += "/" + r.PostFormValue("do") + "/" + who.By
	}
	if open {
		if _, err := d.Book.Add(r.Context(), who, t.ID, "", record.KeyOpened{Broken: k.Broken, Of: k.Of}); err != nil {
			return err
		}
		return frame.Back(w, r, back)
	}
	if _, err := d.Book.Add(r.Context(), who, t.ID, "", record.Noted{Station: stationKey, Text: "has the key to mark the packages with the letters: " + who.By}); err != nil {
		return err
	}
	return sendKey(d, w, r, t)
}
