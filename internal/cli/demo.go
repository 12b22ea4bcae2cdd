package cli

import (
	"bytes"
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
	"bondtrial/internal/publish"
	"bondtrial/internal/simulate"
	"bondtrial/internal/table"
)

func newDemo() *cobra.Command {
	var dir, unitsFlag string
	c := &cobra.Command{
		Use:   "demo",
		Short: "Invent a trial, answer it, and write a report",
		Long: `Demo invents the readings of a trial whose truth is known, writes them to a
folder, answers them like any other, and writes a report with figures there.
Nothing in it is real: names, products and strengths are made up.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			units, err := bondtrial.ParseUnits(unitsFlag)
			if err != nil {
				return fmt.Errorf("--units: %w", err)
			}
			return runDemo(c, dir, units)
		},
	}
	c.Flags().StringVar(&dir, "dir", "bondtrial-demo", "`FOLDER` to write to")
	c.Flags().StringVar(&unitsFlag, "units", "si", "show strengths in `si` (MPa) or us (psi)")
	return c
}

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
