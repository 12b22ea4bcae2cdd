package cure_test

import (
	"bytes"
	"html"
	"image"
	"image/color"
	"image/png"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/pages/cure"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// file stands in for the general route that serves photos.
func file(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	content, ref, err := d.Book.Logbook().File(r.Context(), r.PathValue("sum"))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", ref.MediaType)
	_, err = w.Write(content)
	return err
}

var routes = map[string]frame.Handler{
	"GET /trials/{trial}/cure":  cure.Show,
	"POST /trials/{trial}/cure": cure.Save,
	"GET /files/{sum}":          file,
}

// station is the station of one trial, as a browser without scripts meets it.
type station struct {
	*frametest.Bench
	t    *testing.T
	id   string
	site *httptest.Server
}

func open(t *testing.T, blind bool) *station {
	b := frametest.New(t)
	return &station{b, t, b.Benches(blind), b.Serve(routes)}
}

func (s *station) trial() *record.Trial { return s.Trial(s.id) }

// until sets the clock to a time of the plan.
func (s *station) until(at time.Time) { s.Clock.Add(at.Sub(s.Clock.Now())) }

func (s *station) get() string {
	s.t.Helper()
	res, err := http.Get(s.site.URL + "/trials/" + s.id + "/cure")
	if err != nil {
		s.t.Fatal(err)
	}
	return s.body(res, http.StatusOK)
}

func (s *station) body(res *http.Response, want int) string {
	s.t.Helper()
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	if res.StatusCode != want {
		s.t.Fatalf("status %d, want %d:\n%s", res.StatusCode, want, text)
	}
	return string(text)
}

// post sends a form with a photo, unless that is nil, and returns the page that it
// leads to; kv are names and values.
func (s *station) post(want int, photo []byte, kv ...string) string {
	s.t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for i := 0; i < len(kv); i += 2 {
		if err := m.WriteField(kv[i], kv[i+1]); err != nil {
			s.t.Fatal(err)
		}
	}
	part, err := m.CreateFormFile("photo", map[bool]string{true: "", false: `bead "1".png`}[photo == nil])
	if err != nil {
		s.t.Fatal(err)
	}
	_, _ = part.Write(photo)
	if err := m.Close(); err != nil {
		s.t.Fatal(err)
	}
	res, err := http.Post(s.site.URL+"/trials/"+s.id+"/cure", m.FormDataContentType(), &b)
	if err != nil {
		s.t.Fatal(err)
	}
	return s.body(res, want)
}

var (
	tags  = regexp.MustCompile(`<[^>]*>`)
	white = regexp.MustCompile(`\s+`)
)

// read returns what a reader sees of a page.
func read(page string) string {
	return white.ReplaceAllString(html.UnescapeString(tags.ReplaceAllString(page, " ")), " ")
}

func (s *station) sees(page string, words ...string) {
	s.t.Helper()
	text := read(page)
	for _, w := range words {
		if !strings.Contains(text, w) {
			s.t.Errorf("the page does not say %q:\n%s", w, text)
		}
	}
}

// picture is a small photo of one colour.
func picture(t *testing.T, shade uint8) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 60, 40))
	for i := range m.Pix {
		m.Pix[i] = shade
	}
	m.Set(3, 3, color.Black)
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWhatIsDue(t *testing.T) {
	s := open(t, false)
	checks := s.trial().Checks()
	if len(checks) < 3 {
		t.Fatalf("%d checks", len(checks))
	}
	s.sees(s.get(), "After the glue-up", "None of these specimens is glued yet.")
	s.GlueAll(s.id)
	checks = s.trial().Checks() // all were glued at once, now
	page := s.get()
	s.sees(page, "On other days", "Due at "+frame.When(checks[0].At, s.trial().Zone))
	if strings.Contains(read(page), "Due now") {
		t.Error("something is due before its time")
	}
	s.until(checks[0].At.Add(-30 * time.Minute))
	s.sees(s.get(), "Later today")
	s.until(checks[0].At.Add(90 * time.Minute))
	page = s.get()
	s.sees(page, "Due now", "Due for 1 h", checks[0].Label+" "+checks[0].Why, strings.Join(checks[0].Codes, " , "))

	page = s.post(http.StatusOK, nil, "about", "check 0", "hardness", "5", "flexible", "2", "note", "two\nlines", "key", "k")
	s.sees(page, "Seen", "5, hard as when fully cured", "2, stiff: bends a little, then snaps", "two lines")
	c := s.trial().Cures
	if len(c) != 1 || c[0].Subject != record.CheckSubject(0) || c[0].Adhesive != checks[0].Label || c[0].Cured.Hardness != 5 || c[0].Cured.Note != "two\nlines" {
		t.Fatalf("recorded %+v", c)
	}
	s.post(http.StatusOK, nil, "about", "check 0", "hardness", "5", "flexible", "2", "note", "two\nlines", "key", "k") // sent twice
	if len(s.trial().Cures) != 1 {
		t.Error("a form that was sent twice is written twice")
	}

	// Somebody else looks as well: what was typed is kept where theirs can be corrected.
	page = s.post(http.StatusConflict, nil, "about", "check 0", "hardness", "4", "note", "mine")
	s.sees(page, "Recorded already", "mine")
	s.sees(s.post(http.StatusOK, nil, "about", "entry "+strconv.FormatInt(c[0].Seq, 10), "hardness", "4", "note", "mine"), "4, firm", "mine")
	if c := s.trial().Cures; len(c) != 1 || c[0].Cured.Hardness != 4 {
		t.Errorf("after the correction %+v", c)
	}
}

