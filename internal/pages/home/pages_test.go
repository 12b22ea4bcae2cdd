package home_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

const script = `"><script>alert(1)</script>`

// Every page is well formed, whatever people wrote, and shows it as they wrote it.
func TestPagesAreWellFormed(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	faultless := func(what, text string) {
		t.Helper()
		for _, f := range frametest.Faults(text) {
			t.Errorf("%s: %s", what, f)
		}
		if strings.Contains(text, "<script>alert") {
			t.Errorf("%s: holds the script that was typed", what)
		}
	}
	faultless("empty", get(t, s, "/", 200))
	faultless("not there", get(t, s, "/trials/nobody", 404))
	faultless("new", get(t, s, "/new", 200))
	faultless("take in", get(t, s, "/take-in", 200))
	faultless("refused", post(t, s, "/trials", url.Values{"name": {""}, "question": {script}}, 422))
	faultless("bad table", body(t, upload(t, s, map[string]string{"name": script, "factors": script, "control": script, "area": "1"}, script+".csv", "adhesive,strength_mpa\n"+script+",\n"), 422))
	id, err := b.Book.New(t.Context(), record.Who{By: script, Device: script}, record.Asked{Name: script, Question: script})
	if err != nil {
		t.Fatal(err)
	}
	who := record.Who{By: script}
	for code, c := range map[string]record.Content{"T1" + script: record.Added{Joint: record.Joint{Adhesive: script, Wood: script}}, script: record.Noted{Text: script}} {
		if _, err := b.Book.Add(t.Context(), who, id, code, c, logbook.File{Role: "photo", Name: script, MediaType: "image/png", Content: []byte("x")}); err != nil {
			t.Fatal(err)
		}
	}
	benches := b.Benches(true)
	b.GlueAll(benches)
	b.Break(benches, b.Trial(benches).ToBreak()[0].Code, 2140, 20)
	if _, err := b.Book.Logbook().Append(t.Context(), logbook.Draft{Trial: benches, Kind: "hologram", Subject: script}); err != nil {
		t.Fatal(err)
	}
	post(t, s, "/trials/"+id+"/put-away", url.Values{}, 200)
	for _, path := range []string{"/", "/trials/" + id, "/trials/" + benches, "/trials/" + id + "/history", "/trials/" + benches + "/history",
		"/trials/" + benches + "/history?at=" + itoa(b.Trial(benches).PlanAt.Seq), "/trials/" + benches + "/history?before=4", "/trials/" + id + "/history?at=" + itoa(b.Trial(id).AskedAt.Seq)} {
		faultless(path, get(t, s, path, 200))
	}
	contains(t, get(t, s, "/trials/"+id+"/history", 200), "&lt;script&gt;")
}

// Names of adhesives whose key is sealed stand on no page of the trial.
func TestHistoryKeepsTheSeal(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	id := b.Benches(true)
	b.GlueAll(id)
	for _, sp := range b.Trial(id).ToBreak() {
		b.Break(id, sp.Code, 2140, 20)
	}
	tr := b.Trial(id)
	for _, path := range []string{"/trials/" + id + "/history", fmt.Sprintf("/trials/%s/history?at=%d", id, tr.Entries[len(tr.Entries)-1].Seq)} {
		text := get(t, s, path, 200)
		if strings.Contains(text, "Fell") || strings.Contains(strings.ReplaceAll(text, tr.Asked.Question, ""), "Tarn") {
			t.Errorf("%s tells a name", path)
		}
	}
}

// What cannot be taken back has no button for it, and is refused in words.
func TestWhatStays(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	id := b.Benches(true)
	e, err := b.Book.Add(t.Context(), record.Who{By: "Ida"}, id, "", record.KeyOpened{Of: 16})
	if err != nil {
		t.Fatal(err)
	}
	text := get(t, s, "/trials/"+id+"/history", 200)
	if n := strings.Count(text, `name="seq"`); n != 1 {
		t.Errorf("%d entries can be taken back, want the plan only", n)
	}
	contains(t, post(t, s, "/trials/"+id+"/undo", url.Values{"seq": {itoa(e.Seq)}}, 422), "cannot be unseen")
	b.GlueAll(id)
	contains(t, post(t, s, "/trials/"+id+"/undo", url.Values{"seq": {itoa(b.Trial(id).PlanAt.Seq)}}, 422), "16 specimens of the plan are glued")
	// The button pressed twice takes back once.
	glued := b.Trial(id).LastGlued().Glued.Seq
	for range 2 {
		post(t, s, "/trials/"+id+"/undo", url.Values{"seq": {itoa(glued)}, "key": {"K1"}}, 200)
	}
	if n := b.Trial(id).CountGlued(); n != 15 {
		t.Errorf("%d glued", n)
	}
}

