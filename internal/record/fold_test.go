package record_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// What is corrected twice, or taken back and brought back, is what the logbook says
// is live, whatever the order of corrections.
func TestFoldAgreesWithTheLogbook(t *testing.T) {
	b := frametest.New(t)
	id := b.Benches(false)
	b.GlueAll(id)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		ctx := t.Context()
		tr := b.Trial(id)
		s := tr.Specimens[rapid.IntRange(0, 3).Draw(rt, "specimen")]
		force := float64(100 + n)
		c := record.Broken{Peak: force, Unit: "N", AreaMM2: 200, Strength: force / 200}
		who := record.Who{By: "Ida"}
		switch rapid.SampledFrom([]string{"break", "correct", "undo", "undo any"}).Draw(rt, "what") {
		case "break":
			_, _ = b.Book.Add(ctx, who, id, s.Code, c) // refused where it is broken
		case "correct":
			if s.Broken != nil {
				if _, err := b.Book.Correct(ctx, who, id, s.Broken.Seq, c); err != nil {
					rt.Fatal(err)
				}
			}
		case "undo":
			if s.Broken != nil {
				if _, err := b.Book.Undo(ctx, who, id, s.Broken.Seq, ""); err != nil {
					rt.Fatal(err)
				}
			}
		case "undo any":
			e := tr.Entries[rapid.IntRange(2, len(tr.Entries)-1).Draw(rt, "entry")]
			if e.Kind == "broken" || e.Kind == "taken back" {
				_, _ = b.Book.Undo(ctx, who, id, e.Seq, "") // refused where it does not stand
			}
		}
		raw, err := b.Book.Logbook().Entries(ctx, id, 0)
		if err != nil {
			rt.Fatal(err)
		}
		want := ""
		for _, e := range logbook.Live(raw) {
			want += fmt.Sprint(e.Seq, " ")
		}
		got := ""
		for _, e := range b.Trial(id).Entries {
			if e.Live {
				got += fmt.Sprint(e.Seq, " ")
			}
		}
		if got != want {
			rt.Fatalf("live are %s, the logbook says %s", got, want)
		}
	})
}
