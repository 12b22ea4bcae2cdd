package logbook

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// Computed: Python 3, hashlib, testdata/sum.py.
func TestSums(t *testing.T) {
	l, clock := made(t)
	appended(t, l, Draft{Trial: "Bänke", Kind: "break", Subject: "A7K2P", Content: json.RawMessage(`{"force":1234.50}`), By: "Ines",
		Device: "phone", Said: time.Date(2027, 4, 12, 6, 29, 57, 0, time.UTC), Key: "k1", Claim: "break/A7K2P",
		Files: []File{{Role: "photo", Name: "faces.jpg", MediaType: "image/jpeg", Content: []byte{0xff, 0xd8, 1, 2, 3}}}})
	clock.set(morning.Add(-time.Hour))
	appended(t, l, Draft{Trial: "Bänke", Kind: "undo", Undoes: 1})
	var one string
	if err := l.read.QueryRow("SELECT sum FROM entry WHERE seq = 1").Scan(&one); err != nil {
		t.Fatal(err)
	}
	if want := "b068f6a9e0aaa5f597d46ebc613d509bcb28159121d7abd15806af00d3ce7797"; one != want {
		t.Errorf("sum of the first entry %s, want %s", one, want)
	}
	if got, want := checked(t, l.Path()).Sum, "669f0dbb295c1aa6a78b46b8a01ad68fdd59310967ed499c92f5f85a438c0ab3"; got != want {
		t.Errorf("sum of the second entry %s, want %s", got, want)
	}
}

