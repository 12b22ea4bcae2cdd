package ask_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bondtrial/internal/pages/ask"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

// A new trial asks for everything that a trial file can hold, and complains of
// nothing yet.
func TestNewTrial(t *testing.T) {
	b := newBench(t)
	id := b.begin("Gates", "")
	page := b.get(200, "/trials/"+id+"/ask")
	if strings.Contains(page, "aria-invalid") || strings.Contains(page, "Still to do") {
		t.Error("a page in which nobody has written yet complains")
	}
	sent := values(page)
	if got := sent.Get("name"); got != "Gates" {
		t.Errorf("the name is %q, want Gates", got)
	}
	if got := sent.Get("work.start"); got != "2027-04-13" { // the day after that of frametest.New's clock, a Tuesday
		t.Errorf("the first day is %q", got)
	}
	for _, p := range form.Blank(b.Clock.Now()).Fields() {
		for _, f := range p.Fields {
			if _, there := sent[f.Name]; there == f.Spare {
				t.Errorf("%s: on the page %v, though spare %v", f.Name, there, f.Spare)
			}
		}
	}
}

// A trial that is complete goes round: what the page shows, sent back, changes
// nothing; sent for a new trial it is written and can be planned.
func TestCompleteTrial(t *testing.T) {
	b := newBench(t)
	first := b.begin("Benches", benches())
	sent := values(b.get(200, "/trials/"+first+"/ask"))
	sent.Set("do", "save")
	before := len(b.Trial(first).Entries)
	if _, to := b.post(303, "/trials/"+first+"/ask", sent); to != "/trials/"+first+"/ask?unchanged" {
		t.Errorf("nothing was changed, and the browser is sent to %s", to)
	}
	if n := len(b.Trial(first).Entries); n != before {
		t.Errorf("nothing was changed, and %d entries were written", n-before)
	}

	second := b.begin("Other", "")
	sent.Del("seen")
	sent.Del("key")
	sent.Set("name", "  Benches,  again ")
	_, to := b.post(303, "/trials/"+second+"/ask", sent)
	trial := b.Trial(second)
	if trial.File == nil || trial.Asked.Name != "Benches, again" || trial.Asked.Question != "Is Tarn enough for damp ash?" {
		t.Fatalf("written was %+v", trial.Asked)
	}
	if trial.File.Adhesives[1].Name != "Fell" || trial.File.Factors[0].Levels != [2]string{"dry", "damp"} || trial.File.SpecimensPerCell != 4 {
		t.Errorf("the trial is not the one that was sent: %+v", trial.File)
	}
	b.shows(b.get(200, to), "Written down.", "Everything that a plan needs is here", `href="/trials/`+second+`/plan"`, "What is taken where you left something open")
}

// Whatever is typed is kept, shown again as text, and what is wrong is said at the
// top with a link and beside the field.
func TestNothingTypedIsLost(t *testing.T) {
	const evil = `"><script>alert(1)</script>'&`
	b := newBench(t)
	id := b.begin("Gates", "")
	sent := values(b.get(200, "/trials/"+id+"/ask"))
	for _, kind := range []string{"board", "factor", "reused"} {
		sent.Set("do", "add "+kind)
		page, _ := b.post(200, "/trials/"+id+"/ask", sent)
		sent = values(page)
	}
	typed := url.Values{}
	for name := range sent {
		switch name {
		case "key", "said", "seen", "name":
		default:
			typed.Set(name, evil+name)
			sent.Set(name, evil+name)
		}
	}
	sent.Set("do", "save")
	_, to := b.post(303, "/trials/"+id+"/ask", sent)
	page := b.get(200, to)
	if strings.Contains(page, "<script>alert") {
		t.Fatal("what was typed is not escaped")
	}
	shown := values(page)
	for name := range typed {
		if got := shown.Get(name); got != typed.Get(name) {
			t.Errorf("%s: typed %q, shown %q", name, typed.Get(name), got)
		}
	}
	links := regexp.MustCompile(`class="ask-to" href="#([^"]+)"`).FindAllStringSubmatch(page, -1)
	if len(links) < 20 {
		t.Errorf("only %d links to what is wrong", len(links))
	}
	for _, l := range links {
		at := strings.Index(page, `id="`+l[1]+`"`)
		if at < 0 {
			t.Errorf("a link to #%s, which is not there", l[1])
			continue
		}
		tag, _, _ := strings.Cut(page[at:], ">")
		if !strings.Contains(tag, `aria-invalid="true"`) || !strings.Contains(page, `id="`+l[1]+`-wrong"`) {
			t.Errorf("%s is not marked as wrong: %s", l[1], tag)
		}
	}
}

