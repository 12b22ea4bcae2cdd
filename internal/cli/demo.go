package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/demobook"
	"bondtrial/internal/logbook"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
	"bondtrial/internal/simulate"
	"bondtrial/internal/table"
)

func newDemo() *cobra.Command {
	var dir, unitsFlag string
	var text bool
	var f serveFlags
	c := &cobra.Command{
		Use:   "demo",
		Short: "Open the logbook of an invented crew, to try everything on",
		Long: `Demo invents the logbook of a crew that repairs benches: a finished trial of last
year, this year's trial with its plan, glue-ups and breaks, and a small blind one
half broken, to go on with. It opens at its pages, like any other logbook.

With --text it writes the readings of such a trial to a folder instead, answers
them in the terminal like any other table, writes a report there, and ends.

Nothing in it is real: names, products and strengths are made up, by a simulation
whose truth is known.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			units, err := bondtrial.ParseUnits(unitsFlag)
			if err != nil {
				return fmt.Errorf("--units: %w", err)
			}
			if text {
				return runDemo(c, dir, units)
			}
			path, err := demoLogbook(c.Context(), dir)
			if err != nil {
				return err
			}
			return f.serve(c, path, true)
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&dir, "dir", "bondtrial-demo", "`FOLDER` to write to")
	fl.BoolVar(&text, "text", false, "answer in the terminal and write a report, without pages")
	fl.StringVar(&unitsFlag, "units", "si", "with --text: show strengths in `si` (MPa) or us (psi)")
	f.add(c)
	return c
}

// demoFile is the name of the demo's logbook in its folder.
const demoFile = "demo.bondtrial"

// demoLogbook returns the path of the demo's logbook in a folder, filled where it is
// not there yet. It is written beside its place first, so that it is whole or not
// there.
func demoLogbook(ctx context.Context, dir string) (path string, err error) {
	path = filepath.Join(dir, demoFile)
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	half, err := os.MkdirTemp(dir, ".filling-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(half)
	now := time.Now()
	clock := demobook.NewClock(now.AddDate(-1, 0, 0))
	l, err := logbook.Open(ctx, filepath.Join(half, demoFile), logbook.Options{Clock: clock.Now, Create: true})
	if err != nil {
		return "", err
	}
	book, err := record.Open(ctx, l)
	if err == nil {
		err = demobook.Fill(ctx, book, clock, now, publish.Version())
		book.Close()
	}
	if err = errors.Join(err, l.Close()); err != nil {
		return "", err
	}
	return path, os.Rename(filepath.Join(half, demoFile), path)
}

// runDemo answers an invented table in the terminal and writes a report.
func runDemo(c *cobra.Command, dir string, units bondtrial.Units) error {
	readings := simulate.DemoReadings(simulate.DemoSeed)
	var csv bytes.Buffer
	if err := table.Write(&csv, readings, []string{simulate.DemoFactor}); err != nil {
		return err
	}
	path := filepath.Join(dir, "readings.csv")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if err := writeUnlessChanged(path, csv.Bytes()); err != nil {
		return err
	}
	data, err := table.ReadFile(path, table.Options{Factors: []string{simulate.DemoFactor}})
	if err != nil {
		return err
	}
	set := answer.DefaultSettings()
	set.Factors = []string{simulate.DemoFactor}
	a, err := compute(c, data.Readings, set)
	if err != nil {
		return err
	}
	report := filepath.Join(dir, "report.html")
	if err := writeReport(report, a, publish.Source{Name: filepath.Base(path), SHA256: data.SHA256, Date: time.Now()}, units); err != nil {
		return err
	}
	out := c.OutOrStdout()
	fmt.Fprintf(out, "%s\n(Invented: a simulation, with a truth that is known.)\n\n", publish.Wrap(simulate.DemoStory(), 96, ""))
	if err := publish.Text(out, a, units); err != nil {
		return err
	}
	reportTruth(out, a)
	fmt.Fprintf(out, "\nReadings: %s\nReport:   %s  (open it in a browser)\n", path, report)
	fmt.Fprintf(out, "Try:      %s answer %s --factor %s --control %q\n", invocation(), path, simulate.DemoFactor, simulate.DemoControls[0])
	return nil
}

// invocation is how a person runs this program: by its name, or, where "go run"
// has built it to run once, so.
func invocation() string {
	if exe, err := os.Executable(); err == nil && strings.Contains(filepath.ToSlash(exe), "/go-build") {
		return "go run ./cmd/bondtrial"
	}
	return "bondtrial"
}

// writeUnlessChanged writes a file of the demo, but not over one that somebody
// has changed.
func writeUnlessChanged(path string, content []byte) error {
	old, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return writeFile(path, func(w io.Writer) error { _, err := w.Write(content); return err })
	case err != nil:
		return err
	case !bytes.Equal(old, content):
		return fmt.Errorf("%s is there already and is not what the demo writes: name another folder with --dir", path)
	}
	return nil
}

// reportTruth compares the verdicts with the truth the readings were invented
// from.
func reportTruth(out io.Writer, a *answer.Answer) {
	truth := simulate.Demo()
	claims, wrong, same, wrongSame := 0, 0, 0, 0
	for _, p := range a.Pairs {
		r := truth.Ratio(p.A, p.B, p.Wood)
		switch p.Verdict {
		case answer.Stronger, answer.Weaker:
			claims++
			if (p.Verdict == answer.Stronger) != (r > 1) {
				wrong++
			}
		case answer.Same:
			same++
			if r > 1+a.Settings.Margin || r < 1/(1+a.Settings.Margin) {
				wrongSame++
			}
		}
	}
	fmt.Fprintf(out, "\nAgainst the truth the readings were invented from: of %d verdicts \"stronger\" or \"weaker\" %d are wrong, of %d \"same\" %d.\n",
		claims, wrong, same, wrongSame)
}
