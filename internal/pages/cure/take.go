package cure

import (
	"errors"
	"fmt"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/photo"
	"bondtrial/internal/record"
)

// mostForm is the largest form that is taken, with its photo, bytes.
const mostForm = photo.DefaultBytes + 1<<20

// Save takes down a look or a remark, or corrects a look. The form's field about
// says which: "check 3", "entry 12", "free" or "remark".
func Save(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostForm)
	if err := r.ParseMultipartForm(4 << 20); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return frame.BadRequest("the form could not be read: send it again")
	}
	if r.MultipartForm != nil {
		defer r.MultipartForm.RemoveAll()
	}
	e, err := save(d, r, t)
	if err != nil {
		if frame.WantsJSON(r) {
			return err
		}
		if fresh, ferr := d.Trial(r); ferr == nil {
			t = fresh // somebody else's entry may have been in the way
		}
		p := build(d, t)
		p.again(r, err)
		return d.ShowAgain(w, r, curePage, view(d, r, t, p), err)
	}
	if frame.WantsJSON(r) {
		return frame.JSON(w, http.StatusOK, map[string]any{"seq": e.Seq})
	}
	return frame.Back(w, r, "/trials/"+t.ID+"/cure")
}

func save(d *frame.Desk, r *http.Request, t *record.Trial) (record.Entry, error) {
	files, err := photos(r)
	if err != nil {
		return record.Entry{}, err
	}
	who, about := d.Who(r), r.FormValue("about")
	if about == "remark" {
		n := record.Noted{Station: "cure", Text: strings.TrimSpace(r.FormValue("text"))}
		if n.Text == "" && len(files) == 0 {
			return record.Entry{}, &record.Refused{Field: "text", Message: "remark: write something, or add a photo"}
		}
		subject := r.FormValue("adhesive")
		if subject != "" && !known(t, subject) {
			return record.Entry{}, &record.Refused{Field: "adhesive", Message: "adhesive: choose one of this trial"}
		}
		return d.Book.Add(r.Context(), who, t.ID, subject, n, files...)
	}
	c := record.Cured{Hardness: point(r.FormValue("hardness")), Flexible: point(r.FormValue("flexible")), Note: strings.TrimSpace(r.FormValue("note"))}
	kind, number, _ := strings.Cut(about, " ")
	n, nerr := strconv.ParseInt(number, 10, 64)
	if nerr != nil {
		n = -1
	}
	switch kind {
	case "check":
		if t.Plan == nil || n < 0 || n >= int64(len(t.Plan.Checks)) {
			return record.Entry{}, frame.BadRequest("the plan has no such check: look at the page again")
		}
		if k, ok := checkAt(t, record.CheckSubject(int(n))); ok && k.Seen == nil && r.FormValue("sure") != about {
			if q := early(t, k, record.Stamp{At: d.Clock(), Said: who.Said}.When()); q != "" {
				return record.Entry{}, &record.Refused{Field: "early", Message: q}
			}
		}
		c.Adhesive = t.Plan.Adhesives[t.Plan.Checks[n].Adhesive].Label
		return d.Book.Add(r.Context(), who, t.ID, record.CheckSubject(int(n)), c, files...)
	case "entry":
		i := slices.IndexFunc(t.Cures, func(l record.Looked) bool { return l.Seq == n })
		if i < 0 {
			return record.Entry{}, frame.BadRequest("that look was changed or taken back meanwhile: look at the page again")
		}
		c.Adhesive = t.Cures[i].Adhesive
		if files, err = withEarlier(d, r, t.Cures[i].Files, files); err != nil {
			return record.Entry{}, err
		}
		return d.Book.Correct(r.Context(), who, t.ID, n, c, files...)
	case "free":
		return free(d, r, t, c, files)
	}
	return record.Entry{}, frame.BadRequest("the form does not say what was looked at: look at the page again")
}

