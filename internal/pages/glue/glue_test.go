package glue_test

import (
	"encoding/json"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/pages/glue"
	"bondtrial/internal/record"
)

// undo stands in for the general route that takes an entry back.
func undo(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	seq, _ := strconv.ParseInt(r.FormValue("seq"), 10, 64)
	e, err := d.Book.Undo(r.Context(), d.Who(r), t.ID, seq, "")
	switch {
	case err != nil:
		return err
	case frame.WantsJSON(r):
		return frame.JSON(w, http.StatusOK, map[string]any{"seq": e.Seq})
	}
	return frame.Back(w, r, r.FormValue("back"))
}

var routes = map[string]frame.Handler{
	"GET /trials/{trial}/glue":          glue.Show,
	"POST /trials/{trial}/glue":         glue.Done,
	"POST /trials/{trial}/glue/marks":   glue.Marks,
	"POST /trials/{trial}/glue/climate": glue.Climate,
	"POST /trials/{trial}/glue/add":     glue.Add,
	"POST /trials/{trial}/undo":         undo,
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
	return at(t, b, b.Benches(blind))
}

func at(t *testing.T, b *frametest.Bench, id string) *station {
	return &station{b, t, id, b.Serve(routes)}
}

func (s *station) trial() *record.Trial { return s.Trial(s.id) }