// filled writes a logbook with some of everything, and closes it.
func filled(t testing.TB, path string) {
	t.Helper()
	l, _ := openAt(t, path)
	for n := range 5 {
		appended(t, l, Draft{Trial: "t", Kind: "break", Subject: fmt.Sprint("S", n), Claim: fmt.Sprint("break/S", n),
			Content: json.RawMessage(fmt.Sprintf(`{"force_n":%d}`, 1000+n)),
			Files:   []File{{Role: "trace", Name: "t", Content: []byte(strings.Repeat(fmt.Sprint(n, " force and travel "), 400))}}})
	}
	appended(t, l, Draft{Trial: "t", Kind: "break", Replaces: 2, Claim: "break/S1"}, Draft{Trial: "t", Kind: "undo", Undoes: 3})
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestCheckFinds does to a logbook what a careless hand with a database program may.
func TestCheckFinds(t *testing.T) {
	sound := filepath.Join(t.TempDir(), "sound.logbook")
	filled(t, sound)
	checked(t, sound)
	for name, c := range map[string]struct {
		sql  string
		want string // among the problems
	}{
		"content altered":         {"UPDATE entry SET content = replace(content, '1002', '1003') WHERE seq = 3", "entry 3: it or the one before it is not as it was written"},
		"time altered":            {"UPDATE entry SET at = replace(at, '08:30', '08:31') WHERE seq = 1", "entry 1: it or"},
		"time written otherwise":  {"UPDATE entry SET at = replace(at, '+02:00', '+02:00 ') WHERE seq = 1", "entry 1: its time cannot be read"},
		"subject altered":         {"UPDATE entry SET subject = 'S9' WHERE seq = 5", "entry 5: it or"},
		"last altered":            {"UPDATE entry SET by_whom = 'Jon' WHERE seq = 7", "entry 7: it or"},
		"sum altered":             {"UPDATE entry SET sum = replace(sum, substr(sum, 1, 1), 'x') WHERE seq = 4", "entry 4: it or"},
		"one removed":             {"DELETE FROM entry WHERE seq = 4", "entry 4: it is missing"},
		"the first removed":       {"DELETE FROM entry WHERE seq = 1", "entry 1: it is missing"},
		"two removed":             {"DELETE FROM entry WHERE seq IN (4, 5)", "entry 4: it and all up to entry 5 are missing"},
		"the last removed":        {"DELETE FROM entry WHERE seq = 7", "entry 7: the last entry should be 7 and is 6"},
		"all removed":             {"DELETE FROM entry", "entry 7: the last entry should be 7 and is 0"},
		"the head removed":        {"DELETE FROM head", "what the last entry should be is missing"},
		"two changed places":      {"UPDATE entry SET seq = 100 WHERE seq = 4; UPDATE entry SET seq = 4 WHERE seq = 5; UPDATE entry SET seq = 5 WHERE seq = 100", "entry 4: it or"},
		"undo redirected":         {"UPDATE entry SET undoes = 4 WHERE seq = 7", "entry 7: it or"},
		"replaced twice":          {"UPDATE entry SET replaces = 2, undoes = NULL WHERE seq = 7", "entry 2: entries 6 and 7 both replace or undo it"},
		"claim held twice":        {"UPDATE entry SET claim = 'break/S3' WHERE seq = 5", `entry 5: it holds "break/S3", which entry 4 holds too`},
		"acts across trials":      {"UPDATE entry SET trial = 'u' WHERE seq = 3", "entry 7: it replaces or undoes entry 3, which is not in its trial"},
		"clock made to look fine": {"UPDATE entry SET behind_ns = 5 WHERE seq = 3", "entry 3: how far the clock was behind"},
		"file altered":            {"UPDATE file SET content = zeroblob(length(content)) WHERE id = 2", "the file cannot be unpacked"},
		"file put in place":       {"UPDATE file SET content = x'616263', size = 3, form = 'plain' WHERE id = 2", "the file is not what came in"},
		"file removed":            {"DELETE FROM file WHERE id = 2", "entry 2: its file"},
		"file of no entry":        {"DELETE FROM entry_file WHERE seq = 2", "it belongs to no entry"},
		"file of a missing entry": {"UPDATE entry_file SET seq = 99 WHERE seq = 2", "entry 99: it is missing, and its file"},
		"file's name altered":     {"UPDATE entry_file SET name = 'u' WHERE seq = 2", "entry 2: it or"},
		"rule taken away":         {"DROP TRIGGER entry_stays", "the trigger entry_stays is missing"},
		"rule weakened":           {"DROP INDEX entry_key; CREATE INDEX entry_key ON entry (key)", "the index entry_key has been altered"},
		"table taken away":        {"DROP TABLE entry_file", "no such table"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "altered.logbook")
			copied(t, sound, path)
			alter(t, path, c.sql)
			r, err := Check(ctx, path)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(fmt.Sprint(r.Problems), c.want) {
				t.Errorf("problems %v, want %q among them", r.Problems, c.want)
			}
			var damaged *Damaged
			if err := r.Err(); !errors.As(err, &damaged) || !strings.Contains(err.Error(), "restore a backup") {
				t.Errorf("error %v, want Damaged with what to do", err)
			}
		})
	}
}

