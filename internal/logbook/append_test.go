package logbook

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var ctx = context.Background()

func TestAppend(t *testing.T) {
	l, clock := made(t)
	first := appended(t, l, Draft{
		Trial: "Benches", Kind: "break", Subject: "A7K2P", Content: json.RawMessage("{ \"force\": 1234.50,\n \"unit\": \"N\" }"),
		By: "Ines", Device: "phone", Said: morning.Add(-3 * time.Second), Key: "k1", Claim: "break/A7K2P",
		Files: []File{
			{Role: "photo", Name: "faces.jpg", MediaType: "image/jpeg", Content: []byte{0xff, 0xd8, 1, 2, 3}},
			{Role: "table", Name: "readings.csv", MediaType: "text/csv", Content: []byte(strings.Repeat("A7K2P,1234.5\n", 1000))},
			{Role: "empty", Name: "nothing"},
		},
	}, Draft{Kind: "shelf"})
	clock.set(morning.Add(time.Minute).UTC())
	second := appended(t, l, Draft{Trial: "Benches", Kind: "break", Replaces: 1, Claim: "break/A7K2P"})
	want := []Entry{
		{
			Seq: 1, At: morning, Trial: "Benches", Kind: "break", Subject: "A7K2P", Content: json.RawMessage(`{"force":1234.50,"unit":"N"}`),
			By: "Ines", Device: "phone", Said: morning.Add(-3 * time.Second), Key: "k1", Claim: "break/A7K2P",
			Files: []FileRef{
				// Sums computed: GNU coreutils 9.1, sha256sum.
				{Role: "photo", Name: "faces.jpg", MediaType: "image/jpeg", Size: 5, Sum: "d37e2a668a41b86e565ba4d9a0263a48cf80cfd3401b07aa17b6562b75c19394"},
				{Role: "table", Name: "readings.csv", MediaType: "text/csv", Size: 13000, Sum: "05674f51adb4b9dee7f7fd64ab9cd83bfacabd027a32cca9878527a8c97286a7"},
				{Role: "empty", Name: "nothing", Size: 0, Sum: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
			},
		},
		{Seq: 2, At: morning, Kind: "shelf", Content: json.RawMessage("{}")},
		{Seq: 3, At: morning.Add(time.Minute), Trial: "Benches", Kind: "break", Content: json.RawMessage("{}"), Replaces: 1, Claim: "break/A7K2P"},
	}
	got, err := l.Since(ctx, 0)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("entries (-want +got):\n%s", d)
	}
	if d := cmp.Diff(got, append(first, second...)); d != "" {
		t.Errorf("what Append returned (-read +returned):\n%s", d)
	}
	if _, offset := got[0].At.Zone(); offset != 2*60*60 {
		t.Errorf("the time is %d s from UTC, the clock said 7200", offset)
	}
	trial, err := l.Entries(ctx, "Benches", 1)
	if d := cmp.Diff(want[2:], trial); d != "" || err != nil {
		t.Errorf("entries of the trial after 1 (-want +got): %v\n%s", err, d)
	}
	one, err := l.Entry(ctx, 2)
	if d := cmp.Diff(want[1], one); d != "" || err != nil {
		t.Errorf("entry 2 (-want +got): %v\n%s", err, d)
	}
	last, ok, err := l.Last(ctx)
	if d := cmp.Diff(want[2], last); d != "" || !ok || err != nil {
		t.Errorf("the last entry (-want +got): %v, %v\n%s", ok, err, d)
	}
	if _, err := l.Entry(ctx, 4); kindOf(err) != "NoEntry" {
		t.Errorf("entry 4: error %v, want NoEntry", err)
	}
	for i, f := range want[0].Files {
		content, ref, err := l.File(ctx, f.Sum)
		if err != nil || ref != f || int64(len(content)) != f.Size {
			t.Errorf("file %d: %d bytes, %+v, %v", i, len(content), ref, err)
		}
	}
	if _, _, err := l.File(ctx, strings.Repeat("0", 64)); kindOf(err) != "NoFile" {
		t.Errorf("a sum that no file has: error %v, want NoFile", err)
	}
	if r := checked(t, l.Path()); r.Entries != 3 || r.Files != 3 || r.Trials != 1 || r.Last != 3 || !r.LastAt.Equal(morning.Add(time.Minute)) {
		t.Errorf("report %+v", r)
	}
}

