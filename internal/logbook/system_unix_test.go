//go:build linux || darwin

package logbook

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func init() {
	roles["read what may not be written"] = func() {
		folder := os.Getenv("LOGBOOK_TEST_PATH")
		clock := (&bench{t: morning}).now
		for _, name := range []string{"closed/bench.logbook", "file/bench.logbook", "closed/new.logbook"} {
			_, err := Open(ctx, filepath.Join(folder, name), Options{Clock: clock, Create: true})
			if !errors.Is(err, ErrReadOnly) || !strings.Contains(err.Error(), "permissions") {
				fmt.Printf("open %s: error %v, want ErrReadOnly with what to do\n", name, err)
			}
		}
		for _, name := range []string{"closed/bench.logbook", "file/bench.logbook"} {
			if r, err := Check(ctx, filepath.Join(folder, name)); err != nil || r.Err() != nil || r.Entries != 7 {
				fmt.Printf("check %s: %+v, %v\n", name, r, err)
			}
		}
		if err := Backup(ctx, filepath.Join(folder, "closed/bench.logbook"), filepath.Join(folder, "open/backup.logbook")); err != nil {
			fmt.Printf("backup: %v\n", err)
		}
		if err := Backup(ctx, filepath.Join(folder, "closed/bench.logbook"), filepath.Join(folder, "closed/backup.logbook")); !errors.Is(err, ErrReadOnly) {
			fmt.Printf("backup to a folder that may not be written: error %v, want ErrReadOnly\n", err)
		}
		if _, err := Restore(ctx, filepath.Join(folder, "closed/bench.logbook"), filepath.Join(folder, "closed/other.logbook"), morning); !errors.Is(err, ErrReadOnly) {
			fmt.Printf("restore to a folder that may not be written: error %v, want ErrReadOnly\n", err)
		}
		if _, err := Check(ctx, filepath.Join(folder, "secret.logbook")); !errors.Is(err, ErrReadOnly) {
			fmt.Printf("check of what may not be read: error %v\n", err)
		}
		fmt.Println("done")
	}
}

// TestReadOnly runs as somebody who owns nothing here, so that it also says something
// where tests are run by root.
func TestReadOnly(t *testing.T) {
	folder, err := os.MkdirTemp("", "logbook")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		filepath.WalkDir(folder, func(p string, d os.DirEntry, err error) error { return os.Chmod(p, 0o700) })
		os.RemoveAll(folder)
	})
	do := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	for name, mode := range map[string]os.FileMode{"closed": 0o555, "file": 0o777, "open": 0o777} {
		do(os.Mkdir(filepath.Join(folder, name), 0o700))
		if name != "open" {
			path := filepath.Join(folder, name, "bench.logbook")
			filled(t, path)
			do(os.Remove(path + "-writer"))
			do(os.Chmod(path, 0o444))
		}
		defer func() { do(os.Chmod(filepath.Join(folder, name), 0o700)) }()
		do(os.Chmod(filepath.Join(folder, name), mode))
	}
	do(os.WriteFile(filepath.Join(folder, "secret.logbook"), make([]byte, 5000), 0))
	self, err := os.Executable()
	do(err)
	program := filepath.Join(folder, "program")
	in, err := os.Open(self)
	do(err)
	out, err := os.OpenFile(program, os.O_WRONLY|os.O_CREATE, 0o755)
	do(err)
	_, err = io.Copy(out, in)
	do(errors.Join(err, in.Close(), out.Close()))
	do(os.Chmod(folder, 0o755))
	c := exec.Command(program)
	c.Dir = folder
	c.Env = append(os.Environ(), "LOGBOOK_TEST_ROLE=read what may not be written", "LOGBOOK_TEST_PATH="+folder)
	if os.Getuid() == 0 {
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	said, err := c.CombinedOutput()
	if err != nil || string(said) != "done\n" {
		t.Errorf("%s%v", said, err)
	}
}

// Two names of one logbook meet at the same right to write.
func TestOpenByLink(t *testing.T) {
	l, clock := made(t)
	link := filepath.Join(t.TempDir(), "link.logbook")
	if err := os.Symlink(l.Path(), link); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, link, Options{Clock: clock.now}); kindOf(err) != "InUse" {
		t.Errorf("by a link: error %v, want InUse", err)
	}
	if err := os.Remove(link); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(t.TempDir(), "none"), link); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, link, Options{Clock: clock.now, Create: true}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("by a link to nothing: error %v, want one that it is not there", err)
	}
}

// TestDiskFailsAtTheEnd lets the system refuse what is written when a transaction is
// made to last, which is when it reaches the disk.
func TestDiskFailsAtTheEnd(t *testing.T) {
	l, _ := made(t)
	appended(t, l, note("t", "1"))
	var before syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &before); err != nil {
		t.Fatal(err)
	}
	limit := before
	limit.Cur = uint64(sizeOf(l.Path()+"-wal")) + 5000
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		t.Fatal(err)
	}
	photo := Draft{Trial: "t", Kind: "photo", Files: []File{{Name: "photo", Content: noise(100000)}}}
	entries, err := l.Append(ctx, note("t", "goes with it"), photo)
	if back := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &before); back != nil {
		t.Fatal(back)
	}
	if err == nil || len(entries) != 0 || !strings.Contains(err.Error(), "has room") {
		t.Errorf("%d entries, error %v, want one that says what to do", len(entries), err)
	}
	if r := checked(t, l.Path()); r.Entries != 1 {
		t.Errorf("%d entries after failing, want 1", r.Entries)
	}
	appended(t, l, note("t", "goes with it"), photo)
	if r := checked(t, l.Path()); r.Entries != 3 {
		t.Errorf("%d entries, want 3", r.Entries)
	}
}