// alter changes a logbook with the rules that forbid it taken away and put back.
func alter(t *testing.T, path, change string) {
	t.Helper()
	db, err := sql.Open("sqlite", dsn(path, "rw", "_pragma=foreign_keys(0)", "_pragma=synchronous(OFF)"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	rows, err := db.Query("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
	if err != nil {
		t.Fatal(err)
	}
	rules := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			t.Fatal(err)
		}
		rules[name] = text
	}
	rows.Close()
	if !strings.Contains(change, "DROP") {
		for name, text := range rules {
			change = "DROP TRIGGER " + name + ";" + change + ";" + text
		}
	}
	if _, err := db.Exec(change); err != nil {
		t.Fatal(err)
	}
}

// The rules in the file keep an ordinary database program from altering it.
func TestRulesRefuse(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	db, err := sql.Open("sqlite", dsn(path, "rw"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	columns := "seq, at, behind_ns, trial, kind, subject, content, by_whom, device, said, key, replaces, undoes, claim, sum"
	for _, change := range []string{
		"UPDATE entry SET by_whom = 'Jon' WHERE seq = 1",
		"DELETE FROM entry WHERE seq = 7",
		"INSERT OR REPLACE INTO entry SELECT * FROM entry WHERE seq = 3",
		"INSERT INTO entry (" + columns + ") SELECT 9, " + strings.TrimPrefix(columns, "seq, ") + " FROM entry WHERE seq = 1",
		"UPDATE file SET size = 1 WHERE id = 1",
		"DELETE FROM file WHERE id = 1",
		"INSERT OR REPLACE INTO file SELECT * FROM file WHERE id = 1",
		"UPDATE entry_file SET name = 'x' WHERE seq = 1",
		"DELETE FROM entry_file WHERE seq = 1",
		"INSERT OR REPLACE INTO entry_file SELECT * FROM entry_file WHERE seq = 1",
	} {
		if _, err := db.Exec(change); err == nil {
			t.Errorf("went through: %s", change)
		}
	}
	checked(t, path)
}

// Every byte of the contents of entries and files counts.
func TestCheckFindsAlteredBytes(t *testing.T) {
	sound := filepath.Join(t.TempDir(), "sound.logbook")
	filled(t, sound)
	b, err := os.ReadFile(sound)
	if err != nil {
		t.Fatal(err)
	}
	var zstdMagic = "\x28\xb5\x2f\xfd" // RFC 8878, section 3.1.1
	for _, what := range []string{`"force_n":1003`, "break/S4", zstdMagic} {
		at := strings.LastIndex(string(b), what)
		if at < 0 {
			t.Fatalf("%q is not in the file", what)
		}
		path := filepath.Join(t.TempDir(), "altered.logbook")
		altered := append([]byte{}, b...)
		altered[at+len(what)-1] ^= 1
		if err := os.WriteFile(path, altered, 0o600); err != nil {
			t.Fatal(err)
		}
		if r, err := Check(ctx, path); err != nil || len(r.Problems) == 0 {
			t.Errorf("a bit of %q altered: problems %v, error %v", what, r.Problems, err)
		}
	}
}

func TestTruncated(t *testing.T) {
	sound := filepath.Join(t.TempDir(), "sound.logbook")
	filled(t, sound)
	b, err := os.ReadFile(sound)
	if err != nil {
		t.Fatal(err)
	}
	for _, size := range []int{len(b) - 1, len(b) - 4096, len(b) / 2, 8192, 5000, 4096} {
		path := filepath.Join(t.TempDir(), "short.logbook")
		if err := os.WriteFile(path, b[:size], 0o600); err != nil {
			t.Fatal(err)
		}
		if r, err := Check(ctx, path); err != nil || len(r.Problems) == 0 {
			t.Errorf("%d of %d bytes: problems %v, error %v", size, len(b), r.Problems, err)
		}
	}
}

func TestOpenDamaged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	alter(t, path, "DELETE FROM entry WHERE seq = 7")
	_, err := Open(ctx, path, Options{Clock: (&bench{t: morning}).now})
	if kindOf(err) != "Damaged" {
		t.Errorf("error %v, want Damaged", err)
	}
}

func TestDamagedWhileOpen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	l, _ := openAt(t, path)
	entries, err := l.Entries(ctx, "t", 0)
	if err != nil {
		t.Fatal(err)
	}
	alter(t, path, "UPDATE file SET content = x'61' WHERE id = 1; DELETE FROM entry WHERE seq = 7")
	if _, _, err := l.File(ctx, entries[0].Files[0].Sum); kindOf(err) != "Damaged" {
		t.Errorf("file: error %v, want Damaged", err)
	}
	if _, err := l.Append(ctx, note("t", "x")); kindOf(err) != "Damaged" {
		t.Errorf("append: error %v, want Damaged", err)
	}
}

func TestNotLogbook(t *testing.T) {
	folder := t.TempDir()
	database := filepath.Join(folder, "database")
	db, err := sql.Open("sqlite", database)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE cards (a)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	for name, content := range map[string]string{"text": strings.Repeat("specimen,force\n", 1000), "short": "x", "511": strings.Repeat("x", 511), "512": strings.Repeat("x", 512), "zeros": strings.Repeat("\x00", 8192)} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(folder, "folder"), 0o700); err != nil {
		t.Fatal(err)
	}
	before := contents(t, folder)
	clock := (&bench{t: morning}).now
	for _, name := range []string{"database", "text", "short", "511", "512", "zeros", "folder"} {
		path := filepath.Join(folder, name)
		if _, err := Open(ctx, path, Options{Clock: clock, Create: true}); kindOf(err) != "NotLogbook" {
			t.Errorf("open %s: error %v, want NotLogbook", name, err)
		}
		if _, err := Check(ctx, path); kindOf(err) != "NotLogbook" {
			t.Errorf("check %s: error %v, want NotLogbook", name, err)
		}
		if err := Backup(ctx, path, filepath.Join(folder, "backup")); kindOf(err) != "NotLogbook" {
			t.Errorf("backup %s: error %v, want NotLogbook", name, err)
		}
		if _, err := Restore(ctx, path, filepath.Join(folder, "restored"), morning); kindOf(err) != "NotLogbook" {
			t.Errorf("restore %s: error %v, want NotLogbook", name, err)
		}
	}
	if d := cmp.Diff(before, contents(t, folder)); d != "" {
		t.Errorf("files (-before +after):\n%s", d)
	}
}

