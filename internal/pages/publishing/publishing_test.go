package publishing

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"encoding/xml"
	"errors"
	"html"
	"image/png"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/answer"
	"bondtrial/internal/browsertest"
	"bondtrial/internal/figure"
	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/answers"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

type desk struct {
	*frametest.Bench
	site *httptest.Server
	t    testing.TB
}

func newDesk(t testing.TB) *desk {
	b := frametest.New(t)
	k := answers.NewKeeper(t.Context(), b.Clock.Now, answers.Limits{})
	t.Cleanup(k.Close)
	p := New(k)
	return &desk{b, b.Serve(map[string]frame.Handler{
		"GET /trials/{trial}/answer":              k.Show,
		"POST /trials/{trial}/answer/run":         k.Run,
		"GET /trials/{trial}/answer/progress":     k.Progress,
		"GET /trials/{trial}/answer.json":         k.JSON,
		"GET /trials/{trial}/report.html":         k.Report,
		"GET /trials/{trial}/readings.csv":        k.Table,
		"GET /trials/{trial}/publish":             p.Show,
		"GET /trials/{trial}/publish/table":       p.TakenIn,
		"GET /trials/{trial}/publish/plan/{name}": p.PlanFile,
		"GET /trials/{trial}/figures/{file}":      p.Figure,
	}), t}
}

func (d *desk) get(path string) (string, *http.Response) {
	d.t.Helper()
	r, err := http.Get(d.site.URL + path)
	if err != nil {
		d.t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		d.t.Fatal(err)
	}
	return string(b), r
}

// file returns a file that must be there, and the name it is to be saved under.
func (d *desk) file(path string) (content, name string) {
	d.t.Helper()
	s, r := d.get(path)
	if r.StatusCode != http.StatusOK {
		d.t.Fatalf("%s: %s\n%s", path, r.Status, s)
	}
	kind, params, err := mime.ParseMediaType(r.Header.Get("Content-Disposition"))
	if err != nil || kind != "attachment" {
		d.t.Errorf("%s: %q: %v", path, r.Header.Get("Content-Disposition"), err)
	}
	return s, params["filename"]
}

// answered has an answer worked out through the button of the page.
func (d *desk) answered(id, query string) {
	d.t.Helper()
	r, err := http.PostForm(d.site.URL+"/trials/"+id+"/answer/run"+query, url.Values{"back": {"publish"}})
	if err != nil {
		d.t.Fatal(err)
	}
	r.Body.Close()
	if got := r.Request.URL.RequestURI(); got != "/trials/"+id+"/publish"+query {
		d.t.Errorf("the button leads to %s", got)
	}
	for end := time.Now().Add(time.Minute); ; time.Sleep(5 * time.Millisecond) {
		s, _ := d.get("/trials/" + id + "/answer/progress" + query)
		var h answers.How
		if err := json.Unmarshal([]byte(s), &h); err != nil {
			d.t.Fatal(err)
		}
		if h.State == answers.Done {
			return
		}
		if h.State == answers.Failed || time.Now().After(end) {
			d.t.Fatalf("%+v", h)
		}
	}
}

const takenTable = "adhesive;strength_mpa;wood;specimen;failure\n" +
	"Tarn;5,1;ash;A1;CF\nTarn;6,2;ash;A2;CF\nTarn;5,6;ash;A3;CF\nFell;8,4;ash;B1;CF\nFell;9,3;ash;B2;CF\nFell;8,8;ash;B3;CF\n"

func (d *desk) takeIn(name, fileName string) string {
	d.t.Helper()
	id, _, err := d.Book.TakeIn(context.Background(), record.Who{By: "Ida"}, record.Asked{Name: name}, fileName, []byte(takenTable), table.Options{})
	if err != nil {
		d.t.Fatal(err)
	}
	return id
}

var tags = regexp.MustCompile(`(?s)<[^>]*>`)

func text(page string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(page, " "))), " ")
}