func TestFileKeptOnceAndSmall(t *testing.T) {
	l, _ := made(t)
	table := []byte(strings.Repeat("A7K2P,1234.5\n", 100000))
	appended(t, l, Draft{Kind: "table", Files: []File{{Role: "table", Name: "a", Content: table}}},
		Draft{Kind: "table", Files: []File{{Role: "table", Name: "b", Content: table}, {Role: "table", Name: "c", Content: table}}})
	content, ref, err := l.File(ctx, contentSum(table))
	if err != nil || !bytes.Equal(content, table) || ref.Name != "a" {
		t.Errorf("%d bytes of %q, %v", len(content), ref.Name, err)
	}
	var n, size int
	if err := l.read.QueryRow("SELECT count(*), sum(length(content)) FROM file").Scan(&n, &size); err != nil {
		t.Fatal(err)
	}
	if n != 1 || size > len(table)/100 {
		t.Errorf("%d files of %d bytes, want one of a hundredth of %d", n, size, len(table))
	}
}

func TestTrials(t *testing.T) {
	l, _ := made(t)
	appended(t, l, note("zinc", "1"), note("", "2"), note("ash", "3"), note("zinc", "4"))
	got, err := l.Trials(ctx)
	if d := cmp.Diff([]string{"zinc", "ash"}, got); d != "" || err != nil {
		t.Errorf("trials (-want +got): %v\n%s", err, d)
	}
}

func TestRefusedDraftsLeaveNothing(t *testing.T) {
	l, _ := made(t)
	appended(t, l, note("t", "1"), note("other", "2"))
	long := strings.Repeat("x", MaxText+1)
	for name, c := range map[string]struct {
		draft Draft
		kind  string
	}{
		"no kind":                {Draft{}, "other"},
		"content not JSON":       {Draft{Kind: "k", Content: json.RawMessage("{")}, "other"},
		"content not an object":  {Draft{Kind: "k", Content: json.RawMessage("[1]")}, "other"},
		"content not UTF-8":      {Draft{Kind: "k", Content: json.RawMessage("{\"a\":\"\xff\"}")}, "other"},
		"content too long":       {Draft{Kind: "k", Content: json.RawMessage(`{"a":"` + strings.Repeat("x", MaxContent) + `"}`)}, "other"},
		"trial not UTF-8":        {Draft{Kind: "k", Trial: "\xff"}, "other"},
		"subject with zero":      {Draft{Kind: "k", Subject: "a\x00b"}, "other"},
		"by too long":            {Draft{Kind: "k", By: long}, "other"},
		"file name too long":     {Draft{Kind: "k", Files: []File{{Name: long}}}, "other"},
		"file too large":         {Draft{Kind: "k", Files: []File{{Content: make([]byte, MaxFile+1)}}}, "other"},
		"too many files":         {Draft{Kind: "k", Files: make([]File, MaxFiles+1)}, "other"},
		"year":                   {Draft{Kind: "k", Said: time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)}, "other"},
		"both":                   {Draft{Kind: "k", Trial: "t", Replaces: 1, Undoes: 1}, "other"},
		"negative":               {Draft{Kind: "k", Trial: "t", Undoes: -1}, "other"},
		"replaces what is not":   {Draft{Kind: "k", Trial: "t", Replaces: 9}, "NoEntry"},
		"undoes another trial's": {Draft{Kind: "k", Trial: "t", Undoes: 2}, "NoEntry"},
		"undoes itself":          {Draft{Kind: "k", Trial: "t", Undoes: 4}, "NoEntry"}, // it would be the fourth: after note 3
	} {
		_, err := l.Append(ctx, note("t", "goes with it"), c.draft)
		if kindOf(err) != c.kind || err == nil {
			t.Errorf("%s: error %v, want %s", name, err, c.kind)
		}
	}
	if r := checked(t, l.Path()); r.Entries != 2 {
		t.Errorf("%d entries, want the 2 that went in", r.Entries)
	}
	if got, err := l.Append(ctx); got != nil || err != nil {
		t.Errorf("no drafts: %v, %v", got, err)
	}
}

