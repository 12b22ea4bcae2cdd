package plan_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/pages/plan"
	"bondtrial/internal/publish/handout"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

// bench is a logbook with the pages of the station.
type bench struct {
	*frametest.Bench
	*httptest.Server
	t     *testing.T
	maker *plan.Maker
}

// newBench simulates few trials for each number, so that plans are there soon.
func newBench(t *testing.T) *bench {
	b := &bench{Bench: frametest.New(t), t: t}
	b.serve(60)
	return b
}

func (b *bench) serve(trials int) {
	ctx, cancel := context.WithCancel(context.Background())
	m := plan.NewMaker(ctx)
	m.Trials = trials
	b.t.Cleanup(m.Wait)
	b.t.Cleanup(cancel)
	b.maker, b.Server = m, b.Serve(map[string]frame.Handler{
		"GET /trials/{trial}/plan": m.Show, "POST /trials/{trial}/plan/make": m.Make, "GET /trials/{trial}/plan/progress": m.Progress,
		"POST /trials/{trial}/plan/stop": m.Stop, "GET /trials/{trial}/plan/files/{name}": plan.File, "POST /trials/{trial}/plan/key": m.Key,
	})
}

func (b *bench) begin(name, file string) string {
	b.t.Helper()
	id, err := b.Book.New(b.t.Context(), record.Who{By: "Ida"}, record.Asked{Name: name, File: file})
	if err != nil {
		b.t.Fatal(err)
	}
	return id
}

func (b *bench) get(want int, path string) string {
	b.t.Helper()
	resp, err := http.Get(b.URL + path)
	text, _ := b.read(want, resp, err)
	return text
}

func (b *bench) post(want int, path string, v url.Values) string {
	b.t.Helper()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.PostForm(b.URL+path, v)
	text, _ := b.read(want, resp, err)
	return text
}

func (b *bench) read(want int, resp *http.Response, err error) (string, http.Header) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	if resp.StatusCode != want {
		b.t.Fatalf("%s: status %d, want %d:\n%s", resp.Request.URL, resp.StatusCode, want, text)
	}
	return string(text), resp.Header
}

func (b *bench) shows(page string, wanted ...string) {
	b.t.Helper()
	for _, w := range wanted {
		if !strings.Contains(page, w) {
			b.t.Errorf("the page does not show %q:\n%s", w, page)
		}
	}
}

func (b *bench) hides(page string, unwanted ...string) {
	b.t.Helper()
	for _, u := range unwanted {
		if strings.Contains(page, u) {
			b.t.Errorf("the page shows %q:\n%s", u, page)
		}
	}
}

type progress struct{ State, Words, Error string }

func (b *bench) progress(id string) (p progress) {
	b.t.Helper()
	if err := json.Unmarshal([]byte(b.get(200, "/trials/"+id+"/plan/progress")), &p); err != nil {
		b.t.Fatal(err)
	}
	return p
}

// make plans a trial and waits for it.
func (b *bench) make(id string) {
	b.t.Helper()
	b.post(303, "/trials/"+id+"/plan/make", nil)
	b.settled(id)
}

func (b *bench) settled(id string) progress {
	b.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if p := b.progress(id); p.State != "working" {
			return p
		}
	}
	b.t.Fatal("the plan does not end")
	return progress{}
}

func benches(blind bool) string { return fmt.Sprintf(frametest.BenchesFile, blind) }

// The numbers of Benches: 2 adhesives × 2 levels × 4 specimens (frametest.BenchesFile).
const specimens = 16