func says(t *testing.T, page string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text(page), w) {
			t.Errorf("the page does not say %q:\n%s", w, text(page))
		}
	}
}

// Every file that the page offers is there, named for the trial in its own script.
func TestEveryFile(t *testing.T) {
	d := newDesk(t)
	id := d.takeIn("Ясень, «сухой»", `my "table"; ü.csv`)
	page, _ := d.get("/trials/" + id + "/publish")
	says(t, page, "Answer first", "Answer now", "Save the readings", "after that the same readings give the same answer again")
	for _, not := range []string{"report.html", "answer.json", "/figures/", "PDF"} {
		if strings.Contains(page, not) {
			t.Errorf("%s is offered before the answer", not)
		}
	}
	d.answered(id, "?margin=10")
	page, _ = d.get("/trials/" + id + "/publish?margin=10")
	csv, csvName := d.file("/trials/" + id + "/readings.csv")
	sum := sha256.Sum256([]byte(csv))
	says(t, page, "Save the report", hex.EncodeToString(sum[:]), "bondtrial answer \"ясень-сухой-readings.csv\" --margin 10", "Fell")
	if csvName != "ясень-сухой-readings.csv" {
		t.Errorf("readings.csv is saved as %q", csvName)
	}
	links := regexp.MustCompile(`href="(/trials/[^"]*)"`).FindAllStringSubmatch(page, -1)
	files := make(map[string]string)
	for _, m := range links {
		path := html.UnescapeString(m[1])
		base, _, _ := strings.Cut(strings.TrimPrefix(path, "/trials/"+id+"/"), "?")
		if strings.Contains(base, ".") && !strings.HasPrefix(base, "publish/") && path != "/trials/"+id+"/report.html?margin=10" {
			files[path], _ = d.file(path)
		}
	}
	figures := 0
	for path, content := range files {
		switch {
		case strings.Contains(path, ".svg"):
			figures++
			isXML(t, path, content)
			if strings.Contains(content, "var(") || strings.Contains(content, "#16191d") != strings.Contains(path, "dark=1") {
				t.Errorf("%s: colours are left open, or not those that were asked for", path)
			}
		case strings.Contains(path, ".png"):
			figures++
			c, err := png.DecodeConfig(strings.NewReader(content))
			if err != nil {
				t.Fatalf("%s: %v", path, err)
			}
			u, _ := url.Parse(path)
			want := map[string]int{"300": 2250, "288": 1920, "384": 1920}[u.Query().Get("dpi")] // 720, 640 and 480 px at 96 to the inch
			if c.Width != want {
				t.Errorf("%s: %d wide, want %d", path, c.Width, want)
			}
		}
	}
	if figures < 15 || files["/trials/"+id+"/report.html?margin=10&download=1"] == "" || files["/trials/"+id+"/answer.json?margin=10"] == "" {
		t.Errorf("%d figures; %d files", figures, len(files))
	}
	if got, name := d.file("/trials/" + id + "/publish/table"); got != takenTable || name != `my "table"; ü.csv` && name != `my -table-; ü.csv` {
		t.Errorf("the table that was taken in is sent as %q: %q", name, got)
	}
}

func isXML(t *testing.T, path, content string) {
	t.Helper()
	x := xml.NewDecoder(strings.NewReader(content))
	for {
		switch _, err := x.Token(); {
		case errors.Is(err, io.EOF):
			return
		case err != nil:
			t.Fatalf("%s: %v", path, err)
		}
	}
}

