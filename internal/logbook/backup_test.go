package logbook

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestBackupDuringWrites(t *testing.T) {
	l, _ := made(t)
	appended(t, l, Draft{Kind: "photo", Files: []File{{Content: noise(2 << 20)}}})
	stop, stopped := make(chan bool), make(chan bool)
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			default:
				if _, err := l.Append(ctx, note("t", "1"), Draft{Trial: "t", Kind: "trace", Files: []File{{Content: noise(50000)}}}); err != nil {
					t.Error(err)
				}
			}
		}
	}()
	var sums []string
	for i := range 3 {
		to := filepath.Join(t.TempDir(), "a name with % and ? and #.logbook")
		atLeast := checked(t, l.Path()).Last
		var err error
		if i == 1 {
			err = Backup(ctx, l.Path(), to)
		} else {
			err = l.Backup(ctx, to)
		}
		if err != nil {
			t.Fatal(err)
		}
		r := checked(t, to)
		if r.Last < atLeast || r.Last%2 != 1 {
			t.Errorf("the last entry in the backup is %d, before it was %d", r.Last, atLeast)
		}
		if names := filesIn(t, filepath.Dir(to)); len(names) != 1 {
			t.Errorf("beside the backup are %v", names)
		}
		sums = append(sums, r.Sum)
	}
	close(stop)
	<-stopped
	for _, s := range sums {
		var n int
		if err := l.read.QueryRow("SELECT count(*) FROM entry WHERE sum = ?", s).Scan(&n); err != nil || n != 1 {
			t.Errorf("the backup's last sum is found %d times, %v", n, err)
		}
	}
}

func TestBackupNeverOverFile(t *testing.T) {
	l, _ := made(t)
	to := filepath.Join(t.TempDir(), "mine")
	if err := os.WriteFile(to, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, to := range []string{to, l.Path(), filepath.Dir(to)} {
		if err := l.Backup(ctx, to); !errors.Is(err, fs.ErrExist) || !strings.Contains(err.Error(), "name a new one") {
			t.Errorf("error %v, want one that there is a file", err)
		}
		if err := Backup(ctx, l.Path(), to); !errors.Is(err, fs.ErrExist) {
			t.Errorf("error %v, want one that there is a file", err)
		}
	}
	if b, err := os.ReadFile(to); err != nil || string(b) != "mine" {
		t.Errorf("the file is now %q, %v", b, err)
	}
	if err := l.Backup(ctx, filepath.Join(filepath.Dir(to), "no folder", "x")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("error %v, want one that the folder is not there", err)
	}
	if names := filesIn(t, filepath.Dir(to)); len(names) != 1 {
		t.Errorf("files were left: %v", names)
	}
}

func TestBackupOfDamaged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.logbook")
	filled(t, path)
	alter(t, path, "DELETE FROM entry WHERE seq = 3")
	folder := t.TempDir()
	if err := Backup(ctx, path, filepath.Join(folder, "backup")); kindOf(err) != "Damaged" {
		t.Errorf("error %v, want Damaged", err)
	}
	if names := filesIn(t, folder); len(names) != 0 {
		t.Errorf("files were left: %v", names)
	}
}

func TestBackupCancelled(t *testing.T) {
	l, _ := made(t)
	appended(t, l, note("t", "1"))
	done, cancel := context.WithCancel(ctx)
	cancel()
	folder := t.TempDir()
	if err := l.Backup(done, filepath.Join(folder, "backup")); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want context.Canceled", err)
	}
	if names := filesIn(t, folder); len(names) != 0 {
		t.Errorf("files were left: %v", names)
	}
}

func dailiesIn(t *testing.T, folder string) []string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(folder, "*.daily-*"))
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range all {
		all[i] = strings.TrimPrefix(filepath.Base(name), "bench.logbook.daily-")
	}
	return all
}

