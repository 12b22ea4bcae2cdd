package pages_test

import (
	"context"
	"fmt"
	"net/http"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/browsertest"
)

// looks checks the page that is shown: no barrier, and nothing cut off, spilt or too
// small.
func looks(t testing.TB, what string, p *browsertest.Page) {
	t.Helper()
	for _, defect := range p.Overflow() {
		t.Errorf("%s at %d px: %s", what, p.Page.Screen().Width, defect)
	}
	for _, v := range p.Axe() {
		t.Errorf("%s at %d px: %s", what, p.Page.Screen().Width, v)
	}
}

// place is a page to be looked at.
type place struct {
	at     string // the path
	status int
	again  bool // it is another state of a page that is looked at on every screen: a phone will do
}

func dark(s browsertest.Screen) browsertest.Screen {
	s.Dark = true
	return s
}

// visit looks at pages on a phone in the light, on a laptop in the dark, and how they
// are laid out on a tablet; whatever they complain of and ask for is seen as well.
func visit(t *testing.T, b *browsertest.Browser, home string, places []place) {
	t.Helper()
	first := slices.DeleteFunc(slices.Clone(places), func(c place) bool { return c.again })
	for name, screen := range map[string]browsertest.Screen{"phone": browsertest.Phone, "laptop": dark(browsertest.Laptop), "tablet": browsertest.Tablet} {
		of := first
		if name == "phone" {
			of = places
		}
		if len(of) == 0 {
			continue
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := b.For(t).Page(screen)
			for _, c := range of {
				p.Open(home + c.at)
				if p.Status() != c.status {
					t.Errorf("%s: status %d, want %d", c.at, p.Status(), c.status)
				}
				if name != "tablet" {
					looks(t, c.at, p)
					continue
				}
				for _, defect := range p.Overflow() {
					t.Errorf("%s at %d px: %s", c.at, screen.Width, defect)
				}
			}
			var known []string // that the browser says by itself of a page that is refused
			for _, c := range of {
				if c.status != http.StatusOK {
					known = append(known, fmt.Sprintf("with a status of %d (%s) %s", c.status, http.StatusText(c.status), home+c.at))
				}
			}
			calm(t, p, home, known...)
		})
	}
}

// mistake is a form with what is put into it.
type mistake struct {
	at, form string
	values   []string // names and values in turn
}

// wrong sends a form as a browser without scripts does, and looks at what comes back.
func wrong(t *testing.T, p *browsertest.Page, home string, m mistake) {
	t.Helper()
	p.Open(home + m.at)
	if !p.Has(m.form) {
		t.Fatalf("%s has no %s", m.at, m.form)
	}
	js := "((form) => { window.before = true;\n"
	for i := 0; i < len(m.values); i += 2 {
		if !p.Has(m.form + " [name='" + m.values[i] + "']") {
			t.Fatalf("%s %s has no field %s", m.at, m.form, m.values[i])
		}
		js += fmt.Sprintf("form.elements.namedItem(%q).value = %q;\n", m.values[i], m.values[i+1])
	}
	p.Eval(js+fmt.Sprintf("setTimeout(() => HTMLFormElement.prototype.submit.call(form)); return true; })(document.querySelector(%q))", m.form), nil)
	for began := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		var there bool
		if p.Page.Eval("!window.before && document.readyState === 'complete'", &there) == nil && there {
			break
		}
		if time.Since(began) > 20*time.Second {
			t.Fatalf("%s %s: nothing comes back", m.at, m.form)
		}
	}
	status := http.StatusUnprocessableEntity
	if m.form == "#ask" {
		status = http.StatusOK // what is written at Ask need not be complete, or right
	}
	if p.Status() != status {
		t.Errorf("%s %s: status %d at %s, want %d", m.at, m.form, p.Status(), p.URL(), status)
	}
	if !p.Has("[aria-invalid=true], .wrong, .wrong-here") {
		t.Errorf("%s %s: what is wrong is not said", m.at, m.form)
	}
	looks(t, m.at+" with mistakes in "+m.form, p)
}

// Every page in every state of a trial has no barrier, is laid out well on every screen,
// complains of nothing and asks nobody else for anything.
func everyPage(t *testing.T, b *browsertest.Browser) {
	t.Run("of a new logbook", func(t *testing.T) { newLogbook(t, b.For(t)) })
	h := demoHouse(t)
	h.answer()
	of := h.examples()
	t.Run("of the demo", func(t *testing.T) { demoPages(t, b.For(t), h, of) })
	t.Run("with mistakes", func(t *testing.T) { mistakes(t, b.For(t), h) })
	t.Run("on paper", func(t *testing.T) { onPaper(t, b.For(t), h) })
}