// A planned trial offers its plan, once the key is open; what is stale is not
// published.
func TestPlannedTrial(t *testing.T) {
	d := newDesk(t)
	id := d.Benches(true)
	page, _ := d.get("/trials/" + id + "/publish")
	says(t, page, "There is no answer to publish", "Nothing has been broken yet")
	d.GlueAll(id)
	specimens := d.Trial(id).ToBreak()
	for i, s := range specimens[:12] {
		newton := 1000 + 31*float64(i*i%7)
		if s.Adhesive == "Fell" {
			newton *= 1.5
		}
		d.Break(id, s.Code, newton, 10)
	}
	d.answered(id, "")
	page, _ = d.get("/trials/" + id + "/publish")
	says(t, page, "The adhesives go by letters in all of this", "its times tell which letter may be which")
	if strings.Contains(page, "trial.toml") || strings.Contains(strings.ReplaceAll(page, "Is Tarn enough for damp ash?", ""), "Tarn") {
		t.Error("the page tells what is sealed")
	}
	if s, r := d.get("/trials/" + id + "/publish/plan/trial.toml"); r.StatusCode != http.StatusForbidden {
		t.Errorf("%s: %s", r.Status, s)
	}
	if _, err := d.Book.Add(context.Background(), record.Who{}, id, "", record.KeyOpened{Broken: 12, Of: 16}); err != nil {
		t.Fatal(err)
	}
	d.answered(id, "")
	page, _ = d.get("/trials/" + id + "/publish")
	says(t, page, "trial.toml", "Tarn", "opened on 12 April 2027, when 12 of 16 specimens were broken")
	if got, name := d.file("/trials/" + id + "/publish/plan/trial.toml"); got != d.Trial(id).Plan.File || name != "benches-trial.toml" {
		t.Errorf("%q: %q", name, got)
	}
	d.Break(id, specimens[12].Code, 1200, 0)
	page, _ = d.get("/trials/" + id + "/publish")
	says(t, page, "1 more reading since.", "Answer now")
	if strings.Contains(page, "Save the report") {
		t.Error("an answer without the latest reading is published")
	}
	if _, r := d.get("/trials/" + id + "/report.html"); r.StatusCode != http.StatusConflict {
		t.Error(r.Status)
	}
}

// The plan's readings.csv is empty: it is not called readings beside those that are.
func TestEmptyTableIsNamed(t *testing.T) {
	tr := &record.Trial{ID: "small", Plan: &record.Planned{}, PlanAt: record.Stamp{Files: []logbook.FileRef{{Role: "plan", Name: "readings.csv"}, {Role: "plan", Name: "cut-list.txt"}}}}
	var b bytes.Buffer
	d := newDesk(t)
	r, err := http.NewRequest(http.MethodGet, "/", nil)
	if err != nil {
		t.Fatal(err)
	}
	v := d.View(r, tr, "publish")
	v.Data = page{Current: &answers.Current{Trial: tr}, Plan: planOf(tr)}
	if err := publishPage.ExecuteTemplate(&b, "main", v); err != nil {
		t.Fatal(err)
	}
	says(t, b.String(), "Empty table for the bench (readings.csv)", " cut-list.txt ")
}

// What an address may ask for has bounds.
func TestBounds(t *testing.T) {
	d := newDesk(t)
	id := d.takeIn("Small", "small.csv")
	if _, r := d.get("/trials/" + id + "/figures/strength.svg"); r.StatusCode != http.StatusConflict {
		t.Error(r.Status)
	}
	d.answered(id, "")
	for file, status := range map[string]int{
		"strength.svg": 200, "strength.png?width=240&dpi=48": 200, "strength.gif": 404, "strength": 404, "none.svg": 404, "..svg": 404,
		"strength.png?width=239": 400, "strength.png?width=1601": 400, "strength.png?dpi=601": 400, "strength.png?dpi=0": 400,
		"strength.png?width=wide": 400, "strength.svg?margin=0": 400,
	} {
		if _, r := d.get("/trials/" + id + "/figures/" + file); r.StatusCode != status {
			t.Errorf("%s: %s, want %d", file, r.Status, status)
		}
	}
	for _, dpi := range []int{48, 300, 600, 4000} {
		f := figure.Strength(&answer.Answer{Cells: make([]answer.Cell, 40)}, figure.Column().WithWidth(1600))
		fit := fitting(f, dpi)
		across, down := f.Pixels(fit)
		more, taller := f.Pixels(fit + 2)
		if across*down > mostPoints || fit > dpi || fit < dpi && more*taller < mostPoints {
			t.Errorf("%d dots an inch become %d: %d × %d points", dpi, fit, across, down)
		}
	}
	for _, path := range []string{"/publish/plan/trial.toml", "/publish/plan/..%2f..%2fetc"} {
		if _, r := d.get("/trials/" + id + path); r.StatusCode != http.StatusNotFound {
			t.Errorf("%s: %s", path, r.Status)
		}
	}
	if _, r := d.get("/trials/" + d.Benches(false) + "/publish/table"); r.StatusCode != http.StatusNotFound {
		t.Error(r.Status)
	}
}