// The name and the question are refused where the logbook does not take them; what
// was typed stays.
func TestRefusedName(t *testing.T) {
	b := newBench(t)
	id := b.begin("Gates", "")
	long := strings.Repeat("n", 81) // one letter more than a name has in the logbook
	sent := values(b.get(200, "/trials/"+id+"/ask"))
	sent.Set("name", long)
	sent.Set("adhesive.0.name", "Tarn")
	page, _ := b.post(422, "/trials/"+id+"/ask", sent)
	b.shows(page, "Not written.", "longer than 80 letters", `id="f-name-wrong"`)
	if again := values(page); again.Get("name") != long || again.Get("adhesive.0.name") != "Tarn" {
		t.Error("what was typed is not there any more")
	}
	// Without a name the trial keeps the one it has, and the name is missing.
	sent.Set("name", " ")
	_, to := b.post(303, "/trials/"+id+"/ask", sent)
	if b.Trial(id).Asked.Name != "Gates" {
		t.Errorf("the trial is called %q", b.Trial(id).Asked.Name)
	}
	b.shows(b.get(200, to), `href="#f-name"`, "Name of the trial is missing")
	if _, err := http.PostForm(b.URL+"/trials/"+id+"/ask", url.Values{"question": {strings.Repeat("x", 5<<20)}}); err != nil {
		t.Fatal(err)
	}
	if b.Trial(id).Asked.Question != "" {
		t.Error("a form that is too large was written")
	}
}

// Buttons add and remove rows without a script; nothing is written by them.
func TestRows(t *testing.T) {
	b := newBench(t)
	id := b.begin("Gates", "")
	path := "/trials/" + id + "/ask"
	sent := values(b.get(200, path))
	sent.Set("adhesive.0.name", "Tarn")
	sent.Set("adhesive.1.name", "Fell")
	press := func(do string) string {
		sent.Set("do", do)
		page, _ := b.post(200, path, sent)
		sent = values(page)
		return page
	}
	rows := func(kind string) (n int) {
		for name := range sent {
			if strings.HasPrefix(name, kind+".") && strings.HasSuffix(name, ".name") {
				n++
			}
		}
		return n
	}
	page := press("add adhesive")
	press("add adhesive")
	if rows("adhesive") != 4 || !strings.Contains(page, "Not written yet") || !regexp.MustCompile(`id="f-adhesive-2-name"[^>]*autofocus`).MatchString(page) {
		t.Errorf("two rows more give %d", rows("adhesive"))
	}
	sent.Set("adhesive.3.name", "Beck")
	press("remove adhesive 0")
	if rows("adhesive") != 3 || sent.Get("adhesive.0.name") != "Fell" || sent.Get("adhesive.1.name") != "Beck" {
		t.Errorf("after the first was removed there are %v", sent)
	}
	press("add wood")
	press("add factor")
	if rows("wood") != 2 || rows("factor") != 1 {
		t.Errorf("%d woods and %d conditions", rows("wood"), rows("factor"))
	}
	for range 5 { // a trial has four conditions at the most: trialfile.MaxFactors
		page = press("add factor")
	}
	if rows("factor") != 4 || strings.Contains(page, `value="add factor"`) {
		t.Errorf("%d conditions", rows("factor"))
	}
	for _, do := range []string{"add", "add nothing", "remove", "remove adhesive", "remove wood 77", "rack 99", "rack x", "add unknown"} {
		sent.Set("do", do)
		b.post(200, path, sent)
	}
	if n := len(b.Trial(id).Entries); n != 1 {
		t.Errorf("%d entries, though nothing was to be written", n)
	}
}