// free takes down a look that no plan asks for.
func free(d *frame.Desk, r *http.Request, t *record.Trial, c record.Cured, files []logbook.File) (record.Entry, error) {
	c.Adhesive = r.FormValue("adhesive")
	if !known(t, c.Adhesive) {
		return record.Entry{}, &record.Refused{Field: "adhesive", Message: "adhesive: choose which one you looked at"}
	}
	who := d.Who(r)
	if who.Key != "" { // the subject has the time in it: sent again it is found by its key
		for _, e := range t.Entries {
			if e.Key == who.Key {
				return e, nil
			}
		}
	}
	at := record.Stamp{At: d.Clock(), Said: who.Said}.When()
	subject := fmt.Sprintf("check of %s at %s", c.Adhesive, at.UTC().Format(time.RFC3339))
	return d.Book.Add(r.Context(), who, t.ID, subject, c, files...)
}

// withEarlier puts the files of an entry before those of its correction, which would
// else take their place.
func withEarlier(d *frame.Desk, r *http.Request, earlier []logbook.FileRef, files []logbook.File) ([]logbook.File, error) {
	if len(files) == 0 {
		return nil, nil
	}
	var all []logbook.File
	for _, ref := range earlier {
		content, _, err := d.Book.Logbook().File(r.Context(), ref.Sum)
		if err != nil {
			return nil, err
		}
		all = append(all, logbook.File{Role: ref.Role, Name: ref.Name, MediaType: ref.MediaType, Content: content})
	}
	return append(all, files...), nil
}

// again fills in the form that was sent.
func (p *page) again(r *http.Request, err error) {
	wrong := wrongs(err)
	about := r.FormValue("about")
	if about == "remark" {
		p.Note.About, p.Note.Text, p.Note.Wrong = r.FormValue("adhesive"), r.FormValue("text"), wrong
		return
	}
	fill := func(f *lookForm) {
		f.Open = f.About == about
		if f.Open {
			f.Label, f.Note, f.Wrong = r.FormValue("adhesive"), r.FormValue("note"), wrong
			f.Sure = wrong["early"] != "" || r.FormValue("sure") == about
			f.Hardness, f.Flexible = point(r.FormValue("hardness")), point(r.FormValue("flexible"))
		}
	}
	fill(&p.Free)
	found := p.Free.Open
	for _, list := range [][]check{p.Due, p.Today, p.Later, p.Waiting} {
		for i := range list {
			fill(&list[i].Form)
			found = found || list[i].Form.Open
		}
	}
	for i := range p.Done {
		fill(&p.Done[i].Form)
		found = found || p.Done[i].Form.Open
	}
	if found {
		return
	}
	// The look is written down already, by somebody else: what was typed is kept in the
	// form that corrects theirs.
	number, isCheck := strings.CutPrefix(about, "check ")
	n, nerr := strconv.Atoi(number)
	for i := range p.Done {
		if f := &p.Done[i].Form; isCheck && nerr == nil && p.Done[i].Subject == record.CheckSubject(n) {
			about = f.About
			fill(f)
		}
	}
}

func known(t *record.Trial, name string) bool {
	return slices.ContainsFunc(labelsOf(t), func(l label) bool { return l.Label == name })
}

// photos takes the photo of a form in, with its small copy; none where none was sent.
func photos(r *http.Request) ([]logbook.File, error) {
	if r.MultipartForm == nil {
		return nil, nil
	}
	var out []logbook.File
	for _, head := range r.MultipartForm.File["photo"] {
		if head.Size == 0 {
			continue
		}
		f, err := head.Open()
		if err != nil {
			return nil, fmt.Errorf("reading the photo: %w", err)
		}
		p, err := photo.Take(f, photo.Limits{})
		f.Close()
		var refused *photo.Refused
		if errors.As(err, &refused) {
			return nil, &record.Refused{Field: "photo", Message: "photo: " + refused.Words}
		}
		if err != nil {
			return nil, err
		}
		name := fileName(head.Filename)
		out = append(out, logbook.File{Role: "photo", Name: name, MediaType: p.MediaType, Content: p.Kept},
			logbook.File{Role: "thumb", Name: name, MediaType: "image/jpeg", Content: p.Thumbnail})
	}
	return out, nil
}

// fileName is the name of a photo as it is kept: without folders and control
// characters, not longer than 80 letters.
func fileName(s string) string {
	s = strings.ToValidUTF8(path.Base(strings.ReplaceAll(s, "\\", "/")), "")
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 80 {
		s = string(r[len(r)-80:]) // its ending says what it is
	}
	return s
}

// point reads a mark; 0 where none is given, −1 where it is none.
func point(s string) int {
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		return -1
	}
	return n
}

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
