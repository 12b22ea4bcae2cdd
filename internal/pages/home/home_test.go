package home_test

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/pages/home"
	"bondtrial/internal/record"
	"bondtrial/internal/simulate"
	"bondtrial/internal/table"
)

var routes = map[string]frame.Handler{
	"GET /{$}":                      home.Trials,
	"GET /new":                      home.New,
	"POST /trials":                  home.Begin,
	"GET /take-in":                  home.TakeInForm,
	"POST /take-in":                 home.TakeIn,
	"GET /trials/{trial}":           home.Overview,
	"GET /trials/{trial}/history":   home.History,
	"POST /trials/{trial}/undo":     home.Undo,
	"POST /trials/{trial}/put-away": home.PutAway,
	"GET /files/{sum}":              home.File,
	"GET /trials/{trial}/ask":       home.Overview,
	"GET /trials/{trial}/answer":    home.Overview,
}

func get(t *testing.T, s *httptest.Server, path string, status int) string {
	t.Helper()
	r, err := http.Get(s.URL + path)
	if err != nil {
		t.Fatal(err)
	}
	return body(t, r, status)
}

func post(t *testing.T, s *httptest.Server, path string, v url.Values, status int) string {
	t.Helper()
	r, err := http.PostForm(s.URL+path, v)
	if err != nil {
		t.Fatal(err)
	}
	return body(t, r, status)
}

func body(t *testing.T, r *http.Response, status int) string {
	t.Helper()
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	if r.StatusCode != status {
		t.Fatalf("%s: status %d, want %d: %s", r.Request.URL, r.StatusCode, status, b)
	}
	return string(b)
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

func contains(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("%q is not in %s", p, text)
		}
	}
}

func TestEmptyLogbookExplainsItself(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	contains(t, get(t, s, "/", 200), "This logbook is empty", `action="/trials"`, `href="/take-in"`, `action="/demo"`)
}

func TestBegin(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	text := post(t, s, "/trials", url.Values{"name": {"  "}, "question": {"Is <b>Tarn</b> enough?"}}, 422)
	contains(t, text, "Not written.", "Is &lt;b&gt;Tarn&lt;/b&gt; enough?")
	contains(t, post(t, s, "/trials", url.Values{"name": {"Benches"}, "question": {"Which?"}, "key": {"k1"}}, 200), "Benches", "Which?")
	// The same form sent twice begins one trial.
	post(t, s, "/trials", url.Values{"name": {"Benches"}, "question": {"Which?"}, "key": {"k1"}}, 200)
	// Another one of the same name gets an address of its own.
	post(t, s, "/trials", url.Values{"name": {"Benches"}, "key": {"k2"}}, 200)
	all, err := b.Book.Trials(t.Context(), true)
	if err != nil || len(all) != 2 {
		t.Fatalf("%d trials, %v", len(all), err)
	}
	if all[0].ID != "benches-2" || all[1].ID != "benches" {
		t.Errorf("trials %s, %s", all[0].ID, all[1].ID)
	}
}

func TestPutAwayAndBack(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	id := b.Benches(false)
	post(t, s, "/trials/"+id+"/put-away", url.Values{}, 200)
	if all, _ := b.Book.Trials(t.Context(), false); len(all) != 0 {
		t.Fatal("the trial is on the list still")
	}
	contains(t, get(t, s, "/", 200), "Put away: 1")
	post(t, s, "/trials/"+id+"/undo", url.Values{"seq": {itoa(b.Trial(id).PutAway.Seq)}, "back": {"/"}}, 200)
	if all, _ := b.Book.Trials(t.Context(), false); len(all) != 1 {
		t.Fatal("the trial did not come back")
	}
}

