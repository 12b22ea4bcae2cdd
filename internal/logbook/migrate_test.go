package logbook

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// writeOld writes the logbook of a version into testdata: it is run once, when the
// version is released, and never again:
//
//	go test ./internal/logbook -run TestOlderVersions -write-old 2
var writeOld = flag.Int("write-old", 0, "write testdata/version-N.logbook anew")

// older are the drafts that the logbook of each version in testdata was written with,
// in two calls, the second an hour earlier.
func older(version int) (first, second []Draft) {
	first = []Draft{
		{Trial: "Bänke", Kind: "break", Subject: "A7K2P", Content: json.RawMessage(`{"force":1234.50}`), By: "Ines", Device: "phone",
			Said: morning.Add(-time.Second), Key: "k1", Claim: "break/A7K2P"},
		{Kind: "shelf"},
	}
	second = []Draft{
		{Trial: "Bänke", Kind: "break", Subject: "A7K2P", Content: json.RawMessage(`{"force":1243.50}`), Replaces: 1, Claim: "break/A7K2P"},
		{Trial: "Bänke", Kind: "undo", Undoes: 3},
	}
	if version >= versionFiles {
		first[0].Files = []File{{Role: "photo", Name: "faces.jpg", MediaType: "image/jpeg", Content: []byte{0xff, 0xd8, 1, 2, 3}}}
		second[0].Files = []File{{Role: "trace", Name: "trace", Content: make([]byte, 3000)}}
	}
	return first, second
}

func writeVersion(t *testing.T, version int, path string) {
	t.Helper()
	clock := &bench{t: morning}
	l, err := openVersion(ctx, path, Options{Clock: clock.now, Create: true}, version)
	if err != nil {
		t.Fatal(err)
	}
	first, second := older(version)
	appended(t, l, first...)
	clock.set(morning.Add(-time.Hour))
	appended(t, l, second...)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	os.Remove(path + "-writer")
}

// TestOlderVersions opens the logbook that each version wrote and finds in it what
// was written.
func TestOlderVersions(t *testing.T) {
	if *writeOld > 0 {
		path := filepath.Join("testdata", fmt.Sprintf("version-%d.logbook", *writeOld))
		os.Remove(path)
		writeVersion(t, *writeOld, path)
	}
	for version := 1; version <= latest; version++ {
		t.Run(fmt.Sprint(version), func(t *testing.T) {
			folder := t.TempDir()
			path := filepath.Join(folder, "old.logbook")
			copied(t, filepath.Join("testdata", fmt.Sprintf("version-%d.logbook", version)), path)
			was := checked(t, path)
			if was.Version != version || was.Entries != 4 {
				t.Fatalf("before: %+v", was)
			}
			l, clock := openAt(t, path)
			entries, err := l.Since(ctx, 0)
			if err != nil {
				t.Fatal(err)
			}
			first, second := older(version)
			var want []Entry
			for i, d := range append(first, second...) {
				e := Entry{Seq: int64(i + 1), At: morning, Trial: d.Trial, Kind: d.Kind, Subject: d.Subject, Content: d.Content, By: d.By,
					Device: d.Device, Said: d.Said, Key: d.Key, Replaces: d.Replaces, Undoes: d.Undoes, Claim: d.Claim}
				if i >= 2 {
					e.At = morning.Add(-time.Hour)
				}
				if i == 2 {
					e.Behind = time.Hour
				}
				if e.Content == nil {
					e.Content = json.RawMessage("{}")
				}
				for _, f := range d.Files {
					e.Files = append(e.Files, FileRef{Role: f.Role, Name: f.Name, MediaType: f.MediaType, Size: int64(len(f.Content)), Sum: contentSum(f.Content)})
				}
				want = append(want, e)
			}
			if d := cmp.Diff(want, entries); d != "" {
				t.Errorf("entries (-want +got):\n%s", d)
			}
			clock.set(morning)
			appended(t, l, Draft{Kind: "photo", Files: []File{{Role: "photo", Content: []byte("p")}}})
			if r := checked(t, path); r.Version != latest || r.Entries != 5 {
				t.Errorf("after: %+v", r)
			}
			backup := path + fmt.Sprintf(".version-%d", version)
			if version == latest {
				if _, err := os.Stat(backup); !os.IsNotExist(err) {
					t.Errorf("a backup was made of a logbook that was not changed")
				}
				return
			}
			if r := checked(t, backup); r.Version != version || r.Sum != was.Sum {
				t.Errorf("the backup made before: %+v", r)
			}
			// It goes back as it was, too, and forward again.
			if err := l.Close(); err != nil {
				t.Fatal(err)
			}
			if _, err := Restore(ctx, backup, path, morning); err != nil {
				t.Fatal(err)
			}
			again, _ := openAt(t, path)
			if r := checked(t, path); r.Version != latest || r.Sum != was.Sum {
				t.Errorf("restored and opened: %+v", r)
			}
			again.Close()
			if r := checked(t, backup+"-2"); r.Version != version {
				t.Errorf("the second backup: %+v", r)
			}
		})
	}
}

// Each migration is a file, and each file a migration.
func TestMigrationsAreAll(t *testing.T) {
	files, err := migrationFiles.ReadDir("migrations")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, "migrations/"+f.Name())
	}
	if d := cmp.Diff(migrations, names); d != "" {
		t.Errorf("migrations (-listed +files):\n%s", d)
	}
	for i, text := range []string{
		// A migration that was released stays. Computed: GNU coreutils 9.1, sha256sum.
		"d4fd7ce74e7b15dbb1af3d0195c667c891b30a8f2de0cc06531fb2bce3efe0a4", "efde8a96b838e0b213c5102dcc73b1dc7281634f213d961f454654c2c1120a43", "f308764a9cc9bf7e7f93de8f2b70f5128face624a64e4dcaa4cfa194a0fbd637",
	} {
		b, err := migrationFiles.ReadFile(migrations[i])
		if err != nil {
			t.Fatal(err)
		}
		if contentSum(b) != text {
			t.Errorf("%s was changed: put it back, and add another", migrations[i])
		}
	}
}

// A migration that fails half-way leaves the logbook as it was.
func TestMigrationFails(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.logbook")
	copied(t, filepath.Join("testdata", "version-1.logbook"), path)
	alter(t, path, "DROP TRIGGER entry_stays; CREATE TABLE daily (in_the_way); ") // version 3 makes one of that name
	was, err := Check(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, path, Options{Clock: (&bench{t: morning}).now}); err == nil {
		t.Fatal("opened")
	}
	if now, err := Check(ctx, path); err != nil || now.Version != 1 || now.Sum != was.Sum {
		t.Errorf("%+v, %v", now, err)
	}
}
