package record_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

// Many write, read, take back and listen at the same time: every entry is told once
// and in order, and at the end all agree on what there is.
func TestManyAtOnce(t *testing.T) {
	b := frametest.New(t)
	ids := []string{planned(t, b, false, "UTC"), planned(t, b, true, "UTC")}
	last := b.Book.Last()
	ctx := t.Context()
	var writers, readers sync.WaitGroup
	for k := range 4 { // subscribers that keep up
		ch, end := b.Book.Subscribe()
		readers.Add(1)
		go func() {
			defer readers.Done()
			seen := last
			for e := range ch {
				if e.Seq != seen+1 {
					t.Errorf("subscriber %d: entry %d after %d", k, e.Seq, seen)
				}
				seen = e.Seq
			}
			end()
		}()
	}
	for k := range 8 {
		writers.Add(1)
		go func() {
			defer writers.Done()
			who := record.Who{By: fmt.Sprint("writer ", k)}
			for i := range 4 {
				id := ids[(k+i)%2]
				who.Key = fmt.Sprint(k, i)
				// The same form twice, as impatient people send it.
				first, err := b.Book.Add(ctx, who, id, "", record.Climate{Celsius: float64(k)})
				second, again := b.Book.Add(ctx, who, id, "", record.Climate{Celsius: float64(k)})
				if err != nil || again != nil || first.Seq != second.Seq {
					t.Error(first.Seq, err, second.Seq, again)
				}
				who.Key = ""
				// All want the same specimen; one has it.
				_, err = b.Book.Add(ctx, who, id, fmt.Sprint("C", i), record.Broken{Strength: 8})
				var c *record.Conflict
				if err != nil && !errors.As(err, &c) {
					t.Error(err)
				}
				tr, err := b.Book.Trial(ctx, id)
				if err != nil {
					t.Error(err)
					continue
				}
				_ = tr.Readings()
				if s := tr.LastBroken(); s != nil && k%2 == 0 {
					_, _ = b.Book.Undo(ctx, who, id, s.Broken.Seq, "") // perhaps superseded by now
				}
				_, _ = b.Book.Things(ctx)
				if _, err := b.Book.Trials(ctx, true); err != nil {
					t.Error(err)
				}
				_, end := b.Book.Subscribe()
				end()
				end()
			}
		}()
	}
	writers.Wait()
	b.Book.Close()
	readers.Wait()
	for _, id := range ids {
		raw, err := b.Book.Logbook().Entries(ctx, id, 0)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.Trial(id); len(got.Entries) != len(raw) {
			t.Errorf("%s: %d entries, the logbook has %d", id, len(got.Entries), len(raw))
		}
	}
	ch, end := b.Book.Subscribe()
	if _, open := <-ch; open {
		t.Error("a channel that is open after Close")
	}
	end()
}

// The same form twice at the same time, also where its name is taken: one trial.
func TestOneFormOneTrial(t *testing.T) {
	b := frametest.New(t)
	csv := []byte("specimen,adhesive,strength_mpa\nA,Tarn,8\nB,Fell,9\n")
	for _, name := range []string{"Benches", "Benches", "Doors"} {
		key := fmt.Sprint("key ", name, b.Book.Last())
		for what, begin := range map[string]func() (string, error){
			"new": func() (string, error) {
				return b.Book.New(t.Context(), record.Who{Key: key}, record.Asked{Name: name})
			},
			"table": func() (string, error) {
				id, _, err := b.Book.TakeIn(t.Context(), record.Who{Key: key + " table"}, record.Asked{Name: name}, "x.csv", csv, table.Options{})
				return id, err
			},
		} {
			ids := make([]string, 6)
			var wg sync.WaitGroup
			for i := range ids {
				wg.Add(1)
				go func() {
					defer wg.Done()
					var err error
					if ids[i], err = begin(); err != nil {
						t.Error(err)
					}
				}()
			}
			wg.Wait()
			if slices.Sort(ids); ids[0] != ids[5] || ids[0] == "" {
				t.Errorf("%s %s, sent six times: %v", what, name, ids)
			}
		}
	}
	if all, err := b.Book.Trials(t.Context(), true); err != nil || len(all) != 6 {
		t.Errorf("%d trials, %v, want 6", len(all), err)
	}
	if all, _ := b.Book.Logbook().Since(t.Context(), 0); len(all) != 3+3*3 {
		t.Errorf("%d entries, want three of trials and three tables with two readings each", len(all))
	}
}