// A plan is made, stored with its papers, and shown from what was stored.
func TestMake(t *testing.T) {
	b := newBench(t)
	id := b.begin("Benches", benches(false))
	page := b.get(200, "/trials/"+id+"/plan")
	b.shows(page, "Make the plan")
	b.hides(page, "In short")
	b.make(id)
	got := b.Trial(id)
	if got.Plan == nil || len(got.Plan.Specimens) != specimens || got.Plan.File != got.Asked.File || got.Plan.Made != "(test)" {
		t.Fatalf("planned is %+v", got.Plan)
	}
	page = b.get(200, "/trials/"+id+"/plan")
	b.shows(page, "16 specimens: 4 of each of 2 adhesives, in each of 2 conditions on ash.", "If two adhesives differ by 15 %", "<svg", "4 <strong>planned</strong>",
		"Cut list", "board 1: ", "Glue-up order: drawn by lot", "Mon 12 Apr 2027", "What the trial file left open", "one-part polyurethane", "It cannot be over before", "Tarn: 24 h")
	b.hides(page, ` style="`, "Make the plan", "key.sealed")

	want := map[string]string{
		handout.Labels: "application/pdf", handout.GlueUp: "application/pdf", handout.Breaks: "application/pdf", handout.Calendar: "text/calendar; charset=utf-8",
		handout.Readings: "text/csv; charset=utf-8", handout.CutList: "text/plain; charset=utf-8", handout.PlanText: "text/plain; charset=utf-8",
		handout.PlanTable: "text/csv; charset=utf-8", handout.PlanJSON: "application/json", handout.Chance: "image/svg+xml",
	}
	for name, kind := range want {
		b.shows(page, `href="/trials/benches/plan/files/`+name+`"`)
		resp, err := http.Get(b.URL + "/trials/" + id + "/plan/files/" + name)
		text, h := b.read(200, resp, err)
		how := "attachment"
		if strings.HasSuffix(name, ".pdf") {
			how = "inline"
		}
		if h.Get("Content-Type") != kind || h.Get("Content-Disposition") != how+"; filename=benches-"+name || len(text) < 100 {
			t.Errorf("%s: %v, %d bytes", name, h, len(text))
		}
	}
	b.shows(b.get(200, "/trials/"+id+"/plan/files/"+handout.Readings), got.Specimens[0].Code)
	for _, name := range []string{"nothing", "page.json", "..%2f", handout.KeySealed, "key.pdf"} {
		b.get(404, "/trials/"+id+"/plan/files/"+name)
	}
	b.get(404, "/trials/nothing/plan")
	b.get(404, "/trials/nothing/plan/files/plan.txt")

	// The same after a restart: nothing that is shown was kept in memory only.
	b.serve(60)
	again := b.get(200, "/trials/"+id+"/plan")
	if without(again) != without(page) {
		t.Errorf("after a restart the page is\n%s\nand was\n%s", again, page)
	}
}

// without leaves out the keys of forms, which differ each time.
func without(page string) string {
	var b strings.Builder
	for {
		before, after, ok := strings.Cut(page, `name="key" value="`)
		b.WriteString(before)
		if !ok {
			return b.String()
		}
		_, page, _ = strings.Cut(after, `"`)
	}
}

// What is missing is said, with the way to where it is written.
func TestMissing(t *testing.T) {
	b := newBench(t)
	id := b.begin("Gates", "")
	page := b.get(200, "/trials/"+id+"/plan")
	b.shows(page, "Still to do at Ask", `href="/trials/gates/ask#f-adhesive-0-name"`)
	b.hides(page, "Make the plan")
	page = b.post(422, "/trials/"+id+"/plan/make", nil)
	b.shows(page, "Not written.", "to fill in or mend at Ask", "Still to do at Ask")
	if b.progress(id).State != "none" {
		t.Error("something is being made")
	}
}

// An impossible trial says what is short and by how much.
func TestImpossible(t *testing.T) {
	b := newBench(t)
	few := strings.NewReplacer("specimens_per_cell = 4", "specimens_per_cell = 3", "boards = 4", "boards = 8", "length_mm = 900\nwidth_mm = 120\nthickness_mm = 25", "pieces_per_board = 3")
	id := b.begin("Benches", few.Replace(benches(false)))
	b.make(id)
	// 2 × 2 × 3 specimens of two pieces; a board of three pieces gives one specimen, so
	// that 4 are missing of 8: counted by hand.
	page := b.get(200, "/trials/"+id+"/plan")
	b.shows(page, "This trial cannot be planned as it is", "oo little wood", "12 specimens, of which the boards give 8: 8 pieces short", `href="/trials/benches/ask"`)
	if p := b.progress(id); p.State != "failed" || !strings.Contains(p.Error, "pieces short") {
		t.Errorf("progress is %+v", p)
	}
	// Another text at Ask, and the complaint about the old one is gone.
	if _, err := b.Book.Add(t.Context(), record.Who{}, id, "", record.Asked{Name: "Benches", File: benches(false)}); err != nil {
		t.Fatal(err)
	}
	b.hides(b.get(200, "/trials/"+id+"/plan"), "cannot be planned")
	b.make(id)
	if b.Trial(id).Plan == nil {
		t.Error("the trial that is possible was not planned")
	}
}