var stations = []string{"", "/history", "/ask", "/plan", "/glue", "/cure", "/break", "/answer", "/readings", "/publish"}

func newLogbook(t *testing.T, b *browsertest.Browser) {
	h := newHouse(t)
	c := device(t)
	t.Run("empty", func(t *testing.T) {
		places := []place{{"/nowhere", http.StatusNotFound, false}}
		for _, at := range []string{"/", "/new", "/take-in", "/shelf", "/rack", "/rig", "/logbook"} {
			places = append(places, place{at, http.StatusOK, at != "/"})
		}
		visit(t, b, h.address, places)
	})
	to := h.post(c, "/trials", "name", "Bench slats of the schoolyard, glued outdoors, second go", "question", "Which holds?").header.Get("Location")
	trial := "/trials/" + strings.Split(to, "/")[2]
	var places []place
	for _, at := range stations {
		places = append(places, place{trial + at, http.StatusOK, true})
	}
	t.Run("asked", func(t *testing.T) { visit(t, b, h.address, places) })
	if said := h.post(c, trial+"/trial.toml", "file", plannedFile, "seen", seenOf(h, c, trial)); said.status != http.StatusSeeOther {
		t.Fatalf("status %d: %.2000s", said.status, said.body)
	}
	h.post(c, trial+"/plan/make")
	for began := time.Now(); h.trialNow(strings.TrimPrefix(trial, "/trials/")).Plan == nil; time.Sleep(20 * time.Millisecond) {
		if time.Since(began) > 30*time.Second {
			t.Fatalf("there is no plan after 30 seconds: %s", h.get(c, trial+"/plan").body)
		}
	}
	for i := range places { // names as long as they come, on every screen
		places[i].again = !slices.Contains([]string{"/plan", "/glue", "/break"}, stations[i])
	}
	t.Run("planned", func(t *testing.T) { visit(t, b, h.address, places) })
}

// plannedFile has names as long as they come.
const plannedFile = `name = "Bench slats of the schoolyard, glued outdoors, second go"
blind = false
specimens_per_cell = 2
seed = 5

[[adhesive]]
name = "Fell waterproof white wood glue for joinery, winter formula"
family = "pva"

[[adhesive]]
name = "Tarn expanding foam"
family = "polyurethane"

[[wood]]
name = "european larch from the old pergola"
strength = "9.2 MPa"
boards = 4
length_mm = 900
width_mm = 120
thickness_mm = 25

[specimen]
joint = "lap"
length_mm = 80
width_mm = 20
thickness_mm = 8
overlap_mm = 12.5

[work]
start = 2027-04-13
time_zone = "Europe/Berlin"
clamps = 8
`

// seenOf is the entry that the form of Ask was made from.
func seenOf(h *house, c *http.Client, trial string) string {
	_, after, _ := strings.Cut(h.get(c, trial+"/ask").body, `name="seen" value="`)
	seen, _, _ := strings.Cut(after, `"`)
	return seen
}

func demoPages(t *testing.T, b *browsertest.Browser, h *house, of map[string][]string) {
	var places []place
	c := device(t)
	seen := make(map[string]bool) // addresses, and kinds of errors
	benches, doors := strings.TrimPrefix(h.demoTrial("School benches"), "/trials/"), strings.TrimPrefix(h.demoTrial("Door frames"), "/trials/")
	for _, pattern := range h.site.Patterns() {
		method, path, _ := strings.Cut(pattern, " ")
		if method != http.MethodGet || path == "/events" || path == "/logbook/copy" || slices.Contains([]string{".txt", ".csv", ".json", ".toml"}, filepath.Ext(path)) {
			continue
		}
		for _, id := range of["trial"] {
			at := filled(t, path, of, func(name string, good []string) string {
				if name == "trial" {
					return id
				}
				return first(name, good)
			})
			if seen[at] {
				continue
			}
			seen[at] = true
			got := h.get(c, at)
			if !strings.HasPrefix(got.header.Get("Content-Type"), "text/html") || got.status != http.StatusOK && seen[http.StatusText(got.status)] {
				continue // pages of one kind of error differ by a sentence only
			}
			seen[http.StatusText(got.status)] = true
			on := doors // what is looked at on every screen: the trial of which the page has something to show
			if slices.ContainsFunc([]string{"/ask", "/plan", "/answer", "/publish", "/report.html"}, func(end string) bool { return strings.HasSuffix(path, end) }) {
				on = benches
			}
			again := strings.Contains(path, "{trial}") && got.status == http.StatusOK && id != on
			places = append(places, place{at, got.status, again})
		}
	}
	if len(places) < 40 {
		t.Errorf("only %d pages looked at", len(places))
	}
	visit(t, b, h.address, places)
}

