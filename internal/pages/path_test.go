package pages_test

import (
	"context"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/record"
)

// reading is what is typed of one break.
type reading struct{ peak, wood, failure, aside string }

// invented are the readings of each adhesive, in the order in which its specimens are
// broken.
var invented = map[string][]reading{
	"Fell white": {{"1410", "0", "CF", ""}, {"1525", "5", "CF", ""}, {"1380", "0", "AF", ""}, {"1466.5", "10", "CF", ""}},
	"Tarn foam":  {{"1890", "20", "CF", ""}, {"2105", "90", "CSF", ""}, {"", "", "", "slipped in the rig"}, {"1975", "30", "CF", ""}},
}

// The trial's bonded area: pieces 20 mm wide that overlap by 12.5 mm.
const inventedArea = 250.0 // mm²

// wholeTrial goes the whole path in an empty logbook, and looks what is recorded then.
// Of a blind trial no page says before the key is opened which letter is which.
func wholeTrial(t *testing.T, by hand, blind bool) {
	h := newHouse(t)
	h.tick()
	p := by.page()
	p.Page.Patience = 30 * time.Second
	p.Open(h.address)
	p.WaitText("h1", "This logbook is empty")
	by.write("#name", "Shelves")
	by.write("#question", "Which of two holds a shelf?")
	by.press("form[action='/trials'] button")
	id := askFor(t, h, by, blind)

	by.press("a[href='/trials/" + id + "/plan']")
	by.press("form[action$='/plan/make'] button")
	p.WaitText("#short", "In short")
	labels(t, p)
	glueAll(t, h, by, id)
	lookOnce(t, h, by, id)
	if blind {
		h.tellsNothing(id)
	}
	want := breakAll(t, h, by, id)
	if blind {
		h.tellsNothing(id)
	}
	answerAndPublish(t, h, by, id, want)
	if blind {
		h.tellsNothing(id)
		openKey(t, h, by, id)
	}
	stored(t, h, id, want)
	calm(t, p, h.address)
	h.whole()
}

// askFor fills in the form of a small trial and returns the trial's identifier.
func askFor(t *testing.T, h *house, by hand, blind bool) string {
	p := by.page()
	p.WaitText("h1", "Ask")
	for _, f := range [][2]string{{"#f-adhesive-0-name", "Fell white"}, {"#f-adhesive-1-name", "Tarn foam"},
		{"#f-wood-0-name", "spruce"}, {"#f-wood-0-boards", "4"}, {"#f-wood-0-length_mm", "900"}, {"#f-wood-0-width_mm", "120"}, {"#f-wood-0-thickness_mm", "25"}} {
		by.write(f[0], f[1])
		if strings.HasPrefix(f[0], "#f-adhesive") {
			family := map[string]string{"Fell white": "pva", "Tarn foam": "polyurethane"}[f[1]]
			by.choose(strings.Replace(f[0], "-name", "-family", 1), family)
		}
	}
	by.press("fieldset[data-row=wood] summary")
	by.write("#f-wood-0-strength", "9.4 MPa")
	by.press(`details:has(> .ask-fields #f-specimens_per_cell) > summary`)
	by.write("#f-specimens_per_cell", fmt.Sprint(len(invented["Fell white"])))
	if !blind {
		by.choose("#f-blind", "false")
	}
	by.choose("#f-specimen-joint", "lap")
	for _, f := range [][2]string{{"length", "80"}, {"width", "20"}, {"thickness", "8"}, {"overlap", "12.5"}} {
		by.write("#f-specimen-"+f[0]+"_mm", f[1])
	}
	by.write("#f-work-clamps", "12")
	by.write("#f-work-time_zone", "Europe/Berlin")
	by.press(".ask-save button")
	p.WaitText("#ask-state", "Everything that a plan needs is here.")
	all, err := h.book.Trials(context.Background(), true)
	if err != nil || len(all) != 1 {
		t.Fatalf("%d trials, %v", len(all), err)
	}
	return all[0].ID
}