// An entry that is sent again is the first one, whatever was written meanwhile and
// would refuse it now.
func TestSentAgainIsTheFirst(t *testing.T) {
	b := frametest.New(t)
	id, err := b.Book.New(t.Context(), ida, record.Asked{Name: "Small"})
	if err != nil {
		t.Fatal(err)
	}
	who := func(key string) record.Who { return record.Who{By: "Ida", Key: key} }
	ctx := t.Context()
	plan, err := b.Book.Add(ctx, who("plan"), id, "", smallPlan(false, "UTC"))
	if err != nil {
		t.Fatal(err)
	}
	broken, err := b.Book.Add(ctx, who("break"), id, "C0", record.Broken{Strength: 8})
	if err != nil {
		t.Fatal(err)
	}
	added, err := b.Book.AddAll(ctx, who("all"), id, []record.Item{{Subject: "T1", Content: record.Added{Joint: record.Joint{Adhesive: "Tarn"}}}, {Subject: "T1", Content: record.Glued{}}})
	if err != nil {
		t.Fatal(err)
	}
	corrected, err := b.Book.Correct(ctx, who("correct"), id, broken.Seq, record.Broken{Strength: 8.5})
	if err != nil {
		t.Fatal(err)
	}
	undone, err := b.Book.Undo(ctx, who("undo"), id, corrected.Seq, "")
	if err != nil {
		t.Fatal(err)
	}
	must(t, b, id, "C0", record.Glued{Spoiled: "dropped"})
	n := b.Book.Last()
	for what, c := range map[string]struct {
		again func() (record.Entry, error)
		want  int64
	}{
		"plan": {func() (record.Entry, error) { return b.Book.Add(ctx, who("plan"), id, "", smallPlan(false, "UTC")) }, plan.Seq},
		"break": {func() (record.Entry, error) {
			return b.Book.Add(ctx, who("break"), id, "C0", record.Broken{Strength: 8})
		}, broken.Seq},
		"correct": {func() (record.Entry, error) {
			return b.Book.Correct(ctx, who("correct"), id, broken.Seq, record.Broken{Strength: 8.5})
		}, corrected.Seq},
		"undo": {func() (record.Entry, error) { return b.Book.Undo(ctx, who("undo"), id, corrected.Seq, "") }, undone.Seq},
		"all": {func() (record.Entry, error) {
			all, err := b.Book.AddAll(ctx, who("all"), id, []record.Item{{Subject: "T1", Content: record.Added{Joint: record.Joint{Adhesive: "Tarn"}}}, {Subject: "T1", Content: record.Glued{}}})
			if err != nil {
				return record.Entry{}, err
			}
			return all[1], nil
		}, added[1].Seq},
	} {
		if e, err := c.again(); err != nil || e.Seq != c.want {
			t.Errorf("%s again: entry %d, %v, want %d", what, e.Seq, err, c.want)
		}
	}
	if b.Book.Last() != n {
		t.Errorf("%d entries were written anew", b.Book.Last()-n)
	}
	_, err = b.Book.Add(ctx, who("break"), id, "C1", record.Broken{Strength: 8})
	isConflict(t, "a key used for another specimen", err, "sent twice with different content")
	// All or none.
	_, err = b.Book.AddAll(ctx, ida, id, []record.Item{{Subject: "C2", Content: record.Glued{}}, {Subject: "T1", Content: record.Glued{}}})
	isConflict(t, "one of two is taken", err, "recorded already")
	if s, _ := b.Trial(id).Specimen("C2"); s.Glued != nil {
		t.Error("half of it was written")
	}
}

// Who does not keep up is let go, and finds what was missed.
func TestSlowSubscriber(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	ch, end := b.Book.Subscribe()
	defer end()
	before := b.Book.Last()
	items := make([]record.Item, 70)
	for i := range items {
		items[i] = record.Item{Content: record.Climate{Celsius: 18}}
	}
	if _, err := b.Book.AddAll(t.Context(), ida, id, items); err != nil {
		t.Fatal(err)
	}
	got := 0
	for range ch {
		got++
	}
	if got == 0 || got >= 70 {
		t.Errorf("%d entries told to a reader that did not read", got)
	}
	missed, err := b.Book.Since(t.Context(), before+int64(got))
	if err != nil || got+len(missed) != 70 {
		t.Errorf("told %d, missed %d, %v", got, len(missed), err)
	}
}

// A trial that somebody looks at does not change beneath them.
func TestSnapshotsStay(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	must(t, b, id, "C0", record.Broken{Strength: 8})
	old := b.Trial(id)
	s, _ := old.Specimen("C0")
	seq, entries, adhesives := s.Broken.Seq, len(old.Entries), old.Adhesives()
	factors := old.Factors()
	factors[0] = "changed"
	old.Readings()[0].Factors["surface"] = "changed"
	if _, err := b.Book.Correct(t.Context(), ida, id, seq, record.Broken{Strength: 9}); err != nil {
		t.Fatal(err)
	}
	must(t, b, id, "T1", record.Added{Joint: record.Joint{Adhesive: "Gill"}})
	if s.Broken.Strength != 8 || len(old.Entries) != entries || len(old.Adhesives()) != len(adhesives) || !old.Entries[entries-1].Live {
		t.Error("an earlier trial changed")
	}
	now := b.Trial(id)
	if now.Factors()[0] != "surface" || now.Readings()[0].Factors["surface"] != "dry" {
		t.Error("what was given out is part of the trial")
	}
}