// The command on the page gives the answer of the page.
func TestWorkedOutAgain(t *testing.T) {
	d := newDesk(t)
	id := d.takeIn("Small", "small.csv")
	d.answered(id, "?control=Tarn&seed=5")
	page, _ := d.get("/trials/" + id + "/publish?control=Tarn&seed=5")
	says(t, page, "bondtrial answer small-readings.csv --control Tarn --seed 5")
	csv, _ := d.file("/trials/" + id + "/readings.csv")
	data, err := table.Read(strings.NewReader(csv), "small-readings.csv", table.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(page, data.SHA256) {
		t.Error("the page names another hash than that of the readings")
	}
	set := answer.DefaultSettings()
	set.Control, set.Seed = "Tarn", 5
	a, err := answer.Compute(context.Background(), data.Readings, set)
	if err != nil {
		t.Fatal(err)
	}
	var want bytes.Buffer
	if err := publish.JSON(&want, a); err != nil {
		t.Fatal(err)
	}
	if got, _ := d.file("/trials/" + id + "/answer.json?control=Tarn&seed=5"); got != want.String() {
		t.Errorf("the answers differ:\n%s\n%s", got, want.String())
	}
}

// Photos of breaks and remarks are listed, with what was typed as text.
func TestPhotos(t *testing.T) {
	d := newDesk(t)
	id := d.takeIn("Small", "small.csv")
	name := `"><script>alert(1)</script>`
	file := logbook.File{Role: "photo", Name: name, MediaType: "image/png", Content: []byte("picture")}
	thumb := logbook.File{Role: "thumb", Name: name, MediaType: "image/jpeg", Content: []byte("small")}
	if _, err := d.Book.Add(context.Background(), record.Who{}, id, name, record.Noted{Station: "break", Text: name}, file, thumb); err != nil {
		t.Fatal(err)
	}
	page, _ := d.get("/trials/" + id + "/publish")
	says(t, page, "Photos", "with a remark")
	small := sha256.Sum256(thumb.Content)
	if strings.Contains(page, "<script>alert") || !strings.Contains(page, `src="/files/`+hex.EncodeToString(small[:])) {
		t.Error("a name is not text, or the thumbnail is not used")
	}
}

func TestBrowserPublish(t *testing.T) {
	d := newDesk(t)
	id := d.takeIn("Small", "small.csv")
	b := browsertest.Start(t)
	for i, screen := range []browsertest.Screen{browsertest.Phone, browsertest.Laptop} {
		p := b.Page(screen)
		p.Open(d.site.URL + "/trials/" + id + "/publish")
		if i == 0 {
			p.WaitText("h2", "Answer first")
			sound(t, p)
			d.answered(id, "")
			p.Open(d.site.URL + "/trials/" + id + "/publish")
		}
		p.WaitText(".button.main", "Save the report")
		sound(t, p)
		p.Open(d.site.URL + "/trials/" + id + "/report.html")
		p.WaitText("h2", "How strong")
		if c := p.Console(); len(c) > 0 {
			t.Errorf("%v: the console says %q", screen, c)
		}
	}
}

func sound(t *testing.T, p *browsertest.Page) {
	t.Helper()
	for _, defect := range p.Overflow() {
		t.Errorf("%s: %s", p.URL(), defect)
	}
	for _, v := range p.Axe() {
		t.Errorf("%s: %v", p.URL(), v)
	}
}