func TestDaily(t *testing.T) {
	l, clock := made(t)
	folder := filepath.Dir(l.Path())
	daily := func(at time.Time, want string) {
		t.Helper()
		clock.set(at)
		got, err := l.Daily(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if want != "" {
			want = filepath.Join(folder, "bench.logbook.daily-"+want)
		}
		if got != want {
			t.Errorf("made %q, want %q", got, want)
		}
		if got != "" {
			if r := checked(t, got); r.Last != checked(t, l.Path()).Last {
				t.Errorf("%s ends with entry %d", got, r.Last)
			}
		}
	}
	daily(morning, "") // there is nothing yet
	appended(t, l, note("t", "0"))
	daily(morning, "2027-04-12")
	appended(t, l, note("t", "more"))
	daily(morning.Add(time.Hour), "") // one of today is there
	// By the clock, which says 00:30, it is the next day, though not yet in Greenwich.
	daily(time.Date(2027, 4, 13, 0, 30, 0, 0, time.FixedZone("", 2*60*60)), "2027-04-13")
	daily(morning.AddDate(0, 0, 2), "") // nothing new

	// Copies and other files of such a name are somebody else's.
	own := filepath.Join(folder, "bench.logbook.daily-2020-01-01")
	copied(t, filepath.Join(folder, "bench.logbook.daily-2027-04-12"), own)
	other := filepath.Join(folder, "other.logbook.daily-2020-01-01")
	if err := os.WriteFile(other, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	for day := 2; day < 9; day++ {
		appended(t, l, note("t", fmt.Sprint(day)))
		daily(morning.AddDate(0, 0, day), fmt.Sprintf("2027-04-%d", 12+day))
	}
	want := []string{"2020-01-01", "2027-04-14", "2027-04-15", "2027-04-16", "2027-04-17", "2027-04-18", "2027-04-19", "2027-04-20",
		"other.logbook.daily-2020-01-01"}
	if d := cmp.Diff(want, dailiesIn(t, folder)); d != "" {
		t.Errorf("kept (-want +got):\n%s", d)
	}

	// The clock is set back to before all of them: what is newest is still known.
	appended(t, l, note("t", "back"))
	daily(morning.AddDate(-1, 0, 0), "2026-04-12")
	appended(t, l, note("t", "still back"))
	daily(morning.AddDate(-1, 0, 0).Add(time.Hour), "")
	// And it comes to a day that has a backup from before.
	daily(morning.AddDate(0, 0, 8), "2027-04-20-2")
	want = []string{"2020-01-01", "2026-04-12", "2027-04-16", "2027-04-17", "2027-04-18", "2027-04-19", "2027-04-20", "2027-04-20-2",
		"other.logbook.daily-2020-01-01"}
	if d := cmp.Diff(want, dailiesIn(t, folder)); d != "" {
		t.Errorf("kept (-want +got):\n%s", d)
	}

	// One that somebody has altered since stays, though its turn has come.
	alter(t, filepath.Join(folder, "bench.logbook.daily-2027-04-16"), "CREATE TABLE mine (a); DROP TABLE mine")
	appended(t, l, note("t", "last"))
	daily(morning.AddDate(0, 0, 9), "2027-04-21")
	appended(t, l, note("t", "last"))
	daily(morning.AddDate(0, 0, 10), "2027-04-22")
	want = []string{"2020-01-01", "2026-04-12", "2027-04-16", "2027-04-18", "2027-04-19", "2027-04-20", "2027-04-20-2", "2027-04-21", "2027-04-22",
		"other.logbook.daily-2020-01-01"}
	if d := cmp.Diff(want, dailiesIn(t, folder)); d != "" {
		t.Errorf("kept (-want +got):\n%s", d)
	}
}

// A copy of a logbook in the same folder knows the daily backups of the first and
// leaves them alone.
func TestDailyOfCopy(t *testing.T) {
	l, clock := made(t)
	folder := filepath.Dir(l.Path())
	for day := range 7 {
		appended(t, l, note("t", fmt.Sprint(day)))
		clock.set(morning.AddDate(0, 0, day))
		if _, err := l.Daily(ctx); err != nil {
			t.Fatal(err)
		}
	}
	before := len(filesIn(t, folder))
	path := filepath.Join(folder, "second.logbook")
	if err := l.Backup(ctx, path); err != nil {
		t.Fatal(err)
	}
	second, clock := openAt(t, path)
	for day := range 9 {
		appended(t, second, note("t", fmt.Sprint(day)))
		clock.set(morning.AddDate(0, 1, day))
		if _, err := second.Daily(ctx); err != nil {
			t.Fatal(err)
		}
	}
	second.Close()
	if now := len(filesIn(t, folder)); now != before+2+7 { // the copy, who writes it, its seven backups
		t.Errorf("%d files, want %d: %v", now, before+9, filesIn(t, folder))
	}
}

func BenchmarkAppend(b *testing.B) {
	l, _ := made(b)
	for b.Loop() {
		if _, err := l.Append(ctx, Draft{Trial: "t", Kind: "break", Subject: "A7K2P", Content: []byte(`{"force_n":1234.5,"travel_mm":0.812}`), By: "Ines", Device: "phone"}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "appends/s")
	rate, err := l.Fsync(ctx, 200)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(rate, "fsyncs/s")
}

func TestFsync(t *testing.T) {
	l, _ := made(t)
	before := len(filesIn(t, filepath.Dir(l.Path())))
	rate, err := l.Fsync(ctx, 5)
	if err != nil || !(rate > 0) {
		t.Errorf("%v a second, %v", rate, err)
	}
	if after := len(filesIn(t, filepath.Dir(l.Path()))); after != before {
		t.Errorf("%d files, before %d", after, before)
	}
}

// A daily backup that was being made when the program was killed is cleared away,
// and nothing else is.
func TestDailyClearsHalves(t *testing.T) {
	l, _ := made(t)
	appended(t, l, note("t", "0"))
	halves := []string{".daily-2027-03-01.part-12345", ".daily-2027-03-01-2.part-7-journal"}
	others := []string{".daily-2027-03-01.part-mine", ".part-12345", ".daily-2027-03-01", "x.daily-2027-03-01.part-1"}
	for _, name := range append(halves, others...) {
		if err := os.WriteFile(l.Path()+name, []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := l.Daily(ctx); err != nil {
		t.Fatal(err)
	}
	for _, name := range halves {
		if _, err := os.Stat(l.Path() + name); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s is there still: %v", name, err)
		}
	}
	for _, name := range others {
		if _, err := os.Stat(l.Path() + name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
