package logbook

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// restorable writes a backup that ends with entry 7, and a logbook that went on to
// entry 9, which is left as a power cut leaves it: its last entries are only in the
// file beside it.
func restorable(t *testing.T) (backup, path string) {
	t.Helper()
	folder := t.TempDir()
	live := filepath.Join(t.TempDir(), "live.logbook")
	filled(t, live)
	l, _ := openAt(t, live)
	backup = filepath.Join(folder, "backup.logbook")
	if err := l.Backup(ctx, backup); err != nil {
		t.Fatal(err)
	}
	appended(t, l, note("t", "8"), note("t", "9"))
	path = filepath.Join(folder, "bench.logbook")
	copied(t, live, path)
	if s, err := os.Stat(path + "-wal"); err != nil || s.Size() == 0 {
		t.Fatalf("nothing is beside the logbook: %v", err)
	}
	return backup, path
}

func TestRestore(t *testing.T) {
	backup, path := restorable(t)
	kept, err := Restore(ctx, backup, path, morning)
	if err != nil {
		t.Fatal(err)
	}
	if want := path + ".kept-2027-04-12-083000"; kept != want {
		t.Errorf("kept as %s, want %s", kept, want)
	}
	if r := checked(t, path); r.Last != 7 {
		t.Errorf("restored up to entry %d, want 7", r.Last)
	}
	if r := checked(t, kept); r.Last != 9 {
		t.Errorf("kept up to entry %d, want 9", r.Last)
	}
	want := []string{"backup.logbook", "bench.logbook", "bench.logbook-writer", "bench.logbook.kept-2027-04-12-083000"}
	if d := cmp.Diff(want, filesIn(t, filepath.Dir(path))); d != "" {
		t.Errorf("files (-want +got):\n%s", d)
	}
	l, _ := openAt(t, path)
	appended(t, l, note("t", "8 anew"))
	if _, err := Restore(ctx, kept, path, morning); kindOf(err) != "InUse" {
		t.Errorf("while it is open: error %v, want InUse", err)
	}
	l.Close()
	again, err := Restore(ctx, kept, path, morning)
	if err != nil || again != kept+"-2" {
		t.Errorf("kept as %q, %v, want %s", again, err, kept+"-2")
	}
	if r := checked(t, path); r.Last != 9 {
		t.Errorf("restored up to entry %d, want 9", r.Last)
	}
	if r := checked(t, again); r.Last != 8 {
		t.Errorf("kept up to entry %d, want 8", r.Last)
	}
}

func TestRestoreWhereNothingIs(t *testing.T) {
	backup, _ := restorable(t)
	to := filepath.Join(t.TempDir(), "new.logbook")
	if kept, err := Restore(ctx, backup, to, morning); err != nil || kept != "" {
		t.Errorf("kept %q, %v", kept, err)
	}
	checked(t, to)
}

// A backup that is itself as a power cut left it is restored with all that is in it.
func TestRestoreFromWithWAL(t *testing.T) {
	_, path := restorable(t)
	to := filepath.Join(t.TempDir(), "new.logbook")
	if _, err := Restore(ctx, path, to, morning); err != nil {
		t.Fatal(err)
	}
	if r := checked(t, to); r.Last != 9 {
		t.Errorf("restored up to entry %d, want 9", r.Last)
	}
}

// What is restored over may be beyond reading: it is kept as it lies.
func TestRestoreOverDamaged(t *testing.T) {
	for name, content := range map[string]string{"overwritten": strings.Repeat("x", 30000), "emptied": "", "a few bytes": "x"} {
		t.Run(name, func(t *testing.T) {
			backup, path := restorable(t)
			if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
				t.Fatal(err)
			}
			wal, err := os.ReadFile(path + "-wal")
			if err != nil {
				t.Fatal(err)
			}
			kept, err := Restore(ctx, backup, path, morning)
			if err != nil {
				t.Fatal(err)
			}
			if b, err := os.ReadFile(kept); err != nil || string(b) != content {
				t.Errorf("kept %d bytes, %v, want %d as they were", len(b), err, len(content))
			}
			if b, err := os.ReadFile(kept + "-wal"); err != nil || string(b) != string(wal) {
				t.Errorf("kept %d bytes beside it, %v, want %d as they were", len(b), err, len(wal))
			}
			if r := checked(t, path); r.Last != 7 {
				t.Errorf("restored up to entry %d, want 7", r.Last)
			}
			if _, err := os.Stat(path + "-wal"); !os.IsNotExist(err) {
				t.Error("what was beside the old one is beside the new one")
			}
		})
	}
}

func TestRestoreFromDamaged(t *testing.T) {
	backup, path := restorable(t)
	alter(t, backup, "DELETE FROM entry WHERE seq = 3")
	before := contents(t, filepath.Dir(path))
	if _, err := Restore(ctx, backup, path, morning); kindOf(err) != "Damaged" {
		t.Errorf("error %v, want Damaged", err)
	}
	if d := cmp.Diff(before, contents(t, filepath.Dir(path))); d != "" {
		t.Errorf("files (-before +after):\n%s", d)
	}
}

// Where the last step cannot be done, all is as it was.
func TestRestoreFailsAtTheEnd(t *testing.T) {
	for _, damaged := range []bool{false, true} {
		_, path := restorable(t)
		if damaged {
			if err := os.WriteFile(path, []byte(strings.Repeat("x", 30000)), 0o600); err != nil {
				t.Fatal(err)
			}
		} else if err := makePlain(ctx, path); err != nil {
			t.Fatal(err)
		}
		before := contents(t, filepath.Dir(path))
		if kept, err := replace(ctx, filepath.Join(t.TempDir(), "none"), path, morning); err == nil {
			t.Errorf("a file that is not there was put in place, %s kept", kept)
		}
		after := contents(t, filepath.Dir(path))
		delete(after, "bench.logbook-shm")
		if d := cmp.Diff(before, after); d != "" {
			t.Errorf("damaged %v: files (-before +after):\n%s", damaged, d)
		}
	}
}

func TestRestoreWhileRead(t *testing.T) {
	backup, path := restorable(t)
	db, err := openReader(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	if _, err := trialsOf(ctx, tx); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(ctx, backup, path, morning); kindOf(err) != "InUse" {
		t.Errorf("error %v, want InUse", err)
	}
	tx.Rollback()
	db.Close()
	if r := checked(t, path); r.Last != 9 {
		t.Errorf("the logbook ends with entry %d, want 9", r.Last)
	}
}