func TestMissingAndEmpty(t *testing.T) {
	folder := t.TempDir()
	clock := (&bench{t: morning}).now
	for _, path := range []string{filepath.Join(folder, "none.logbook"), filepath.Join(folder, "no folder", "none.logbook")} {
		for name, f := range map[string]func() error{
			"open":    func() error { _, err := Open(ctx, path, Options{Clock: clock}); return err },
			"check":   func() error { _, err := Check(ctx, path); return err },
			"backup":  func() error { return Backup(ctx, path, filepath.Join(folder, "backup")) },
			"restore": func() error { _, err := Restore(ctx, path, filepath.Join(folder, "to"), morning); return err },
		} {
			if err := f(); !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), path) && !strings.Contains(err.Error(), "no folder") {
				t.Errorf("%s %s: error %v, want one that it is not there", name, path, err)
			}
		}
	}
	if names := filesIn(t, folder); len(names) != 0 {
		t.Errorf("files were left: %v", names)
	}
	empty := filepath.Join(folder, "empty.logbook")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, empty, Options{Clock: clock}); kindOf(err) != "NotLogbook" {
		t.Errorf("an empty file: error %v, want NotLogbook", err)
	}
	if _, err := Check(ctx, empty); kindOf(err) != "NotLogbook" {
		t.Errorf("an empty file: error %v, want NotLogbook", err)
	}
	// With what was written last beside it, it is not a new one.
	if err := os.WriteFile(empty+"-wal", []byte("entries"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, empty, Options{Clock: clock, Create: true}); err == nil || !strings.Contains(err.Error(), "restore a backup") {
		t.Errorf("an emptied file: error %v, want one that says what to do", err)
	}
	if _, err := Check(ctx, empty); kindOf(err) != "NotLogbook" {
		t.Errorf("an emptied file: error %v, want NotLogbook", err)
	}
	if b, err := os.ReadFile(empty + "-wal"); err != nil || string(b) != "entries" {
		t.Errorf("what was beside it is now %q, %v", b, err)
	}
	if err := os.Remove(empty + "-wal"); err != nil {
		t.Fatal(err)
	}
	// Nor without: it may be what is left of one.
	_, err := Open(ctx, empty, Options{Clock: clock, Create: true})
	if kindOf(err) != "NotLogbook" || !strings.Contains(err.Error(), "was it copied while it was open? copy with bondtrial backup") {
		t.Errorf("an empty file: error %v, want NotLogbook with what may have happened", err)
	}
	if s := sizeOf(empty); s != 0 {
		t.Errorf("the empty file has %d bytes now", s)
	}
}

