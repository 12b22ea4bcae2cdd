package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/publish"
	"bondtrial/internal/table"
)

// answerFlags are the flags of answer as they were given.
type answerFlags struct {
	control   string
	factors   []string
	margin    percentValue
	threshold percentValue
	pooled    bool
	family    string
	seed      uint64
	draws     int
	area      float64
	units     string
	required  string
	json      bool
	html      string
}

func newAnswer() *cobra.Command {
	var f answerFlags
	c := &cobra.Command{
		Use:   "answer FILE",
		Short: "Answer from a table of readings",
		Long: `Answer reads a table of readings, one row for each broken specimen, as a
spreadsheet exports it (CSV, semicolons or tabs), and says which adhesive is
stronger, which are the same, and what is not settled. "-" reads standard input.

Columns, in any order:
  adhesive           which product (required)
  strength_mpa       breaking stress; or strength_psi; or the peak force as
                     peak_n, peak_kn, peak_lbf or peak_kgf with the bonded area
                     in area_mm2, area_cm2 or area_in2, or by --area (one of
                     these is required)
  wood_failure_pct   how much of the broken area is wood, 0 to 100; or
  failure            the ISO 10365 code (SF, CSF, CF, SCF, AF, ACFP, DF)
  wood, board, batch, session, trial   where pieces and adhesive come from, when
                     it was broken
  specimen           its code
  rig_limited        yes where the rig reached its limit before anything broke
  set_aside          why a spoiled specimen is not counted
  glue_order, break_order, moisture_pct, note
Any further column can be a factor of the trial: --factor prep

Exit status: 0 answered, 1 the readings do not allow an answer, 2 the arguments
or the file cannot be used.`,
		Example: `  bondtrial answer readings.csv
  bondtrial answer readings.csv --html report.html
  bondtrial answer readings.csv --control "Pemmet white" --factor surface
  bondtrial answer readings.csv --json > answer.json`,
		Args: oneFile,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&f.control, "control", "", "compare every adhesive with this `ADHESIVE` only, instead of all with all")
	fl.StringArrayVar(&f.factors, "factor", nil, "`COLUMN` that tells conditions apart, such as damp and dry; may be given more than once")
	f.margin, f.threshold = 15, percentValue(bondtrial.DefaultThreshold)
	fl.Var(&f.margin, "margin", "`PERCENT` by which two may differ and still count as the same")
	fl.Var(&f.threshold, "threshold", "`PERCENT` of wood on the broken faces from which the wood is taken to have failed first")
	fl.BoolVar(&f.pooled, "pooled-scatter", false, "take the scatter to be the same for all adhesives")
	fl.StringVar(&f.family, "family", "wood", "which comparisons hold together at 95 %: those of one `wood`, or all")
	fl.StringVar(&f.required, "required", "", "also give the chance that each adhesive exceeds this `STRENGTH`, such as 6MPa or 900psi")
	fl.Uint64Var(&f.seed, "seed", 1, "`NUMBER` that the random sampling starts from; the same seed gives the same answer")
	fl.IntVar(&f.draws, "draws", 40_000, "`NUMBER` of samples; more is slower and smoother")
	fl.Float64Var(&f.area, "area", 0, "bonded area in `MM2` for readings given as a force")
	fl.StringVar(&f.units, "units", "si", "show strengths in `si` (MPa) or us (psi)")
	fl.BoolVar(&f.json, "json", false, "write the answer for programs (JSON, always SI) instead of for people")
	fl.StringVar(&f.html, "html", "", "also write a report with figures to this `FILE`")
	return c
}

func oneFile(c *cobra.Command, args []string) error {
	switch len(args) {
	case 0:
		return fmt.Errorf("no file of readings was named; see \"%s --help\"", c.CommandPath())
	case 1:
		return nil
	}
	return fmt.Errorf("one file of readings at a time: %s", strings.Join(args, " "))
}

// settings checks the flags.
func (f *answerFlags) settings() (answer.Settings, bondtrial.Units, error) {
	set := answer.DefaultSettings()
	units, err := bondtrial.ParseUnits(f.units)
	if err != nil {
		return set, units, fmt.Errorf("--units: %w", err)
	}
	switch {
	case !(f.margin > 0 && f.margin < 100):
		return set, units, fmt.Errorf("--margin %v: give per cent above 0 and below 100", float64(f.margin))
	case !(f.threshold > 0 && f.threshold <= 100):
		return set, units, fmt.Errorf("--threshold %v: give per cent above 0, at most 100", float64(f.threshold))
	case f.draws < 4000 || f.draws > 2_000_000:
		return set, units, fmt.Errorf("--draws %d: give from 4000 to 2000000", f.draws)
	case f.area < 0:
		return set, units, fmt.Errorf("--area %v: give the bonded area in mm², above 0", f.area)
	}
	switch f.family {
	case "wood":
		set.Family = answer.WithinWood
	case "all":
		set.Family = answer.AllWoods
	default:
		return set, units, fmt.Errorf("--family %q: write wood or all", f.family)
	}
	if f.required != "" {
		if set.Required, err = bondtrial.ParseStress(f.required); err != nil {
			return set, units, fmt.Errorf("--required: %w", err)
		}
	}
	set.Factors = f.factors
	set.Margin, set.Threshold = float64(f.margin)/100, bondtrial.Percent(f.threshold)
	set.PooledScatter, set.Seed, set.Draws = f.pooled, f.seed, f.draws
	return set, units, nil
}