// checksOf returns a look that goes by the glue-up alone, and one before breaking.
func checksOf(t *testing.T, tr *record.Trial) (free, before record.Check) {
	t.Helper()
	for _, c := range tr.Checks() {
		if strings.Contains(c.Why, "before breaking") {
			before = c
		} else if free.Subject == "" {
			free = c
		}
	}
	if free.Subject == "" || before.Subject == "" {
		t.Fatalf("checks %+v", tr.Checks())
	}
	return free, before
}

// A look is due by the glue-up as it was recorded; one before breaking by the plan.
func TestDueByTheGlueUp(t *testing.T) {
	s := open(t, false)
	planned, before := checksOf(t, s.trial())
	var last time.Time // planned, of the specimens that are looked at
	for _, code := range planned.Codes {
		if sp, _ := s.trial().Specimen(code); sp.GlueAt.After(last) {
			last = sp.GlueAt
		}
	}
	s.until(last.Add(30 * time.Hour)) // all are glued that much later than planned
	s.GlueAll(s.id)
	for _, c := range s.trial().Checks() {
		switch {
		case c.Number == planned.Number && !c.At.Equal(planned.At.Add(30*time.Hour)):
			t.Errorf("due at %v, want 30 h after the planned %v", c.At, planned.At)
		case c.Number == before.Number && !c.At.Equal(before.At):
			t.Errorf("the look before breaking is due at %v, planned at %v", c.At, before.At)
		}
	}
	page := s.get()
	s.sees(page, "the plan has it at "+frame.When(planned.At, s.trial().Zone))
	if strings.Contains(read(page), "Due for 6 h") {
		t.Error("a look is due by the plan, and the glue-up was later")
	}

	// One specimen that is glued later yet puts the look off for all of its group.
	s = open(t, false)
	late := planned.Codes[len(planned.Codes)-1]
	for _, code := range planned.Codes[:len(planned.Codes)-1] {
		if _, err := s.Book.Add(t.Context(), record.Who{}, s.id, code, record.Glued{Spoiled: map[bool]string{true: "fell"}[code == planned.Codes[0]]}); err != nil {
			t.Fatal(err)
		}
	}
	s.until(last.Add(2 * time.Hour))
	if _, err := s.Book.Add(t.Context(), record.Who{}, s.id, late, record.Glued{}); err != nil {
		t.Fatal(err)
	}
	for _, c := range s.trial().Checks() {
		if c.Number == planned.Number && (c.At.Sub(planned.At) < 2*time.Hour || !c.Glued.Equal(last.Add(2*time.Hour))) {
			t.Errorf("due %v after the planned time, by a glue-up at %v", c.At.Sub(planned.At), c.Glued)
		}
	}
}

