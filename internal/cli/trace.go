package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"bondtrial/internal/publish"
	"bondtrial/internal/show"
	"bondtrial/internal/trace"
	"bondtrial/internal/trace/logger"
)

// traceFlags are the flags of trace as they were given.
type traceFlags struct {
	read       logger.Options
	compliance float64
	keepDrift  bool
	keepSpikes bool
}

func newTrace() *cobra.Command {
	var f traceFlags
	c := &cobra.Command{
		Use:   "trace FILE",
		Short: "Read the figures and the way of failing from the record of a break",
		Long: `Trace reads what a logger recorded of one break, force over time and where it was
measured travel, and says what it shows: the peak, the stiffness, the energy, how
the load fell, and the way of failing in one word, with the figures and limits
that the word rests on.

The file is text with a header that names columns and units, such as time_s,
force_n, travel_mm, separated by commas, semicolons, tabs or spaces. What was
found is said; flags overrule it. "-" reads standard input.

Way of failing: snap (most of the load gone at once), step (several partial
drops), slow yield (the load falls gradually), unfinished (the record ends first),
unclear. The limits are common practice, no source.`,
		Example: `  bondtrial trace break-17.csv
  bondtrial trace log.txt --force-unit kN --rate 100 --compliance 0.0002`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("name one record of a break; see \"%s --help\"", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	fl := c.Flags()
	fl.SortFlags = false
	for _, column := range []struct {
		name string
		to   *logger.Column
	}{{"time", &f.read.Time}, {"force", &f.read.Force}, {"travel", &f.read.Travel}} {
		fl.StringVar(&column.to.Name, column.name, "", "`NAME` of the column of "+column.name+", where the header does not say it plainly")
		fl.IntVar(&column.to.Number, column.name+"-column", 0, "or its `NUMBER`, from 1")
		fl.StringVar(&column.to.Unit, column.name+"-unit", "", "`UNIT` of it, where the header does not say it")
	}
	fl.Float64Var(&f.read.Rate, "rate", 0, "samples a second (`HZ`), where there is no column of time")
	fl.StringVar(&f.read.Separator, "separator", "", "`SIGN` between columns: \",\", \";\", \"|\", tab or space")
	fl.StringVar(&f.read.Decimal, "decimal", "", "`SIGN` of decimals: \".\" or \",\"")
	fl.BoolVar(&f.read.SkipBad, "skip-bad", false, "leave out lines that cannot be read, and say how many")
	fl.Float64Var(&f.compliance, "compliance", 0, "what the rig itself gives way, in `MM_PER_N`: it is taken off the travel")
	fl.BoolVar(&f.keepDrift, "keep-drift", false, "leave a drift of the zero in")
	fl.BoolVar(&f.keepSpikes, "keep-spikes", false, "leave spikes in")
	return c
}

func (f *traceFlags) run(c *cobra.Command, path string) error {
	if f.compliance < 0 {
		return fmt.Errorf("--compliance %v: give mm for each newton, above 0", f.compliance)
	}
	from := c.InOrStdin()
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return err
		}
		defer file.Close()
		from = file
	}
	res, err := logger.Read(from, filepath.Base(path), f.read)
	if err != nil {
		return err
	}
	opt := trace.Options{KeepDrift: f.keepDrift, KeepSpikes: f.keepSpikes}
	if f.compliance > 0 {
		opt.Rig = trace.ConstantCompliance(f.compliance)
	}
	g, err := trace.Analyse(res.Record, opt)
	if err != nil {
		return fmt.Errorf("%s: %w", res.Name, err)
	}
	for _, n := range res.Notes {
		fmt.Fprintf(c.ErrOrStderr(), "%s: %s\n", res.Name, n)
	}
	return writeFigures(c.OutOrStdout(), &g)
}

// writeFigures writes the word with what it rests on, then the figures, then what
// was done to the record.
func writeFigures(out io.Writer, g *trace.Figures) error {
	fmt.Fprintf(out, "Way of failing: %s. %s\n", g.Failing.Word, g.Failing.Reason)
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "\nrests on\tfigure\tlimit")
	for _, e := range g.Failing.Evidence {
		fmt.Fprintf(w, "%s\t%s\t%s\n", e.Name, inUnit(e.Value, e.Unit), e.Limit)
	}
	fmt.Fprintln(w, "\nfigure\tvalue")
	fmt.Fprintf(w, "peak\t%s N\n", show.Trim(g.Peak))
	for _, v := range []struct {
		name string
		v    trace.Number
		unit string
	}{
		{"travel at the peak", g.TravelAtPeak, "mm"}, {"time to the peak", g.TimeToPeak, "s"}, {"stiffness", g.Stiffness, "N/mm"}, {"loading rate", g.LoadingRate, "N/s"},
		{"energy to the peak", g.EnergyToPeak, "J"}, {"energy to failure", g.ToFailure, "J"}, {"energy taken in all", g.EnergyTaken, "J"},
		{"load kept at 1.5 times the travel at the peak", g.LoadKept, "%"}, {"travel at 80 % of the peak, after it, over that at the peak", g.FallRatio, ""},
	} {
		fmt.Fprintf(w, "%s\t%s\n", v.name, inUnit(v.v, v.unit))
	}
	fmt.Fprintf(w, "largest drop in %s s\t%s N\n", show.Trim(g.ShortTime), show.Trim(g.LargestDrop))
	if err := w.Flush(); err != nil {
		return err
	}
	if len(g.Notes) > 0 {
		fmt.Fprintln(out, "\nWhat was done to a copy of the record, and what to look at:")
		for _, n := range g.Notes {
			fmt.Fprintln(out, publish.Wrap("- "+n, 96, "  "))
		}
	}
	return nil
}

// inUnit is a figure with its unit, or why there is none.
func inUnit(n trace.Number, unit string) string {
	if !n.Exists() {
		return "– (" + n.Reason + ")"
	}
	s := fmt.Sprintf("%.4g", n.Value)
	if unit != "" {
		s += " " + unit
	}
	return s
}
