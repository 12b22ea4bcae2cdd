package record_test

import (
	"context"
	"errors"
	"testing"

	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
	csv "bondtrial/internal/table"
)

func TestBenches(t *testing.T) {
	b := frametest.New(t)
	id := b.Benches(true)
	tr := b.Trial(id)
	if len(tr.Specimens) != 16 || tr.AreaMM2() != 200 || !tr.Sealed() {
		t.Fatalf("%d specimens, %v mm², sealed %v", len(tr.Specimens), tr.AreaMM2(), tr.Sealed())
	}
	b.GlueAll(id)
	code := b.Trial(id).ToBreak()[0].Code
	e := b.Break(id, code, 2140, 20)
	_, err := b.Book.Add(t.Context(), record.Who{By: "Jon"}, id, code, record.Broken{Peak: 1, Unit: "N", AreaMM2: 200, Strength: 0.005})
	var c *record.Conflict
	if !errors.As(err, &c) || c.Recorded.Seq != e.Seq {
		t.Fatalf("second break: %v", err)
	}
	t.Log(c.Words)
}

// A trial that is begun once is one trial however often that is sent, also where
// another has the same name.
func TestBegunOnce(t *testing.T) {
	b := frametest.New(t)
	ctx := t.Context()
	table := []byte("adhesive,strength_mpa\nTarn,5\nFell,6\n")
	for _, begin := range []func(key, name string) (string, error){
		func(key, name string) (string, error) {
			return b.Book.New(ctx, record.Who{Key: key}, record.Asked{Name: name})
		},
		func(key, name string) (string, error) {
			id, _, err := b.Book.TakeIn(ctx, record.Who{Key: "table " + key}, record.Asked{Name: name + " from a table"}, "readings.csv", table, csv.Options{})
			return id, err
		},
	} {
		first, err := begin("1", "Benches")
		if err != nil {
			t.Fatal(err)
		}
		second, err := begin("2", "Benches")
		if err != nil || second == first {
			t.Fatalf("the second of the name is %q, %v", second, err)
		}
		for key, want := range map[string]string{"1": first, "2": second} {
			if again, err := begin(key, "Benches"); err != nil || again != want {
				t.Errorf("sent again it is %q, %v, want %q", again, err, want)
			}
		}
		var c *record.Conflict
		if id, err := begin("2", "Doors"); !errors.As(err, &c) {
			t.Errorf("the same key for another trial: %q, %v, want a conflict", id, err)
		}
	}
	if all, err := b.Book.Trials(ctx, true); err != nil || len(all) != 4 {
		t.Errorf("%d trials, %v, want 4", len(all), err)
	}
}

// Who goes away while an entry is being written leaves nothing half done: others
// see the entry, and are told of it once and in order.
func TestSenderGoesAway(t *testing.T) {
	b := frametest.New(t)
	id := b.Benches(false)
	codes := b.Trial(id).ToBreak()
	news, end := b.Book.Subscribe()
	defer end()
	last := b.Trial(id).Entries[len(b.Trial(id).Entries)-1].Seq
	done := make(chan error, len(codes))
	for i, s := range codes {
		go func() {
			ctx, cancel := context.WithCancel(t.Context())
			if i%2 == 0 {
				go cancel() // before, while or after it is written
			}
			_, err := b.Book.Add(ctx, record.Who{}, id, s.Code, record.Broken{Peak: 5, Unit: "MPa", Strength: 5})
			cancel()
			done <- err
		}()
	}
	for range codes {
		if err := <-done; err != nil && !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	}
	stored, err := b.Book.Logbook().Entries(t.Context(), id, last)
	if err != nil {
		t.Fatal(err)
	}
	if got := b.Trial(id).CountBroken(); got != len(stored) {
		t.Errorf("the trial has %d breaks and the logbook %d", got, len(stored))
	}
	for _, want := range stored {
		if e := <-news; e.Seq != want.Seq {
			t.Errorf("told of entry %d, want %d", e.Seq, want.Seq)
		}
	}
	select {
	case e := <-news:
		t.Errorf("told of entry %d once more", e.Seq)
	default:
	}
}