// A look long before its time is asked about once.
func TestEarlyLookIsAskedOnce(t *testing.T) {
	s := open(t, false)
	s.GlueAll(s.id)
	c, _ := checksOf(t, s.trial())
	about := "check " + strconv.Itoa(c.Number)
	page := s.post(http.StatusUnprocessableEntity, nil, "about", about, "hardness", "4", "note", "kept")
	s.sees(page, "This look is due at "+frame.When(c.At, s.trial().Zone), "is it the one you mean?", "kept")
	if !strings.Contains(page, `name="sure" value="`+about+`"`) {
		t.Error("it would be asked again")
	}
	if n := len(s.trial().Cures); n != 0 {
		t.Fatalf("%d looks are written", n)
	}
	s.post(http.StatusOK, nil, "about", about, "hardness", "4", "sure", about)
	if n := len(s.trial().Cures); n != 1 {
		t.Errorf("%d looks are written, want 1", n)
	}
	// Somewhat early is in time: a quarter of the wait.
	s = open(t, false)
	s.GlueAll(s.id)
	c, _ = checksOf(t, s.trial())
	s.until(c.At.Add(-c.At.Sub(c.Glued) / 5))
	s.post(http.StatusOK, nil, "about", "check "+strconv.Itoa(c.Number), "hardness", "4")
}

// What is not due stands in a short list.
func TestLaterLooksAreShort(t *testing.T) {
	s := open(t, false)
	s.GlueAll(s.id)
	page := s.get()
	if n, all := strings.Count(page, "cure-short"), len(s.trial().Checks()); n != all {
		t.Errorf("%d short lines for %d looks of other days", n, all)
	}
	c, _ := checksOf(t, s.trial())
	s.until(c.At.Add(time.Minute))
	page = s.get()
	due, short := strings.Index(page, "Due now"), strings.Index(page, "cure-short")
	if due < 0 || short < due || !strings.Contains(page, `<li class="sheet cure-check" id="check-`+strconv.Itoa(c.Number)) {
		t.Error("what is due does not come first, as a card")
	}
}

func TestMistakes(t *testing.T) {
	s := open(t, false)
	s.GlueAll(s.id)
	page := s.post(http.StatusUnprocessableEntity, nil, "about", "check 0", "sure", "check 0")
	s.sees(page, "Not written.", "Give at least one mark or a remark.")
	if !strings.Contains(page, `id="check-0"><details open>`) {
		t.Error("the form is not open")
	}
	page = s.post(http.StatusUnprocessableEntity, nil, "about", "check 1", "sure", "check 1", "hardness", "7", "flexible", "3", "note", "kept")
	s.sees(page, "Hardness: marks go from 1 to 5.", "a photo has to be chosen again", "kept")
	if !strings.Contains(page, `name="flexible" value="3" checked`) {
		t.Error("a mark that was given is lost")
	}
	s.sees(s.post(http.StatusUnprocessableEntity, nil, "about", "free", "hardness", "4", "note", "kept"), "Adhesive: choose which one you looked at.", "kept")
	s.sees(s.post(http.StatusUnprocessableEntity, []byte("no picture"), "about", "check 0", "sure", "check 0", "hardness", "4", "note", "kept"), "Photo: this is a text; send a photo as JPEG, PNG or WebP.", "kept")
	s.sees(s.post(http.StatusUnprocessableEntity, nil, "about", "remark"), "Remark: write something, or add a photo.")
	s.sees(s.post(http.StatusUnprocessableEntity, nil, "about", "remark", "text", "kept", "adhesive", "none such"), "Adhesive: choose one of this trial.", "kept")
	for _, about := range []string{"", "check 99", "check -1", "check x1", "check", "entry 1", "something"} {
		s.post(http.StatusBadRequest, nil, "about", about, "hardness", "4")
	}
	if n := len(s.trial().Cures) + len(s.trial().Notes); n != 0 {
		t.Errorf("%d entries are written", n)
	}
}

