package answers

import (
	"bytes"
	"context"
	"encoding/json"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"bondtrial"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
	"bondtrial/internal/simulate"
	"bondtrial/internal/table"
)

// desk is a bench with the station served.
type desk struct {
	*frametest.Bench
	keeper *Keeper
	site   *httptest.Server
	t      testing.TB
}

func newDesk(t testing.TB) *desk { return deskWith(t, compute) }

func deskWith(t testing.TB, work worker) *desk {
	b := frametest.New(t)
	k := newKeeper(t.Context(), b.Clock.Now, Limits{}, work)
	t.Cleanup(k.Close)
	return &desk{b, k, b.Serve(routes(k)), t}
}

func routes(k *Keeper) map[string]frame.Handler {
	return map[string]frame.Handler{
		"GET /trials/{trial}/answer":          k.Show,
		"POST /trials/{trial}/answer/run":     k.Run,
		"POST /trials/{trial}/answer/stop":    k.Stop,
		"GET /trials/{trial}/answer/progress": k.Progress,
		"GET /trials/{trial}/answer.json":     k.JSON,
		"GET /trials/{trial}/report.html":     k.Report,
		"GET /trials/{trial}/readings":        k.Readings,
		"GET /trials/{trial}/readings.csv":    k.Table,
	}
}

// get returns a page and its status.
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

// page returns a page that must be there.
func (d *desk) page(path string) string {
	d.t.Helper()
	s, r := d.get(path)
	if r.StatusCode != http.StatusOK {
		d.t.Fatalf("%s: %s\n%s", path, r.Status, text(s))
	}
	return s
}

// post sends a form as a module does, and returns how far the answer is.
func (d *desk) post(path string) How {
	d.t.Helper()
	r, err := http.NewRequest(http.MethodPost, d.site.URL+path, nil)
	if err != nil {
		d.t.Fatal(err)
	}
	r.Header.Set("Accept", "application/json")
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		d.t.Fatal(err)
	}
	defer res.Body.Close()
	var h How
	if err := json.NewDecoder(res.Body).Decode(&h); err != nil || res.StatusCode != http.StatusOK {
		d.t.Fatalf("%s: %s %v", path, res.Status, err)
	}
	return h
}

// wait waits until an answer is neither waiting nor being worked on.
func (d *desk) wait(key Key) How {
	d.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if h := d.keeper.how(key); h.State != Waiting && h.State != Working {
			return h
		}
	}
	d.t.Fatalf("not done within a minute: %+v", d.keeper.how(key))
	return How{}
}

// answered has an answer worked out.
func (d *desk) answered(trial, query string) {
	d.t.Helper()
	h := d.post("/trials/" + trial + "/answer/run" + query)
	if h = d.wait(h.Job); h.State != Done {
		d.t.Fatalf("%s%s: %+v", trial, query, h)
	}
}

// takeIn takes readings in as a table.
func (d *desk) takeIn(a record.Asked, readings []bondtrial.Reading) string {
	d.t.Helper()
	var b bytes.Buffer
	if err := table.Write(&b, readings, a.Factors); err != nil {
		d.t.Fatal(err)
	}
	id, _, err := d.Book.TakeIn(context.Background(), record.Who{By: "Ida"}, a, "readings.csv", b.Bytes(), table.Options{})
	if err != nil {
		d.t.Fatal(err)
	}
	return id
}

// demo takes the demo's readings in.
func (d *desk) demo() string {
	return d.takeIn(record.Asked{Name: "School benches", Factors: []string{simulate.DemoFactor}}, simulate.DemoReadings(simulate.DemoSeed))
}

// small takes a few readings of two adhesives in.
func (d *desk) small(names ...string) string {
	if len(names) == 0 {
		names = []string{"Tarn", "Fell"}
	}
	var rs []bondtrial.Reading
	for i, mpa := range []float64{5, 6.1, 5.7, 6.4, 8, 9.2, 8.4, 8.9} {
		rs = append(rs, bondtrial.Reading{Specimen: bondtrial.Specimen{Code: string(rune('A' + i)), Adhesive: names[i/4], Wood: "ash"}, Strength: bondtrial.Megapascal(mpa),
			WoodFailure: 10, MoisturePct: bondtrial.Percent(nan)})
	}
	return d.takeIn(record.Asked{Name: "Small"}, rs)
}

// broken plans the trial Benches and breaks its first n specimens, Fell a half
// stronger than Tarn.
func (d *desk) broken(blind bool, n int) string {
	d.t.Helper()
	id := d.Benches(blind)
	d.GlueAll(id)
	d.breakMore(id, n)
	return id
}

func (d *desk) breakMore(id string, n int) {
	d.t.Helper()
	for i, s := range d.Trial(id).ToBreak() {
		if i == n {
			return
		}
		newton := 1000 + 37*float64(len(s.Code)*i%7) + 11*float64(i)
		if s.Adhesive == "Fell" {
			newton *= 1.5
		}
		d.Break(id, s.Code, newton, 10)
	}
}

var (
	tags  = regexp.MustCompile(`(?s)<style.*?</style>|<[^>]*>`)
	white = regexp.MustCompile(`\s+`)
)

// text is what a reader sees of a page.
func text(page string) string {
	return white.ReplaceAllString(html.UnescapeString(tags.ReplaceAllString(page, " ")), " ")
}

// says fails unless the page says each of the words.
func says(t testing.TB, page string, words ...string) {
	t.Helper()
	plain := strings.ReplaceAll(text(page), "\u00a0", " ")
	for _, w := range words {
		if !strings.Contains(plain, w) {
			t.Errorf("the page does not say %q:\n%s", w, plain)
		}
	}
}

// silent fails if the page says one of the words.
func silent(t testing.TB, page string, words ...string) {
	t.Helper()
	for _, w := range words {
		if strings.Contains(page, w) {
			t.Errorf("the page holds %q", w)
		}
	}
}
