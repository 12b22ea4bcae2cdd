package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"path"
	"strings"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/publish/handout"
	"bondtrial/internal/record"
)

// keyPaper is the name of the key as it is printed. It is made when it is asked for.
const keyPaper = "key.pdf"

// File sends a file of the plan as it was stored. The key is not sent while it is
// sealed: it is opened, or given to whoever marks the packages, where that is
// recorded.
func File(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	name := r.PathValue("name")
	if t.Plan != nil && t.Sealed() && (name == handout.KeySealed || name == keyPaper) {
		return &frame.Problem{Status: http.StatusForbidden, Words: "the key is sealed: open it at Plan, where that is recorded"}
	}
	if name == keyPaper && t.Plan != nil && t.Plan.Blind {
		return sendKey(d, w, r, t)
	}
	for _, f := range t.PlanAt.Files {
		if f.Role != rolePaper || f.Name != name {
			continue
		}
		content, _, err := d.Book.Logbook().File(r.Context(), f.Sum)
		if err != nil {
			return err
		}
		h := w.Header()
		send(h, t, name)
		h.Set("Cache-Control", "private, no-cache")
		h.Set("ETag", `"`+f.Sum+`"`)
		http.ServeContent(w, r, "", t.PlanAt.At, bytes.NewReader(content))
		return nil
	}
	return frame.NotFound("the plan has no such file")
}

// send says what a file is. A PDF for the bench is shown, to be printed; all else is
// kept.
func send(h http.Header, t *record.Trial, name string) {
	how := "attachment"
	if path.Ext(name) == ".pdf" && name != keyPaper {
		how = "inline"
	}
	h.Set("Content-Type", mediaType(name))
	h.Set("Content-Disposition", mime.FormatMediaType(how, map[string]string{"filename": t.ID + "-" + name}))
	h.Set("X-Content-Type-Options", "nosniff")
}

// sendKey sends the key as a PDF to be folded.
func sendKey(d *frame.Desk, w http.ResponseWriter, r *http.Request, t *record.Trial) error {
	var key []handout.Key
	for _, a := range letters(t) {
		key = append(key, handout.Key{Blind: a.Label, Adhesive: a.Name, Control: a.Name == t.Plan.Control})
	}
	about, err := stored(d, r, t, handout.PlanJSON)
	var none *logbook.NoFile
	if errors.As(err, &none) { // a plan that came without papers
		about, err = json.Marshal(map[string]string{"trial": t.Asked.Name, "start": firstDay(t), "page": "A4"})
	}
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := handout.KeyPaper(&b, key, about); err != nil {
		return fmt.Errorf("drawing the key: %w", err)
	}
	send(w.Header(), t, keyPaper)
	w.Header().Set("Cache-Control", "no-store")
	_, _ = b.WriteTo(w) // whoever went away does not read it
	return nil
}

// firstDay is the day of the first glue-up.
func firstDay(t *record.Trial) string {
	return t.Plan.Specimens[0].GlueAt.In(t.Zone).Format("2006-01-02")
}

// stored returns the content of a file of the plan; *logbook.NoFile where it has none
// of that name.
func stored(d *frame.Desk, r *http.Request, t *record.Trial, name string) ([]byte, error) {
	for _, f := range t.PlanAt.Files {
		if f.Name == name && strings.HasPrefix(f.Role, rolePaper) {
			content, _, err := d.Book.Logbook().File(r.Context(), f.Sum)
			return content, err
		}
	}
	return nil, &logbook.NoFile{}
}
