package ask_test

import (
	"strings"
	"testing"

	"bondtrial"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
)

// Once specimens are glued, only the name, the question and the unit change: on the
// page, from a page that was fetched before, and as text.
func TestGluedStays(t *testing.T) {
	b := newBench(t)
	id := b.Benches(false)
	path := "/trials/" + id + "/ask"
	before := values(b.get(200, path))
	b.GlueAll(id)
	page := b.get(200, path)
	b.shows(page, "What was glued", "<dt>Wood</dt>", `name="units"`)
	for _, no := range []string{`name="adhesive.0.name"`, "data-remove", "data-add", `name="control"`, `name="wood.0.name"`} {
		if strings.Contains(page, no) {
			t.Errorf("%s is on the page", no)
		}
	}
	asked := b.Trial(id).Asked

	less := values(page)
	for name := range before {
		if !strings.HasPrefix(name, "adhesive.1.") {
			less[name] = before[name]
		}
	}
	said, _ := b.post(409, path, less)
	b.shows(said, "Not written.", "Specimens of this trial are glued: only its name")
	remove := values(page)
	remove.Set("do", "remove adhesive 0")
	b.post(409, path, remove)
	text, _ := b.post(409, "/trials/"+id+"/trial.toml", map[string][]string{"file": {strings.ReplaceAll(asked.File, "ash", "beech")}})
	b.shows(text, "are glued: only its name")
	if got := b.Trial(id); got.Asked.File != asked.File || got.File == nil {
		t.Errorf("it was changed to %s", got.Asked.File)
	}

	before.Set("name", "Benches, first lot")
	before.Set("units", "us")
	b.post(303, path, before)
	got := b.Trial(id)
	if got.Asked.Name != "Benches, first lot" || got.File == nil || got.File.Units != bondtrial.US || len(got.File.Adhesives) != 2 {
		t.Errorf("%+v", got.Asked)
	}
	// What would make it no trial any more is not written.
	wrong := values(b.get(200, path))
	wrong.Set("name", strings.Repeat("long ", 60))
	b.post(422, path, wrong)
	if b.Trial(id).File == nil {
		t.Error("the trial is not complete any more")
	}
}

// A trial that was spoiled at Ask after glueing is put back by writing it down.
func TestGluedIsPutBack(t *testing.T) {
	b := newBench(t)
	id := b.Benches(false)
	b.GlueAll(id)
	f, err := form.Parse([]byte(b.Trial(id).Asked.File))
	if err != nil {
		t.Fatal(err)
	}
	f.Adhesives = f.Adhesives[:1]
	if _, err := b.Book.Add(t.Context(), record.Who{By: "Ida"}, id, "", record.Asked{Name: f.Name, File: string(f.TOML())}); err != nil {
		t.Fatal(err)
	}
	if b.Trial(id).File != nil {
		t.Fatal("the trial is complete: this tests nothing")
	}
	page := b.get(200, "/trials/"+id+"/ask")
	b.shows(page, "write it down to put it back")
	b.post(303, "/trials/"+id+"/ask", values(page))
	if got := b.Trial(id); got.File == nil || len(got.File.Adhesives) != 2 {
		t.Errorf("after writing it down: %s", got.Asked.File)
	}
}