// The same table sent twice with one key is one trial, also where its name is taken.
func TestTakeInOnce(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	const csv = "specimen,adhesive,strength_mpa\nA,Tarn,8\nB,Fell,9\n"
	for i, key := range []string{"K1", "K2", "K2", "K1", "K2"} {
		fields := map[string]string{"key": key, "name": "Old"}
		if i == 1 { // the same name and file: it was asked about
			fields["again"] = fmt.Sprintf("%x", sha256.Sum256([]byte(csv)))
		}
		body(t, upload(t, s, fields, "x.csv", csv), 200)
	}
	all, err := b.Book.Trials(t.Context(), true)
	if err != nil || len(all) != 2 || all[0].CountBroken() != 2 || all[1].CountBroken() != 2 {
		t.Errorf("%d trials, %v", len(all), err)
	}
	for _, name := range []string{strings.Repeat("long name ", 60) + ".csv", "\xff.csv", "a\tb\x01.csv", ""} {
		r := upload(t, s, map[string]string{"name": "Odd"}, name, "adhesive,strength_mpa\nTarn,8\nFell,9\n")
		if r.StatusCode != 200 && r.StatusCode != 422 && r.StatusCode != 400 {
			t.Errorf("a file called %q: status %d", name, r.StatusCode)
		}
		r.Body.Close()
	}
}

// manyTrials fills a logbook with trials of 100 specimens, half of them glued.
func manyTrials(t testing.TB, b *frametest.Bench, n int) {
	t.Helper()
	p := record.Planned{Zone: "Europe/Berlin", AreaMM2: 200, Adhesives: []record.PlannedAdhesive{{Name: "Tarn", Label: "Tarn"}}}
	for i := range 100 {
		p.Specimens = append(p.Specimens, record.PlannedSpecimen{Code: fmt.Sprintf("C%02d", i), Wood: "ash", Board: "1", BreakTurn: i + 1})
	}
	for i := range 70 {
		p.Checks = append(p.Checks, record.PlannedCheck{At: b.Clock.Now().AddDate(0, 0, 1), Specimens: []int{i}})
	}
	for i := range n {
		who := record.Who{By: "Ida"}
		id, err := b.Book.New(t.Context(), who, record.Asked{Name: fmt.Sprint("Trial ", i), Question: "Which of these is the strongest on damp ash?"})
		if err != nil {
			t.Fatal(err)
		}
		items := make([]record.Item, 50)
		for k := range items {
			items[k] = record.Item{Subject: p.Specimens[k].Code, Content: record.Glued{}}
		}
		if _, err := b.Book.Add(t.Context(), who, id, "", p); err != nil {
			t.Fatal(err)
		}
		if _, err := b.Book.AddAll(t.Context(), who, id, items); err != nil {
			t.Fatal(err)
		}
	}
}

type sink struct {
	bytes.Buffer
	head http.Header
}

func (s *sink) Header() http.Header {
	if s.head == nil {
		s.head = make(http.Header)
	}
	return s.head
}
func (s *sink) WriteHeader(int) {}

// With 200 trials of 100 specimens, once they are in memory.
func BenchmarkPages(b *testing.B) {
	bench := frametest.New(b)
	manyTrials(b, bench, 200)
	h := bench.Serve(routes).Config.Handler
	for _, path := range []string{"/", "/trials/trial-7", "/trials/trial-7/history"} {
		b.Run(path, func(b *testing.B) {
			for b.Loop() {
				w := &sink{}
				h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
				if w.Len() == 0 {
					b.Fatal("nothing was shown")
				}
			}
		})
	}
}