// A logbook's file that was copied alone before anything was moved into it has no
// table, and is not begun anew. What was left of a making that was cut short is in
// nobody's way.
func TestOpenNoTable(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "bench.logbook")
	db, err := openWriter(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Ping(); err != nil {
		t.Fatal(err)
	}
	db.Close()
	before, err := os.ReadFile(path)
	if err != nil || len(before) == 0 {
		t.Fatalf("%d bytes, %v", len(before), err)
	}
	_, err = Open(ctx, path, Options{Clock: (&bench{t: morning}).now, Create: true})
	if kindOf(err) != "NotLogbook" || !strings.Contains(err.Error(), "was it copied while it was open?") {
		t.Errorf("error %v, want NotLogbook with what may have happened", err)
	}
	if after, err := os.ReadFile(path); err != nil || !slices.Equal(before, after) {
		t.Errorf("the file was changed, %v", err)
	}
	for _, name := range []string{"other.logbook.begun", "other.logbook.begun-wal"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	l, _ := openAt(t, filepath.Join(folder, "other.logbook"))
	appended(t, l, note("t", "1"))
	for _, name := range filesIn(t, folder) {
		if strings.Contains(name, "begun") {
			t.Errorf("%s was left", name)
		}
	}
}

// After Settle the logbook's own file holds all, also while it is open.
func TestSettle(t *testing.T) {
	l, _ := made(t)
	for i := range 122 {
		appended(t, l, note("t", strconv.Itoa(i)))
	}
	alone := filepath.Join(t.TempDir(), "copy.logbook")
	entriesAlone := func() int {
		b, err := os.ReadFile(l.Path())
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(alone, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return checked(t, alone).Entries
	}
	if n := entriesAlone(); n == 122 {
		t.Fatal("the file alone holds everything before: this tests nothing")
	}
	if err := l.Settle(ctx); err != nil {
		t.Fatal(err)
	}
	if n := entriesAlone(); n != 122 {
		t.Errorf("the file alone holds %d entries, want 122", n)
	}
	// While somebody reads an older state it waits for nobody.
	tx, err := l.read.BeginTx(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	var n int
	if err := tx.QueryRow("SELECT count(*) FROM entry").Scan(&n); err != nil || n != 122 {
		t.Fatalf("%d, %v", n, err)
	}
	appended(t, l, note("t", "last"))
	start := time.Now()
	if err := l.Settle(ctx); err != nil {
		t.Fatal(err)
	}
	if took := time.Since(start); took > time.Second {
		t.Errorf("it waited %v", took)
	}
}

func TestNewer(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	alter(t, path, "PRAGMA user_version = 1000; CREATE TABLE of_tomorrow (a)")
	before := contents(t, filepath.Dir(path))
	_, err := Open(ctx, path, Options{Clock: (&bench{t: morning}).now, Create: true})
	var newer *Newer
	if !errors.As(err, &newer) || newer.Version != 1000 || newer.Known != latest {
		t.Errorf("open: error %v, want Newer with 1000 and %d", err, latest)
	}
	if _, err := Check(ctx, path); kindOf(err) != "Newer" {
		t.Errorf("check: error %v, want Newer", err)
	}
	if d := cmp.Diff(before, contents(t, filepath.Dir(path))); d != "" {
		t.Errorf("files (-before +after):\n%s", d)
	}
}

// contents returns the sums of the files in a folder.
func contents(t testing.TB, folder string) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, name := range filesIn(t, folder) {
		b, err := os.ReadFile(filepath.Join(folder, name))
		if err == nil {
			all[name] = contentSum(b)
		} else {
			all[name] = "folder"
		}
	}
	return all
}

// A change by another database program that was cut short is taken back, as that
// program would.
func TestCutShort(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	db, err := sql.Open("sqlite", dsn(path, "rw", "_pragma=cache_size(2)"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	if _, err := tx.Exec("DROP TRIGGER entry_stays_as_it_is; UPDATE entry SET content = hex(zeroblob(5000))"); err != nil {
		t.Fatal(err)
	}
	for _, use := range []string{"check", "open"} {
		cut := filepath.Join(t.TempDir(), "cut.logbook")
		for _, ending := range []string{"", "-journal"} {
			b, err := os.ReadFile(path + ending)
			if err != nil {
				t.Fatal(err)
			}
			if ending == "" && !strings.Contains(string(b), strings.Repeat("0", 3000)) {
				t.Fatal("nothing of the change is in the file yet")
			}
			if err := os.WriteFile(cut+ending, b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if use == "open" {
			l, _ := openAt(t, cut)
			appended(t, l, note("t", "8"))
		}
		if r := checked(t, cut); r.Entries < 7 {
			t.Errorf("%s: %d entries", use, r.Entries)
		}
	}
}