func TestCancelledBeforeItsTurn(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	n := b.Book.Last()
	if _, err := b.Book.Add(ctx, ida, id, "C0", record.Glued{}); err == nil {
		if b.Book.Last() != n+1 {
			t.Error("written, and nobody told")
		}
	} else if !errors.Is(err, context.Canceled) || b.Book.Last() != n {
		t.Error(err)
	}
	must(t, b, id, "C1", record.Glued{}) // the turn was given back
	for _, of := range []string{"nobody", "small-9"} {
		if _, err := b.Book.Add(t.Context(), ida, of, "", record.Climate{}); !errors.Is(err, record.ErrNoTrial) {
			t.Errorf("%s: %v", of, err)
		}
	}
	if _, err := b.Book.Undo(t.Context(), ida, id, 9999, ""); err == nil {
		t.Error("an entry that is not there was taken back")
	}
}

// manyEntries are those of a trial of 100 specimens with four entries each.
func manyEntries(trial string) (asked record.Asked, items []record.Item) {
	p := record.Planned{Zone: "UTC", AreaMM2: 200, Factors: []string{"surface"}, Adhesives: []record.PlannedAdhesive{{Name: "Tarn", Label: "Tarn"}, {Name: "Fell", Label: "Fell"}}}
	for i := range 100 {
		p.Specimens = append(p.Specimens, record.PlannedSpecimen{Code: fmt.Sprintf("C%02d", i), Adhesive: i % 2, Wood: "ash", Levels: []string{"dry"}, Board: fmt.Sprint(i % 6), BreakTurn: 100 - i})
	}
	items = append(items, record.Item{Content: p})
	for _, s := range p.Specimens {
		items = append(items, record.Item{Subject: s.Code, Content: record.Glued{Note: "as planned"}}, record.Item{Subject: s.Code, Content: record.Noted{Station: "cure", Text: "hard"}},
			record.Item{Subject: s.Code, Content: record.Noted{Station: "break", Text: "clean faces"}}, record.Item{Subject: s.Code, Content: record.Broken{Peak: 2000, Unit: "N", AreaMM2: 200, Strength: 10, WoodShare: ptr(20)}})
	}
	return record.Asked{Name: trial, File: strings.Replace(frametest.BenchesFile, "%t", "false", 1)}, items
}

// fillBook writes so many trials of 100 specimens with four entries each.
func fillBook(tb testing.TB, b *frametest.Bench, trials int) {
	tb.Helper()
	for n := range trials {
		asked, items := manyEntries(fmt.Sprint("Trial ", n+1))
		id, err := b.Book.New(tb.Context(), ida, asked)
		if err != nil {
			tb.Fatal(err)
		}
		for _, part := range [][]record.Item{items[:1], items[1:]} {
			if _, err := b.Book.AddAll(tb.Context(), ida, id, part); err != nil {
				tb.Fatal(err)
			}
		}
	}
}

func BenchmarkFold(b *testing.B) {
	bench := frametest.New(b)
	fillBook(b, bench, 1)
	tr := bench.Trial("trial-1")
	for b.Loop() {
		record.Fold(tr.ID, tr.Entries)
	}
}

func BenchmarkReadings(b *testing.B) {
	bench := frametest.New(b)
	fillBook(b, bench, 1)
	tr := bench.Trial("trial-1")
	for b.Loop() {
		tr.Readings()
	}
}

func BenchmarkAdd(b *testing.B) {
	bench := frametest.New(b)
	fillBook(b, bench, 1)
	code := bench.Trial("trial-1").Specimens[0].Code
	seq := bench.Trial("trial-1").Specimens[0].Broken.Seq
	for b.Loop() {
		e, err := bench.Book.Correct(b.Context(), ida, "trial-1", seq, record.Broken{Peak: 2000, Unit: "N", AreaMM2: 200, Strength: 10})
		if err != nil {
			b.Fatal(code, err)
		}
		seq = e.Seq
	}
}

// BenchmarkTrials opens a logbook of 200 trials with 100 specimens each and reads
// all of it.
func BenchmarkTrials(b *testing.B) {
	bench := frametest.New(b)
	fillBook(b, bench, 200)
	var l *logbook.Logbook = bench.Book.Logbook()
	var kept uint64
	for b.Loop() {
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		start := time.Now()
		book, err := record.Open(b.Context(), l)
		if err != nil {
			b.Fatal(err)
		}
		all, err := book.Trials(b.Context(), true)
		if err != nil || len(all) != 200 {
			b.Fatal(len(all), err)
		}
		took := time.Since(start)
		runtime.GC()
		runtime.ReadMemStats(&after)
		kept = after.HeapAlloc - before.HeapAlloc
		b.ReportMetric(float64(took.Milliseconds()), "ms/load")
		start = time.Now()
		if _, err := book.Trials(b.Context(), true); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(time.Since(start).Microseconds()), "µs/warm")
		runtime.KeepAlive(all)
	}
	b.ReportMetric(float64(kept)/(1<<20), "MiB/kept")
}
