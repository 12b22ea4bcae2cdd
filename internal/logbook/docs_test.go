package logbook

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The queries in the page about the logbook work, on a logbook with some of
// everything, and find something.
func TestQueriesInDocs(t *testing.T) {
	page, err := os.ReadFile(filepath.Join("..", "..", "docs", "logbook.md"))
	if err != nil {
		t.Fatal(err)
	}
	l, _ := made(t)
	appended(t, l, Draft{Trial: "Benches", Kind: "break", Files: []File{{Role: "photo", Name: "faces.jpg"}}},
		Draft{Trial: "Benches", Kind: "break", Replaces: 1}, Draft{Trial: "Benches", Kind: "undo", Undoes: 2})
	want := []int{3, 2, 1} // entries, corrections, files
	found := 0
	for _, part := range strings.Split(string(page), "\n\n") {
		query := strings.TrimSpace(part)
		if !strings.HasPrefix(part, "    SELECT") {
			continue
		}
		rows, err := l.read.Query(query)
		if err != nil {
			t.Fatalf("%v in\n%s", err, query)
		}
		n := 0
		for rows.Next() {
			n++
		}
		if err := rows.Err(); err != nil {
			t.Fatalf("%v in\n%s", err, query)
		}
		rows.Close()
		if found < len(want) && n != want[found] {
			t.Errorf("%d rows, want %d, from\n%s", n, want[found], query)
		}
		found++
	}
	if found != len(want) {
		t.Errorf("%d queries in the page, want %d", found, len(want))
	}
}