func TestKeys(t *testing.T) {
	l, clock := made(t)
	draft := Draft{Trial: "t", Kind: "break", Content: json.RawMessage(`{"n":1}`), By: "Ines", Key: "k", Claim: "c",
		Files: []File{{Role: "photo", Content: []byte("p")}}}
	first := appended(t, l, draft)[0]
	clock.set(morning.Add(time.Hour))
	again := draft
	again.Content = json.RawMessage(` { "n" : 1 } `)
	again.Said, again.Device = morning, "tablet"
	got := appended(t, l, again, note("t", "2"), again)
	if d := cmp.Diff([]Entry{first, first}, []Entry{got[0], got[2]}); d != "" {
		t.Errorf("sent again (-first +got):\n%s", d)
	}
	if got[1].Seq != 2 {
		t.Errorf("the note beside it is entry %d, want 2", got[1].Seq)
	}
	for name, change := range map[string]func(*Draft){
		"content": func(d *Draft) { d.Content = json.RawMessage(`{"n":2}`) },
		"trial":   func(d *Draft) { d.Trial = "u" },
		"kind":    func(d *Draft) { d.Kind = "note" },
		"subject": func(d *Draft) { d.Subject = "x" },
		"by":      func(d *Draft) { d.By = "Jon" },
		"claim":   func(d *Draft) { d.Claim = "" },
		"file":    func(d *Draft) { d.Files = []File{{Role: "photo", Content: []byte("q")}} },
		"role":    func(d *Draft) { d.Files = []File{{Role: "trace", Content: []byte("p")}} },
		"no file": func(d *Draft) { d.Files = nil },
		"undoes":  func(d *Draft) { d.Undoes = 2 },
	} {
		d := draft
		change(&d)
		_, err := l.Append(ctx, d)
		var used *KeyUsed
		if !errors.As(err, &used) || used.By.Seq != 1 {
			t.Errorf("other %s: error %v, want KeyUsed by entry 1", name, err)
		}
	}
	// What was taken back stays what the key stands for.
	appended(t, l, Draft{Trial: "t", Kind: "undo", Undoes: 1})
	if got := appended(t, l, draft)[0]; got.Seq != 1 {
		t.Errorf("sent again after an undo: entry %d, want 1", got.Seq)
	}
	if r := checked(t, l.Path()); r.Entries != 3 {
		t.Errorf("%d entries, want 3", r.Entries)
	}
}

