package cli

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"bondtrial/internal/logbook"
)

func newBackup() *cobra.Command {
	return &cobra.Command{
		Use:   "backup LOGBOOK COPY",
		Short: "Copy a logbook, also while it is in use, and verify the copy",
		Long: `Backup writes a copy of a logbook, also while its pages are open and entries are
being written, and reads it back: a copy that is reported is whole. A file that is
there already is never written over.`,
		Example: `  bondtrial backup trials.bondtrial /media/stick/trials-november.bondtrial`,
		Args:    twoFiles("the logbook and the copy"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := logbook.Backup(c.Context(), args[0], args[1]); err != nil {
				return err
			}
			r, err := logbook.Check(c.Context(), args[1])
			if err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", args[1], contents(r))
			return nil
		},
	}
}

func newRestore() *cobra.Command {
	return &cobra.Command{
		Use:   "restore COPY LOGBOOK",
		Short: "Put a copy in the place of a logbook, whose file is kept",
		Long: `Restore verifies a copy and puts it in the place of a logbook. What was there is
not lost: it is kept beside it under a name with the date, which is printed. The
logbook must not be open meanwhile.`,
		Example: `  bondtrial restore /media/stick/trials-november.bondtrial trials.bondtrial`,
		Args:    twoFiles("the copy and the logbook"),
		RunE: func(c *cobra.Command, args []string) error {
			kept, err := logbook.Restore(c.Context(), args[0], args[1], time.Now())
			if err != nil {
				return err
			}
			r, err := logbook.Check(c.Context(), args[1])
			if err != nil {
				return err
			}
			out := c.OutOrStdout()
			fmt.Fprintf(out, "%s: %s\n", args[1], contents(r))
			if kept != "" {
				fmt.Fprintf(out, "what was there before is kept as %s\n", kept)
			}
			return nil
		},
	}
}

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check [LOGBOOK]",
		Short: "Verify that a logbook is whole",
		Long: `Check reads a whole logbook, also while it is in use, and verifies it: the
database file, that every entry is as it was written and none is missing (each
carries a sum over itself and the one before it), that corrections name entries
that are there, and every photo and file.

Exit status: 0 whole, 1 not whole; what is wrong is printed.`,
		Args: atMostOneLogbook,
		RunE: func(c *cobra.Command, args []string) error {
			path := logbookNamed(args)
			r, err := logbook.Check(c.Context(), path)
			if err != nil {
				return err
			}
			out := c.OutOrStdout()
			for _, p := range r.Problems {
				fmt.Fprintf(out, "%s: %s\n", path, p)
			}
			if len(r.Problems) > 0 {
				return &notWhole{fmt.Errorf("%s is not whole (%s): leave it as it is and restore a copy; \"bondtrial restore --help\" says how", path, count(len(r.Problems), "problem", "problems"))}
			}
			fmt.Fprintf(out, "%s: whole, %s\n", path, contents(r))
			return nil
		},
	}
}

// notWhole is the error of a logbook that did not pass its check.
type notWhole struct{ error }

func contents(r logbook.Report) string {
	return fmt.Sprintf("%s of %s, %s, format %d", count(r.Entries, "entry", "entries"), count(r.Trials, "trial", "trials"), count(r.Files, "file", "files"), r.Version)
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func twoFiles(what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != 2 {
			return errors.New("name two files, " + what + "; see \"" + c.CommandPath() + " --help\"")
		}
		return nil
	}
}
