package record_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

var ida = record.Who{By: "Ida"}

// planned begins a trial with the small plan.
func planned(t *testing.T, b *frametest.Bench, blind bool, zone string) string {
	t.Helper()
	id, err := b.Book.New(t.Context(), ida, record.Asked{Name: "Small"})
	if err != nil {
		t.Fatal(err)
	}
	must(t, b, id, "", smallPlan(blind, zone))
	return id
}

func must(t *testing.T, b *frametest.Bench, id, subject string, c record.Content) record.Entry {
	t.Helper()
	e, err := b.Book.Add(t.Context(), ida, id, subject, c)
	if err != nil {
		t.Fatalf("%T of %s: %v", c, subject, err)
	}
	return e
}

func isRefused(t *testing.T, what string, err error, words string) {
	t.Helper()
	var r *record.Refused
	if !errors.As(err, &r) || !strings.Contains(r.Message, words) {
		t.Errorf("%s: %v, want a refusal with %q", what, err, words)
	}
}

func isConflict(t *testing.T, what string, err error, words string) {
	t.Helper()
	var c *record.Conflict
	if !errors.As(err, &c) || !strings.Contains(c.Words, words) {
		t.Errorf("%s: %v, want a conflict with %q", what, err, words)
	}
}

func undo(t *testing.T, b *frametest.Bench, id string, seq int64) error {
	t.Helper()
	_, err := b.Book.Undo(t.Context(), ida, id, seq, "")
	return err
}

func TestUndoKeepsWhatWasDone(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, true, "UTC")
	first := b.Trial(id).Entries[0].Seq
	plan := b.Trial(id).PlanAt.Seq
	isRefused(t, "what the trial began with", undo(t, b, id, first), "put the trial away")
	added := must(t, b, id, "T1", record.Added{Joint: record.Joint{Adhesive: "Gill"}})
	glued := must(t, b, id, "T1", record.Glued{})
	isRefused(t, "a specimen that is glued", undo(t, b, id, added.Seq), "T1 is glued or broken")
	isRefused(t, "a plan with specimens glued", undo(t, b, id, plan), "would be lost")
	if _, err := b.Book.Correct(t.Context(), ida, id, plan, smallPlan(true, "UTC")); err == nil {
		t.Error("a plan that is glued by was replaced")
	}
	if err := undo(t, b, id, glued.Seq); err != nil {
		t.Fatal(err)
	}
	gone := undo(t, b, id, added.Seq)
	if gone != nil {
		t.Fatal(gone)
	}
	// Brought back without its specimen, the glue-up would be lost.
	entries := b.Trial(id).Entries
	isRefused(t, "a glue-up without specimen", undo(t, b, id, entries[len(entries)-2].Seq), "T1 is glued or broken")

	opened := must(t, b, id, "", record.KeyOpened{Of: 6})
	isRefused(t, "the key", undo(t, b, id, opened.Seq), "cannot be unseen")
	if b.Trial(id).Sealed() {
		t.Error("sealed again")
	}
}

// A plan is replaced by a correction, which holds the claim then; a second plan
// beside it is a conflict. Taken back, the first one stands again.
func TestPlanIsReplaced(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	first := b.Trial(id).PlanAt.Seq
	other := smallPlan(false, "UTC")
	other.Specimens = other.Specimens[:4]
	other.Checks = nil
	_, err := b.Book.Add(t.Context(), ida, id, "", other)
	isConflict(t, "a second plan", err, "recorded already: a plan of 6 specimens")
	second, err := b.Book.Correct(t.Context(), ida, id, first, other)
	if err != nil || len(b.Trial(id).Specimens) != 4 {
		t.Fatalf("%d specimens, %v", len(b.Trial(id).Specimens), err)
	}
	_, err = b.Book.Correct(t.Context(), record.Who{By: "Jon"}, id, first, smallPlan(false, "UTC"))
	isConflict(t, "by a page that is out of date", err, "changed meanwhile")
	_, err = b.Book.Add(t.Context(), ida, id, "", other)
	isConflict(t, "a plan beside the second", err, "recorded already")
	if err := undo(t, b, id, second.Seq); err != nil || len(b.Trial(id).Specimens) != 6 {
		t.Fatalf("%d specimens, %v", len(b.Trial(id).Specimens), err)
	}
	// The question is corrected, and another trial of the name is another trial.
	if _, err := b.Book.Correct(t.Context(), ida, id, b.Trial(id).AskedAt.Seq, record.Asked{Name: "Small", Question: "Which?"}); err != nil {
		t.Fatal(err)
	}
	another, err := b.Book.New(t.Context(), ida, record.Asked{Name: "Small"})
	if err != nil || another == id || b.Trial(id).Asked.Question != "Which?" {
		t.Errorf("another trial is %s, %v; the first asks %q", another, err, b.Trial(id).Asked.Question)
	}
	if err := undo(t, b, id, b.Trial(id).AskedAt.Seq); err != nil || b.Trial(id).Asked.Question != "" {
		t.Errorf("%v, it asks %q", err, b.Trial(id).Asked.Question)
	}
}