func TestHistoryShowsWhatWasCorrected(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	id := b.Benches(false)
	b.GlueAll(id)
	code := b.Trial(id).ToBreak()[0].Code
	e := b.Break(id, code, 2140, 20)
	if _, err := b.Book.Correct(t.Context(), record.Who{By: "Jon"}, id, e.Seq, record.Broken{Peak: 2410, Unit: "N", AreaMM2: 200, Strength: 12.05}); err != nil {
		t.Fatal(err)
	}
	text := get(t, s, "/trials/"+id+"/history", 200)
	contains(t, text, "<s>2140 N, 20 % wood</s>", "2410 N", "corrected")
	text = get(t, s, "/trials/"+id+"/history?at="+itoa(e.Seq), 200)
	contains(t, text, "As it stood at", "2140 N")
	get(t, s, "/trials/"+id+"/history?at=x", 400)
	// Taken back, the first number stands again.
	last := b.Trial(id).Entries[len(b.Trial(id).Entries)-1]
	post(t, s, "/trials/"+id+"/undo", url.Values{"seq": {itoa(last.Seq)}}, 200)
	if got := b.Trial(id).Readings()[0].Strength; got != 10.7 {
		t.Errorf("strength %v after the correction was taken back, want 2140 N / 200 mm² = 10.7 MPa", got)
	}
	// Of another trial, and what a trial began with: refused.
	post(t, s, "/trials/"+id+"/undo", url.Values{"seq": {"1"}}, 422)
	post(t, s, "/trials/"+id+"/undo", url.Values{"seq": {"99999"}}, 404)
}