// labels checks that the links to what is printed lead to it.
func labels(t *testing.T, p *browsertest.Page) {
	t.Helper()
	var got []string
	p.Eval(`fetch(document.querySelector("a[href$='labels.pdf']").href).then(async (r) => [String(r.status), r.headers.get("Content-Type"), (await r.text()).slice(0, 5)])`, &got)
	if want := []string{"200", "application/pdf", "%PDF-"}; !slices.Equal(got, want) {
		t.Errorf("labels.pdf: %q, want %q", got, want)
	}
}

func (h *house) trialNow(id string) *record.Trial {
	h.t.Helper()
	tr, err := h.book.Trial(context.Background(), id)
	if err != nil {
		h.t.Fatal(err)
	}
	return tr
}

// glueAll glues every specimen, the first with the clock of the open time running.
func glueAll(t *testing.T, h *house, by hand, id string) {
	p := by.page()
	by.press("#path a[href$='/glue']")
	for i, s := range h.trialNow(id).ToGlue() {
		p.WaitText("#glue-code", s.Code)
		if i == 0 {
			by.press("#glue-on")
			p.WaitText("#glue-words", "open time left")
		}
		by.press("#glue-done button")
		if i == 0 {
			// What is told when the logbook has it, a moment later, must not move the
			// buttons from under a finger.
			p.WaitText("#glue-sent", "in the logbook")
			var moved float64
			p.Eval(`((button, said) => {
				const before = button.getBoundingClientRect().top;
				said.append(" more words".repeat(40));
				return button.getBoundingClientRect().top - before;
			})(document.querySelector("#glue-done button"), document.getElementById("glue-sent"))`, &moved)
			if moved != 0 {
				t.Errorf("what is told of a glue-up moves the buttons by %v px", moved)
			}
		}
	}
	p.WaitText("#glue-end", "All is glued")
	for i, s := range h.trialNow(id).Specimens {
		if s.Glued == nil || s.Glued.Spoiled != "" || s.Glued.Spread.IsZero() != (i > 0) {
			t.Errorf("of the glue-up of %s there is %+v", s.Code, s.Glued)
		}
	}
}

// lookOnce writes down one look at the cure.
func lookOnce(t *testing.T, h *house, by hand, id string) {
	p := by.page()
	by.press("#path a[href$='/cure']")
	by.press(".cure-check > details:not(.cure-codes) > summary")
	form := ".cure-check details[open] form "
	by.choose(form+"[name=hardness]", "4")
	by.choose(form+"[name=flexible]", "2")
	by.press(form + "button.main")
	p.WaitText(form, "is it the one you mean?") // as it is due tomorrow
	by.press(form + "button.main")
	p.WaitText("#cure-done", "4, ")
	if got := h.trialNow(id).Cures; len(got) != 1 || got[0].Hardness != 4 || got[0].Flexible != 2 {
		t.Errorf("looks at the cure: %+v", got)
	}
}

// breakAll breaks every specimen and returns what was typed, by code.
func breakAll(t *testing.T, h *house, by hand, id string) map[string]reading {
	p := by.page()
	by.press("#path a[href$='/break']")
	want, turn := make(map[string]reading), make(map[string]int)
	for _, s := range h.trialNow(id).ToBreak() {
		r := invented[s.Adhesive][turn[s.Adhesive]]
		turn[s.Adhesive]++
		want[s.Code] = r
		p.WaitText("#break-code", s.Code)
		if r.aside != "" {
			by.press(".break-extra > summary")
			by.choose("#aside", r.aside)
		} else {
			by.digits("#peak", r.peak)
			by.choose("[name=failure]", r.failure)
			by.write("#wood", r.wood)
		}
		save(t, by, s.Code)
	}
	p.WaitText("#break-done", "Nothing is left to break")
	p.WaitText("#break-count", "8 broken, 0 left")
	return want
}