// A plan in the making says how far it is, is made once, and can be stopped.
func TestStop(t *testing.T) {
	b := newBench(t)
	b.serve(2_000_000) // would take an hour
	id := b.begin("Benches", benches(false))
	b.post(303, "/trials/"+id+"/plan/make", url.Values{"key": {"one"}})
	b.post(303, "/trials/"+id+"/plan/make", url.Values{"key": {"two"}})
	page := b.get(200, "/trials/"+id+"/plan")
	b.shows(page, "Working it out", "Look again", `data-working="/trials/benches/plan/progress"`, "<progress", "Stop")
	b.hides(page, "Make the plan")
	for end := time.Now().Add(20 * time.Second); !strings.Contains(b.progress(id).Words, "simulating"); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("progress is %+v", b.progress(id))
		}
	}
	b.post(303, "/trials/"+id+"/plan/stop", nil)
	if p := b.progress(id); p.State != "stopped" {
		t.Errorf("progress is %+v", p)
	}
	b.shows(b.get(200, "/trials/"+id+"/plan"), "Planning was stopped", "Make the plan")
	b.maker.Wait() // both posts began one run, and it is over
	if n := len(b.Trial(id).Entries); n != 1 {
		t.Errorf("%d entries after a plan was stopped", n)
	}
	b.post(303, "/trials/"+id+"/plan/stop", nil) // nothing to stop
}

// When the server ends, so does what is being made.
func TestServerEnds(t *testing.T) {
	b := frametest.New(t)
	ctx, cancel := context.WithCancel(context.Background())
	m := plan.NewMaker(ctx)
	m.Trials = 2_000_000
	s := b.Serve(map[string]frame.Handler{"POST /trials/{trial}/plan/make": m.Make, "GET /trials/{trial}/plan": m.Show})
	id, err := b.Book.New(t.Context(), record.Who{}, record.Asked{Name: "Benches", File: benches(false)})
	if err != nil {
		t.Fatal(err)
	}
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.PostForm(s.URL+"/trials/"+id+"/plan/make", nil)
	if err != nil || resp.StatusCode != 303 {
		t.Fatal(resp, err)
	}
	resp.Body.Close()
	cancel()
	over := make(chan struct{})
	go func() { m.Wait(); close(over) }()
	select {
	case <-over:
	case <-time.After(20 * time.Second): // a slow machine; a step takes milliseconds
		t.Fatal("the plan goes on after the server has ended")
	}
	if b.Trial(id).Plan != nil {
		t.Error("a plan was written")
	}
}

