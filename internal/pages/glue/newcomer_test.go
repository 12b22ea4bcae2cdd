package glue_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// A label's word goes before what is usual.
func TestTooColdByTheLabel(t *testing.T) {
	b := frametest.New(t)
	text := strings.Replace(fmt.Sprintf(frametest.BenchesFile, false), `family = "pva"`, "family = \"pva\"\nlowest_temperature_c = 12", 1)
	id, err := b.Book.New(t.Context(), record.Who{}, record.Asked{Name: "Benches", File: text})
	if err != nil {
		t.Fatal(err)
	}
	s := at(t, b, id)
	if s.trial().File == nil {
		t.Fatal("the trial file is not taken")
	}
	s.sees(s.post("/glue/climate", http.StatusOK, "temperature", "9"), "colder than the labels of this trial allow: one of its adhesives wants at least 12 °C.")
}

// Air that no shop has is asked about once, and the last entry can be taken back.
func TestOddAir(t *testing.T) {
	s := open(t, false)
	for _, c := range []struct{ typed, unit, words string }{{"70", "°C", "Temperature: 70 °C is 158 °F; is that so"}, {"-25", "°C", "−25 °C"}, {"120", "°F", "48.9 °C is 120 °F"}} {
		n := len(s.trial().Climates)
		page := s.post("/glue/climate", http.StatusUnprocessableEntity, "temperature", c.typed, "unit", c.unit, "humidity", "40")
		s.sees(page, c.words)
		if got := hidden(t, page, "sure", "/glue/climate"); got != c.typed || len(s.trial().Climates) != n {
			t.Errorf("%s: the page remembers %q, %d are written", c.typed, got, len(s.trial().Climates)-n)
		}
		s.post("/glue/climate", http.StatusUnprocessableEntity, "temperature", c.typed, "unit", c.unit, "sure", "20")
		page = s.post("/glue/climate", http.StatusOK, "temperature", c.typed, "unit", c.unit, "sure", c.typed)
		last := s.trial().Climates[n]
		if !strings.Contains(page, fmt.Sprintf(`name="seq" value="%d"`, last.Seq)) {
			t.Error("the last air cannot be taken back")
		}
		s.post("/undo", http.StatusOK, "seq", fmt.Sprint(last.Seq), "back", "/trials/"+s.id+"/glue")
		if len(s.trial().Climates) != n {
			t.Error("it was not taken back")
		}
	}
	for _, usual := range []string{"45", "-20", "0"} {
		s.post("/glue/climate", http.StatusOK, "temperature", usual, "unit", "°C")
	}
}

// Spoiled ones do not count as glued where marks are asked for.
func TestMarksCountWhatIsGlued(t *testing.T) {
	s := open(t, false)
	first := s.trial().Specimens[0]
	n := 0
	for _, sp := range s.trial().Specimens {
		if sp.Label != first.Label || n == 4 {
			continue
		}
		n++
		g := record.Glued{}
		if n == 1 {
			g.Spoiled = "fell"
		}
		if n == 4 { // three opened, two of them glued
			if page := s.get(""); strings.Contains(read(page), "of "+first.Label+" are glued") {
				t.Error("asked too soon: a spoiled one is counted")
			}
		}
		if _, err := s.Book.Add(t.Context(), record.Who{}, s.id, sp.Code, g); err != nil {
			t.Fatal(err)
		}
	}
	s.sees(s.get(""), "3 of "+first.Label+" are glued.")
}

// The table of marks has what was opened, the latest first; the rest is put away.
func TestMarksOfOpenedBatches(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b)
	s := at(t, b, id)
	table := func() string {
		page := s.get("")
		_, rest, _ := strings.Cut(page, `id="glue-marked"`)
		text, _, _ := strings.Cut(rest, "</table>")
		return text
	}
	if got := table(); !strings.Contains(got, "none is opened yet") || strings.Contains(got, "batch 1") {
		t.Errorf("before anything is opened: %s", got)
	}
	s.sees(s.get(""), "2 not opened yet Tarn, batch 1 give marks")
	for _, code := range []string{"A1", "A3"} {
		s.post("/glue", http.StatusOK, "code", code, "outcome", "done")
	}
	got := table()
	if one, two := strings.Index(got, "batch 1"), strings.Index(got, "batch 2"); one < 0 || two < 0 || two > one {
		t.Errorf("batch 2 was opened last and does not come first: %s", got)
	}
	// The link works without scripts: it opens the form on its batch.
	_, rest, _ := strings.Cut(got, `href="?`)
	link, _, _ := strings.Cut(rest, "#marks")
	q, err := url.ParseQuery(strings.ReplaceAll(link, "&amp;", "&"))
	if err != nil || q.Get("label") != "Tarn" || q.Get("batch") != "2" {
		t.Fatalf("the link is %q", link)
	}
	if page := s.get("?" + q.Encode()); !strings.Contains(page, `<option value="batch=2&amp;label=Tarn" selected>`) || !strings.Contains(page, `id="glue-marking" open`) {
		t.Error("the link does not open the form on its batch")
	}
}

// More under clamps than there are clamps is pointed out.
func TestMoreThanTheClamps(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b)
	s := at(t, b, id)
	for _, code := range []string{"A1", "A2"} {
		s.post("/glue", http.StatusOK, "code", code, "outcome", "done")
	}
	s.sees(s.get(""), "All 2 in use")
	s.sees(s.post("/glue", http.StatusOK, "code", "A3", "outcome", "done"), "▲ 3 in use, and the trial has 2", "More are written down as glued than there are clamps")
}

// Where the key on paper is had is said until somebody has it.
func TestWhereTheKeyIs(t *testing.T) {
	const words = "stands in the key, which nobody has taken yet"
	s := open(t, true)
	s.sees(s.get(""), words, "at Plan")
	if _, err := s.Book.Add(t.Context(), record.Who{By: "Bo"}, s.id, "", record.Noted{Station: "key", Text: "took it on paper"}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(read(s.get("")), words) {
		t.Error("it is said still though Bo has it")
	}
	if strings.Contains(read(open(t, false).get("")), words) {
		t.Error("it is said where there are no letters")
	}
}

// The zone of the times is in the page for those whose device has another.
func TestTimesHaveTheirZone(t *testing.T) {
	page := open(t, false).get("")
	if !strings.Contains(page, `data-zone="Europe/Berlin" hidden>Times of Europe/Berlin.</p><noscript>`) {
		t.Error("the page does not know its zone")
	}
}
