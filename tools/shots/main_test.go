package main

import (
	"bytes"
	"fmt"
	"image/png"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestShots(t *testing.T) {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprint(w, `<!doctype html><meta name="viewport" content="width=device-width"><h1>Trials</h1><button>x</button>`)
	})
	s := httptest.NewServer(mux)
	t.Cleanup(s.Close)
	dir := t.TempDir()
	list := filepath.Join(dir, "paths.txt")
	if err := os.WriteFile(list, []byte("# the pages\n/\n\n/gone?x=1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var said bytes.Buffer
	err := run(&said, s.URL+"/", filepath.Join(dir, "out"), list)
	if err == nil || err.Error() != "6 pages did not come: see above" {
		t.Errorf("a path that is not there: %v", err)
	}
	if got := strings.Count(said.String(), "to press, less than 44 × 44"); got != 4 { // phone and tablet, light and dark
		t.Errorf("the small button is told %d times, want 4:\n%s", got, said.String())
	}
	entries, err := os.ReadDir(filepath.Join(dir, "out"))
	if err != nil || len(entries) != 12 { // 2 paths, 3 screens, 2 schemes
		t.Errorf("%d pictures, %v, want 12", len(entries), err)
	}
	f, err := os.Open(filepath.Join(dir, "out", "01-home.phone.dark.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if size, err := png.DecodeConfig(f); err != nil || size.Width != 780 { // 390 CSS pixels at scale 2
		t.Errorf("the phone's picture is %d wide, %v, want 780", size.Width, err)
	}
}

func TestNotThisMachine(t *testing.T) {
	for _, base := range []string{"", "http://pages.example", "https://127.0.0.1", "http://192.0.2.1:80", "127.0.0.1:80"} {
		if err := run(os.Stdout, base, t.TempDir(), ""); err == nil {
			t.Errorf("-url %q was taken", base)
		}
	}
}

func TestReadPaths(t *testing.T) {
	got, err := readPaths(strings.NewReader(" /a \n#b\n\n/c?d=1"))
	if diff := cmp.Diff([]string{"/a", "/c?d=1"}, got); diff != "" || err != nil {
		t.Errorf("%v\n%s", err, diff)
	}
	for text, want := range map[string]string{"": "it has no path", "/a\nhttp://x": "line 2: ", "//x": "line 1: ", "/%zz": "line 1: "} {
		if _, err := readPaths(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

func FuzzReadPaths(f *testing.F) {
	f.Add("/a\n# b\n/c")
	f.Add("x")
	f.Fuzz(func(t *testing.T, text string) {
		paths, err := readPaths(strings.NewReader(text))
		if (err == nil) != (len(paths) > 0) {
			t.Fatalf("%d paths with the error %v", len(paths), err)
		}
		for i, p := range paths {
			if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") {
				t.Errorf("%q is no path", p)
			}
			if name := fileName(i+1, p, "phone", "light"); name != filepath.Base(name) {
				t.Errorf("%q is no file's name", name)
			}
		}
	})
}