// save saves the break of a specimen. The page asks about what it wonders at, as that the
// specimen was glued a minute ago, and takes it when it is saved again.
func save(t *testing.T, by hand, code string) {
	t.Helper()
	p := by.page()
	before := ""
	for range 4 {
		by.press("#break-save")
		var asked string
		for began := time.Now(); ; time.Sleep(20 * time.Millisecond) {
			var now string
			p.Eval(`document.getElementById("break-form").hidden ? "" : document.getElementById("break-code").textContent`, &now)
			if now != code {
				return
			}
			p.Eval(`[...document.querySelectorAll("#break-form .wrong-here")].map((p) => p.textContent).join(" ")`, &asked)
			if asked != "" && asked != before {
				break
			}
			if time.Since(began) > 15*time.Second {
				t.Fatalf("%s is not saved; the page says %q", code, asked)
			}
		}
		if !strings.Contains(asked, "save it again") && !strings.Contains(asked, "save all the same") {
			t.Fatalf("%s is not saved: %s", code, asked)
		}
		before = asked
	}
	t.Fatalf("%s is asked about again and again: %s", code, before)
}

// answerAndPublish reads the answer, goes from a number to its readings, and looks at
// the report.
func answerAndPublish(t *testing.T, h *house, by hand, id string, want map[string]reading) {
	p := by.page()
	by.press("#path a[href$='/answer']")
	p.WaitText(".answers-sentences", "On spruce")
	p.WaitText(".answers-sentences", "7 readings used, 1 ended in the wood, 1 set aside")
	sentence := p.Text(".answers-sentences p")
	by.press("table.answers-rows a")
	p.WaitText("h1", "Readings")
	shown := 0
	for code, r := range want {
		if p.Has(`a[href*="/break/"][aria-label*="`+code+`"]`) || strings.Contains(p.Text("#answers-readings"), code) {
			shown++
			if r.aside == "" {
				p.WaitText("#answers-readings", r.peak+" N")
			}
		}
	}
	if shown != 4 {
		t.Errorf("behind a row of the answer stand %d readings, want the 4 of an adhesive", shown)
	}
	by.press("#path a[href$='/publish']")
	p.WaitText(".answers-sentences", sentence)
	save := h.get(device(t), strings.TrimPrefix(attribute(p, "a.main[href*='report']", "href"), h.address))
	if save.status != http.StatusOK || !strings.HasPrefix(save.header.Get("Content-Disposition"), "attachment") {
		t.Errorf("the report is saved with status %d and %q", save.status, save.header.Get("Content-Disposition"))
	}
	back := p.URL()
	by.press("a.button[href*='report.html']:not(.main)")
	p.WaitText("body", "On spruce")
	if p.Status() != http.StatusOK || !strings.Contains(p.URL(), "report.html") {
		t.Errorf("the report: status %d at %s", p.Status(), p.URL())
	}
	p.Open(back) // as the browser's own key for going back
}

func attribute(p *browsertest.Page, selector, name string) (value string) {
	p.WaitFor(selector)
	p.Eval(fmt.Sprintf("document.querySelector(%q).%s", selector, name), &value)
	return value
}