// What came from a table keeps where it came from, whatever is corrected.
func TestEntriesOfATable(t *testing.T) {
	b := frametest.New(t)
	id, _, err := b.Book.TakeIn(t.Context(), ida, record.Asked{Name: "Old", Factors: []string{"surface"}}, "/home/ida/old.csv",
		[]byte("specimen,adhesive,strength_mpa,wood_failure_pct,surface,glue_order,break_order\nA,Tarn,8,20,dry,4,7\nB,Fell,9,80,damp,5,8\n"), table.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := b.Trial(id).Specimens[0]
	if _, err := b.Book.Correct(t.Context(), ida, id, s.Broken.Seq, record.Broken{Peak: 8.5, Unit: "MPa", Strength: 8.5, Failure: "CF"}); err != nil {
		t.Fatal(err)
	}
	tr := b.Trial(id)
	r := tr.Readings()[0]
	if r.Code != "A" || r.Strength != 8.5 || r.GlueOrder != 4 || r.BreakOrder != 7 || r.Adhesive != "Tarn" || r.Factors["surface"] != "dry" {
		t.Errorf("corrected it is %+v", r)
	}
	// What is broken afterwards goes on from the orders of the table.
	must(t, b, id, "C", record.Added{Joint: record.Joint{Adhesive: "tarn ", Factors: map[string]string{"surface": "Dry"}}})
	_, err = b.Book.Add(t.Context(), ida, id, "A", record.Added{Joint: record.Joint{Adhesive: "Tarn"}})
	isRefused(t, "a specimen of the table", err, "choose another code")
	must(t, b, id, "C", record.Broken{Strength: 7, WoodShare: ptr(0)})
	r = b.Trial(id).Readings()[2]
	if r.BreakOrder != 9 || r.GlueOrder != 0 || r.Session != "2027-04-12" || r.Adhesive != "Tarn" || r.Factors["surface"] != "dry" {
		t.Errorf("a further one is %+v", r)
	}
	if b.Trial(id).Readings()[1].Session != "not named" {
		t.Error("the session of the table is blank where another is named: no table can hold that")
	}
	if err := undo(t, b, id, b.Trial(id).Specimens[1].Broken.Seq); err != nil {
		t.Fatal(err)
	}
	if _, ok := b.Trial(id).Specimen("B"); ok || b.Trial(id).CountBroken() != 2 {
		t.Error("what was taken back is there still")
	}
	entries := b.Trial(id).Entries
	if err := undo(t, b, id, entries[len(entries)-1].Seq); err != nil || b.Trial(id).CountBroken() != 3 {
		t.Errorf("it does not come back: %v", err)
	}
}

// While the key is sealed nothing that pages show of entries tells a name, and
// nobody can couple a name with a specimen.
func TestSealedNamesDoNotLeak(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, true, "UTC")
	news, end := b.Book.Subscribe()
	defer end()
	for _, called := range []string{"Tarn", " tarn ", "FELL"} {
		_, err := b.Book.Add(t.Context(), ida, id, "T1", record.Added{Joint: record.Joint{Adhesive: called}})
		isRefused(t, "a specimen of "+called, err, "by its letter")
		_, err = b.Book.Add(t.Context(), ida, id, called, record.Marks{Spreads: 3})
		isRefused(t, "marks of "+called, err, "by its letter")
		_, err = b.Book.Add(t.Context(), ida, id, "check 1", record.Cured{Adhesive: called, Hardness: 3})
		isRefused(t, "a look at "+called, err, "by its letter")
	}
	must(t, b, id, "T1", record.Added{Joint: record.Joint{Adhesive: "k", Wood: "Ash"}})
	must(t, b, id, "K", record.Marks{Spreads: 3})
	must(t, b, id, "check 1", record.Cured{Adhesive: "K", Hardness: 3})
	must(t, b, id, "C0", record.Glued{Spoiled: "dropped"})
	must(t, b, id, "T1", record.Broken{Strength: 8, WoodShare: ptr(10)})
	must(t, b, id, "C2", record.Broken{Strength: 8, WoodShare: ptr(10)})
	_, err := b.Book.Add(t.Context(), ida, id, "C2", record.Broken{Strength: 9})
	isConflict(t, "a second break", err, "8 MPa")
	tr := b.Trial(id)
	said := err.Error()
	for _, e := range tr.Entries {
		said += "\n" + e.Subject + " " + record.Words(tr, e) + " " + record.ByWords(tr, e)
	}
	for range 6 {
		ev := <-news
		said += "\n" + ev.Subject + " " + ev.Words
	}
	said += fmt.Sprint(tr.Adhesives(), tr.Control(), tr.Readings())
	for _, c := range tr.Checks() {
		said += fmt.Sprint(c.Label, c.Codes)
	}
	if strings.Contains(said, "Tarn") || strings.Contains(said, "Fell") {
		t.Errorf("a name stands in\n%s", said)
	}
	s, _ := tr.Specimen("T1")
	if s.Adhesive != "Tarn" || tr.Shown(s) != "K" || s.Wood != "ash" {
		t.Errorf("the specimen by hand is %s, shown as %s, on %s", s.Adhesive, tr.Shown(s), s.Wood)
	}
	must(t, b, id, "", record.KeyOpened{Broken: 2, Of: 7})
	tr = b.Trial(id)
	if s, _ = tr.Specimen("T1"); tr.Shown(s) != "Tarn" || tr.Readings()[0].Adhesive != "Tarn" {
		t.Error("the key is open and names are not shown")
	}
}

