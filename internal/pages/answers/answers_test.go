package answers

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
	"bondtrial/internal/simulate"
	"bondtrial/internal/table"
)

var nan = math.NaN()

// asCLI answers readings.csv as the command line does, and returns what it writes
// for programs.
func asCLI(t *testing.T, csv string, set answer.Settings) string {
	t.Helper()
	data, err := table.Read(strings.NewReader(csv), "readings.csv", table.Options{Factors: set.Factors})
	if err != nil {
		t.Fatal(err)
	}
	a, err := answer.Compute(context.Background(), data.Readings, set)
	if err != nil {
		t.Fatal(err)
	}
	if len(data.Warnings) > 0 {
		t.Fatalf("the table comes with warnings, which this test does not join: %q", data.Warnings)
	}
	var b bytes.Buffer
	if err := publish.JSON(&b, a); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The page answers what the command line answers from readings.csv, to the last
// digit, for a table that was taken in and for a planned trial.
func TestSameAsCommandLine(t *testing.T) {
	d := newDesk(t)
	demo, planned := d.demo(), d.broken(false, 14)
	withFactor := func(change func(*answer.Settings)) answer.Settings {
		s := answer.DefaultSettings()
		s.Factors = []string{"surface"}
		change(&s)
		return s
	}
	for _, c := range []struct {
		trial, query string
		set          answer.Settings
	}{
		{demo, "", withFactor(func(*answer.Settings) {})},
		{planned, "", withFactor(func(*answer.Settings) {})},
		{planned, "?control=tarn&margin=10%25&threshold=60&family=all&required=6MPa&seed=3&pooled=1&units=us", withFactor(func(s *answer.Settings) {
			s.Control, s.Margin, s.Threshold, s.Family, s.Required, s.Seed, s.PooledScatter = "Tarn", 0.1, 60, answer.AllWoods, 6, 3, true
		})},
	} {
		d.answered(c.trial, c.query)
		got := d.page("/trials/" + c.trial + "/answer.json" + c.query)
		if want := asCLI(t, d.page("/trials/"+c.trial+"/readings.csv"), c.set); got != want {
			t.Errorf("%s%s: the answers differ\npage: %s\ncommand line: %s", c.trial, c.query, got, want)
		}
	}
	// The way through the logbook changes nothing in the demo's own readings.
	var want bytes.Buffer
	if err := table.Write(&want, simulate.DemoReadings(simulate.DemoSeed), []string{"surface"}); err != nil {
		t.Fatal(err)
	}
	if got := d.page("/trials/" + demo + "/readings.csv"); got != want.String() {
		t.Errorf("readings.csv is not what was taken in:\n%s", got)
	}
}

// The page shows the sentence first, then what package publish says, in order.
func TestShow(t *testing.T) {
	d := newDesk(t)
	id := d.broken(false, 16)
	path := "/trials/" + id + "/answer"
	page := d.page(path)
	says(t, page, "Not answered yet", "16 readings of 2 adhesives on 1 wood", "the bond broke: this is its strength")
	if !strings.Contains(page, "data-auto") || !strings.Contains(page, `action="/trials/benches/answer/run"`) {
		t.Error("the page does not have the answer worked out, with a button and without")
	}
	d.answered(id, "")
	page = d.page(path)
	kept := d.keeper.order.Front().Value.(*Kept)
	w := publish.NewWords(kept.Answer, bondtrial.SI)
	says(t, page, w.Headline()...)
	says(t, page, w.Checks()...)
	says(t, page, w.Made(kept.Source("benches-readings.csv"))...)
	says(t, page, kept.Sum, "Nominal strength in MPa", "Take care")
	last := -1
	for _, part := range []string{w.Headline()[0], "How strong", "Which is stronger", "Chance of being the strongest", "How sure it is", "The wood's own strength", "How this was made"} {
		at := strings.Index(strings.ReplaceAll(text(page), "\u00a0", " "), part)
		if at <= last {
			t.Errorf("%q is at %d, not after what comes before it (%d)", part, at, last)
		}
		last = at
	}
	if n := strings.Count(page, "<svg "); n < 6 || strings.Contains(page, "<g style") || strings.Contains(page, `<svg xmlns="http://www.w3.org/2000/svg" style`) {
		t.Errorf("%d figures, or styles that the policy forbids", n)
	}
	says(t, d.page(path+"?units=us"), "Nominal strength in psi") // the same answer, in other units
	if d.keeper.order.Len() != 1 {
		t.Error("other units are computed anew")
	}
	report, res := d.get("/trials/" + id + "/report.html")
	says(t, report, "Answered from benches-readings.csv on 12 April 2027.", kept.Sum)
	if p := res.Header.Get("Content-Security-Policy"); !strings.Contains(p, "default-src 'none'") {
		t.Errorf("the report's policy is %q", p)
	}
}

// Every number leads to the readings behind it, and those are the ones it was made
// from.
func TestReadingsBehindNumbers(t *testing.T) {
	d := newDesk(t)
	id := d.demo()
	d.answered(id, "?margin=10")
	page := d.page("/trials/" + id + "/answer?margin=10")
	a := d.keeper.order.Front().Value.(*Kept).Answer
	links := make(map[string]bool)
	for _, m := range regexp.MustCompile(`href="(/trials/[^"]*/readings[^"]*)"`).FindAllStringSubmatch(page, -1) {
		links[html.UnescapeString(m[1])] = true
	}
	o := &order{asked: asked{query: url.Values{"margin": {"10"}}}, trial: d.Trial(id)}
	for i := range a.Cells {
		c := &a.Cells[i]
		link := readingsPath(o.trial, o.asked, behind(publish.About{Wood: c.Wood, Factors: c.Factors, Adhesives: []string{c.Adhesive}}))
		if !links[link] {
			t.Errorf("no link to %s", link)
			continue
		}
		if i%7 > 0 {
			continue
		}
		behind := d.page(link)
		for _, k := range c.Readings {
			if code := a.Readings[k].Code; !strings.Contains(behind, `<h2 class="code">`+code+`</h2>`) {
				t.Errorf("%s: without %s", link, code)
			}
		}
		if n := strings.Count(behind, "answers-strength"); n < c.N || n > c.N+a.Counts.SetAside {
			t.Errorf("%s: %d readings, want %d and those set aside", link, n, c.N)
		}
		says(t, behind, "Back to the answer", c.Adhesive)
		if !strings.Contains(behind, `href="/trials/school-benches/answer?margin=10"`) {
			t.Error("the way back loses the settings")
		}
	}
	for _, p := range a.Pairs {
		link := readingsPath(o.trial, o.asked, choice{Adhesives: []string{p.A, p.B}, Wood: &p.Wood, Factors: p.Factors})
		other := readingsPath(o.trial, o.asked, choice{Adhesives: []string{p.B, p.A}, Wood: &p.Wood, Factors: p.Factors})
		if !links[link] && !links[other] {
			t.Errorf("no link to %s", link)
		}
	}
	for _, x := range a.Outliers {
		if link := readingsPath(o.trial, o.asked, choice{Specimens: []string{a.Readings[x.Reading].Code}}); !links[link] {
			t.Errorf("no link to %s", link)
		}
	}
	says(t, d.page(readingsPath(o.trial, o.asked, choice{State: "set-aside"})), "3 readings", "slipped in the grips", "Recorded", "Ida")
}

// A reading that is corrected gives another answer; what there was before is shown
// with what changed, and the readings show the correction.
func TestSince(t *testing.T) {
	d := newDesk(t)
	id := d.broken(false, 12)
	path := "/trials/" + id + "/answer"
	d.answered(id, "")
	before := d.page(path)
	silent(t, before, "Answer again")
	d.breakMore(id, 3)
	says(t, d.page(path), "3 more readings since.", "Answer again", "How strong")

	s := d.Trial(id).Specimens[0]
	was := s.Broken.Broken
	was.Peak, was.Strength, was.Note = was.Peak*1.1, was.Strength*1.1, "misread"
	if _, err := d.Book.Correct(context.Background(), record.Who{By: "Bo", Device: "phone 2"}, id, s.Broken.Seq, was); err != nil {
		t.Fatal(err)
	}
	says(t, d.page(path), "3 more readings and 1 corrected since.")
	says(t, d.page("/trials/"+id+"/readings?specimen="+s.Code), "misread", "Bo on phone 2", "What was recorded before", "corrected", "Correct "+s.Code)

	last := d.Trial(id).LastBroken()
	if _, err := d.Book.Undo(context.Background(), record.Who{}, id, last.Broken.Seq, ""); err != nil {
		t.Fatal(err)
	}
	says(t, d.page(path), "since.")
	d.answered(id, "")
	if after := d.page(path); after == before {
		t.Error("the answer is what it was")
	}
	silent(t, d.page(path), "Answer again")
	if n := d.keeper.order.Len(); n != 2 {
		t.Errorf("%d answers are kept, want 2: other readings go by another key", n)
	}
}

// Without enough readings the page says what is missing and shows what there is.
func TestTooLittle(t *testing.T) {
	d := newDesk(t)
	id := d.broken(false, 1)
	path := "/trials/" + id + "/answer"
	page := d.page(path)
	says(t, page, "Too little to answer from", "so the scatter cannot be told", "1 reading of 1 adhesive on 1 wood", "How many of each")
	silent(t, page, "data-auto", "Answer now")
	if h := d.post(path + "/run"); h.State != Unknown {
		t.Errorf("%+v: computed though the readings do not do", h)
	}
	if _, r := d.get("/trials/" + id + "/answer.json"); r.StatusCode != http.StatusConflict {
		t.Error(r.Status)
	}
	says(t, d.page(path+"?control=Moor"), "The control Moor has not been broken yet")
	empty := newDesk(t)
	says(t, empty.page("/trials/"+empty.Benches(false)+"/answer"), "Nothing has been broken yet")
	if _, r := empty.get("/trials/none/answer"); r.StatusCode != http.StatusNotFound {
		t.Error(r.Status)
	}
}

// While the key is sealed there are letters everywhere; after that the fine print
// says when it was opened.
func TestSealed(t *testing.T) {
	d := newDesk(t)
	id := d.broken(true, 14)
	d.answered(id, "")
	for _, path := range []string{"/answer", "/answer?units=us", "/readings", "/readings.csv", "/answer.json", "/report.html"} {
		if path == "/answer?units=us" {
			d.answered(id, "?units=us")
		}
		silent(t, strings.ReplaceAll(d.page("/trials/"+id+path), "Is Tarn enough for damp ash?", ""), "Tarn", "Fell")
	}
	says(t, d.page("/trials/"+id+"/answer"), "the key is sealed", "opened at Plan", "The adhesives go by blind letters")
	if _, err := d.Book.Add(context.Background(), record.Who{By: "Ida"}, id, "", record.KeyOpened{Broken: 14, Of: 16}); err != nil {
		t.Fatal(err)
	}
	page := d.page("/trials/" + id + "/answer")
	says(t, page, "Not answered yet") // the answer with letters is not passed off as one with names
	d.answered(id, "")
	says(t, d.page("/trials/"+id+"/answer"), "Tarn", "when 14 of 16 specimens were broken: the rest was not broken blind")
	says(t, d.page("/trials/"+id+"/report.html"), "when 14 of 16 specimens were broken")
}

// What cannot be used is said beside its field in the words of the command line, and
// what was typed is still there.
func TestWrongSettings(t *testing.T) {
	d := newDesk(t)
	id := d.small()
	q := url.Values{"margin": {"0"}, "threshold": {"most"}, "family": {"<script>"}, "required": {"6"}, "seed": {"-1"}, "units": {"bar"}, "control": {`"><script>alert(1)</script>`}}
	page, r := d.get("/trials/" + id + "/answer?" + q.Encode())
	if r.StatusCode != http.StatusUnprocessableEntity {
		t.Error(r.Status)
	}
	says(t, page, "0: give per cent above 0 and below 100", `"most": write a number of per cent, such as 75`, "write wood or all",
		`"6" has no unit of stress: write it as in 6MPa or 900psi`, `"-1": write a whole number from 0 on, such as 7`, `unknown units "bar": write si (MPa) or us (psi)`)
	for _, v := range []string{`value="0"`, `value="most"`, `value="6"`, `value="-1"`} {
		if !strings.Contains(page, v) {
			t.Errorf("%s is lost", v)
		}
	}
	if n := strings.Count(page, `aria-invalid="true"`); n != 6 {
		t.Errorf("%d fields are marked, want 6", n)
	}
	silent(t, page, "<script>alert", "family\"><script>")
	for _, path := range []string{"/answer/progress", "/answer.json", "/report.html"} {
		if _, r := d.get("/trials/" + id + path + "?margin=0"); r.StatusCode != http.StatusBadRequest {
			t.Errorf("%s: %s", path, r.Status)
		}
	}
}

// What a person typed as a name stays text, in figures, tables and readings.
func TestScriptInNames(t *testing.T) {
	d := newDesk(t)
	evil := `<script>alert("x")</script>`
	id := d.small(evil, `' onload=alert(1) x="</svg><script>`)
	d.answered(id, "")
	for _, path := range []string{"/answer", "/readings", "/report.html", "/answer?margin=10"} {
		page := d.page("/trials/" + id + path)
		if n := strings.Count(page, "<script"); n != strings.Count(page, `<script type="module" src="/static/`) {
			t.Errorf("%s: a script of somebody's own", path)
		}
		if regexp.MustCompile(`<[a-z]+[^>"]*(?:"[^"]*"[^>"]*)*\sonload=`).MatchString(page) {
			t.Errorf("%s: a handler of somebody's own", path)
		}
		says(t, page, "alert(")
	}
}

// A form without scripts leads to the page.
func TestWithoutScripts(t *testing.T) {
	d := newDesk(t)
	id := d.small()
	r, err := http.PostForm(d.site.URL+"/trials/"+id+"/answer/run?margin=10", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	if got := r.Request.URL.RequestURI(); got != "/trials/"+id+"/answer?margin=10" {
		t.Errorf("leads to %s", got)
	}
	o := fmt.Sprint(d.keeper.how(d.wait(onlyJob(d.keeper)).Job).State)
	if o != "done" {
		t.Error(o)
	}
	says(t, d.page("/trials/"+id+"/answer?margin=10"), "How strong")
}

// onlyJob is the key of what is computed or kept.
func onlyJob(k *Keeper) Key {
	k.mu.Lock()
	defer k.mu.Unlock()
	for key := range k.running {
		return key
	}
	return k.order.Front().Value.(*Kept).key
}
