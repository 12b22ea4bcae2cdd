// Command check passes all tests: formatting, vet, staticcheck, the tests (with the
// race detector where something runs beside something else), those of the pages in a
// browser, a second of each fuzz test, and builds for other systems. With -all every
// package runs with the race detector, and all six systems are built for.
// It installs what the tests need where the system has Debian's packages.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

func main() {
	fuzz := flag.Duration("fuzz", time.Second, "how long to run each fuzz test; 0: only its saved inputs")
	all := flag.Bool("all", false, "run every package with the race detector, and build for all six systems")
	flag.Parse()
	for _, s := range []struct {
		name string
		run  func() error
	}{
		{"programs that tests use", havePrograms},
		{"formatting", formatted},
		{"vet", func() error { return run(nil, "go", "vet", "./...") }},
		{"staticcheck", func() error { return run(nil, "go", "tool", "-modfile=tools.mod", "staticcheck", "./...") }},
		{"module files", func() error { return run(nil, "go", "mod", "tidy", "-diff") }},
		{"tests", func() error { return test(*all) }},
		// A browser waits for what the race detector makes ten times slower.
		{"pages in a browser", func() error { return run(nil, "go", "test", "-run=^TestBrowser", "./internal/pages/...") }},
		{"fuzz tests", func() error { return fuzzAll(*fuzz) }},
		{"builds", func() error { return build(*all) }},
	} {
		start := time.Now()
		fmt.Printf("== %s\n", s.name)
		if err := s.run(); err != nil {
			fmt.Printf("== %s: %v\n", s.name, err)
			os.Exit(1)
		}
		fmt.Printf("== %s: passed in %v\n", s.name, time.Since(start).Round(100*time.Millisecond))
	}
}

func run(env []string, name string, args ...string) error {
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), env...)
	c.Stdout, c.Stderr = os.Stdout, os.Stderr
	return c.Run()
}

func output(name string, args ...string) (string, error) {
	var out bytes.Buffer
	c := exec.Command(name, args...)
	c.Stdout, c.Stderr = &out, os.Stderr
	err := c.Run()
	return out.String(), err
}

// programs are what tests need beside Go: any one of each row, and Debian's
// packages that bring it. The program itself needs none of them.
var programs = []struct {
	any      []string
	packages []string
}{
	{[]string{"gcc", "clang", os.Getenv("CC")}, []string{"gcc", "libc6-dev"}}, // the race detector
	{[]string{"pdftoppm"}, []string{"poppler-utils"}},                         // pictures and text of PDF pages
	{[]string{"zbarimg"}, []string{"zbar-tools"}},                             // reading QR codes back
	{[]string{"chromium"}, []string{"chromium"}},                              // the pages as people see them
}

// havePrograms installs the packages of those that are missing.
func havePrograms() error {
	var missing []string
	for _, p := range programs {
		found := false
		for _, name := range p.any {
			if name != "" {
				_, err := exec.LookPath(name)
				found = found || err == nil
			}
		}
		if !found {
			missing = append(missing, p.packages...)
		}
	}
	if len(missing) == 0 {
		return nil
	}
	if _, err := exec.LookPath("apt-get"); err != nil {
		return fmt.Errorf("install what Debian's packages %s bring and run this again", strings.Join(missing, ", "))
	}
	if err := run(nil, "apt-get", "update"); err != nil {
		return err
	}
	install := append([]string{"install", "-y", "--no-install-recommends"}, missing...)
	return run([]string{"DEBIAN_FRONTEND=noninteractive"}, "apt-get", install...)
}

func formatted() error {
	out, err := output("gofmt", "-l", ".")
	if err == nil && out != "" {
		err = fmt.Errorf("gofmt would change:\n%s", out)
	}
	return err
}

var fuzzFunc = regexp.MustCompile(`(?m)^func (Fuzz\w+)\(`)

// fuzzAll runs every fuzz test of the module for a while.
func fuzzAll(each time.Duration) error {
	if each <= 0 {
		return nil // "go test" has run the saved inputs
	}
	return filepath.WalkDir(".", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(file, "_test.go") {
			return err
		}
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		for _, m := range fuzzFunc.FindAllSubmatch(text, -1) {
			if err := run(nil, "go", "test", "-run=^$", "-fuzz=^"+string(m[1])+"$", "-fuzztime="+each.String(), "-fuzzminimizetime=10x",
				"./"+filepath.ToSlash(filepath.Dir(file))); err != nil {
				return err
			}
		}
		return nil
	})
}

// shares finds code that runs beside other code.
var shares = regexp.MustCompile(`(?m)^\s+"sync"$|^\s+"sync/atomic"$|\bgo func\(|\.Go\(|\bt\.Parallel\(`)

// test runs the tests that need no browser: with the race detector the packages in
// which something runs beside something else, or all of them.
func test(all bool) error {
	const noBrowser = "-skip=^TestBrowser"
	race := func(packages ...string) error {
		return run([]string{"CGO_ENABLED=1"}, "go", append([]string{"test", "-race", noBrowser}, packages...)...)
	}
	if all {
		return race("./...")
	}
	listed, err := output("go", "list", "./...")
	if err != nil {
		return err
	}
	var beside, plain []string
	for _, p := range strings.Fields(listed) {
		dir := "." + strings.TrimPrefix(p, "bondtrial")
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		if err != nil {
			return err
		}
		found := false
		for _, f := range files {
			text, err := os.ReadFile(f)
			if err != nil {
				return err
			}
			found = found || shares.Match(text)
		}
		if found {
			beside = append(beside, p)
		} else {
			plain = append(plain, p)
		}
	}
	if err := race(beside...); err != nil {
		return err
	}
	return run(nil, "go", append([]string{"test", noBrowser}, plain...)...)
}

// build builds the program without C for systems that the tests do not run on: one
// of each kind, or all that it is meant for.
func build(all bool) error {
	targets := []string{"linux/arm64", "darwin/arm64", "windows/amd64"}
	if all {
		targets = append(targets, "linux/amd64", "darwin/amd64", "windows/arm64")
	}
	for _, target := range targets {
		fmt.Println(target)
		system, arch, _ := strings.Cut(target, "/")
		if err := run([]string{"CGO_ENABLED=0", "GOOS=" + system, "GOARCH=" + arch}, "go", "build", "-o", os.DevNull, "./cmd/bondtrial"); err != nil {
			return err
		}
	}
	return nil
}