func TestPhotos(t *testing.T) {
	s := open(t, false)
	s.GlueAll(s.id)
	page := s.post(http.StatusOK, picture(t, 200), "about", "check 0", "sure", "check 0", "hardness", "5")
	l := s.trial().Cures[0]
	if len(l.Files) != 2 || l.Files[0].Role != "photo" || l.Files[1].Role != "thumb" || l.Files[0].MediaType != "image/png" {
		t.Fatalf("files %+v", l.Files)
	}
	if !strings.Contains(page, `<a href="/files/`+l.Files[0].Sum+`"><img class="photo" src="/files/`+l.Files[1].Sum+`"`) {
		t.Error("the page does not show the photo")
	}
	// A correction with another photo keeps the first.
	s.post(http.StatusOK, picture(t, 100), "about", "entry "+strconv.FormatInt(l.Seq, 10), "hardness", "4")
	if l := s.trial().Cures[0]; len(l.Photos()) != 2 || len(l.Files) != 4 {
		t.Errorf("after the correction %+v", l.Files)
	}
	s.sees(s.post(http.StatusOK, picture(t, 50), "about", "remark", "text", "cold night"), "cold night")
	if n := s.trial().Notes; len(n) != 1 || n[0].Station != "cure" || len(n[0].Photos()) != 1 {
		t.Errorf("remark %+v", n)
	}
}

func TestNotHardYet(t *testing.T) {
	s := open(t, false)
	s.GlueAll(s.id)
	tr := s.trial()
	var pva, before = -1, -1 // the check of Tarn at 24 h, its time to full cure, and one before breaking
	for _, c := range tr.Checks() {
		if c.Label == "Tarn" && strings.Contains(c.Why, "24 h") && pva < 0 {
			pva = c.Number
		}
		if c.Label == "Fell" && strings.Contains(c.Why, "before breaking") && before < 0 {
			before = c.Number
		}
	}
	if pva < 0 || before < 0 {
		t.Fatalf("checks %+v", tr.Checks())
	}
	s.until(tr.Checks()[pva].At.Add(time.Minute))
	page := s.post(http.StatusOK, nil, "about", "check "+strconv.Itoa(pva), "hardness", "3")
	s.sees(page, "▲ Tarn is not hard", "Do not break yet: after 24 h its kind is hard as a rule", "This is a hint; nothing is locked.")
	if w := cure.NotYet(s.trial()); len(w) != 1 || w[0].Of != "Tarn" || len(w[0].Codes) == 0 {
		t.Errorf("warnings %+v", w)
	}
	// A later look at the same adhesive finds it hard.
	s.Clock.Add(3 * time.Hour)
	page = s.post(http.StatusOK, nil, "about", "free", "adhesive", "Tarn", "hardness", "5")
	if strings.Contains(read(page), "is not hard") || len(cure.NotYet(s.trial())) != 0 {
		t.Error("it is warned of after it was found hard")
	}
	s.until(tr.Checks()[before].At.Add(time.Minute))
	s.sees(s.post(http.StatusOK, nil, "about", "check "+strconv.Itoa(before), "hardness", "2"), "▲ Fell is not hard", "looked at before breaking and is not hard")
	// Hard enough, or not said: no warning.
	s = open(t, false)
	s.GlueAll(s.id)
	s.until(tr.Checks()[before].At)
	s.post(http.StatusOK, nil, "about", "check "+strconv.Itoa(before), "hardness", "4")
	s.post(http.StatusOK, nil, "about", "check "+strconv.Itoa(pva), "flexible", "5")
	if w := cure.NotYet(s.trial()); len(w) != 0 {
		t.Errorf("warnings %+v", w)
	}
}

