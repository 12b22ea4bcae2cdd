package breaking

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/photo"
	"bondtrial/internal/record"
)

// mostBytes is what a form may hold, a photo included.
const mostBytes = photo.DefaultBytes + 1<<20

// Save writes a break. A module is answered with what was written, or with what is
// wrong by field; where the specimen is broken already, with what is recorded. The
// field instead names a break that this one takes the place of.
func Save(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostBytes)
	if err := parse(r); err != nil {
		return err
	}
	f := readForm(r.FormValue)
	f.Areas = t.AreaMM2() == 0
	if err := f.find(d, r); err != nil {
		return err
	}
	e, err := save(d, r, t, &f)
	switch {
	case err != nil:
		return again(d, w, r, t, f, err)
	case frame.WantsJSON(r):
		return written(w, t, e)
	}
	next := "/trials/" + t.ID + "/break"
	if usual := usualUnit(d, r, t); f.Unit != usual {
		next += "?unit=" + url.QueryEscape(f.Unit)
	}
	return frame.Back(w, r, next)
}

// parse reads a form with or without files.
func parse(r *http.Request) error {
	err := r.ParseMultipartForm(1 << 20)
	var tooLarge *http.MaxBytesError
	switch {
	case err == nil, errors.Is(err, http.ErrNotMultipart):
		return nil
	case errors.As(err, &tooLarge):
		return tooLarge
	}
	return frame.BadRequest("the form did not arrive whole: send it again")
}

func usualUnit(d *frame.Desk, r *http.Request, t *record.Trial) string {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return "N"
	}
	return emptyForm(t, things, today(t, d.Clock())).Unit
}

func save(d *frame.Desk, r *http.Request, t *record.Trial, f *form) (record.Entry, error) {
	s, nearest, err := find(t, f.Code)
	if err != nil {
		msg := "code: " + err.Error()
		if nearest != "" {
			msg += "; is it " + nearest + "?"
		}
		return record.Entry{}, &record.Refused{Field: "code", Message: msg}
	}
	f.Code = s.Code
	var instead int64
	var old *record.Broken
	if n, err := strconv.ParseInt(r.FormValue("instead"), 10, 64); err == nil && n > 0 {
		instead = n
		if s.Broken != nil {
			old = &s.Broken.Broken
		}
	}
	b, err := f.broken(t.AreaMM2(), old)
	if err != nil {
		return record.Entry{}, err
	}
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return record.Entry{}, err
	}
	if s.Broken == nil || instead > 0 { // else it is refused, and there is nothing to ask
		if err := f.ask(questions(t, s, b, f, things.Rig, record.Stamp{At: d.Clock(), Said: d.Who(r).Said}.When())); err != nil {
			return record.Entry{}, err
		}
	}
	files, err := photosOf(r)
	if err != nil {
		return record.Entry{}, err
	}
	if instead > 0 {
		return d.Book.Correct(r.Context(), d.Who(r), t.ID, instead, b, files...)
	}
	return d.Book.Add(r.Context(), d.Who(r), t.ID, s.Code, b, files...)
}

// photosOf returns the photo of a form and its small copy, none where there is none.
func photosOf(r *http.Request) ([]logbook.File, error) {
	if r.MultipartForm == nil || len(r.MultipartForm.File["photo"]) == 0 {
		return nil, nil
	}
	var out []logbook.File
	for _, head := range r.MultipartForm.File["photo"] {
		if head.Size == 0 {
			continue
		}
		file, err := head.Open()
		if err != nil {
			return nil, fmt.Errorf("receiving the photo: %w", err)
		}
		p, err := photo.Take(file, photo.Limits{})
		file.Close()
		var refused *photo.Refused
		if errors.As(err, &refused) {
			return nil, &record.Refused{Field: "photo", Message: "photo: " + refused.Words}
		}
		if err != nil {
			return nil, err
		}
		called := []rune(strings.ReplaceAll(strings.ToValidUTF8(head.Filename, "?"), "\x00", "?"))
		called = called[:min(len(called), 80)]
		out = append(out, logbook.File{Role: "photo", Name: string(called), MediaType: p.MediaType, Content: p.Kept},
			logbook.File{Role: "thumb", Name: string(called), MediaType: "image/jpeg", Content: p.Thumbnail})
	}
	return out, nil
}

func written(w http.ResponseWriter, t *record.Trial, e record.Entry) error {
	return frame.JSON(w, http.StatusOK, map[string]any{"seq": e.Seq, "code": e.Subject, "words": record.Words(t, e), "by": e.By})
}

// refusal answers a module with what is wrong.
func refusal(w http.ResponseWriter, t *record.Trial, err error, f form) error {
	status, words := frame.Status(err)
	out := map[string]any{"error": frame.Sentence(words)}
	if fields := fieldErrors(err); len(fields) > 0 {
		said := make(map[string]string, len(fields))
		for name, message := range fields {
			said[name] = frame.Sentence(message)
		}
		out["fields"] = said
	}
	if f.Asked {
		out["asked"] = f.Sure
	}
	var c *record.Conflict
	if errors.As(err, &c) {
		out["recorded"] = map[string]any{"seq": c.Recorded.Seq, "code": c.Subject, "words": record.Words(t, c.Recorded)}
	}
	return frame.JSON(w, status, out)
}

// again shows the bench with everything that was typed.
func again(d *frame.Desk, w http.ResponseWriter, r *http.Request, t *record.Trial, f form, wrong error) error {
	if status, _ := frame.Status(wrong); status >= 500 && status != http.StatusInsufficientStorage {
		return wrong
	}
	if frame.WantsJSON(r) {
		return refusal(w, t, wrong, f)
	}
	t, err := d.Trial(r) // somebody else's entry may be news
	if err != nil {
		return err
	}
	v, p, err := bench(d, r, t)
	if err != nil {
		return err
	}
	if s, _, err := find(t, f.Code); err == nil {
		c := p.card(t, s)
		p.set(&c)
		if s.Broken != nil {
			seen := rowOf(t, s)
			p.Conflict = &seen
		}
	}
	f.Wrong = fieldErrors(wrong)
	if f.Cal == nil {
		f.Cal = p.Form.Cal
	}
	p.Form, p.Inert.Cal = f, curveOf(f.Cal)
	if p.Now == nil || f.Wrong["code"] != "" && p.Now.Code != f.Code { // a code of no specimen: no other is on the rig
		p.Now = &card{Code: shortened(f.Code)}
	}
	return d.ShowAgain(w, r, benchPage, v, wrong)
}