// stored checks that what is recorded is what was typed.
func stored(t *testing.T, h *house, id string, want map[string]reading) {
	t.Helper()
	tr := h.trialNow(id)
	if tr.Asked.Name != "Shelves" || tr.Asked.Question != "Which of two holds a shelf?" || len(tr.Specimens) != 8 {
		t.Errorf("%q, %q, %d specimens", tr.Asked.Name, tr.Asked.Question, len(tr.Specimens))
	}
	for _, s := range tr.Specimens {
		w, b := want[s.Code], s.Broken
		if b == nil {
			t.Errorf("%s is not broken", s.Code)
			continue
		}
		share := ""
		if b.WoodShare != nil {
			share = fmt.Sprint(*b.WoodShare)
		}
		peak := ""
		if b.Unit != "" {
			peak = fmt.Sprint(b.Peak)
		}
		if got := (reading{peak, share, b.Failure, b.SetAside}); got != w {
			t.Errorf("%s: %+v is recorded, %+v was typed", s.Code, got, w)
		}
		if w.peak != "" && (b.Unit != "N" || b.AreaMM2 != inventedArea || b.Strength != b.Peak/inventedArea) {
			t.Errorf("%s: %v %s over %v mm² are %v MPa", s.Code, b.Peak, b.Unit, b.AreaMM2, b.Strength)
		}
		if b.First != b.Seq {
			t.Errorf("%s was corrected by nobody", s.Code)
		}
	}
}

// tellsNothing looks for the names of the adhesives on every page and in every file but
// those of Ask. plan.txt may name them, with what their labels say, but beside no letter;
// a copy of the logbook holds all of it, and says so where it is offered.
func (h *house) tellsNothing(id string) {
	h.t.Helper()
	if !h.trialNow(id).Sealed() {
		h.t.Fatal("the key is open")
	}
	of := h.examples()
	tr := h.trialNow(id)
	for _, f := range tr.PlanAt.Files {
		of["name"] = append(of["name"], f.Name)
	}
	of["name"] = append(of["name"], "key.csv", "key.txt", "key.pdf", "trial.toml")
	for _, e := range tr.Entries {
		of["seq"] = append(of["seq"], fmt.Sprint(e.Seq))
	}
	of["trial"] = []string{id}
	letter := make(map[string]*regexp.Regexp) // as a word, of each adhesive
	for _, s := range tr.Specimens {
		letter[s.Adhesive] = regexp.MustCompile(`\b` + regexp.QuoteMeta(s.Label) + `\b`)
	}
	looked := 0
	for _, pattern := range h.site.Patterns() {
		method, path, _ := strings.Cut(pattern, " ")
		if method != http.MethodGet || strings.HasSuffix(path, "/ask") || strings.HasSuffix(path, "/trial.toml") || path == "/logbook/copy" || strings.HasPrefix(path, "/files/") && len(of["sum"]) == 0 {
			continue
		}
		for _, at := range each(path, of) {
			w := h.answered(h.request(method, at))
			looked++
			for line := range strings.Lines(w.Body.String()) {
				for name := range invented {
					if strings.Contains(line, name) && (letter[name].MatchString(line) || !strings.HasSuffix(at, "/plan.txt")) {
						h.t.Errorf("%s, status %d, tells of %s: %s", at, w.Code, name, line)
					}
				}
			}
		}
	}
	if looked < 40 {
		h.t.Errorf("only %d pages looked at", looked)
	}
}

// each fills one parameter of a path after another with everything that it may be.
func each(path string, of map[string][]string) []string {
	path = strings.TrimSuffix(path, "{$}")
	m := param.FindStringSubmatchIndex(path)
	if m == nil {
		return []string{path}
	}
	var out []string
	for _, v := range of[path[m[2]:m[3]]] {
		out = append(out, each(path[:m[0]]+v+path[m[1]:], of)...)
	}
	return out
}

// openKey opens the key after the last break; names stand on the pages then.
func openKey(t *testing.T, h *house, by hand, id string) {
	p := by.page()
	by.press("#path a[href$='/plan']")
	by.press("#key details > summary")
	by.write("#by-open", "Ida")
	by.press("label:has(> #sure)")
	by.press("#key button[value=open]")
	p.WaitText("#key", "Opened with 8 of 8 broken")
	p.WaitText("#key", "Tarn foam")
	if tr := h.trialNow(id); tr.Sealed() || tr.KeyOpened.By != "Ida" {
		t.Errorf("the key: %+v", tr.KeyOpened)
	}
	by.press("#path a[href$='/answer']")
	p.WaitText(".answers-sentences", "Tarn foam")
}