// TestOrders goes through stories of replacing, undoing and claiming. Each draft is
// what stands for an entry of the same number when it goes in.
func TestOrders(t *testing.T) {
	l, _ := made(t)
	plain, replace, undo := func(claim string) Draft { return Draft{Claim: claim} },
		func(n int64, claim string) Draft { return Draft{Replaces: n, Claim: claim} },
		func(n int64) Draft { return Draft{Undoes: n} }
	for _, c := range []struct {
		name   string
		drafts []Draft
		fails  string  // how the last one fails, "" when it does not
		by     int64   // because of which entry
		live   []int64 // after those that went in
	}{
		{"undo", []Draft{plain("a"), undo(1)}, "", 0, []int64{2}},
		{"redo", []Draft{plain("a"), undo(1), undo(2)}, "", 0, []int64{1, 3}},
		{"undo again", []Draft{plain("a"), undo(1), undo(2), undo(1)}, "", 0, []int64{3, 4}},
		{"undo of the redo", []Draft{plain("a"), undo(1), undo(2), undo(3)}, "", 0, []int64{2, 4}},
		{"replace keeps the claim", []Draft{plain("a"), replace(1, "a")}, "", 0, []int64{2}},
		{"replace of a replace leaves one", []Draft{plain("a"), replace(1, "a"), replace(2, "a")}, "", 0, []int64{3}},
		{"undo of a replace", []Draft{plain("a"), replace(1, "a"), undo(2)}, "", 0, []int64{1, 3}},
		{"undo of a replace of a replace", []Draft{plain("a"), replace(1, "a"), replace(2, "a"), undo(3)}, "", 0, []int64{2, 4}},
		{"undo all the way", []Draft{plain("a"), replace(1, "a"), replace(2, "a"), undo(3), undo(2)}, "", 0, []int64{1, 4, 5}},
		{"replace twice", []Draft{plain(""), replace(1, ""), replace(1, "")}, "Superseded", 2, []int64{2}},
		{"undo what is undone", []Draft{plain(""), undo(1), undo(1)}, "Superseded", 2, []int64{2}},
		{"undo what is replaced", []Draft{plain(""), replace(1, ""), undo(1)}, "Superseded", 2, []int64{2}},
		{"replace an undo", []Draft{plain(""), undo(1), replace(2, "")}, "other", 0, []int64{2}},
		{"claim", []Draft{plain("a"), plain("a")}, "Taken", 1, []int64{1}},
		{"claim after an undo", []Draft{plain("a"), undo(1), plain("a")}, "", 0, []int64{2, 3}},
		{"claim given up by a replace", []Draft{plain("a"), replace(1, ""), plain("a")}, "", 0, []int64{2, 3}},
		{"redo of a claim that is taken", []Draft{plain("a"), undo(1), plain("a"), undo(2)}, "Taken", 3, []int64{2, 3}},
		{"undo of a replace whose claim is taken", []Draft{plain("a"), replace(1, "b"), plain("a"), undo(2)}, "Taken", 3, []int64{2, 3}},
		{"claim of a live one by a replace", []Draft{plain("a"), plain("b"), replace(2, "a")}, "Taken", 1, []int64{1, 2}},
		{"redo of a replace beside another", []Draft{plain(""), replace(1, ""), undo(2), replace(1, ""), undo(3)}, "Superseded", 4, []int64{3, 4}},
		{"redo far back", []Draft{plain("a"), undo(1), undo(2), undo(3), plain("a"), undo(4)}, "Taken", 5, []int64{2, 4, 5}},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := checked(t, l.Path()).Last
			for i, d := range c.drafts {
				d.Trial, d.Kind = c.name, "k"
				if d.Replaces != 0 {
					d.Replaces += before
				}
				if d.Undoes != 0 {
					d.Undoes += before
				}
				_, err := l.Append(ctx, d)
				want := ""
				if i == len(c.drafts)-1 {
					want = c.fails
				}
				if kindOf(err) != want {
					t.Fatalf("draft %d: error %v, want %q", i+1, err, want)
				}
				var taken *Taken
				var superseded *Superseded
				if errors.As(err, &taken) && taken.By.Seq != before+c.by || errors.As(err, &superseded) && superseded.By.Seq != before+c.by {
					t.Errorf("draft %d: error %v, want one that names entry %d", i+1, err, c.by)
				}
			}
			entries, err := l.Entries(ctx, c.name, 0)
			if err != nil {
				t.Fatal(err)
			}
			live := seqs(Live(entries))
			for i := range live {
				live[i] -= before
			}
			if d := cmp.Diff(c.live, live); d != "" {
				t.Errorf("live (-want +got):\n%s", d)
			}
		})
	}
	checked(t, l.Path())
}

func seqs(entries []Entry) []int64 {
	var list []int64
	for _, e := range entries {
		list = append(list, e.Seq)
	}
	return list
}

func TestClaimsAreOfOneTrial(t *testing.T) {
	l, _ := made(t)
	appended(t, l, Draft{Trial: "t", Kind: "k", Claim: "a"}, Draft{Trial: "u", Kind: "k", Claim: "a"}, Draft{Kind: "k", Claim: "a"})
	if _, err := l.Append(ctx, Draft{Kind: "k", Claim: "a"}); kindOf(err) != "Taken" {
		t.Errorf("error %v, want Taken", err)
	}
}

// A long row of undos, each of the one before, turns the first one on and off.
func TestLongRowOfUndos(t *testing.T) {
	l, _ := made(t)
	drafts := []Draft{{Trial: "t", Kind: "k", Claim: "a"}}
	for n := range int64(40) {
		drafts = append(drafts, Draft{Trial: "t", Kind: "undo", Undoes: n + 1})
	}
	appended(t, l, drafts...)
	entries, err := l.Entries(ctx, "t", 0)
	if err != nil {
		t.Fatal(err)
	}
	// 41 entries, the last undoes the one before it and so on: every second stands,
	// the first among them.
	if live := Live(entries); len(live) != 21 || live[0].Seq != 1 {
		t.Errorf("%d live, the first %d", len(live), live[0].Seq)
	}
}