// Before anything is glued a plan can be made anew; afterwards it cannot.
func TestAnew(t *testing.T) {
	b := newBench(t)
	id := b.begin("Benches", benches(false))
	path := "/trials/" + id + "/plan"
	b.make(id)
	first := b.Trial(id)
	if _, err := b.Book.Add(t.Context(), record.Who{}, id, "", record.Asked{Name: "Benches", File: strings.Replace(benches(false), "specimens_per_cell = 4", "specimens_per_cell = 3", 1)}); err != nil {
		t.Fatal(err)
	}
	b.shows(b.get(200, path), "has changed since this plan was made", "Make the plan anew", "16 specimens")
	b.post(303, path+"/make", url.Values{"key": {"anew"}})
	b.settled(id)
	b.post(303, path+"/make", url.Values{"key": {"anew"}}) // sent twice
	b.settled(id)
	second := b.Trial(id)
	if len(second.Plan.Specimens) != 12 || len(second.Entries) != len(first.Entries)+2 || second.PlanAt.First != first.PlanAt.Seq {
		t.Fatalf("%d specimens, %d entries, first %d", len(second.Plan.Specimens), len(second.Entries), second.PlanAt.First)
	}
	b.shows(b.get(200, path+"/files/plan.csv"), second.Specimens[0].Code)
	// Ask made incomplete: the plan stays, and no other can be made.
	if _, err := b.Book.Add(t.Context(), record.Who{}, id, "", record.Asked{Name: "Benches", File: "name = \"Benches\""}); err != nil {
		t.Fatal(err)
	}
	b.shows(b.get(200, path), "no new plan can be made", "12 specimens")
	if _, err := b.Book.Add(t.Context(), record.Who{}, id, "", record.Asked{Name: "Benches", File: benches(false)}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Book.Add(t.Context(), record.Who{}, id, second.Specimens[0].Code, record.Glued{}); err != nil {
		t.Fatal(err)
	}
	page := b.post(409, path+"/make", nil)
	b.shows(page, "Not written.", "would take their labels away", "begin another trial instead", "12 specimens", "stay as they are")
	b.hides(page, "Make the plan")
}

// A trial with blind letters shows no name and sends no key before it is opened, and
// who opens it is recorded.
func TestKey(t *testing.T) {
	b := newBench(t)
	id := b.begin("Benches", benches(true))
	path := "/trials/" + id + "/plan"
	b.post(409, path+"/key", url.Values{"do": {"open"}, "by": {"Otto"}, "sure": {"yes"}}) // no plan yet
	b.make(id)
	page := b.get(200, path)
	b.shows(page, "The key is sealed", "Nobody has it yet", "0 of 16 specimens are broken", "no longer blind", "By letter:", "more of single adhesives")
	b.hides(page, "Tarn", "Fell", "polyurethane", `files/key.sealed"`, `files/key.pdf"`, "5 min")
	for _, name := range []string{handout.KeySealed, "key.pdf"} {
		b.get(403, path+"/files/"+name)
	}

	b.shows(b.post(422, path+"/key", url.Values{"do": {"mark"}}), "Your name is missing", `id="by-mark-wrong"`)
	pdf := b.post(200, path+"/key", url.Values{"do": {"mark"}, "by": {"Otto <b>"}, "key": {"k"}})
	if !strings.HasPrefix(pdf, "%PDF") {
		t.Errorf("the key on paper begins with %q", pdf[:min(len(pdf), 20)])
	}
	page = b.get(200, path)
	b.shows(page, "Who has it on paper", "Otto &lt;b&gt;")
	b.hides(page, "Tarn", "Fell")
	if !b.Trial(id).Sealed() {
		t.Error("the key on paper has opened the pages")
	}

	page = b.post(422, path+"/key", url.Values{"do": {"open"}, "by": {`Ida "x"`}, "key": {"k"}})
	b.shows(page, "Tick this first", `value="Ida &#34;x&#34;"`, `id="sure-wrong"`)
	b.hides(page, "Tarn")
	code := b.Trial(id).Specimens[0].Code
	b.Break(id, code, 1000, 0)
	b.post(303, path+"/key", url.Values{"do": {"open"}, "by": {"Ida"}, "sure": {"yes"}, "key": {"k"}})
	b.post(303, path+"/key", url.Values{"do": {"open"}, "by": {"Ida"}, "sure": {"yes"}, "key": {"k"}}) // sent twice
	got := b.Trial(id)
	if got.Sealed() || got.KeyOpened.By != "Ida" {
		t.Fatalf("the key: %+v", got.KeyOpened)
	}
	opened := 0
	for _, e := range got.Entries {
		if c, ok := e.Content.(record.KeyOpened); ok {
			opened++
			if c.Broken != 1 || c.Of != specimens {
				t.Errorf("opened with %d of %d broken", c.Broken, c.Of)
			}
		}
	}
	if opened != 1 {
		t.Errorf("the key was opened %d times", opened)
	}
	page = b.get(200, path)
	b.shows(page, "Opened with 1 of 16 broken", "Ida on this machine", "Tarn", "Fell", `files/key.sealed"`, `files/key.pdf"`, "not broken blind")
	for _, a := range got.Plan.Adhesives {
		b.shows(page, `<th scope="row" class="code plan-letter">`+a.Label+`</th><td>`+a.Name)
	}
	if pdf := b.get(200, path+"/files/key.pdf"); !strings.HasPrefix(pdf, "%PDF") {
		t.Error("the key is no PDF")
	}
	b.get(200, path+"/files/"+handout.KeySealed)
}

// A plan that came without papers is shown as far as it goes.
func TestWithoutPapers(t *testing.T) {
	b := newBench(t)
	id := b.Benches(true)
	path := "/trials/" + id + "/plan"
	page := b.get(200, path)
	b.shows(page, "16 specimens", "Mon 12 Apr 2027", "By letter:")
	b.hides(page, "Tarn", "<svg class", "How many</h2>")
	if pdf := b.post(200, path+"/key", url.Values{"do": {"mark"}, "by": {"Otto"}}); !strings.HasPrefix(pdf, "%PDF") {
		t.Error("the key is no PDF")
	}
	for _, s := range b.Trial(id).Specimens {
		b.Break(id, s.Code, 1000, 0)
	}
	b.shows(b.get(200, path), "Every specimen is broken")
}

// What people typed comes out escaped, in the figure as well.
func TestEscaped(t *testing.T) {
	b := newBench(t)
	text := strings.NewReplacer(`"ash"`, `"<script>alert(1)</script> style=\"x\""`, `"Tarn"`, `"<script>alert(2)</script>"`, `"surface"`, `"<script>alert(3)</script>"`).Replace(benches(false))
	text = strings.Replace(text, "length_mm = 900", "strength = \"unknown\"\nlength_mm = 900", 1)
	id := b.begin("<script>alert(0)</script>", text)
	b.make(id)
	page := b.get(200, "/trials/"+id+"/plan")
	b.shows(page, "16 specimens", "&lt;script&gt;alert(1)", "&lt;script&gt;alert(2)")
	b.hides(page, "<script>alert", `style="`)
}

// A trial that was taken in from a table has no plan.
func TestTakenIn(t *testing.T) {
	b := newBench(t)
	const csv = "specimen,adhesive,wood,strength_mpa,wood_failure_pct\n1,Tarn,ash,8,0\n2,Fell,ash,9,0\n"
	id, _, err := b.Book.TakeIn(t.Context(), record.Who{}, record.Asked{Name: "Old"}, "old.csv", []byte(csv), table.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b.shows(b.get(200, "/trials/"+id+"/plan"), "taken in from a table")
	b.post(409, "/trials/"+id+"/plan/make", nil)
	b.get(404, "/trials/"+id+"/plan/files/plan.txt")
}

// A chance below what is wanted is a caution, with what to do; how many trials were
// simulated stands beside the curve; that the same text gives the same plan is said
// where it is the same text.
func TestLowChanceIsACaution(t *testing.T) {
	b := newBench(t)
	id := b.begin("Benches", strings.Replace(benches(false), "specimens_per_cell = 4", "specimens_per_cell = 2", 1))
	b.make(id)
	page := b.get(200, "/trials/"+id+"/plan")
	b.shows(page, `<p class="caution">If two adhesives differ by 15 %`, "You want 80 %. No number that was simulated reaches that",
		"Simulated 60 times each; the chances are right to within about ±13 %.", // 2·√(0.25/60) = 0.129
		"The same text at Ask gives the same plan")
	b.hides(page, "100.0 %")
	if _, err := b.Book.Add(t.Context(), record.Who{}, id, "", record.Asked{Name: "Other", File: strings.Replace(benches(false), "Fell", "Moor", 1)}); err != nil {
		t.Fatal(err)
	}
	b.hides(b.get(200, "/trials/"+id+"/plan"), "gives the same plan")
}
