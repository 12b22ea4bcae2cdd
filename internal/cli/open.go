package cli

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// defaultLogbook is the logbook that commands take where none is named.
const defaultLogbook = "trials.bondtrial"

// defaultPort is where the pages are looked for first.
const defaultPort = 7843

// serveFlags say where pages are served.
type serveFlags struct {
	port    int
	share   bool
	browser bool
}

func (f *serveFlags) add(c *cobra.Command) {
	fl := c.Flags()
	fl.IntVar(&f.port, "port", 0, fmt.Sprintf("`PORT` of the pages; without it %d, or a free one where that is in use", defaultPort))
	fl.BoolVar(&f.share, "share", false, "let phones and tablets on the local network in, with a pairing code")
	fl.BoolVar(&f.browser, "browser", true, "show the pages in the browser, where this is a terminal")
}

func newOpen() *cobra.Command {
	var f serveFlags
	c := &cobra.Command{
		Use:   "open [LOGBOOK]",
		Short: "Open a logbook at its pages, for the bench",
		Long: `Open serves the pages of a logbook on this machine: plan a trial, glue, watch the
cure, break, and read the answer, in a browser. A logbook that is not there is
begun. Everything is written to it at once; end with ^C at any time.

Nobody else can see the pages, unless --share lets phones and tablets on the
local network in. They need the pairing code that is printed then. What goes
between them and this machine is not encrypted: share on a network you trust.

A copy is kept beside the logbook once a day, seven of them.`,
		Example: `  bondtrial open
  bondtrial open benches.bondtrial --share`,
		Args: atMostOneLogbook,
		RunE: func(c *cobra.Command, args []string) error {
			return f.serve(c, logbookNamed(args), false)
		},
	}
	c.Flags().SortFlags = false
	f.add(c)
	return c
}

// serve opens a logbook and serves its pages until the command is interrupted.
func (f *serveFlags) serve(c *cobra.Command, path string, demo bool) error {
	if f.port < 0 || f.port > 65535 {
		return fmt.Errorf("--port %d: give from 1 to 65535", f.port)
	}
	out := c.OutOrStdout()
	h := &host{path: path, demo: demo, port: f.port, share: f.share, out: out, notes: c.ErrOrStderr(), ready: func(address string) {
		if f.browser && isTerminal(out) {
			showInBrowser(address)
		}
	}}
	err := h.serve(c.Context())
	if err == nil && c.Context().Err() != nil {
		fmt.Fprintln(c.ErrOrStderr(), "bondtrial: closed")
	}
	return err
}

func atMostOneLogbook(c *cobra.Command, args []string) error {
	if len(args) > 1 {
		return fmt.Errorf("one logbook at a time; see \"%s --help\"", c.CommandPath())
	}
	return nil
}

func logbookNamed(args []string) string {
	if len(args) == 0 {
		return defaultLogbook
	}
	return args[0]
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// showInBrowser asks the system to show an address. Where that does not work the
// address stands in the terminal.
func showInBrowser(address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	c := exec.Command(name, args...)
	if c.Start() == nil {
		go func() { _ = c.Wait() }()
	}
}