// The session of a break is the day in the trial's zone, by the device's clock where
// that is believed.
func TestSessionsAreLocalDays(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "America/Los_Angeles")
	b.Clock.Add(-2 * time.Hour) // 7:00 UTC is midnight in California in April
	must(t, b, id, "C0", record.Broken{Strength: 8, WoodShare: ptr(0)})
	b.Clock.Add(-time.Second)
	must(t, b, id, "C1", record.Broken{Strength: 8, WoodShare: ptr(0)})
	who := record.Who{Said: b.Clock.Now().AddDate(0, 0, -3)}
	e, err := b.Book.Add(t.Context(), who, id, "C2", record.Broken{Strength: 8, WoodShare: ptr(0)})
	if err != nil {
		t.Fatal(err)
	}
	b.Clock.Add(48 * time.Hour)
	if _, err := b.Book.Correct(t.Context(), ida, id, e.Seq, record.Broken{Strength: 8.1, WoodShare: ptr(0)}); err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"2027-04-12", "2027-04-11", "2027-04-08"} {
		if r := b.Trial(id).Readings()[i]; r.Session != want || r.BreakOrder != i+1 {
			t.Errorf("%s: session %s, place %d, want %s, %d", r.Code, r.Session, r.BreakOrder, want, i+1)
		}
	}
}

// Another version may have written kinds that this one does not know, and known ones
// otherwise: they are shown as such and nothing else is lost.
func TestEntriesOfAnotherVersion(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	must(t, b, id, "C0", record.Glued{})
	l := b.Book.Logbook()
	for _, d := range []logbook.Draft{
		{Trial: id, Kind: "hologram", Subject: "C0", Content: []byte(`{"Depth":[1,2]}`), By: "Zoë"},
		{Trial: id, Kind: "glued", Subject: "C1", Content: []byte(`{"Spoiled":{"Because":"x"}}`)},
		{Trial: id, Kind: "planned", Content: []byte(`{"Specimens":[{"Code":"X","Adhesive":7}]}`)},
		{Trial: id, Kind: "planned", Content: []byte(`{"Adhesives":[{}],"Specimens":[{"Code":"X"}],"Checks":[{"Specimens":[9]}]}`)},
		{Trial: id, Kind: "asked", Content: []byte(`{"Name":"Small","File":"[[[","Mood":"good"}`)},
		{Trial: "other", Kind: "hologram", Content: []byte(`{}`)},
	} {
		if _, err := l.Append(t.Context(), d); err != nil {
			t.Fatal(err)
		}
	}
	again, err := record.Open(t.Context(), l)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := again.Trial(t.Context(), id)
	if err != nil || len(tr.Specimens) != 6 || tr.CountGlued() != 1 || len(tr.Entries) != 8 || tr.File != nil || tr.Asked.File != "[[[" {
		t.Fatalf("%d specimens, %d glued, %d entries, %v", len(tr.Specimens), tr.CountGlued(), len(tr.Entries), err)
	}
	for _, e := range tr.Entries[3:7] {
		if words := record.Words(tr, e); words != "an entry of another version" {
			t.Errorf("%s: %q", e.Kind, words)
		}
		_, err := again.Undo(t.Context(), ida, id, e.Seq, "")
		isRefused(t, "undoing "+e.Kind, err, "another version")
		_, err = again.Correct(t.Context(), ida, id, e.Seq, record.Glued{})
		isRefused(t, "correcting "+e.Kind, err, "no such entry")
	}
	if all, err := again.Trials(t.Context(), true); err != nil || len(all) != 2 {
		t.Errorf("%d trials, %v", len(all), err)
	}
	if evs, err := again.Since(t.Context(), 0); err != nil || len(evs) != 9 {
		t.Errorf("%d entries, %v", len(evs), err)
	}
}