func (s *station) get(query string) string {
	s.t.Helper()
	res, err := http.Get(s.site.URL + "/trials/" + s.id + "/glue" + query)
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

// post sends a form and returns the page that it leads to; kv are names and values.
func (s *station) post(path string, want int, kv ...string) string {
	s.t.Helper()
	res, err := http.PostForm(s.site.URL+"/trials/"+s.id+path, form(kv...))
	if err != nil {
		s.t.Fatal(err)
	}
	return s.body(res, want)
}

func form(kv ...string) url.Values {
	f := url.Values{}
	for i := 0; i < len(kv); i += 2 {
		f.Set(kv[i], kv[i+1])
	}
	return f
}

var (
	tags  = regexp.MustCompile(`(?s)<script.*?</script>|<[^>]*>`)
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

func TestOneAfterAnother(t *testing.T) {
	s := open(t, false)
	first, second := s.trial().Specimens[0], s.trial().Specimens[1]
	page := s.get("")
	s.sees(page, "0 of 16 glued", first.Adhesive, "ash", "Condition surface: "+first.Factors["surface"], "Then "+second.Code, "2 h behind the plan") // 9:00 UTC is 11:00 in Berlin, the plan begins at 9:00 there
	if !strings.Contains(page, `data-show="code" tabindex="-1">`+first.Code+`</h2>`) {
		t.Errorf("the first specimen %s is not in hand", first.Code)
	}

	// The adhesive went on at 9:01:00, full pressure was reached at 9:03:30.
	on := s.Clock.Now().Add(time.Minute)
	s.Clock.Add(4 * time.Minute)
	page = s.post("/glue", http.StatusOK, "code", strings.ToLower(first.Code), "outcome", "done", "key", "k1",
		"spread", strconv.FormatInt(on.UnixMilli(), 10), "clamped", strconv.FormatInt(on.Add(150*time.Second).UnixMilli(), 10), "note", "warm")
	s.sees(page, "1 of 16 glued", first.Code+" under the clamp, 2 min 30 s after the adhesive went on", "Take back "+first.Code)
	if !strings.Contains(page, `tabindex="-1">`+second.Code+`</h2>`) {
		t.Errorf("the second specimen %s is not in hand", second.Code)
	}
	g := s.trial().Specimens[0].Glued
	if g == nil || !g.Spread.Equal(on) || !g.Clamped.Equal(on.Add(150*time.Second)) || g.OverOpen || g.Note != "warm" {
		t.Errorf("recorded %+v", g)
	}

	// Sent again, as where an answer was lost: nothing is added.
	n := len(s.trial().Entries)
	s.post("/glue", http.StatusOK, "code", first.Code, "outcome", "done", "key", "k1",
		"spread", strconv.FormatInt(on.UnixMilli(), 10), "clamped", strconv.FormatInt(on.Add(150*time.Second).UnixMilli(), 10), "note", "warm")
	if len(s.trial().Entries) != n {
		t.Error("a form that was sent twice is written twice")
	}

	// Taken back it is the first to be glued again.
	page = s.post("/undo", http.StatusOK, "seq", strconv.FormatInt(g.Seq, 10), "back", "/trials/"+s.id+"/glue")
	s.sees(page, "0 of 16 glued")
	if s.trial().Specimens[0].Glued != nil {
		t.Error("it is not taken back")
	}
}

func TestSpoiled(t *testing.T) {
	s := open(t, false)
	code := s.trial().Specimens[0].Code
	page := s.post("/glue", http.StatusUnprocessableEntity, "code", code, "outcome", "spoiled", "spread", "1807606800000")
	s.sees(page, "Not written.", "Say why it is spoiled: pick a reason or write one.")
	if !strings.Contains(page, `id="glue-spoiling" open`) || !strings.Contains(page, `value="1807606800000"`) {
		t.Error("the form is not open, or the clock is lost")
	}
	s.sees(s.post("/glue", http.StatusOK, "code", code, "outcome", "spoiled", "why", "a piece split or fell", "other", "on the <floor>"),
		"0 of 16 glued , 1 spoiled", "spoiled: a piece split or fell; on the <floor>")
	if g := s.trial().Specimens[0].Glued; g == nil || g.Spoiled != "a piece split or fell; on the <floor>" {
		t.Errorf("recorded %+v", g)
	}
	s.post("/glue", http.StatusBadRequest, "code", code)
}

func TestTwoAtOnce(t *testing.T) {
	s := open(t, false)
	code := s.trial().Specimens[0].Code
	s.post("/glue", http.StatusOK, "code", code, "outcome", "done", "key", "a")
	page := s.post("/glue", http.StatusConflict, "code", code, "outcome", "done", "key", "b")
	s.sees(page, "Recorded already: "+code+": glued", code+" is glued already", "1 of 16 glued")

	// A module is told in words as well.
	req, err := http.NewRequest("POST", s.site.URL+"/trials/"+s.id+"/glue", strings.NewReader(form("code", code, "outcome", "done", "key", "c").Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Accept", "application/json")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	var answer struct{ Error string }
	if err := json.Unmarshal([]byte(s.body(res, http.StatusConflict)), &answer); err != nil || !strings.HasPrefix(answer.Error, "Recorded already: "+code) {
		t.Errorf("%+v, %v", answer, err)
	}
}

func TestGoToASpecimen(t *testing.T) {
	s := open(t, false)
	third := s.trial().Specimens[2].Code
	if page := s.get("?code=" + strings.ToLower(third[:2]) + "-" + third[2:]); !strings.Contains(page, `tabindex="-1">`+third+`</h2>`) {
		t.Errorf("%s is not in hand", third)
	}
	s.sees(s.get("?code="+third[:4]), "No specimen of this trial is called “"+third[:4]+"”", "Did you mean "+third)
	s.sees(s.get("?code=%3Cb%3Exyz"), "called “<b>xyz”")
	s.post("/glue", http.StatusOK, "code", third, "outcome", "done")
	s.sees(s.get("?code="+third), third+" is glued already")
	s.sees(s.post("/glue", http.StatusUnprocessableEntity, "code", "ZZZZZ", "outcome", "done", "note", "typed"), "No specimen of this trial is called", "typed")
}

// What a module goes on by is all that is left, with the times of the plan.
func TestDataOfThePage(t *testing.T) {
	s := open(t, false)
	page := s.get("")
	_, rest, _ := strings.Cut(page, `id="glue-data" data-live>`)
	raw, _, ok := strings.Cut(rest, "</script>")
	var cards []struct {
		Code, Adhesive, Pieces string
		Open                   int
		At                     int64
	}
	if err := json.Unmarshal([]byte(raw), &cards); err != nil || !ok || len(cards) != 16 {
		t.Fatalf("%d cards, %v: %.200s", len(cards), err, raw)
	}
	for i, sp := range s.trial().Specimens {
		c := cards[i]
		// The open times usual for PVA and polyurethane, 5 and 10 minutes: they are
		// those of package trialfile.
		open := map[string]int{"Tarn": 300, "Fell": 600}[sp.Adhesive]
		if c.Code != sp.Code || c.Adhesive != sp.Adhesive || c.Open != open || c.At != sp.GlueAt.UnixMilli() || c.Pieces == "" {
			t.Errorf("card %d is %+v, the specimen %+v", i, c, sp)
		}
	}
}

func TestSealedNamesStayUnknown(t *testing.T) {
	s := open(t, true)
	s.GlueAll(s.id)
	for _, e := range []string{"", "?code=" + s.trial().Specimens[0].Code} {
		if page := s.get(e); strings.Contains(page, "Tarn<") || strings.Contains(page, "Fell") || strings.Contains(page, `"Tarn`) || strings.Contains(page, "Tarn,") {
			t.Error("the page tells a name")
		}
	}
	s = open(t, true)
	page := s.get("")
	s.sees(page, "Adhesive, its letter "+s.trial().Specimens[0].Label, "Isocyanates")
	for _, name := range []string{">Tarn", "Fell", `"Tarn`, "pva"} {
		if strings.Contains(page, name) {
			t.Errorf("the page tells %q", name)
		}
	}
	// A name that is typed must not be turned into its letter.
	refused := s.post("/glue/add", http.StatusUnprocessableEntity, "code", "T1", "adhesive", "Tarn")
	s.sees(refused, "Adhesive: choose its letter; names stay sealed until the key is opened.")
	if len(s.trial().Specimens) != 16 {
		t.Error("the specimen is added")
	}
}

func TestAllGlued(t *testing.T) {
	s := open(t, false)
	s.GlueAll(s.id)
	s.sees(s.get(""), "All is glued", "16 of 16 glued", "Next: look at the cure of", "Breaking begins at", "Look at the cure")
}

func TestScriptsInNames(t *testing.T) {
	b := frametest.New(t)
	const evil = `<script>alert(1)</script>"'`
	id, err := b.Book.New(t.Context(), record.Who{By: evil}, record.Asked{Name: evil, Factors: []string{evil}})
	if err != nil {
		t.Fatal(err)
	}
	s := at(t, b, id)
	for i, glued := range []string{"", "yes"} {
		s.post("/glue/add", http.StatusOK, "code", evil+strconv.Itoa(i), "adhesive", evil, "wood", evil, "board", evil, "batch", evil, "factor0", evil, "glued", glued)
	}
	code := evil + "0"
	s.post("/glue", http.StatusOK, "code", code, "outcome", "spoiled", "other", evil, "note", evil, "batch", evil)
	group := url.Values{"label": {evil}, "batch": {evil}}.Encode()
	s.post("/glue/marks", http.StatusOK, "group", group, "spreads", "3", "note", evil)
	for _, page := range []string{s.get(""), s.get("?code=" + url.QueryEscape(evil)), s.get("?" + group),
		s.post("/glue", http.StatusConflict, "code", code, "outcome", "done", "note", evil, "batch", evil),
		s.post("/glue/climate", http.StatusUnprocessableEntity, "temperature", evil, "humidity", evil),
		s.post("/glue/marks", http.StatusConflict, "group", group, "spreads", "4", "note", evil),
		s.post("/glue/add", http.StatusUnprocessableEntity, "code", code, "adhesive", evil, "wood", evil)} {
		if strings.Contains(page, "<script>alert") {
			t.Errorf("a script that was typed comes out as one:\n%s", page)
		}
		if !strings.Contains(page, "&lt;script&gt;") {
			t.Error("what was typed is lost")
		}
	}
}