func TestConcurrentAppends(t *testing.T) {
	l, _ := made(t)
	const writers, each = 8, 12
	var wg sync.WaitGroup
	var mu sync.Mutex
	wins := 0
	for w := range writers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range each {
				if _, err := l.Append(ctx, note(fmt.Sprint("trial ", w), fmt.Sprint(i)), note("all", fmt.Sprint(w, i))); err != nil {
					t.Error(err)
				}
				_, err := l.Append(ctx, Draft{Trial: "all", Kind: "break", Claim: fmt.Sprint(i)})
				if kindOf(err) != "" && kindOf(err) != "Taken" {
					t.Error(err)
				}
				mu.Lock()
				if err == nil {
					wins++
				}
				mu.Unlock()
				if _, err := l.Entries(ctx, "all", 0); err != nil {
					t.Error(err)
				}
			}
		}()
	}
	wg.Wait()
	if wins != each {
		t.Errorf("%d claims went through, want each of %d once", wins, each)
	}
	if r := checked(t, l.Path()); r.Entries != writers*each*2+each {
		t.Errorf("%d entries", r.Entries)
	}
	for w := range writers {
		entries, err := l.Entries(ctx, fmt.Sprint("trial ", w), 0)
		if err != nil || len(entries) != each {
			t.Fatalf("%d entries of one writer, %v", len(entries), err)
		}
		for i, e := range entries {
			if want := fmt.Sprintf(`{"text":"%d"}`, i); string(e.Content) != want {
				t.Errorf("entry %d of a writer is %s", i, e.Content)
			}
		}
	}
}

func TestClockSetBack(t *testing.T) {
	l, clock := made(t)
	appended(t, l, note("t", "1"))
	clock.set(morning.Add(-48 * time.Hour))
	two := appended(t, l, note("t", "2"), note("t", "3"))
	clock.set(morning.Add(-47 * time.Hour))
	four := appended(t, l, note("t", "4"))[0]
	if !two[0].At.Equal(morning.Add(-48*time.Hour)) || two[0].Behind != 48*time.Hour || two[1].Behind != 0 || four.Behind != 0 {
		t.Errorf("at %v behind %v, then behind %v and %v", two[0].At, two[0].Behind, two[1].Behind, four.Behind)
	}
	entries, err := l.Entries(ctx, "t", 0)
	if d := cmp.Diff([]int64{1, 2, 3, 4}, seqs(entries)); d != "" || err != nil {
		t.Errorf("order (-want +got): %v\n%s", err, d)
	}
	checked(t, l.Path())
	clock.set(time.Date(12000, 1, 1, 0, 0, 0, 0, time.UTC))
	if _, err := l.Append(ctx, note("t", "5")); err == nil || !strings.Contains(err.Error(), "set it") {
		t.Errorf("year 12000: error %v", err)
	}
}

func TestNothingYet(t *testing.T) {
	l, _ := made(t)
	if last, ok, err := l.Last(ctx); ok || err != nil || last.Seq != 0 {
		t.Errorf("last: %+v, %v, %v", last, ok, err)
	}
	if all, err := l.Since(ctx, 0); len(all) != 0 || err != nil {
		t.Errorf("since: %v, %v", all, err)
	}
	if r := checked(t, l.Path()); r.Version != latest || r.Entries != 0 || r.Sum != "" || !r.LastAt.IsZero() {
		t.Errorf("report %+v", r)
	}
}

func TestAppendCancelled(t *testing.T) {
	l, _ := made(t)
	done, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := l.Append(done, note("t", "1")); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want context.Canceled", err)
	}
	if r := checked(t, l.Path()); r.Entries != 0 {
		t.Errorf("%d entries", r.Entries)
	}
}

func TestOpenWithoutClockPanics(t *testing.T) {
	defer func() {
		if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "logbook: ") {
			t.Error("no panic that names the package")
		}
	}()
	Open(ctx, "x", Options{})
}
