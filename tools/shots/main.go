// Command shots takes pictures of the pages of a running program: every path on a
// phone, a tablet and a laptop, in light and in dark, from top to bottom. It also
// prints the defects of the layout that it sees. It opens only pages of this machine.
package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"bondtrial/internal/browsertest/chrome"
)

func main() {
	base := flag.String("url", "", "where the pages are, as in http://127.0.0.1:8080")
	out := flag.String("out", "shots", "the folder for the pictures")
	list := flag.String("paths", "", "a file with one path a line, as in /trials/t1; only / without it")
	flag.Parse()
	if err := run(os.Stdout, *base, *out, *list); err != nil {
		fmt.Fprintln(os.Stderr, "shots:", err)
		os.Exit(1)
	}
}

func run(w io.Writer, base, out, list string) error {
	at, err := local(base)
	if err != nil {
		return err
	}
	paths := []string{"/"}
	if list != "" {
		f, err := os.Open(list)
		if err != nil {
			return err
		}
		paths, err = readPaths(f)
		f.Close()
		if err != nil {
			return fmt.Errorf("%s: %w", list, err)
		}
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	browser, err := chrome.Start()
	if err != nil {
		return err
	}
	faults, err := shootAll(w, browser, at, out, paths)
	if closed := browser.Close(); err == nil {
		err = closed
	}
	if err == nil && faults > 0 {
		err = fmt.Errorf("%d pages did not come: see above", faults)
	}
	return err
}

// local checks that the address is one of this machine: the browser resolves no other.
func local(base string) (*url.URL, error) {
	at, err := url.Parse(base)
	if err != nil {
		return nil, err
	}
	ip := net.ParseIP(at.Hostname())
	if at.Scheme != "http" || at.Hostname() != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, fmt.Errorf("-url %q: give an address of this machine, as in http://127.0.0.1:8080", base)
	}
	return at, nil
}

// readPaths reads one path a line; blank lines and lines that begin with # do not count.
func readPaths(r io.Reader) ([]string, error) {
	var paths []string
	lines := bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if !strings.HasPrefix(line, "/") || strings.HasPrefix(line, "//") {
			return nil, fmt.Errorf("line %d: %q is no path: it begins with one slash, as in /trials", n, line)
		}
		if _, err := url.Parse(line); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		paths = append(paths, line)
	}
	if err := lines.Err(); err != nil {
		return nil, err
	}
	if len(paths) == 0 {
		return nil, errors.New("it has no path")
	}
	return paths, nil
}

// fileName is the picture's name: 03-trials-t1.phone.dark.png. The number keeps apart
// what is the same without its signs.
func fileName(n int, path, screen, scheme string) string {
	plain := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' {
			return r
		}
		return '-'
	}, path)
	plain = strings.Trim(plain, "-")
	if plain == "" {
		plain = "home"
	}
	return fmt.Sprintf("%02d-%.80s.%s.%s.png", n, plain, screen, scheme)
}

// shootAll takes all pictures and returns how many pages answered with an error.
func shootAll(w io.Writer, browser *chrome.Browser, at *url.URL, out string, paths []string) (faults int, err error) {
	for _, screen := range []struct {
		name   string
		screen chrome.Screen
	}{{"phone", chrome.Phone}, {"tablet", chrome.Tablet}, {"laptop", chrome.Laptop}} {
		for _, scheme := range []string{"light", "dark"} {
			screen.screen.Dark = scheme == "dark"
			page, err := browser.Page(screen.screen)
			if err != nil {
				return faults, err
			}
			for n, path := range paths {
				file := filepath.Join(out, fileName(n+1, path, screen.name, scheme))
				fault, err := shoot(w, page, strings.TrimSuffix(at.String(), "/")+path, file)
				if err != nil {
					page.Close()
					return faults, err
				}
				if fault {
					faults++
				}
			}
			page.Close()
		}
	}
	return faults, nil
}

func shoot(w io.Writer, page *chrome.Page, address, file string) (fault bool, err error) {
	if err := page.Open(address); err != nil {
		return false, err
	}
	if err := page.Screenshot(file); err != nil {
		return false, err
	}
	fmt.Fprintf(w, "%s  %s\n", file, address)
	if page.Status() >= 400 {
		fmt.Fprintf(w, "  answered with status %d\n", page.Status())
		fault = true
	}
	defects, err := page.Overflow()
	for _, d := range defects {
		fmt.Fprintf(w, "  %s\n", d)
	}
	return fault, err
}