func TestFigure(t *testing.T) {
	s := open(t, false)
	s.GlueAll(s.id)
	s.Clock.Add(6 * time.Hour)
	if page := s.post(http.StatusOK, nil, "about", "free", "adhesive", "Tarn", "hardness", "2"); strings.Contains(page, "<svg") {
		t.Error("a figure of one look")
	}
	s.Clock.Add(6 * time.Hour)
	page := s.post(http.StatusOK, nil, "about", "free", "adhesive", "Tarn", "hardness", "4")
	s.sees(page, "Hardness against time", "n = 2", "time since the glue-up, h", "hardness, 1 to 5", "after 6 h: 2, a skin", "after 12 h: 4, firm")
	// An axis of 0 to 12 h is 44 to 326 wide: 6 h lie at 185. Hardness 2 is a quarter of
	// the way from 154 up to 34: 124; 4 is three quarters: 64.
	if !strings.Contains(page, `points="185,124 326,64"`) {
		t.Error("the line is not where it should be")
	}
	s.Clock.Add(6 * 24 * time.Hour)
	s.sees(s.post(http.StatusOK, nil, "about", "free", "adhesive", "Fell", "hardness", "5"), "n = 1", "time since the glue-up, days")
}

func TestSealedNamesStayUnknown(t *testing.T) {
	s := open(t, true)
	s.GlueAll(s.id)
	label := s.trial().Specimens[0].Label
	s.post(http.StatusOK, nil, "about", "free", "adhesive", label, "hardness", "2")
	s.post(http.StatusOK, nil, "about", "check 0", "sure", "check 0", "hardness", "2")
	s.post(http.StatusUnprocessableEntity, nil, "about", "free", "adhesive", "Tarn", "hardness", "2")
	page := s.get()
	for _, name := range []string{"Fell", ">Tarn", `"Tarn`} {
		if strings.Contains(page, name) {
			t.Errorf("the page tells %q", name)
		}
	}
	s.sees(page, label+" not planned")
	if len(cure.NotYet(s.trial())) != 0 {
		t.Error("soft in the first hours, as any adhesive is, and warned of")
	}
	// After a day each of the adhesives is warned of in the same words.
	s.Clock.Add(24 * time.Hour)
	words := make(map[string]bool)
	for _, sp := range s.trial().Specimens {
		if !words[sp.Label] {
			s.post(http.StatusOK, nil, "about", "free", "adhesive", sp.Label, "hardness", "2")
			words[sp.Label] = true
		}
	}
	if w := cure.NotYet(s.trial()); len(w) != 2 || w[0].Words != w[1].Words || !strings.Contains(w[0].Words, "after 24 h it is not hard") {
		t.Errorf("warnings %+v", w)
	}
}

func TestScriptsInNames(t *testing.T) {
	b := frametest.New(t)
	const evil = `<script>alert(1)</script>"'`
	id, err := b.Book.New(t.Context(), record.Who{By: evil}, record.Asked{Name: evil})
	if err != nil {
		t.Fatal(err)
	}
	s := &station{b, t, id, b.Serve(routes)}
	s.sees(s.get(), "Nothing to look at yet", "Make a plan", "Add a specimen by hand")
	for _, code := range []string{evil, "B"} {
		if _, err := b.Book.Add(t.Context(), record.Who{By: evil, Device: evil}, id, code, record.Added{Joint: record.Joint{Adhesive: evil, Batch: evil}}); err != nil {
			t.Fatal(err)
		}
		if _, err := b.Book.Add(t.Context(), record.Who{By: evil, Device: evil}, id, code, record.Glued{}); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 {
		b.Clock.Add(time.Hour)
		s.post(http.StatusOK, nil, "about", "free", "adhesive", evil, "hardness", "3", "note", evil)
	}
	s.post(http.StatusOK, nil, "about", "remark", "adhesive", evil, "text", evil)
	for _, page := range []string{s.get(),
		s.post(http.StatusUnprocessableEntity, nil, "about", "free", "adhesive", evil, "hardness", "9", "note", evil),
		s.post(http.StatusUnprocessableEntity, nil, "about", "remark", "adhesive", evil+"x", "text", evil)} {
		if strings.Contains(page, "<script>alert") {
			t.Errorf("a script that was typed comes out as one:\n%s", page)
		}
		if !strings.Contains(page, "&lt;script&gt;") || !strings.Contains(page, "<svg") {
			t.Error("what was typed is lost, or the figure is missing")
		}
	}
	s.sees(s.get(), "No looks are planned in this trial.")
}
