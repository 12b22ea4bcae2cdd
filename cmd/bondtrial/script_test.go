package main

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"bondtrial/internal/cli"
)

// cleaning removes the program that tests have built.
type cleaning struct{ *testing.M }

func (c cleaning) Run() int {
	defer func() {
		if programDir != "" {
			os.RemoveAll(programDir)
		}
	}()
	return c.M.Run()
}

func TestMain(m *testing.M) {
	testscript.Main(cleaning{m}, map[string]func(){
		"bondtrial": func() { os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs the scripts in testdata, one promise each. Besides the usual
// commands there are those of scriptCommands.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:  "testdata",
		Cmds: scriptCommands,
		Setup: func(e *testscript.Env) error {
			e.Setenv("TODAY", time.Now().Format("2006-01-02"))
			return nil
		},
	})
}

var scriptCommands = map[string]func(ts *testscript.TestScript, neg bool, args []string){
	// status N command ...: runs a command that must end with exit status N.
	"status": func(ts *testscript.TestScript, neg bool, args []string) {
		usage(ts, !neg && len(args) >= 2, "status N command [args...]")
		want, err := strconv.Atoi(args[0])
		ts.Check(err)
		got := 0
		if err := ts.Exec(args[1], args[2:]...); err != nil {
			var exit *exec.ExitError
			if !errors.As(err, &exit) {
				ts.Fatalf("%v", err)
			}
			got = exit.ExitCode()
		}
		if got != want {
			ts.Fatalf("exit status %d, want %d", got, want)
		}
	},
	// waitfor FILE REGEXP: waits until a file has what is looked for.
	"waitfor": func(ts *testscript.TestScript, neg bool, args []string) {
		usage(ts, !neg && len(args) == 2, "waitfor FILE REGEXP")
		re, err := regexp.Compile(args[1])
		ts.Check(err)
		var b []byte
		for range 600 {
			if b, _ = os.ReadFile(ts.MkAbs(args[0])); re.Match(b) {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
		ts.Fatalf("%s has no %s: %s", args[0], args[1], b)
	},
	// post LOG PATH name=value ...: sends a form to the pages whose address is in LOG.
	"post": func(ts *testscript.TestScript, neg bool, args []string) {
		usage(ts, !neg && len(args) >= 2, "post LOG PATH name=value ...")
		form := make(url.Values)
		for _, f := range args[2:] {
			name, value, _ := strings.Cut(f, "=")
			form.Add(name, value)
		}
		status, _, body, err := send(context.Background(), client(), addressIn(ts.ReadFile(args[0]))+args[1], form)
		ts.Check(err)
		if status != http.StatusOK && status != http.StatusSeeOther {
			ts.Fatalf("status %d: %s", status, body)
		}
	},
	// fetch LOG PATH: writes a page to standard output.
	"fetch": func(ts *testscript.TestScript, neg bool, args []string) {
		usage(ts, !neg && len(args) == 2, "fetch LOG PATH")
		resp, err := client().Get(addressIn(ts.ReadFile(args[0])) + args[1])
		ts.Check(err)
		defer resp.Body.Close()
		if resp.StatusCode != http.StatusOK {
			ts.Fatalf("%s: %s", args[1], resp.Status)
		}
		_, err = io.Copy(ts.Stdout(), resp.Body)
		ts.Check(err)
	},
	// alter FILE OLD NEW: writes over every OLD in a file, as long as NEW.
	"alter": func(ts *testscript.TestScript, neg bool, args []string) {
		usage(ts, !neg && len(args) == 3 && len(args[1]) == len(args[2]), "alter FILE OLD NEW")
		old := ts.ReadFile(args[0])
		altered := strings.ReplaceAll(old, args[1], args[2])
		if altered == old {
			ts.Fatalf("%s has no %s", args[0], args[1])
		}
		ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(altered), 0o600))
	},
	// newer FILE: makes version 99 of a logbook, where SQLite keeps the user version: 4
	// bytes at 60 (its file format, "Database Header Format").
	"newer": func(ts *testscript.TestScript, neg bool, args []string) {
		usage(ts, !neg && len(args) == 1, "newer FILE")
		f, err := os.OpenFile(ts.MkAbs(args[0]), os.O_WRONLY, 0)
		ts.Check(err)
		_, err = f.WriteAt([]byte{0, 0, 0, 99}, 60)
		ts.Check(errors.Join(err, f.Close()))
	},
}

func usage(ts *testscript.TestScript, ok bool, words string) {
	if !ok {
		ts.Fatalf("usage: %s", words)
	}
}