// Adhesives of the shelf and boards of the rack fill in what is known of them.
func TestShelfAndRack(t *testing.T) {
	b := newBench(t)
	at := func(subject string, c record.Content) int64 {
		e, err := b.Book.Add(t.Context(), record.Who{}, "", subject, c)
		if err != nil {
			t.Fatal(err)
		}
		return e.Seq
	}
	at("Tarn", record.OnShelf{Family: "pva", Open: "8 min", Clamp: "about an hour", Lowest: "10 °C", Price: "8.90 EUR", Content: "500 g"})
	board := at("ash A1", record.OnRack{Wood: "ash", Name: "A1", LengthMM: 900, WidthMM: 120.5, ThickMM: 25})
	cut := at("ash A2", record.OnRack{Wood: "ash", Name: "A2", Pieces: 12})
	used := at("larch L", record.OnRack{Wood: "larch", Name: "L", Pieces: 12, Uses: 1, ThickMM: 9})
	id := b.begin("Gates", "")
	path := "/trials/" + id + "/ask"
	page := b.get(200, path)
	b.shows(page, `<option value="Tarn" data-family="pva" data-open="8 min" data-clamp="" `, "Take ash A1", "900 × 120.5 × 25 mm", "glued once before")
	sent := values(page)
	sent.Set("adhesive.0.name", "tarn")
	for _, seq := range []int64{board, cut, used} {
		sent.Set("do", "rack "+strconv.FormatInt(seq, 10))
		page, _ = b.post(200, path, sent)
		sent = values(page)
	}
	for name, want := range map[string]string{
		"adhesive.0.family": "pva", "adhesive.0.open": "8 min", "adhesive.0.clamp": "", "adhesive.0.lowest_temperature_c": "10", "adhesive.0.price": "8.90 EUR",
		"wood.0.name": "ash", "wood.1.name": "larch", "board.0.wood": "ash", "board.0.name": "A1", "board.0.width_mm": "120.5", "board.1.pieces": "12",
		"reused.0.wood": "larch", "reused.0.thickness_mm": "9", "reused.0.uses": "1",
	} {
		if got := sent.Get(name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if strings.Contains(page, "Take ash A1") {
		t.Error("a board that is in the form is offered again")
	}
}

// Who writes over what somebody else wrote meanwhile is told so first.
func TestMeanwhile(t *testing.T) {
	b := newBench(t)
	id := b.begin("Gates", "")
	path := "/trials/" + id + "/ask"
	one, two := values(b.get(200, path)), values(b.get(200, path))
	one.Set("adhesive.0.name", "Tarn")
	two.Set("adhesive.0.name", "Fell")
	b.post(303, path, one)
	b.post(303, path, one) // sent twice
	if n := len(b.Trial(id).Entries); n != 2 {
		t.Fatalf("%d entries, want the first and one more", n)
	}
	page, _ := b.post(409, path, two)
	b.shows(page, "Changed meanwhile, recorded by somebody on this machine", "below is what you typed")
	again := values(page)
	if again.Get("adhesive.0.name") != "Fell" {
		t.Error("what was typed is not there any more")
	}
	b.post(303, path, again)
	if got := b.Trial(id).Asked.File; !strings.Contains(got, "Fell") || strings.Contains(got, "Tarn") {
		t.Errorf("written is %s", got)
	}
	// Back to the form that was just sent, and changed once more.
	again.Set("adhesive.0.name", "Beck")
	b.post(303, path, again)
	if got := b.Trial(id).Asked.File; !strings.Contains(got, "Beck") {
		t.Errorf("written is %s", got)
	}
}

// The trial file goes out and comes in as text, remarks and all.
func TestText(t *testing.T) {
	b := newBench(t)
	id := b.begin("Gates", "")
	path := "/trials/" + id + "/trial.toml"
	resp, err := http.Get(b.URL + path)
	text := b.read(200, resp, err)
	if !strings.Contains(text, `name = "Gates"`) || resp.Header.Get("Content-Disposition") != `attachment; filename=gates.toml` || !strings.HasPrefix(resp.Header.Get("Content-Type"), "application/toml") {
		t.Errorf("%v\n%s", resp.Header, text)
	}
	pasted := "# from the shop\n" + benches()
	_, to := b.post(303, path, url.Values{"file": {strings.ReplaceAll(pasted, "\n", "\r\n")}})
	if got := b.get(200, path); got != pasted {
		t.Errorf("pasted, and sent out as\n%s", got)
	}
	trial := b.Trial(id)
	if trial.File == nil || trial.Asked.Name != "Benches" {
		t.Errorf("taken as %+v", trial.Asked)
	}
	page := b.get(200, to)
	b.shows(page, "Written down.", "The trial file has remarks")
	// The form without a change leaves the remarks where they are.
	if _, to := b.post(303, "/trials/"+id+"/ask", values(page)); !strings.HasSuffix(to, "?unchanged") {
		t.Errorf("sent to %s", to)
	}
	if _, to := b.post(303, path, url.Values{"file": {pasted}}); !strings.HasSuffix(to, "?unchanged") {
		t.Errorf("sent to %s", to)
	}

	bad := "name = \"x\nfoo </textarea><script>alert(1)</script>"
	page, _ = b.post(422, path, url.Values{"file": {bad}})
	b.shows(page, "Not written.", `id="file-wrong"`, "Line 1:", "foo &lt;/textarea&gt;&lt;script&gt;")
	if strings.Contains(page, "<script>alert") {
		t.Error("what was pasted is not escaped")
	}
	// A file that is incomplete is taken, and what it lacks is said.
	_, to = b.post(303, path, url.Values{"file": {"question = \"Which?\"\ngule = 3\n"}})
	page = b.get(200, to)
	b.shows(page, "Still to do for a plan", "Not known to a trial file", `value="3"`)
	if got := b.Trial(id).Asked.Name; got != "Benches" {
		t.Errorf("a file without a name calls the trial %q", got)
	}
	// A text that another program wrote and that is no trial file is shown, not lost.
	broken := b.begin("Broken", "name = [")
	b.shows(b.get(200, "/trials/"+broken+"/ask"), "name = [")
}

// Where specimens are glued, the page says what a change still changes.
func TestGlued(t *testing.T) {
	b := newBench(t)
	id := b.Benches(false)
	b.shows(b.get(200, "/trials/"+id+"/ask"), "There is a plan of 16 specimens", "until you make it anew") // 2 adhesives × 2 levels × 4: frametest.BenchesFile
	b.GlueAll(id)
	page := b.get(200, "/trials/"+id+"/ask")
	b.shows(page, "16 of them are glued", "labels, sheets and the plan stay as they are")
	sent := values(page)
	sent.Set("question", "Which?")
	b.post(303, "/trials/"+id+"/ask", sent)
	if got := b.Trial(id); got.Asked.Question != "Which?" || len(got.Plan.Specimens) != 16 || got.CountGlued() != 16 {
		t.Errorf("after a change: %+v", got.Asked)
	}
}

// A trial that was taken in from a table has a name, a question, conditions and a
// control.
func TestTakenIn(t *testing.T) {
	b := newBench(t)
	const csv = "specimen,adhesive,wood,strength_mpa,wood_failure_pct,surface\n1,Tarn,ash,8,0,dry\n2,Fell,ash,9,0,damp\n3,Tarn,ash,8.5,0,damp\n4,Fell,ash,9.5,0,dry\n"
	id, _, err := b.Book.TakeIn(t.Context(), record.Who{}, record.Asked{Name: "Old", Factors: []string{"surface"}}, "old.csv", []byte(csv), table.Options{})
	if err != nil {
		t.Fatal(err)
	}
	path := "/trials/" + id + "/ask"
	page := b.get(200, path)
	b.shows(page, "taken in from the table old.csv with 4 readings", "not known here", "(damp, dry)", "Write it down")
	sent := values(page)
	if sent.Get("factor") != "surface" {
		t.Errorf("the form has %v", sent)
	}
	sent.Set("question", "<b>Which?")
	sent.Set("control", "Fell")
	_, to := b.post(303, path, sent)
	b.shows(b.get(200, to), "&lt;b&gt;Which?", "Written down.")
	got := b.Trial(id)
	if got.Asked.Control != "Fell" || got.Asked.Question != "<b>Which?" || got.Asked.Table != "old.csv" || len(got.Asked.Factors) != 1 || got.CountBroken() != 4 {
		t.Errorf("written is %+v", got.Asked)
	}
	sent.Set("seen", strconv.FormatInt(got.AskedAt.Seq, 10))
	sent.Del("factor")
	b.post(303, path, sent)
	if got := b.Trial(id).Asked; len(got.Factors) != 0 {
		t.Errorf("written is %+v", got)
	}
	sent = values(b.get(200, path))
	sent.Set("name", "")
	sent.Set("question", "Kept?")
	page, _ = b.post(422, path, sent)
	b.shows(page, `id="f-name-wrong"`, "Kept?")
	sent.Set("name", "Old")
	sent.Set("control", "Nobody's")
	page, _ = b.post(422, path, sent)
	b.shows(page, "choose one of those there are")
	b.get(404, "/trials/"+id+"/trial.toml")
	b.post(409, "/trials/"+id+"/trial.toml", url.Values{"file": {benches()}})
}

// MissingOf says what the page says.
func TestMissingOf(t *testing.T) {
	b := newBench(t)
	if m := ask.MissingOf(b.Trial(b.begin("Benches", benches()))); len(m) > 0 {
		t.Errorf("a complete trial lacks %v", m)
	}
	m := ask.MissingOf(b.Trial(b.begin("Gates", "")))
	page := b.get(200, "/trials/gates/ask")
	if len(m) < 5 {
		t.Fatalf("a new trial lacks %v only", m)
	}
	for _, x := range m {
		if x.ID != "" && !strings.Contains(page, `id="`+x.ID+`"`) {
			t.Errorf("%+v: no such field on the page", x)
		}
	}
	b.get(404, "/trials/nothing/ask")
}

// The question and remarks are no part of a plan; all else is.
func TestSamePlan(t *testing.T) {
	file := benches()
	for _, c := range []struct {
		other string
		same  bool
	}{
		{"# a remark\n" + file, true},
		{strings.Replace(file, "Is Tarn enough", "Is Fell enough", 1), true},
		{strings.Replace(file, `name = "Benches"`, `name = "Gates"`, 1), false}, // orders are drawn from it
		{strings.Replace(file, "clamps = 12", "clamps = 13", 1), false},
		{"name = [", false},
	} {
		if got := ask.SamePlan(file, c.other); got != c.same {
			t.Errorf("the same plan: %v, want %v, for\n%s", got, c.same, c.other)
		}
	}
}