// demoTrial returns the trial of the demo whose name begins so.
func (h *house) demoTrial(name string) string {
	h.t.Helper()
	all, err := h.book.Trials(context.Background(), true)
	if err != nil {
		h.t.Fatal(err)
	}
	for _, tr := range all {
		if strings.HasPrefix(tr.Asked.Name, name) {
			return "/trials/" + tr.ID
		}
	}
	h.t.Fatalf("the demo has no trial %s", name)
	return ""
}

func mistakes(t *testing.T, b *browsertest.Browser, h *house) {
	doors := h.demoTrial("Door frames")
	all := []mistake{
		{"/new", "form[action='/trials']", []string{"name", ""}},
		{"/take-in", "form[action='/take-in']", nil},
		{"/shelf", "form[action='/shelf']:has([name=name]:not([type=hidden]))", []string{"name", ""}},
		{"/rack", "form[action='/rack']:has([name=wood]:not([type=hidden]))", []string{"wood", "", "lengthmm", "long"}},
		{"/rig", "form[action='/rig']", []string{"limit", "much"}},
		{"/rig", "form[action='/rig/checks']", []string{"masskg", "heavy"}},
		{h.demoTrial("With a photo") + "/ask", "#ask", []string{"name", "", "adhesive.0.open", "a while"}},
		{doors + "/ask", "form[action$='trial.toml']", []string{"file", "name = \"Doors\"\nwoods = 3\n[[adhesive]\n"}},
		{doors + "/plan", "form[action$='/plan/key']:has(#by-mark)", []string{"by", ""}},
		{doors + "/glue", "form[action$='/glue/climate']", []string{"temperature", "warm"}},
		{doors + "/glue", "form[action$='/glue/add']", []string{"code", ""}},
		{doors + "/cure", "#free form", nil},
		{doors + "/break", "#break-form", []string{"peak", "many", "wood", "130"}},
		{doors + "/break", "#add form", []string{"code", ""}},
	}
	for name, screen := range map[string]browsertest.Screen{"phone": browsertest.Phone, "laptop": dark(browsertest.Laptop)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := b.For(t).Page(screen)
			for _, m := range all {
				if name == "phone" || m.form != "#ask" { // which is written, by one at a time
					wrong(t, p, h.address, m)
				}
			}
			calm(t, p, h.address, "with a status of 422", "beforeunload") // which the browser says by itself of such forms
		})
	}
	t.Run("of an address", func(t *testing.T) {
		visit(t, b, h.address, []place{{doors + "/answer?margin=wide&threshold=all", http.StatusUnprocessableEntity, false}})
	})
}

// onPaper checks what a printer gets: the words of the page, and not what only a screen
// is good for.
func onPaper(t *testing.T, b *browsertest.Browser, h *house) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Fatal("pdftotext reads what is printed: install poppler-utils")
	}
	benches, doors := h.demoTrial("School benches"), h.demoTrial("Door frames")
	for _, c := range []struct {
		at    string
		words []string
	}{
		{benches + "/answer", []string{"School benches", "Answer", "How strong", "Tolmar paste", "Which is stronger", "How this was made"}},
		{benches + "/plan", []string{"School benches", "Plan", "96 specimens", "Boards and pieces", "When"}},
		{doors + "/break", []string{"Door frames", "All breaks (7)", "Strength, nominal"}},
	} {
		p := b.Page(browsertest.Laptop)
		p.Open(h.address + c.at)
		file := filepath.Join(t.TempDir(), "page.pdf")
		p.PrintPDF(file)
		out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		text := string(out)
		for _, w := range c.words {
			if !strings.Contains(text, w) {
				t.Errorf("%s on paper is without %q:\n%.1500s", c.at, w, text)
			}
		}
		for _, w := range []string{"Shelf", "Rack", "Logbook", "Say who writes", "To the content", "of 96 glued", "of 16 glued", "report, figures, data", "Take back", "Save", "Make the plan", "Settings"} {
			if strings.Contains(text, w) {
				t.Errorf("%s on paper has %q:\n%.1500s", c.at, w, text)
			}
		}
	}
}