func upload(t *testing.T, s *httptest.Server, fields map[string]string, fileName, content string) *http.Response {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for k, v := range fields {
		_ = w.WriteField(k, v)
	}
	f, err := w.CreateFormFile("table", fileName)
	if err != nil {
		t.Fatal(err)
	}
	_, _ = io.WriteString(f, content)
	_ = w.Close()
	r, err := http.Post(s.URL+"/take-in", w.FormDataContentType(), &b)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestTakeIn(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	rs := simulate.DemoReadings(simulate.DemoSeed)
	var csv bytes.Buffer
	if err := table.Write(&csv, rs, []string{simulate.DemoFactor}); err != nil {
		t.Fatal(err)
	}
	body(t, upload(t, s, map[string]string{"factors": simulate.DemoFactor, "control": "Pemmet white"}, "benches.csv", csv.String()), 200)
	tr := b.Trial("benches")
	got := tr.Readings()
	var again bytes.Buffer
	if err := table.Write(&again, got, tr.Factors()); err != nil {
		t.Fatal(err)
	}
	if again.String() != csv.String() {
		t.Errorf("the table that was taken in does not come out again:\n%s\n%s", csv.String(), again.String())
	}
	if tr.Control() != "Pemmet white" || tr.Asked.Table != "benches.csv" {
		t.Errorf("%+v", tr.Asked)
	}
	// The file itself is kept.
	kept, _, err := b.Book.Logbook().File(t.Context(), tr.AskedAt.Files[0].Sum)
	if err != nil || !bytes.Equal(kept, csv.Bytes()) {
		t.Errorf("the file is not kept as it came: %v", err)
	}
}

func TestTakeInTellsAllThatIsWrong(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	text := body(t, upload(t, s, map[string]string{"name": "<script>x</script>", "question": "Which?"}, "../../x.csv", "adhesive,strength_mpa\nTarn,strong\nFell,\n"), 422)
	contains(t, text, "x.csv:2", "x.csv:3", "Which?", "&lt;script&gt;x&lt;/script&gt;")
	if all, _ := b.Book.Trials(t.Context(), true); len(all) != 0 {
		t.Error("a table with errors was taken in")
	}
	contains(t, body(t, upload(t, s, map[string]string{"area": "big"}, "x.csv", "adhesive,peak_n\nTarn,100\n"), 422), "mm²")
	for _, content := range []string{"", "\x00\x01", "PK\x03\x04"} {
		body(t, upload(t, s, nil, "x.csv", content), 422)
	}
}

// The same table under the same name is asked about once, and then taken.
func TestTakeInTwice(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	const csv = "adhesive,strength_mpa\nTarn,8\nFell,9\n"
	body(t, upload(t, s, map[string]string{"key": "k1"}, "x.csv", csv), 200)
	body(t, upload(t, s, map[string]string{"key": "k1"}, "x.csv", csv), 200) // this very form
	text := body(t, upload(t, s, map[string]string{"key": "k2"}, "x.csv", csv), 409)
	contains(t, text, "A trial of this name from the same file is there already", `<a href="/trials/x/answer">x</a>`, `name="again"`)
	if all, _ := b.Book.Trials(t.Context(), true); len(all) != 1 {
		t.Fatalf("%d trials, want 1", len(all))
	}
	_, again, _ := strings.Cut(text, `name="again" value="`)
	again, _, _ = strings.Cut(again, `"`)
	body(t, upload(t, s, map[string]string{"key": "k3", "again": again}, "x.csv", csv), 200)
	body(t, upload(t, s, map[string]string{"key": "k4", "name": "Another"}, "x.csv", csv), 200)
	body(t, upload(t, s, map[string]string{"key": "k5"}, "x.csv", csv+"Fell,9.5\n"), 200)
	if all, _ := b.Book.Trials(t.Context(), true); len(all) != 4 {
		t.Errorf("%d trials, want 4", len(all))
	}
}

// What is wrong with a table is told in the words of the page.
func TestTakeInSpeaksOfThePage(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	text := body(t, upload(t, s, nil, "x.csv", "adhesive,peak_n\nTarn,2310\n"), 422)
	contains(t, text, "fill in Bonded area")
	if strings.Contains(text, "--area") {
		t.Error("the page speaks of an option of the command line")
	}
}

// Who begins the first trial says who writes.
func TestBeginAsksWhoWrites(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	contains(t, get(t, s, "/", 200), `name="writer"`, "Say who writes")
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := client.PostForm(s.URL+"/trials", url.Values{"name": {"Benches"}, "writer": {" Ida  B "}, "key": {"k1"}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	if e := b.Trial("benches").Entries[0]; e.By != "Ida B" {
		t.Errorf("the entry is by %q", e.By)
	}
	if len(r.Cookies()) != 1 || r.Cookies()[0].Name != "name" {
		t.Fatalf("cookies %v", r.Cookies())
	}
	// On that device it is not asked again, and what it is called stays.
	q, err := http.NewRequest("GET", s.URL+"/new", nil)
	if err != nil {
		t.Fatal(err)
	}
	q.AddCookie(r.Cookies()[0])
	page, err := http.DefaultClient.Do(q)
	if err != nil {
		t.Fatal(err)
	}
	text := body(t, page, 200)
	contains(t, text, "Ida B writes")
	if strings.Contains(text, `name="writer"`) {
		t.Error("who writes is asked again")
	}
	contains(t, post(t, s, "/trials", url.Values{"name": {" "}, "writer": {"<b>Ida"}}, 422), `value="&lt;b&gt;Ida"`)
}

// The overview says in which zone times are.
func TestOverviewSaysItsZone(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	contains(t, get(t, s, "/trials/"+b.Benches(false), 200), "Times of this trial are in Europe/Berlin (now UTC&#43;0")
}

func TestUndoGoesNowhereElse(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	id := b.Benches(false)
	b.GlueAll(id)
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, back := range []string{"//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "x"} {
		r, err := client.PostForm(s.URL+"/trials/"+id+"/undo", url.Values{"seq": {itoa(b.Trial(id).LastGlued().Glued.Seq)}, "back": {back}})
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		if got := r.Header.Get("Location"); got != "/trials/"+id+"/history" {
			t.Errorf("back %q leads to %q", back, got)
		}
	}
}

func TestFileIsServedPlainly(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	get(t, s, "/files/../../etc/passwd", 404)
	get(t, s, "/files/"+strings.Repeat("0", 64), 404)
	get(t, s, "/files/%2e%2e%2f%2e%2e", 404)
}

// The papers of a plan are not to be had by their sums: they would tell the letters
// of a blind trial.
func TestFilesAreServedPictures(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	id := b.Benches(true)
	e, err := b.Book.Add(t.Context(), record.Who{}, id, "", record.Noted{Station: "cure", Text: "x"},
		logbook.File{Role: "photo", Name: "a.png", MediaType: "image/png", Content: []byte("a picture")},
		logbook.File{Role: "plan", Name: "key.sealed", MediaType: "application/octet-stream", Content: []byte("a key")},
		logbook.File{Role: "photo", Name: "b.png", MediaType: "text/html", Content: []byte("<script>")})
	if err != nil {
		t.Fatal(err)
	}
	if got := get(t, s, "/files/"+e.Files[0].Sum, 200); got != "a picture" {
		t.Errorf("got %q", got)
	}
	get(t, s, "/files/"+e.Files[1].Sum, 404)
	get(t, s, "/files/"+e.Files[2].Sum, 404)
}
