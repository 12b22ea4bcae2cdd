// Package cli is the command line: one file for each verb. Commands read and
// write through the streams they are handed, so that tests run them in process.
//
// Answers go to standard output. Everything else, progress, notes and errors,
// goes to standard error: one line each, lower case, without a full stop, naming
// the thing at fault and what to do about it.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/spf13/cobra"

	"bondtrial/internal/answer"
)

// Exit statuses.
const (
	exitAnswered    = 0
	exitNoAnswer    = 1 // the data do not allow an answer, or a logbook is not whole
	exitUnusable    = 2 // unusable arguments or unreadable input
	exitInterrupted = 130
)

// Main runs the command line and returns the exit status.
func Main(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(25) // a third less memory for large tables; answers make little garbage
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second interrupt ends the program whatever it is doing
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitAnswered
	}
	if ctx.Err() != nil {
		fmt.Fprintln(stderr, "bondtrial: stopped")
		return exitInterrupted
	}
	fmt.Fprintf(stderr, "bondtrial: %v\n", err)
	var little *answer.TooLittle
	var broken *notWhole
	if errors.As(err, &little) || errors.As(err, &broken) {
		return exitNoAnswer
	}
	return exitUnusable
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "bondtrial",
		Short: "Learn which adhesive to trust from joints you break",
		Long: `bondtrial turns the readings of broken glue joints into an answer that holds:
which adhesive is stronger on which wood, which are the same, what is not
settled, and what would settle it.

Where the wood failed first, the bond was at least as strong as the reading;
bondtrial takes it as that and not as a result.

Start with "bondtrial demo". Then "bondtrial open" begins a logbook of your own, for
the bench; "bondtrial answer" answers from a table, and "bondtrial plan" plans a
trial from a file, without one.`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.AddCommand(newOpen(), newPlan(), newAnswer(), newDemo(), newRig(), newTrace(), newFeed(), newCheck(), newBackup(), newRestore())
	root.SetFlagErrorFunc(flagError)
	return root
}
