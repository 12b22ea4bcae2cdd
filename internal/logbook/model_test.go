package logbook

import (
	"errors"
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// model is a trial as the package's documentation describes it, with nothing
// remembered: every question goes through all entries.
type model []Entry

func (m model) stands(seq int64) bool {
	for _, y := range m {
		if y.Undoes == seq && m.stands(y.Seq) {
			return false
		}
	}
	return true
}

func (m model) actors(seq int64) (actors []int64) {
	for _, y := range m {
		if (y.Undoes == seq || y.Replaces == seq) && m.stands(y.Seq) {
			actors = append(actors, y.Seq)
		}
	}
	return actors
}

func (m model) find(seq int64) *Entry {
	for i := range m {
		if m[i].Seq == seq {
			return &m[i]
		}
	}
	return nil
}

func (m model) live() (live []int64) {
	for _, e := range m {
		if len(m.actors(e.Seq)) == 0 {
			live = append(live, e.Seq)
		}
	}
	return live
}

// refuses returns the kinds of error with which an entry may be refused; none: it
// goes in.
func (m model) refuses(e Entry) (kinds []string) {
	if target := max(e.Replaces, e.Undoes); target != 0 {
		t := m.find(target)
		switch {
		case t == nil:
			return []string{"NoEntry"}
		case len(m.actors(target)) > 0:
			return []string{"Superseded"}
		case e.Replaces != 0 && t.Undoes != 0:
			return []string{"other"}
		}
	}
	with := append(append(model{}, m...), e)
	for _, x := range with {
		if len(with.actors(x.Seq)) > 1 {
			kinds = append(kinds, "Superseded")
		}
	}
	held := map[string]bool{}
	for _, seq := range with.live() {
		claim := with.find(seq).Claim
		if claim != "" && held[claim] {
			kinds = append(kinds, "Taken")
		}
		held[claim] = true
	}
	return kinds
}

// TestModel appends at random, each run to a trial of its own, and compares with the
// model what goes in, what does not and why, and what is live then.
func TestModel(t *testing.T) {
	l, _ := made(t)
	if _, err := l.write.Exec("PRAGMA synchronous = OFF"); err != nil { // nothing here is to outlive a power cut
		t.Fatal(err)
	}
	run := 0
	rapid.Check(t, func(t *rapid.T) {
		run++
		trial := fmt.Sprint("trial ", run)
		var m model
		for range rapid.IntRange(1, 20).Draw(t, "steps") {
			e := Entry{Trial: trial, Kind: "k", Claim: rapid.SampledFrom([]string{"", "", "a", "b"}).Draw(t, "claim")}
			if len(m) > 0 {
				target := m[len(m)-1].Seq - int64(rapid.IntRange(0, len(m)).Draw(t, "back"))
				switch rapid.SampledFrom([]string{"plain", "replace", "undo", "undo"}).Draw(t, "what") {
				case "replace":
					e.Replaces = target
				case "undo":
					e.Undoes = target
					e.Claim = ""
				}
			}
			var head int64
			if err := l.read.QueryRow("SELECT seq FROM head").Scan(&head); err != nil {
				t.Fatal(err)
			}
			e.Seq = head + 1
			want := m.refuses(e)
			got, err := l.Append(ctx, Draft{Trial: trial, Kind: "k", Claim: e.Claim, Replaces: e.Replaces, Undoes: e.Undoes})
			if !allowed(kindOf(err), want) {
				t.Fatalf("entry %+v after %+v: error %v, want one of %q", e, m, err, want)
			}
			var superseded *Superseded
			if errors.As(err, &superseded) && m.find(superseded.By.Seq) == nil {
				t.Fatalf("superseded by entry %d, which is not of the trial", superseded.By.Seq)
			}
			if err == nil {
				if got[0].Seq != e.Seq {
					t.Fatalf("entry %d, want %d", got[0].Seq, e.Seq)
				}
				m = append(m, e)
			}
		}
		entries, err := l.Entries(ctx, trial, 0)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(m.live(), seqs(Live(entries))); d != "" {
			t.Fatalf("live of %+v (-want +got):\n%s", m, d)
		}
	})
	checked(t, l.Path())
}

func allowed(kind string, want []string) bool {
	for _, w := range want {
		if kind == w {
			return true
		}
	}
	return len(want) == 0 && kind == ""
}