func (f *answerFlags) run(c *cobra.Command, path string) error {
	set, units, err := f.settings()
	if err != nil {
		return err
	}
	if f.html != "" {
		if samePath(f.html, path) {
			return fmt.Errorf("--html %s: that is the file of readings, which must not be overwritten", f.html)
		}
		if err := canWrite(f.html); err != nil {
			return fmt.Errorf("--html: %w", err)
		}
	}
	data, err := readTable(c.Context(), c.InOrStdin(), path, table.Options{Factors: f.factors, AreaMM2: f.area})
	if err != nil {
		return err
	}
	for _, note := range data.Notes {
		if !slices.Contains(data.Warnings, note) { // those are printed with the answer
			fmt.Fprintf(c.ErrOrStderr(), "%s: %s\n", data.Name, note)
		}
	}
	set.Control = adhesiveNamed(f.control, data.Readings)
	a, err := compute(c, data.Readings, set)
	if err != nil {
		return fmt.Errorf("%s: %w", data.Name, err)
	}
	a.Warnings = append(sentences(data.Warnings), a.Warnings...)
	var failed error
	if f.html != "" {
		failed = writeReport(f.html, a, publish.Source{Name: filepath.Base(data.Name), SHA256: data.SHA256, Date: time.Now()}, units)
		if failed == nil {
			fmt.Fprintf(c.ErrOrStderr(), "report: %s\n", f.html)
		}
	}
	return errors.Join(f.print(c, a, units), failed)
}

// print writes the answer to standard output.
func (f *answerFlags) print(c *cobra.Command, a *answer.Answer, units bondtrial.Units) error {
	if f.json {
		if f.required != "" {
			fmt.Fprintln(c.ErrOrStderr(), "--required: the form for programs has no place for that chance; it is in the answer for people and in the report")
		}
		return publish.JSON(c.OutOrStdout(), a)
	}
	return publish.Text(c.OutOrStdout(), a, units)
}

// compute answers with progress on the command's standard error.
func compute(c *cobra.Command, readings []bondtrial.Reading, set answer.Settings) (*answer.Answer, error) {
	p := newProgress(c.ErrOrStderr())
	defer p.done()
	set.Progress = p.show
	return answer.Compute(c.Context(), readings, set)
}

// readTable reads the file, or standard input for "-". An interrupt ends it even
// while it waits for input.
func readTable(ctx context.Context, stdin io.Reader, path string, opt table.Options) (*table.Table, error) {
	type result struct {
		t   *table.Table
		err error
	}
	ch := make(chan result, 1)
	go func() {
		var r result
		if path == "-" {
			r.t, r.err = table.Read(stdin, "standard input", opt)
		} else {
			r.t, r.err = table.ReadFile(path, opt)
		}
		ch <- r
	}()
	select {
	case r := <-ch:
		return r.t, r.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// adhesiveNamed returns the adhesive that is called name but for capitals, or name
// itself where there is not exactly one.
func adhesiveNamed(name string, readings []bondtrial.Reading) string {
	found := ""
	name = table.Name(name)
	for _, r := range readings {
		switch {
		case r.Adhesive == name:
			return name
		case !strings.EqualFold(name, r.Adhesive) || r.Adhesive == found:
		case found != "":
			return name
		default:
			found = r.Adhesive
		}
	}
	if found == "" {
		return name
	}
	return found
}

// sentences turns notes into sentences.
func sentences(notes []string) []string {
	var out []string
	for _, n := range notes {
		n = strings.ToUpper(n[:1]) + n[1:]
		if !strings.ContainsAny(n[len(n)-1:], ".?!") {
			n += "."
		}
		out = append(out, n)
	}
	return out
}

// writeReport writes the report beside its place first, so that a failure leaves
// an older report as it was.
func writeReport(path string, a *answer.Answer, src publish.Source, u bondtrial.Units) error {
	return writeFile(path, func(w io.Writer) error { return publish.HTML(w, a, src, u) })
}
